"""What was sent and what was printed, in order: the evidence a diagnosis works from.

A logbook is a CSV file that a spreadsheet or a text editor can write. Its first line names the
columns, in any order; only the first two are needed:

    sent      the code that was sent: a character, a name (SP, CR, DEL, COMMA) or a position (4/1)
    printed   the glyph on the paper, or its name, or *nothing*, *unreadable* or *unseen*; what the
              eye cannot tell apart is written ``B or 8``, two on top of each other ``B over 8``
    driven    *speed* (under its own power, also when blank) or *hand* (turned over by hand)
    oil       *cold*, *warm* or *unknown* (also when blank): the machine's state at the time
    clipped   *top*, *bottom*, *left* or *right* if that side of the glyph is missing
    gap       what lies between this entry and the one before: *at once* (typed in one go), *pause*
              (somebody waited, or read the print first), *yes* (the machine was stopped, or it is
              not known what was sent meanwhile, so that what it was doing before is forgotten);
              blank if nobody noted it, which counts as at once
    note      anything else

A glyph is always one character, so no word can be mistaken for one. What a machine does besides
printing is noted by the code's name for it: CR, or A+LF for both at once. Characters that a
spreadsheet or a CSV file could misread are written by their names: SP, COMMA, QUOTATION MARK,
EQUALS SIGN, PLUS SIGN, HYPHEN-MINUS, COMMERCIAL AT and so on. (A position such as 3/13 is read,
but never written: many spreadsheets turn it into the thirteenth of March.) A note that would be
taken for a formula is written with an apostrophe before it, and read back without; so is one that
would be after a semicolon, tab or line end in it, for a spreadsheet that separates cells there.
Blanks around a cell are ignored, except in notes. Rows that are blank throughout are passed over. A
semicolon or a tab between the cells is as good as a comma, as long as the first line uses it too.
A letter that is followed by its accent is the same as the one letter with its accent. Before the
columns a line may name the machine that the log was taken on: ``# machine: saltmere``.

A note may run over several lines. None of them may look like a row, or a stray quotation mark (or
a ditto mark) could hide rows in a note; so a line of a note that does is written with an
apostrophe before it, and read back without.

A file that is wrong anywhere is refused as a whole, with every wrong cell named.
"""

from __future__ import annotations

import csv
import io
import os
import re
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from difflib import get_close_matches
from typing import Any, Final, Literal, TypeAlias, TypeVar, get_args

from mechlogic.helpers import safe_file
from mechlogic.helpers.reading import FileRefused, opened, text_of
from mechlogic.helpers.refusal import Problem, Refusal
from mechlogic.model.codes import SEVEN_UNIT, Code, CodeError, character_named, is_function, shown
from mechlogic.model.seen import (
    MOST_ALTERNATIVES,
    NOTHING,
    OR,
    OVER,
    UNREADABLE,
    UNSEEN,
    is_glyph,
    is_print,
    look_alike,
)

__all__ = [
    "AT_ONCE",
    "COLUMNS",
    "FORGOTTEN",
    "NOTHING",
    "NOT_NOTED",
    "PAUSE",
    "UNREADABLE",
    "UNSEEN",
    "Entry",
    "Logbook",
    "LogbookError",
    "decode_logbook",
    "format_logbook",
    "from_lines",
    "gap_of",
    "look_alike",
    "machine_of",
    "parse_logbook",
    "print_cell",
    "read_logbook",
    "read_print",
    "sent_cell",
    "write_logbook",
]

MAX_ENTRIES = 20_000  # more than all 16,384 transitions of a seven-unit code
MAX_CHARACTERS = 2_000_000
_MOST_BYTES = 4 * MAX_CHARACTERS + 3  # UTF-8 has at most four bytes a character, a mark three
MAX_NOTE = 2_000
MAX_LINE = 100_000  # far more than any entry needs; the csv module gives up a little later
MOST_COLUMNS = 50  # many more than there are, for what a spreadsheet leaves blank
MOST_PROBLEMS = 200  # so many are told; the reading stops there

Driven: TypeAlias = Literal["speed", "hand"]
Oil: TypeAlias = Literal["cold", "warm", "unknown"]
Clipped: TypeAlias = Literal["", "top", "bottom", "left", "right"]
Gap: TypeAlias = Literal["", "at once", "pause", "yes"]

