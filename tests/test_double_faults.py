"""Two faults at once are found, misread entries and all, and stand first when the log is long.

The report tests/bench/double_faults.py holds the same of a thousand machines.
"""

import random

import pytest
from plain_runs import SALTMERE, plain
from repairs import (
    MACHINE,
    follow_advice,
    found_in_search,
    parts_that_explain,
    place_of_truth,
    two_faults,
)

from mechlogic import Entry
from mechlogic.bench.evidence import Evidence
from mechlogic.bench.search import minimal_sets

MACHINES = range(15)


@pytest.mark.parametrize("seed", MACHINES)
def test_the_true_faults_or_some_that_explain_as_well_are_in_the_list(seed):
    assert found_in_search(two_faults(random.Random(seed)))


@pytest.mark.parametrize("seed", MACHINES)
def test_with_the_advice_followed_the_truth_is_among_the_first_three(seed):
    desk = two_faults(random.Random(seed))
    place = place_of_truth(follow_advice(desk), desk)
    assert place is not None and place <= 3


def test_with_fewer_misreadings_allowed_than_were_made_the_truth_is_missed():
    """So the search cannot have found it by listing everything."""
    desk = next(
        desk
        for desk in (two_faults(random.Random(seed)) for seed in MACHINES)
        if SALTMERE.fewest_misreadings(plain(desk.faults), list(desk.log)) > 0
    )
    found = minimal_sets(Evidence(MACHINE, desk.log))
    assert not any(faults in found for faults in parts_that_explain(desk))


def test_a_log_that_one_of_the_two_explains_alone_asks_for_that_one():
    desk = two_faults(random.Random(3), entries=0)
    code = next(
        code
        for code in range(0x28, 0x60)
        if all(
            seen == MACHINE.good_print(code)
            for state in SALTMERE.states(plain(desk.faults))
            for _, seen in SALTMERE.step(plain(desk.faults), code, False, state)
        )
    )
    desk.log = desk.log.adding(Entry(code, MACHINE.good_print(code)))
    assert () in parts_that_explain(desk)
    assert found_in_search(desk)
