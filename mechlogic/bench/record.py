"""The record of one repair: what was seen, suspected, tried, found and done, and did it help.

A record only ever grows: every ``adding_…`` gives a new record that holds everything the old one
held.  It knows no clock; whoever adds to it says which day it is.  How it is kept on disk is
:mod:`mechlogic.bench.record_file`'s business.
"""

import hashlib
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import MISSING, dataclass, fields, is_dataclass, replace
from datetime import date
from itertools import takewhile
from typing import Any, Literal, Self, TypeVar, get_args

from mechlogic.bench.checks import reaches
from mechlogic.bench.diagnosis import Diagnosis
from mechlogic.bench.story import NOT_LISTED, suspect_label
from mechlogic.explaining.words import believed
from mechlogic.model.codes import SEVEN_UNIT, Code
from mechlogic.model.faults import MODES, Fault
from mechlogic.model.logbook import FORGOTTEN, Entry, Logbook
from mechlogic.model.machine import Declared, Fold, Machine, Run
from mechlogic.model.outputs import Type

__all__ = [
    "Acceptance",
    "CheckMade",
    "Finding",
    "MachineNamed",
    "Note",
    "Record",
    "Suspicion",
    "actions",
    "digest_of",
    "standing",
    "suspicions",
]

TYPED, TURNED, OILED, OTHER = "typed", "turned by hand", "oiled", "other"
LOOKED = "looked with the {reach} off"
"""What a check can consist in on any machine; what has to come off is each machine's own."""

Result = Literal["passed", "failed"]

MAX_LINE = 300
"""The longest name, label or heading, in characters."""

MAX_TEXT = 5_000
"""The longest free text, in characters."""

MAX_SENT = 20_000
"""The longest acceptance text, in characters: more than all transitions of a seven-unit code."""

MAX_ITEMS = 1_000
"""The most checks, findings, remedies and so on, of each."""

MAX_MINUTES = 6_000
"""The longest check, in minutes: a hundred hours."""


@dataclass(frozen=True, slots=True)
class MachineNamed:
    """Which machine was repaired.

    Attributes:
        name: The short name in its description.
        title: Its full name, or the plate on its side: whatever tells it from its sisters.
        digest: :func:`digest_of` its description on the day the record was opened.
        serial: The serial number, if it has one.
        owner: Whose it is.
    """

    name: str
    title: str
    digest: str
    serial: str = ""
    owner: str = ""

    def __post_init__(self) -> None:
        for each in fields(self):
            _check_line(each.name, getattr(self, each.name))

    @property
    def key(self) -> tuple[str, str, str]:
        """What tells one machine from its sisters: kind, serial number and owner."""
        return self.name, self.serial, self.owner


@dataclass(frozen=True, slots=True)
class Suspicion:
    """One suspect, as the log stood on a day.

    Attributes:
        on: The day.
        entries: How many entries the log had.
        label: Who is suspected, in words.
        probability: How likely it was, in words: ``"78 %"``.
    """

    on: date
    entries: int
    label: str
    probability: str

    def __post_init__(self) -> None:
        if isinstance(self.entries, bool) or self.entries < 0:
            raise ValueError("entries: a log has none, or some, but not fewer")
        _check_line("label", self.label)
        _check_line("probability", self.probability)


@dataclass(frozen=True, slots=True)
class CheckMade:
    """One thing that was tried in order to know more.

    Attributes:
        on: The day.
        done: What was done, one of :func:`actions`.
        advised: What had been advised, if anything.
        outcome: What came of it.
        minutes: How long it took.
        corrects: The number, from 1, of an earlier check that this one replaces; 0 for none.
    """

    on: date
    done: str
    advised: str = ""
    outcome: str = ""
    minutes: float = 0
    corrects: int = 0

    def __post_init__(self) -> None:
        _check_line("done", self.done)
        looked = re.fullmatch(LOOKED.format(reach=r"\S.*"), self.done)
        if not looked and self.done not in (TYPED, TURNED, OILED, OTHER):
            usual = ", ".join((TYPED, TURNED, LOOKED.format(reach="…"), OILED, OTHER))
            raise ValueError(f"done: {self.done!r} is none of {usual}")
        _check_text("advised", self.advised)
        _check_text("outcome", self.outcome)
        if isinstance(self.minutes, bool) or not (
            math.isfinite(self.minutes) and 0 <= self.minutes <= MAX_MINUTES
        ):
            raise ValueError(f"minutes: {self.minutes} is not between 0 and {MAX_MINUTES}")


