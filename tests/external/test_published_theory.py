"""Theory from books: levers and racks, Bayes' rule, Shannon's information.

Each number is worked out here from the formula in the book, or by counting every case.
"""

import math
import random
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plain_runs import SALTMERE, plain

import mechlogic
from mechlogic import Entry, Fault, Logbook
from mechlogic.bench.advice import next_check
from mechlogic.bench.diagnosis import diagnose, every_single
from mechlogic.model import laws
from mechlogic.model.laws import PLAIN

MACHINE = mechlogic.load("saltmere")

lengths = st.fractions(Fraction(1, 10), 100, max_denominator=10)
travels = st.fractions(0, 20, max_denominator=10)


# -- levers and racks: any machine-design handbook, e.g. Shigley -----------------------------------


@given(lengths, lengths, travels)
def test_a_lever_moves_its_far_end_in_the_ratio_of_its_arms(effort_arm, load_arm, travel):
    """Similar triangles: the arms sweep one angle, and each end moves angle times arm."""
    moved = laws.Follow("effort", load_arm / effort_arm).travel([travel], [travel], PLAIN)
    angle = travel / effort_arm
    assert moved == angle * load_arm


@given(lengths, lengths, travels, travels)
def test_the_pin_of_a_summing_lever_lies_on_the_line_between_its_ends(a, b, x, y):
    """Two points fix a line: the pin at distance a from the first end and b from the second."""
    full = [Fraction(20)] * 2
    moved = laws.SummingLever("x", "y", a, b).travel([x, y], full, PLAIN)
    slope = (y - x) / (a + b)
    assert moved == x + slope * a


@given(travels, travels)
def test_a_differential_gives_half_the_sum(x, y):
    """(a + b)/2: Bureau of Ordnance OP 1140 (1944), adding mechanisms."""
    assert laws.SummingLever("x", "y").travel([x, y], [Fraction(20)] * 2, PLAIN) == (x + y) / 2


@given(st.floats(1, 50), st.floats(0, 20))
def test_a_rack_turns_its_pinion_by_its_travel_over_the_pitch_radius(radius, travel):
    """s = r·θ, with θ in radians, and 180/π degrees to the radian."""
    ratio = math.degrees(1 / radius)
    racks = laws.OpposedRacks("forward", "backward", ratio)
    turned = racks.travel([travel, 0.0], [20.0, 20.0], PLAIN)
    assert radius * math.radians(turned) == pytest.approx(travel)
    assert racks.travel([0.0, travel], [20.0, 20.0], PLAIN) == pytest.approx(-turned)


def test_saltmeres_pinion_turns_one_column_for_each_step_of_its_stops():
    """The pitch radius that 11.25 degrees a mm stands for, and back again by s = r·θ."""
    racks = MACHINE.mechanism["turn"].joint
    radius = 1 / math.radians(float(racks.ratio))
    column = 360 / 8  # seven columns of type and one open side
    assert radius * math.radians(column) == pytest.approx(4.0)  # mm between neighbouring stops
    stops = sorted(stop.at for stop in MACHINE.mechanism["turn_rack"].joint.stops)
    assert {b - a for a, b in pairwise(stops)} == {4}
    half_turn = MACHINE.mechanism["half_turn"].joint.end
    assert radius * math.radians(180) == pytest.approx(float(half_turn))


# -- Bayes ---------------------------------------------------------------------------------------

# Prior weights as the library documents them: common practice, no source.
PRIOR = {
    "stuck at rest": 2.0,
    "stuck operated": 2.0,
    "slow to return": 8.0,
    "slow to operate": 6.0,
    "half-way": 3.0,
    "disconnected": 1.0,
}
PRIOR_OF_HEALTHY = 50.0


