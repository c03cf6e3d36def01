"""Tolerances: three answers that must agree with one another and with plain loops."""

from fractions import Fraction
from itertools import product

import numpy as np
import pytest

import mechlogic
from mechlogic.describing import description
from mechlogic.describing.schema import schema
from mechlogic.fit.adjustment import dimension_words, sensitivity_words
from mechlogic.fit.hammer import aims, errors, printing
from mechlogic.fit.linkage import travel_at
from mechlogic.fit.tolerance import (
    build,
    draw,
    sensitivities,
    slopes,
    spreads,
    telling_readings,
    toleranced,
    what_matters,
)
from mechlogic.machines import FOLDER
from mechlogic.model.dimensions import KINDS, OFFSETS, Dimension, dimensions, kinds_of, unit_of
from mechlogic.model.machine import Machine

SALTMERE, WIND, NESS = (mechlogic.load(name) for name in ("saltmere", "wind", "ness"))
STOP_2 = ("lift_rack", "stops[2].at_mm")


def test_the_list_of_dimensions_is_that_of_the_description():
    found = {d.name: (float(d.nominal), d.unit, float(d.tolerance)) for d in dimensions(WIND)}
    assert found == {
        ("bar1", "stroke_mm"): (4.0, "mm", 0.2),
        ("bar2", "stroke_mm"): (4.0, "mm", 0.2),
        ("left_stop", "ratio"): (1.0, "", 0.02),
        ("middle_stop", "ratio"): (1.0, "", 0.02),
        ("right_stop", "ratio"): (1.0, "", 0.02),
        ("lift_rack", "end_mm"): (15.0, "mm", 0.1),
        ("lift_rack", "stops[1].at_mm"): (0.0, "mm", 0.1),
        ("lift_rack", "stops[2].at_mm"): (5.0, "mm", 0.1),
        ("lift_rack", "stops[3].at_mm"): (10.0, "mm", 0.1),
    }


def test_every_length_of_every_joint_has_a_kind_that_may_have_a_tolerance():
    """As the reader of descriptions asks for them, so that no shipped machine need have the joint.

    A new length goes into dimensions.KINDS.
    """
    no_dimension = {"bit", "bounce_ms", "backlash_deg"}  # a count, a time, and one of its own
    found = {
        key.name
        for keys in schema().joints.values()
        for one in keys
        for key in (one, *one.keys)
        if key.kind == "number"
    }
    assert found - no_dimension == set(KINDS) - set(OFFSETS)


def test_the_joints_of_the_machines_have_just_such_lengths():
    parts = [part for name in mechlogic.machines.names() for part in mechlogic.load(name).mechanism]
    assert {kind for part in parts for kind in kinds_of(type(part.joint))} <= set(KINDS)


def test_a_part_may_have_tolerances_of_its_own():
    at = {d.name: d.tolerance for d in dimensions(SALTMERE)}
    assert at["half_turn", "end_mm"] == Fraction(6, 100)
    assert at[STOP_2] == Fraction(8, 100), "the usual one"


def test_every_dimension_that_can_be_adjusted_can_be_named():
    for machine in (SALTMERE, WIND, NESS):
        words = [dimension_words(machine, one) for one in dimensions(machine)]
        assert len(set(words)) == len(words), "no two are called alike"
        assert all(unit_of(d.key) == d.unit for d in dimensions(machine))


@pytest.mark.parametrize("kind", sorted(set(KINDS) - {*OFFSETS, "lets_go_mm"}))
def test_every_kind_of_dimension_has_words_of_its_own(kind):
    """In adjustment.dimension_words.  Offsets are settings, and only a stop of several lets go."""
    one = Dimension("lift_rack", kind, Fraction(1), unit_of(kind), Fraction(0), Fraction(0))
    assert "the setting of" not in dimension_words(SALTMERE, one)


# -- sensitivities ---------------------------------------------------------------------------------