NOT_NOTED: Final = ""
"""Nobody noted what lies before an entry; it counts as :data:`AT_ONCE`."""

AT_ONCE: Final = "at once"
"""An entry was typed straight after the one before."""

PAUSE: Final = "pause"
"""Somebody waited before an entry, so a sluggish part may have come home."""

FORGOTTEN: Final = "yes"
"""The machine was stopped before an entry, so what it was doing before is forgotten."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One character sent and what came of it.

    sent     the code, without parity
    printed  the glyph, one character, or NOTHING, UNREADABLE or UNSEEN; for a machine that does
             more than print, the names of what it did: CR, or A+LF if it printed A and moved the
             paper; ``B or 8`` and ``B over 8`` as :mod:`mechlogic.model.seen` says
    driven   under its own power, or turned over by hand, when slow parts have time to return
    oil      whether the machine, and so its oil, was cold or warm
    clipped  the side of the glyph that is missing; '' if none
    gap      what lies before this entry: AT_ONCE; PAUSE, in which a sluggish part may have come
             home; FORGOTTEN, when the machine was stopped, so what came before is forgotten; or ''
             if nobody noted it, which counts as AT_ONCE
    note     anything else, at most MAX_NOTE characters

    Raises ValueError if a value is none of these.
    """

    sent: int
    printed: str
    driven: Driven = "speed"
    oil: Oil = "unknown"
    clipped: Clipped = ""
    gap: Gap = ""
    note: str = ""

    def __post_init__(self) -> None:
        if self.sent < 0:
            raise ValueError(f"sent: {self.sent} is not a code")
        if not is_print(self.printed):
            raise ValueError(f"printed: {shown(self.printed)} is not one printing character")
        for column, choices in _CHOICES.items():
            if (value := getattr(self, column)) not in choices:
                raise ValueError(f"{column}: {value!r} is none of {', '.join(map(repr, choices))}")
        if len(self.note) > MAX_NOTE:
            raise ValueError(f"note: longer than {MAX_NOTE} characters")
        if any("\ud800" <= c <= "\udfff" for c in self.note):
            raise ValueError("note: has half a character (a lone surrogate) in it")


@dataclass(frozen=True, slots=True, repr=False)
class Logbook:
    """Entries in the order they were sent, the code they were sent in, and where they came from.

    `machine` is the short name of the machine that the log was taken on, if the log says so.

    Raises ValueError if an entry's code is not one of `code`, or there are more than MAX_ENTRIES.
    """

    entries: tuple[Entry, ...] = ()
    code: Code = SEVEN_UNIT
    source: str = ""
    machine: str = ""

    def __post_init__(self) -> None:
        if len(self.entries) > MAX_ENTRIES:
            raise ValueError(f"{len(self.entries)} entries; a logbook has at most {MAX_ENTRIES}")
        if self.machine and not re.fullmatch(MACHINE_NAME, self.machine):
            raise ValueError(f"machine: {shown(self.machine)} cannot stand in a log")
        for number, entry in enumerate(self.entries, start=1):
            if entry.sent >= len(self.code):
                raise ValueError(f"entry {number}: {entry.sent} is not in the {self.code.title}")

    def __repr__(self) -> str:
        first = [f"{sent_cell(e.sent, self.code)} → {e.printed}" for e in self.entries[:12]]
        more = ", …" if len(self.entries) > 12 else ""
        return f"<Logbook of {len(self.entries)} entries: {', '.join(first)}{more}>"

    @property
    def rows(self) -> list[dict[str, str]]:
        """The entries as rows of a table, with the :data:`COLUMNS` of a CSV file."""
        return [dict(zip(COLUMNS, _row(entry, self.code), strict=True)) for entry in self.entries]

    def __len__(self) -> int:
        return len(self.entries)

    def __iter__(self) -> Iterator[Entry]:
        return iter(self.entries)

    def adding(self, *entries: Entry) -> Logbook:
        """A logbook with these entries after its own."""
        return replace(self, entries=self.entries + entries)