@dataclass(frozen=True, slots=True)
class Finding:
    """What was found to be wrong: faults from the list, or something in free text, or both.

    Attributes:
        on: The day.
        faults: The faults, as :class:`mechlogic.Fault`.
        text: Anything else; needed if there is no fault.
        corrects: The number, from 1, of an earlier finding that this one replaces; 0 for none.
    """

    on: date
    faults: tuple[Fault, ...] = ()
    text: str = ""
    corrects: int = 0

    def __post_init__(self) -> None:
        if not self.faults and not self.text.strip():
            raise ValueError("text: say what was found, or name a fault")
        if len(self.faults) > MAX_ITEMS:
            raise ValueError(f"faults: more than {MAX_ITEMS}")
        for fault in self.faults:
            if fault.mode not in MODES:
                raise ValueError(f"faults: no mode is called {fault.mode!r}")
            _check_line("faults", fault.part)
            _check_line("faults", fault.input)
        _check_text("text", self.text)


@dataclass(frozen=True, slots=True)
class Acceptance:
    """A text sent after the repair, to see whether all is well.

    Attributes:
        on: The day.
        sent: The text.
        result: ``"passed"`` or ``"failed"``; ``acceptance.trial.judged`` says which.
        remark: Anything else.
        printed: What was printed of it; empty in records that do not say.
        corrects: The number, from 1, of an earlier test that this one replaces; 0 for none.
    """

    on: date
    sent: str
    result: Result
    remark: str = ""
    printed: str = ""
    corrects: int = 0

    def __post_init__(self) -> None:
        _check_text("sent", self.sent, MAX_SENT)
        if not self.sent.strip():
            raise ValueError("sent: write the text that was sent")
        if self.result not in get_args(Result):
            raise ValueError(f"result: {self.result!r} is neither passed nor failed")
        _check_text("remark", self.remark)
        _check_text("printed", self.printed, MAX_SENT)


@dataclass(frozen=True, slots=True)
class Note:
    """Words with a day: a remedy, or anything else worth keeping.

    Attributes:
        on: The day.
        text: The words.
        corrects: The number, from 1, of an earlier note that this one replaces; 0 for none.
    """

    on: date
    text: str
    corrects: int = 0

    def __post_init__(self) -> None:
        _check_text("text", self.text)
        if not self.text.strip():
            raise ValueError("text: write something first")


