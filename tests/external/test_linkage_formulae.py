"""Levers, racks and tolerances against handbook formulae, SciPy's solvers and plain statistics.

The formulae are those of machine-design handbooks (Shigley and its like), from memory: the law of
the lever, the bell crank, the differential, rack and pinion, worst-case and statistical stack-up.
"""

import math
from fractions import Fraction

import numpy as np
import pytest
from scipy.optimize import fsolve

import mechlogic
from mechlogic.describing import description
from mechlogic.explaining import formulas
from mechlogic.fit.hammer import errors, printing
from mechlogic.fit.linkage import travel_at
from mechlogic.fit.tolerance import build, draw, sensitivities, spreads, toleranced
from mechlogic.model import laws
from mechlogic.model.dimensions import dimensions
from mechlogic.model.laws import PLAIN

NESS, SALTMERE = mechlogic.load("ness"), mechlogic.load("saltmere")


def test_a_lever_moves_its_ends_in_the_ratio_of_its_arms():
    """From memory: for small angles, load travel / effort travel = load arm / effort arm."""
    load_arm, effort_arm = Fraction(25), Fraction(20)
    lever = laws.Follow("effort", load_arm / effort_arm)
    angle = 1e-4  # radians
    travel = lever.travel([float(effort_arm) * math.sin(angle)], [1.0], PLAIN)
    assert travel == pytest.approx(float(load_arm) * math.sin(angle))


def test_a_bell_crank_turns_the_motion_and_keeps_the_ratio_of_its_arms():
    """From memory.  Two arms at a right angle on one pivot are turned by a small angle."""
    first, second, angle = 24.0, 18.0, 1e-4
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    in_, out = np.array([first, 0.0]), np.array([0.0, second])
    moved_in, moved_out = turn @ in_ - in_, turn @ out - out
    crank = laws.Follow("in", Fraction(18, 24))
    assert crank.travel([abs(moved_in[1])], [1.0], PLAIN) == pytest.approx(abs(moved_out[0]))


def test_a_differential_gives_half_the_sum():
    """(a + b) / 2: from memory, and in Bureau of Ordnance OP 1140 among the adding mechanisms."""
    lever = laws.SummingLever("a", "b")
    for a, b in ((3.0, 1.0), (0.0, 4.0), (2.5, 2.5)):
        assert lever.travel([a, b], [4.0, 4.0], PLAIN) == (a + b) / 2


def test_a_pinion_turns_by_the_way_of_its_rack_over_its_radius():
    """s = r·θ, θ in radians: from memory.  11.25 degrees per mm is a radius of 5.09 mm."""
    radius_mm = 180 / (math.pi * 11.25)
    code = SALTMERE.code.parse("E")
    at = travel_at(SALTMERE, code, moved={"cam_rack": 3.7, "half_turn": 0.0})
    assert radius_mm * math.radians(at["turn"]) == pytest.approx(3.7)


# -- a real lever, solved --------------------------------------------------------------------------


def whiffletree(x: float, y: float, first_arm: float, second_arm: float) -> float:
    """Rise of the middle pin of a rigid bar whose end pins are raised by x and y, in mm.

    The bar keeps its length, the first pin slides in an upright guide, the second in a level slot
    of its link: three equations in three unknowns, solved by SciPy.
    """
    length = first_arm + second_arm

    def closed(unknown):
        angle, far_x, out = unknown
        return [
            length * math.sin(angle) - (y - x),
            length * math.cos(angle) - far_x,
            x + first_arm * math.sin(angle) - out,
        ]

    _, _, out = fsolve(closed, [0.0, length, (x + y) / 2], xtol=1e-13)
    return float(out)


@pytest.mark.parametrize("name", ["near_lever", "far_lever", "cross_lever", "main_lever"])
def test_the_summing_lever_of_parallel_guides_is_exact(name: str):
    joint = NESS.mechanism[name].joint
    a, b = float(joint.first_arm), float(joint.second_arm)
    for x, y in ((0.0, 4.0), (4.0, 0.0), (1.3, 3.1), (4.0, 4.0)):
        assert joint.travel([x, y], [4.0, 4.0], PLAIN) == pytest.approx(whiffletree(x, y, a, b))


def swinging(x: float, first_arm: float, second_arm: float) -> float:
    """Rise of the free end of a lever on a fixed pivot whose effort end is pushed up by x, in mm.

    Here the effort pin goes round on its arc; its rise is x.  The law says x · b / a.
    """
    (angle,) = fsolve(lambda t: first_arm * math.sin(t[0]) - x, [0.0], xtol=1e-13)
    return second_arm * math.sin(angle)


def rolling(x: float, first_arm: float, second_arm: float) -> float:
    """The same lever, but the way of its far end is measured along the arc."""
    (angle,) = fsolve(lambda t: first_arm * math.sin(t[0]) - x, [0.0], xtol=1e-13)
    return second_arm * angle