class LogbookError(FileRefused):
    """A log that cannot be used as it is. `problems` has every one; the message lists them all."""

    def __str__(self) -> str:
        count = len(self.problems)
        heading = f"{count} problem{'s' if count > 1 else ''} in the log, nothing was loaded:"
        return "\n".join([heading, *(f"  {problem}" for problem in self.problems)])


COLUMNS = tuple(field.name for field in fields(Entry))
"""The columns of the CSV file, in the order in which they are written."""

DITTO = "\u3003"
"""The mark for "the same as above"."""

MACHINE_NAME = r"[^\s,;\"]([^,;\"\t\r\n]{0,98}[^\s,;\"])?"
_MACHINE_LINE = re.compile(rf"#\s*(?i:machine)\s*[:=]\s*({MACHINE_NAME})")

_OLD_GAPS: dict[str, str] = {"no": NOT_NOTED, "false": NOT_NOTED, "true": FORGOTTEN}
"""What else older files say, and what it means."""

_REQUIRED = ("sent", "printed")
_CHOICES: dict[str, tuple[str, ...]] = {
    "driven": get_args(Driven),
    "oil": get_args(Oil),
    "clipped": get_args(Clipped),
    "gap": get_args(Gap),
}


# --- Writing ---------------------------------------------------------------------------------


def format_logbook(log: Logbook) -> str:
    """The log as CSV text, which parse_logbook reads back to the same entries.

    Raises ValueError if it comes to more than the MAX_CHARACTERS that could be read back.
    """
    rows = [COLUMNS, *(_row(entry, log.code) for entry in log)]
    text = f"# machine: {log.machine}\n" if log.machine else ""
    text += "".join(",".join(map(_quoted, row)) + "\n" for row in rows)
    if len(text) > MAX_CHARACTERS:
        raise ValueError(f"the log comes to {len(text)} characters; shorten its notes")
    return text


def write_logbook(log: Logbook, path: str | os.PathLike[str]) -> None:
    """Write the log to a CSV file, in UTF-8; what was there is replaced whole or not at all.

    A log with more than plain ASCII begins with a byte-order mark, or some spreadsheets would take
    its letters for others. Raises OSError if the file cannot be written; the old one is then as it
    was.
    """
    text = format_logbook(log)
    data = text.encode("utf-8" if text.isascii() else "utf-8-sig")
    safe_file.write_whole(path, data)


def _row(entry: Entry, code: Code) -> tuple[str, ...]:
    return (
        sent_cell(entry.sent, code),
        print_cell(entry.printed),
        entry.driven,
        entry.oil,
        entry.clipped,
        entry.gap,
        _FORMULA.sub("'", _marked(entry.note)),
    )


def sent_cell(sent: int, code: Code) -> str:
    """A code as it is written: ``A``, ``CR``, ``COMMA``."""
    name = code.name(sent)
    return name if len(name) > 1 else _glyph_cell(name)


def print_cell(printed: str) -> str:
    """A print as it is written: ``A``, ``COMMA``, ``nothing``, ``CR``, ``A+LF``, ``B or COMMA``."""
    for joined in (OR, OVER):
        if joined in printed:
            return joined.join(map(print_cell, printed.split(joined)))
    has_glyph = len(printed) == 1 or printed[1] == "+"
    return _glyph_cell(printed[0]) + printed[1:] if has_glyph else printed


def _glyph_cell(glyph: str) -> str:
    """A glyph as it is written: itself, or its name where it would be lost or misread."""
    if glyph == " ":
        return "SP"
    return unicodedata.name(glyph) if _is_awkward(glyph) else glyph


def _quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if re.search('[,;\t"\r\n]', cell) else cell


# --- Reading ---------------------------------------------------------------------------------


def read_logbook(path: str | os.PathLike[str], code: Code = SEVEN_UNIT) -> Logbook:
    """The log in a CSV file in UTF-8, with or without byte-order mark.

    Raises LogbookError if it cannot be read, with every problem there is.
    """
    return decode_logbook(opened(path, _MOST_BYTES, LogbookError), str(path), code)


def decode_logbook(data: bytes, source: str, code: Code = SEVEN_UNIT) -> Logbook:
    """The log in the bytes of a CSV file; as read_logbook, for a file that was handed over."""
    text = text_of(data, source, _MOST_BYTES, _TOO_LARGE, _SAVE_AS_UTF_8, LogbookError)
    return parse_logbook(text, source, code)


