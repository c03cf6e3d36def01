"""The acceptance box: the shortest text that shows a machine to be repaired, and its card."""

from collections.abc import Callable

import ipywidgets as w

from mechlogic.acceptance.testcards import Card, smallest_sequence
from mechlogic.drawing.cards import card_page
from mechlogic.helpers.paper import STYLE
from mechlogic.model.machine import Machine
from mechlogic.widgets.buttons import WorkButton
from mechlogic.widgets.screen import Screen, page, row, said, styled

ASK = "Work out the shortest text"
"""What the button says."""

WAIT = "Takes a few seconds, and half a minute on a machine with many functions."
BEFORE = (
    "After the repair: the shortest text in which every single fault that a print can show makes a "
    "misprint. Send it cold, and several times: what hangs half-way shows itself by chance only."
)


class AcceptanceBox(Screen):
    """A button that works out what to send after a repair; it takes up to half a minute.

    Args:
        machine: The machine.
        hand_over: Gives a file, its name and its bytes, to whoever looks at the screen.

    Attributes:
        card: The text, once it has been asked for, or None.
    """

    def __init__(self, machine: Machine, hand_over: Callable[[str, bytes], None]) -> None:
        self.machine, self._hand_over = machine, hand_over
        self.card: Card | None = None
        self._page = page()
        ask = WorkButton(
            ASK,
            "Working it out …",
            lambda: self.show(smallest_sequence(machine)),
            self.say_trouble,
            WAIT,
        )
        self._save = WorkButton("Save the card", "Saving …", self.save, self.say_trouble)
        self._save.disabled = True
        before = w.HTML(said("sentence", BEFORE), layout={"width": "auto"})
        children = [styled(STYLE), row(ask, self._save), before, self._page]
        super().__init__(children, layout={"width": "auto"})

    def show(self, card: Card) -> None:
        """Show a text, what it proves, and what a good machine leaves on the paper."""
        self.card = card
        self._page.value = card_page(card).body
        self._save.disabled = False

    def save(self) -> None:
        """Hand the card over as a page that any browser prints."""
        if self.card:
            html = card_page(self.card, "").html
            self._hand_over(f"{self.machine.name}_card.html", html.encode())
