"""Which parts come too late, and which faults follow, is what the parts' own times say."""

import tempfile
from dataclasses import replace
from fractions import Fraction as F
from itertools import pairwise, product
from math import inf
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import few

import mechlogic
from mechlogic.bench.diagnosis import diagnose
from mechlogic.describing import description
from mechlogic.describing.writing import same, save, write
from mechlogic.machines import FOLDER, load
from mechlogic.model.faults import Fault, hypothesis
from mechlogic.model.joining import join
from mechlogic.model.laws import Contact
from mechlogic.model.logbook import Entry, Logbook
from mechlogic.model.mechanism import Mechanism, Part
from mechlogic.model.motion import Cycle, Moves
from mechlogic.model.steps import steps
from mechlogic.time.oil import FRESH
from mechlogic.time.timing import (
    GOOD,
    Conditions,
    TimingError,
    coldest_degc,
    late_faults,
    margin,
    margins,
    sentence,
    stroke,
    timed_parts,
)

SALTMERE = load("saltmere")
OLD = FRESH.aged(5)
COLD_MORNING = Conditions(temperature_degc=10, oil=OLD)
WIND, EBBING, DESK = load("wind"), load("ebbing"), load("desk")
CYCLE = Cycle(F(10), F(100), F(1, 5), F(1, 5))


def wind(moves=None, cycle=CYCLE, part="middle_stop"):
    """The wind stamp, one of whose parts says how it moves."""
    parts = [replace(p, moves=moves) if p.name == part else p for p in WIND.mechanism]
    return replace(WIND, mechanism=Mechanism(parts), cycle=cycle)


def moves(**changes):
    good = {
        "mass_g": F(5),
        "spring_n_per_mm": F("0.06"),
        "preload_n": F("0.45"),
        "drag_ns_per_m": F("0.26"),
        "friction_n": F("0.1"),
    }
    return Moves(**(good | changes))


# -- margins ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["saltmere", "ebbing", "desk"])
def test_every_part_of_a_good_machine_is_in_time(name):
    machine = load(name)
    assert timed_parts(machine)
    assert late_faults(machine) == ()
    assert all(m.margin_ms > 0 for m in margins(machine))


def test_the_least_margin_comes_first():
    found = margins(SALTMERE, COLD_MORNING)
    assert {m.part for m in found} == set(timed_parts(SALTMERE))
    assert all(a.margin_ms <= b.margin_ms for a, b in pairwise(found))
    assert found[0].part == "middle_stop"
    # 20 % of 10 units at 100 baud
    assert found[0].given_ms == pytest.approx(20.0)


@given(st.sampled_from(timed_parts(SALTMERE)), st.floats(-30, 60), st.floats(1, 20))
def test_the_fault_appears_above_the_fastest_rate_and_disappears_below(name, degrees, aged):
    conditions = Conditions(temperature_degc=degrees, oil=FRESH.aged(aged))
    fastest = margin(SALTMERE, name, conditions).fastest_baud
    assert margin(SALTMERE, name, replace(conditions, baud=fastest * 1.001)).late
    assert not margin(SALTMERE, name, replace(conditions, baud=fastest * 0.999)).late
    rate = margin(SALTMERE, name, conditions).fastest_characters_per_s
    assert rate == pytest.approx(fastest / 10)


@given(st.sampled_from(timed_parts(SALTMERE)), st.floats(1, 30))
def test_the_fault_appears_below_the_coldest_temperature_and_disappears_above(name, aged):
    conditions = Conditions(oil=FRESH.aged(aged))
    coldest = coldest_degc(SALTMERE, name, conditions)
    if coldest == -inf:
        assert not margin(SALTMERE, name, replace(conditions, temperature_degc=-30)).late
    else:
        assert not margin(SALTMERE, name, replace(conditions, temperature_degc=coldest)).late
        just_below = replace(conditions, temperature_degc=coldest - 0.02)
        assert margin(SALTMERE, name, just_below).late


