"""A repair record as one page for a club's files: what it says, and how much of it fits.

A record may hold far more than a page can: then texts are shortened, the oldest rows and the end
of the log are left out, and the page says so.  The record file keeps it all.
"""

import math
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache

from mechlogic.bench.evidence import Evidence
from mechlogic.bench.pages import print_mark
from mechlogic.bench.record import OILED, Acceptance, Finding, Item, Record
from mechlogic.bench.story import hypothesis_label
from mechlogic.helpers.paper import Page
from mechlogic.helpers.sentences import counted
from mechlogic.helpers.templates import render
from mechlogic.model.faults import MODES, SAFE_TO_LOOK, SAFE_TO_OIL, SAFE_TO_WIRE
from mechlogic.model.logbook import FORGOTTEN, Entry
from mechlogic.model.machine import Machine

__all__ = [
    "Cell",
    "Report",
    "Row",
    "Section",
    "fitted",
    "one_page",
    "report_of",
    "report_page",
]

CELLS_IN_ROW = 30
"""Log entries side by side."""

LEGEND = (
    "Above what was sent, below what was printed: ␣ nothing, ▒ unreadable, · not seen. Boxed: a "
    "misprint. After a bar: the machine had been stopped. Underlined: turned by hand."
)

SHORTENED = "… [shortened]"
"""What stands at the end of a text that is not whole."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One entry of the log as it is shown.

    Attributes:
        sent, printed: Names or signs.
        wrong: Whether it is a misprint.
        gap: Whether the machine was stopped before.
        hand: Whether it was turned by hand.
    """

    sent: str
    printed: str
    wrong: bool = False
    gap: bool = False
    hand: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a section: when (or how likely), what, in words, and minutes."""

    when: str
    what: str
    text: str
    amount: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    """Rows under a heading.

    Attributes:
        title: The heading.
        rows: What there is to say.
        note: A closing line: a total, or how many rows are left out.
        aside: A few words in small print below the heading.
        newest: Whether the last rows, not the first, are kept when not all fit.
    """

    title: str
    rows: tuple[Row, ...]
    note: str = ""
    aside: str = ""
    newest: bool = True


@dataclass(frozen=True, slots=True)
class Report:
    """Everything that one page says.

    Attributes:
        title: What the repair is called.
        facts: Names and values for the head of the page.
        cells: The log.
        log_note: How long the log is, how many misprints it has, and what is not shown of it.
        sections: All the rest.
        cautions: What can hurt.
        source: Where the whole record is.
    """

    title: str
    facts: tuple[tuple[str, str], ...]
    cells: tuple[Cell, ...]
    log_note: str
    sections: tuple[Section, ...]
    cautions: str
    source: str


# --- What it says -------------------------------------------------------------------------------


def report_of(record: Record, machine: Machine, source: str = "") -> Report:
    """All that there is to say, however long.

    Args:
        record: The record.
        machine: Its machine, which says what is a misprint.
        source: The name of the record's file.

    Raises:
        ValueError: If the log is not in the machine's code.
    """
    evidence = Evidence(machine, record.log)
    cells = tuple(
        _cell(machine, entry, bool(evidence.misprints >> t & 1))
        for t, entry in enumerate(record.entries)
    )
    named = record.machine
    facts = [
        ("Machine", record.machine.title),
        *((k, v) for k, v in (("Serial number", named.serial), ("Owner", named.owner)) if v),
        ("Restorer", record.restorer or "not named"),
        ("Opened", str(record.opened)),
        ("Closed", str(record.closed or "still open")),
        ("Described as", f"{record.machine.name}, {record.machine.digest[:19]}…"),
    ]
    if not record.is_of(machine):
        facts.append(
            (
                "Mind",
                "The machine's description has been changed since the record was opened, or is "
                "another one. Misprints are marked by the description as it is now.",
            )
        )
    return Report(
        title=_visible(record.repair),
        facts=tuple((name, _visible(value)) for name, value in facts),
        cells=cells,
        log_note=_log_note(record.entries, cells, len(cells)),
        sections=_sections(record, machine),
        cautions=_cautions(record),
        source=_visible(source) or "the record file",
    )


def _sections(record: Record, machine: Machine) -> tuple[Section, ...]:
    suspects = record.last_suspects
    log_then = [f"{s.on}, after {counted(s.entries, 'entry', 'entries')}" for s in suspects[:1]]
    checks = _rows(
        record.checks,
        lambda c: Row(
            str(c.on),
            c.done,
            _check_text(c.advised, c.outcome),
            f"{c.minutes:g} min" if c.minutes else "",
        ),
    )
    found = (
        Section(
            "Suspected",
            tuple(Row(s.probability, "", s.label) for s in suspects),
            aside="".join(log_then),
            newest=False,
        ),
        Section("Checks", checks, f"In all {record.minutes:g} min." if record.minutes else ""),
        Section(
            "Found",
            _rows(record.findings, lambda f: Row(str(f.on), "", _finding_text(machine, f))),
        ),
        Section("Remedy", _rows(record.remedies, lambda r: Row(str(r.on), "", r.text))),
        Section(
            "Acceptance",
            _rows(record.acceptances, lambda a: Row(str(a.on), a.result, _acceptance_text(a))),
        ),
        Section("Notes", _rows(record.notes, lambda n: Row(str(n.on), "", n.text))),
    )
    return tuple(replace(s, rows=tuple(map(_visible_row, s.rows))) for s in found)


def _rows(items: Sequence[Item], row: Callable[[Item], Row]) -> tuple[Row, ...]:
    """A row for each item; one that a later one corrects, and the one that does, say so."""
    corrected = {item.corrects for item in items}
    rows = []
    for number, item in enumerate(items, start=1):
        says = [f"corrects number {item.corrects}"] if item.corrects else []
        says += ["corrected below"] if number in corrected else []
        made = row(item)
        rows.append(replace(made, text=f"[{', '.join(says)}] {made.text}") if says else made)
    return tuple(rows)


def _acceptance_text(test: Acceptance) -> str:
    printed = f"printed “{test.printed}”" if test.printed else ""
    return " – ".join(filter(None, (f"“{test.sent}”", printed, test.remark)))


def _check_text(advised: str, outcome: str) -> str:
    parts = (f"Advised: {advised}" if advised else "", outcome)
    return " → ".join(filter(None, parts)) or "no outcome written down"


def _finding_text(machine: Machine, finding: Finding) -> str:
    named = hypothesis_label(machine, finding.faults) if finding.faults else ""
    return ". ".join(filter(None, (named, finding.text)))


def _cell(machine: Machine, entry: Entry, wrong: bool) -> Cell:
    return Cell(
        machine.code.name(entry.sent),
        _visible(print_mark(entry.printed)),
        wrong,
        entry.gap == FORGOTTEN,
        entry.driven == "hand",
    )


def _log_note(entries: Sequence[Entry], cells: Sequence[Cell], shown: int) -> str:
    if not entries:
        return "No log was kept."
    wrong = sum(cell.wrong for cell in cells)
    says = (
        f"{counted(len(cells), 'entry', 'entries')}, {counted(wrong, 'misprint', 'misprints')}"
        f"{_noted(entries)}."
    )
    hidden = sum(cell.wrong for cell in cells[shown:])
    return says + _left_out(len(cells) - shown, hidden)


def _noted(entries: Sequence[Entry]) -> str:
    notes = sum(bool(entry.note) for entry in entries)
    return f"; {counted(notes, 'entry has a note', 'entries have notes')}" if notes else ""


def _left_out(entries: int, misprints: int) -> str:
    if not entries:
        return ""
    return (
        f" {counted(entries, 'more entry', 'more entries')} in the record file, "
        f"{counted(misprints, 'misprint', 'misprints')} among them."
    )


def _cautions(record: Record) -> str:
    modes = {fault.mode for finding in record.findings for fault in finding.faults}
    oil = any(check.done == OILED for check in record.checks) or any(
        SAFE_TO_OIL in MODES[mode].cautions for mode in modes
    )
    return " ".join((SAFE_TO_LOOK, *((SAFE_TO_OIL,) if oil else ()), SAFE_TO_WIRE))


def _visible(text: str) -> str:
    """A text on one line, with a sign in the place of what cannot be seen or would turn others."""
    text = " ".join(text.split())
    return "".join(map(_seen, text))


@cache
def _seen(c: str) -> str:
    unseen = unicodedata.category(c) in ("Cc", "Cs", "Cn", "Co") or c in _TURNING
    return "\N{REPLACEMENT CHARACTER}" if unseen else c


_TURNING = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"


def _visible_row(row: Row) -> Row:
    return Row(_visible(row.when), row.what, _visible(row.text), row.amount)


# --- How much of it fits ------------------------------------------------------------------------


COLUMNS = 72
"""Small letters in one line of a row's text, at least."""


