"""What it costs to judge a text and to find the smallest.  Run it by hand; nothing is asserted.

    python tests/bench/bench_testcards.py

How the library's exact chance for every fault compares with following the runs one by one in the
tests' brute force; and what the proof of a smallest card costs beside a greedy search for a good
one.  Ratios travel between computers; times do not.
"""

import sys
from functools import cache
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from figures import Figure, lines, seconds
from plain_runs import SALTMERE as PLAIN
from plain_runs import plain

from mechlogic.acceptance.coverage import _right_runs, chance_shown, showing
from mechlogic.acceptance.testcards import smallest_sequence, smallest_set, typeable
from mechlogic.bench.diagnosis import every_single
from mechlogic.helpers.covers import greedy_walk
from mechlogic.machines import load
from mechlogic.model.steps import steps

LINE = [ord(character) for character in "U*" * 8]


MACHINE = load("saltmere")
FAULTS = every_single(MACHINE)


def chances():
    for one in FAULTS:
        chance_shown(MACHINE, one, LINE)


def chances_from_nothing():
    for table in (_right_runs, steps):
        table.cache_clear()
    chances()


def plain_runs():
    PLAIN.step.cache_clear()
    for one in FAULTS:
        follow(plain(one), PLAIN)


def needs():
    """For each fault that can be shown for certain, the steps that show it."""
    for one in FAULTS[1:]:
        if showing(MACHINE, one).certain:
            pairs = set(showing(MACHINE, one).pairs())
            alone = showing(MACHINE, one).codes()
            yield pairs | {(before, now) for before in (None, *LETTERS) for now in alone}


LETTERS = typeable(MACHINE)


def figures():
    loop = seconds(plain_runs, 1)
    for what, way in (("its tables at hand", chances), ("from nothing", chances_from_nothing)):
        took = seconds(way)
        what = f"chances to show {len(FAULTS)} faults, {what}"
        yield Figure(what, took, "plain loop, these two codes only", loop / took)
    telling = list(needs())
    took, size = seconds(lambda: smallest_set(MACHINE)), len(smallest_set(MACHINE).text)
    yield Figure(f"smallest set, {size} characters, proved", took)
    took, size = seconds(lambda: smallest_sequence(MACHINE)), len(smallest_sequence(MACHINE).text)
    walk, greedy = greedy_walk(LETTERS, telling), seconds(lambda: greedy_walk(LETTERS, telling))
    other = f"greedy, {len(walk)} characters, no proof"
    yield Figure(f"smallest text, {size} characters, proved", took, other, greedy / took)


def main():
    print("\n".join(lines(figures())))


def follow(faults, runs):
    """The number of runs of each length that show nothing yet, state by state."""

    @cache
    def unseen(t, state):
        if t == len(LINE):
            return 1.0
        ((_, good),) = runs.step((), LINE[t], False, ())
        outcomes = runs.step(faults, LINE[t], False, state)
        return sum(unseen(t + 1, after) for after, seen in outcomes if seen == good) / len(outcomes)

    return sum(unseen(0, state) for state in runs.states(faults))


if __name__ == "__main__":
    main()
