"""A hidden fault: a machine with something wrong with it, to be found at the least expense.

The fault is drawn from a number, so a club can set the same one to a whole room.  Whoever looks for
it may send characters, turn the shaft by hand, try another source, take the covers off or mend a
part, and each of these costs minutes.  At the end they say that the machine is repaired, and the
fault is shown.  The library can search for the same fault, for comparison, and a replay shows which
minutes told little.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product
from random import Random

from mechlogic.bench.checks import (
    HAND,
    LOOK,
    OIL,
    SOURCE,
    TYPE,
    Option,
    costs_of,
    doubt,
    found_by_look,
    in_reach,
    innocent,
    options,
    shares,
)
from mechlogic.bench.diagnosis import Diagnosis, diagnose, prior, signature, usual_hypotheses
from mechlogic.bench.search import look_further
from mechlogic.explaining.words import percent, the, uncapitalised
from mechlogic.helpers.kept import kept
from mechlogic.model.faults import (
    BEFORE_THE_PRINTER,
    BY_CHANCE,
    SLUGGISH,
    Fault,
    Hypothesis,
    faults_of,
    hypothesis,
    line_faults,
    rarer_faults,
    rarer_faults_of,
    single_faults,
)
from mechlogic.model.logbook import Entry, Logbook
from mechlogic.model.machine import Machine
from mechlogic.model.mechanism import did_you_mean
from mechlogic.model.steps import Memory, steps

LEVELS = {
    1: "one part that is stuck or unhooked",
    2: "one part that is sluggish",
    3: "one part that comes and goes, or a bit lost or added before the printer",
    4: "two parts at once",
    5: "two parts at once, and at least one of them comes and goes",
}
"""What each level may hold."""

SURE = 0.95
"""The library repairs a part, or says that the machine is repaired, once it is so sure."""

MENDING = 10.0
"""Minutes to clean, free or hook up one part in reach (common practice, no source)."""

MEND, HINT = "mend", "hint"
"""The kinds of a finding that are no checks: a part was mended, or a hint was asked for."""

HINTS = {
    "how many possible causes are left": 2.0,
    "what the library would do next": 5.0,
    "which part is likeliest to be at fault": 10.0,
}
"""What a student may ask, the gentlest first, and the minutes it costs (our own choice)."""

ANYTHING_BEFORE = "source"
"""What is mended to put right whatever comes before the printer."""

MOST_MOVES = 60
"""How many checks the library makes before it gives up."""


@dataclass(frozen=True)
class Sealed:
    """A hidden fault.

    Attributes:
        machine: The machine.
        level: From 1 to 5, see :data:`LEVELS`.
        seed: Any number; the same number, level and machine hold the same fault.

    Raises:
        ValueError: If there is no such level.
    """

    machine: Machine
    level: int
    seed: int

    def __post_init__(self) -> None:
        if self.level not in LEVELS:
            raise ValueError(f"there is no level {self.level}. Choose one from 1 to 5.")

    @cached_property
    def faults(self) -> Hypothesis:
        """What is wrong.  Some print can show it, or part of it."""
        rng = Random(f"{self.machine.name} {self.level} {self.seed}")
        singles = single_faults(self.machine.mechanism)
        rarer = rarer_faults(self.machine.mechanism)
        now_and_then = [f for f in (*singles, *rarer) if f.sometimes or f.mode in BY_CHANCE]
        steady = [f for f in singles if f.mode not in SLUGGISH and f.mode not in BY_CHANCE]
        kinds: dict[int, tuple[Sequence[Fault], ...]] = {
            1: (steady,),
            2: ([f for f in singles if f.mode in SLUGGISH],),
            3: ([*now_and_then, *line_faults(self.machine.mechanism)],),
            4: (singles, singles),
            5: (now_and_then, singles),
        }
        while True:
            drawn = [_drawn(rng, faults) for faults in kinds[self.level]]
            parts = {fault.part for fault in drawn}
            if len(parts) == len(drawn) and all(map(self._shows, drawn)):
                return hypothesis(self.machine.mechanism, drawn)

    def _shows(self, fault: Fault) -> bool:
        """Whether some print shows a fault of this kind, were it steady."""
        steady = (replace(fault, sometimes=False),)
        return signature(self.machine, steady) != signature(self.machine, ())

    @cached_property
    def minutes(self) -> float:
        """The budget: the dearest look, a quarter of it for each level, and mending thrice."""
        return max(costs_of(self.machine).values()) * (1 + self.level / 4) + 3 * MENDING


def _drawn(rng: Random, faults: Sequence[Fault]) -> Fault:
    """One of the faults, a kind that is met oftener more often."""
    return rng.choices(faults, [prior((fault,)) for fault in faults])[0]


@dataclass(frozen=True)
class Finding:
    """What one check found.

    Attributes:
        kind: As in :class:`~mechlogic.bench.checks.Option` but for oiling, or :data:`MEND` or
            :data:`HINT`.
        did: What was done, in a sentence.
        found: What was found, in words.
        minutes: What it cost.
        entries: What was added to the log.
        reach: What was taken off, if anything.
        parts: The parts found at fault by a look.
        right: Whether another source prints right; None if none was tried.
        part: The part that was mended, whether or not it was at fault.
        mended: The same, if it was.
    """

    kind: str
    did: str
    found: str
    minutes: float
    entries: tuple[Entry, ...] = ()
    reach: str = ""
    parts: tuple[str, ...] = ()
    right: bool | None = None
    part: str = ""
    mended: str = ""


@dataclass(frozen=True)
class Plan:
    """What the library would do next.

    Attributes:
        what: What to do, in a sentence.
        option: The check, if it is one.
        part: The part to mend, or :data:`ANYTHING_BEFORE`; empty if none.
    """

    what: str
    option: Option | None = None
    part: str = ""

    @property
    def declares(self) -> bool:
        """Whether the library would say that the machine is repaired, or give up."""
        return self.option is None and not self.part

    def agrees(self, finding: Finding) -> bool:
        """Whether this is what was done."""
        if self.option is None:
            return bool(self.part) and finding.part == self.part
        codes = tuple(entry.sent for entry in finding.entries)
        done = (finding.kind, codes, finding.reach)
        return done == (self.option.kind, self.option.codes, self.option.reach)


@dataclass(frozen=True)
class Hunt:
    """A hunt for a hidden fault, so far.  Every check gives a new one.

    Attributes:
        sealed: The fault.
        findings: What was found, in order.
        memory: What the faulty machine remembers now.
    """

    sealed: Sealed
    findings: tuple[Finding, ...] = ()
    memory: Memory | None = None

    @property
    def machine(self) -> Machine:
        """The machine at hand."""
        return self.sealed.machine

    @property
    def faults(self) -> Hypothesis:
        """What is still wrong."""
        mended = {finding.mended for finding in self.findings}
        return tuple(fault for fault in self.sealed.faults if _mended_as(fault) not in mended)

    @cached_property
    def since(self) -> tuple[Finding, ...]:
        """The findings since something was last put right: they are about the machine as it is."""
        last = max((n for n, one in enumerate(self.findings, 1) if one.mended), default=0)
        return self.findings[last:]

    @property
    def log(self) -> Logbook:
        """Everything sent and printed since something was last put right."""
        entries = (entry for finding in self.since for entry in finding.entries)
        return Logbook(tuple(entries), self.machine.code)

    @property
    def minutes(self) -> float:
        """Minutes spent."""
        return sum(finding.minutes for finding in self.findings)

    @property
    def left(self) -> float:
        """Minutes left of the budget; below 0 if it is overspent."""
        return self.sealed.minutes - self.minutes

    def typed(self, codes: Iterable[int]) -> "Hunt":
        """Send characters at speed.

        Args:
            codes: The codes, without parity.

        Raises:
            CodeError: If a number is not a code of this machine.
            ValueError: If there are none.
        """
        return self._sent(tuple(codes), TYPE)

    def turned(self, code: int) -> "Hunt":
        """Send one character and turn the shaft by hand."""
        return self._sent((code,), HAND)

    def _sent(self, codes: tuple[int, ...], kind: str) -> "Hunt":
        if not codes:
            raise ValueError("nothing was sent. Type one character or more.")
        names = [self.machine.code.name(code) for code in codes]
        rng = Random(f"{self.sealed.seed} {len(self.findings)}")
        table = steps(self.machine, self.faults, at_speed=kind == TYPE)
        memory = rng.choice(list(table)) if self.memory is None else self.memory
        entries = []
        for code in codes:
            outcomes = table[memory][code]
            seen, memory = rng.choices(list(outcomes), list(outcomes.values()))[0]
            entries.append(Entry(code, seen, "speed" if kind == TYPE else "hand"))
        did = f"{'Typed' if kind == TYPE else 'Turned by hand'} {' '.join(names)}"
        found = " ".join(entry.printed for entry in entries)
        minutes = costs_of(self.machine)[kind] * len(codes)
        return self._with(Finding(kind, did, found, minutes, tuple(entries)), memory)

    def other_source(self) -> "Hunt":
        """Send the same text from another source."""
        right = innocent(self.machine, self.faults)
        found = "it prints right" if right else "it prints as wrong as before"
        minutes = costs_of(self.machine)[SOURCE]
        did = "Sent the same text from another source"
        return self._with(Finding(SOURCE, did, found, minutes, right=right), self.memory)

    def looked(self, reach: str) -> "Hunt":
        """Take something off, look at the parts and move them by finger.

        Raises:
            ValueError: If the machine has nothing of this name to take off.
        """
        known = {part.reach for part in self.machine.mechanism if part.reach}
        if reach not in known:
            raise ValueError(
                f"there is no {reach!r} to take off. Choose {', '.join(sorted(known))}."
            )
        costs = costs_of(self.machine)
        seen = in_reach(self.machine, reach, costs)
        parts = found_by_look(self.machine, self.faults, seen)
        found = ", ".join(map(self.machine.label, parts)) or "nothing wrong with what can be seen"
        finding = Finding(LOOK, f"Looked, {reach} off", found, costs[reach], (), reach, parts)
        return self._with(finding, self.memory)

    def mend(self, part: str) -> "Hunt":
        """Clean, free or hook up one part; whatever was wrong with it is put right.

        What has to come off for it is paid for, unless it is off already.

        Args:
            part: Name of the part, or :data:`ANYTHING_BEFORE`.

        Raises:
            ValueError: If there is no such part.
        """
        machine, costs = self.machine, costs_of(self.machine)
        if part != ANYTHING_BEFORE and part not in machine.mechanism.parts:
            raise ValueError(
                f"no part is called {part!r}. {did_you_mean(part, machine.mechanism.parts)}"
            )
        label = _name_to_mend(machine, part)
        access = 0.0
        if part != ANYTHING_BEFORE:
            reach = machine.mechanism[part].reach
            access = costs[reach] if reach else 0.0
            off = (costs[one.reach] for one in self.findings if one.reach)
            access = 0.0 if any(cost >= access for cost in off) else access
        at_fault = any(_mended_as(fault) == part for fault in self.faults)
        found = "it was at fault, and is now repaired" if at_fault else "nothing was wrong with it"
        reach = machine.mechanism[part].reach if access else ""
        did, minutes = f"Repaired {label}", access + MENDING
        finding = Finding(MEND, did, found, minutes, reach=reach, part=part)
        if at_fault:
            return self._with(replace(finding, mended=part), None)
        return self._with(finding, self.memory)

    def hinted(self, asked: str) -> "Hunt":
        """Ask for a hint.

        Args:
            asked: One of :data:`HINTS`.

        Raises:
            ValueError: If there is no such hint.
        """
        if asked not in HINTS:
            raise ValueError(f"there is no hint {asked!r}. {did_you_mean(asked, HINTS)}")
        says = (self._suspects_in_words, self.plan_in_words, self._likeliest_in_words)
        found = dict(zip(HINTS, says, strict=True))[asked]()
        return self._with(Finding(HINT, f"Asked {asked}", found, HINTS[asked]), self.memory)

    def _suspects_in_words(self) -> str:
        number, well = count_suspects(self.diagnosis)
        says = {0: "no possible cause is left", 1: "one possible cause is left"}
        said = says.get(number, f"{number} possible causes are left")
        return f"{said}, or nothing is wrong at all" if well else said

    def plan_in_words(self) -> str:
        """What the library would do next, in a sentence that begins small."""
        return uncapitalised(self.plan().what).removesuffix(".")

    def _likeliest_in_words(self) -> str:
        chance = _chances(self.diagnosis)
        well = chance.pop("", 0.0)
        if not chance:
            return "none: nothing is wrong that could be found"
        part = max(chance, key=chance.__getitem__)
        said = f"{_name_to_mend(self.machine, part)} ({percent(chance[part])})"
        likelier = f"; that nothing is wrong is likelier ({percent(well)})"
        return said + likelier if well > chance[part] else said

    def follow(self, option: Option) -> "Hunt":
        """Do a check that the library advises."""
        if option.kind == TYPE:
            return self.typed(option.codes)
        if option.kind == HAND:
            return self.turned(option.codes[0])
        if option.kind == SOURCE:
            return self.other_source()
        if option.kind == LOOK:
            return self.looked(option.reach)
        raise ValueError(
            f"no hidden fault is searched for by {option.kind!r}. Type, turn by hand or look."
        )

    def _with(self, finding: Finding, memory: Memory | None) -> "Hunt":
        return Hunt(self.sealed, (*self.findings, finding), memory)

    # -- what follows from it ---------------------------------------------------------------------

    def allows(self, faults: Hypothesis) -> bool:
        """Whether a hypothesis agrees with what was found otherwise than in print."""
        return all(_allows(self.machine, finding, faults) for finding in self.since)

    @cached_property
    def diagnosis(self) -> Diagnosis:
        """What the log and everything else that was found leave, ranked.

        Every single fault is tried; if none of them explains what was found, every pair too, and
        whatever the parts that a look found at fault may have together.
        """
        machine = self.machine
        rarer = ((fault,) for fault in rarer_faults(machine.mechanism))
        known = (*usual_hypotheses(machine), *rarer)
        found = diagnose(machine, self.log, filter(self.allows, known))
        if found.suspects:
            return found
        further = look_further(machine, self.log)
        members = [faults for suspect in further.ranked for faults in suspect.members]
        return diagnose(machine, self.log, filter(self.allows, (*members, *self._of_found_parts())))

    def _of_found_parts(self) -> Iterator[Hypothesis]:
        """Every set of faults that has one of each part that a look found at fault."""
        mechanism = self.machine.mechanism
        parts = dict.fromkeys(part for finding in self.since for part in finding.parts)
        each = [(*faults_of(mechanism, p), *rarer_faults_of(mechanism, p)) for p in parts]
        if parts:
            yield from (hypothesis(mechanism, faults) for faults in product(*each))

    def advice(self) -> Option | None:
        """What the library would do next; None if nothing tells any more."""
        return next((one for one in options(self.diagnosis) if one.kind != OIL), None)

    def plan(self) -> Plan:
        """What the library would do next.

        It does the check most worth its minutes, repairs a part once it is sure of it, and stops
        once it is sure that nothing is wrong, or when nothing would tell any more.
        """
        checks = [finding for finding in self.since if finding.kind != HINT]
        part, sure = _likeliest_part(self.diagnosis)
        if checks and sure >= SURE:
            return _mending(self.machine, part) if part else _DECLARE
        option = self.advice()
        if option is not None:
            return Plan(option.what, option)
        tried = any(finding.kind == MEND for finding in checks)
        return _DECLARE if tried or not part else _mending(self.machine, part)

    def declare(self) -> "Declaration":
        """Say that the machine is repaired, and see what was wrong."""
        return Declaration(self)


_DECLARE = Plan("Say that it is repaired: no check would tell more.")


def _mending(machine: Machine, part: str) -> Plan:
    return Plan(f"Repair {_name_to_mend(machine, part)}.", part=part)


def _name_to_mend(machine: Machine, part: str) -> str:
    if part == ANYTHING_BEFORE:
        return "what comes before the printer"
    return the(machine.label(part))


def count_suspects(diagnosis: Diagnosis) -> tuple[int, bool]:
    """How many possible causes are left, and whether it may be that nothing is wrong."""
    well = [suspect for suspect in diagnosis.considered if () in suspect.members]
    return len(diagnosis.considered) - len(well), bool(well)


def _mended_as(fault: Fault) -> str:
    """What has to be mended to put a fault right."""
    return ANYTHING_BEFORE if fault.mode in BEFORE_THE_PRINTER else fault.part


def _allows(machine: Machine, finding: Finding, faults: Hypothesis) -> bool:
    if finding.right is not None:
        return innocent(machine, faults) == finding.right
    if finding.kind == LOOK:
        seen = in_reach(machine, finding.reach, costs_of(machine))
        return found_by_look(machine, faults, seen) == finding.parts
    return not finding.part or all(_mended_as(fault) != finding.part for fault in faults)


@dataclass(frozen=True)
class Declaration:
    """The end of a hunt.

    Attributes:
        hunt: The hunt.
    """

    hunt: Hunt

    @property
    def left(self) -> Hypothesis:
        """What is still wrong."""
        return self.hunt.faults

    @property
    def mended(self) -> Hypothesis:
        """What was put right."""
        return tuple(fault for fault in self.hunt.sealed.faults if fault not in self.left)

    @property
    def points(self) -> int:
        """From 0 to 100: 50 for putting everything right, shared out if there was more than one.

        The other half is for thrift, and only if all is right: the whole of it for no more minutes
        than the library took, none for ten times as many.  Where the library failed, the budget
        stands in its place.
        """
        share = len(self.mended) / len(self.hunt.sealed.faults)
        if self.left:
            return round(50 * share)
        library = library_hunt(self.hunt.sealed)
        least = self.hunt.sealed.minutes if library.left else library.hunt.minutes
        dearer = max(1.0, self.hunt.minutes / least)
        return 50 + round(50 * max(0.0, 1 - (dearer - 1) / 9))


@kept(100)
def library_hunt(sealed: Sealed) -> Declaration:
    """The library plays: it does what it advises, and mends a part once it is sure of it."""
    hunt = Hunt(sealed)
    for _ in range(MOST_MOVES):
        plan = hunt.plan()
        if plan.declares:
            break
        hunt = hunt.follow(plan.option) if plan.option else hunt.mend(plan.part)
    return hunt.declare()


def _likeliest_part(diagnosis: Diagnosis) -> tuple[str, float]:
    """The part that is likeliest to be at fault, empty if none is, and how likely that is."""
    return max(_chances(diagnosis).items(), key=lambda one: one[1], default=("", 0.0))


def _chances(diagnosis: Diagnosis) -> dict[str, float]:
    """How likely each part is to be at fault; under the empty name, that nothing is."""
    chance: dict[str, float] = defaultdict(float)
    for faults, probability in shares(diagnosis):
        for part in {_mended_as(fault) for fault in faults} or {""}:
            chance[part] += probability
    return chance


@dataclass(frozen=True)
class Move:
    """One check of a hunt, seen again.

    Attributes:
        finding: What was done and found.
        doubt_before, doubt_after: How uncertain the truth was, in bits.
        suspects_before, suspects_after: How many possible causes were left.
        instead: What the library would have done.
        wasted: Whether it cost minutes and changed next to nothing in what could be believed.
            A hint is none, nor is mending what was at fault.
    """

    finding: Finding
    doubt_before: float
    doubt_after: float
    suspects_before: int
    suspects_after: int
    instead: Plan
    wasted: bool

    @property
    def removed(self) -> float:
        """The share of the doubt that it removed, from 0 to 1; below 0 if there was more after."""
        if self.doubt_before <= 0:
            return 0.0 if self.doubt_after <= 0 else -1.0
        return (self.doubt_before - self.doubt_after) / self.doubt_before


LEAST_CHANGE = 0.02
"""The share of belief that a check must move, if it is not wasted (our own choice)."""


def replay(hunt: Hunt) -> tuple[Move, ...]:
    """Go through a hunt again, check by check."""
    return tuple(replaying(hunt))


def replaying(hunt: Hunt) -> Iterator[Move]:
    """The same, one check at a time; each may take a second or two."""
    before = Hunt(hunt.sealed)
    for number in range(1, len(hunt.findings) + 1):
        after = Hunt(hunt.sealed, hunt.findings[:number])
        yield _move(before, after)
        before = after


def _move(before: Hunt, after: Hunt) -> Move:
    finding = after.findings[-1]
    told = finding.kind == HINT or bool(finding.mended)
    return Move(
        finding,
        doubt(before.diagnosis),
        doubt(after.diagnosis),
        count_suspects(before.diagnosis)[0],
        count_suspects(after.diagnosis)[0],
        before.plan(),
        not told and _change(before.diagnosis, after.diagnosis) < LEAST_CHANGE,
    )


def _change(before: Diagnosis, after: Diagnosis) -> float:
    """How much belief has moved from some hypotheses to others, from 0 to 1."""
    had, has = dict(shares(before)), dict(shares(after))
    return sum(abs(had.get(one, 0.0) - has.get(one, 0.0)) for one in {*had, *has}) / 2
