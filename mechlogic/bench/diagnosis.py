"""From a log to a ranked list of suspects.

All hypotheses on the list are held against the log, none is skipped.  Those that explain every
entry are *consistent*; they are ranked by Bayes, with the modes' prior weights and a small chance
of misreading.  Hypotheses that no print can tell apart form one suspect.  That it is something
that is not on the list is weighed beside them.
"""

from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, count
from math import exp, fsum

from mechlogic.bench.evidence import Account, Evidence, account
from mechlogic.bench.open_world import Cause, causes, log_sum
from mechlogic.helpers.kept import kept
from mechlogic.helpers.refusal import TooMuch
from mechlogic.model.behaviour import Behaviour, World
from mechlogic.model.faults import (
    MODES,
    WORN_TYPE,
    Fault,
    Hypothesis,
    assembly_faults,
    hypothesis,
    latch_faults,
    line_faults,
    single_faults,
)
from mechlogic.model.logbook import NOTHING, UNREADABLE, Logbook, from_lines
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import OUTPUT
from mechlogic.model.steps import Language, language
from mechlogic.model.table import Rows, Table, tabulate
from mechlogic.model.type_faults import type_faults

HEALTHY_WEIGHT = 50.0
"""Prior weight of "nothing is wrong with the printer", on the scale of the modes' weights."""

SECOND_FAULT = 1 / 2000
"""Factor for each fault after the first.

With some 200 single faults of weight 3 to 4, two faults at once are then met about a sixth as
often as one (common practice, no source).
"""

AGAIN_WORN = 1 / 100
"""Factor for each worn character after the first: one dirty wheel has several of them.

With 64 characters, two are then worn about a third as often as one (common practice, no source).
"""

MOST_WORN = 4
"""How many characters that are missing or unreadable are thought of as worn together."""

NEGLIGIBLE = 1e-250
"""The chance below which a suspect is left out: nothing that is done with it would tell."""

OFF_LIST = 0.1
"""The chance that it is something that is not on the list, before anything is known (common
practice, no source)."""

ENOUGH = 0.5
"""The chance that the list is enough, below which it is worth looking further."""

AT_TIMES = 0.25
"""How much rarer a fault that comes and goes is than a steady one (common practice, no source)."""

LIKELY_ALL_THE_SAME = 0.05
"""The chance from which a suspect is considered although an entry must be misread if it is true."""

MOST_CODES = 512
"""The most codes that are held side by side, each after each other: those of nine bits."""

Signature = int
"""A number for what a hypothesis can print; equal for two that no print can tell apart."""


@dataclass(frozen=True, repr=False)
class Suspect:
    """Hypotheses that no print can tell apart.

    Attributes:
        accounts: One for each member, likeliest first.
        probability: Chance that one of them is true; with all other suspects, and with the chance
            that the truth is not on the list, they add up to one.
    """

    accounts: tuple[Account, ...]
    probability: float

    def __repr__(self) -> str:
        first = " and ".join(map(str, self.members[0])) or "nothing is wrong"
        others = len(self.members) - 1
        unlike = f", {len(self.misfits)} entries against it" if self.misfits else ""
        alike = f" or {others} that print alike" if others else ""
        return f"<Suspect {self.probability:.2%} {first}{alike}{unlike}>"

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


@dataclass(frozen=True, repr=False)
class Diagnosis:
    """What a log says about a machine.

    Attributes:
        evidence: The log, on its machine.
        ranked: Every suspect, likeliest first, whether or not it explains every entry.
        off_list: Chance that the truth is not on the list; 0 if that was not weighed.
        unlisted: What it then could be, likeliest first, as far as anything is known of it.
    """

    evidence: Evidence
    ranked: tuple[Suspect, ...]
    off_list: float = 0.0
    unlisted: tuple[Cause, ...] = ()

    def __repr__(self) -> str:
        n, named = len(self.suspects), self.machine.name
        lines = [
            f"<Diagnosis of {named}: {n} suspects explain all {len(self.evidence.log)} entries; "
            f"{self.off_list:.2%} not on the list>"
        ]
        return "\n  ".join([*lines, *map(repr, self.considered[:5])])

    @property
    def machine(self) -> Machine:
        """The machine that the log was taken on."""
        return self.evidence.machine

    @property
    def enough(self) -> float:
        """Chance that the list is enough: that the truth is on it."""
        return 1 - self.off_list

    @cached_property
    def suspects(self) -> tuple[Suspect, ...]:
        """The suspects that explain every entry, likeliest first."""
        return tuple(suspect for suspect in self.ranked if suspect.consistent)

    @cached_property
    def considered(self) -> tuple[Suspect, ...]:
        """The suspects worth a restorer's time, likeliest first.

        These are the ones that explain every entry, and any other that is likely all the same,
        some entries being misread; where none explains every entry, all are worth it.  Those that
        are all but impossible beside the others are left out.
        """
        likely = [suspect for suspect in self.ranked if suspect.probability >= NEGLIGIBLE]
        explain = [suspect for suspect in likely if suspect.consistent]
        if not explain:
            return tuple(likely)
        return tuple(
            suspect
            for suspect in likely
            if suspect.consistent or suspect.probability >= LIKELY_ALL_THE_SAME
        )

    def find(self, faults: Hypothesis) -> Suspect | None:
        """The suspect that a hypothesis belongs to, if it was tried."""
        return next((s for s in self.ranked if faults in s.members), None)