def short_logs():
    """Three characters of a machine with some fault, and once a misreading, a gap, a smudge."""
    rng = random.Random(11)
    for true in ((), *rng.sample(every_single(MACHINE)[1:], 3)):
        yield SALTMERE.type(plain(true), rng.choices(range(32, 96), k=3), rng)
    yield [Entry(ord("A"), "A"), Entry(ord("B"), "Q"), Entry(ord("C"), "C")]
    yield [Entry(ord("A"), "A"), Entry(ord("B"), "A", gap="yes"), Entry(ord("@"), "unreadable")]
    yield [Entry(ord("G"), "C", clipped="left"), Entry(ord("G"), "G", driven="hand")]


@pytest.mark.parametrize("log", list(short_logs()))
def test_the_ranking_is_bayes_rule_over_all_runs_of_all_faults(log):
    """Posterior = prior × likelihood / evidence; every run of every machine is counted."""
    weight = {}
    for faults in every_single(MACHINE):
        prior = PRIOR[faults[0].mode] if faults else PRIOR_OF_HEALTHY
        weight[faults] = prior * SALTMERE.likelihood(plain(faults), log)
    total = sum(weight.values())
    ranked = diagnose(MACHINE, Logbook(tuple(log)), every_single(MACHINE)).ranked
    for suspect in ranked:
        posterior = sum(weight[faults] for faults in suspect.members) / total
        assert suspect.probability == pytest.approx(posterior, rel=1e-9, abs=1e-9)
        shares = [weight[faults] for faults in suspect.members]
        assert shares == pytest.approx(sorted(shares, reverse=True))
    assert sum(weight[f] for s in ranked for f in s.members) == pytest.approx(total)


# -- Shannon -------------------------------------------------------------------------------------


def entropy(chances):
    """C. E. Shannon, A mathematical theory of communication (1948): −Σ p log₂ p."""
    p = np.array([chance for chance in chances if chance > 0])
    return float(-np.sum(p * np.log2(p)))


def test_entropy_of_a_fair_coin_and_of_a_certainty():
    # From memory, as any textbook has them.
    assert entropy([0.5, 0.5]) == 1
    assert entropy([1]) == 0
    assert entropy([0.25] * 4) == 2
    assert entropy([0.89, 0.11]) == pytest.approx(0.49992, abs=1e-5)


@pytest.mark.parametrize("n", [2, 3, 4])
def test_a_check_that_tells_n_equal_suspects_apart_is_worth_log_n(n):
    """Bars 1 to 4, each stuck at rest: for a code with all four set each prints its own way."""
    suspects = [(Fault(f"bar{bar}", "stuck at rest"),) for bar in range(1, n + 1)]
    check = next_check(diagnose(MACHINE, Logbook(), suspects))
    assert len(check.codes) == 1
    assert len(check.splits) == n
    assert check.gain == pytest.approx(math.log2(n)) == pytest.approx(entropy([1 / n] * n))


def test_where_every_suspect_is_certain_of_its_print_the_gain_is_the_entropy_of_the_prints():
    """I(S; X) = H(X) − H(X | S), and the last term is nought without chance or memory."""
    certain = [
        faults
        for faults in every_single(MACHINE)
        if not faults or faults[0].mode.startswith(("stuck", "disconnected"))
    ]
    check = next_check(diagnose(MACHINE, Logbook((Entry(ord("C"), "B"),)), certain))
    assert len(check.splits) > 2
    assert check.gain == pytest.approx(entropy([split.probability for split in check.splits]))


def test_what_is_left_to_chance_is_no_information():
    """A part half-way prints either way, evenly; that uncertainty no print can take away."""
    half_way = (Fault("left_stop", "half-way"),)
    stuck = (Fault("left_stop", "stuck at rest"),)
    check = next_check(diagnose(MACHINE, Logbook(), [half_way, stuck]))
    p = PRIOR["half-way"] / (PRIOR["half-way"] + PRIOR["stuck at rest"])
    as_stuck = (1 - p) + p / 2
    expected = entropy([as_stuck, 1 - as_stuck]) - p * entropy([0.5, 0.5])
    assert len(check.codes) == 1
    assert check.gain == pytest.approx(expected)
