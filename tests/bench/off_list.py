"""Machines with a fault that is on no list, and what the bench says of them.  A report.

    python tests/bench/off_list.py [logs of each kind, 30 if left out] [machines]

The tests' own simulator prints, and nothing here knows how the library weighs what is not on its
list.  A log is random text at speed; two entries in a hundred are misread.  It is diagnosed as the
bench does it: with the usual list, and further where that is hardly enough.  Kinds of faults on the
list stand below, for comparison.

columns    innocent: a part that is not at fault has over 90 %; leads: "not on the list" is likelier
           than every suspect; first, three: the true fault is the first, among the first three
"""

import random
import sys
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from time import process_time

sys.path.insert(0, str(Path(__file__).parents[1]))

from brute_force import NOTHING, UNREADABLE, Printer, inputs_of, read
from repairs import binned, wilson

import mechlogic
from mechlogic import Entry, Logbook
from mechlogic.bench.advice import readable_codes
from mechlogic.bench.diagnosis import ENOUGH, classes, diagnose, prior, signature
from mechlogic.bench.search import look_further
from mechlogic.model.faults import Hypothesis, assembly_faults, iter_pairs
from mechlogic.model.machine import Machine
from mechlogic.model.steps import steps
from mechlogic.model.type_faults import type_faults

MISREAD, LENGTH, SURE = 0.02, 40, 0.9
LOOKS = 12, 24, LENGTH
"""After so many entries the bench is looked at."""

Makes = Callable[[list[int]], list[str]]
"""What a machine prints for some settings of its code bars, one after the other."""


class Patient:
    """A machine as the tests' simulator knows it, one character after the other."""

    def __init__(self, name: str) -> None:
        self.machine = mechlogic.load(name)
        self.plain = Printer(read(Path(mechlogic.__file__).parent / "machines" / f"{name}.toml"))
        self.bars = sorted(
            (p["bit"], n) for n, p in self.plain.parts.items() if p["joint"] == "bit"
        )
        self.codes = readable_codes(self.machine) or tuple(range(len(self.machine.code)))

    def print_all(
        self,
        settings: Sequence[int],
        stands: Callable[[list[dict[str, Fraction]]], dict[str, Fraction]] = lambda asked: {},
    ) -> list[str]:
        """What is printed where some parts stand elsewhere.

        Args:
            settings: How the bars are set, one character after the other.
            stands: Where they stand, given where each part was asked to go up to now, last first.
        """
        remembered = {latch: self.plain.rest[latch] for latch in self.plain.latches}
        past: list[dict[str, Fraction]] = []
        prints = []
        for setting in settings:
            _, asked, _ = self.plain.follow(setting, remembered=remembered)
            past.insert(0, asked)
            free = stands(past)
            faults = [(part, "unknown", "") for part in free]
            _, asked, seen = self.plain.follow(setting, faults, remembered=remembered, free=free)
            remembered = {latch: asked[latch] for latch in self.plain.latches}
            prints.append(seen)
        return prints


def between_ends(patient: Patient) -> list[tuple[str, Fraction]]:
    """Each part with each of its places that is no end and not where it rests."""
    plain = patient.plain
    between = ((name, place) for name, its in plain.places.items() for place in its[1:-1])
    return [(name, place) for name, place in between if plain.rest[name] != place]


def jammed(patient: Patient, rng: random.Random) -> tuple[set[str], Makes]:
    """A part is jammed between its ends, where it does not rest."""
    part, place = rng.choice(between_ends(patient))
    return {part}, lambda settings: patient.print_all(settings, lambda _: {part: place})


def off_speed(patient: Patient, rng: random.Random) -> tuple[set[str], Makes]:
    """The motor is slow: from some bit on, each is read as the one before it."""
    first = rng.randint(len(patient.bars) - 3, len(patient.bars) - 1)
    low = (1 << first) - 1
    wrong = {name for bit, name in patient.bars if bit > first}

    def makes(settings: list[int]) -> list[str]:
        return patient.print_all([s & low | (s << 1) & ~low for s in settings])

    return wrong, makes


