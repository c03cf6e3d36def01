"""Buttons that ask first."""

from collections.abc import Callable

import ipywidgets as w

from mechlogic.widgets.turns import in_turn


class AskFirst(w.Button):  # type: ignore[misc]
    """A button that has to be pressed twice, if what it does cannot be taken back.

    Args:
        words: What stands on it.
        question: What stands on it once it has been pressed.
        do: What it does when it is pressed again.
        needed: Whether it has to ask at all.
    """

    def __init__(
        self,
        words: str,
        question: str,
        do: Callable[[], None],
        needed: Callable[[], bool] = lambda: True,
    ) -> None:
        layout = w.Layout(width="auto", align_self="flex-start")
        super().__init__(description=words, layout=layout)
        self._words, self._question, self._do, self._needed = words, question, do, needed
        self.on_click(lambda _: self._pressed())

    @property
    def asks(self) -> bool:
        """Whether it has been pressed once."""
        return bool(self.description == self._question)

    def calm(self) -> None:
        """Forget that it was pressed, since something else was done."""
        self.description, self.button_style = self._words, ""

    @in_turn
    def _pressed(self) -> None:
        if self._needed() and not self.asks:
            self.description, self.button_style = self._question, "warning"
            return
        self.calm()
        self._do()
