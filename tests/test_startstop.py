"""Start-stop characters, held against a signal that is drawn edge by edge and then looked at."""

import random
from math import inf

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from mechlogic.bench.diagnosis import diagnose
from mechlogic.machines import load
from mechlogic.model.faults import Fault, hypothesis
from mechlogic.model.logbook import Entry, Logbook
from mechlogic.model.steps import steps
from mechlogic.time.startstop import (
    CLOSINGS,
    RATES,
    Rate,
    Selector,
    bits_at_risk,
    bounce_matters_from_baud,
    bouncing_contacts,
    line_rate,
    settled_ms,
    slowest_for_rest,
    speed_limits,
)
from mechlogic.time.timing import TimingError

DESK = load("desk")
rates = st.builds(
    lambda baud, bits, stop: Rate(baud, 1 + bits + stop, bits),
    st.floats(20, 400),
    st.integers(1, 9),
    st.floats(1, 2),
)


def line_at(rate: Rate, bits: tuple[int, ...], shifts_ms: list[float], time_ms: float) -> int:
    """What is on the line: start 0, the bits, stop 1; each edge is shifted by so much."""
    elements = [0, *bits, 1]
    edges = [n * rate.unit_ms + shift for n, shift in enumerate([0.0, *shifts_ms])]
    now = [element for element, edge in zip(elements, edges, strict=True) if edge <= time_ms]
    return now[-1]


def read(rate: Rate, bits: tuple[int, ...], shifts_ms: list[float], selector: Selector):
    """The bits as a selector that looks for an instant reads them."""
    times = (selector.reads_ms(rate, bit) for bit in range(1, rate.bits + 1))
    return tuple(line_at(rate, bits, shifts_ms, time) for time in times)


@st.composite
def signals(draw):
    rate = draw(rates)
    bits = tuple(draw(st.lists(st.integers(0, 1), min_size=rate.bits, max_size=rate.bits)))
    selector = Selector(draw(st.floats(-0.06, 0.06)), draw(st.floats(0.3, 0.7)))
    shares = draw(st.lists(st.floats(-1, 1), min_size=rate.bits + 1, max_size=rate.bits + 1))
    return rate, bits, selector, shares


@given(signals())
def test_edges_shifted_by_less_than_the_margin_are_read_right(signal):
    rate, bits, selector, shares = signal
    margin = selector.margin(rate)
    assume(margin > 0.001)
    shifts = [share * (margin - 0.0005) * rate.unit_ms for share in shares]
    assert read(rate, bits, shifts, selector) == bits


@given(signals())
def test_edges_shifted_by_more_than_the_margin_can_be_read_wrong(signal):
    rate, _, selector, _ = signal
    shift = (max(selector.margin(rate), 0) + 0.001) * rate.unit_ms
    alternating = [tuple((n + k) % 2 for n in range(rate.bits)) for k in (0, 1)]
    edges = [[sign * shift] * (rate.bits + 1) for sign in (-1, 1)]
    found = [read(rate, bits, some, selector) == bits for bits in alternating for some in edges]
    assert not all(found)


@given(rates, st.floats(0.001, 0.2))
def test_late_bits_fail_first_whether_the_motor_is_fast_or_slow(rate, error):
    for speed_error in (error, -error):
        selector = Selector(speed_error)
        margins = [selector.bit_margin(rate, bit) for bit in range(1, rate.bits + 1)]
        assert margins == sorted(margins, reverse=True)
        assert selector.weakest_bit(rate) == rate.bits


def test_a_perfect_selector_has_half_a_unit_in_hand_at_every_bit():
    for rate in RATES.values():
        margins = [Selector().bit_margin(rate, bit) for bit in range(1, rate.bits + 1)]
        assert margins == pytest.approx([0.5] * rate.bits)


@given(rates, st.floats(0.1, 0.9), st.floats(-0.2, 0.2))
def test_a_perfect_line_is_read_right_just_between_the_limits_of_speed(rate, centre, error):
    slowest, fastest = speed_limits(rate, centre)
    assume(min(abs(error - slowest), abs(error - fastest)) > 1e-6)
    selector = Selector(error, centre)
    alternating = [tuple((n + k) % 2 for n in range(rate.bits)) for k in (0, 1)]
    right = all(read(rate, bits, [0.0] * (rate.bits + 1), selector) == bits
                for bits in alternating)  # fmt: skip
    assert right == (slowest < error < fastest)


def test_a_selector_that_looks_longer_has_less_margin():
    rate = RATES["50 baud"]
    assert Selector(look_units=0.2).margin(rate) == pytest.approx(0.4)
    assert Selector(0.01, look_units=0.2).margin(rate) < Selector(0.01).margin(rate) - 0.09


def test_five_units_tolerate_about_eight_per_cent_and_eight_with_parity_about_five():
    assert speed_limits(RATES["50 baud"]) == pytest.approx((-1 / 12, 1 / 10))
    assert speed_limits(RATES["100 baud"]) == pytest.approx((-1 / 18, 1 / 16))


def test_a_receiver_must_be_at_rest_when_the_next_start_comes():
    rate = RATES["50 baud"]
    slowest = slowest_for_rest(rate, 7.0)
    assert 7.0 / (1 + slowest) == pytest.approx(7.5)
    with pytest.raises(ValueError, match=r"at most 7\.5 units"):
        slowest_for_rest(rate, 8.0)