@dataclass(frozen=True, slots=True)
class Record:
    """The record of one repair.

    Attributes:
        machine: Which machine.
        repair: What the repair is called, on one line.
        opened: The day it began.
        closed: The day it was done with, if it is.
        restorer: Who did it.
        code: The code of the log.
        entries: The log.
        suspects: Who was suspected, in the order in which it was written down.
        checks, findings, remedies, acceptances, notes: As they were written down.

    Raises:
        ValueError: If a text is too long, there is too much of anything, or a day is out of place.
    """

    machine: MachineNamed
    repair: str
    opened: date
    closed: date | None = None
    restorer: str = ""
    code: Code = SEVEN_UNIT
    entries: tuple[Entry, ...] = ()
    suspects: tuple[Suspicion, ...] = ()
    checks: tuple[CheckMade, ...] = ()
    findings: tuple[Finding, ...] = ()
    remedies: tuple[Note, ...] = ()
    acceptances: tuple[Acceptance, ...] = ()
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        _check_line("repair", self.repair)
        if not self.repair.strip():
            raise ValueError("repair: give the repair a name")
        _check_line("restorer", self.restorer)
        if self.closed and self.closed < self.opened:
            raise ValueError(f"closed: {self.closed} is before the day it began, {self.opened}")
        Logbook(self.entries, self.code)  # has limits of its own
        for kept in ("suspects", "checks", "findings", "remedies", "acceptances", "notes"):
            if len(getattr(self, kept)) > MAX_ITEMS:
                raise ValueError(f"{kept}: more than {MAX_ITEMS}; open a second record")
        for kept in ("checks", "findings", "remedies", "acceptances", "notes"):
            for number, item in enumerate(getattr(self, kept), start=1):
                if not 0 <= item.corrects < number:
                    what = f"item {number} corrects item {item.corrects}"
                    raise ValueError(f"{kept}: {what}, which does not stand before it")

    @classmethod
    def opening(
        cls,
        machine: Machine,
        repair: str,
        opened: date,
        restorer: str = "",
        serial: str = "",
        owner: str = "",
    ) -> Self:
        """A new record, nothing written down yet."""
        title = _one_line(machine.title)
        named = MachineNamed(machine.name, title, digest_of(machine), serial, owner)
        return cls(named, repair, opened, restorer=restorer, code=machine.code)

    @property
    def log(self) -> Logbook:
        """The log, ready for a diagnosis."""
        return Logbook(self.entries, self.code, self.repair)

    @property
    def minutes(self) -> float:
        """How long all checks took together."""
        return math.fsum(check.minutes for check in standing(self.checks))

    @property
    def last_suspects(self) -> tuple[Suspicion, ...]:
        """The suspects that were written down together last, likeliest first."""
        if not self.suspects:
            return ()
        on, entries = self.suspects[-1].on, self.suspects[-1].entries
        together = takewhile(
            lambda one: (one.on, one.entries) == (on, entries), reversed(self.suspects)
        )
        return tuple(dict.fromkeys(reversed(list(together))))

    def is_of(self, machine: Machine) -> bool:
        """Whether this is still the machine, described as it was when the record was opened."""
        return self.machine.digest == digest_of(machine)

    def adding_entries(self, *entries: Entry) -> Self:
        """The record with these entries at the end of its log."""
        return replace(self, entries=self.entries + entries)

    def adding_log(self, log: Logbook) -> Self:
        """The record with what is new in a log.

        A log that goes on from where the record, or its part since some stop, began is the same
        log, only longer or shorter: what it has more is added.  Otherwise it is another log: all
        of it is added, as after a stop.

        Raises:
            ValueError: If it is in another code.
        """
        if log.code != self.code:
            raise ValueError(f"the log is in the {log.code.title}, not the {self.code.title}")
        stops = (i for i, entry in enumerate(self.entries) if i == 0 or entry.gap == FORGOTTEN)
        for known in (self.entries[i:] for i in stops):
            together = min(len(known), len(log))
            if _after_stop(known[:together]) == _after_stop(log.entries[:together]):
                return self.adding_entries(*log.entries[together:])
        return self.adding_entries(*(_after_stop(log.entries) if self.entries else log.entries))

    def adding_suspects(self, *suspects: Suspicion) -> Self:
        """The record with suspects as they stand now, likeliest first."""
        return replace(self, suspects=self.suspects + suspects)

    def adding_check(self, check: CheckMade) -> Self:
        """The record with one check more.

        Raises:
            ValueError: If it does not say what came of it.
        """
        if not check.outcome.strip():
            raise ValueError("outcome: write what came of the check")
        return replace(self, checks=(*self.checks, check))

    def adding_finding(self, finding: Finding) -> Self:
        """The record with one finding more."""
        return replace(self, findings=(*self.findings, finding))

    def adding_remedy(self, remedy: Note) -> Self:
        """The record with one remedy more."""
        return replace(self, remedies=(*self.remedies, remedy))

    def adding_acceptance(self, acceptance: Acceptance) -> Self:
        """The record with one acceptance test more."""
        return replace(self, acceptances=(*self.acceptances, acceptance))

    def adding_note(self, note: Note) -> Self:
        """The record with one note more."""
        return replace(self, notes=(*self.notes, note))

    def closing(self, on: date) -> Self:
        """The record, closed on a day."""
        return replace(self, closed=on)


Item = TypeVar("Item", CheckMade, Finding, Acceptance, Note)


def standing(items: Iterable[Item]) -> tuple[Item, ...]:
    """What still stands of checks, findings, tests or notes: all that no later one corrects."""
    items = tuple(items)
    corrected = {item.corrects for item in items}
    return tuple(item for number, item in enumerate(items, 1) if number not in corrected)