def test_a_part_that_is_late_in_the_hottest_room_is_never_in_time():
    stiff = wind(moves(drag_ns_per_m=F(9)))
    assert coldest_degc(stiff, "middle_stop", Conditions(baud=2000.0)) == inf


# -- faults ----------------------------------------------------------------------------------------


def test_a_cold_morning_and_old_oil_make_the_middle_stop_lever_slow_to_return():
    assert late_faults(SALTMERE, COLD_MORNING) == (Fault("middle_stop", "slow to return"),)


@pytest.mark.parametrize(
    "mended",
    [
        {"temperature_degc": 20.0},  # warm the room
        {"oil": FRESH},  # clean off the old oil, oil lightly
        {"baud": 75},  # run it slower
    ],
    ids=["warm", "oil", "slow"],
)
def test_it_is_mended_by_warmth_by_oil_and_by_a_slower_line(mended):
    assert late_faults(SALTMERE, replace(COLD_MORNING, **mended)) == ()


def test_the_faults_that_physics_gives_are_found_again_from_the_prints():
    """The machine of a cold morning types a text; the diagnosis leads back to its late part."""
    faults = late_faults(SALTMERE, COLD_MORNING)
    log = typed(SALTMERE, faults, "KEELEKAEBEHE")
    found = diagnose(SALTMERE, log)
    assert found.evidence.misprints
    assert faults in found.suspects[0].members


def typed(machine, faults, text):
    """The log of a machine that stood idle before; nothing is left to chance here."""
    table, memory, entries = steps(machine, faults), None, []
    for character in text:
        code = machine.code.parse(character)
        memory = next(iter(table)) if memory is None else memory
        ((seen, memory),) = table[memory][code]
        entries.append(Entry(code, seen))
    return Logbook(tuple(entries), machine.code)


def test_a_part_that_friction_holds_on_its_way_hangs_half_way():
    hangs = wind(moves(preload_n=F("0.05"), friction_n=F("0.2"), drag_ns_per_m=F(3)))
    assert late_faults(hangs) == (Fault("middle_stop", "half-way"),)
    assert "hangs 2.5 mm before its stop" in sentence(hangs, margins(hangs)[0])


def test_a_rack_of_several_places_that_friction_holds_does_something_that_is_on_no_list():
    held = moves(preload_n=F("0.05"), friction_n=F("0.2"), drag_ns_per_m=F(3), operates=True)
    assert late_faults(wind(held, part="lift_rack")) == (Fault("lift_rack", "unknown"),)


def test_a_part_that_its_spring_cannot_start_is_stuck_where_it_was_driven():
    held = moves(friction_n=F(3))
    assert late_faults(wind(held)) == (Fault("middle_stop", "stuck operated"),)
    dropping = replace(held, operates=True)
    assert late_faults(wind(dropping)) == (Fault("middle_stop", "stuck at rest"),)
    assert "stays at rest" in sentence(wind(dropping), margins(wind(dropping))[0])


def test_a_late_spring_that_operates_makes_a_part_slow_to_operate():
    dropping = moves(operates=True)
    fast = Conditions(baud=900.0)
    assert late_faults(wind(dropping), fast) == (Fault("middle_stop", "slow to operate"),)


def test_a_pull_bar_that_rests_dropped_is_slow_to_return_when_its_spring_is_late():
    bar = "suppression_bar"
    frozen = Conditions(temperature_degc=-25, oil=OLD)
    assert SALTMERE.mechanism.rest[bar] == 1
    assert Fault(bar, "slow to return") in late_faults(SALTMERE, frozen)


@few
@given(st.floats(-30, 40), st.floats(1, 40), st.floats(20, 400))
def test_whatever_the_conditions_the_machine_can_have_the_faults(degrees, aged, baud):
    for machine in (SALTMERE, EBBING, DESK):
        conditions = Conditions(baud, degrees, FRESH.aged(aged))
        found = late_faults(machine, conditions)
        assert hypothesis(machine.mechanism, found) == tuple(sorted(found))
        late = {m.part for m in margins(machine, conditions) if m.needed_ms > m.given_ms}
        assert {fault.part for fault in found} == late


