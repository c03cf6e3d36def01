"""Repair records on disk: one readable JSON file for each repair, kept beside the machine.

The file is plain UTF-8 text in a fixed order, one line for each log entry, check or note, so that
it can be read, compared and, with care, mended in any text editor.  Its first key says which
version of the format it is in.  A file that is wrong anywhere is refused as a whole, with every
wrong place named.

Saving is safe: see :mod:`mechlogic.helpers.safe_file`.  Two programs that have the same record open
cannot undo each other's work: who saves second is told so, and goes on in a file of their own.
"""

import hashlib
import json
import os
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import MISSING, dataclass, fields
from datetime import date
from pathlib import Path
from typing import Any, Self, TypeVar

from mechlogic.bench.record import (
    MAX_ITEMS,
    Acceptance,
    CheckMade,
    Finding,
    MachineNamed,
    Note,
    Record,
    Suspicion,
)
from mechlogic.helpers import json_lines, safe_file
from mechlogic.model.codes import FIVE_UNIT, SEVEN_UNIT, Code, CodeError, shown
from mechlogic.model.faults import Fault
from mechlogic.model.logbook import MAX_ENTRIES, Entry
from mechlogic.model.mechanism import did_you_mean

__all__ = [
    "FORMAT",
    "MAX_BYTES",
    "Problem",
    "RecordBook",
    "RecordConflict",
    "RecordError",
    "decode_record",
    "file_name",
    "format_record",
    "load_record",
    "parse_record",
]

FORMAT = "mechlogic repair record 1"
"""The first thing in every file: what it is, and in which version."""

MAX_BYTES = 10_000_000
"""The longest file that is written or read."""

CODES: Mapping[str, Code] = {"seven-unit": SEVEN_UNIT, "five-unit": FIVE_UNIT}
"""The codes that go by a name; any other is written down with its table."""

MOST_UNITS = 8
"""The most bits of a code that is written down with its table."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with a file: where it is, what it is, and how to mend it.

    Attributes:
        source: The file.
        line: The line, from 1; 0 for the file as a whole.
        place: Where in the record, ``checks, item 2, minutes``; '' for the whole.
        what: What is wrong.
        mend: What to do about it.
    """

    source: str
    line: int
    place: str
    what: str
    mend: str

    def __str__(self) -> str:
        line = f"line {self.line}" if self.line else ""
        where = ", ".join(filter(None, (self.source, line, self.place)))
        return f"{where}: {self.what}. {self.mend}{'' if self.mend.endswith('?') else '.'}"


