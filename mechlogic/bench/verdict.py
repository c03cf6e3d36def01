"""Is my hypothesis right?  One hypothesis held against a log and against its rivals."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from mechlogic.bench.advice import Check, next_check
from mechlogic.bench.diagnosis import Diagnosis, Suspect, diagnose, usual_hypotheses
from mechlogic.bench.evidence import Account, account, predictions
from mechlogic.bench.story import how
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.faults import Fault, hypothesis
from mechlogic.model.logbook import Logbook
from mechlogic.model.machine import Machine


@dataclass(frozen=True)
class Verdict:
    """What a log says about one hypothesis.

    Attributes:
        account: How well the hypothesis accounts for the log.
        predictions: For each entry, everything that may be printed if it is true.
        contradictions: Entries, counted from 0, that the hypothesis cannot have printed.
        rivals: Other suspects that explain every entry, likeliest first.
        alike: Members of the same class: no print can tell them from the hypothesis.
        decider: The characters that would decide between it and its rivals, or None.
        story: How the hypothesis makes these misprints.
    """

    account: Account
    predictions: tuple[frozenset[str], ...]
    contradictions: tuple[int, ...]
    rivals: tuple[Suspect, ...]
    alike: tuple[tuple[Fault, ...], ...]
    decider: Check | None
    story: str


def judge(machine: Machine, log: Logbook, faults: Iterable[Fault]) -> Verdict:
    """Hold one hypothesis against a log and against the usual ones.

    Args:
        machine: The machine that made the log.
        log: What was sent and what was printed.
        faults: The faults believed to be present, all at once; none for "it is healthy".

    Raises:
        FaultError: For a part or a mode that the machine does not have, with near names.
    """
    mine = hypothesis(machine.mechanism, faults)
    diagnosis = diagnose(machine, log, (mine, *usual_hypotheses(machine, log)))
    own = diagnosis.find(mine)
    assert own is not None
    behaviour = Behaviour(machine, mine)
    told = account(diagnosis.evidence, behaviour)
    rivals = tuple(suspect for suspect in diagnosis.suspects if suspect is not own)
    decider = next_check(_on_a_par(diagnosis, own, *rivals)) if own.consistent and rivals else None
    return Verdict(
        account=told,
        predictions=predictions(diagnosis.evidence, behaviour),
        contradictions=told.misfits,
        rivals=rivals,
        alike=tuple(faults for faults in own.members if faults != mine),
        decider=decider,
        story=how(diagnosis.evidence, behaviour, told),
    )


def _on_a_par(diagnosis: Diagnosis, *suspects: Suspect) -> Diagnosis:
    """The suspects as if all were equally likely: what decides must not lean on the ranking."""
    share = 1 / len(suspects)
    equal = tuple(replace(suspect, probability=share) for suspect in suspects)
    return Diagnosis(diagnosis.evidence, equal)