def test_what_a_margin_means_is_said_in_words():
    good = sentence(SALTMERE, margin(SALTMERE, "middle_stop"))
    assert good == (
        "The middle stop lever needs 9.6 ms to return, and the cycle gives it 20.0 ms. "
        "It has 10.4 ms in hand: it keeps up to 209 baud, 20.9 characters a second."
    )
    late = sentence(SALTMERE, margin(SALTMERE, "middle_stop", COLD_MORNING))
    assert "It is 2.5 ms late: it keeps up to 89 baud" in late


# -- what must be described ------------------------------------------------------------------------


def test_without_mass_spring_or_cycle_the_question_is_refused():
    with pytest.raises(TimingError, match=r"nothing is said of the cycle .*Add a table \[cycle\]"):
        margins(WIND)
    with pytest.raises(TimingError, match="the mass and the spring of turn"):
        stroke(SALTMERE, "turn")
    with pytest.raises(TimingError, match="Did you mean middle_stop"):
        stroke(SALTMERE, "midle_stop")


def test_a_keyboard_and_a_printer_keep_the_printers_cycle_when_they_are_joined():
    joined = join(DESK, SALTMERE)
    assert margin(joined, "middle_stop") == margin(SALTMERE, "middle_stop")


GOOD_TEXT = (FOLDER / "saltmere.toml").read_text("utf-8")
MIDDLE = next(line for line in GOOD_TEXT.splitlines() if "0.26" in line)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (MIDDLE, MIDDLE.replace("5.0,", "0,", 1),
         "parts.middle_stop.moves.mass_g: it is not greater than 0"),
        (MIDDLE, MIDDLE.replace("0.12", "-0.12"),
         "parts.middle_stop.moves.friction_n: it is less than 0"),
        (MIDDLE, MIDDLE.replace("mass_g", "mass_kg"), "no key here is called 'mass_kg'"),
        (MIDDLE, MIDDLE.replace("mass_g = 5.0,", ""), "mass_g is missing"),
        (MIDDLE, MIDDLE.replace("0.45", '"0.45"'), "is not a number"),
        (MIDDLE, MIDDLE.replace(" }", ', spring = "pulls" }'), "'pulls' is not known here"),
        (MIDDLE, MIDDLE.replace("within_mm = 0.5", "within_mm = 5.0"),
         "middle_stop moves only 5 mm"),
        (MIDDLE, MIDDLE.replace("0.26", "3.0"), "ms and the cycle gives it 20 ms"),
        (MIDDLE, MIDDLE.replace("0.12", "0.6"), "friction holds it before it is there"),
        (MIDDLE, MIDDLE.replace("0.06", "1e-8"), "no spring is as soft as that"),
        (MIDDLE, "moves = 3", "parts.middle_stop.moves: it is not a table"),
        (MIDDLE, "moves = {}", "it is empty"),
        (MIDDLE, "bounce_ms = 3.0", "no key here is called 'bounce_ms'"),
        ('joint = "opposed_racks"', f'joint = "opposed_racks"\n{MIDDLE}',
         "parts.turn.moves: it turns, and its travel is in degrees"),
        ("baud = 100.0", "baud = 0", "cycle.baud: it is not greater than 0"),
        ("sense_share = 0.15", "sense_share = 0.9", "together more than 1"),
        ("return_share = 0.2", "", "return_share is missing"),
        ("units = 10.0", "units = 10.0\nlead_ms = -1", "cycle.lead_ms: it is less than 0"),
        ("units = 10.0", "units = 10.0\nunit = 3", "no key here is called 'unit'"),
    ],
)  # fmt: skip
def test_a_wrong_description_is_refused_with_line_key_and_mend(old, new, message):
    assert GOOD_TEXT.count(old) == 1
    text = GOOD_TEXT.replace(old, new)
    with pytest.raises(description.DescriptionError) as caught:
        description.parse(text, "saltmere.toml")
    said = [problem for problem in caught.value.problems if message in str(problem)]
    assert said, str(caught.value)
    assert all(problem.line for problem in said)
    assert all(problem.mend.endswith((".", "?", "…")) for problem in said)
    assert all(p.table.startswith(("parts.", "cycle")) for p in caught.value.problems)


