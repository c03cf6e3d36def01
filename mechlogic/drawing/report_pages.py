"""A repair report on one sheet of A4: an ordinary Matplotlib figure, black on white.

Every line is measured before it is drawn, so nothing runs off the sheet; what does not fit is
left out by :func:`mechlogic.bench.report.fitted`, which says so on the sheet.
"""

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from mechlogic.bench.record import Record
from mechlogic.bench.report import (
    CELLS_IN_ROW,
    LEGEND,
    Cell,
    Report,
    Row,
    Section,
    fitted,
    report_html,
    report_of,
)
from mechlogic.drawing.typeset import (
    A4,
    ITALIC,
    LEFT,
    MISSING,
    PRINTED,
    PRINTED_WRONG,
    SENT,
    SENT_LONG,
    SIGNS,
    SMALL,
    SMALL_STRONG,
    STRONG,
    TEXT,
    TITLE,
    Sheet,
    pdf,
)
from mechlogic.helpers import safe_file
from mechlogic.model.machine import Machine

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["MISSING", "log_cell", "report_pdf", "report_sheet"]

RIGHT, BOTTOM = A4.right, A4.bottom
LABELS = 76.0
"""Width of the column of headings."""
DAYS, MINUTES = 58.0, 52.0
"""Width of the columns of days and of minutes."""


def report_sheet(record: Record, machine: Machine, source: str = "") -> "Figure":
    """The report of a record as a figure of one A4 sheet.

    Args:
        record: The record.
        machine: Its machine, which says what is a misprint.
        source: The name of the record's file.

    Raises:
        ValueError: If the log is not in the machine's code.
    """
    whole = report_of(record, machine, source)
    report = fitted(whole, lambda one: _composed(one).y <= BOTTOM)
    return _composed(report).figure()


def report_pdf(record: Record, machine: Machine, source: str = "") -> bytes:
    """The report of a record as a PDF file of one A4 page; arguments as report_sheet.

    The same record always gives the same bytes: no date of printing is in them.
    """
    return pdf([report_sheet(record, machine, source)], "Repair record")


def write_report(
    record: Record, machine: Machine, path: str | os.PathLike[str], source: str = ""
) -> None:
    """Write the report to a file: a web page if its name ends in ``.html``, paper in ``.pdf``.

    Raises:
        ValueError: If the name ends otherwise, or the log is not in the machine's code.
        OSError: If it cannot be written; what was there is then as it was.
    """
    kind = Path(path).suffix.lower()
    if kind == ".html":
        data = report_html(record, machine, source).encode()
    elif kind == ".pdf":
        data = report_pdf(record, machine, source)
    else:
        raise ValueError(f"a report is .html or .pdf, not {kind!r}. Change the file's name")
    safe_file.write_whole(path, data)


def _composed(report: Report) -> Sheet:
    """The report put down on a sheet, which may turn out to be too short for it."""
    sheet = Sheet()
    sheet.paragraph(LEFT, "REPAIR RECORD", SMALL, RIGHT - LEFT)
    sheet.paragraph(LEFT, report.title, TITLE, RIGHT - LEFT)
    sheet.y += 2
    _facts(sheet, report.facts)
    sheet.rule(1.2)
    _log(sheet, report)
    for section in report.sections:
        _section(sheet, section)
    sheet.put(LEFT, "Take care", STRONG)
    sheet.paragraph(LEFT + LABELS, report.cautions, SMALL, RIGHT - LEFT - LABELS)
    sheet.rule(1.2)
    sheet.paragraph(LEFT, f"The whole record: {report.source}", SMALL, RIGHT - LEFT)
    return sheet


