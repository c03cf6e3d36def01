"""A log as it is typed: lines that can be changed, questioned, taken back and put back.

:class:`LogEditor` never changes; every method gives a new one, so a widget keeps one editor and
replaces it::

    editor = LogEditor(machine)
    editor = editor.write("A", "B")              # one line
    editor = editor.write("THE", "TXE")          # three lines
    editor = editor.change(2, note="again")      # lines are numbered from 1
    editor = editor.undo()                       # takes back one such step; redo() does it again
    editor, pasted = editor.paste(text)          # pasted.says: what was taken and what was not

A line holds what was typed, word for word, whether or not it can be.  What cannot be is in
``editor.questions``; each has a line, a column, a sentence and choices, and ``editor.answer(number,
column, text)`` answers it; ``editor.confirm(number)`` confirms a whole word that was laid side by
side.  Until then the line counts for nothing: ``editor.log``, the log for
a diagnosis, has it as unseen, or leaves it out with a stop after it if it is not known what was
sent.  Every refusal is a :class:`LogRefused` and leaves the editor as it was.
"""

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from typing import Any, Self

from mechlogic.bench.alignment import FILLER, LONGEST_LINE, align
from mechlogic.bench.doubt import Choice, Question, print_question, sent_question
from mechlogic.helpers.refusal import Problem, Refusal
from mechlogic.model.codes import Code, CodeError, shown
from mechlogic.model.logbook import (
    AT_ONCE,
    COLUMNS,
    FORGOTTEN,
    MACHINE_NAME,
    MAX_ENTRIES,
    MAX_NOTE,
    NOT_NOTED,
    Clipped,
    Driven,
    Entry,
    Gap,
    Logbook,
    LogbookError,
    Oil,
    format_logbook,
    look_alike,
    parse_logbook,
    print_cell,
    read_print,
    sent_cell,
)
from mechlogic.model.machine import Machine
from mechlogic.model.seen import NOTHING, UNREADABLE, UNSEEN

__all__ = ["Edit", "Line", "LineQuestion", "LogEditor", "LogRefused", "Pasted"]

MOST_UNDONE = 200
"""So many steps are kept for undoing."""


class LogRefused(Refusal):
    """Something that was not done to a log: what is wrong, and what to do about it."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a log, as it was typed; the marks are those of an ``Entry``.

    `sure` is False for a line of a word of which more was sent than printed, or less, so that the
    print may belong to a neighbour; it is questioned until it is confirmed.

    Raises ValueError if a mark is none of those that there are, or the note is too long.
    """

    sent: str
    printed: str
    driven: Driven = "speed"
    oil: Oil = "unknown"
    clipped: Clipped = ""
    gap: Gap = ""
    note: str = ""
    sure: bool = True

    def __post_init__(self) -> None:
        Entry(0, NOTHING, self.driven, self.oil, self.clipped, self.gap, self.note)
        for text in (self.sent, self.printed):
            if len(text) > MAX_TYPED or any("\ud800" <= c <= "\udfff" for c in text):
                raise ValueError(f"{shown(text)} is too long for one line, or half a character")


MAX_TYPED = 100
"""Characters of what was sent or printed in one line: longer than any name."""


@dataclass(frozen=True, slots=True)
class LineQuestion(Question):
    """A question about one line.

    Attributes:
        line: The number of the line, from 1.
    """

    line: int = 0


@dataclass(frozen=True, slots=True)
class Edit:
    """One step: some lines taken out at a place, and others put there.

    Attributes:
        at: How many lines stand before the place.
        taken: The lines that were there.
        put: The lines that are there now.
        says: What was done, for the buttons of undo and redo: ``"line 3 removed"``.
    """

    at: int
    taken: tuple[Line, ...]
    put: tuple[Line, ...]
    says: str = ""


@dataclass(frozen=True, slots=True)
class Pasted:
    """What became of a paste.

    Attributes:
        taken: How many lines of the log it made.
        refused: What was not taken, each with its line and what to do.
        questions: How many of the lines have to be looked at.
    """

    taken: int
    refused: tuple[Problem, ...] = ()
    questions: int = 0

    @property
    def says(self) -> str:
        """What was taken and what was not, as a sentence or two."""
        said = f"{self.taken} {'entry' if self.taken == 1 else 'entries'} taken"
        if self.refused:
            said += f", {len(self.refused)} {'pair' if len(self.refused) == 1 else 'pairs'} refused"
        if self.questions:
            said += f". {self.questions} of them to be looked at before they count"
        return f"{said}."


