"""All hypotheses that explain a log: every smallest set of faults, found exactly.

A set of faults is *minimal* if it explains every entry and no part of it does.  The search tries
every set of one fault, then every set of two, then, on request, of three.  Sets that hold a
smaller one that already explains the log are passed over, since they are not minimal.  No other
set is passed over, ever.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from mechlogic.behaviour import Behaviour
from mechlogic.diagnosis import Diagnosis, diagnose, every_single
from mechlogic.evidence import Evidence, account
from mechlogic.faults import DISCONNECTED, UNKNOWN, Fault, Hypothesis, rarer_faults, single_faults
from mechlogic.logbook import Logbook
from mechlogic.machine import Machine
from mechlogic.sweep import Run, sweep

SETS_AT_ONCE = 500
"""How many hypotheses are laid out in one table."""


@dataclass(frozen=True)
class Findings:
    """What a search found.

    Attributes:
        minimal: Every minimal set of faults within the bound, smallest first.
        most: The bound: how many faults a set may have.
        tried: How many sets were tried.
    """

    minimal: tuple[Hypothesis, ...]
    most: int
    tried: int


def minimal_sets(
    evidence: Evidence, most: int = 2, faults: Iterable[Fault] | None = None
) -> Findings:
    """Find every minimal set of at most *most* faults that explains every entry of a log.

    Args:
        evidence: The log, on its machine.
        most: The largest number of faults in a set.
        faults: The single faults to combine; all that the machine can have if left out.
    """
    singles = tuple(single_faults(evidence.machine.mechanism) if faults is None else faults)
    found: list[Hypothesis] = []
    tried = 0
    for size in range(most + 1):
        sets = [faults for faults in _sets(singles, size) if not _holds_any(faults, found)]
        tried += len(sets)
        for start in range(0, len(sets), SETS_AT_ONCE):
            some = sets[start : start + SETS_AT_ONCE]
            found += [
                faults for faults in candidates(evidence, some) if _explains(evidence, faults)
            ]
    return Findings(tuple(found), most, tried)


def look_further(machine: Machine, log: Logbook, most: int = 2) -> Diagnosis:
    """Diagnose with every hypothesis that the library knows.

    Besides every steady single fault these are the single faults that come and go, faults on no
    list, and every minimal set of up to *most* faults.

    Args:
        machine: The machine that made the log.
        log: What was sent and what was printed.
        most: The largest number of faults in a set.

    Raises:
        ValueError: If the log is not in the machine's code.
    """
    evidence = Evidence(machine, log)
    rarer = [(fault,) for fault in rarer_faults(machine.mechanism)]
    known = [*single_faults(machine.mechanism), *(f for (f,) in rarer if f.mode == UNKNOWN.name)]
    sets = minimal_sets(evidence, most, known).minimal
    tried = (*every_single(machine), *candidates(evidence, rarer), *sets)
    return diagnose(machine, log, dict.fromkeys(tried))


def candidates(evidence: Evidence, hypotheses: Sequence[Hypothesis]) -> Iterator[Hypothesis]:
    """The hypotheses of which some world fits each entry, looked at by itself.

    Every hypothesis that explains the log is among them.
    """
    if not evidence.log.entries:
        yield from hypotheses
        return
    run = Run(evidence.rows, evidence.at_speed, evidence.starts)
    swept = sweep(evidence.machine, run, hypotheses)
    well, less = evidence.fits(swept.prints, swept.each)
    for behaviour, rows in swept.any_world(well | less):
        if rows == evidence.rows.every:
            yield behaviour.faults


def _explains(evidence: Evidence, faults: Hypothesis) -> bool:
    behaviour = Behaviour(evidence.machine, faults)
    return behaviour.settled or account(evidence, behaviour).consistent


def _sets(singles: tuple[Fault, ...], size: int) -> Iterator[Hypothesis]:
    """Every set of so many faults that one machine can have at once, in standard order."""
    for faults in combinations(sorted(singles), size):
        own = [fault.part for fault in faults if fault.mode != DISCONNECTED.name]
        if len(set(own)) == len(own):
            yield faults


def _holds_any(faults: Hypothesis, smaller: list[Hypothesis]) -> bool:
    return any(set(one) <= set(faults) for one in smaller)