def _facts(sheet: Sheet, facts: Sequence[tuple[str, str]]) -> None:
    """Names and values side by side, a new line where the next would not fit."""
    x, gap = LEFT, 18.0
    for name, value in facts:
        own = ITALIC.width(name) + 5
        needed = own + TEXT.width(TEXT.readable(value))
        if x > LEFT and x + needed > RIGHT:
            x = LEFT
            sheet.y += TEXT.line
        sheet.put(x, name, ITALIC)
        if x + needed > RIGHT:
            sheet.paragraph(x + own, value, TEXT, RIGHT - x - own)
            sheet.y -= TEXT.line
        else:
            sheet.put(x + own, value, TEXT)
        x = RIGHT if x + needed > RIGHT else x + needed + gap
    sheet.y += TEXT.line


def _log(sheet: Sheet, report: Report) -> None:
    left = LEFT + LABELS
    step = (RIGHT - left) / CELLS_IN_ROW
    sheet.put(LEFT, "Log", STRONG)
    for start in range(0, len(report.cells), CELLS_IN_ROW):
        for number, cell in enumerate(report.cells[start : start + CELLS_IN_ROW]):
            log_cell(sheet, left + number * step, step, cell)
        sheet.y += 25
    sheet.paragraph(left, report.log_note, SMALL_STRONG, RIGHT - left)
    if report.cells:
        sheet.paragraph(left, LEGEND, SIGNS, RIGHT - left)
    sheet.rule(0.4)


def log_cell(sheet: Sheet, x: float, step: float, cell: Cell) -> None:
    """One entry of a log in a column that begins at x and is so wide, in points."""
    middle = x + step / 2
    sent = SENT_LONG if len(cell.sent) > 2 else SENT
    sheet.put(middle, cell.sent, sent, "center", 7 - sent.size + 1)
    if cell.hand:
        half, below = sent.width(cell.sent) / 2, sheet.y + 9.4
        sheet.lines.append((middle - half, below, middle + half, below, 0.5))
    _printed(sheet, middle, step, cell)
    if cell.wrong:
        sheet.box(x + 0.7, sheet.y, step - 1.4, 22)
    if cell.gap:
        sheet.lines.append((x - 0.2, sheet.y - 0.5, x - 0.2, sheet.y + 22.5, 1.6))


def _printed(sheet: Sheet, middle: float, step: float, cell: Cell) -> None:
    """What was printed or done; names of functions are set small, several one below the other."""
    face = PRINTED_WRONG if cell.wrong else PRINTED
    if len(cell.printed) == 1:
        sheet.put(middle, cell.printed, face, "center", 9)
        return
    pieces = cell.printed.split("+")
    widest = max(face.width(piece) for piece in pieces) / face.size
    size = min(6.5, (step - 3) / widest, 12 / len(pieces))
    for k, piece in enumerate(pieces):
        drop = 15 + (k - len(pieces) / 2) * size
        sheet.put(middle, piece, replace(face, size=size), "center", drop)


def _section(sheet: Sheet, section: Section) -> None:
    left, top = LEFT + LABELS, sheet.y
    sheet.put(LEFT, section.title, STRONG)
    sheet.y += STRONG.line
    if section.aside:
        sheet.paragraph(LEFT, section.aside, SMALL, LABELS - 8)
    aside_ends, sheet.y = sheet.y, top
    for row in section.rows:
        _row(sheet, row)
    if not section.rows:
        sheet.put(left, "Nothing written down.", ITALIC)
        sheet.y += ITALIC.line
    if section.note:
        sheet.paragraph(left, section.note, SMALL, RIGHT - left)
    sheet.y = max(sheet.y, aside_ends)
    sheet.rule(0.4)


def _row(sheet: Sheet, row: Row) -> None:
    left = LEFT + LABELS
    sheet.put(left, row.when, TEXT)
    sheet.put(RIGHT, row.amount, TEXT, "right")
    left += DAYS
    width = RIGHT - left - (MINUTES if row.amount else 0)
    what = f"{row.what}: " if row.what else ""
    sheet.put(left, what, STRONG)
    sheet.paragraph(left, row.text, TEXT, width, STRONG.width(what))