@dataclass(frozen=True)
class LogEditor:
    """A log that is being written; see the head of the module.

    Attributes:
        machine: The machine that the log is taken on.
        lines: The lines, in the order in which they were sent.
        done: What was done, the last step last; :meth:`undo` takes it back.
        undone: What was taken back, the last last; :meth:`redo` does it again.
    """

    machine: Machine
    lines: tuple[Line, ...] = ()
    done: tuple[Edit, ...] = ()
    undone: tuple[Edit, ...] = ()
    _known: dict[tuple[str, str], Question | None] = field(
        default_factory=dict, compare=False, repr=False
    )

    def __len__(self) -> int:
        return len(self.lines)

    # -- writing ----------------------------------------------------------------------------------

    def write(self, sent: str, printed: str, **marks: Any) -> Self:
        """The editor with what was sent and printed as lines at the end.

        A word makes a line for each character: ``THE`` and ``TXE`` make three.  If one of the two
        is shorter, or they would agree much better if shifted, all of the word is questioned:
        nobody but the writer knows where something was left out.  Two of unequal length are laid
        side by side.  For a word, *printed* may be ``nothing`` or ``unreadable`` for all of it.
        Spaces within a word were sent; those around a single character are dropped.

        Args:
            sent: As it was typed: a character, a name, a position, or a word.
            printed: The same of what was printed, or ``nothing``, ``B or 8`` and so on.
            marks: ``driven``, ``oil``, ``clipped``, ``gap`` and ``note``, as in :class:`Line`; a
                gap and a note go to the first line of a word, the others were sent at once.

        Raises:
            LogRefused: If there is nothing to write, or the log is full.
        """
        return self._append(_split(self.machine, sent, printed, marks), "written")

    def insert(self, number: int, sent: str, printed: str, **marks: Any) -> Self:
        """As :meth:`write`, but before the line of that number."""
        at = self._at(number, len(self.lines) + 1)
        lines = _split(self.machine, sent, printed, marks)
        return self._splice(at, 0, lines, f"{_named(at, len(lines))} put in")

    def change(self, number: int, **changes: Any) -> Self:
        """The editor with something of one line changed: ``change(3, printed="B", oil="cold")``.

        Raises:
            LogRefused: If there is no such line, or the change cannot be.
        """
        at = self._at(number)
        try:
            made = {k: _text(k, v) for k, v in changes.items()}
            if {"sent", "printed"} & set(made):
                made["sure"] = True
            line = replace(self.lines[at], **made)
        except (TypeError, ValueError) as error:
            raise LogRefused(f"line {number}: {error}", "Nothing was changed.") from None
        if line == self.lines[at]:
            return self
        return self._splice(at, 1, (line,), f"line {number} changed")

    def remove(self, number: int, count: int = 1) -> Self:
        """The editor without one line, or without some from there on."""
        at = self._at(number)
        self._at(number + count - 1)
        return self._splice(at, count, (), f"{_named(at, count)} removed")

    def move(self, number: int, to: int) -> Self:
        """The editor with one line moved to another's number."""
        at, there = self._at(number), self._at(to)
        first, last = sorted((at, there))
        part = list(self.lines[first : last + 1])
        part.insert(there - first, part.pop(at - first))
        return self._splice(first, len(part), part, f"line {number} moved to {to}")

    def clear(self) -> Self:
        """The editor without any line; :meth:`undo` brings them back."""
        return self._splice(0, len(self.lines), (), "log cleared")

    def answer(self, number: int, column: str, text: str) -> Self:
        """The editor with a question answered: *text* then stands in that column.

        An answer of several characters for what was printed in one line is a reading such as
        ``B or 8``, not a word.  Whoever says of one print of a word that it belongs where it stands
        says so of the whole word, see :meth:`confirm`.
        """
        line = self.lines[self._at(number)]
        if not line.sure and column == "printed" and text == line.printed:
            return self.confirm(number)
        return self.change(number, **{column: text})

    def confirm(self, number: int) -> Self:
        """The editor with the word around a line confirmed: its prints belong where they stand."""
        first = last = self._at(number)
        while first > 0 and not self.lines[first - 1].sure:
            first -= 1
        while last < len(self.lines) and not self.lines[last].sure:
            last += 1
        lines = [replace(line, sure=True) for line in self.lines[first:last]]
        return self._splice(first, len(lines), lines, f"{_named(first, len(lines))} confirmed")

    def load(self, log: Logbook) -> Self:
        """The editor with the entries of a log in the place of all its lines, as one step.

        Raises:
            LogRefused: If the log is in another code.
        """
        return self._splice(0, len(self.lines), self._lines_of(log), f"{log.source or 'log'} read")

    def append(self, log: Logbook, sure: bool = True) -> Self:
        """The editor with the entries of a log after its own; if they are not *sure*, it asks."""
        lines = [replace(line, sure=sure) for line in self._lines_of(log)]
        return self._append(lines, f"{log.source or 'log'} added")

    def join(self, other: "LogEditor") -> Self:
        """The editor with the lines of another after its own, after a stop, questions and all."""
        first, rest = other.lines[:1], other.lines[1:]
        return self._append((*(replace(line, gap=FORGOTTEN) for line in first), *rest), "log added")

    # -- pasting ----------------------------------------------------------------------------------

    def paste(self, text: str, printed: str | None = None) -> tuple[Self, Pasted]:
        """The editor with pasted lines at the end, as one step, and what became of them.

        One text may have a line of what was sent above each line of what was printed; or two
        columns, with a tab, comma or semicolon between them; or the columns of a log in CSV, with
        their names in the first line.  Two texts hold lines of the same number, sent and printed.
        Every pair of lines, or row, is taken as a whole or refused as a whole.

        Raises:
            LogRefused: If there is nothing in it, or the log would be too long.
        """
        name = "pasted text"
        found: Iterator[tuple[int, Sequence[Line] | Problem]]
        if printed is not None:
            found = _pairs(self.machine, list(_numbered(text)), list(_numbered(printed)), name)
        elif _is_csv(text):
            try:
                log = parse_logbook(text, name, self.machine.code)
            except LogbookError as error:
                return self, Pasted(0, error.problems)
            found = iter([(0, self._lines_of(log))])
        elif rows := _columns(self.machine.code, text):
            found = ((number, _split(self.machine, *pair, {})) for number, pair in rows)
        else:
            both = [line for line in _numbered(text) if line[1].strip()]
            found = _pairs(self.machine, both[::2], both[1::2], name)
        taken: list[Line] = []
        refused: list[Problem] = []
        for _, lines in found:
            if isinstance(lines, Problem):
                refused.append(lines)
            else:
                taken += lines
        if not taken and not refused:
            raise LogRefused("there is nothing in what was pasted", "Copy the lines once more.")
        longer = self._append(taken, "paste") if taken else self
        new = {q.line for q in longer.questions if q.line > len(self.lines)}
        return longer, Pasted(len(taken), tuple(refused), len(new))

    # -- taking back ------------------------------------------------------------------------------

    def undo(self) -> Self:
        """The editor before the last step; as it is if there is none."""
        if not self.done:
            return self
        last = self.done[-1]
        lines = _spliced(self.lines, last.at, last.put, last.taken)
        return replace(self, lines=lines, done=self.done[:-1], undone=(*self.undone, last))

    def redo(self) -> Self:
        """The editor after the step that was last taken back; as it is if there is none."""
        if not self.undone:
            return self
        last = self.undone[-1]
        lines = _spliced(self.lines, last.at, last.taken, last.put)
        return replace(self, lines=lines, done=(*self.done, last), undone=self.undone[:-1])

    @property
    def can_go_back(self) -> bool:
        """Whether all the steps lead to these lines; not so if a file was mended by hand."""
        for steps, after in ((self.done, True), (self.undone, False)):
            lines = self.lines
            for step in reversed(steps):
                old, new = (step.put, step.taken) if after else (step.taken, step.put)
                if step.at < 0 or lines[step.at : step.at + len(old)] != old:
                    return False
                lines = _spliced(lines, step.at, old, new)
        return True

    # -- reading ----------------------------------------------------------------------------------

    @cached_property
    def questions(self) -> tuple[LineQuestion, ...]:
        """What has to be answered before it counts, line by line."""
        return tuple(
            LineQuestion(q.column, q.typed, q.says, q.choices, number)
            for number, line in enumerate(self.lines, start=1)
            for q in (self._asked("sent", line.sent), self._asked_print(line))
            if q
        )

    @cached_property
    def log(self) -> Logbook:
        """The log for a diagnosis: what is questioned counts for nothing."""
        return Logbook(tuple(entry for _, entry in self._entries), self.machine.code)

    @cached_property
    def numbers(self) -> tuple[int, ...]:
        """For each entry of :attr:`log`, the number of its line."""
        return tuple(number for number, _ in self._entries)

    def csv(self) -> str:
        """The log as CSV text, to be saved as a file; as :attr:`to_save`."""
        return format_logbook(self.to_save)

    @cached_property
    def to_save(self) -> Logbook:
        """The log for a file: as :attr:`log`, and what is questioned stands in the notes."""
        entries = list(self.log)
        for place, number in enumerate(self.numbers):
            line, entry = self.lines[number - 1], entries[place]
            left_out = self.lines[self.numbers[place - 1] if place else 0 : number - 1]
            notes = [f"left out: {_said(one)}" for one in left_out]
            if self._asked_print(line):
                notes.append(f"questioned: {_said(line)}")
            if notes:
                note = "; ".join([*notes, entry.note] if entry.note else notes)
                entries[place] = replace(entry, note=note[:MAX_NOTE])
        name = self.machine.name if re.fullmatch(MACHINE_NAME, self.machine.name) else ""
        return Logbook(tuple(entries), self.machine.code, machine=name)

    @cached_property
    def _entries(self) -> tuple[tuple[int, Entry], ...]:
        found, stop = [], False
        for number, line in enumerate(self.lines, start=1):
            if self._asked("sent", line.sent):
                stop = True
                continue
            entry = _entry(line, self.machine.code, bool(self._asked_print(line)))
            found.append((number, replace(entry, gap=FORGOTTEN) if stop else entry))
            stop = False
        return tuple(found)

    def _asked_print(self, line: Line) -> Question | None:
        found = self._asked("printed", line.printed)
        if found or line.sure:
            return found
        choices = (
            Choice(line.printed, "yes, all of this word as it stands"),
            Choice(UNSEEN, "I do not know"),
        )
        return Question("printed", line.printed, _UNSURE, choices)

    def _asked(self, column: str, typed: str) -> Question | None:
        """The question about something typed; each is asked of the machine only once."""
        key = (column, typed)
        if key not in self._known:
            ask = sent_question if column == "sent" else print_question
            self._known[key] = ask(self.machine, typed)
        return self._known[key]

    # -- steps ------------------------------------------------------------------------------------

    def _append(self, lines: Sequence[Line], done: str) -> Self:
        at = len(self.lines)
        return self._splice(at, 0, lines, f"{_named(at, len(lines))}: {done}")

    def _splice(self, at: int, count: int, lines: Sequence[Line], says: str) -> Self:
        taken, put = self.lines[at : at + count], tuple(lines)
        if not taken and not put:
            return self
        if len(self.lines) - len(taken) + len(put) > MAX_ENTRIES:
            mend = "Save this one, and begin another."
            raise LogRefused(f"a log has at most {MAX_ENTRIES} lines", mend)
        edit = Edit(at, taken, put, says)
        return replace(
            self,
            lines=_spliced(self.lines, at, taken, put),
            done=(*self.done, edit)[-MOST_UNDONE:],
            undone=(),
        )

    def _at(self, number: int, most: int | None = None) -> int:
        most = len(self.lines) if most is None else most
        if not 1 <= number <= most:
            mend = f"Lines are numbered from 1 to {most}." if most else "The log is empty."
            raise LogRefused(f"there is no line {number}", mend)
        return number - 1

    def _lines_of(self, log: Logbook) -> tuple[Line, ...]:
        if log.code != self.machine.code:
            what = f"the log is in the {log.code.title}, not the {self.machine.code.title}"
            raise LogRefused(what, "Choose a log of this machine.")
        if log.machine not in ("", self.machine.name):
            what = f"the log says that it was taken on {log.machine}, not on {self.machine.name}"
            raise LogRefused(what, "Choose that machine, or take the line out of the file.")
        return tuple(_line(entry, log.code) for entry in log)