def parse_logbook(text: str, source: str = "pasted text", code: Code = SEVEN_UNIT) -> Logbook:
    """The log in CSV text. `source` is the file's name, for messages.

    Raises LogbookError with every problem there is; nothing is half loaded.
    """
    problems = _Problems(source)
    if len(text) > MAX_CHARACTERS:
        raise problems.fatal(0, *_TOO_LARGE)
    lines = io.StringIO(text.removeprefix("\ufeff"), newline="").readlines()
    for number, line in enumerate(lines, start=1):
        if len(line) > MAX_LINE:
            raise problems.fatal(number, f"a line of {len(line)} characters", _TOO_LARGE[1])
    first = next((i for i, line in enumerate(lines) if line.strip()), None)
    if first is None:
        raise problems.fatal(0, "there is nothing in it", _NAME_THE_COLUMNS)
    machine = _machine_named(lines[first])
    if machine:
        first = next((i for i in range(first + 1, len(lines)) if lines[i].strip()), None)
        if first is None:
            raise problems.fatal(0, "there is no entry in it", _NAME_THE_COLUMNS)
    delimiter, columns = _header(lines[first], first + 1, problems)
    entries: list[Entry] = []
    for number, cells in _rows(lines, first + 1, delimiter, columns, problems):
        entry = _entry(number, cells, columns, code, problems)
        if entry is not None:
            entries.append(entry)
        if len(entries) > MAX_ENTRIES:
            raise problems.fatal(number, *_TOO_LARGE)
    problems.raise_if_any()
    return Logbook(tuple(entries), code, source, machine)


def machine_of(data: bytes) -> str:
    """The short name of the machine that a log says it was taken on; empty if it does not say.

    Look here first, to know in which code to read the log.
    """
    lines = data[:MAX_LINE].decode("utf-8-sig", "replace").splitlines()
    return _machine_named(next((line for line in lines if line.strip()), ""))


def _machine_named(line: str) -> str:
    """The machine that the line before the columns names; a spreadsheet may add to the line."""
    named = _MACHINE_LINE.fullmatch(line.strip(' \t\r\n,;"'))
    return named[1] if named else ""


def from_lines(
    sent: str, printed: str, code: Code = SEVEN_UNIT, source: str = "pasted lines"
) -> Logbook:
    """The log of two lines of the same length: what was sent, and below it what was printed.

    A blank in the printed line is taken for a printed blank; `look_alike` knows that it may as
    well be nothing. For clipped or unreadable prints, or codes without a glyph, use CSV.

    Raises LogbookError if the lines differ in length, or a character cannot stand in its line.
    """
    problems = _Problems(source)
    sent, printed = (re.sub(r"(\r\n|\r|\n)\Z", "", line) for line in (sent, printed))
    if len(sent) > MAX_ENTRIES:
        raise problems.fatal(0, *_TOO_LARGE)
    if len(sent) != len(printed):
        raise problems.fatal(
            2,
            f"{len(sent)} characters sent, but {len(printed)} printed",
            "Put a blank wherever nothing was printed, also at the end, so that each print stands "
            "below what was sent",
        )
    entries = []
    for place, (above, below) in enumerate(zip(sent, printed, strict=True), start=1):
        number = problems.attempt(1, f"character {place}", _sent_in_line, above, code)
        glyph = problems.attempt(2, f"character {place}", _glyph, below, below, _MEND_LINE)
        if number is not None and glyph is not None:
            entries.append(Entry(number, glyph))
    problems.raise_if_any()
    return Logbook(tuple(entries), code, source)


def read_print(text: str, code: Code = SEVEN_UNIT) -> str:
    """What was printed, as a cell of a log says it: a glyph, its name, NOTHING, or ``B or 8``.

    Raises CodeError if it is none of these.
    """
    return _printed(text if text == " " else text.strip(), code)


T = TypeVar("T")


class _Wrong(CodeError):
    """A cell that cannot be read: what is wrong, and how to mend it."""


