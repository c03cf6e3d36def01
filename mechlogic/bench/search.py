"""All hypotheses that explain a log: every smallest set of faults, found exactly.

A set of faults is *minimal* if it explains the log and no part of it does as well: with as few
entries misread, and of the rest as few taken for smudges.  The search tries every set of one fault,
then every set of two, then, on request, of three.  Sets that hold a smaller one that already
explains every entry as it was noted are passed over, since they are not minimal.  No other set is
passed over, ever.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import reduce
from itertools import chain, combinations, islice
from math import comb
from operator import or_

from mechlogic.bench.diagnosis import OFF_LIST, Diagnosis, diagnose, usual_hypotheses
from mechlogic.bench.evidence import Cost, Evidence
from mechlogic.bench.sweep import Sweep, sweeps
from mechlogic.helpers.kept import kept
from mechlogic.helpers.refusal import TooMuch
from mechlogic.model.faults import (
    DISCONNECTED,
    UNKNOWN,
    Fault,
    Hypothesis,
    rarer_faults,
    single_faults,
)
from mechlogic.model.logbook import FORGOTTEN, NOTHING, Logbook
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import Prints
from mechlogic.model.table import Column, without

MOST_SETS = 1_000_000
"""The most sets that one search tries: a minute or two."""

MOST_KEPT = 100_000
"""The most sets of one size that are laid out for good; more are laid out a few at a time."""

ROUGHLY = 6
"""How many misprinted characters are looked at first, where sets are not laid out for good."""


def minimal_sets(
    evidence: Evidence,
    most: int = 2,
    faults: Iterable[Fault] | None = None,
    misreadings: int = 0,
) -> tuple[Hypothesis, ...]:
    """Every minimal set of at most *most* faults that explains a log, smallest first.

    So whatever the truth is, if it has no more faults and the log no more misreadings, then it is
    found, or a part of it that explains the log as well.

    Args:
        evidence: The log, on its machine.
        most: The largest number of faults in a set.
        faults: The single faults to combine; all that the machine can have if left out.
        misreadings: The largest number of entries that may have been misread.

    Raises:
        TooMuch: If there are more than :data:`MOST_SETS` sets of that size.
    """
    singles = set(single_faults(evidence.machine.mechanism) if faults is None else faults)
    _refuse_too_many(len(singles), most)
    known = tuple(sorted(singles))
    cost: dict[Hypothesis, Cost] = {}  # of each minimal set
    for size in range(most + 1):
        whole = {faults for faults, own in cost.items() if own == (0, 0)}
        if comb(len(known), size) <= MOST_KEPT:
            laid = _laid_out(evidence.machine, known, size)
            found = _explaining(evidence, laid, misreadings)
        else:
            left = [faults for faults in _sets(known, size) if not _holds(faults, whole)]
            found = _explaining_few(evidence, left, misreadings)
        for faults, own in sorted(found):
            if not any(part in cost and cost[part] <= own for part in _parts_of(faults)):
                cost[faults] = own
    return tuple(cost)


def look_further(machine: Machine, log: Logbook, most: int = 2, misreadings: int = 0) -> Diagnosis:
    """Diagnose with every hypothesis that the library knows.

    Besides every steady single fault these are the single faults that come and go, and every
    minimal set of up to *most* faults.

    Args:
        machine: The machine that made the log.
        log: What was sent and what was printed.
        most: The largest number of faults in a set.
        misreadings: The largest number of entries that may have been misread.

    Raises:
        TooMuch: If the machine has more than :data:`MOST_SETS` sets of faults.
        ValueError: If the log is not in the machine's code.
    """
    evidence = Evidence(machine, log)
    rarer = [(f,) for f in rarer_faults(machine.mechanism) if f.mode != UNKNOWN.name]
    sets = minimal_sets(evidence, most, misreadings=misreadings)
    usual = usual_hypotheses(machine, log)
    tried = (*usual, *candidates(evidence, rarer, misreadings), *sets)
    return diagnose(machine, log, dict.fromkeys(tried), OFF_LIST)


def candidates(
    evidence: Evidence, hypotheses: Sequence[Hypothesis], misreadings: int = 0
) -> Iterator[Hypothesis]:
    """Those of some hypotheses that explain a log with so many misreadings, in the same order."""
    laid = sweeps(evidence.machine, hypotheses)
    left = {faults for faults, _ in _explaining(evidence, laid, misreadings)}
    return (faults for faults in hypotheses if faults in left)


@kept(12)
def _laid_out(machine: Machine, faults: tuple[Fault, ...], size: int) -> tuple[Sweep, ...]:
    return sweeps(machine, _sets(faults, size))


def _explaining_few(
    evidence: Evidence, hypotheses: Iterable[Hypothesis], misreadings: int
) -> Iterator[tuple[Hypothesis, Cost]]:
    """As :func:`_explaining`; most fall at a few misprints, whatever was remembered before them."""
    waiting = iter(hypotheses)
    wrong = [evidence.log.entries[t] for t in evidence.wrong]
    few = list({entry.sent: replace(entry, gap=FORGOTTEN) for entry in wrong}.values())[:ROUGHLY]
    rough = Evidence(evidence.machine, Logbook(tuple(few), evidence.machine.code))
    while some := list(islice(waiting, MOST_KEPT)):
        left = list(candidates(rough, some, misreadings))
        yield from _explaining(evidence, sweeps(evidence.machine, left), misreadings)


_Sent = tuple[int, bool]
"""A code, without parity, and whether it was sent at speed."""

_Seen = tuple[str, str]
"""The reading, and the side that is missing."""


@dataclass(frozen=True)
class _Row:
    """An entry with all that counts of it: what came before, how it was driven, what was seen.

    Attributes:
        before: The character before, and whether it was made at speed; None if nothing is known.
        waited: Whether a sluggish part may have come home since.
        sent: This character, and whether it was made at speed.
        seen: What was seen: the reading, and the side that is missing.
    """

    before: _Sent | None
    waited: bool
    sent: _Sent
    seen: _Seen


def _explaining(
    evidence: Evidence, laid: Iterable[Sweep], misreadings: int
) -> Iterator[tuple[Hypothesis, Cost]]:
    """The hypotheses that explain the log, each with what it leaves unexplained.

    Where each code settles what is remembered, entries that are alike in every way count at once;
    the other hypotheses are followed from entry to entry.
    """
    rows = list[_Row]()
    for t, entry in enumerate(evidence.log):
        now = entry.sent, entry.driven == "speed"
        before = None if evidence.starts >> t & 1 else rows[-1].sent
        waited = bool(evidence.waited >> t & 1)
        rows.append(_Row(before, waited, now, (entry.printed, entry.clipped)))
    read = {
        seen: Evidence(evidence.machine, Logbook((entry,), evidence.machine.code))
        for seen, entry in ((row.seen, e) for row, e in zip(rows, evidence.log, strict=True))
    }
    alike = Counter(rows)
    for sweep in laid:
        held = _Held(sweep, read, misreadings, len(rows).bit_length())
        yield from held.settled(alike)
        yield from held.loose(rows)


class _Held:
    """The hypotheses of one sweep, held against a log.

    What each leaves unexplained is one number: the entries misread above, and below them, in so
    many bits as take all entries, those that show less than was printed.
    """

    def __init__(
        self,
        sweep: Sweep,
        read: dict[_Seen, Evidence],
        misreadings: int,
        n_bits: int,
    ) -> None:
        self.sweep, self.read, self.n_bits = sweep, read, n_bits
        self.most = (misreadings + 1 << n_bits) - 1
        self.left = sweep.every

    @kept(None)
    def fits(self, sent: _Sent, seen: _Seen) -> tuple[Column, Column]:
        """Where what is seen may have been printed, and where it shows less, for each memory."""
        return _fits(self.read[seen], self.sweep.told(*sent).prints)

    def settled(self, rows: Counter[_Row]) -> Iterator[tuple[Hypothesis, Cost]]:
        """Those that remember only what the code before tells, each entry by itself."""
        sweep, cost = self.sweep, _Sums()
        remembers: dict[tuple[_Sent, bool], Column] = {}
        for sent in dict.fromkeys(row.sent for row in rows):
            told = sweep.told(*sent)
            self.left = without(self.left, told.loose)
            after = list(told.after)
            remembers[sent, False] = sweep.in_memories(after)
            for ways in sweep.homeward:
                for one, home, some in ways:
                    after[home] |= after[one] & some
            remembers[sent, True] = sweep.in_memories(after)
        for row, n in rows.items():
            well, less = self.fits(row.sent, row.seen)
            if row.before is not None:
                may = remembers[row.before, row.waited]
                well, less = well & may, less & may
            well, less = sweep.any_memory(well), sweep.any_memory(less)
            cost.add(without(less, well) & self.left, n)
            cost.add(without(self.left, well | less), n << self.n_bits)
            self.left = without(self.left, cost.above(self.most))
            if not self.left:
                return
        yield from self.named(cost, self.left)

    def loose(self, rows: Sequence[_Row]) -> Iterator[tuple[Hypothesis, Cost]]:
        """The others, from entry to entry: for every memory, the least that leads to it."""
        sweep, left = self.sweep, 0
        for sent in {row.sent for row in rows}:
            left |= sweep.told(*sent).loose
        if not left:
            return
        now = [(left, _Sums())] * sweep.n_memories
        for row in rows:
            if row.before is None:
                now = [_least(now)] * sweep.n_memories
            for pauses in sweep.homeward if row.waited else ():
                came = [[one] for one in now]
                for one, home, some in pauses:
                    came[home].append((now[one][0] & some, now[one][1]))
                now = [_least(several) for several in came]
            ways: list[list[tuple[Column, _Sums]]] = [[] for _ in now]
            for lead in self.leading(row.sent, row.seen, left):
                there, cost = now[lead.before]
                if may := there & lead.may:
                    cost = cost.copied()
                    cost.add(may & lead.less, 1)
                    cost.add(without(may, lead.well | lead.less), 1 << self.n_bits)
                    if may := without(may, cost.above(self.most)):
                        ways[lead.after].append((may, cost))
            now = [_least(several) for several in ways]
            if not any(there for there, _ in now):
                return
        there, cost = _least(now)
        yield from self.named(cost, there)

    @kept(None)
    def leading(self, sent: _Sent, seen: _Seen, left: Column) -> "list[_Lead]":
        """How an entry leads from memory to memory."""
        sweep, told, found = self.sweep, self.sweep.told(*sent), list[_Lead]()
        well, less = self.fits(sent, seen)
        for after, settled in enumerate(told.after):
            each = sweep.in_memories([settled & left] * sweep.n_memories)
            prints = told.joint[after] if told.joint else {}
            its_well, its_less = _fits(self.read[seen], prints)
            columns = (
                each | reduce(or_, prints.values(), 0),
                well & each | its_well,
                less & each | its_less,
            )
            by_memory = zip(*map(sweep.each_memory, columns), strict=True)
            for before, (may, fits, fits_less) in enumerate(by_memory):
                if may & left:
                    found.append(_Lead(before, after, may & left, fits, fits_less))
        return found

    def named(self, cost: "_Sums", left: Column) -> Iterator[tuple[Hypothesis, Cost]]:
        """The hypotheses that are left, each with its cost."""
        for number, some in cost.parted(left):
            own = divmod(number, 1 << self.n_bits)
            for place, told in enumerate(reversed(f"{some:b}")):
                if told == "1":
                    yield self.sweep.hypotheses[place], own


@dataclass(frozen=True)
class _Lead:
    """From one memory to another: who may go so, and who prints what was seen, well or less."""

    before: int
    after: int
    may: Column
    well: Column
    less: Column


def _fits(read: Evidence, prints: Prints) -> tuple[Column, Column]:
    """Where one of several prints is what was seen, and where at best it shows less."""
    every = reduce(or_, prints.values(), 0)
    struck = reduce(or_, (column for seen, column in prints.items() if seen != NOTHING), 0)
    well, _ = read.fits(prints, every)
    _, less = read.fits({**prints, NOTHING: without(every, struck)}, every)
    return well & every, without(less, well) & every


class _Sums:
    """A number for each row of a column: bit i of all of them is one column."""

    def __init__(self, bits: Iterable[Column] = ()) -> None:
        self.bits = list(bits)

    def copied(self) -> "_Sums":
        return _Sums(self.bits)

    def add(self, rows: Column, number: int) -> None:
        """Add a number in some rows."""
        place = 0
        while rows and number >> place:
            if number >> place & 1:
                carry, at = rows, place
                while carry:
                    if at >= len(self.bits):
                        self.bits += [0] * (at + 1 - len(self.bits))
                    self.bits[at], carry = self.bits[at] ^ carry, self.bits[at] & carry
                    at += 1
            place += 1

    def above(self, number: int) -> Column:
        """The rows whose number is larger."""
        if number >> len(self.bits):
            return 0
        found = 0
        for place, column in enumerate(self.bits):
            found = found & column if number >> place & 1 else found | column
        return found

    def parted(self, rows: Column) -> list[tuple[int, Column]]:
        """Each number with the rows that have it."""
        found = [(0, rows)] if rows else []
        for place, column in enumerate(self.bits):
            parts = [
                part
                for number, some in found
                for part in ((number, without(some, column)), (number | 1 << place, some & column))
            ]
            found = [part for part in parts if part[1]]
        return found


def _least(several: Iterable[tuple[Column, _Sums]]) -> tuple[Column, _Sums]:
    """The rows that there are in any of several, each with the least of its numbers."""
    rows, least = 0, _Sums()
    for its, sums in several:
        take, same = without(its, rows), its & rows
        for place in reversed(range(max(len(least.bits), len(sums.bits)) if same else 0)):
            one, other = (s.bits[place] if place < len(s.bits) else 0 for s in (least, sums))
            take |= same & one & ~other
            same = without(same, one ^ other)
        if take == its and not rows:
            least = sums
        elif take:
            n = max(len(least.bits), len(sums.bits))
            pairs = (
                [s.bits[place] if place < len(s.bits) else 0 for s in (least, sums)]
                for place in range(n)
            )
            least = _Sums(without(one, take) | other & take for one, other in pairs)
        rows |= its
    return rows, least


def _refuse_too_many(n_faults: int, most: int) -> None:
    n_sets = sum(comb(n_faults, size) for size in range(most + 1))
    if n_sets > MOST_SETS:
        raise TooMuch(
            f"{n_faults} faults make {n_sets:,} sets of at most {most}; {MOST_SETS:,} is the most "
            "that are tried",
            "Look for fewer faults at once, or name those that you think of",
        )


def _sets(singles: Iterable[Fault], size: int) -> Iterator[Hypothesis]:
    """Every set of so many faults that one machine can have at once, in standard order."""
    for faults in combinations(sorted(singles), size):
        own = [fault.part for fault in faults if fault.mode != DISCONNECTED.name]
        if len(set(own)) == len(own):
            yield faults


def _holds(faults: Hypothesis, whole: set[Hypothesis]) -> bool:
    """Whether a smaller set of them is one of those that explain every entry as it was noted."""
    return bool(whole) and any(part in whole for part in _parts_of(faults))


def _parts_of(faults: Hypothesis) -> Iterator[Hypothesis]:
    """Every smaller set of some of the faults, in standard order."""
    return chain.from_iterable(combinations(faults, size) for size in range(len(faults)))