_UNSURE = (
    "Something was left out or is too much here, sent or printed. Does this print belong to this "
    "character?"
)


# -- lines and entries -----------------------------------------------------------------------------


def _line(entry: Entry, code: Code) -> Line:
    marks = {f.name: getattr(entry, f.name) for f in fields(Entry)[2:]}
    return Line(sent_cell(entry.sent, code), print_cell(entry.printed), **marks)


def _entry(line: Line, code: Code, questioned: bool) -> Entry:
    printed = UNSEEN if questioned else read_print(line.printed, code)
    marks = {f.name: getattr(line, f.name) for f in fields(Entry)[2:]}
    return Entry(code.parse(line.sent), printed, **marks)


def _said(line: Line) -> str:
    return f"{line.sent or 'blank'} sent, {line.printed or 'blank'} printed"


def _text(column: str, value: Any) -> Any:
    """A typed text without the blanks around it, but a lone blank is a space."""
    if column not in ("sent", "printed"):
        return value
    return "SP" if value == " " else value.strip()


def _named(at: int, count: int) -> str:
    return f"line {at + 1}" if count == 1 else f"lines {at + 1} to {at + count}"


def _spliced(
    lines: tuple[Line, ...], at: int, taken: tuple[Line, ...], put: tuple[Line, ...]
) -> tuple[Line, ...]:
    return lines[:at] + put + lines[at + len(taken) :]


