"""How long it takes to try every pair of faults, and what the advice saves.  A report, not a test.

    python tests/bench/bench_search.py [isolation] [classes to isolate, all if left out]

With the word "isolation" only the last table is made.

Times are of this process alone.  The plain way is the tests' own simulator, which follows one
character of one faulty machine at a time; it is timed on a sample and scaled up.
"""

import random
import sys
from collections import defaultdict
from functools import cache
from itertools import pairwise
from math import log2
from pathlib import Path
from statistics import mean, median
from time import process_time

sys.path.insert(0, str(Path(__file__).parents[1]))

from brute_force import Entry as Sent
from figures import Figure
from plain_runs import PRINTING, SALTMERE, plain

import mechlogic
from mechlogic import Behaviour, Entry, Logbook
from mechlogic.bench.advice import next_check, readable_codes
from mechlogic.bench.diagnosis import classes, diagnose, prior
from mechlogic.bench.evidence import Evidence
from mechlogic.bench.search import look_further, minimal_sets
from mechlogic.bench.sweep import sweeps
from mechlogic.model.faults import iter_pairs, single_faults
from mechlogic.model.machine import spread
from mechlogic.model.table import place_in_row

MACHINE = mechlogic.load("saltmere")


# -- every pair over every transition -------------------------------------------------------------


def every_transition():
    """A walk on which each printing code follows each of them once, itself as well."""
    walk = []
    for number, one in enumerate(PRINTING):
        walk.append(one)
        for other in PRINTING[number + 1 :]:
            walk += [one, other]
    walk.append(walk[0])
    assert len(set(pairwise(walk))) == len(walk) - 1 == len(PRINTING) ** 2
    return walk


def sweep_all():
    """What every single and double fault prints over the walk, laid out anew."""
    faults = [*((f,) for f in single_faults(MACHINE.mechanism)), *PAIRS]
    for one in sweeps(MACHINE, faults):
        for before in PRINTING:
            told = one.told(before, at_speed=True)
            then = one.in_memories(one.every if told.loose else column for column in told.after)
            for now in PRINTING:
                for column in one.told(now, at_speed=True).prints.values():
                    one.any_memory(column & then)
    return faults


PAIRS = list(iter_pairs(MACHINE.mechanism))
TRUE = random.Random(1).choice(PAIRS)


def plain_seconds(blocks, sample=40):
    """Plain loops over as many blocks and transitions, by the time that some of them take."""
    rng, printer = random.Random(0), SALTMERE.printer
    spent, followed = 0.0, 0
    for faults in rng.sample(PAIRS, sample):
        codes = [MACHINE.as_set(code) for code in rng.choices(PRINTING, k=5)]
        state = rng.choice(printer.unknown(plain(faults)))
        printer._known.clear()
        start = process_time()
        for code in codes:
            found = printer.outcomes(Sent(code), plain(faults), [state])
            state = found[0][0]
            followed += len(found)
        spent += process_time() - start
    return spent / followed * blocks * len(PRINTING) ** 2


def n_worlds(hypotheses):
    return sum(Behaviour(MACHINE, faults).n_worlds for faults in hypotheses)


def timed(action):
    times = []
    for _ in range(3):
        start = process_time()
        result = action()
        times.append(process_time() - start)
    return median(times), result


def figures():
    took, faults = timed(sweep_all)
    blocks = n_worlds(faults)
    what = f"{len(PAIRS)} pairs of faults, {len(PRINTING) ** 2} changes"
    yield Figure(what, took, "plain loop (a sample, scaled up)", plain_seconds(blocks) / took)
    log = log_of_two_faults(random.Random(1), 64)
    took, _ = timed(lambda: minimal_sets(Evidence(MACHINE, log)))
    n_sets = len(single_faults(MACHINE.mechanism)) + len(PAIRS)
    yield Figure(f"all {n_sets} sets of one or two, log of 64", took)


def pairs_table():
    print("-- every single and double fault of Saltmere over 4,096 transitions")
    seconds, faults = timed(sweep_all)
    blocks = n_worlds(faults)
    slow = plain_seconds(blocks)
    print(f"{len(PAIRS)} pairs, {blocks} worlds: {seconds:.2f} s")
    print(f"plain loops (a sample, scaled up): {slow:.0f} s, {slow / seconds:.0f} times as long\n")


