"""What it costs to judge a text and to find the smallest.  Run it by hand; nothing is asserted.

    python tests/bench/bench_testcards.py

How the library's exact chance for every fault compares with following the runs one by one in the
tests' brute force; and what the proof of a smallest card costs beside a greedy search for a good
one.  Ratios travel between computers; times do not.
"""

import sys
from functools import cache
from pathlib import Path
from time import perf_counter

sys.path.insert(0, str(Path(__file__).parents[1]))

from plain_runs import SALTMERE as PLAIN
from plain_runs import plain

from mechlogic.acceptance.coverage import chance_shown, showing
from mechlogic.acceptance.testcards import smallest_sequence, smallest_set, typeable
from mechlogic.bench.diagnosis import every_single
from mechlogic.general.covers import greedy_walk
from mechlogic.machines import load

LINE = [ord(character) for character in "U*" * 8]


def seconds(run):
    start = perf_counter()
    run()
    return perf_counter() - start


def main():
    machine = load("saltmere")
    faults = every_single(machine)

    def chances():
        for one in faults:
            chance_shown(machine, one, LINE)

    def plain_runs():
        for one in faults:
            follow(plain(one), PLAIN)

    first, again, by_runs = seconds(chances), seconds(chances), seconds(plain_runs)
    print(f"{'chance that a line of 16 shows each of ' + str(len(faults)):58}{'ratio':>8}")
    print(f"{'library, its tables at hand':58}{1:8.0f}")
    print(f"{'library, from nothing':58}{first / again:8.0f}")
    print(f"{'plain simulator':58}{by_runs / again:8.0f}")

    letters = typeable(machine)
    needs = []
    for one in faults[1:]:
        if showing(machine, one).certain:
            pairs = set(showing(machine, one).pairs())
            alone = showing(machine, one).codes()
            needs.append(pairs | {(before, now) for before in (None, *letters) for now in alone})
    sizes = []
    greedy = seconds(lambda: sizes.append(len(greedy_walk(letters, needs))))
    print(f"\n{'text that shows all that can be certain':50}{'size':>8}{'ratio':>8}")
    print(f"{'greedy, nothing proved':50}{sizes[0]:8}{1:8.0f}")
    for name, make in (("smallest set", smallest_set), ("smallest text", smallest_sequence)):
        took = seconds(lambda make=make: sizes.append(len(make(machine).text)))
        print(f"{name + ', proved':50}{sizes[-1]:8}{took / greedy:8.0f}")


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
