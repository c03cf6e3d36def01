"""Every smallest set of faults that explains a log: none missed, none too many."""

from itertools import combinations

from brute_force import read
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_runs import Runs, plain

import mechlogic
from mechlogic import Entry, Logbook
from mechlogic.evidence import Evidence
from mechlogic.faults import FaultError, hypothesis, single_faults
from mechlogic.machines import FOLDER
from mechlogic.search import minimal_sets

WIND = mechlogic.load("wind")
PLAIN = Runs(read(FOLDER / "wind.toml"))


def possible(faults) -> bool:
    try:
        return hypothesis(WIND.mechanism, faults) is not None
    except FaultError:
        return False


SETS = [
    tuple(sorted(faults))
    for size in range(3)
    for faults in combinations(single_faults(WIND.mechanism), size)
    if possible(faults)
]


def minimal_by_trying_all(entries: list[Entry]) -> set[tuple]:
    found: list[tuple] = []
    for faults in SETS:  # smaller sets come first
        held = any(set(one) <= set(faults) for one in found)
        if not held and PLAIN.explains(plain(faults), entries):
            found.append(faults)
    return set(found)


entries_of_the_wind_stamp = st.lists(
    st.builds(
        Entry,
        st.integers(0, 3),
        st.sampled_from("NESW"),
        st.sampled_from(["speed", "speed", "hand"]),
        gap=st.sampled_from([False, False, True]),
    ),
    min_size=1,
    max_size=5,
)


@settings(max_examples=25, deadline=None)
@given(entries_of_the_wind_stamp)
def test_the_minimal_sets_are_those_found_by_trying_every_set(entries: list[Entry]):
    found = minimal_sets(Evidence(WIND, Logbook(tuple(entries), WIND.code)), most=2)
    assert set(found.minimal) == minimal_by_trying_all(entries)


def test_after_a_good_log_the_empty_set_is_the_only_minimal_one():
    good = tuple(Entry(code, WIND.good_print(code)) for code in (0, 1, 2, 3, 0, 3))
    assert minimal_sets(Evidence(WIND, Logbook(good, WIND.code))).minimal == ((),)
