"""Travel in millimetres: floats, arrays and fractions agree, and so does the plain brute force."""

import itertools
from fractions import Fraction

import numpy as np
import pytest
from brute_force import Printer
from hypothesis import given
from hypothesis import strategies as st
from strategies import few, mechanism_of, parts

import mechlogic
from mechlogic.describing import description
from mechlogic.explaining.travel import positions
from mechlogic.fit.linkage import FLOATS, arrays, travel_at, walk
from mechlogic.machines import FOLDER
from mechlogic.model.dimensions import dimensions
from mechlogic.model.laws import PLAIN
from mechlogic.model.mechanism import MechanismError

MACHINES = {name: mechlogic.load(name) for name in ("wind", "saltmere", "ness")}
SALTMERE = MACHINES["saltmere"]


@few
@given(parts(), st.integers(0, 31))
def test_floats_and_arrays_put_every_part_where_exact_fractions_put_it(drawn, code: int):
    """Over random mechanisms, with lost motion here and there."""
    mechanism, printer = mechanism_of({"parts": drawn}), Printer({"parts": drawn})
    plain, _, _ = printer.follow(code)
    shares = {name: float(code >> (bar.bit - 1) & 1) for name, bar in mechanism.bars.items()}
    with_floats = walk(mechanism, shares, FLOATS)
    columns = {name: np.array([share, 0.0, share]) for name, share in shares.items()}
    with_arrays = walk(mechanism, columns, arrays())
    for name, place in plain.items():
        assert with_floats[name] == pytest.approx(float(place), abs=1e-9)
        assert with_arrays[name][0] == pytest.approx(float(place), abs=1e-9)
        assert with_arrays[name][2] == pytest.approx(float(place), abs=1e-9)


@pytest.mark.parametrize("name", MACHINES)
def test_all_codes_at_once_are_all_codes_one_by_one(name: str):
    machine = MACHINES[name]
    codes = range(len(machine.code))
    at_once = travel_at(machine, list(codes))
    for code in codes:
        for part, place in travel_at(machine, code).items():
            there = np.broadcast_to(at_once[part], (len(codes), 1))[code, 0]
            assert there == pytest.approx(place)


@pytest.mark.parametrize("name", MACHINES)
def test_part_way_bars_are_where_the_exact_reading_has_them(name: str):
    machine = MACHINES[name]
    for depth in (Fraction(1, 3), Fraction(7, 10), Fraction(5, 2), Fraction(31, 10)):
        for bar in machine.mechanism.bars:
            exact = positions(machine.mechanism, {bar: depth})
            found = travel_at(machine, 0, moved={bar: float(depth)})
            assert found == pytest.approx({part: float(at) for part, at in exact.items()})


def test_many_depths_at_once_are_the_depths_one_by_one():
    depths = np.linspace(0, 4, 41)
    swept = travel_at(SALTMERE, SALTMERE.code.parse("E"), moved={"bar2": depths})
    for i, depth in enumerate(depths):
        one = travel_at(SALTMERE, SALTMERE.code.parse("E"), moved={"bar2": float(depth)})
        for part, place in one.items():
            assert np.broadcast_to(swept[part], depths.shape)[i] == pytest.approx(place), part


def test_any_part_may_be_held_and_only_what_follows_it_moves():
    code = SALTMERE.code.parse("E")
    free, held = travel_at(SALTMERE, code), travel_at(SALTMERE, code, moved={"lift_rack": 4.0})
    changed = {name for name in free if free[name] != held[name]}
    assert changed == {"lift_rack", "lift"}
    assert held["lift"] == 4.0 + free["lift"] - free["lift_rack"]


def test_an_offset_moves_its_part_and_what_follows_by_that_much():
    off = travel_at(SALTMERE, 65, dimensions={("lift_rack", "offset_mm"): 0.25})
    right = travel_at(SALTMERE, 65)
    assert off["lift_rack"] - right["lift_rack"] == pytest.approx(0.25)
    assert off["lift"] - right["lift"] == pytest.approx(0.25)


def test_backlash_is_a_doubt_of_the_turn_and_of_nothing_else():
    found = {d.name: d for d in dimensions(SALTMERE)}["turn", "backlash_deg"]
    assert (found.nominal, found.unit, found.tolerance) == (0, "degrees", Fraction(1, 2))
    wide = travel_at(SALTMERE, 65, dimensions={("turn", "backlash_deg"): 0.5})
    right = travel_at(SALTMERE, 65)
    assert {n for n in right if wide[n] != right[n]} == {"turn"}
    assert wide["turn"] - right["turn"] == pytest.approx(0.5)


