"""Test cards on paper: what to send beside what a good machine prints."""

from collections.abc import Sequence
from dataclasses import dataclass

from mechlogic.acceptance.testcards import Card, Comparison
from mechlogic.acceptance.trial import in_fives
from mechlogic.drawing.sheets import CLEAR, SET
from mechlogic.helpers.paper import Page
from mechlogic.helpers.templates import render
from mechlogic.model.logbook import NOTHING
from mechlogic.model.machine import Machine

MOST_ROWS = 24
"""A text of at most so many characters gets a row for each; a longer one is set in lines."""

SYMBOLS = {"SP": "␣", "CR": "←", "LF": "↓"}
"""What stands for a character that leaves no mark; any other stands there by its name."""

KEY = "␣ blank, ← carriage return, ↓ line feed; what else leaves no mark stands in [ ]."
BOX = "☐"

MOST_STACKED = 12
"""So many lines of a text and of its print stand one below the other; more, side by side."""

GROUP_GAP = 0.7
"""Room behind each group of five characters, in characters; the style sheet has it too."""


@dataclass(frozen=True)
class Row:
    """One character to send: its name and place, the bars from b1 up, the byte, and its print."""

    name: str
    place: str
    bars: str
    byte: str
    prints: str


def card_page(card: Card, size: str = "A4") -> Page:
    """A card as a page to print; a notebook shows it, ``save("card.html")`` keeps it.

    Args:
        card: The card.
        size: The paper, one of :data:`mechlogic.helpers.paper.SIZES`.
    """
    signs = [[_symbol(card.machine, code) for code in line] for line in card.lines]
    lines = [list(map("".join, in_fives(line))) for line in signs]
    sent = max((sum(len(five) + GROUP_GAP for five in line) for line in lines), default=1)
    printed = max(map(len, card.paper), default=1)
    beside = len(card.lines) + len(card.paper) > MOST_STACKED
    in_rows = card.text if len(card.text) <= MOST_ROWS else ()
    body = render(
        "card.html",
        card=card,
        rows=[_row(card.machine, code) for code in in_rows],
        lines=lines,
        beside=beside,
        columns=sent + printed + 4 if beside else max(sent, printed),
        key=KEY,
        box=BOX,
    )
    return Page(f"{card.machine.title}: {card.title}", body, size)


def comparison_page(machine: Machine, rows: Sequence[Comparison], size: str = "A4") -> Page:
    """What several texts show: a table, then the classes that each text misses."""
    body = render("comparison.html", title=machine.title, rows=rows)
    return Page(f"{machine.title}: what test lines show", body, size)


def _row(machine: Machine, sent: int) -> Row:
    code, set_as, printed = machine.code, machine.as_set(sent), machine.good_print(sent)
    return Row(
        code.name(sent),
        code.position(sent),
        "".join(SET if set_as >> i & 1 else CLEAR for i in range(machine.units)),
        f"{set_as:02X}",
        "nothing" if printed == NOTHING else printed,
    )


def _symbol(machine: Machine, code: int) -> str:
    name = machine.code.name(code)
    return name if len(name) == 1 else SYMBOLS.get(name, f"[{name}]")
