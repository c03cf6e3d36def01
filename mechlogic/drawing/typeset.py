"""Sheets of paper, black on white: every line is measured before it is drawn.

So nothing runs off a sheet unseen: whoever lays one out can ask how far it is filled.
"""

import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from io import BytesIO
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from mechlogic.drawing import sheets

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.font_manager import FontProperties
    from matplotlib.ft2font import FT2Font

POINT = 1 / 72  # inches; all lengths below are in points, y counted downwards
LEFT, TOP = 43.0, 38.0
"""Margins, in points; those on the right and at the foot are as wide."""

MISSING = "□"
"""Stands for a letter that the fonts do not have."""

# These fonts come with Matplotlib, so that a sheet looks the same everywhere.
SERIF, MONO = ("STIXGeneral", "DejaVu Sans"), ("DejaVu Sans Mono", "DejaVu Sans")

# Whatever the reader has set: texts are never taken for formulas, and stay searchable.
SETTINGS: dict[Any, Any] = {"text.usetex": False, "text.parse_math": False, "pdf.fonttype": 42}


@dataclass(frozen=True)
class Paper:
    """An upright sheet.

    Attributes:
        name: What it is called.
        inches: Width and height, in inches.
    """

    name: str
    inches: tuple[float, float]

    @property
    def width(self) -> float:
        """Width in points."""
        return self.inches[0] / POINT

    @property
    def height(self) -> float:
        """Height in points."""
        return self.inches[1] / POINT

    @property
    def right(self) -> float:
        """Where the margin on the right begins, in points."""
        return self.width - LEFT

    @property
    def bottom(self) -> float:
        """Where the margin at the foot begins, in points."""
        return self.height - TOP


A4 = Paper("A4", sheets.A4)
LETTER = Paper("US Letter", (8.5, 11.0))
PAPERS = {paper.name: paper for paper in (A4, LETTER)}


def pdf(figures: "Iterable[Figure]", title: str) -> bytes:
    """Figures as a PDF file, a page each.

    The same figures always give the same bytes: no date of printing is in them.
    """
    import matplotlib
    from matplotlib.backends.backend_pdf import PdfPages

    file = BytesIO()
    with (
        matplotlib.rc_context(SETTINGS),
        PdfPages(file, metadata={"CreationDate": None, "Title": title}) as pages,
    ):
        for figure in figures:
            pages.savefig(figure)
    return file.getvalue()


# --- Letters ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Face:
    """A typeface at a size."""

    family: tuple[str, ...] = SERIF
    size: float = 10.0
    bold: bool = False
    italic: bool = False

    @property
    def properties(self) -> "FontProperties":
        """What Matplotlib calls it."""
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


TITLE = Face(size=20, bold=True)
TEXT, STRONG = Face(), Face(bold=True)
SMALL, SMALL_STRONG = Face(size=8), Face(size=8, bold=True)
SIGNS = Face(("DejaVu Sans",), 6.6)  # has ␣ and ▒ as they look in the log
ITALIC = Face(italic=True)
SENT, SENT_LONG = Face(size=7), Face(size=5)
PRINTED, PRINTED_WRONG = Face(MONO, 10), Face(MONO, 10, bold=True)


@cache
def _fonts(family: tuple[str, ...], bold: bool, italic: bool) -> "Sequence[FT2Font]":
    from matplotlib.font_manager import findfont
    from matplotlib.ft2font import FT2Font

    fonts = []
    for name in family:
        face = Face((name,), bold=bold, italic=italic)
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


def wrapped(text: str, face: Face, width: float, indent: float = 0.0) -> list[str]:
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


# --- The sheet ---------------------------------------------------------------------------------


@dataclass
class Sheet:
    """Texts and lines put down from the top; `y` is where the next one goes."""

    y: float = TOP
    paper: Paper = A4
    texts: list[tuple[float, float, str, Face, str]] = field(default_factory=list)
    lines: list[tuple[float, float, float, float, float]] = field(default_factory=list)

    def put(self, x: float, text: str, face: Face, align: str = "left", drop: float = 0.0) -> None:
        """A text whose line begins at y; the place of the next is not changed."""
        if text := face.readable(text):
            self.texts.append((x, self.y + drop + 0.95 * face.size, text, face, align))

    def paragraph(self, x: float, text: str, face: Face, width: float, indent: float = 0) -> None:
        """A text in lines; the next one goes below."""
        for number, line in enumerate(wrapped(face.readable(text), face, width, indent)):
            self.put(x + (0 if number else indent), line, face)
            self.y += face.line

    def rule(self, weight: float, above: float = 4.0, below: float = 4.0) -> None:
        """A line across the sheet."""
        self.y += above
        self.lines.append((LEFT, self.y, self.paper.right, self.y, weight))
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

        width, height = self.paper.width, self.paper.height
        figure = Figure(figsize=self.paper.inches, facecolor="white")
        figure.add_axes((0, 0, 1, 1)).set_axis_off()  # a notebook shows no figure without axes
        for x, y, text, face, align in self.texts:
            figure.text(
                x / width,
                1 - y / height,
                text,
                fontproperties=face.properties,
                ha=align,
                va="baseline",
                color="black",
                parse_math=False,
                usetex=False,
            )
        for x1, y1, x2, y2, weight in self.lines:
            ends = ([x1 / width, x2 / width], [1 - y1 / height, 1 - y2 / height])
            figure.add_artist(Line2D(*ends, color="black", linewidth=weight))
        return figure
