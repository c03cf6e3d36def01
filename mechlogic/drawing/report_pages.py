"""A repair report on one sheet of A4: an ordinary Matplotlib figure, black on white.

Every line is measured before it is drawn, so nothing runs off the sheet; what does not fit is
left out by :func:`mechlogic.report.fitted`, which says so on the sheet.
"""

import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from io import BytesIO
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from mechlogic.drawing.sheets import A4
from mechlogic.machine import Machine
from mechlogic.record import Record
from mechlogic.report import CELLS_IN_ROW, LEGEND, Cell, Report, Row, Section, fitted, report_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.font_manager import FontProperties
    from matplotlib.ft2font import FT2Font

__all__ = ["report_pdf", "report_sheet"]

POINT = 1 / 72  # inches; all lengths below are in points, y counted downwards
WIDTH, HEIGHT = (side / POINT for side in A4)
LEFT, TOP = 43.0, 38.0
RIGHT, BOTTOM = WIDTH - LEFT, HEIGHT - TOP
LABELS = 76.0
"""Width of the column of headings."""
DAYS, MINUTES = 58.0, 52.0
"""Width of the columns of days and of minutes."""

MISSING = "□"
"""Stands for a letter that the fonts do not have."""

# These fonts come with Matplotlib, so that the sheet looks the same everywhere.
SERIF, MONO = ("STIXGeneral", "DejaVu Sans"), ("DejaVu Sans Mono", "DejaVu Sans")


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
    import matplotlib

    file = BytesIO()
    with matplotlib.rc_context(_SETTINGS):
        report_sheet(record, machine, source).savefig(
            file, format="pdf", metadata={"CreationDate": None, "Title": "Repair record"}
        )
    return file.getvalue()


# Whatever the reader has set: texts are never taken for formulas, and stay searchable.
_SETTINGS: dict[Any, Any] = {"text.usetex": False, "text.parse_math": False, "pdf.fonttype": 42}


# --- Letters ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Face:
    """A typeface at a size."""

    family: tuple[str, ...] = SERIF
    size: float = 10.0
    bold: bool = False
    italic: bool = False

    @property
    def properties(self) -> "FontProperties":
        from matplotlib.font_manager import FontProperties

        return FontProperties(
            family=list(self.family),
            size=self.size,
            weight="bold" if self.bold else "normal",
            style="italic" if self.italic else "normal",
        )

    @property
    def line(self) -> float:
        """From one line to the next, in points."""
        return 1.22 * self.size

    def width(self, text: str) -> float:
        """How wide a text is, in points."""
        return self.size * sum(_advance(c, self.family, self.bold, self.italic) for c in text)

    def readable(self, text: str) -> str:
        """The text with a box for each letter that the fonts do not have."""
        return "".join(c if _has(c, self.family, self.bold, self.italic) else MISSING for c in text)


TITLE = _Face(size=20, bold=True)
TEXT, STRONG = _Face(), _Face(bold=True)
SMALL, SMALL_STRONG = _Face(size=8), _Face(size=8, bold=True)
SIGNS = _Face(("DejaVu Sans",), 6.6)  # has ␣ and ▒ as they look in the log
ITALIC = _Face(italic=True)
SENT, SENT_LONG = _Face(size=7), _Face(size=5)
PRINTED, PRINTED_WRONG = _Face(MONO, 10), _Face(MONO, 10, bold=True)


@cache
def _fonts(family: tuple[str, ...], bold: bool, italic: bool) -> "Sequence[FT2Font]":
    from matplotlib.font_manager import findfont
    from matplotlib.ft2font import FT2Font

    fonts = []
    for name in family:
        face = _Face((name,), bold=bold, italic=italic)
        font = FT2Font(findfont(face.properties, fallback_to_default=False))
        font.set_size(100, 72)
        fonts.append(font)
    return fonts


@cache
def _has(c: str, family: tuple[str, ...], bold: bool, italic: bool) -> bool:
    return any(font.get_char_index(ord(c)) for font in _fonts(family, bold, italic))


@cache
def _advance(c: str, family: tuple[str, ...], bold: bool, italic: bool) -> float:
    """How far a letter moves the next one, in ems."""
    for font in _fonts(family, bold, italic):
        if font.get_char_index(ord(c)):
            return float(font.load_char(ord(c)).linearHoriAdvance) / 65536 / 100
    return _advance(MISSING, family, bold, italic) if c != MISSING else 1.0