# -- words -----------------------------------------------------------------------------------------


def _split(
    machine: Machine,
    sent: str,
    printed: str,
    marks: dict[str, Any],
    text: bool = False,
    typed: bool = True,
) -> tuple[Line, ...]:
    """The lines of what was sent and printed, one for each character.

    Args:
        text: Whether it is a line of text for certain, and not the name of a character.
        typed: Whether it was written down as one word, and so was sent in one go.
    """
    if not sent.strip(_BLANKS) and not printed.strip(_BLANKS) and " " not in (sent, printed):
        raise LogRefused("nothing is written down", "Write what was sent, and what was printed.")
    try:
        if not text and _is_one(machine, sent, printed):
            return (Line(_text("sent", sent), _text("printed", printed), **marks),)
        pairs, sure = _word(sent.strip(_LINE_ENDS), printed.strip(_LINE_ENDS))
        marks = marks | {"sure": sure}
        later = marks | {"gap": AT_ONCE if typed else NOT_NOTED, "note": ""}
        return tuple(
            Line(_text("sent", above), _text("printed", below), **(later if n else marks))
            for n, (above, below) in enumerate(pairs)
        )
    except (TypeError, ValueError) as error:
        raise LogRefused(f"{error}".rstrip("."), "Nothing was written.") from None


