"""A log that nothing explains: the fewest entries that cannot stand together."""

from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import mechlogic
from mechlogic import Entry, Logbook, diagnose
from mechlogic.bench.contradiction import contradiction

WIND = mechlogic.load("wind")
LOGS = Path(__file__).parents[1] / "workbooks" / "logs"


def log(*pairs: tuple[int, str]) -> Logbook:
    return Logbook(tuple(Entry(sent, printed, gap="yes") for sent, printed in pairs), WIND.code)


def explained(entries: Logbook) -> bool:
    return bool(diagnose(WIND, entries).suspects)


def test_a_log_that_some_fault_explains_holds_no_contradiction():
    assert contradiction(diagnose(WIND, log((0, "N"), (1, "E")))) is None


def test_the_entries_that_contradict_each_other_are_named_and_no_others():
    # W for N asks for a rack that always runs to its end; then E cannot print as N.
    found = contradiction(diagnose(WIND, log((2, "S"), (0, "W"), (1, "N"), (3, "W"))))
    assert found is not None
    assert found.fewest
    assert not explained(log((0, "W"), (1, "N")))
    assert found.entries == (1, 2)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 3), st.sampled_from("NESW")), min_size=1, max_size=5))
def test_no_smaller_set_of_entries_is_contradictory(pairs: list[tuple[int, str]]):
    found = contradiction(diagnose(WIND, log(*pairs)))
    if found is None:
        assert explained(log(*pairs))
        return
    assert not explained(log(*(pairs[t] for t in found.entries)))
    smaller = combinations(range(len(pairs)), len(found.entries) - 1)
    assert all(explained(log(*(pairs[t] for t in some))) for some in smaller)


def test_an_empty_log_contradicts_nothing():
    assert contradiction(diagnose(WIND, Logbook((), WIND.code))) is None


@pytest.mark.parametrize("name", ["cold_morning", "wrong_way_round", "after_oiling"])
def test_the_sample_logs_hold_no_contradiction(name: str):
    saltmere = mechlogic.load("saltmere")
    entries = mechlogic.read_logbook(LOGS / f"{name}.csv")
    assert contradiction(diagnose(saltmere, entries)) is None