def test_a_contact_has_no_moves_and_only_a_contact_bounces():
    text = (FOLDER / "desk.toml").read_text("utf-8")
    for new, message in (
        ("bounce_ms = -1.0", "parts.contact5.bounce_ms: it is less than 0"),
        ("moves = { mass_g = 1.0, spring_n_per_mm = 1.0 }", "a contact is open or closed"),
    ):
        with pytest.raises(description.DescriptionError, match=message):
            description.parse(text.replace("bounce_ms = 6.0", new), "desk.toml")


def test_a_machine_that_says_nothing_of_time_is_read_as_before():
    plain = "\n".join(
        line for line in GOOD_TEXT.splitlines() if not line.startswith(("moves =",))
    ).replace(GOOD_TEXT[GOOD_TEXT.index("[cycle]") : GOOD_TEXT.index("# ---- code bars")], "")
    machine = description.parse(plain)
    assert machine.cycle is None
    assert timed_parts(machine) == ()
    assert machine.printed == SALTMERE.printed


# -- writing ---------------------------------------------------------------------------------------

eighths = st.integers(0, 80).map(lambda n: F(n, 8))
some_moves = st.builds(
    Moves,
    mass_g=eighths.filter(bool),
    spring_n_per_mm=eighths.filter(bool),
    preload_n=eighths,
    drag_ns_per_m=eighths,
    friction_n=eighths,
    within_mm=st.sampled_from([F(0), F(1, 8)]),
    operates=st.booleans(),
)
some_cycles = st.builds(
    Cycle,
    units=eighths.filter(bool),
    baud=eighths.filter(bool),
    sense_share=st.sampled_from([F(1, 4), F(1, 2)]),
    return_share=st.sampled_from([F(1, 8), F(1, 2)]),
    lead_ms=eighths,
)


@few
@given(st.lists(some_moves, min_size=1, max_size=3))
def test_moves_are_written_and_read_back_the_same(found):
    names = [name for name in WIND.mechanism.parts if WIND.mechanism.unit(name) == "mm"]
    chosen = dict(zip(names, found, strict=False))
    parts = [replace(p, moves=chosen.get(p.name)) for p in WIND.mechanism]
    machine = replace(WIND, mechanism=Mechanism(parts))
    again = description.parse(write(machine))
    assert same(machine, again)
    assert {n: again.mechanism[n].moves for n in chosen} == chosen


@few
@given(some_cycles, eighths)
def test_cycle_and_bounce_are_written_and_read_back_the_same(cycle, bounce):
    tell = Part("tell", Contact("bar1"), "tell", bounce_ms=bounce)
    machine = replace(WIND, mechanism=Mechanism([*WIND.mechanism, tell]), cycle=cycle)
    with tempfile.TemporaryDirectory() as folder:
        save(machine, Path(folder) / "a.toml")
        again = load(Path(folder) / "a.toml")
    assert (again.cycle, again.mechanism["tell"].bounce_ms) == (cycle, bounce)


def test_two_machines_that_differ_in_time_alone_are_not_the_same():
    for cycle, part in product((None, CYCLE), (None, moves())):
        other = wind(part, cycle)
        assert same(WIND, other) == (cycle is None and part is None)


def test_good_conditions_are_those_for_which_a_machine_is_described():
    assert Conditions() == GOOD
    assert mechlogic.load("saltmere").cycle.baud == 100
    assert stroke(SALTMERE, "middle_stop", GOOD).drag_ns_per_m == pytest.approx(0.26)