# -- lost motion -----------------------------------------------------------------------------------

WIND = (FOLDER / "wind.toml").read_text(encoding="utf-8")
GAPPED = description.parse(WIND.replace('input = "bar2"\n', 'input = "bar2"\ngap_mm = 1.5\n'))


def test_a_part_with_a_gap_stands_still_until_the_gap_is_taken_up():
    for depth, moved in ((0.0, 0.0), (1.0, 0.0), (1.5, 0.0), (2.5, 1.0), (4.0, 2.5)):
        at = travel_at(GAPPED, 0, moved={"bar2": depth})
        assert at["left_stop"] == pytest.approx(moved)
        assert at["middle_stop"] == pytest.approx(depth), "it has no gap"


def test_the_places_derived_for_a_part_with_a_gap_are_those_it_can_reach():
    assert GAPPED.mechanism.laws["left_stop"].places == (0, Fraction(5, 2))


def test_with_the_default_gap_nothing_changes():
    zero = description.parse(WIND.replace('input = "bar2"\n', 'input = "bar2"\ngap_mm = 0.0\n'))
    for code, name in itertools.product(range(4), zero.mechanism.parts):
        assert travel_at(zero, code)[name] == travel_at(MACHINES["wind"], code)[name]


def test_a_gap_before_a_part_that_goes_below_its_rest_is_refused():
    text = (FOLDER / "saltmere.toml").read_text(encoding="utf-8")
    extra = '[parts.dial]\njoint = "follow"\ninput = "turn"\ngap_mm = 1.0\n\n[wheel]'
    with pytest.raises(description.DescriptionError, match="turn goes down to -180"):
        description.parse(text.replace("[wheel]", extra))


def test_the_formula_of_a_part_with_a_gap_has_it():
    from mechlogic.explaining import formulas

    formula = formulas.travel(GAPPED.mechanism, "left_stop")
    bar = formulas.displacement(GAPPED.mechanism, "bar2")
    assert (formula.subs(bar, 1), float(formula.subs(bar, 3))) == (0, 1.5)
    part = GAPPED.mechanism["left_stop"]
    assert part.travel([Fraction(3)], [Fraction(4)], PLAIN) == Fraction(3, 2)


# -- what is refused -------------------------------------------------------------------------------


def test_a_part_that_is_not_there_or_a_place_that_is_no_number_is_refused():
    with pytest.raises(MechanismError, match="Did you mean bar2"):
        travel_at(SALTMERE, 0, moved={"brar2": 1.0})
    with pytest.raises(MechanismError, match="no number"):
        travel_at(SALTMERE, 0, moved={"bar2": float("nan")})


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("[tolerances]\nstroke_mm", "[tolerances]\nstroke_cm", "no key here is called 'stroke_cm'"),
        ("at_mm = 0.1\n", "at_mm = -0.1\n", "not greater than 0"),
        ("adjusts = {", "adjusts = { ratio = 1.0,", "no key here is called 'ratio'"),
        ("adjusts = {", "adjusts = { offset_deg = 1.0,", "Write offset_mm"),
        ("unreadable_mm = 1.6", "unreadable_mm = 0.6", "no room for a clipped character"),
        ("type_height_mm = 3.5\n", "", "type_height_mm is missing"),
        ('input = "bar2"\n', 'input = "bar2"\ngap_mm = -1.0\n', "less than 0"),
        ('input = "bar2"\n', 'input = "bar2"\nbacklash_deg = 1.0\n', "no key here"),
    ],
)
def test_a_description_with_a_wrong_fit_is_refused_with_its_mend(old: str, new: str, says: str):
    assert old in WIND
    text = WIND.replace(old, new, 1)
    with pytest.raises(description.DescriptionError) as refused:
        description.parse(text)
    assert any(says in str(problem) for problem in refused.value.problems)


def test_a_bar_with_a_longer_stroke_goes_that_far_and_the_others_go_as_described():
    machine = MACHINES["wind"]
    longer = travel_at(machine, 0b11, dimensions={("bar1", "stroke_mm"): 5.0})
    assert (longer["bar1"], longer["bar2"]) == (5.0, 4.0)
    assert travel_at(machine, 0b11)["bar1"] == 4.0