def diagnose(
    machine: Machine,
    log: Logbook | str,
    hypotheses: Iterable[Hypothesis] | str | None = None,
    off_list: float | None = None,
) -> Diagnosis:
    """Hold a log against hypotheses and rank them.

    Args:
        machine: The machine that made the log.
        log: What was sent and what was printed; or the line that was sent, and
            :func:`.from_lines` then takes the line that was printed from the next argument:
            ``diagnose(machine, "TIDE", "TYDE")``.
        hypotheses: What to try; the :func:`usual_hypotheses` of this log if left out.
        off_list: The chance that it is something else than the usual hypotheses, before anything is
            known; if left out, :data:`OFF_LIST`, or 0 if it is said what to try.

    Raises:
        FaultError: If a hypothesis names a part or a mode that the machine does not have.
        TooMuch: If the machine has more than :data:`MOST_CODES` codes.
        LogbookError: If two lines make no log.
        ValueError: If the log is not in the machine's code.
    """
    if isinstance(log, str):
        log, hypotheses = from_lines(log, str(hypotheses or ""), machine.code), None
    evidence = Evidence(machine, log)
    if hypotheses is None or isinstance(hypotheses, str):
        tried = usual_hypotheses(machine, log)
        off_list = OFF_LIST if off_list is None else off_list
    else:
        checked = (hypothesis(machine.mechanism, faults) for faults in hypotheses)
        tried = tuple(dict.fromkeys(checked))
    accounts = [account(evidence, Behaviour(machine, faults)) for faults in tried]
    unlisted = causes(evidence) if off_list else ()
    likelihoods = [a.log_likelihood for a in accounts]
    if unlisted:
        likelihoods.append(log_sum(cause.log_chance for cause in unlisted))
    best = max(likelihoods, default=0.0)
    weight = {a.faults: prior(a.faults) * exp(a.log_likelihood - best) for a in accounts}
    other = 0.0
    if off_list:
        other = off_list / (1 - off_list) * _usual_weight(machine) * exp(likelihoods[-1] - best)
    total = sum(weight.values()) + other
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
    return Diagnosis(
        evidence, tuple(sorted(suspects, key=_rank)), other and other / total, unlisted
    )


def _rank(suspect: Suspect) -> tuple[float, Hypothesis]:
    return (-suspect.probability, suspect.members[0])


def every_single(machine: Machine) -> tuple[Hypothesis, ...]:
    """The healthy machine and every single fault."""
    return ((), *((fault,) for fault in single_faults(machine.mechanism)))


def usual_hypotheses(machine: Machine, log: Logbook | None = None) -> tuple[Hypothesis, ...]:
    """What a restorer should think of first.

    That is every single fault of a part, those before the printer, those of the type, and two parts
    put back in each other's place; and, if a log is given, the characters that are missing or
    unreadable in it, worn together.
    """
    mechanism = machine.mechanism
    more = (
        *line_faults(mechanism),
        *latch_faults(mechanism),
        *type_faults(machine),
        *assembly_faults(mechanism),
    )
    worn = worn_together(Evidence(machine, log)) if log else ()
    return (*every_single(machine), *((fault,) for fault in more), *worn)


@kept(1)
def _usual_weight(machine: Machine) -> float:
    """The prior weight of all usual hypotheses together."""
    return fsum(map(prior, usual_hypotheses(machine)))


def worn_together(evidence: Evidence) -> tuple[Hypothesis, ...]:
    """Sets of two and more worn characters, of those that are missing or unreadable in a log."""
    missing = dict.fromkeys(
        good
        for goods, seen in zip(evidence.good, evidence.printed, strict=True)
        for good in goods
        if seen in (NOTHING, UNREADABLE) and seen not in goods
    )
    known = set(type_faults(evidence.machine))
    faults = [f for f in (Fault(OUTPUT, WORN_TYPE.name, glyph) for glyph in missing) if f in known]
    sizes = range(2, len(faults) + 1) if len(faults) <= MOST_WORN else ()
    return tuple(tuple(sorted(some)) for size in sizes for some in combinations(faults, size))


def prior(faults: Hypothesis) -> float:
    """Prior weight of a hypothesis: the product of its faults' weights.

    Only ratios matter.  The weights are common practice, no source.
    """
    if not faults:
        return HEALTHY_WEIGHT
    again_worn = max(0, sum(fault.mode == WORN_TYPE.name for fault in faults) - 1)
    weight = SECOND_FAULT ** (len(faults) - again_worn - 1) * AGAIN_WORN**again_worn
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

    def add(when: str, table: Table, rows: Rows, world: World) -> None:
        for print_, there in behaviour.prints(table, rows, world).items():
            found[when, print_] |= there

    known, numbers = _signatures(machine)
    if behaviour.settled:
        before, now, base = _pairs(machine)
        codes = machine.rows(range(len(machine.code)))
        for world in behaviour.worlds():
            add("at first", behaviour.table(codes, codes.every, world), codes, world)
            add("by hand", behaviour.table(codes, 0, world), codes, world)
            if world.memory == behaviour.memories[0]:
                add("at speed", behaviour.table_after(before, now, world, base), now, world)
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