class _Problems:
    """The problems of one text, as they are found."""

    def __init__(self, source: str) -> None:
        self.source = source
        self.found: list[Problem] = []

    def add(self, line: int, column: str, what: str, mend: str) -> None:
        """Note a problem; raises LogbookError once there are too many."""
        self.found.append(Problem(self.source, line, column, what, mend))
        if len(self.found) == MOST_PROBLEMS:
            what = f"the first {MOST_PROBLEMS} problems are told; there may be more below"
            raise self.fatal(line, what, _TOO_LARGE[1])

    def attempt(self, line: int, column: str, read: Callable[..., T], *cell: Any) -> T | None:
        """What `read` makes of the cell, or None and a problem the more."""
        try:
            return read(*cell)
        except CodeError as error:
            self.add(line, column, error.what, error.mend)
            return None

    def fatal(self, line: int, what: str, mend: str) -> LogbookError:
        """For a problem after which there is no going on: the error to raise."""
        self.found.append(Problem(self.source, line, "", what, mend))
        return LogbookError(self.found)

    def raise_if_any(self) -> None:
        if self.found:
            raise LogbookError(self.found)


def _header(line: str, number: int, problems: _Problems) -> tuple[str, list[str]]:
    """The delimiter and the columns that the first line names.

    A column with a blank name stays '' and must be blank throughout; one with a wrong name is a
    problem, and called '?' so that the rows can still be looked through.
    """
    if "\0" in line:
        raise problems.fatal(0, "this is UTF-16, or no text at all", _SAVE_AS_UTF_8)
    found = [delimiter for delimiter in _DELIMITERS if delimiter in line]
    if len(found) > 1:
        raise problems.fatal(
            number,
            "the columns are separated in more than one way",
            "Use commas throughout, or semicolons throughout",
        )
    delimiter = found[0] if found else ","
    columns: list[str] = []
    meant: set[str] = set()
    try:
        cells = next(csv.reader([line], delimiter=delimiter, strict=True))
    except csv.Error:
        what = "a quotation mark is out of place in this row"
        raise problems.fatal(number, what, _NAME_THE_COLUMNS) from None
    if len(cells) > MOST_COLUMNS:
        raise problems.fatal(number, f"{len(cells)} columns", _TOO_LARGE[1])
    for cell in cells:
        column = cell.strip().lower()
        if column and column not in COLUMNS:
            near = get_close_matches(column, COLUMNS, n=1, cutoff=0.5)
            meant.update(near)
            mend = f"Did you mean {near[0]}?" if near else f"Columns are {', '.join(COLUMNS)}"
            problems.add(number, shown(cell.strip()), "there is no such column", mend)
            column = "?"
        elif column and column in columns:
            problems.add(number, column, "two columns have this name", "Keep one of them")
            column = "?"
        columns.append(column)
    if not set(COLUMNS) & set(columns):
        problems.found.clear()  # one problem, not seven: the line is not a header at all
        raise problems.fatal(number, "this line names no column", _NAME_THE_COLUMNS)
    for column in _REQUIRED:
        if column not in meant.union(columns):
            problems.add(number, column, "this column is missing", _NAME_THE_COLUMNS)
    return delimiter, columns


def _rows(
    lines: Sequence[str], start: int, delimiter: str, columns: list[str], problems: _Problems
) -> Iterator[tuple[int, list[str]]]:
    """Each row that is not blank, with the number of the line on which it begins.

    A quotation mark out of place may swallow many rows. So only a note may run over several
    lines, none of which may look like a row; and after a row that cannot be read, reading goes on
    from the very next line.
    """
    while start < len(lines):
        rest = map(lines.__getitem__, range(start, len(lines)))
        reader = csv.reader(rest, delimiter=delimiter, strict=True)
        line, start = start + 1, start + 1
        what, mend = "a quotation mark is out of place in this row", _MEND_QUOTES
        try:
            cells = next(reader)
        except csv.Error:
            stray = _open_quote(lines[line - 1], delimiter)
        else:
            runs_over = [i for i, cell in enumerate(cells) if re.search("[\r\n]", cell)]
            strange = [i for i in runs_over if columns[i : i + 1] not in (["note"], ["?"])]
            end = line - 1 + reader.line_num
            swallowed = next(
                (n for n in range(line, end) if _is_row(lines[n], delimiter, columns)), None
            )
            if not strange and swallowed is None:
                start = end
                if any(cell.strip(_BLANKS) for cell in cells) or " " in _sent_cells(cells, columns):
                    yield line, cells
                continue
            stray = (strange or runs_over)[0]
            if not strange:
                what = f"line {(swallowed or 0) + 1} looks like a row, but stands in this note"
                mend = _MEND_DITTO
        column = columns[stray] if stray < len(columns) else ""
        problems.add(line, column, what, mend)


