"""Smallest sets and shortest walks, against every set and every walk there is."""

import sys
from itertools import combinations, pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mechlogic.helpers import covers
from mechlogic.helpers.covers import (
    all_pairs_walk,
    greedy_walk,
    shortest_walk,
    smallest_cover,
    steps_of,
)

few = settings(max_examples=40)
LETTERS = "abc"
tables = st.dictionaries(st.integers(0, 9), st.frozensets(st.sampled_from("abcdefg")), max_size=6)
steps = st.tuples(st.sampled_from([None, *LETTERS]), st.sampled_from(LETTERS))
later = st.tuples(st.sampled_from(LETTERS), st.sampled_from(LETTERS))


def meets_all(chosen, table):
    return all(set(meets) & set(chosen) for meets in table.values() if meets)


@few
@given(tables)
def test_no_set_of_fewer_meets_every_need(table):
    found = smallest_cover(table)
    choices = sorted(set().union(*table.values()))
    size = next(
        n
        for n in range(len(choices) + 1)
        if any(meets_all(some, table) for some in combinations(choices, n))
    )
    assert len(found) == found.bound == size and found.proved
    assert meets_all(found.chosen, table)
    assert set(found.unmet) == {need for need, meets in table.items() if not meets}


@few
@given(tables, st.dictionaries(st.sampled_from("abcdefg"), st.integers(1, 9)))
def test_of_equally_small_sets_a_cheapest_is_taken(table, prices):
    def price(chosen):
        return sum(prices.get(one, 1) for one in chosen)

    found = smallest_cover(table, lambda choice: prices.get(choice, 1))
    choices = sorted(set().union(*table.values()))
    rivals = [some for some in combinations(choices, len(found)) if meets_all(some, table)]
    assert price(found.chosen) == min(map(price, rivals))


@few
@given(st.dictionaries(st.integers(0, 9), st.frozensets(steps, max_size=4), max_size=3))
def test_no_shorter_walk_meets_every_need(table):
    """A letter that can only be the first may stand for one need at the most, so here for none."""
    table = {need: {s for s in meets if s[0] is not None} for need, meets in table.items()}
    found = shortest_walk(LETTERS, table)
    length = next(
        n
        for n in range(8)
        if any(meets_all(steps_of(walk), table) for walk in product(LETTERS, repeat=n))
    )
    assert len(found) == found.bound == length and found.proved
    assert meets_all(steps_of(found.chosen), table)


def test_a_first_letter_that_a_need_asks_for_comes_first():
    table = {"at once": {(None, "b")}, "later": {("b", "a"), ("c", "b")}}
    assert shortest_walk(LETTERS, table).chosen == ("b", "a")


def test_of_equally_short_walks_a_cheapest_is_taken():
    table = {"any": {("a", "b"), ("b", "c"), ("c", "a")}}
    prices = {"a": 1, "b": 5, "c": 2}
    assert shortest_walk(LETTERS, table, prices.__getitem__).chosen == ("c", "a")


def test_steps_with_letters_that_may_not_be_sent_meet_nothing():
    found = shortest_walk("ab", {"may": {("a", "b")}, "may not": {("a", "c"), ("c", "a")}})
    assert found.chosen == ("a", "b") and found.unmet == ("may not",)
    assert shortest_walk("ab", {"may not": {("c", "a")}}).chosen == ()


@few
@given(st.lists(st.frozensets(later, min_size=1, max_size=3), min_size=1, max_size=6))
def test_the_greedy_walk_meets_every_need(needs):
    walk = greedy_walk(LETTERS, needs)
    assert all(need & set(steps_of(walk)) for need in needs)


def test_a_greedy_walk_goes_where_it_can_meet_more():
    """Nothing can be met at once, and only after ``c`` is there anything to meet."""
    assert greedy_walk("abc", [{("c", "a")}]) == ("c", "a")


def test_two_first_letters_cannot_both_be_first():
    with pytest.raises(ValueError, match="something else was first"):
        greedy_walk("ab", [{(None, "a")}, {(None, "b")}])


@pytest.mark.parametrize("letters", ["", "a", "ab", "abcde"])
def test_every_letter_follows_every_letter_once(letters):
    walk = all_pairs_walk(letters)
    taken = list(pairwise(walk))
    assert sorted(taken) == sorted(product(letters, repeat=2))


def test_where_there_is_no_time_a_walk_is_given_that_is_not_proved():
    table = {i: {step} for i, step in enumerate(product(LETTERS, repeat=2))}
    found = shortest_walk(LETTERS, table, seconds=0)
    assert meets_all(steps_of(found.chosen), table)
    assert found.bound <= 10 <= len(found)
    assert found.gap == 1 - found.bound / len(found)


def test_a_programme_that_would_be_too_large_is_not_begun(monkeypatch):
    """The nine steps need ten letters; the bound from the steps alone is nine."""
    table = {i: {step} for i, step in enumerate(product(LETTERS, repeat=2))}
    monkeypatch.setattr(covers, "MOST_COLUMNS", 5)
    found = shortest_walk(LETTERS, table)
    assert found.bound == 9 and not found.proved
    assert meets_all(steps_of(found.chosen), table)


def test_an_answer_that_does_not_meet_every_need_is_not_believed(monkeypatch):
    def rough(*_):
        return covers._Answer((0, 0), 2, 0.0, "rough", False)

    monkeypatch.setattr(covers, "_walk_of", rough)
    with pytest.raises(ArithmeticError, match="does not meet every need"):
        shortest_walk(LETTERS, {0: {("a", "b")}, 1: {("c", "a")}})


@few
@given(tables)
def test_without_scipy_nothing_can_be_left_out_and_the_bound_holds(table):
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(sys.modules, "scipy.optimize", None)
        found = smallest_cover(table)
    needs = [set(meets) for meets in table.values() if meets]

    def covers(chosen):
        return all(need & set(chosen) for need in needs)

    smallest = smallest_cover(table)
    assert covers(found.chosen) and found.bound <= len(smallest) <= len(found)
    assert not any(
        covers(set(found.chosen) - {*pair} | extra)
        for n in (1, 2)
        for pair in combinations(found.chosen, n)
        for extra in ([set()] if n == 1 else [set(), *({c} for need in needs for c in need)])
    )
