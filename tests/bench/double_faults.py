"""Whether two faults at once are found, and what the advice makes of them.  A report, not a test.

    python tests/bench/double_faults.py [machines, 1000 if left out]

Every machine has two single faults, any two that it can have at once.  The tests' own simulator
prints; 2 % of the entries are misread.  The search is told how many of them were misread, unless
another bound is named.  The advice, which is slower, is followed on a fifth or a tenth of them.
"""

import random
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from statistics import mean
from time import process_time

sys.path.insert(0, str(Path(__file__).parents[1]))

from repairs import Desk, follow_advice, found_in_search, place_of_truth, two_faults, wilson


def in_the_list(machines: int) -> None:
    print(f"-- the true faults, or some that explain as well, in the list: {machines} logs of 64")
    start, misread, failures = process_time(), Counter[int](), []
    for seed in range(machines):
        desk = two_faults(random.Random(seed))
        misread[len(desk.misread)] += 1
        if not found_in_search(desk):
            failures.append(seed)
    print("entries misread:", ", ".join(f"{n} in {misread[n]}" for n in sorted(misread)))
    print(f"failures: {len(failures)} {failures or ''}; {process_time() - start:.0f} s\n")


def after_advice(machines: int, entries: int, misreadings: int | None = None) -> None:
    bound = "as many misreadings as were made" if misreadings is None else f"{misreadings} misread"
    print(f"-- the advice followed, {machines} logs of {entries} at first, bound: {bound}")
    start, places, typed = process_time(), [], []

    def followed(desk: Desk) -> int | None:
        return place_of_truth(follow_advice(desk, misreadings), desk)

    for seed in range(machines):
        desk = two_faults(random.Random(seed), entries)
        places.append(followed(desk))
        typed.append(len(desk.log) - entries)

    def share(among: Callable[[int | None], bool]) -> str:
        n = sum(map(among, places))
        low, high = wilson(n, machines)
        return f"{100 * n / machines:.1f} % ({100 * low:.1f} to {100 * high:.1f} %)"

    print(f"first: {share(lambda place: place == 1)}")
    print(f"among the first three: {share(lambda place: place is not None and place <= 3)}")
    print(f"characters typed as advised: mean {mean(typed):.1f}, most {max(typed)}")
    missed = [seed for seed, place in enumerate(places) if place is None or place > 3]
    print(f"missed: {missed or 'none'}; {process_time() - start:.0f} s\n")


def main() -> None:
    machines = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    in_the_list(machines)
    after_advice(max(1, machines // 5), 64)
    for misreadings in (None, 1, 0):
        after_advice(max(1, machines // 10), 12, misreadings)


if __name__ == "__main__":
    main()