_BLANKS = " \t\r\n\u00a0\ufeff"


def _sent_cells(cells: Sequence[str], columns: Sequence[str]) -> list[str]:
    return [cell for cell, column in zip(cells, columns, strict=False) if column == "sent"]


def _is_row(line: str, delimiter: str, columns: Sequence[str]) -> bool:
    """Whether a line, as it stands in a file, could be a row; not if an apostrophe marks it."""
    return _has_shape(line, delimiter, columns) and not _is_marked(line)


def _has_shape(line: str, delimiter: str, columns: Sequence[str]) -> bool:
    """Whether a line has cells where a row has what was sent and printed."""
    cells = [cell.strip(' \t\r\n\u00a0"') for cell in line.split(delimiter)]
    places = [columns.index(column) for column in _REQUIRED if column in columns]
    if len(places) < 2 or max(places) >= len(cells):
        return False
    sent, printed = (cells[place] for place in places)
    if _names_character(sent):
        return not printed or _reads(printed) or len(cells) == len(columns)
    return len(cells) == len(columns) and bool(printed) and _reads(printed)


def _names_character(cell: str) -> bool:
    """Whether a cell says what was sent, in any code."""
    is_position = re.fullmatch("[0-9]{1,2}/[0-9]{1,2}", cell)
    known = cell.upper() == "SP" or is_function(cell.upper()) or character_named(cell)
    return len(cell) == 1 or bool(is_position or known)


def _reads(printed: str) -> bool:
    try:
        return bool(_printed(printed, SEVEN_UNIT))
    except CodeError:
        return False


def _is_like_row(line: str) -> bool:
    """Whether a line of a note could be taken for a row, whatever separates the cells."""
    return any(_has_shape(line, delimiter, COLUMNS) for delimiter in _DELIMITERS)


def _is_marked(line: str) -> bool:
    """Whether an apostrophe says that this line of a note is no row."""
    rest = line.lstrip("'")
    marks = min(len(line) - len(rest), 3)  # more make no difference to what a line is like
    return any(_is_like_row("'" * n + rest) for n in range(marks))


def _marked(note: str) -> str:
    """A note with an apostrophe before each of its further lines that looks like a row."""
    return _FURTHER_LINE.sub(
        lambda line: "'" * (_is_like_row(line[0]) or _is_marked(line[0])) + line[0], note
    )


def _unmarked(note: str) -> str:
    """The note as it was before :func:`_marked`."""
    return _FURTHER_LINE.sub(lambda line: line[0][_is_marked(line[0]) :], note)


_FURTHER_LINE = re.compile(r"(?<=[\r\n])[^\r\n]+")
_DELIMITERS = ",;\t"


def _open_quote(line: str, delimiter: str) -> int:
    """The number of the cell, from 0, whose quotation mark keeps the line from being read."""
    pieces = line.rstrip("\r\n").split(delimiter)
    good = 0
    for count in range(1, min(len(pieces), len(COLUMNS)) + 1):
        part = [delimiter.join(pieces[:count])]
        try:
            list(csv.reader(part, delimiter=delimiter, strict=True))
        except csv.Error:
            continue
        good = count
    return good


def _entry(
    line: int, cells: Sequence[str], columns: Sequence[str], code: Code, problems: _Problems
) -> Entry | None:
    """The entry in a row, or None and at least one problem more."""
    if [cell.strip(_BLANKS).lower() for cell in cells] == [c for c in columns if c != "?"]:
        problems.add(
            line,
            "",
            "the names of the columns stand here once more",
            "If two logs were joined, delete this line, and write yes under gap in the next",
        )
        return None
    if len(cells) != len(columns):
        problems.add(
            line,
            "",
            f"{len(cells)} cells in this row, but {len(columns)} columns",
            "Give every row as many cells as the first line, blank where there is nothing to say; "
            "write COMMA for a comma, and put a note that has one in quotation marks",
        )
        return None
    before = len(problems.found)
    values: dict[str, Any] = {}
    for column, cell in zip(columns, cells, strict=True):
        if column == "":
            problems.attempt(line, "", _blank, cell)
        elif column != "?":
            values[column] = problems.attempt(line, column, _cell, column, cell, code)
    if len(problems.found) > before or not set(_REQUIRED) <= set(values):
        return None
    return Entry(**values)