# -- the search ----------------------------------------------------------------------------------


def log_of_two_faults(rng, length):
    return Logbook(tuple(SALTMERE.type(plain(TRUE), rng.choices(PRINTING, k=length), rng)))


def search_table():
    print("-- every minimal set of at most two faults, Saltmere")
    print("entries  misreadings     sets    search s   look further s   suspects")
    rng = random.Random(1)
    for length in (16, 64, 300):
        log = log_of_two_faults(rng, length)
        for misreadings in (0, 2):
            seconds, found = timed(
                lambda log=log, k=misreadings: minimal_sets(Evidence(MACHINE, log), misreadings=k)
            )
            more, diagnosis = timed(
                lambda log=log, k=misreadings: look_further(MACHINE, log, misreadings=k)
            )
            print(
                f"{length:7d} {misreadings:12d} {len(found):8d} {seconds:11.2f} "
                f"{more:16.2f} {len(diagnosis.suspects):10d}"
            )
    print()


def advice_table():
    print("-- advice after each entry of a log of 12, ms: the first, the median, the most")
    for name in mechlogic.machines.names():
        machine = mechlogic.load(name)
        rng = random.Random(2)
        for faults in rng.sample(classes(machine), 3):
            times, log, behaviour = [], Logbook((), machine.code), Behaviour(machine, faults[0])
            world = rng.choice(list(behaviour.worlds()))
            for _ in range(12):
                start = process_time()
                check = next_check(diagnose(machine, log))
                times.append(1000 * (process_time() - start))
                codes = check.codes if check else (rng.choice(machine.printing_codes),)
                rows = machine.rows(codes[:1])
                table = behaviour.table(rows, rows.every, world)
                log = log.adding(Entry(codes[0], spread(machine.prints(table, rows), 1)[0]))
                then = tuple(place_in_row(table.asked[p], 0) for p in behaviour.remembering)
                world = type(world)(then, rng.choice(list(behaviour.chances)))
            print(
                f"{name:>9} {' and '.join(map(str, faults[0])) or 'healthy':>40}: "
                f"first {times[0]:.0f}, then {median(times[1:]):.0f}, most {max(times[1:]):.0f}"
            )
    print()


# -- characters until the class is known ----------------------------------------------------------

CLASSES = classes(MACHINE)
CODES = readable_codes(MACHINE)


def followed(members):
    """For each memory of a class and each code, the chances of print and memory afterwards."""
    faults = plain(members[0])
    found = {}
    for state in SALTMERE.states(faults):
        for code in CODES:
            outcomes = defaultdict(float)
            runs = SALTMERE.step(faults, code, False, state)
            for after, seen in runs:
                outcomes[seen, after] += 1 / len(runs)
            found[state, code] = outcomes
    return found


class Rivals:
    """The classes that may be true, each with the chance of what it remembers.

    No misreadings here: a class falls at the first print that it cannot make.
    """

    def __init__(self, chances):
        total = sum(chances.values())
        self.chances = {key: chance / total for key, chance in chances.items()}

    @classmethod
    def at_first(cls):
        return cls(
            {
                (members, state): sum(map(prior, members)) / len(states)
                for members in CLASSES
                for states in [SALTMERE.states(plain(members[0]))]
                for state in states
            }
        )

    def after(self, code):
        """For each print of a code, its chance and the rivals that it leaves."""
        found = defaultdict(lambda: defaultdict(float))
        for (members, state), chance in self.chances.items():
            for (seen, after), share in NEXT[members][state, code].items():
                found[seen][members, after] += chance * share
        return {seen: (sum(left.values()), Rivals(left)) for seen, left in found.items()}

    def uncertainty(self):
        of_class = defaultdict(float)
        for (members, _), chance in self.chances.items():
            of_class[members] += chance
        return -sum(p * log2(p) for p in of_class.values())

    def left_after(self, code):
        """The bits that are still uncertain after a code, on average."""
        return sum(chance * left.uncertainty() for chance, left in self.after(code).values())

    def left_after_two(self, code, seconds):
        return sum(
            chance * min(map(left.left_after, seconds))
            for chance, left in self.after(code).values()
        )