def _wrapped(text: str, face: _Face, width: float, indent: float = 0.0) -> list[str]:
    """The text in lines that are not wider than *width*, the first by *indent* less.

    Words too long for a line are broken; never between a letter and its accents.
    """
    lines = [""]
    room = width - indent
    for word in text.split(" "):
        between = " " if lines[-1] else ""
        if face.width(lines[-1] + between + word) <= room:
            lines[-1] += between + word
            continue
        if lines[-1] or room < width:
            lines.append("")
            room = width
        for letter in _letters(word):
            if lines[-1] and face.width(lines[-1] + letter) > room:
                lines.append("")
            lines[-1] += letter
    return lines


def _letters(word: str) -> Iterator[str]:
    """The letters of a word, each with the accents that belong to it."""
    letter = ""
    for c in word:
        if letter and not unicodedata.category(c).startswith("M") and c != "\u200d":
            yield letter
            letter = ""
        letter += c
    if letter:
        yield letter


# --- The sheet ----------------------------------------------------------------------------------


@dataclass
class _Sheet:
    """Texts and lines put down from the top; `y` is where the next one goes."""

    y: float = TOP
    texts: list[tuple[float, float, str, _Face, str]] = field(default_factory=list)
    lines: list[tuple[float, float, float, float, float]] = field(default_factory=list)

    def put(self, x: float, text: str, face: _Face, align: str = "left", drop: float = 0.0) -> None:
        """A text whose line begins at y; the place of the next is not changed."""
        if text := face.readable(text):
            self.texts.append((x, self.y + drop + 0.95 * face.size, text, face, align))

    def paragraph(self, x: float, text: str, face: _Face, width: float, indent: float = 0) -> None:
        """A text in lines; the next one goes below."""
        for number, line in enumerate(_wrapped(face.readable(text), face, width, indent)):
            self.put(x + (0 if number else indent), line, face)
            self.y += face.line

    def rule(self, weight: float, above: float = 4.0, below: float = 4.0) -> None:
        """A line across the sheet."""
        self.y += above
        self.lines.append((LEFT, self.y, RIGHT, self.y, weight))
        self.y += below

    def box(self, x: float, y: float, width: float, height: float) -> None:
        """A frame."""
        right, below = x + width, y + height
        corners = ((x, y), (right, y), (right, below), (x, below), (x, y))
        for (x1, y1), (x2, y2) in pairwise(corners):
            self.lines.append((x1, y1, x2, y2, 0.9))

    def figure(self) -> "Figure":
        """All of it, drawn."""
        from matplotlib.figure import Figure
        from matplotlib.lines import Line2D

        figure = Figure(figsize=A4, facecolor="white")
        figure.add_axes((0, 0, 1, 1)).set_axis_off()  # a notebook shows no figure without axes
        for x, y, text, face, align in self.texts:
            figure.text(
                x / WIDTH,
                1 - y / HEIGHT,
                text,
                fontproperties=face.properties,
                ha=align,
                va="baseline",
                color="black",
                parse_math=False,
                usetex=False,
            )
        for x1, y1, x2, y2, weight in self.lines:
            ends = ([x1 / WIDTH, x2 / WIDTH], [1 - y1 / HEIGHT, 1 - y2 / HEIGHT])
            figure.add_artist(Line2D(*ends, color="black", linewidth=weight))
        return figure


def _composed(report: Report) -> _Sheet:
    """The report put down on a sheet, which may turn out to be too short for it."""
    sheet = _Sheet()
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


def _facts(sheet: _Sheet, facts: Sequence[tuple[str, str]]) -> None:
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


def _log(sheet: _Sheet, report: Report) -> None:
    left = LEFT + LABELS
    step = (RIGHT - left) / CELLS_IN_ROW
    sheet.put(LEFT, "Log", STRONG)
    for start in range(0, len(report.cells), CELLS_IN_ROW):
        for number, cell in enumerate(report.cells[start : start + CELLS_IN_ROW]):
            _cell(sheet, left + number * step, step, cell)
        sheet.y += 25
    sheet.paragraph(left, report.log_note, SMALL_STRONG, RIGHT - left)
    if report.cells:
        sheet.paragraph(left, LEGEND, SIGNS, RIGHT - left)
    sheet.rule(0.4)


def _cell(sheet: _Sheet, x: float, step: float, cell: Cell) -> None:
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


def _printed(sheet: _Sheet, middle: float, step: float, cell: Cell) -> None:
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


def _section(sheet: _Sheet, section: Section) -> None:
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


def _row(sheet: _Sheet, row: Row) -> None:
    left = LEFT + LABELS
    sheet.put(left, row.when, TEXT)
    sheet.put(RIGHT, row.amount, TEXT, "right")
    left += DAYS
    width = RIGHT - left - (MINUTES if row.amount else 0)
    what = f"{row.what}: " if row.what else ""
    sheet.put(left, what, STRONG)
    sheet.paragraph(left, row.text, TEXT, width, STRONG.width(what))
