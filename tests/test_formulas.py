"""The formula readings: every formula, worked out, puts every part where the brute force does."""

import random
from fractions import Fraction

import pytest
import sympy
from brute_force import Printer, read
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import mechanism_of, parts
from sympy import And, Max, Min, Not, Or, Rational, Symbol
from sympy.logic.inference import satisfiable

import mechlogic
from mechlogic.explaining import formulas
from mechlogic.explaining.formulas import bit
from mechlogic.explaining.proofs import operated_when
from mechlogic.machines import FOLDER

MECHANISM = mechlogic.load("saltmere").mechanism
PLAIN = Printer(read(FOLDER / "saltmere.toml"))


def as_bits(code):
    return {bit(number): bool(code >> (number - 1) & 1) for number in range(1, 8)}


def stands(printer, code):
    return printer.follow(code)[0]


@settings(max_examples=settings().max_examples // 5)
@given(parts(), st.data())
def test_logic_of_any_part_of_a_random_mechanism_is_what_its_places_say(described, data):
    mechanism, printer = mechanism_of({"parts": described}), Printer({"parts": described})
    code = data.draw(st.integers(0, 31))
    found = stands(printer, code)
    for name in printer.order:
        for cut, place in enumerate(printer.places[name][1:]):
            expression = formulas.logic(mechanism, name, cut, simplest=False)
            assert bool(expression.subs(as_bits(code))) == (found[name] >= place), (name, cut)


@settings(max_examples=settings().max_examples // 5)
@given(parts(), st.data())
def test_travel_of_any_part_of_a_random_mechanism_is_where_it_stands(described, data):
    mechanism, printer = mechanism_of({"parts": described}), Printer({"parts": described})
    found = stands(printer, data.draw(st.integers(0, 31)))
    at = {formulas.displacement(mechanism, n): formulas.exact(x) for n, x in found.items()}
    for name in printer.order:
        assert formulas.travel(mechanism, name).subs(at) == formulas.exact(found[name])


@pytest.mark.parametrize("name", PLAIN.order)
def test_travel_of_saltmere_in_terms_of_the_code_bars_alone(name):
    expression = formulas.travel_from_bars(MECHANISM, name)
    assert {str(symbol) for symbol in expression.free_symbols} <= set(MECHANISM.bars)
    for code in random.Random(name).sample(range(128), 6):
        found = stands(PLAIN, code)
        bars = {formulas.displacement(MECHANISM, bar): int(found[bar]) for bar in MECHANISM.bars}
        assert expression.subs(bars) == formulas.exact(found[name]), code


@pytest.mark.parametrize("name", ["middle_stop", "lift_rack", "cam_rack", "turn", "hammer"])
def test_the_simplest_form_says_the_same_as_the_long_one_and_is_no_longer(name):
    for cut in range(len(PLAIN.places[name]) - 1):
        short, long = (formulas.logic(MECHANISM, name, cut, simplest=s) for s in (True, False))
        assert satisfiable(sympy.Xor(short, long)) is False
        assert sympy.count_ops(short) <= sympy.count_ops(long)


def test_the_middle_stop_lever_as_logic_and_as_travel():
    assert formulas.logic(MECHANISM, "middle_stop") == Or(bit(1), bit(3))
    slides = Symbol("slide1", nonnegative=True), Symbol("slide3", nonnegative=True)
    assert formulas.travel(MECHANISM, "middle_stop") == Rational(5, 4) * Max(*slides)


def test_the_hammer_falls_unless_a_suppression_bar_drops():
    hammer = formulas.logic(MECHANISM, "hammer")
    assert satisfiable(sympy.Xor(hammer, bit(7) | (bit(6) & (bit(4) | bit(5))))) is False
    assert formulas.logic(MECHANISM, "sign_bar") == And(*(Not(bit(n)) for n in (4, 5, 7)))
    assert formulas.logic(MECHANISM, "suppression_bar") == And(Not(bit(6)), Not(bit(7)))
    bars = Symbol("bar6", nonnegative=True), Symbol("bar7", nonnegative=True)
    assert formulas.travel(MECHANISM, "suppression_bar") == Min(*(4 - bar for bar in bars))
    assert formulas.contact_logic(MECHANISM, "hammer") == Not(Symbol("bail"))


def test_contacts_speak_of_the_parts_touched_and_of_each_cut_of_a_part_with_several():
    assert formulas.contact_logic(MECHANISM, "middle_stop") == Symbol("slide1") | Symbol("slide3")
    symbols = {
        s for cut in range(7) for s in formulas.contact_logic(MECHANISM, "lift", cut).atoms()
    }
    assert {str(symbol) for symbol in symbols} == {
        "shoulder", "lift_rack_1", "lift_rack_2", "lift_rack_3",
    }  # fmt: skip


def test_a_code_bar_is_its_own_bit_and_its_own_displacement():
    assert formulas.logic(MECHANISM, "bar3") == bit(3)
    assert formulas.travel(MECHANISM, "bar3") == Symbol("bar3", nonnegative=True)
    assert formulas.travel_from_bars(MECHANISM, "bar3") == Symbol("bar3", nonnegative=True)
    assert list(formulas.bits(MECHANISM)) == [f"b{number}" for number in range(1, 8)]


def test_a_turning_part_may_go_either_way():
    assert formulas.displacement(MECHANISM, "turn").is_nonnegative is None
    assert formulas.displacement(MECHANISM, "lift").is_nonnegative


def test_fractions_stay_exact():
    assert formulas.exact(Fraction(1, 3)) == Rational(1, 3)


def test_a_part_or_a_cut_that_is_not_there_is_refused():
    with pytest.raises(KeyError):
        formulas.logic(MECHANISM, "slide9")
    with pytest.raises(IndexError):
        formulas.logic(MECHANISM, "hammer", 1)


WITH_BARS = [n for n in mechlogic.machines.names() if mechlogic.load(n).mechanism.bars]
"""Not the desk: SymPy needs minutes for the simplest form of sixteen keys."""


@pytest.mark.parametrize("name", WITH_BARS)
def test_every_step_from_the_derived_formula_to_the_simplest_says_when_the_part_is_operated(name):
    """Each is proved by the table of all settings, which knows nothing of SymPy."""
    mechanism = mechlogic.load(name).mechanism
    for part in mechanism.parts:
        if mechanism.upstream(part).isdisjoint(mechanism.latches):
            for cut in range(len(mechanism.laws[part].cuts)):
                found = formulas.steps(mechanism, part, cut).each
                assert found[-1][1] == formulas.logic(mechanism, part, cut)
                for rule, formula in found:
                    assert operated_when(mechanism, part, formula, cut), (part, rule)


def test_the_steps_of_the_hammer_are_named_and_set_as_latex():
    steps = formulas.steps(MECHANISM, "hammer")
    assert str(steps).splitlines() == [
        "derived from the contacts: ~((~b6 & ~b7) | (~b4 & ~b5 & ~b7))",
        "De Morgan: (b6 | b7) & (b4 | b5 | b7)",
        "distribution: b7 | (b4 & b6) | (b4 & b7) | (b5 & b6) | (b5 & b7) | (b6 & b7)",
        "absorption: b7 | (b4 & b6) | (b5 & b6)",
    ]
    assert r"& \text{absorption:}\\ & b_{7} \vee" in steps._repr_latex_()
