"""Proofs: each holds where it should, and each is seen to fail where it should."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from spare_bar import with_spare_bar
from sympy import And, Not, Or, Symbol, Xor, true

import mechlogic
from mechlogic.describing import description
from mechlogic.explaining import proofs
from mechlogic.explaining.formulas import bit
from mechlogic.explaining.proofs import MACHINE_CLAIMS, operated_when, reads_as_logic
from mechlogic.machines import FOLDER
from mechlogic.model import laws

MACHINE = mechlogic.load("saltmere")
MECHANISM = MACHINE.mechanism
TEXT = (FOLDER / "saltmere.toml").read_text(encoding="utf-8")


def with_type(*glyphs):
    """Saltmere with another type wheel, which nothing has held against its claims."""
    return replace(MACHINE, output=replace(MACHINE.output, lines=glyphs))


# -- claims about a part -------------------------------------------------------------------------


def test_a_true_claim_is_proved_by_every_setting():
    proof = operated_when(MECHANISM, "middle_stop", bit(1) | bit(3))
    assert proof
    assert (proof.cases, proof.refuted_by) == (128, None)
    assert str(proof).startswith("Proved: middle_stop is operated exactly when b1 | b3.")


def test_a_false_claim_is_refuted_by_a_code_that_shows_it():
    proof = operated_when(MECHANISM, "middle_stop", bit(1) & bit(3))
    assert not proof
    assert str(proof).startswith("Refuted")
    assert (proof.refuted_by & 1) + (proof.refuted_by >> 2 & 1) == 1
    assert f"{proof.refuted_by:07b}" in proof.because


@given(st.integers(0, 15))
def test_of_all_functions_of_two_bits_one_is_proved_and_the_code_refutes_the_others(number):
    """Claims are written out as the sum of the settings in which they hold."""
    settings = [(a, b) for b in (False, True) for a in (False, True)]
    holds = {pair for i, pair in enumerate(settings) if number >> i & 1}
    claim = Or(*(And(_is(bit(1), a), _is(bit(3), b)) for a, b in holds))
    proof = operated_when(MECHANISM, "middle_stop", claim)
    assert bool(proof) == (holds == {pair for pair in settings if any(pair)})
    if not proof:
        pair = bool(proof.refuted_by & 1), bool(proof.refuted_by >> 2 & 1)
        assert (pair in holds) != any(pair)


def _is(symbol, value):
    return symbol if value else Not(symbol)


def test_each_cut_of_a_part_with_many_places_is_claimed_by_itself():
    # The lift rack: 0, 5, 10, 15 mm. It passes the first stop if the middle lever clears.
    assert operated_when(MECHANISM, "lift_rack", bit(1) | bit(3), cut=0)
    assert operated_when(MECHANISM, "lift_rack", bit(3), cut=1)
    assert operated_when(MECHANISM, "lift_rack", bit(1) & bit(3), cut=2)
    assert not operated_when(MECHANISM, "lift_rack", bit(1), cut=1)


def test_claims_may_use_any_operator_of_the_algebra():
    assert operated_when(MECHANISM, "suppression_bar", ~(bit(6) | bit(7)))
    assert operated_when(MECHANISM, "bar1", Xor(bit(1), bit(2), bit(2)))
    assert not operated_when(MECHANISM, "bar1", true)


@pytest.mark.parametrize("claim", [Symbol("b9"), Symbol("slide3") | bit(3), Symbol("b")])
def test_a_claim_about_something_that_is_no_bit_is_refused(claim):
    with pytest.raises(ValueError, match="the code bits are b1, b2, b3, b4, b5, b6, b7"):
        operated_when(MECHANISM, "middle_stop", claim)


def test_a_claim_that_is_arithmetic_is_refused():
    with pytest.raises((ValueError, TypeError)):
        operated_when(MECHANISM, "middle_stop", bit(1) + bit(3))


# -- claims about a machine ----------------------------------------------------------------------


@pytest.mark.parametrize("claim", MACHINE_CLAIMS)
def test_saltmere_meets_every_claim(claim):
    assert claim(MACHINE)


def test_two_letters_exchanged_on_the_wheel_are_found():
    rows = list(MACHINE.output.lines)
    rows[2] = rows[2].translate(str.maketrans("AI", "IA"))
    proof = proofs.does_as_declared(with_type(*rows))
    assert not proof
    assert proof.refuted_by in (ord("A"), ord("I"))
    assert "A prints I" in proof.because or "I prints A" in proof.because


def test_a_bar_that_has_a_say_in_the_choice_is_found():
    declared = replace(MACHINE.declared, no_part_in_selection=("bar1",))
    proof = proofs.one_for_each(replace(MACHINE, declared=declared))
    assert not proof
    assert proof.refuted_by & 1, "the choice changes as soon as bar 1 is set"


def test_two_codes_that_choose_one_place_are_found():
    """Without its shoulder the carriage has four heights for eight combinations."""
    lift = replace(MACHINE.output, lift="lift_rack", rows=MACHINE.output.rows[::2])
    proof = proofs.one_for_each(replace(MACHINE, output=lift))
    assert not proof
    assert "one place" in proof.because


def test_a_wheel_with_a_column_missing_is_found():
    wheel = replace(
        MACHINE.output,
        columns=MACHINE.output.columns[:-1],
        lines=tuple(row[:-1] for row in MACHINE.output.lines),
    )
    proof = proofs.positions_distinct(replace(MACHINE, output=wheel))
    assert not proof
    turned = MECHANISM.laws["turn"].places[-1]
    assert turned == MACHINE.output.columns[-1]
    assert proof.refuted_by is not None


def test_a_bar_that_nothing_senses_never_matters():
    assert proofs.never_matters(with_spare_bar(MACHINE), "bar8")


def test_which_bars_never_matter():
    assert proofs.never_matters(MACHINE, "bar6", ("lift", "turn"))
    assert not proofs.never_matters(MACHINE, "bar6")
    refuted = proofs.never_matters(MACHINE, "bar7", ("lift", "turn"))
    assert not refuted
    assert "bar7 never moves lift, turn" in str(refuted)


def test_an_asymmetric_description_is_still_one_to_one():
    """The proof looks at the parts, not at the type: exchanged type does not disturb it."""
    rows = MACHINE.output.lines
    assert proofs.one_for_each(with_type(*reversed(rows)))


def test_a_description_whose_proof_fails_is_refused_when_it_is_read():
    with pytest.raises(mechlogic.DescriptionError, match="should print"):
        description.parse(TEXT.replace('"AIQY)19"', '"IAQY)19"'))


# -- the forced OR -------------------------------------------------------------------------------


def test_the_or_is_the_one_lever_that_meets_all_three_demands():
    candidates = proofs.sixteen_levers(MECHANISM, "middle_stop", "lift_rack", (3, 1))
    forced = [candidate for candidate in candidates if candidate.forced]
    assert [candidate.values for candidate in forced] == [(False, True, True, True)]
    assert forced[0].places == (0, 10, 5, 15)
    assert sum(candidate.distinct for candidate in candidates) == 2
    assert sum(candidate.monotone for candidate in candidates) == 6  # Dedekind's number for two


def test_the_same_trick_serves_the_rack_that_turns_the_wheel():
    candidates = proofs.sixteen_levers(MECHANISM, "near_plate", "turn_rack", (4, 5))
    assert [c.values for c in candidates if c.forced] == [(False, True, True, True)]


# -- thresholds ----------------------------------------------------------------------------------


def test_a_refuted_reading_shows_two_positions_with_the_same_bits():
    lever = laws.SummingLever("x", "y")
    reading = reads_as_logic(lever, [Fraction(4)] * 2, Fraction(2), [Fraction(2)] * 2)
    assert not reading
    assert reading.one != reading.other
    for place in (reading.one, reading.other):
        assert tuple(x >= 2 for x in place) == reading.bits


def test_no_position_tried_lies_on_its_cut():
    """Exactly on a cut the outcome is a matter of convention; the theorem does not speak of it."""
    reading = reads_as_logic(laws.Withdraw("x"), [Fraction(4)], Fraction(2), [Fraction(2)])
    assert reading  # at 2 mm exactly both the part and its withdrawal would read as operated