def dragged(patient: Patient, rng: random.Random) -> tuple[set[str], Makes]:
    """A bar that is set takes its neighbour with it."""
    number = rng.randrange(len(patient.bars) - 1)
    two = [number, number + 1]
    rng.shuffle(two)
    one, other = two

    def makes(settings: list[int]) -> list[str]:
        return patient.print_all([s | (s >> one & 1) << other for s in settings])

    return {patient.bars[other][1], patient.bars[one][1]}, makes


def _a_lever(patient: Patient, rng: random.Random) -> str:
    plain = patient.plain
    two = [n for n, its in plain.places.items() if len(its) == 2 and inputs_of(plain.parts[n])]
    return rng.choice([name for name in two if name not in plain.latches])


def late_both_ways(patient: Patient, rng: random.Random) -> tuple[set[str], Makes]:
    """A part stands where the character before had it."""
    part = _a_lever(patient, rng)
    return {part}, lambda s: patient.print_all(s, lambda asked: {part: asked[:2][-1][part]})


def two_late(patient: Patient, rng: random.Random) -> tuple[set[str], Makes]:
    """A part comes back only with the third character."""
    part, rest = _a_lever(patient, rng), patient.plain.rest

    def stands(asked: list[dict[str, Fraction]]) -> dict[str, Fraction]:
        return {part: max((a[part] for a in asked[:3]), key=lambda x: abs(x - rest[part]))}

    return {part}, lambda settings: patient.print_all(settings, stands)


def faint(patient: Patient, rng: random.Random) -> tuple[set[str], Makes]:
    """Half of the print is too faint to read, right of a column."""
    column, carriage = rng.randint(5, 30), rng.randint(0, 35)

    def makes(settings: list[int]) -> list[str]:
        prints = patient.print_all(settings)
        right = [(carriage + t) % 40 > column for t in range(len(settings))]
        return [
            UNREADABLE if there and p != NOTHING and rng.random() < 0.5 else p
            for there, p in zip(right, prints, strict=True)
        ]

    return set(), makes


def missed(patient: Patient, rng: random.Random) -> tuple[set[str], Makes]:
    """The clutch misses a cycle now and then."""

    def makes(settings: list[int]) -> list[str]:
        return [p if rng.random() > 0.15 else NOTHING for p in patient.print_all(settings)]

    return set(), makes


def noise(patient: Patient, rng: random.Random) -> tuple[set[str], Makes]:
    """Now and then the line turns a bit over, any of them."""

    def makes(settings: list[int]) -> list[str]:
        bits = [
            1 << rng.randrange(len(patient.bars)) if rng.random() < 0.2 else 0 for _ in settings
        ]
        return patient.print_all([s ^ bit for s, bit in zip(settings, bits, strict=True)])

    return {name for _, name in patient.bars}, makes


OFF_LIST = (jammed, off_speed, dragged, late_both_ways, two_late, faint, missed, noise)


def on_list(kind: str, machine: Machine, rng: random.Random) -> Hypothesis:
    """A fault of a kind that is on the list, or two at once, that a print can show."""
    if kind == "single":
        some = [one for members in classes(machine) if () not in members for one in members]
        return rng.choices(some, [prior(faults) for faults in some])[0]
    if kind == "pair":
        return rng.choice(list(iter_pairs(machine.mechanism)))
    listed = assembly_faults(machine.mechanism) if kind == "exchanged" else type_faults(machine)
    return (rng.choice(listed),)


def printed_by(machine: Machine, faults: Hypothesis, codes: list[int], rng: random.Random):
    table = steps(machine, faults)
    memory, prints = min(table), []
    for code in codes:
        outcomes = table[memory][code]
        ((seen, memory),) = rng.choices(list(outcomes), list(outcomes.values()))
        prints.append(seen)
    return prints