def actions(machine: Machine) -> tuple[str, ...]:
    """What a check can consist in on this machine, the cheapest first, as a record says it."""
    looks = (LOOKED.format(reach=reach) for reach in reaches(machine))
    return (TYPED, TURNED, *looks, OILED, OTHER)


def suspicions(diagnosis: Diagnosis, on: date, most: int = 10) -> tuple[Suspicion, ...]:
    """The likeliest causes, what is not on the list among them, worded for a record."""
    found = [
        (s.probability, _one_line(suspect_label(diagnosis.machine, s.members)))
        for s in diagnosis.considered
    ]
    if diagnosis.off_list:
        found.append((diagnosis.off_list, NOT_LISTED))
    entries = len(diagnosis.evidence.log)
    return tuple(
        Suspicion(on, entries, label, believed(probability))
        for probability, label in sorted(found, key=lambda one: -one[0])[:most]
    )


def _one_line(text: str) -> str:
    label = " ".join(text.split())
    return label if len(label) <= MAX_LINE else f"{label[: MAX_LINE - 1]}…"


def _after_stop(entries: tuple[Entry, ...]) -> tuple[Entry, ...]:
    return (replace(entries[0], gap=FORGOTTEN), *entries[1:]) if entries else ()


def digest_of(machine: Machine) -> str:
    """A fingerprint of how a machine is described to work: its parts, its type and its codes.

    The words and the drawing play no part, nor does the order of the parts in the file.  Two
    machines with the same digest give the same diagnosis (SHA-256, FIPS 180-4).
    """
    parts = {
        part.name: (_plain(part.joint), part.reach) for part in machine.mechanism.parts.values()
    }
    efforts = {name: str(minutes) for name, minutes in machine.efforts.items()}
    said = (
        sorted(parts.items()),
        _plain(machine.output),
        _plain(machine.declared),
        (machine.code.title, machine.code.names, machine.code.figures),
        machine.parity,
        sorted(efforts.items()),
    )
    return "sha256:" + hashlib.sha256(repr(said).encode()).hexdigest()


def _plain(thing: Any) -> Any:
    """Any part of a description as text and tuples.

    What has its default value is left out, so that a later version of the library, which knows
    more about joints, still finds the same digest.
    """
    if isinstance(thing, Run) and not isinstance(thing, Fold):
        return tuple(_plain(one) for one in vars(thing).values())
    if is_dataclass(thing):
        kept = (f for f in fields(thing) if f.init and not _is_default(f.default, thing, f.name))
        told = {f.name: getattr(thing, f.name) for f in kept} | _as_it_was(thing)
        called = "Type" if isinstance(thing, Type) else type(thing).__name__
        return called, *sorted((name, _plain(one)) for name, one in told.items())
    if isinstance(thing, Mapping):
        return tuple(sorted((str(key), _plain(value)) for key, value in thing.items()))
    if isinstance(thing, Iterable) and not isinstance(thing, str):
        return tuple(_plain(one) for one in thing)
    return str(thing)


def _as_it_was(thing: Any) -> dict[str, Any]:
    """The fields of something in the shape that they had when the first digests were made."""
    if isinstance(thing, Declared):
        return {"figures": {one.code: one.prints for one in thing.figures}}
    if not isinstance(thing, Type):
        return {}
    always = ("lift", "turn", "hammer", "rows", "columns", "lines")
    kind = {} if thing.kind == "type wheel" else {"kind": thing.kind}
    return {name: getattr(thing, name) for name in always} | kind


def _is_default(default: object, thing: object, name: str) -> bool:
    return default is not MISSING and getattr(thing, name) == default


def _check_line(name: str, text: str) -> None:
    _check_text(name, text, MAX_LINE)
    if "\n" in text or "\r" in text:
        raise ValueError(f"{name}: put it on one line")


def _check_text(name: str, text: str, most: int = MAX_TEXT) -> None:
    if len(text) > most:
        raise ValueError(f"{name}: {len(text)} characters; shorten it to {most}")
    if any("\ud800" <= c <= "\udfff" for c in text):
        raise ValueError(f"{name}: has half a character (a lone surrogate) in it; type it again")
