"""What is on the bench, kept as it is typed: log, undo history and hypothesis of each machine.

One file for each machine (kind, serial number, owner), readable JSON, written whole or not at all::

    store = Store(Folder("bench"))               # or Store(InMapping(...)) in a browser
    kept = store.bench(machine, serial="17")     # what was there the last time, or an empty log
    kept.put(editor=kept.editor.write("A", "B")) # on the disk when this returns
    kept.trouble                                 # '' or, as a sentence, why it is not
    kept.refresh()                               # True if another tab has changed it meanwhile

Nothing here raises an error for a full or read-only disk: what was typed stays in memory, `trouble`
says so, and the next :meth:`Kept.put` tries again.  Two writers (a second tab) do not undo each
other's work: what each has changed is put together line by line.  Where both have changed the same
lines, the second goes on in a file of its own, and `trouble` says so.  A file that cannot be read
is left as it is; a new one is then begun beside it.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

from mechlogic.bench.log_editor import Edit, Line, LogEditor
from mechlogic.helpers import safe_file
from mechlogic.helpers.plain_data import dumps, load, plain
from mechlogic.helpers.reading import FileRefused, text_of
from mechlogic.helpers.refusal import on_one_line
from mechlogic.helpers.storage import Storage
from mechlogic.model.faults import MODES, Fault
from mechlogic.model.logbook import Gap, gap_of
from mechlogic.model.machine import Machine

__all__ = ["FORMAT", "Kept", "OnBench", "Store", "Which"]

FORMAT = "mechlogic bench 1"
"""The first thing in every file: what it is, and in which version."""

LAST, LAST_FORMAT = "last.json", "mechlogic last on the bench 1"
"""The file that says which machine of each kind was on the bench last, and how it begins."""

MAX_NAME = 100
"""The longest serial number, and the longest name of an owner, in characters."""

MAX_BYTES = 20_000_000
"""The longest file that is written or read."""

MOST_LINES_UNDONE = 5_000
"""So many lines in steps that can be taken back are kept in the file; of the last step, all."""


@dataclass(frozen=True, slots=True)
class Which:
    """Which machine: its kind, and what tells it from its sisters.

    Attributes:
        kind: The short name in its description.
        serial: The serial number, if it has one.
        owner: Whose it is.
    """

    kind: str
    serial: str = ""
    owner: str = ""

    def __post_init__(self) -> None:
        for said, text in (("serial number", self.serial), ("owner", self.owner)):
            if len(text) > MAX_NAME or not text.isprintable():
                raise ValueError(f"{said}: write one line of at most {MAX_NAME} characters")

    @property
    def file_name(self) -> str:
        """The name of its file."""
        whole = " ".join(filter(None, (self.kind, self.serial, self.owner)))
        name = f"bench-{safe_file.safe_name(whole, 'machine')}"
        if self.serial or self.owner:  # "a b" and "c" are not "a" and "b c"
            said = repr((self.kind, self.serial, self.owner))
            name += f"-{hashlib.sha256(said.encode('utf-8', 'surrogatepass')).hexdigest()[:6]}"
        return f"{name}.json"


@dataclass(frozen=True, slots=True)
class OnBench:
    """What one file holds.

    Attributes:
        machine: Which machine.
        lines: The log, as it was typed.
        done, undone: The steps that can be taken back and done again.
        hypothesis: The faults that the restorer is thinking of.
    """

    machine: Which
    lines: tuple[Line, ...] = ()
    done: tuple[Edit, ...] = ()
    undone: tuple[Edit, ...] = ()
    hypothesis: tuple[Fault, ...] = ()

    def __post_init__(self) -> None:
        for fault in self.hypothesis:
            if fault.mode not in MODES:
                raise ValueError(f"hypothesis: no mode is called {fault.mode!r}")


@dataclass(frozen=True, slots=True)
class _Last:
    """Of each kind the machine that was on the bench last."""

    machines: tuple[Which, ...]


class Store:
    """What is kept of every machine in one place.

    Args:
        storage: The place.
    """

    def __init__(self, storage: Storage) -> None:
        self.storage = storage

    def bench(self, machine: Machine, serial: str = "", owner: str = "") -> "Kept":
        """What was on the bench the last time that this machine was; an empty log if never."""
        return Kept(self.storage, machine, Which(machine.name, serial, owner))

    def last(self, kind: str) -> Which:
        """Which machine of a kind was on the bench last; one without a number if none was."""
        return next((one for one in self._last() if one.kind == kind), Which(kind))

    def choose(self, which: Which) -> None:
        """Remember that this machine of its kind was on the bench last, if there is room."""
        others = (one for one in self._last() if one.kind != which.kind)
        data = dumps({"format": LAST_FORMAT} | plain(_Last((*others, which)))).encode()
        try:
            with self.storage.locked():
                self.storage.write(LAST, data)
        except OSError:
            return  # the log is safe in its own file, and can be chosen there

    def _last(self) -> tuple[Which, ...]:
        try:
            found = self.storage.read(LAST, MAX_BYTES) or b""
            return load(text_of(found, LAST, MAX_BYTES), LAST, _Last, LAST_FORMAT).machines
        except (FileRefused, OSError):
            return ()

    def machines(self) -> list[Which]:
        """The machines of which something is kept; files that cannot be read are left out."""
        found = []
        for name in self.storage.names():
            if name.startswith("bench-"):
                try:
                    found.append(_read(self.storage, name).machine)
                except (FileRefused, OSError, LookupError):
                    continue
        return list(dict.fromkeys(found))


class Kept:
    """What is on the bench of one machine, and its file; see the head of the module.

    Attributes:
        editor: The log.
        hypothesis: The faults that the restorer is thinking of.
        which: Which machine.
        trouble: Why not everything is safe, and what to do about it, as a sentence; '' if it is.
    """

    def __init__(self, storage: Storage, machine: Machine, which: Which) -> None:
        self.storage, self.which = storage, which
        self.trouble = ""
        self.editor = LogEditor(machine)
        self.hypothesis: tuple[Fault, ...] = ()
        self._name = which.file_name
        self._base = OnBench(which)  # as it was last read or written
        self._seen: set[bytes | None] = {None}  # what the file may hold, if nobody else wrote
        try:
            self._take(_read(storage, self._name))
        except LookupError:
            pass
        except FileRefused as error:
            self._begin_beside(f"{error.problems[0]}".rstrip("."))
        except OSError as error:
            self.trouble = _trouble(error, "read")
        else:
            self._seen = {_digest(storage.read(self._name, MAX_BYTES))}

    @property
    def state(self) -> OnBench:
        """Everything that there is to keep, as it is now."""
        editor = self.editor
        return OnBench(self.which, editor.lines, editor.done, editor.undone, self.hypothesis)

    def put(
        self, editor: LogEditor | None = None, hypothesis: Sequence[Fault] | None = None
    ) -> bool:
        """Keep a log or a hypothesis, or both.

        Returns:
            Whether it is safe; if not, `trouble` says why, and the next call tries again.
        """
        self.editor = self.editor if editor is None else editor
        self.hypothesis = self.hypothesis if hypothesis is None else tuple(hypothesis)
        self.trouble = ""
        try:
            with self.storage.locked():
                self._merge()
                data = _format(self.state)
                self._seen |= {_digest(data)}  # if a failure is told late, this may be there
                self.storage.write(self._name, data)
                self._base, self._seen = self.state, {_digest(data)}
        except FileRefused as error:
            self.trouble = f"{error}"
            return False
        except OSError as error:
            self.trouble = _trouble(error, "saved")
            return False
        return True

    def refresh(self) -> bool:
        """Take over what another tab or program has changed; whether there was anything."""
        before = self.state
        try:
            with self.storage.locked():
                self._merge()
        except OSError as error:
            self.trouble = _trouble(error, "read")
        return self.state != before

    def _merge(self) -> None:
        """Put what somebody else has written meanwhile together with what is new here."""
        found = self.storage.read(self._name, MAX_BYTES)
        if _digest(found) in self._seen:
            return
        if found is None:  # removed by hand: what is here is all there is
            self._base, self._seen = OnBench(self.which), {None}
            return
        try:
            theirs = _parse(found, self._name)
        except FileRefused as error:
            self._begin_beside(f"{error.problems[0]}".rstrip("."))
            return
        ours, base = self.state, self._base
        lines = _together(base.lines, theirs.lines, ours.lines)
        if lines is None:
            self._begin_beside(f"another tab or program has changed the same lines of {self._name}")
            return
        if ours.hypothesis == base.hypothesis:
            ours = replace(ours, hypothesis=theirs.hypothesis)
        if lines == ours.lines:
            merged = ours
        elif lines == theirs.lines:
            merged = replace(theirs, hypothesis=ours.hypothesis)
        else:
            step = Edit(0, theirs.lines, lines, "two tabs put together")
            merged = replace(ours, lines=lines, done=(*theirs.done, step), undone=())
        self._take(merged)
        self._base, self._seen = theirs, {_digest(found)}

    def _take(self, state: OnBench) -> None:
        editor = LogEditor(self.editor.machine, state.lines, state.done, state.undone)
        if not editor.can_go_back:  # somebody has mended the file by hand
            editor = LogEditor(self.editor.machine, state.lines)
        self.editor, self.hypothesis = editor, state.hypothesis
        self._base = state

    def _begin_beside(self, why: str) -> None:
        """Leave the file as it is, and go on in another."""
        stem, taken, number = self._name.removesuffix(".json"), set(self.storage.names()), 2
        while (name := f"{stem}-{number}.json") in taken:
            number += 1
        self.trouble = f"{why}. That file is as it was; this log goes on in {name}."
        self._name, self._seen = name, {None}


def _together(
    base: tuple[Line, ...], theirs: tuple[Line, ...], ours: tuple[Line, ...]
) -> tuple[Line, ...] | None:
    """The lines with what each of two has changed; None if they changed the same lines.

    Lines that both have added in one place stand there one after the other, theirs first.
    """
    if ours == base:
        return theirs
    if theirs == base:
        return ours
    from_, to, put = _changed(base, theirs)
    at, end, new = _changed(base, ours)
    if to <= at:
        return base[:from_] + put + base[to:at] + new + base[end:]
    if end <= from_:
        return base[:at] + new + base[end:from_] + put + base[to:]
    return theirs if theirs == ours else None


def _changed(base: tuple[Line, ...], other: tuple[Line, ...]) -> tuple[int, int, tuple[Line, ...]]:
    """The one stretch of lines that was changed: from where to where, and what is there now."""
    first = 0
    while first < min(len(base), len(other)) and base[first] == other[first]:
        first += 1
    last = 0
    while last < min(len(base), len(other)) - first and base[-1 - last] == other[-1 - last]:
        last += 1
    return first, len(base) - last, other[first : len(other) - last]


# -- the file --------------------------------------------------------------------------------------


def _format(state: OnBench) -> bytes:
    done: list[Edit] = []
    room = MOST_LINES_UNDONE
    for step in reversed(state.done):
        room -= len(step.taken) + len(step.put)
        if room < 0 and done:
            break
        done.append(step)
    undone = state.undone if room >= 0 else ()
    kept = replace(state, done=tuple(reversed(done)), undone=undone)
    text = dumps({"format": FORMAT} | plain(kept))
    data = text.encode()
    if len(data) > MAX_BYTES:
        what, mend = f"the log comes to {len(data)} bytes", "Save it, and begin another"
        raise FileRefused.of(state.machine.file_name, 0, what, mend)
    return data


def _read(storage: Storage, name: str) -> OnBench:
    """What a file holds; LookupError if there is none."""
    found = storage.read(name, MAX_BYTES)
    if found is None:
        raise LookupError(name)
    return _parse(found, name)


def _parse(data: bytes, name: str) -> OnBench:
    return load(text_of(data, name, MAX_BYTES), name, OnBench, FORMAT, {Gap: gap_of})


def _digest(data: bytes | None) -> bytes | None:
    return None if data is None else hashlib.sha256(data).digest()


def _trouble(error: OSError, done: str) -> str:
    said = on_one_line(f"this could not be {done} ({error.strerror or error})")
    return f"{said}. {safe_file.mend_for(error)}. Until then it is in memory only."
