"""From a log to a ranked list of suspects.

All hypotheses on the list are held against the log, none is skipped.  Those that explain every
entry are *consistent*; they are ranked by Bayes, with the modes' prior weights and a small chance
of misreading.  Hypotheses that no print can tell apart form one suspect.
"""

from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import count
from math import exp

from mechlogic.bench.evidence import Account, Evidence, account
from mechlogic.helpers.kept import kept
from mechlogic.helpers.refusal import TooMuch
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.faults import MODES, Hypothesis, hypothesis, line_faults, single_faults
from mechlogic.model.logbook import Logbook
from mechlogic.model.machine import Machine
from mechlogic.model.steps import Language, language
from mechlogic.model.table import Rows, Table, tabulate

HEALTHY_WEIGHT = 50.0
"""Prior weight of "nothing is wrong with the printer", on the scale of the modes' weights."""

SECOND_FAULT = 1 / 2000
"""Factor for each fault after the first.

With some 200 single faults of weight 3 to 4, two faults at once are then met about a sixth as
often as one (common practice, no source).
"""

AT_TIMES = 0.25
"""How much rarer a fault that comes and goes is than a steady one (common practice, no source)."""

LIKELY_ALL_THE_SAME = 0.05
"""The chance from which a suspect is considered although an entry must be misread if it is true."""

MOST_CODES = 512
"""The most codes that are held side by side, each after each other: those of nine bits."""

Signature = int
"""A number for what a hypothesis can print; equal for two that no print can tell apart."""


@dataclass(frozen=True)
class Suspect:
    """Hypotheses that no print can tell apart.

    Attributes:
        accounts: One for each member, likeliest first.
        probability: Chance that one of them is true, if the truth is among all that were tried.
    """

    accounts: tuple[Account, ...]
    probability: float

    @property
    def members(self) -> tuple[Hypothesis, ...]:
        """The hypotheses, likeliest first."""
        return tuple(account.faults for account in self.accounts)

    @property
    def consistent(self) -> bool:
        """Whether it explains every entry of the log."""
        return self.accounts[0].consistent

    @property
    def misfits(self) -> tuple[int, ...]:
        """The fewest entries, counted from 0, that must be misread if it is true."""
        return self.accounts[0].misfits


@dataclass(frozen=True)
class Diagnosis:
    """What a log says about a machine.

    Attributes:
        evidence: The log, on its machine.
        ranked: Every suspect, likeliest first, whether or not it explains every entry.
    """

    evidence: Evidence
    ranked: tuple[Suspect, ...]

    @property
    def machine(self) -> Machine:
        """The machine that the log was taken on."""
        return self.evidence.machine

    @cached_property
    def suspects(self) -> tuple[Suspect, ...]:
        """The suspects that explain every entry, likeliest first."""
        return tuple(suspect for suspect in self.ranked if suspect.consistent)

    @cached_property
    def doubtful(self) -> tuple[Suspect, ...]:
        """The suspects that explain all but a few entries, likeliest first."""
        return tuple(suspect for suspect in self.ranked if not suspect.consistent)

    @cached_property
    def considered(self) -> tuple[Suspect, ...]:
        """The suspects worth a restorer's time, likeliest first.

        These are the ones that explain every entry, and any other that is likely all the same,
        some entries being misread; where none explains every entry, all are worth it.
        """
        if not self.suspects:
            return self.doubtful
        return tuple(
            suspect
            for suspect in self.ranked
            if suspect.consistent or suspect.probability >= LIKELY_ALL_THE_SAME
        )

    def find(self, faults: Hypothesis) -> Suspect | None:
        """The suspect that a hypothesis belongs to, if it was tried."""
        return next((s for s in self.ranked if faults in s.members), None)


def diagnose(
    machine: Machine, log: Logbook, hypotheses: Iterable[Hypothesis] | None = None
) -> Diagnosis:
    """Hold a log against hypotheses and rank them.

    Args:
        machine: The machine that made the log.
        log: What was sent and what was printed.
        hypotheses: What to try; every single fault and the healthy machine if left out.

    Raises:
        FaultError: If a hypothesis names a part or a mode that the machine does not have.
        TooMuch: If the machine has more than :data:`MOST_CODES` codes.
        ValueError: If the log is not in the machine's code.
    """
    evidence = Evidence(machine, log)
    if hypotheses is None:
        tried = every_single(machine)
    else:
        checked = (hypothesis(machine.mechanism, faults) for faults in hypotheses)
        tried = tuple(dict.fromkeys(checked))
    accounts = [account(evidence, Behaviour(machine, faults)) for faults in tried]
    best = max((a.log_likelihood for a in accounts), default=0.0)
    weight = {a.faults: prior(a.faults) * exp(a.log_likelihood - best) for a in accounts}
    total = sum(weight.values())
    groups: dict[Signature, list[Account]] = {}
    for each in accounts:
        groups.setdefault(signature(machine, each.faults), []).append(each)
    suspects = [
        Suspect(
            tuple(sorted(group, key=lambda a: (-weight[a.faults], a.faults))),
            sum(weight[a.faults] for a in group) / total,
        )
        for group in groups.values()
    ]
    return Diagnosis(evidence, tuple(sorted(suspects, key=_rank)))


