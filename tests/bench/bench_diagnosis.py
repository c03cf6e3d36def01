"""How long a diagnosis takes, and how many characters the advice saves.  A report, not a test.

    python tests/bench/bench_diagnosis.py [faults to try, all if left out]

Every fault is simulated by the brute force.  Characters are typed as advised, or in the order of
their codes, until the suspect list shows the true class first with at least 95 % of the chance.
Times are of this process alone, the median of several runs, once everything is warm.
"""

import random
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from statistics import mean, median
from time import process_time

sys.path.insert(0, str(Path(__file__).parents[1]))

from plain_runs import PRINTING, SALTMERE, plain

import mechlogic
from mechlogic import Entry, Logbook
from mechlogic.bench.advice import next_check
from mechlogic.bench.diagnosis import Diagnosis, classes, diagnose, every_single
from mechlogic.model.faults import Hypothesis

MACHINE = mechlogic.load("saltmere")
MOST = 2 * len(PRINTING)
SURE = 0.95


def milliseconds(action: Callable[[], object], repeats: int = 7) -> float:
    """Median time of an action."""
    action()
    times = []
    for _ in range(repeats):
        start = process_time()
        action()
        times.append(1000 * (process_time() - start))
    return median(times)


def isolated(diagnosis: Diagnosis, true: Hypothesis) -> bool:
    first = diagnosis.ranked[0]
    return first.probability >= SURE and true in first.members


def advised(diagnosis: Diagnosis) -> Iterator[int]:
    check = next_check(diagnosis)
    yield from check.codes if check else ()


def in_code_order(diagnosis: Diagnosis) -> Iterator[int]:
    yield PRINTING[len(diagnosis.evidence.log) % len(PRINTING)]


def characters_needed(
    true: Hypothesis, choose: Callable[[Diagnosis], Iterator[int]], rng: random.Random
) -> int | None:
    """Characters until the true class is isolated; None if that does not come about."""
    state, log = rng.choice(SALTMERE.states(plain(true))), Logbook()
    while not isolated(diagnosis := diagnose(MACHINE, log), true):
        codes = tuple(choose(diagnosis))
        if not codes or len(log) >= MOST:
            return None
        for code in codes:
            state, printed = rng.choice(SALTMERE.step(plain(true), code, False, state))
            log = log.adding(Entry(code, printed))
    return len(log)


def main() -> None:
    faults = [faults for faults in every_single(MACHINE) if faults]
    if len(sys.argv) > 1:
        faults = random.Random(0).sample(faults, int(sys.argv[1]))
    n_worlds = sum(mechlogic.Behaviour(MACHINE, f).n_worlds for f in every_single(MACHINE))
    print(f"{len(every_single(MACHINE)) - 1} single faults, {len(classes(MACHINE))} classes with")
    print(f"the healthy machine's, {n_worlds} worlds\n")

    print("entries   diagnosis   advice   suspects        (ms)")
    true = mechlogic.Fault("slide1", "slow to return")
    for length in (8, 33, 64, 300):
        rng = random.Random(length)
        entries = SALTMERE.type(plain((true,)), rng.choices(PRINTING, k=length), rng)
        log = Logbook(tuple(entries))
        diagnosis = diagnose(MACHINE, log)
        one = milliseconds(lambda log=log: diagnose(MACHINE, log))
        two = milliseconds(lambda diagnosis=diagnosis: next_check(diagnosis))
        print(f"{length:7d} {one:11.1f} {two:8.1f} {len(diagnosis.suspects):10d}")

    found: dict[str, list[int | None]] = {"as advised": [], "in code order": []}
    for each in faults:
        for name, choose in (("as advised", advised), ("in code order", in_code_order)):
            found[name].append(characters_needed(each, choose, random.Random(str(each))))
    print(f"\ncharacters until the true class has {SURE:.0%} ({len(faults)} faults)")
    for name, numbers in found.items():
        reached = [number for number in numbers if number is not None]
        print(
            f"{name:>14}: isolated {len(reached)} of {len(numbers)}, "
            f"mean {mean(reached):.1f}, median {median(reached)}, most {max(reached)}"
        )
    both = [(a, b) for a, b in zip(*found.values(), strict=True) if a and b]
    a, b = (mean(column) for column in zip(*both, strict=True))
    print(f"where both succeed ({len(both)}): {a:.1f} as advised, {b:.1f} in code order")


if __name__ == "__main__":
    main()
