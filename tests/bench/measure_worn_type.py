"""Worn type and parts put back wrongly: how often the advised checks end at the truth.

    python tests/bench/measure_worn_type.py worn 70       # one to three characters, three machines
    python tests/bench/measure_worn_type.py assembly 40   # bits or levers exchanged
    python tests/bench/measure_worn_type.py off 40        # the type one place off
    python tests/bench/measure_worn_type.py single 70     # a part, for comparison

15 random characters, the failing one once more, then what is advised, up to twelve times, until one
possible cause has 95 %. Two entries in a hundred are misread.
"""

import random
import sys
from time import process_time

import mechlogic
from mechlogic import UNREADABLE, Entry, Logbook
from mechlogic.bench.advice import next_check, readable_codes
from mechlogic.bench.diagnosis import diagnose
from mechlogic.model.faults import assembly_faults, single_faults
from mechlogic.model.steps import steps
from mechlogic.model.type_faults import type_faults

MISREAD, ENOUGH, MOST_CHECKS = 0.02, 0.95, 12


def faults_of(machine, kind, rng):
    """A truth of a kind, or None if the machine has none."""
    of_type = type_faults(machine)
    readable = {machine.good_print(code) for code in readable_codes(machine)}
    worn = [f for f in of_type if f.mode == "worn type" and f.input in readable]
    if kind == "worn":
        return tuple(sorted(rng.sample(worn, rng.randint(1, 3))))
    some = {
        "assembly": assembly_faults(machine.mechanism),
        "off": [f for f in of_type if f.mode == "one place off"],
        "single": single_faults(machine.mechanism),
    }[kind]
    return (rng.choice(some),) if some else None


def repair(machine, faults, rng):
    """The diagnosis at the end, and how many characters were typed on advice."""
    table, codes = steps(machine, faults), readable_codes(machine)
    seen_at_all = [machine.good_print(code) for code in codes] + [UNREADABLE]
    memory, log = min(table), Logbook((), machine.code)
    broken = {fault.input for fault in faults if fault.mode == "worn type"}
    waiting = rng.choices(codes, k=15) + [c for c in codes if machine.good_print(c) in broken]
    typed = -len(waiting)
    for _ in range(MOST_CHECKS + 1):
        for code in waiting:
            outcomes = table[memory][code]
            ((seen, memory),) = rng.choices(list(outcomes), list(outcomes.values()))
            noted = rng.choice(seen_at_all) if rng.random() < MISREAD else seen
            log = log.adding(Entry(code, noted))
        typed += len(waiting)
        found = diagnose(machine, log)
        check = next_check(found)
        if found.considered[0].probability >= ENOUGH or check is None:
            break
        waiting = list(check.codes)
    return found, typed


def main(kind, times):
    print(f"{kind}: truth first, an innocent part over 90 %, healthy first, typed on advice, CPU s")
    for name in ("saltmere", "ebbing", "ness"):
        machine, rng = mechlogic.load(name), random.Random(4)
        first = innocent = healthy = typed = 0
        began = process_time()
        for _ in range(times):
            faults = faults_of(machine, kind, rng)
            if faults is None:
                break
            found, n = repair(machine, faults, rng)
            top = found.considered[0]
            right = faults in top.members
            part_of_it = any(member and set(member) <= set(faults) for member in top.members)
            first += right
            innocent += (
                not right and not part_of_it and top.probability > 0.9 and () not in top.members
            )
            healthy += not right and () in top.members
            typed += n
        spent = process_time() - began
        share = f"{first:4} of {times} {innocent:4} {healthy:4} {typed / times:6.1f}"
        print(f"{name:10} {share} {spent:6.1f}")


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