@pytest.mark.parametrize("machine", [WIND, NESS, SALTMERE], ids=lambda machine: machine.name)
def test_exact_sensitivities_are_the_quotients_of_small_differences(machine):
    """By plain floats, one dimension and one code at a time, on either side."""
    step = 1e-6
    codes = printing(machine)[:: 1 + len(printing(machine)) // 5]
    for code in codes:
        exact = {(s.aim, s.dimension.name): s for s in sensitivities(machine, code)}
        right = travel_at(machine, code)
        for one in dimensions(machine):
            for side in (-1, 1):
                value = float(one.nominal) + side * step
                off = travel_at(machine, code, dimensions={one.name: value})
                for aim in aims(machine):
                    quotient = (off[aim.part] - right[aim.part]) / (side * step)
                    found = exact.get((aim.name, one.name))
                    slope = (found.above if side > 0 else found.below) if found else 0
                    if one.tolerance or one.adjusts:
                        assert float(slope) == pytest.approx(quotient, abs=1e-4), one.name


def test_the_summing_levers_of_ness_pass_on_every_error_and_the_or_lever_of_saltmere_none():
    for code in printing(SALTMERE):
        found = {s.dimension.name for s in sensitivities(SALTMERE, code) if s.aim == "lift"}
        strokes = {name for name, key in found if key == "stroke_mm"}
        assert strokes <= {"bar2"}, "bars 1 and 3 only draw stops, and may be off"
        assert STOP_2 in found or code not in _served_by_stop_2()
    all_set = NESS.code.parse("U")
    found = {s.dimension.name: s for s in sensitivities(NESS, all_set)}
    by_hand = {  # 18.6 times the weight of the bar in thirty-firsts, by the lever formula
        "bar1": 18.6 * 1 / 31,
        "bar2": 18.6 * 2 / 31,
        "bar3": 18.6 * 4 / 31,
        "bar4": 18.6 * 8 / 31,
        "bar5": -18.6 * 16 / 31,
    }
    for bar, weight in by_hand.items():
        assert float(found[bar, "stroke_mm"].above) == pytest.approx(weight)


def _served_by_stop_2() -> set[int]:
    glyphs = SALTMERE.output.lines[2] + SALTMERE.output.lines[3]
    return {SALTMERE.code.parse(f"{g}") for g in glyphs if g not in " ,="}


TWO_PUSHERS = """
[machine]
name = "pair"
title = "A pair of pushers"
[efforts_min]
type = 1.0
[tolerances]
stroke_mm = 0.1
[parts.bar1]
joint = "bit"
bit = 1
stroke_mm = 4.0
[parts.bar2]
joint = "bit"
bit = 2
stroke_mm = 4.0
[parts.fork]
joint = "either_pushes"
inputs = ["bar1", "bar2"]
[wheel]
lift = "fork"
rows_mm = [0.0, 4.0]
window_mm = 0.5
unreadable_mm = 1.0
type_height_mm = 2.0
glyphs = ["A", "B"]
[codes]
alphabet = ["A", "B", "C", "D"]
printing = [{ first = "A", last = "B" }]
folds = [{ first = "C", last = "C", onto = "B" }, { first = "D", last = "D", onto = "B" }]
"""


def test_where_two_pushers_are_level_there_are_two_derivatives():
    pair = description.parse(TWO_PUSHERS)
    both = pair.code.parse("D")
    found = {s.dimension.part: s for s in sensitivities(pair, both)}
    assert {name: (s.below, s.above) for name, s in found.items()} == {
        "bar1": (0, 1),
        "bar2": (0, 1),
    }
    assert not any(s.smooth for s in found.values())
    said = sensitivity_words(pair, found["bar1"])
    assert "+0.00 mm for each mm if it is smaller, +1.00 mm if it is larger" in said
    one = pair.code.parse("B")
    (alone,) = sensitivities(pair, one)
    assert (alone.dimension.part, alone.below, alone.above, alone.smooth) == ("bar1", 1, 1, True)


def test_a_stop_that_is_just_about_to_hold_makes_the_type_jump():
    text = (FOLDER / "wind.toml").read_text(encoding="utf-8")
    tight = description.parse(
        text.replace('lever = "right_stop" }', 'lever = "right_stop", lets_go_mm = 4.0 }')
    )
    code = tight.code.parse("W")  # both bits: every stop is drawn, the last one only just
    found = {s.dimension.name: s for s in sensitivities(tight, code)}
    assert found["bar1", "stroke_mm"].jumps == (-5, 0), "15 mm becomes 10 mm"
    said = sensitivity_words(tight, found["bar1", "stroke_mm"])
    assert "if it is any smaller, the type jumps by 5.00 mm" in said
    assert found["lift_rack", "end_mm"].smooth
    said = sensitivity_words(tight, found["lift_rack", "end_mm"])
    assert said == "The end of the way of the lift rack: lift +1.00 mm for each mm."


# -- worst case, root sum of squares, Monte Carlo --------------------------------------------------


def _of_level_bars(bars: int, parts: str, released: str) -> Machine:
    """A machine whose last code sets all its bars; it prints the last character if let go.

    Args:
        bars: How many code bars there are, all of 4 mm with 0.1 mm either way.
        parts: The tables of the parts behind them; the last is the fork, which lifts the type.
        released: The codes but the last that let the fork go.
    """
    letters = "ABCDEFGHIJKLMNOP"[: 1 << bars]
    last = letters[-1]
    folds = [
        {"first": one, "last": one, "onto": last if one in released else "A"}
        for one in letters[1:-1]
    ]
    folded = ", ".join("{ " + ", ".join(f'{k} = "{v}"' for k, v in f.items()) + " }" for f in folds)
    head, rest = TWO_PUSHERS.split("[parts.bar1]")
    wheel = "[wheel]" + rest.split("[wheel]")[1].split("[codes]")[0]
    numbered = range(1, bars + 1)
    return description.parse(
        head
        + "".join(f'[parts.bar{n}]\njoint = "bit"\nbit = {n}\nstroke_mm = 4.0\n' for n in numbered)
        + parts
        + wheel.replace('"B"', f'"{last}"')
        + f"""[codes]
alphabet = {list(letters)}
printing = [{{ first = "A", last = "A" }}, {{ first = "{last}", last = "{last}" }}]
folds = [{folded}]
"""
    )


def _part(name: str, joint: str, *inputs: str) -> str:
    return f'[parts.{name}]\njoint = "{joint}"\ninputs = {list(inputs)}\n'


LEVEL = (
    _of_level_bars(2, _part("fork", "either_pushes", "bar1", "bar2"), "BC"),
    _of_level_bars(2, _part("fork", "all_clear", "bar1", "bar2"), ""),
    _of_level_bars(
        4,
        _part("left", "all_clear", "bar1", "bar2")
        + _part("right", "all_clear", "bar3", "bar4")
        + _part("fork", "either_pushes", "left", "right"),
        "DHLMNO",
    ),
    description.parse(
        TWO_PUSHERS.replace(
            'joint = "either_pushes"\ninputs = ["bar1", "bar2"]',
            'joint = "spring_link"\ninput = "bar1"\nat_mm = 4.0\ntolerances = { at_mm = 0.1 }',
        ).replace('first = "C", last = "C", onto = "B"', 'first = "C", last = "C", onto = "A"')
    ),
)
"""Machines in which no one dimension makes the last code worse, and several together do."""


@pytest.mark.parametrize("machine", [WIND, NESS, *LEVEL], ids=lambda machine: machine.name)
def test_the_worst_case_is_the_worst_of_all_corners(machine):
    """Every dimension at either end, all combinations, by brute force."""
    codes = printing(machine)[-2:]
    found = {(s.code, s.aim): s for s in spreads(machine, codes)}
    dims = toleranced(machine)
    signs = np.array(list(product((-1.0, 1.0), repeat=len(dims)))).T
    corners = {
        d.name: float(d.nominal) + float(d.tolerance) * row
        for d, row in zip(dims, signs, strict=True)
    }
    for name, rows in errors(machine, codes, corners).items():
        for code, row in zip(codes, rows, strict=True):
            assert found[code, name].lowest == pytest.approx(row.min())
            assert found[code, name].highest == pytest.approx(row.max())


def test_no_machine_built_within_its_tolerances_is_worse_than_the_worst_case():
    found = {(s.code, s.aim): s for s in spreads(SALTMERE)}
    values = draw(SALTMERE, 2000, seed=5, spread="uniform")
    for name, rows in errors(SALTMERE, printing(SALTMERE), values).items():
        for code, row in zip(printing(SALTMERE), rows, strict=True):
            spread = found[code, name]
            assert spread.lowest - 1e-9 <= row.min() and row.max() <= spread.highest + 1e-9
            assert spread.statistical <= max(-spread.lowest, spread.highest) + 1e-9


def test_building_many_machines_at_once_is_building_them_one_by_one():
    n = 40
    values = draw(SALTMERE, n, seed=1, worn=4.0)
    built = build(SALTMERE, n, seed=1, worn=4.0)
    window = {aim.name: (aim.part, float(aim.window.whole)) for aim in aims(SALTMERE)}
    clean = dict.fromkeys(built.codes, 0)
    all_clean = 0
    right = {code: travel_at(SALTMERE, code) for code in built.codes}
    for number in range(n):
        one = {key: float(value[number]) for key, value in values.items()}
        whole = {}
        for code in built.codes:
            at = travel_at(SALTMERE, code, dimensions=one)
            whole[code] = all(
                abs(at[part] - right[code][part]) <= most for part, most in window.values()
            )
            clean[code] += whole[code]
        all_clean += all(whole.values())
    assert built.clean == pytest.approx([clean[code] / n for code in built.codes])
    assert built.all_clean == all_clean / n
    assert 0 < min(built.clean) < 1, "some do, some do not"


def test_the_same_lots_build_the_same_machines():
    assert build(NESS, 300, seed=3) == build(NESS, 300, seed=3) != build(NESS, 300, seed=4)


def test_accurate_travel_matters_on_ness_and_the_stops_decide_on_saltmere():
    """The very same error of 0.3 mm on every bar's stroke."""
    short = {(f"bar{bit}", "stroke_mm"): 3.7 for bit in (1, 3, 4, 5, 7)}
    off = errors(SALTMERE, printing(SALTMERE), short)
    assert all(abs(rows).max() == 0 for rows in off.values())
    short = {(f"bar{bit}", "stroke_mm"): 3.7 for bit in (1, 2, 3, 4, 5)}
    off = errors(NESS, printing(NESS), short)
    assert abs(off["shift"]).max() > 2.4, "more than a whole character"


def test_what_matters_adds_up_and_names_the_stops_first_where_they_decide():
    for machine in (SALTMERE, WIND, NESS):
        shares = what_matters(machine)
        for aim in aims(machine):
            assert sum(s.share for s in shares if s.aim == aim.name) == pytest.approx(1)
    assert what_matters(NESS)[0].dimension.name == ("bar5", "stroke_mm")
    assert {s.dimension.part for s in what_matters(WIND)} == {"lift_rack"}


def test_quick_slopes_are_the_exact_ones():
    codes = printing(SALTMERE)[::9]
    found = toleranced(SALTMERE)
    quick = slopes(SALTMERE, codes, found)
    for i, code in enumerate(codes):
        exact = {(s.aim, s.dimension.name): s for s in sensitivities(SALTMERE, code)}
        for name, both in quick.items():
            for j, one in enumerate(found):
                s = exact.get((name, one.name))
                want = (float(s.below), float(s.above)) if s else (0.0, 0.0)
                assert both[:, i, j] == pytest.approx(want, abs=1e-4)


# -- one stop, or everything worn ------------------------------------------------------------------


def test_to_tell_one_stop_from_wear_one_measures_what_shares_but_one_part_with_the_clipped_letter():
    """S stands on the second stop and the half step, Q on the stop alone, R on the step alone."""
    letters = {c: SALTMERE.code.parse(c) for c in "SQRP"}
    readings = telling_readings(SALTMERE, STOP_2, letters["S"], n=3000)
    right = {(r.aim, r.code): r for r in readings}
    stop, step, neither = (right["lift", letters[c]] for c in "QRP")
    assert readings[0].right == stop.right > 0.95 and stop.above == "one dimension"
    assert step.right > 0.9 and step.above == "everything worn"
    assert 0.5 <= neither.right < 0.9


def test_the_limit_of_a_reading_does_what_it_says_on_machines_it_has_not_seen():
    seen, n = SALTMERE.code.parse("S"), 6000
    first = telling_readings(SALTMERE, STOP_2, seen, n=n)[0]
    worn = draw(SALTMERE, n, seed=99, worn=4.0)
    one = draw(SALTMERE, n, seed=98)
    one[STOP_2] = 5.0 + np.random.default_rng(97).choice([-1, 1], n) * 0.8
    shares = []
    for values in (worn, one):
        off = errors(SALTMERE, (first.code, seen), values)
        clipped = abs(off["lift"][1]) > 0.4
        read = np.broadcast_to(abs(off[first.aim][0]), (n,))[clipped]
        shares.append(float((read > first.limit).mean()))
    gain = shares[0] - shares[1] if first.above == "everything worn" else shares[1] - shares[0]
    assert 0.5 + gain / 2 == pytest.approx(first.right, abs=0.04)


def test_a_suspect_that_has_no_say_is_refused():
    with pytest.raises(ValueError, match="does not move"):
        telling_readings(SALTMERE, STOP_2, SALTMERE.code.parse("R"))
