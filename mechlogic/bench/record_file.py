"""Repair records on disk: one readable JSON file for each repair, kept beside the machine.

The file is plain UTF-8 text in a fixed order, one line for each log entry, check or note, so that
it can be read, compared and, with care, mended in any text editor.  Its first key says which
version of the format it is in.  A file that is wrong anywhere is refused as a whole, with every
wrong place named.  The keys are the fields of :class:`~mechlogic.bench.record.Record`, see
:mod:`mechlogic.helpers.plain_data`.

Saving is safe: see :mod:`mechlogic.helpers.safe_file`.  Two programs that have the same record open
cannot undo each other's work: who saves second is told so, and goes on in a file of their own.
"""

import hashlib
import json
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Self

from mechlogic.bench.record import Record
from mechlogic.helpers import safe_file
from mechlogic.helpers.plain_data import dumps, load, plain
from mechlogic.helpers.reading import FileRefused, opened, text_of
from mechlogic.helpers.refusal import Problem, Refusal
from mechlogic.model.codes import FIVE_UNIT, SEVEN_UNIT, Code, shown
from mechlogic.model.logbook import Entry, Gap, gap_of
from mechlogic.model.mechanism import did_you_mean

__all__ = [
    "FORMAT",
    "MAX_BYTES",
    "RecordBook",
    "RecordConflict",
    "RecordError",
    "decode_record",
    "file_name",
    "format_record",
    "histories",
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

RecordError = FileRefused
"""A record that cannot be read or saved; `problems` has everything that is wrong with it."""


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
    text = dumps(
        {"format": FORMAT}
        | {each.name: getattr(record, each.name) for each in fields(record)}
        | {"code": code_plain(record.code)}
        | {"entries": [entry_plain(entry, record.code) for entry in record.entries]}
    )
    if (size := len(text.encode())) > MAX_BYTES:
        raise ValueError(
            f"the record comes to {size} bytes, and at most {MAX_BYTES} can be read back; "
            "open a second record"
        )
    return text


def code_plain(code: Code) -> str | dict[str, Any]:
    """The name of a published code; the whole table of a code that a machine has to itself."""
    for name, published in CODES.items():
        if code == published:
            return name
    if code.units > MOST_UNITS:
        raise ValueError(f"the {code.title} has {code.units} bits, more than {MOST_UNITS}")
    return plain(_Table(code.title, code.units, code.names, code.figures))  # type: ignore[no-any-return]


def entry_plain(entry: Entry, code: Code) -> dict[str, Any]:
    """An entry with the name of what was sent."""
    return {"sent": code.name(entry.sent)} | {
        key: value for key, value in plain(entry).items() if key != "sent"
    }


# --- Reading ----------------------------------------------------------------------------------


def load_record(path: str | os.PathLike[str]) -> Record:
    """The record in a file.

    Raises:
        RecordError: If it cannot be read, with every problem there is; nothing is half loaded.
    """
    return decode_record(opened(path, MAX_BYTES), str(path))


def decode_record(data: bytes, source: str) -> Record:
    """The record in the bytes of a file; as load_record, for a file that was handed over."""
    return parse_record(text_of(data, source, MAX_BYTES), source)


def parse_record(text: str, source: str = "pasted text") -> Record:
    """The record in JSON text. `source` is the file's name, for messages.

    Raises:
        RecordError: As load_record.
    """
    code = SEVEN_UNIT

    def read_code(value: Any) -> Code:
        nonlocal code
        code = _code(value)
        return code

    def sent(value: Any) -> int:
        return code.parse(_text(value))

    special = {(Record, "code"): read_code, (Entry, "sent"): sent, Gap: gap_of}
    return load(text, source, Record, FORMAT, special, whole=True)


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise Refusal("this is no text", 'Write it in " "')
    return value


@dataclass(frozen=True, slots=True)
class _Table:
    """A code that is written down with its table."""

    title: str
    units: int
    names: tuple[str, ...]
    figures: tuple[str | None, ...] = ()

    def __post_init__(self) -> None:
        if not 1 <= self.units <= MOST_UNITS:
            raise ValueError(f"units: a code of {self.units} bits, not 1 to {MOST_UNITS}")


def _code(value: Any) -> Code:
    if isinstance(value, dict):
        try:
            table = load(json.dumps({"format": "code 1"} | value), "the code", _Table, "code 1")
            return Code(table.title, table.units, "the record", table.names, table.figures)
        except FileRefused as refused:
            one = refused.problems[0]
            raise Refusal(f"{one.place}: {one.what}", _COMPARE_CODE) from None
        except ValueError as error:
            raise Refusal(str(error), _COMPARE_CODE) from None
    if _text(value) not in CODES:
        raise Refusal(f"no code is called {shown(value)}", did_you_mean(value, CODES))
    return CODES[value]


_COMPARE_CODE = "Compare it with the machine's description"


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
        data = opened(path, MAX_BYTES)
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
                raise RecordError.of(str(target), 0, "there is such a file already", mend)
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
                self.path = _free_name(path)
            try:
                safe_file.write_whole(self.path, data)
            except BaseException:
                self.path = path
                raise
        self.record, self._on_disk = record, _digest(data)
        if not ours:
            raise RecordConflict(path, self.path)


def file_name(repair: str, folder: str | os.PathLike[str] | None = None) -> str:
    """A name for the file of a repair, with nothing in it that a system could take amiss.

    Args:
        repair: What the repair is called, in any alphabet.
        folder: Where the file will be; then no file there has the name yet.
    """
    name = f"{safe_file.safe_name(repair, 'repair')}.json"
    return name if folder is None else _free_name(Path(folder) / name).name


def histories(
    folder: str | os.PathLike[str],
) -> tuple[dict[tuple[str, str, str], list[Path]], list[Problem]]:
    """The records in a folder, those of each machine by themselves, and what cannot be read.

    Two machines are two if their kind, serial number or owner differs.

    Returns:
        For each ``(name, serial, owner)`` its files, in the order in which they were opened; and
        the problems of the files that are no records.
    """
    found: dict[tuple[str, str, str], list[tuple[object, Path]]] = {}
    problems: list[Problem] = []
    for path in sorted(Path(folder).glob("*.json")):
        try:
            record = load_record(path)
        except RecordError as error:
            problems += error.problems
        else:
            found.setdefault(record.machine.key, []).append(((record.opened, path.name), path))
    ordered = {key: [path for _, path in sorted(files)] for key, files in found.items()}
    return ordered, problems


def _digest(data: bytes) -> bytes:
    return hashlib.sha256(data).digest()


def _to_save(path: Path, record: Record) -> bytes:
    try:
        return format_record(record).encode()
    except ValueError as error:
        raise RecordError.of(str(path), 0, str(error), "Nothing was saved") from None


@contextmanager
def _writing(path: Path) -> Iterator[None]:
    """The folder's lock, and whatever the system objects to as a RecordError."""
    try:
        with safe_file.locked(path.resolve().parent):
            yield
    except OSError as error:
        what = f"it could not be saved ({error.strerror or error}); what was there is as it was"
        raise RecordError.of(str(path), 0, what, safe_file.mend_for(error)) from error


def _free_name(path: Path) -> Path:
    """The path, or ``record-2.json`` for ``record.json``, whichever is the first that is free."""
    number, free = 2, path
    while free.exists():
        free, number = path.with_name(f"{path.stem}-{number}{path.suffix}"), number + 1
    return free
