"""All hypotheses that explain a log: every smallest set of faults, found exactly.

A set of faults is *minimal* if it explains the log and no part of it does as well: with as few
entries misread, and of the rest as few taken for smudges.  The search tries every set of one fault,
then every set of two, then, on request, of three.  Sets that hold a smaller one that already
explains every entry as it was noted are passed over, since they are not minimal.  No other set is
passed over, ever.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import chain, combinations
from math import comb
from operator import or_

from mechlogic.bench.diagnosis import Diagnosis, diagnose, usual_hypotheses
from mechlogic.bench.evidence import Cost, Evidence, account
from mechlogic.bench.sweep import Run, sweep
from mechlogic.helpers.refusal import TooMuch
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.faults import (
    DISCONNECTED,
    UNKNOWN,
    Fault,
    Hypothesis,
    rarer_faults,
    single_faults,
)
from mechlogic.model.logbook import Logbook
from mechlogic.model.machine import Machine
from mechlogic.model.table import Column

MOST_SETS = 1_000_000
"""The most sets that one search tries: a minute or two."""

SETS_AT_ONCE = 500
"""How many hypotheses are laid out in one table."""


@dataclass(frozen=True)
class Findings:
    """What a search found.

    Attributes:
        minimal: Every minimal set of faults within the bounds, smallest first.
        most: The bound: how many faults a set may have.
        tried: How many sets were tried.
        misreadings: The bound: how many entries may have been misread.
    """

    minimal: tuple[Hypothesis, ...]
    most: int
    tried: int
    misreadings: int = 0


def minimal_sets(
    evidence: Evidence,
    most: int = 2,
    faults: Iterable[Fault] | None = None,
    misreadings: int = 0,
) -> Findings:
    """Find every minimal set of at most *most* faults that explains a log.

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
    cost: dict[Hypothesis, Cost] = {}  # of each minimal set
    tried = 0
    for size in range(most + 1):
        sets = [
            faults
            for faults in _sets(singles, size)
            if not any(cost.get(smaller) == (0, 0) for smaller in _parts_of(faults))
        ]
        tried += len(sets)
        for start in range(0, len(sets), SETS_AT_ONCE):
            some = sets[start : start + SETS_AT_ONCE]
            for faults, own in _explaining(evidence, some, misreadings):
                if not any(part in cost and cost[part] <= own for part in _parts_of(faults)):
                    cost[faults] = own
    return Findings(tuple(cost), most, tried, misreadings)


def look_further(machine: Machine, log: Logbook, most: int = 2, misreadings: int = 0) -> Diagnosis:
    """Diagnose with every hypothesis that the library knows.

    Besides every steady single fault these are the single faults that come and go, faults on no
    list, and every minimal set of up to *most* faults.

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
    rarer = [(fault,) for fault in rarer_faults(machine.mechanism)]
    known = [*single_faults(machine.mechanism), *(f for (f,) in rarer if f.mode == UNKNOWN.name)]
    sets = minimal_sets(evidence, most, known, misreadings).minimal
    usual = usual_hypotheses(machine, log)
    tried = (*usual, *candidates(evidence, rarer, misreadings), *sets)
    return diagnose(machine, log, dict.fromkeys(tried))


def candidates(
    evidence: Evidence, hypotheses: Sequence[Hypothesis], misreadings: int = 0
) -> Iterator[Hypothesis]:
    """The hypotheses that few entries speak against, each entry looked at by itself.

    Every hypothesis that explains the log with so many misreadings is among them.
    """
    for behaviour, (misread, _) in _costs(evidence, hypotheses):
        if misread <= misreadings:
            yield behaviour.faults


def _explaining(
    evidence: Evidence, hypotheses: Sequence[Hypothesis], misreadings: int
) -> Iterator[tuple[Hypothesis, Cost]]:
    """The hypotheses that explain the log, each with what it leaves unexplained.

    Most of them fall at an entry that follows another, where there is less to try; only those
    left are asked about the entries before which nothing is known.
    """
    known = evidence.rows.every & ~evidence.starts
    settled = [faults for faults in hypotheses if Behaviour(evidence.machine, faults).settled]
    fallen = {
        behaviour.faults
        for behaviour, (misread, _) in _costs(evidence, settled, known)
        if misread > misreadings
    }
    left = [faults for faults in hypotheses if faults not in fallen]
    for behaviour, cost in _costs(evidence, left):
        if cost[0] <= misreadings and not behaviour.determined:
            cost = account(evidence, behaviour).cost
        if cost[0] <= misreadings:
            yield behaviour.faults, cost


def _costs(
    evidence: Evidence, hypotheses: Sequence[Hypothesis], known: Column = 0
) -> Iterator[tuple[Behaviour, Cost]]:
    """For each hypothesis, the fewest entries that must be misread, and that only smudges explain.

    Where chance has a say in what is remembered there may be more; each entry is then looked at by
    itself.

    Args:
        evidence: The log.
        hypotheses: The hypotheses.
        known: If given, only these entries count, each of which follows another, and of each
            hypothesis the code before settles what is remembered.
    """
    run = Run(evidence.rows, evidence.at_speed, 0 if known else evidence.starts)
    swept = sweep(evidence.machine, run, hypotheses, evidence.base)
    well, less = evidence.fits(swept.prints, swept.each)
    stretches = (known,) if known else evidence.stretches
    clear = swept.any_chance(well)
    for (behaviour, runs), (_, as_noted) in zip(swept.any_chance(well | less), clear, strict=True):
        if not behaviour.determined:
            runs, as_noted = [reduce(or_, runs)], [reduce(or_, as_noted)]
        costs = [
            min(
                ((some & ~rows).bit_count(), (some & rows & ~noted).bit_count())
                for rows, noted in zip(runs, as_noted, strict=True)
            )
            for some in stretches
        ]
        yield behaviour, (sum(misread for misread, _ in costs), sum(s for _, s in costs))


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


def _parts_of(faults: Hypothesis) -> Iterator[Hypothesis]:
    """Every smaller set of some of the faults, in standard order."""
    return chain.from_iterable(combinations(faults, size) for size in range(len(faults)))