_LINE_ENDS = "\r\n"
_BLANKS = " \t\r\n\u00a0"


def _is_one(machine: Machine, sent: str, printed: str) -> bool:
    """Whether this is one entry and not a word: one character, or the name of one."""
    above, below = sent.strip(), printed.strip()
    if len(above) == 1:  # several printed for one sent is one reading, or questioned
        return True
    if not above:
        return len(below) <= 1 or _reads(below, machine.code)
    try:
        machine.code.parse(above)
    except CodeError:
        return False
    return True  # SO is a name before it is a word; what cannot be is then questioned


def _reads(printed: str, code: Code) -> bool:
    try:
        read_print(printed, code)
    except CodeError:
        return False
    return True


def _word(sent: str, printed: str) -> tuple[list[tuple[str, str]], bool]:
    """What was sent and printed, character by character, and whether they surely belong so.

    Where one of them has nothing stands ''.
    """
    if (word := printed.strip().lower()) in (NOTHING, UNREADABLE, UNSEEN):
        return [(above, word) for above in sent], True
    if not sent[len(printed) :].strip():  # blanks at the end of a line are seldom copied
        printed = printed.ljust(len(sent))
    equal = sure = len(sent) == len(printed)
    if not equal or (3 < len(sent) <= LONGEST_COMPARED and FILLER not in sent + printed):
        above, below = align(sent, printed)
        sure = equal and FILLER not in above  # or else they agree much better if shifted
        if not equal:
            sent, printed = above, below
    columns = zip(sent, printed, strict=True)
    return [(one.replace(FILLER, ""), other.replace(FILLER, "")) for one, other in columns], sure