def noted(machine: Machine, codes: list[int], prints: list[str], rng: random.Random) -> Logbook:
    every = sorted({machine.good_print(code) for code in codes} | {NOTHING, UNREADABLE})
    seen = [rng.choice(every) if rng.random() < MISREAD else p for p in prints]
    return Logbook(tuple(map(Entry, codes, seen)), machine.code)


def logs(
    patient: Patient, kind: object, rng: random.Random, n: int
) -> Iterator[tuple[set[str], Hypothesis | None, Logbook]]:
    """Logs with what is at fault in each, and if it is on the list, the fault."""
    machine = patient.machine
    while n:
        codes = rng.choices(patient.codes, k=LENGTH)
        settings = [int(machine.as_set(code)) for code in codes]
        faults = None
        if callable(kind):
            wrong, makes = kind(patient, rng)
            prints = makes(settings)
        else:
            faults = on_list(str(kind), machine, rng)
            wrong, prints = {fault.part for fault in faults}, None
            prints = printed_by(machine, faults, codes, rng)
        if prints != patient.print_all(settings):  # it shows
            yield wrong, faults, noted(machine, codes, prints, rng)
            n -= 1


def bench(machine: Machine, log: Logbook):
    """The diagnosis as the bench has it."""
    found = diagnose(machine, log)
    hardly = found.enough < ENOUGH or not found.suspects
    return look_further(machine, log, misreadings=1) if hardly else found


def main(n: int, names: Sequence[str]) -> None:
    claims = []
    for name in names:
        patient = Patient(name)
        machine = patient.machine
        print(f"{name}, {n} logs of each kind, after {', '.join(map(str, LOOKS))} entries")
        print(f"{'':16} innocent %   leads %      first %      three %     CPU s")
        kinds = OFF_LIST if between_ends(patient) else OFF_LIST[1:]
        for kind in (*kinds, "single", "exchanged", "type", "pair"):
            rng = random.Random(f"{name} {getattr(kind, '__name__', kind)}")
            counts = {what: [0] * len(LOOKS) for what in ("innocent", "leads", "first", "three")}
            began = process_time()
            for wrong, faults, log in logs(patient, kind, rng, n):
                for look, length in enumerate(LOOKS):
                    part = Logbook(log.entries[:length], log.code)
                    found = bench(machine, part)
                    top = found.ranked[0]
                    blamed = [{f.part for f in member} for member in top.members]
                    innocent = all(its and not its & wrong for its in blamed)
                    counts["innocent"][look] += innocent and top.probability > SURE
                    counts["leads"][look] += found.off_list > top.probability
                    own = signature(machine, faults) if faults else -1
                    alike = [signature(machine, s.members[0]) == own for s in found.ranked]
                    counts["first"][look] += any(alike[:1])
                    counts["three"][look] += any(alike[:3])
                    if kind != "pair":
                        pairs = zip(found.ranked, alike, strict=True)
                        claims += [(s.probability, true) for s, true in pairs]
                        claims.append((found.off_list, not faults))
            label = getattr(kind, "__name__", kind)
            rows = ("/".join(f"{100 * c / n:3.0f}" for c in its) for its in counts.values())
            print(f"{label:16}", "  ".join(rows), f"{process_time() - began:7.1f}", flush=True)
    print("stated   n   mean stated   true   (Wilson, 95 %); off-list kinds are met too often here")
    for b in binned(claims):
        low, high = wilson(b.true, b.n)
        told = f"{b.stated:6.1%} {b.true / b.n:6.1%} ({low:.1%} to {high:.1%})"
        print(f"{b.low:4.0%} to {b.high:4.0%} {b.n:7}", told)


if __name__ == "__main__":
    times = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    main(times, sys.argv[2:] or ("saltmere", "ebbing", "ness"))