def _cell(column: str, cell: str, code: Code) -> int | str:
    if column == "note":
        return _note(cell)
    cell = _with_its_accent(cell.strip())
    if column == "sent":
        return _sent(cell, code)
    if column == "printed":
        return _printed(cell, code)
    return _choice(column, cell)


def _with_its_accent(cell: str) -> str:
    """One letter, if the cell holds a letter and then its accent; to Unicode they are the same."""
    whole = unicodedata.normalize("NFC", cell) if 1 < len(cell) < 5 else cell
    return whole if len(whole) == 1 else cell


def _sent(cell: str, code: Code) -> int:
    if not cell:
        raise _Wrong("this cell is blank", "Write what was sent; for a space, SP")
    if cell in (DITTO, '"') and len(cell) == 1 and cell not in code.names:
        raise _Wrong("this is a ditto mark", "Write out what was sent")
    _refuse_dates(cell)
    return code.parse(cell)


def _sent_in_line(character: str, code: Code) -> int:
    number = code.code(character)
    if code.character(number) != character:
        raise _Wrong(
            f"{shown(character)} is in the figures case",
            "Write the log as CSV, where the shifts FIGS and LTRS have rows of their own",
        )
    return number


def _printed(cell: str, code: Code) -> str:
    """A glyph, NOTHING or UNREADABLE.

    Of the names only those are taken that we would write, or that are plain ASCII: thousands of
    everyday words are names of pictures in Unicode, and none of them is on a type wheel.
    """
    if not cell:
        raise _Wrong(
            "this cell is blank", f"Write {NOTHING} if nothing was printed, SP for a blank"
        )
    if (word := cell.lower()) in (NOTHING, UNREADABLE, UNSEEN):
        return word
    if cell == DITTO:
        raise _Wrong("this is a ditto mark", "Write out what was printed")
    if len(cell) == 1:
        return _glyph(cell, cell)
    joined = re.search(r"\s+(or|over)\s+", cell, re.IGNORECASE)
    if joined and not character_named(cell):  # HEBREW POINT DAGESH OR MAPIQ
        return _several(cell, joined[1].lower(), code)
    if is_print(cell) and cell != "SP":
        return cell
    name, plus, functions = cell.partition("+")
    first = character_named(name) if plus else ""
    if first and (first == " " or _is_awkward(first)) and is_print(seen := f"{first}+{functions}"):
        return seen
    _refuse_dates(cell)
    if re.fullmatch(r"[0-9]+/[0-9]+", cell):
        if code.figures:
            raise _Wrong(f"{cell} has a glyph in either case", "Write the glyph itself")
        return _glyph(code.character(code.parse(cell)), cell)
    glyph = character_named(cell)
    if glyph and (glyph.isascii() or _is_awkward(glyph)):
        return _glyph(glyph, cell)
    near = get_close_matches(word, (NOTHING, UNREADABLE), n=1, cutoff=0.6)
    raise _Wrong(
        f"{shown(cell)} is not one glyph",
        f"Did you mean {near[0]}?"
        if near
        else f"Write the one glyph that was printed, {NOTHING} or {UNREADABLE}, or a name: "
        "SP, COMMA, QUOTATION MARK",
    )


def _several(cell: str, joined: str, code: Code) -> str:
    """One of several, or two on top of each other: ``B or 8``, ``COMMA over 8``."""
    read = [_printed(one.strip(), code) for one in re.split(rf"(?i)\s+{joined}\s+", cell)]
    read = [NOTHING if one == " " else one for one in read]
    if not is_print(seen := f" {joined} ".join(read)):
        mend = (
            f"Write two to {MOST_ALTERNATIVES} different ones, such as B or 8"
            if joined == "or"
            else "Write the two characters, such as B over 8"
        )
        raise _Wrong(f"{shown(cell)} is not a reading", f"{mend}, or write {UNREADABLE}")
    return seen


