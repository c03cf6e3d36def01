"""Test cards on paper: A4, black on white, what to send beside what a good machine prints."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from textwrap import wrap
from typing import TYPE_CHECKING

from mechlogic.coverage import Coverage
from mechlogic.drawing.sheets import A4, CLEAR, SET
from mechlogic.logbook import NOTHING
from mechlogic.machine import Machine
from mechlogic.testcards import Card, Comparison

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MOST_ROWS = 24
"""A text of at most so many characters gets a row for each; a longer one is set in lines."""

SYMBOLS = {"SP": "␣", "CR": "←", "LF": "↓"}
"""What stands for a character that leaves no mark; any other is a dot."""

KEY = "␣ blank   ← carriage return   ↓ line feed   · any other that leaves no mark"
BOX = "☐"

_LINES_ON_A_PAGE = 92
_POINTS_A_LINE = 8.2
_MARGIN_POINTS = 43.0
_POINTS_AN_INCH = 72.0


@dataclass(frozen=True)
class _Line:
    text: str
    size: float = 6.2
    bold: bool = False


def card_pages(card: Card) -> "tuple[Figure, ...]":
    """A card as A4 pages.

    Each is a Matplotlib figure and can be saved by itself: ``page.savefig("card.pdf")``.
    """
    lines = list(_card_lines(card))
    sheets = [lines[i : i + _LINES_ON_A_PAGE] for i in range(0, len(lines), _LINES_ON_A_PAGE)]
    return tuple(_page(sheet, i + 1, len(sheets)) for i, sheet in enumerate(sheets))


def comparison_page(machine: Machine, rows: Sequence[Comparison]) -> "Figure":
    """What several texts show, as one A4 page with a table and the classes that each misses."""
    lines = [_Line(f"What test lines show: {machine.title}", 12, True), _Line("")]
    lines.append(_Line(f"{'':50}{'sent':>7}{'certain':>9}{'chance':>8}{'never':>7}", bold=True))
    for row in rows:
        counts = (row.coverage.certain, row.coverage.possible, row.coverage.missed)
        numbers = "".join(f"{len(found):>{n}}" for found, n in zip(counts, (9, 8, 7), strict=True))
        lines.append(_Line(f"{row.name:50}{len(row.codes):>7}{numbers}"))
    lines.append(_Line(""))
    for row in rows:
        if row.coverage.missed:
            lines.append(_Line(f"{row.name} cannot show", bold=True))
            lines.extend(_findings(row.coverage, possible=False))
            lines.append(_Line(""))
    left_out = len(lines) - _LINES_ON_A_PAGE
    if left_out > 0:
        lines[_LINES_ON_A_PAGE - 1 :] = [_Line(f"… and {left_out + 1} lines more")]
    return _page(lines, 1, 1)


def _card_lines(card: Card) -> Iterator[_Line]:
    yield _Line(card.title, 12, True)
    yield _Line("")
    yield _Line(card.machine.title, 8, True)
    yield from _paragraph(card.claim)
    yield _Line("")
    how = "by hand, turning the shaft once for each" if card.by_hand else "at speed, in this order"
    yield _Line(f"Send {how}.", 8, True)
    yield from _rows(card) if len(card.text) <= MOST_ROWS else _block(card)
    yield _Line("")
    yield _Line("What it shows", 8, True)
    yield from _paragraph(card.coverage_as_sent.summary())
    yield from _findings(card.coverage_as_sent)
    yield _Line("")
    yield _Line(f"{BOX} printed as it should    {BOX} not    date ____________  by ____________", 8)


def _rows(card: Card) -> Iterator[_Line]:
    """A row for each character: what it is, the bars from b1 up, the byte, the print."""
    machine, code = card.machine, card.machine.code
    n_bars = machine.units
    yield _Line("")
    head = f"{'':4}{'send':8}{'place':8}{'bars 1 to ' + str(n_bars):22}{'byte':8}{'prints':10}"
    yield _Line(head, 8, True)
    for number, sent in enumerate(card.text, start=1):
        set_as = machine.as_set(sent)
        bars = "".join(SET if set_as >> i & 1 else CLEAR for i in range(n_bars))
        print_ = machine.good_print(sent)
        yield _Line(
            f"{number:<4}{code.name(sent):8}{code.position(sent):8}{bars:22}{set_as:02X}      "
            f"{'nothing' if print_ == NOTHING else print_:10}{BOX}",
            8,
        )


def _block(card: Card) -> Iterator[_Line]:
    """The text in lines, and beside it the paper."""
    column = card.width + 4
    yield _Line(f"{'send':{column}}a good machine prints", bold=True)
    sent = ["".join(_symbol(card.machine, code) for code in line) for line in card.lines]
    for left, right in zip_longest(sent, card.paper, fillvalue=""):
        yield _Line(f"{left:{column}}{right}")
    yield _Line(KEY)


def _symbol(machine: Machine, code: int) -> str:
    name = machine.code.name(code)
    return name if len(name) == 1 else SYMBOLS.get(name, "·")


def _findings(coverage: Coverage, possible: bool = True) -> Iterator[_Line]:
    shown = coverage.report()
    if not possible:
        shown = shown[: len(coverage.missed)]
    for line in shown:
        yield from _paragraph(f"– {line}")


def _paragraph(text: str) -> Iterator[_Line]:
    for number, line in enumerate(wrap(text, 132)):
        yield _Line(f"{'  ' if number and text.startswith('–') else ''}{line}")


def _page(lines: Sequence[_Line], number: int, of: int) -> "Figure":
    from matplotlib.figure import Figure

    figure = Figure(figsize=A4, facecolor="white")
    width, height = (inches * _POINTS_AN_INCH for inches in A4)
    for row, line in enumerate(lines):
        figure.text(
            _MARGIN_POINTS / width,
            1 - (_MARGIN_POINTS + row * _POINTS_A_LINE) / height,
            line.text,
            family="DejaVu Sans Mono",
            fontsize=line.size,
            fontweight="bold" if line.bold else "normal",
            color="black",
            va="top",
            parse_math=False,
        )
    if of > 1:
        figure.text(0.5, 18 / height, f"{number} of {of}", ha="center", fontsize=7, color="black")
    return figure
