"""The acceptance box: the shortest text that shows a machine to be repaired, and its good print."""

from html import escape

import ipywidgets as w

from mechlogic.acceptance.testcards import Card, smallest_sequence
from mechlogic.model.machine import Machine
from mechlogic.widgets.buttons import WorkButton
from mechlogic.widgets.screen import Screen

ASK = "Work out the shortest text"
"""What the button says."""


class AcceptanceBox(Screen):
    """A button that works out what to send after a repair; it takes up to half a minute.

    Args:
        machine: The machine.

    Attributes:
        card: The text, once it has been asked for, or None.
    """

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self.card: Card | None = None
        self._page = w.HTML(_said(BEFORE), layout={"width": "auto"})
        button = WorkButton(
            ASK,
            "Working it out …",
            lambda: self.show(smallest_sequence(machine)),
            lambda trouble: setattr(self._page, "value", _said(f"<p>{escape(trouble)}</p>")),
            WAIT,
        )
        button.layout.align_self = "flex-start"
        super().__init__([button, self._page], layout={"width": "auto"})

    def show(self, card: Card) -> None:
        """Show a text, what it proves, and what a good machine leaves on the paper."""
        self.card = card
        self._page.value = _said(card_page(card))


WAIT = "Takes a few seconds, and half a minute on a machine with many functions."
BEFORE = (
    "<p>After the repair: the shortest text in which every single fault that a print can show "
    "makes a misprint.</p>"
)


def card_page(card: Card) -> str:
    """A text to send as HTML: the keys, the paper of a good machine, and what that proves."""
    keys = " ".join(f"<kbd>{escape(name)}</kbd>" for name in card.names)
    paper = escape("\n".join(card.paper))
    return (
        f"<p>Send, at speed:</p><p>{keys}</p><p>A good machine prints:</p>"
        f'<pre class="ml-paper">{paper}</pre>'
        f"<p>{escape(card.coverage.summary())}</p>"
        f'<p class="ml-quiet">{escape(card.claim)} Send it cold, and several times: what hangs '
        "half-way shows itself by chance only.</p>"
    )


def _said(html: str) -> str:
    return f'<div class="ml-page" aria-live="polite">{html}</div>'
