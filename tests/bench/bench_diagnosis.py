"""How long a diagnosis takes, and how many characters the advice saves.  A report, not a test.

    python tests/bench/bench_diagnosis.py [faults to try, all if left out]

Every fault is simulated by the brute force.  Characters are typed as advised, or in the order of
their codes, until the suspect list shows the true class first with at least 95 % of the chance.
Times are of this process alone, the median of several runs, once everything is warm.
"""

import random
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from statistics import mean, median
from time import process_time

sys.path.insert(0, str(Path(__file__).parents[1]))

from brute_force import Entry as Sent
from figures import Figure, seconds
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


def log_of(length: int) -> Logbook:
    """A log of a printer with a sluggish slide."""
    rng, true = random.Random(length), mechlogic.Fault("slide1", "slow to return")
    entries = SALTMERE.type(plain((true,)), rng.choices(PRINTING, k=length), rng)
    return Logbook(tuple(entries))


def plain_loop(hypotheses: Sequence[Hypothesis], log: Logbook) -> None:
    """Every hypothesis followed through a log, in every way that it can go."""
    printer = SALTMERE.printer
    for faults in hypotheses:
        states = printer.unknown(plain(faults))
        for entry in log:
            printer._known.clear()
            sent = Sent(MACHINE.as_set(entry.sent))
            states = list({state for state, _ in printer.outcomes(sent, plain(faults), states)})


def figures() -> Iterator[Figure]:
    log, singles = log_of(33), every_single(MACHINE)
    some = random.Random(0).sample(singles, 10)
    took = seconds(lambda: diagnose(MACHINE, log))
    loop = seconds(lambda: plain_loop(some, log), 1) * len(singles) / len(some)
    what = f"{len(singles)} hypotheses against a log of {len(log)}"
    yield Figure(what, took, "plain loop, followed only", loop / took)
    diagnosis = diagnose(MACHINE, log_of(3))
    took = seconds(lambda: next_check(diagnosis))
    yield Figure(f"the next character, {len(diagnosis.suspects)} suspects", took)


def main() -> None:
    faults = [faults for faults in every_single(MACHINE) if faults]
    if len(sys.argv) > 1:
        faults = random.Random(0).sample(faults, int(sys.argv[1]))
    n_worlds = sum(mechlogic.Behaviour(MACHINE, f).n_worlds for f in every_single(MACHINE))
    print(f"{len(every_single(MACHINE)) - 1} single faults, {len(classes(MACHINE))} classes with")
    print(f"the healthy machine's, {n_worlds} worlds\n")

    print("entries   diagnosis   advice   suspects        (ms)")
    for length in (8, 33, 64, 300):
        log = log_of(length)
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