LONGEST_COMPARED = 400
"""Characters of a line of which it is tried whether it agrees better if shifted."""


# -- what was pasted -------------------------------------------------------------------------------


def _numbered(text: str) -> Iterator[tuple[int, str]]:
    """The lines of a text with their numbers, blank ones at its end left out."""
    return enumerate(re.split(r"\r\n|\r|\n", text.rstrip(_LINE_ENDS)), start=1)


def _is_csv(text: str) -> bool:
    first = next((line for _, line in _numbered(text) if line.strip()), "")
    names = {cell.strip(' "\ufeff').lower() for cell in re.split("[,;\t]", first)}
    return {"sent", "printed"} <= names and names <= {*COLUMNS, ""}


def _columns(code: Code, text: str) -> list[tuple[int, tuple[str, str]]]:
    """The rows of a text in two columns; none if it is anything else."""
    lines = [(number, line) for number, line in _numbered(text) if line.strip()]
    for mark in "\t;,":
        try:
            rows = [next(csv.reader([line], delimiter=mark, strict=True)) for _, line in lines]
        except (csv.Error, StopIteration):
            continue
        if not rows or any(len(row) != 2 for row in rows):
            continue
        pairs = [(above, below) for above, below in rows]
        if mark == "\t" or all(_may_be_row(code, *pair) for pair in pairs):
            return list(zip((number for number, _ in lines), pairs, strict=True))
    return []


def _may_be_row(code: Code, sent: str, printed: str) -> bool:
    """Whether two cells are one character sent and one reading; text with a comma is not."""
    try:
        code.parse(sent)
    except CodeError:
        return len(sent.strip()) == 1
    return len(printed.strip()) <= 1 or _reads(printed.strip(), code)


def _pairs(
    machine: Machine, above: list[tuple[int, str]], below: list[tuple[int, str]], name: str
) -> Iterator[tuple[int, Sequence[Line] | Problem]]:
    """The lines of each pair, or what is wrong with it."""
    for place, (number, sent) in enumerate(above):
        if place >= len(below):
            what, mend = "no printed line stands below it", "Paste the two lines together"
            yield number, Problem(name, number, "sent", what, mend)
            continue
        printed = below[place][1]
        if not sent.strip(_LINE_ENDS) and not printed.strip(_LINE_ENDS):
            continue
        problem = _not_a_pair(sent, printed)
        try:
            text = len(sent) == len(printed) > 1  # a line of text, even if it says SO
            found = () if problem else _split(machine, sent, printed, {}, text, typed=False)
        except LogRefused as error:
            problem = (error.what, error.mend.removesuffix("."))
        yield number, Problem(name, number, "", *problem) if problem else found
    for number, _ in below[len(above) :]:
        what, mend = "no line that was sent stands above it", "Paste the two lines together"
        yield number, Problem(name, number, "printed", what, mend)


def _not_a_pair(sent: str, printed: str) -> tuple[str, str] | None:
    """What keeps two lines from being sent and printed, and what to do about it."""
    longest = max(len(sent), len(printed))
    if longest > LONGEST_LINE:
        return f"a line of {longest} characters", f"Cut it at {LONGEST_LINE}"
    if printed.strip().lower() in (NOTHING, UNREADABLE, UNSEEN) or longest < 4:
        return None
    alike = sum(map(look_alike, *align(sent, printed))) if FILLER not in sent + printed else 0
    if abs(len(sent) - len(printed)) > 2 and alike < longest / 3:
        return (
            f"{len(sent)} characters sent, but {len(printed)} printed, and few of them agree",
            "Check that the second line is what was printed of the first, or give them one by one",
        )
    return None
