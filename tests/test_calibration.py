"""A stated probability is kept: of the suspects given 30 %, about 30 % are the true one.

What chance allows: in each bin with at least 20 suspects, the number of true ones lies within the
99.9 % interval of a binomial law around the mean stated probability.  That is on the safe side.
Suspects of one repair exclude each other and differ in probability, and both make the number of
true ones vary less than a binomial law does.
"""

import random

import pytest
from repairs import binned, claims_of_repair
from scipy.stats import binom

from mechlogic.bench.diagnosis import prior

REPAIRS, SEED, WELL_FILLED = 300, 1911, 20


@pytest.fixture(scope="module")
def repairs():
    rng = random.Random(SEED)
    return [claims_of_repair(rng, prior) for _ in range(REPAIRS)]


def out_of_bounds(repairs):
    bins = binned(claim for claims in repairs for claim in claims)
    found = []
    for b in (b for b in bins if b.n >= WELL_FILLED):
        low, high = binom.interval(0.999, b.n, b.stated)
        if not low <= b.true <= high:
            found.append(b)
    return found


def bolder(claims, power):
    """The same suspects, each probability raised to a power: too sure, or not sure enough."""
    total = sum(stated**power for stated, _ in claims)
    return [(stated**power / total, true) for stated, true in claims]


def test_the_suspects_of_a_repair_share_one_whole_and_one_of_them_is_true(repairs):
    for claims in repairs:
        assert sum(stated for stated, _ in claims) == pytest.approx(1)
        assert sum(true for _, true in claims) == 1


def test_stated_probabilities_are_kept_within_what_chance_allows(repairs):
    assert out_of_bounds(repairs) == []


@pytest.mark.parametrize("power", (0.5, 2.0))
def test_a_diagnosis_too_sure_or_not_sure_enough_would_be_found_out(repairs, power):
    assert out_of_bounds([bolder(claims, power) for claims in repairs]) != []