def _rank(suspect: Suspect) -> tuple[float, Hypothesis]:
    return (-suspect.probability, suspect.members[0])


def every_single(machine: Machine) -> tuple[Hypothesis, ...]:
    """The healthy machine and every single fault."""
    return ((), *((fault,) for fault in single_faults(machine.mechanism)))


def usual_hypotheses(machine: Machine) -> tuple[Hypothesis, ...]:
    """What a restorer should think of first: all single faults, and those before the printer."""
    before = ((fault,) for fault in line_faults(machine.mechanism))
    return (*every_single(machine), *before)


def prior(faults: Hypothesis) -> float:
    """Prior weight of a hypothesis: the product of its faults' weights.

    Only ratios matter.  The weights are common practice, no source.
    """
    if not faults:
        return HEALTHY_WEIGHT
    weight = SECOND_FAULT ** (len(faults) - 1)
    for fault in faults:
        weight *= MODES[fault.mode].weight * (AT_TIMES if fault.sometimes else 1)
    return weight


def classes(machine: Machine) -> tuple[tuple[Hypothesis, ...], ...]:
    """Single faults sorted into classes that no print can tell apart.

    The class that holds the healthy machine ``()`` holds the faults that no print can show.
    """
    groups: dict[Signature, list[Hypothesis]] = {}
    for faults in every_single(machine):
        groups.setdefault(signature(machine, faults), []).append(faults)
    return tuple(tuple(group) for group in groups.values())


@kept(100_000)
def signature(machine: Machine, faults: Hypothesis) -> Signature:
    """A number that stands for everything a hypothesis can print.

    That is what it can print at first and by hand for every code, and at speed for every pair of
    codes.  Two hypotheses have one signature just when they allow the same logs.  Where the code
    before does not settle what is remembered, it is all that can be seen of any text.
    """
    behaviour = Behaviour(machine, faults)
    found: dict[tuple[str, str], int] = defaultdict(int)

    def add(when: str, table: Table, rows: Rows) -> None:
        for print_, there in machine.prints(table, rows).items():
            found[when, print_] |= there

    known, numbers = _signatures(machine)
    if behaviour.settled:
        before, now, base = _pairs(machine)
        codes = machine.rows(range(len(machine.code)))
        for world in behaviour.worlds():
            add("at first", behaviour.table(codes, codes.every, world), codes)
            add("by hand", behaviour.table(codes, 0, world), codes)
            if world.memory == behaviour.memories[0]:
                add("at speed", behaviour.table_after(before, now, world, base), now)
        return known.setdefault(frozenset(found.items()), next(numbers))
    told = language(machine, faults)
    settled = None if machine.mechanism.latches else _as_if_settled(told)
    return known.setdefault(settled or told, next(numbers))


def _as_if_settled(told: Language) -> frozenset[tuple[tuple[str, str], int]] | None:
    """The same as for a hypothesis that the code before settles, if it does so in effect."""
    after = told.after_each()
    if after is None:
        return None
    found: dict[tuple[str, str], int] = defaultdict(int)
    n = told.n_codes
    for code in range(n):
        for when, way in (("at first", code), ("by hand", code + n)):
            for seen, _ in told.leads[0][way]:
                found[when, seen] |= 1 << code
        for before, situation in enumerate(after):
            for seen, _ in told.leads[situation][code]:
                found["at speed", seen] |= 1 << before * n + code
    return frozenset(found.items())


@kept(None)  # without bound, or the numbering would start anew while old numbers are in use
def _signatures(machine: Machine) -> tuple[dict[Hashable, Signature], Iterator[Signature]]:
    """The signatures given so far, and numbers not given yet.

    A number is compared sooner than all it stands for.  No number is ever drawn twice, also where
    two threads diagnose at once.
    """
    return {}, count()


@kept(1)
def _pairs(machine: Machine) -> tuple[Rows, Rows, Table]:
    """Every code after every other: the codes before, the codes now, and the healthy table."""
    sendable = range(len(machine.code))
    if len(sendable) > MOST_CODES:
        raise TooMuch(
            f"{len(sendable):,} codes follow one another in {len(sendable) ** 2:,} ways, too many "
            f"to tell faults apart by; {MOST_CODES} codes are the most",
            "Describe a part of the machine that fewer bits set, and diagnose that",
        )
    before = machine.rows(code for code in sendable for _ in sendable)
    now = machine.rows(code for _ in sendable for code in sendable)
    return before, now, tabulate(machine.mechanism, now)
