"""Test cards on paper: A4, black on white, what to send beside what a good machine prints."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from textwrap import wrap
from typing import TYPE_CHECKING

from mechlogic.acceptance.testcards import Card, Comparison
from mechlogic.drawing.sheets import A4, CLEAR, SET
from mechlogic.model.logbook import NOTHING
from mechlogic.model.machine import Machine

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MOST_ROWS = 24
"""A text of at most so many characters gets a row for each; a longer one is set in lines."""

SYMBOLS = {"SP": "␣", "CR": "←", "LF": "↓"}
"""What stands for a character that leaves no mark; any other is a dot."""

KEY = "␣ blank   ← carriage return   ↓ line feed   · any other that leaves no mark"
BOX = "☐"

SCALES = (1.9, 1.75, 1.6, 1.45, 1.3, 1.15, 1.0)
"""How much larger a card may be set: as large as one page allows."""

MOST_STACKED = 12
"""So many lines of a text and of its print are set large, one below the other; more, side by side.
"""

SMALL, PLAIN, LARGE = 6.2, 8.0, 12.0
"""Sizes of type, in points."""

_LEADING = 1.3
_MARGIN_POINTS = 43.0
_POINTS_AN_INCH = 72.0
_COLUMNS = 104
_ADVANCE = 0.603
"""Width of a character, as a share of the size of type (DejaVu Sans Mono)."""


_ROOM = A4[0] * _POINTS_AN_INCH - 2 * _MARGIN_POINTS
"""Width of what is written on a page, in points."""


@dataclass(frozen=True)
class _Line:
    text: str = ""
    size: float = PLAIN
    bold: bool = False


def _width(line: _Line) -> float:
    """Width of a line, in points, no larger than a rounding error above what was fitted."""
    return _ADVANCE * line.size * len(line.text) - 1e-6


def card_pages(card: Card) -> "tuple[Figure, ...]":
    """A card as A4 pages.

    Each is a Matplotlib figure and can be saved by itself: ``page.savefig("card.pdf")``.
    """
    for scale in SCALES:
        lines = list(_card_lines(card, scale))
        placed = _placed(lines, scale)
        if len(placed) == 1 and all(_width(line) * scale <= _ROOM for line in lines):
            break
    return _pages(placed)


def comparison_pages(machine: Machine, rows: Sequence[Comparison]) -> "tuple[Figure, ...]":
    """What several texts show, as A4 pages: a table, then the classes that each text misses."""
    return _pages(_placed(_comparison_lines(machine, rows)))


def _card_lines(card: Card, scale: float) -> Iterator[_Line]:
    columns = int(_COLUMNS / scale)
    yield _Line(card.title, LARGE, True)
    yield _Line(card.machine.title)
    yield _Line()
    yield from _paragraph(card.claim, columns)
    yield _Line()
    how = "by hand, turning the shaft once for each" if card.by_hand else "at speed, in this order"
    yield _Line(f"Send {how}", bold=True)
    if len(card.text) <= MOST_ROWS:
        yield from _rows(card)
    elif len(card.lines) + len(card.paper) <= MOST_STACKED:
        yield from _stacked(card, scale)
    else:
        yield from _block(card)
    yield _Line()
    yield _Line("What it shows", bold=True)
    yield from _paragraph(card.coverage_as_sent.summary(), columns)
    for line in card.coverage_as_sent.report():
        yield from _paragraph(f"– {line}", columns)
    yield _Line()
    passed, signed = (
        f"{BOX} printed as it should    {BOX} not",
        "date ____________  by ____________",
    )
    if len(passed) + 4 + len(signed) <= columns:
        yield _Line(f"{passed}    {signed}")
    else:
        yield from (_Line(passed), _Line(), _Line(signed))


def _comparison_lines(machine: Machine, rows: Sequence[Comparison]) -> Iterator[_Line]:
    yield _Line("What test lines show", LARGE, True)
    yield _Line(machine.title)
    yield _Line()
    yield _Line(f"{'':46}{'sent':>8}{'for certain':>14}{'by chance':>12}{'never':>8}", bold=True)
    for row in rows:
        shown = row.coverage
        yield _Line(
            f"{row.name:46}{len(row.codes):>8}{len(shown.certain):>14}{len(shown.possible):>12}"
            f"{len(shown.missed):>8}"
        )
    for row in rows:
        if row.coverage.missed:
            yield _Line()
            yield _Line(f"Not shown by: {row.name}", bold=True)
            for line in row.coverage.report()[: len(row.coverage.missed)]:
                yield from _paragraph(f"– {line}")


def _rows(card: Card) -> Iterator[_Line]:
    """A row for each character: what it is, the bars from b1 up, the byte, the print."""
    machine, code = card.machine, card.machine.code
    n_bars = machine.units
    head = f"{'':4}{'send':8}{'place':8}{'bars 1 to ' + str(n_bars):22}{'byte':8}{'prints':10}"
    yield _Line(head, bold=True)
    for number, sent in enumerate(card.text, start=1):
        set_as = machine.as_set(sent)
        bars = "".join(SET if set_as >> i & 1 else CLEAR for i in range(n_bars))
        print_ = machine.good_print(sent)
        yield _Line(
            f"{number:<4}{code.name(sent):8}{code.position(sent):8}{bars:22}{set_as:02X}      "
            f"{'nothing' if print_ == NOTHING else print_:10}{BOX}",
        )


def _stacked(card: Card, scale: float) -> Iterator[_Line]:
    """The text in lines, and below it the paper, as large as the page is wide."""
    sent = _sent(card)
    longest = max(map(len, (*sent, *card.paper)))
    size = min(1.5 * LARGE, _ROOM / (_ADVANCE * longest)) / scale
    for line in sent:
        yield _Line(line, size, True)
    yield _Line(KEY, min(SMALL, size / 2))
    yield _Line()
    yield _Line("A good machine prints", bold=True)
    for line in card.paper:
        yield _Line(line, size)


def _sent(card: Card) -> list[str]:
    return ["".join(_symbol(card.machine, code) for code in line) for line in card.lines]


def _block(card: Card) -> Iterator[_Line]:
    """The text in lines, and beside it the paper."""
    column = card.width + 4
    yield _Line(f"{'send':{column}}a good machine prints", SMALL, True)
    for left, right in zip_longest(_sent(card), card.paper, fillvalue=""):
        yield _Line(f"{left:{column}}{right}", SMALL)
    yield _Line(KEY, SMALL)


def _symbol(machine: Machine, code: int) -> str:
    name = machine.code.name(code)
    return name if len(name) == 1 else SYMBOLS.get(name, "·")


def _paragraph(text: str, columns: int = _COLUMNS) -> Iterator[_Line]:
    for line in wrap(text, columns, subsequent_indent="  " if text.startswith("–") else ""):
        yield _Line(line)


_Page = list[tuple[float, _Line]]
"""Lines, each with its distance from the top, in points."""


def _placed(lines: Iterable[_Line], scale: float = 1.0) -> list[_Page]:
    """Lines on as many pages as they need, set so much larger."""
    pages: list[_Page] = [[]]
    height = A4[1] * _POINTS_AN_INCH
    top = _MARGIN_POINTS
    for line in (replace(line, size=scale * line.size) for line in lines):
        if top + line.size > height - _MARGIN_POINTS:
            pages.append([])
            top = _MARGIN_POINTS
        pages[-1].append((top, line))
        top += line.size * _LEADING
    return pages


def _pages(pages: Sequence[_Page]) -> "tuple[Figure, ...]":
    return tuple(_page(placed, i + 1, len(pages)) for i, placed in enumerate(pages))


def _page(placed: _Page, number: int, of: int) -> "Figure":
    from matplotlib.figure import Figure

    figure = Figure(figsize=A4, facecolor="white")
    figure.add_axes((0, 0, 1, 1)).set_axis_off()  # a notebook shows no figure without axes
    width, height = (inches * _POINTS_AN_INCH for inches in A4)
    for top, line in placed:
        figure.text(
            _MARGIN_POINTS / width,
            1 - top / height,
            line.text,
            family="DejaVu Sans Mono",
            fontsize=line.size,
            fontweight="bold" if line.bold else "normal",
            color="black",
            va="top",
            parse_math=False,
        )
    if of > 1:
        foot = f"{number} of {of}"
        figure.text(0.5, 0.5 * _MARGIN_POINTS / height, foot, ha="center", fontsize=SMALL)
    return figure