def fitted(report: Report, fits: Callable[[Report], bool]) -> Report:
    """As much of a report as fits, and notes on what does not.

    The log and each section get one row at first, and then in turn one more, for as long as the
    page has room for it.

    Args:
        report: All there is to say.
        fits: Whether a shortened report fits the page.
    """
    sizes = [1] * (len(report.sections) + 1)
    shown = _shortened(report, sizes)
    growing = list(range(len(sizes)))
    enough = [_enough(report, number) for number in growing]
    while growing:
        for number in tuple(growing):
            sizes[number] += 1
            larger = _shortened(report, sizes)
            if fits(larger):
                shown = larger
            else:
                sizes[number] -= 1
            if shown is not larger or sizes[number] > enough[number]:
                growing.remove(number)
    return shown


def one_page(report: Report) -> Report:
    """As much of a report as fits on one printed page of the web page, A4 or Letter."""
    return fitted(report, lambda shorter: _lines(shorter) <= LINES_ON_PAGE)


def _enough(report: Report, number: int) -> int:
    """The size at which the log (0), or a section (from 1), is whole."""
    if not number:
        return -(-len(report.cells) // CELLS_IN_ROW)
    rows = report.sections[number - 1].rows
    widest = max((_width(row.text) + _width(row.what) for row in rows), default=0)
    return max(len(rows), 2 * int(widest / COLUMNS) + 2)


def _shortened(report: Report, sizes: Sequence[int]) -> Report:
    """The report with the log and each section at such a size: so many rows, half as many lines."""
    shown = report.cells[: sizes[0] * CELLS_IN_ROW]
    rest = report.cells[len(shown) :]
    return replace(
        report,
        title=_cut(report.title, 100),
        facts=tuple((name, _cut(value, 170)) for name, value in report.facts),
        cells=shown,
        log_note=report.log_note + _left_out(len(rest), sum(cell.wrong for cell in rest)),
        sections=tuple(map(_shortened_section, report.sections, sizes[1:])),
        source=_cut(report.source, 60),
    )


def _shortened_section(section: Section, size: int) -> Section:
    left_out = max(0, len(section.rows) - size)
    kept = section.rows[left_out:] if section.newest else section.rows[:size]
    kind = "earlier" if section.newest else "less likely"
    more = f"{left_out} {kind} in the record file." if left_out else ""
    columns = COLUMNS * max(1, size // 2)
    rows = tuple(
        replace(row, when=_cut(row.when, 14), text=_cut(row.text, columns - _width(row.what)))
        for row in kept
    )
    return replace(section, rows=rows, note=" ".join(filter(None, (section.note, more))))


def _cut(text: str, columns: float) -> str:
    """A text that is not wider than so many columns, and says so if it is not whole."""
    width, kept = 0.0, 0
    for letter in text:
        width += _letter_width(letter)
        if width > columns:
            return text[:kept].rstrip() + SHORTENED
        kept += width <= columns - _width(SHORTENED)
    return text


def _width(text: str) -> float:
    """How wide a text is, in ordinary small letters; rather too much than too little."""
    return sum(map(_letter_width, text))


@cache
def _letter_width(c: str) -> float:
    if unicodedata.east_asian_width(c) in "WF" or not (c.isascii() or c in _NARROW):
        return 2.1
    if c in "WMmw@%":
        return 1.9
    return 1.4 if c.isupper() else 1.2 if c.isdigit() else 1.0


_NARROW = "“”‘’·–→"


def _lines(report: Report) -> float:
    """How many lines the page has, at a guess that is rather too large."""

    def lines(text: str, columns: float = COLUMNS) -> int:
        return max(1, math.ceil(_width(text) / columns))

    facts = sum(lines(f"{name} {value}", 100) for name, value in report.facts)
    log = 2 * math.ceil(len(report.cells) / CELLS_IN_ROW)
    log += lines(report.log_note + (LEGEND if report.cells else ""), 100)
    sections = [
        max(
            sum(lines(row.what + row.text) for row in section.rows) + bool(section.note),
            3 if section.aside else 1,
        )
        for section in report.sections
    ]
    padding = 0.8 * (len(sections) + 3)
    head, foot = 1 + 1.7 * lines(report.title, 46) + facts, 1
    return head + log + sum(sections) + lines(report.cautions, 100) + padding + foot


LINES_ON_PAGE = 55
"""Lines that fit both an A4 and a Letter sheet."""


# --- As a page -----------------------------------------------------------------------------------


def report_page(record: Record, machine: Machine, source: str = "", size: str = "") -> Page:
    """The report as a page that is complete in itself: no scripts, nothing fetched.

    It prints on one sheet of A4 or Letter.

    Args:
        record: The record.
        machine: Its machine, which says what is a misprint.
        source: The name of the record's file.
        size: The paper; left out, that of whoever prints it.

    Raises:
        ValueError: If the log is not in the machine's code.
    """
    report = one_page(report_of(record, machine, source))
    return Page(f"{report.title}: repair record", body(report), size)


def body(report: Report) -> str:
    """The page without its frame, for a place that has the style sheet already."""
    return render("report.html", report=report, legend=LEGEND)