def test_how_far_the_lever_formula_holds_on_a_turning_lever():
    """Chord for chord it is exact; chord against arc it is out by a sixth of the angle squared.

    A lever of 20 mm arm moved by 4 mm turns 11.5 degrees: the small-angle limit is 0.7 per cent.
    """
    lever = laws.Follow("effort", Fraction(5, 4))
    assert lever.travel([4.0], [4.0], PLAIN) == pytest.approx(swinging(4.0, 20.0, 25.0))
    for x in (0.5, 1.0, 2.0, 4.0):
        angle = math.asin(x / 20.0)
        short = 1 - lever.travel([x], [4.0], PLAIN) / rolling(x, 20.0, 25.0)
        assert short == pytest.approx(angle**2 / 6, rel=0.03)
    assert short < 0.007


# -- stack-up --------------------------------------------------------------------------------------

STACK = """
[machine]
name = "stack"
title = "Three links end to end"
[efforts_min]
type = 1.0
[parts.bar1]
joint = "bit"
bit = 1
stroke_mm = 8.0
tolerances = { stroke_mm = 0.3, offset_mm = 0.2 }
[parts.link]
joint = "follow"
input = "bar1"
tolerances = { offset_mm = 0.4 }
[wheel]
lift = "link"
rows_mm = [0.0, 8.0]
window_mm = 0.5
unreadable_mm = 1.0
type_height_mm = 2.0
glyphs = ["A", "B"]
[codes]
alphabet = ["A", "B"]
printing = [{ first = "A", last = "B" }]
"""


def test_a_chain_of_lengths_stacks_up_as_the_handbooks_say():
    """Worst case: the sum.  Statistical: the root of the sum of squares.  From memory."""
    stack = description.parse(STACK)
    found = {s.code: s for s in spreads(stack)}
    assert found[1].highest == pytest.approx(0.3 + 0.2 + 0.4)
    assert found[1].lowest == pytest.approx(-(0.3 + 0.2 + 0.4))
    assert found[1].statistical == pytest.approx(math.sqrt(0.3**2 + 0.2**2 + 0.4**2))
    assert found[0].highest == pytest.approx(0.2 + 0.4), "at rest the stroke has no say"


@pytest.mark.parametrize(
    "machine", [NESS, SALTMERE, description.parse(STACK)], ids=lambda m: m.name
)
def test_monte_carlo_has_the_spread_of_the_root_sum_of_squares_within_its_error_bar(machine):
    """The standard error of a standard deviation from n draws is sigma / sqrt(2 n), from memory.

    The laws are straight lines up to products of two small errors, far below that bar.
    """
    n = 40_000
    built = build(machine, n, seed=11)
    for spread in spreads(machine):
        sigma = built.sigma[spread.aim][built.codes.index(spread.code)]
        bar = sigma / math.sqrt(2 * n)
        assert abs(sigma - spread.statistical / 3) < 5 * bar + 1e-4 * sigma + 1e-12


def test_uniform_tolerances_have_the_spread_of_a_box():
    """A box of half-width t has standard deviation t / sqrt(3): any text on statistics."""
    n = 40_000
    found = draw(NESS, n, seed=2, spread="uniform")
    for one in toleranced(NESS):
        sigma = float(found[one.name].std())
        assert sigma == pytest.approx(float(one.tolerance) / math.sqrt(3), rel=0.02)
        assert abs(found[one.name] - float(one.nominal)).max() <= float(one.tolerance)


# -- derivatives -----------------------------------------------------------------------------------


def test_sensitivities_are_those_of_the_published_formula_of_ness():
    """SymPy differentiates the closed formula of the bars; the library goes part by part."""
    formula = formulas.travel_from_bars(NESS.mechanism, "slide")
    code = NESS.code.parse("U")
    exact = {s.dimension.name: s for s in sensitivities(NESS, code)}
    for bar in NESS.mechanism.bars:
        slope = formula.diff(formulas.displacement(NESS.mechanism, bar))
        assert exact[bar, "stroke_mm"].above == slope == exact[bar, "stroke_mm"].below


def test_errors_of_many_machines_are_the_linear_ones_for_small_tolerances():
    codes = printing(NESS)
    small = {
        d.name: float(d.nominal) + 1e-3 * float(d.tolerance) * np.array([1.0, -1.0])
        for d in toleranced(NESS)
    }
    rows = errors(NESS, codes, small)["shift"]
    for code, row in zip(codes[::6], rows[::6], strict=True):
        linear = sum(
            float(s.above) * 1e-3 * float(s.dimension.tolerance) for s in sensitivities(NESS, code)
        )
        assert row == pytest.approx([linear, -linear], rel=2e-3, abs=1e-7)
    assert len(dimensions(NESS)) == 16