class RecordError(ValueError):
    """A record that cannot be read or saved; `problems` has everything that is wrong with it."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(problems, key=lambda problem: problem.line))
        super().__init__("\n".join(map(str, self.problems)))


class RecordConflict(RecordError):
    """A record that was changed on disk since it was opened; both are kept.

    Attributes:
        path: The file that somebody else has changed; it was left alone.
        kept: The file that holds our own record; saving goes on there.
    """

    def __init__(self, path: Path, kept: Path) -> None:
        self.path, self.kept = path, kept
        what = f"somebody else has saved this record since you opened it; yours is in {kept.name}"
        mend = (
            f"Nothing is lost. What you enter from now on goes to {kept.name}. To bring the two "
            f"together, open {path.name} and enter there what only {kept.name} has"
        )
        super().__init__([Problem(str(path), 0, "", what, mend)])


# --- Writing ----------------------------------------------------------------------------------


def format_record(record: Record) -> str:
    """The record as JSON text, which parse_record reads back to the same record.

    Raises:
        ValueError: If it comes to more than MAX_BYTES, or is in a code of too many bits.
    """
    text = "{\n" + ",\n".join(f"  {_json(k)}: {_block(v)}" for k, v in _plain(record)) + "\n}\n"
    if (size := len(text.encode())) > MAX_BYTES:
        raise ValueError(
            f"the record comes to {size} bytes, and at most {MAX_BYTES} can be read back; "
            "open a second record"
        )
    return text


def _plain(record: Record) -> list[tuple[str, object]]:
    return [
        ("format", FORMAT),
        ("machine", _fields(record.machine)),
        ("repair", record.repair),
        ("restorer", record.restorer),
        ("opened", record.opened),
        ("closed", record.closed),
        ("code", _code_plain(record.code)),
        ("entries", [_entry(entry, record.code) for entry in record.entries]),
        ("suspects", [_fields(each) for each in record.suspects]),
        ("checks", [_fields(each) for each in record.checks]),
        ("findings", [_fields(each) for each in record.findings]),
        ("remedies", [_fields(each) for each in record.remedies]),
        ("acceptances", [_fields(each) for each in record.acceptances]),
        ("notes", [_fields(each) for each in record.notes]),
    ]


def _fields(thing: Any) -> dict[str, object]:
    """What a dataclass holds, in its own order, but for what is as usual."""
    return {
        each.name: value
        for each in fields(thing)
        if (value := getattr(thing, each.name)) != each.default
    }


def _code_plain(code: Code) -> str | dict[str, object]:
    """The name of a published code; the whole table of a code that a machine has to itself."""
    for name, published in CODES.items():
        if code == published:
            return name
    if code.units > MOST_UNITS:
        raise ValueError(f"the {code.title} has {code.units} bits, more than {MOST_UNITS}")
    table = {"title": code.title, "units": code.units, "names": code.names}
    return table | ({"figures": code.figures} if code.figures else {})


def _entry(entry: Entry, code: Code) -> dict[str, object]:
    return _fields(entry) | {"sent": code.name(entry.sent)}


def _block(value: object) -> str:
    """A value, each item of a list on a line of its own."""
    if isinstance(value, list) and value:
        return "[\n" + ",\n".join(f"    {_json(one)}" for one in value) + "\n  ]"
    return _json(value)


def _json(value: object) -> str:
    def other(thing: Any) -> object:
        return thing.isoformat() if isinstance(thing, date) else _fields(thing)

    return json.dumps(value, ensure_ascii=False, allow_nan=False, default=other)


# --- Reading ----------------------------------------------------------------------------------


def load_record(path: str | os.PathLike[str]) -> Record:
    """The record in a file.

    Raises:
        RecordError: If it cannot be read, with every problem there is; nothing is half loaded.
    """
    return decode_record(_bytes_of(path), str(path))


def decode_record(data: bytes, source: str) -> Record:
    """The record in the bytes of a file; as load_record, for a file that was handed over."""
    if len(data) > MAX_BYTES:
        raise _refusal(source, 0, f"this is more than {MAX_BYTES} bytes", _RIGHT_FILE)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise _refusal(
            source, line, "a letter here is not UTF-8", "In the editor, save it again as UTF-8"
        ) from None
    return parse_record(text, source)


def parse_record(text: str, source: str = "pasted text") -> Record:
    """The record in JSON text. `source` is the file's name, for messages.

    Raises:
        RecordError: As load_record.
    """
    twice = False

    def pairs(found: list[tuple[str, object]]) -> dict[str, object]:
        nonlocal twice
        twice |= len(found) != len(dict(found))
        return dict(found)

    try:
        data = json.loads(text, object_pairs_hook=pairs, parse_constant=_no_number)
    except json.JSONDecodeError as error:
        what = f"this is not valid JSON: {error.msg} (character {error.colno} of the line)"
        raise _refusal(source, error.lineno, what, _COMPARE) from None
    except (ValueError, RecursionError) as error:
        what = "brackets within brackets without end" if isinstance(error, RecursionError) else ""
        raise _refusal(source, 0, what or str(error), _COMPARE) from None
    return _Reader(text, source).record(data, twice)


def _no_number(name: str) -> float:
    raise ValueError(f"{name} is not a number that a record can hold")


def _bytes_of(path: str | os.PathLike[str]) -> bytes:
    try:
        with open(path, "rb") as file:
            return file.read(MAX_BYTES + 1)
    except OSError as error:
        what = f"it cannot be opened ({error.strerror or error})"
        raise _refusal(str(path), 0, what, "Check name and folder") from error


def _refusal(source: str, line: int, what: str, mend: str) -> RecordError:
    return RecordError([Problem(source, line, "", what, mend)])


_RIGHT_FILE = "Check that it is the right file"
_COMPARE = "Compare it with a record that can be read, or take an older copy of the file"

T = TypeVar("T")
Read = Callable[[object], Any]


class _Wrong(ValueError):
    """A value that cannot be read: what is wrong, and how to mend it."""

    def __init__(self, what: str, mend: str) -> None:
        super().__init__(what)
        self.what, self.mend = what, mend


class _Reader:
    """One reading of one file; collects problems as it goes."""

    def __init__(self, text: str, source: str) -> None:
        self.text, self.source = text, source
        self.found: list[tuple[json_lines.Path, str, str]] = []

    def record(self, data: object, twice: bool) -> Record:
        """The record, once it is sure that this is one."""
        self._check_format(data)
        if twice:
            for path in json_lines.lines_of(self.text)[1]:
                self._report(path, "this stands here twice", "Keep one of them")
            self._stop_if_wrong()
        assert isinstance(data, dict)
        try:
            code = _code(data.get("code"))
        except _Wrong:
            code = SEVEN_UNIT  # so that the entries can be looked through; it is reported below
        shape: dict[str, Callable[[object, json_lines.Path], Any]] = {
            "machine": lambda value, path: self._made(value, path, MachineNamed, _MACHINE),
            "repair": self._as(_text),
            "restorer": self._as(_text),
            "opened": self._as(_day),
            "closed": self._as(lambda value: None if value is None else _day(value)),
            "code": self._as(_code),
            "entries": self._list(Entry, _entry_shape(code), MAX_ENTRIES),
            "suspects": self._list(Suspicion, _SUSPICION),
            "checks": self._list(CheckMade, _CHECK),
            "findings": lambda value, path: self._items(value, path, self._finding, MAX_ITEMS),
            "remedies": self._list(Note, _NOTE),
            "acceptances": self._list(Acceptance, _ACCEPTANCE),
            "notes": self._list(Note, _NOTE),
        }
        rest = {key: value for key, value in data.items() if key != "format"}
        made = self._shaped(rest, (), Record, shape, required=tuple(shape))
        self._stop_if_wrong()
        assert isinstance(made, Record)
        return made

    def _check_format(self, data: object) -> None:
        said = data.get("format") if isinstance(data, dict) else None
        if said == FORMAT:
            return
        kind, version = FORMAT.rsplit(" ", 1)
        newer = (
            re.fullmatch(rf"{kind} ([1-9][0-9]{{0,8}})", said) if isinstance(said, str) else None
        )
        if newer:
            what = f"this is a repair record in version {newer[1]}, newer than version {version}"
            mend = "Open it with the newer mechlogic that wrote it, or bring this one up to date"
        else:
            what = "this is not a repair record"
            mend = f'Choose another file; a record begins with "format": "{FORMAT}"'
        self._report(("format",), what, mend)
        self._stop_if_wrong()

    def _as(self, read: Read) -> Callable[[object, json_lines.Path], Any]:
        def attempt(value: object, path: json_lines.Path) -> Any:
            try:
                return read(value)
            except (_Wrong, CodeError) as error:
                self._report(path, error.what, error.mend)
                return None

        return attempt

    def _list(
        self, kind: type, readers: Mapping[str, Read], most: int = MAX_ITEMS
    ) -> Callable[[object, json_lines.Path], Any]:
        return lambda value, path: self._items(
            value, path, lambda one, at: self._made(one, at, kind, readers), most
        )

    def _items(
        self,
        value: object,
        path: json_lines.Path,
        read: Callable[[object, json_lines.Path], T | None],
        most: int,
    ) -> tuple[T | None, ...]:
        if not isinstance(value, list):
            self._report(path, f"{_kind(value)} where a list is wanted", "Write it in [ ]")
            return ()
        if len(value) > most:
            self._report(path, f"{len(value)} items, more than {most}", "Open a second record")
            return ()
        return tuple(read(one, (*path, number)) for number, one in enumerate(value))

    def _finding(self, value: object, path: json_lines.Path) -> Finding | None:
        def faults(value: object, path: json_lines.Path) -> Any:
            return self._items(
                value, path, lambda one, at: self._made(one, at, Fault, _FAULT), MAX_ITEMS
            )

        shape = {"on": self._as(_day), "faults": faults, "text": self._as(_text)}
        return self._shaped(value, path, Finding, shape)

    def _made(
        self, value: object, path: json_lines.Path, kind: type[T], readers: Mapping[str, Read]
    ) -> T | None:
        shape = {name: self._as(read) for name, read in readers.items()}
        return self._shaped(value, path, kind, shape)

    def _shaped(
        self,
        value: object,
        path: json_lines.Path,
        kind: type[T],
        shape: Mapping[str, Callable[[object, json_lines.Path], Any]],
        required: Sequence[str] | None = None,
    ) -> T | None:
        """One object of a kind, or None and at least one problem more."""
        before = len(self.found)
        if not isinstance(value, dict):
            self._report(path, f"{_kind(value)} where an object is wanted", "Write it in { }")
            return None
        if required is None:
            usual = {each.name: each.default for each in fields(kind)}  # type: ignore[arg-type]
            required = [name for name in shape if usual[name] is MISSING]
        for name in required:
            if name not in value:
                self._report((*path, name), "this is missing", "Add it")
        for name in value:
            if name not in shape:
                self._report((*path, name), "nothing is called so here", did_you_mean(name, shape))
        made = {
            name: read(value[name], (*path, name)) for name, read in shape.items() if name in value
        }
        if len(self.found) > before:
            return None
        try:
            return kind(**made)
        except ValueError as error:
            said = str(error)
            name, _, what = said.partition(": ")
            at, what = ((*path, name), what) if name in shape else (path, said)
            self._report(at, what, "Mend it in a copy of the file")
            return None

    def _report(self, path: json_lines.Path, what: str, mend: str) -> None:
        if len(self.found) < _MOST_PROBLEMS:
            self.found.append((path, what if len(what) <= 200 else f"{what[:199]}…", mend))

    def _stop_if_wrong(self) -> None:
        if not self.found:
            return
        lines, _ = json_lines.lines_of(self.text)

        def line(path: json_lines.Path) -> int:
            return lines[path] if path in lines else line(path[:-1])

        raise RecordError(
            Problem(self.source, line(path), _place(path), what, mend.removesuffix("."))
            for path, what, mend in self.found
        )


_MOST_PROBLEMS = 100


def _place(path: json_lines.Path) -> str:
    said = json_lines.shown_path(path)
    return said if len(said) <= 80 else f"{said[:79]}…"


def _kind(value: object) -> str:
    names = {dict: "an object", list: "a list", str: "a text", bool: "true or false"}
    return names.get(type(value), "nothing" if value is None else "a number")


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise _Wrong(f"{_kind(value)} where a text is wanted", 'Write it in " "')
    return value


def _day(value: object) -> date:
    said = _text(value)
    if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", said):
        try:
            return date.fromisoformat(said)
        except ValueError:
            pass
    raise _Wrong(f"{shown(said)} is not a day", "Write year, month and day: 2031-02-28")


def _whole(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise _Wrong(f"{_kind(value)} where a whole number is wanted", "Write 0, 1, 2 and so on")
    return value


def _number(value: object) -> float:
    if not isinstance(value, int | float) or isinstance(value, bool):
        raise _Wrong(f"{_kind(value)} where a number is wanted", "Write 12 or 0.5")
    if abs(value) > 1e15:
        raise _Wrong("the number is too large", "Write it in minutes")
    return value


def _yes(value: object) -> bool:
    if not isinstance(value, bool):
        raise _Wrong(f"{_kind(value)} where true or false is wanted", "Write true or false")
    return value


def _code(value: object) -> Code:
    if isinstance(value, dict):
        return _code_table(value)
    if _text(value) not in CODES:
        raise _Wrong(f"no code is called {shown(str(value))}", did_you_mean(str(value), CODES))
    return CODES[str(value)]


def _code_table(table: dict[str, object]) -> Code:
    """A code that is written down with its table."""
    known = ("title", "units", "names", "figures")
    for name in table:
        if name not in known:
            raise _Wrong(f"nothing of a code is called {shown(name)}", did_you_mean(name, known))
    for name in known[:3]:
        if name not in table:
            raise _Wrong(f"{name} is missing from the code", _COMPARE_CODE)
    if not 1 <= (units := _whole(table["units"])) <= MOST_UNITS:
        raise _Wrong(f"a code of {units} bits", f"Write 1 to {MOST_UNITS}")
    names, figures = table["names"], table.get("figures", [])
    if not isinstance(names, list) or not isinstance(figures, list):
        raise _Wrong("the names of a code are not in a list", "Write them in [ ]")
    try:
        return Code(
            _text(table["title"]),
            units,
            "the record",
            tuple(map(_text, names)),
            tuple(None if figure is None else _text(figure) for figure in figures),
        )
    except ValueError as error:
        if isinstance(error, _Wrong):
            raise
        raise _Wrong(str(error), _COMPARE_CODE) from None


_COMPARE_CODE = "Compare it with the machine's description"


def _entry_shape(code: Code) -> Mapping[str, Read]:
    return {
        "sent": lambda value: code.parse(_text(value)),
        "printed": _text,
        "driven": _text,
        "oil": _text,
        "clipped": _text,
        "gap": _yes,
        "note": _text,
    }


_MACHINE: Mapping[str, Read] = {"name": _text, "title": _text, "digest": _text}
_SUSPICION: Mapping[str, Read] = {
    "on": _day,
    "entries": _whole,
    "label": _text,
    "probability": _text,
}
_CHECK: Mapping[str, Read] = {
    "on": _day,
    "done": _text,
    "advised": _text,
    "outcome": _text,
    "minutes": _number,
}
_FAULT: Mapping[str, Read] = {"part": _text, "mode": _text, "input": _text, "sometimes": _yes}
_ACCEPTANCE: Mapping[str, Read] = {"on": _day, "sent": _text, "result": _text, "remark": _text}
_NOTE: Mapping[str, Read] = {"on": _day, "text": _text}


# --- Keeping ----------------------------------------------------------------------------------


class RecordBook:
    """A record and the file it is kept in: ``book.save(book.record.adding_note(…))``.

    Attributes:
        path: The file.
        record: The record, as it was last read or saved.

    Raises:
        RecordError: If the file cannot be read.
    """

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self.path = Path(path)
        data = _bytes_of(path)
        self.record = decode_record(data, str(path))
        self._on_disk = _digest(data)

    @classmethod
    def create(cls, path: str | os.PathLike[str], record: Record) -> Self:
        """A new file with a record in it.

        Raises:
            RecordError: If there is such a file already, or it cannot be written.
        """
        target = Path(path)
        data = _to_save(target, record)
        with _writing(target):
            if target.exists():
                mend = "Open it, or give the new record another name"
                raise _refusal(str(target), 0, "there is such a file already", mend)
            safe_file.write_whole(target, data)
        return cls(target)

    def save(self, record: Record) -> None:
        """Keep a record in the place of the one before.

        When this returns, the record is safe on the disk.

        Raises:
            RecordConflict: If somebody else has saved meanwhile.  Theirs is left alone, and this
                one is kept beside it, in a file to which the book then turns.
            RecordError: If it cannot be saved; file and book are as they were.
        """
        data = _to_save(self.path, record)
        ours, path = True, self.path
        with _writing(path):
            safe_file.clear_away(path)
            known = (self._on_disk, _digest(data))  # the second, if a save told of a failure late
            ours = not path.exists() or _digest(path.read_bytes()) in known
            if not ours:
                self.path = _free_name_beside(path)
            try:
                safe_file.write_whole(self.path, data)
            except BaseException:
                self.path = path
                raise
        self.record, self._on_disk = record, _digest(data)
        if not ours:
            raise RecordConflict(path, self.path)


def file_name(repair: str) -> str:
    """A name for the file of a repair, with nothing in it that a system could take amiss."""
    plain = re.sub(r"[^a-z0-9]+", "-", repair.lower()).strip("-")[:60].strip("-")
    return f"{plain or 'repair'}.json"


def _digest(data: bytes) -> bytes:
    return hashlib.sha256(data).digest()


def _to_save(path: Path, record: Record) -> bytes:
    try:
        return format_record(record).encode()
    except ValueError as error:
        raise _refusal(str(path), 0, str(error), "Nothing was saved") from None


@contextmanager
def _writing(path: Path) -> Iterator[None]:
    """The folder's lock, and whatever the system objects to as a RecordError."""
    try:
        with safe_file.locked(path.resolve().parent):
            yield
    except OSError as error:
        what = f"it could not be saved ({error.strerror or error}); what was there is as it was"
        raise _refusal(str(path), 0, what, safe_file.mend_for(error)) from error


def _free_name_beside(path: Path) -> Path:
    """``record-2.json`` for ``record.json``, or the first number that is free."""
    number = 2
    while (beside := path.with_name(f"{path.stem}-{number}{path.suffix}")).exists():
        number += 1
    return beside