def _glyph(glyph: str, cell: str, mend: str = f"Write {NOTHING} if nothing was printed") -> str:
    if not is_glyph(glyph):
        raise _Wrong(f"{shown(cell)} cannot be printed", mend)
    return glyph


def _choice(column: str, cell: str) -> str:
    choices = _CHOICES[column]
    word = cell.lower()
    if column == "gap":
        word = _OLD_GAPS.get(word, word)
    if word in choices:
        return word
    if not word:
        return str(Entry.__dataclass_fields__[column].default)
    near = get_close_matches(word, filter(None, choices), n=1, cutoff=0.5)
    raise _Wrong(
        f"{shown(cell)} is not one of the words for this column",
        f"Did you mean {near[0]}?"
        if near
        else f"Write {' or '.join(filter(None, choices))}, or leave it blank",
    )


def gap_of(value: Any) -> str:
    """What lies before an entry, as a record says it; in older ones, whether the machine stopped.

    Raises Refusal if it is neither.
    """
    if isinstance(value, str | bool):
        return _OLD_GAPS.get(str(value).lower(), str(value))
    raise Refusal("this is no text", f"Write one of {', '.join(map(repr, _CHOICES['gap']))}")


def _note(cell: str) -> str:
    note = _unmarked(_WRITTEN_FORMULA.sub("", cell))
    if len(note) > MAX_NOTE:
        raise _Wrong(f"a note of {len(note)} characters", f"Shorten it to {MAX_NOTE}")
    if re.search("[\ud800-\udfff]", note):
        raise _Wrong("half a character (a lone surrogate) is in it", "Type the note again")
    return note


def _blank(cell: str) -> None:
    if cell.strip():
        raise _Wrong(
            f"{shown(cell.strip())} stands below no column name",
            "Name its column in the first line, or clear the cell",
        )


def _refuse_dates(cell: str) -> None:
    """Say what has happened where a spreadsheet has made a date of a position."""
    if _DATE.fullmatch(cell):
        raise _Wrong(
            f"{shown(cell)} is a date, probably made of a position by a spreadsheet",
            "Write the character itself or its name; positions need cells formatted as text",
        )


def _is_awkward(glyph: str) -> bool:
    """Whether a glyph is safer by its name: it separates, quotes, or begins a formula or note."""
    return glyph in ",;\"'=+-@＝＋－＠〃" or unicodedata.category(glyph).startswith("M")


# Where a spreadsheet may find a formula, after blanks and any number of apostrophes: at the
# beginning of a note, or where it takes something in it for the end of a cell.
_BEGINS = r"(?:\A|(?<=[;\t\r\n]))"
_FORMULA = re.compile(_BEGINS + r"(?=[\s']*[=+\-@＝＋－＠])")
_WRITTEN_FORMULA = re.compile(_BEGINS + r"'(?=[\s']*[=+\-@＝＋－＠])")

_DATE = re.compile(
    r"(?=.*[0-9])([0-9]{1,2}|[a-z]{3})[-. ]([0-9]{1,2}|[a-z]{3,4})([-. ][0-9]{2,4})?"
    r"|[0-9]{1,2}/[0-9]{1,2}/[0-9]{2,4}|[0-9]{4}-[0-9]{2}-[0-9]{2}",
    re.ASCII | re.IGNORECASE,
)

_TOO_LARGE = (
    f"this is more than {MAX_ENTRIES} entries or {MAX_CHARACTERS} characters",
    "Check that it is the right file, or cut the log in pieces",
)
_SAVE_AS_UTF_8 = 'In the spreadsheet or editor, save it again as "CSV UTF-8"'
_NAME_THE_COLUMNS = "Begin with a line that names the columns, at least: sent,printed"
_MEND_QUOTES = (
    "For a quotation mark that was sent or printed write QUOTATION MARK; a note that has one goes "
    "in quotation marks, with every mark inside it doubled"
)
_MEND_DITTO = (
    "Write a ditto mark out, or double a quotation mark and put its note in quotation marks; "
    "if that line does belong to the note, put an apostrophe before it"
)
_MEND_LINE = "Put a blank in its place if nothing was printed, and give one line of each at a time"
