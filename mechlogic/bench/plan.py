"""A plan of checks: what to do first, what then, and the minutes until the part is found.

Typing costs next to nothing, so it comes first, as long as it tells more than it costs; several
characters are typed as one line.  Then things are taken off in the order that finds the part
soonest.  What is taken off once stays off: the parts behind it are looked at, and those that are
stiff are cleaned and oiled, in one go.

The order is that of the greatest chance for each minute, which for looks one after the other is the
quickest on average (W. Smith, Various optimizers for single-stage production, Naval Research
Logistics Quarterly 3, 1956).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from mechlogic.bench.advice import Check, next_line
from mechlogic.bench.checks import (
    LOOK,
    OILING,
    SOURCE,
    TYPE,
    costs_of,
    found_by_look,
    in_reach,
    innocent,
    reaches,
    shares,
)
from mechlogic.bench.diagnosis import Diagnosis
from mechlogic.explaining.words import listed, the
from mechlogic.model.faults import Hypothesis
from mechlogic.model.machine import Machine

SURE = 0.95
"""From this chance of one possible cause on, typing more is not worth the time."""

MOST_NAMED = 3
"""How many parts, the likeliest ones, a look names."""


@dataclass(frozen=True)
class Step:
    """One step of a plan.

    Attributes:
        kind: :data:`~mechlogic.bench.checks.TYPE`, ``SOURCE`` or ``LOOK``.
        what: What to do, in a sentence.
        minutes: What it costs.
        comes: The chance that it comes to this step.
        ends: The chance that the plan ends with it, if it comes to it.
        codes: What to send, without parity, if anything.
        reach: What to take off, if anything.
    """

    kind: str
    what: str
    minutes: float
    comes: float
    ends: float
    codes: tuple[int, ...] = ()
    reach: str = ""


@dataclass(frozen=True)
class Plan:
    """Steps one after the other, until the part is found.

    Attributes:
        steps: The steps.
        minutes: What it costs on average, if the truth is among all that were tried.
    """

    steps: tuple[Step, ...]

    @property
    def minutes(self) -> float:
        """The minutes that it takes on average."""
        return sum(step.comes * step.minutes for step in self.steps)


def plan(diagnosis: Diagnosis, minutes: Mapping[str, float] | None = None) -> Plan:
    """What to do, in which order, until the part at fault is found.

    A typed line comes first, if it tells; what to do after it depends on what it prints, so the
    looks behind it are for the case that it changes nothing.

    Args:
        diagnosis: What the log has said so far.
        minutes: What each kind of effort costs; those left out are as the machine's description
            says.

    Raises:
        ValueError: If an effort costs no time or less.
    """
    machine = diagnosis.machine
    costs = costs_of(machine, minutes)
    members = shares(diagnosis)
    steps: list[Step] = []
    top = diagnosis.considered[0].probability if diagnosis.considered else 1.0
    check = next_line(diagnosis) if top < SURE else None
    if check is not None:
        steps.append(_typing(machine, check, costs))
    elsewhere = sum(share for faults, share in members if faults and innocent(machine, faults))
    left = list(members)
    if elsewhere * _dearest(machine, costs) > costs[SOURCE]:
        what = "Send the same text from another source: if it prints right, the printer is sound."
        steps.append(Step(SOURCE, what, costs[SOURCE], 1.0, elsewhere))
        left = [(faults, share) for faults, share in left if not innocent(machine, faults)]
    steps += _looks(machine, left, costs)
    return Plan(tuple(steps))


def _typing(machine: Machine, check: Check, costs: Mapping[str, float]) -> Step:
    names = " ".join(machine.code.name(code) for code in check.codes)
    one = len(check.codes) == 1
    what = f"Type {names}{'' if one else ' as one line, without a pause'}, and read the paper."
    return Step(TYPE, what, costs[TYPE] * len(check.codes), 1.0, 0.0, check.codes)


def _dearest(machine: Machine, costs: Mapping[str, float]) -> float:
    return max((costs[reach] for reach in reaches(machine)), default=0.0)


def _looks(
    machine: Machine, members: Sequence[tuple[Hypothesis, float]], costs: Mapping[str, float]
) -> list[Step]:
    """What to take off, one after the other, and which parts to look at first."""
    left = {faults: share for faults, share in members if faults}
    whole = sum(left.values()) or 1.0
    steps, off = [], frozenset[str]()
    while left:
        found = {
            reach: sum(
                share for faults, share in left.items() if _seen(machine, faults, reach, costs)
            )
            for reach in reaches(machine)
            if reach not in off
        }
        if not any(found.values()):
            break
        best = max(found, key=lambda reach: found[reach] / costs[reach])
        comes = sum(left.values())
        named = dict[str, float]()
        for faults, share in list(left.items()):
            if at_fault := _seen(machine, faults, best, costs):
                del left[faults]
                for part in at_fault:
                    named[part] = named.get(part, 0.0) + share
        first = sorted(named, key=lambda part: -named[part])[:MOST_NAMED]
        parts = listed([the(machine.label(part)) for part in first])
        more = "" if len(named) <= MOST_NAMED else f", then at the {len(named) - MOST_NAMED} others"
        what = (
            f"Take the {best} off. Look first at {parts}{more}; move each by finger, and clean and "
            "oil what is stiff while it is open."
        )
        cost = costs[best] + OILING
        steps.append(Step(LOOK, what, cost, comes / whole, found[best] / comes, reach=best))
        off |= {reach for reach in reaches(machine) if costs[reach] <= costs[best]}
    return steps


def _seen(
    machine: Machine, faults: Hypothesis, reach: str, costs: Mapping[str, float]
) -> tuple[str, ...]:
    return found_by_look(machine, faults, in_reach(machine, reach, costs))