NEXT = {}
MOST = 2 * len(PRINTING)
"""How many characters are typed at most: every printing code twice, in code order."""
FIRSTS = 10
"""How many first characters the look-ahead weighs, the most telling ones."""


@cache
def look_ahead(entries):
    """The first of the two characters that leave least uncertain, one after the other."""
    rivals = Rivals.at_first()
    for entry in entries:
        _, rivals = rivals.after(entry.sent)[entry.printed]
    ranked = sorted(CODES, key=lambda code: round(rivals.left_after(code), 9))
    seconds = [*ranked[:FIRSTS], *CODES[::8]]
    return min(ranked[:FIRSTS], key=lambda code: round(rivals.left_after_two(code, seconds), 9))


SURE, ALONE = "95 % sure", "the only class left"
"""The true class has 95 % of the chance; it is the only one consistent with the log."""


def reached(log, members):
    """The criteria that a log meets."""
    diagnosis = diagnose(MACHINE, log)
    first = diagnosis.ranked[0]
    if first.probability >= 0.95 and first.members[0] in members:
        yield SURE
    if len(diagnosis.suspects) == 1 and diagnosis.suspects[0].members[0] in members:
        yield ALONE


def characters(members, choose, seed):
    """How many until each criterion is met; a criterion that is never met is left out."""
    rng = random.Random(seed)
    faults = plain(members[0])
    state, log, found = rng.choice(SALTMERE.states(faults)), Logbook(), {}
    while True:
        for criterion in reached(log, members):
            found.setdefault(criterion, len(log))
        codes = choose(log) if len(found) < 2 and len(log) < MOST else ()
        if not codes:
            return found
        for code in codes:
            state, printed = rng.choice(SALTMERE.step(faults, code, False, state))
            log = log.adding(Entry(code, printed))


def advised(log):
    check = next_check(diagnose(MACHINE, log))
    return check.codes if check else ()


def in_code_order(log):
    return (PRINTING[len(log) % len(PRINTING)],)


def after_look_ahead(log):
    return (look_ahead(log.entries),)


WAYS = {"advised": advised, "two-step": after_look_ahead, "code order": in_code_order}


def isolation_table(how_many):
    some = [members for members in CLASSES if () not in members]
    if how_many:
        some = random.Random(0).sample(some, how_many)
    NEXT.update((members, followed(members)) for members in CLASSES)
    found = {
        name: [characters(members, choose, str(members)) for members in some]
        for name, choose in WAYS.items()
    }
    for criterion in (SURE, ALONE):
        print(f"-- characters until: {criterion}; {len(some)} classes of single faults")
        numbers = {name: [one.get(criterion) for one in found[name]] for name in WAYS}
        for name, column in numbers.items():
            met = [n for n in column if n is not None]
            counted = [MOST if n is None else n for n in column]
            print(
                f"{name:>11}: {len(met)} met, {len(column) - len(met)} never; of those met mean "
                f"{mean(met):.2f}, median {median(met)}, most {max(met)}; "
                f"never counted as {MOST}: mean {mean(counted):.2f}"
            )
        for other in ("two-step", "code order"):
            pair = [numbers[way] for way in ("advised", other)]
            compared(f"{other}, where both meet it", *pair)
            counted = [[MOST if n is None else n for n in column] for column in pair]
            compared(f"{other}, never counted as {MOST}", *counted)
        print()


def compared(how, mine, theirs):
    both = [(a, b) for a, b in zip(mine, theirs, strict=True) if a is not None and b is not None]
    ratio = sum(a for a, _ in both) / sum(b for _, b in both)
    print(f"advised to {how} ({len(both)}): {ratio:.3f}")


def main():
    if "isolation" in sys.argv:
        isolation_table(next((int(word) for word in sys.argv if word.isdigit()), None))
        return
    pairs_table()
    search_table()
    advice_table()
    isolation_table(int(sys.argv[1]) if len(sys.argv) > 1 else None)


if __name__ == "__main__":
    main()
