"""Minutes until the part is found: by the plan, and by two simpler ways, over the same repairs.

    python tests/bench/measure_repairs.py 200

A single fault that a print can show, drawn by its weight; 12 random characters; then one of three:
the plan (typing its line, diagnosing anew, and so on, then the looks in its order); "type one
character at a time until one possible cause has 95 %, then look by chance for each minute"; always
the check with the most information for its minutes. Two entries in a hundred are misread. A look
finds a part that is at fault and in reach; what was taken off stays off.
"""

import random
import sys

import mechlogic
from mechlogic import Entry, Logbook
from mechlogic.bench.advice import next_check, readable_codes
from mechlogic.bench.checks import LOOK, OIL, TYPE, costs_of, found_by_look, in_reach, options
from mechlogic.bench.diagnosis import classes, diagnose, prior
from mechlogic.bench.plan import SURE, plan
from mechlogic.model.steps import steps

MISREAD, MOST_ROUNDS = 0.02, 12


class Repair:
    """One machine with a fault, its log, and the minutes spent on it."""

    def __init__(self, machine, faults, seed):
        self.machine, self.faults, self.rng = machine, faults, random.Random(seed)
        self.table = steps(machine, faults)
        self.memory, self.log, self.minutes = min(self.table), Logbook((), machine.code), 0.0
        self.codes = readable_codes(machine) or tuple(range(len(machine.code)))
        self.costs, self.off, self.found = costs_of(machine), 0.0, False
        self.type(self.rng.choices(self.codes, k=12))
        self.minutes = 0.0

    def type(self, codes):
        for code in codes:
            outcomes = self.table[self.memory][code]
            ((seen, self.memory),) = self.rng.choices(list(outcomes), list(outcomes.values()))
            if self.rng.random() < MISREAD:
                seen = self.machine.good_print(self.rng.choice(self.codes))
            self.log = self.log.adding(Entry(code, seen))
        self.minutes += self.costs[TYPE] * len(codes)

    def look(self, reach):
        """Take off what is not off yet, and see whether the part is among those in reach."""
        self.minutes += max(0.0, self.costs[reach] - self.off)
        self.off = max(self.off, self.costs[reach])
        seen = in_reach(self.machine, reach, self.costs)
        self.found = bool(found_by_look(self.machine, self.faults, seen))

    @property
    def diagnosis(self):
        return diagnose(self.machine, self.log)


def by_plan(repair):
    for _ in range(MOST_ROUNDS):
        todo = plan(repair.diagnosis).steps
        if not todo or todo[0].kind != TYPE:
            break
        repair.type(todo[0].codes)
    for step in plan(repair.diagnosis).steps:
        if step.kind == LOOK and not repair.found:
            repair.look(step.reach)


def by_the_simple_rule(repair):
    for _ in range(6 * MOST_ROUNDS):
        found = repair.diagnosis
        check = next_check(found)
        if check is None or found.considered[0].probability >= SURE:
            break
        repair.type(check.codes)
    for step in plan(repair.diagnosis).steps:
        if step.kind == LOOK and not repair.found:
            repair.look(step.reach)


def by_bits_for_minutes(repair):
    tried = set()
    for _ in range(6 * MOST_ROUNDS):
        todo = [o for o in options(repair.diagnosis) if (o.kind, o.reach) not in tried]
        if repair.found or not todo:
            break
        if todo[0].kind == TYPE:
            repair.type(todo[0].codes)
        elif todo[0].kind == LOOK:
            tried.add((LOOK, todo[0].reach))
            repair.look(todo[0].reach)
        else:  # a turn by hand, another source, oil: paid for, and here they find nothing
            tried.add((todo[0].kind, todo[0].reach))
            repair.minutes += todo[0].minutes if todo[0].kind != OIL else 5.0


def finish(repair):
    """What no way has found is found with everything off."""
    if not repair.found:
        repair.look(max(repair.machine.efforts, key=lambda kind: repair.costs[kind]))
    return repair.minutes


def main(times):
    ways = (by_plan, by_the_simple_rule, by_bits_for_minutes)
    print(f"mean minutes over {times} repairs:", *(way.__name__ for way in ways))
    for name in ("saltmere", "sluice", "ness"):
        machine, rng = mechlogic.load(name), random.Random(11)
        shown = [members for members in classes(machine) if () not in members]
        faults = [faults for members in shown for faults in members]
        truths = rng.choices(faults, [prior(each) for each in faults], k=times)
        means = []
        for way in ways:
            total = 0.0
            for seed, truth in enumerate(truths):
                repair = Repair(machine, truth, seed)
                way(repair)
                total += finish(repair)
            means.append(total / times)
        print(f"{name:10}", *(f"{mean:8.1f}" for mean in means))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