def test_what_cannot_be_is_refused():
    with pytest.raises(ValueError, match="0 baud"):
        Rate(0, 7.5, 5)
    with pytest.raises(ValueError, match="no room for a start, 8 bits and a stop"):
        Rate(100, 9.5, 8)
    with pytest.raises(ValueError, match="bits 1 to 5, and no bit 6"):
        RATES["50 baud"].begins_ms(6)
    with pytest.raises(ValueError, match="speed_error"):
        Selector(-1.0)
    with pytest.raises(ValueError, match="centre"):
        Selector(centre=2.0)
    with pytest.raises(ValueError, match="with the key or each in its unit"):
        settled_ms(RATES["50 baud"], 1, 0.0, "at noon")


# -- bounce ----------------------------------------------------------------------------------------


def open_again(bounce_ms: float, closed_at_ms: float, time_ms: float) -> bool:
    """Whether a contact that closed at a time may be found open: before, or while it bounces."""
    return not closed_at_ms + bounce_ms <= time_ms


@given(rates, st.floats(0, 100), st.floats(0, 20))
def test_bits_at_risk_are_those_read_while_their_contact_still_bounces(rate, bounce, lead):
    with_key, in_turn = [], []
    for bit in range(1, rate.bits + 1):
        middle = (bit + 0.5) * rate.unit_ms
        assume(abs(middle + lead - bounce) > 1e-6 and abs(0.5 * rate.unit_ms - bounce) > 1e-6)
        if open_again(bounce, -lead, middle):
            with_key.append(bit)
        if open_again(bounce, bit * rate.unit_ms, middle):
            in_turn.append(bit)
    assert bits_at_risk(rate, bounce, lead) == tuple(with_key)
    assert bits_at_risk(rate, bounce, lead, CLOSINGS[1]) == tuple(in_turn)


@given(rates, st.floats(0, 100), st.floats(0, 20), st.sampled_from(CLOSINGS))
def test_early_bits_are_at_risk_first_and_only_where_all_contacts_close_together(
    rate, bounce, lead, closing
):
    at_risk = bits_at_risk(rate, bounce, lead, closing)
    assert at_risk == tuple(range(1, len(at_risk) + 1))
    if closing == CLOSINGS[1]:
        assert len(at_risk) in (0, rate.bits)


@given(st.integers(1, 8), st.floats(0.1, 60), st.floats(0, 20), st.sampled_from(CLOSINGS))
def test_a_bounce_matters_above_its_rate_and_not_below(bit, bounce, lead, closing):
    baud = bounce_matters_from_baud(bit, bounce, lead, closing)
    if baud == inf:
        assert bit not in bits_at_risk(Rate(1e6, 10, 8), bounce, lead, closing)
    else:
        assume(baud < 1e6)
        assert bit in bits_at_risk(Rate(baud * 1.001, 10, 8), bounce, lead, closing)
        assert bit not in bits_at_risk(Rate(baud * 0.999, 10, 8), bounce, lead, closing)


def test_the_keyboard_of_the_desk_is_good_at_its_own_rate():
    assert line_rate(DESK).character_ms == pytest.approx(100)
    assert line_rate(DESK).bits == 8  # the parity bit is one of them
    assert bouncing_contacts(DESK) == ()


def test_worn_contacts_spoil_the_first_bits_and_more_of_them_at_a_higher_rate():
    worn = {
        baud: [f.part for f in bouncing_contacts(DESK, baud, wear=5)] for baud in (50, 120, 300)
    }
    # 5 × (4, 5, 4, 5, 6 …) ms against 2 ms and 1½, 2½, 3½ … units
    assert worn[50] == []
    assert worn[120] == ["contact1", "contact2"]
    assert worn[300] == ["contact1", "contact2", "contact3", "contact4", "contact5"]


def test_the_parity_contact_is_the_last_to_matter():
    rates = {bit: bounce_matters_from_baud(bit, 20.0, 2.0) for bit in range(1, 9)}
    assert max(rates, key=rates.get) == 8
    assert Fault("contact8", "bouncing contact") in bouncing_contacts(DESK, 600, wear=5)


@given(st.floats(20, 2000), st.floats(0, 30), st.sampled_from(CLOSINGS))
def test_the_keyboard_can_have_every_fault_that_is_found(baud, wear, closing):
    found = bouncing_contacts(DESK, baud, wear, closing)
    assert hypothesis(DESK.mechanism, found) == tuple(sorted(found))


def test_a_bounce_is_found_again_from_what_the_keyboard_sends():
    faults = bouncing_contacts(DESK, 120, wear=4)
    assert faults == (Fault("contact1", "bouncing contact"),)
    rng, table = random.Random(3), steps(DESK, faults)
    memory, entries = next(iter(table)), []
    for character in 3 * "0123456789HLEHWSN135":  # a bounce shows now and then
        code = DESK.code.parse(character)
        outcomes = table[memory][code]
        ((seen, memory),) = rng.choices(list(outcomes), list(outcomes.values()))
        entries.append(Entry(code, seen))
    found = diagnose(DESK, Logbook(tuple(entries), DESK.code))
    assert found.evidence.misprints
    assert faults in found.suspects[0].members


def test_a_machine_without_a_line_or_without_a_cycle_is_refused():
    with pytest.raises(TimingError, match="sends nothing on a line"):
        bouncing_contacts(load("saltmere"))
    with pytest.raises(TimingError, match="of the cycle"):
        bouncing_contacts(load("wind"))


def test_a_customary_rate_is_as_fast_as_its_name_says():
    assert {name: f"{rate.baud:g} baud" for name, rate in RATES.items()} == {n: n for n in RATES}
