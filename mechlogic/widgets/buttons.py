"""Buttons that ask first, and buttons that say that they are at work."""

from collections.abc import Callable

import ipywidgets as w

from mechlogic.helpers.refusal import TooMuch
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


class WorkButton(w.Button):  # type: ignore[misc]
    """A button for work that takes time: while it works it says so, and cannot be pressed again.

    However the work ends, by itself, by a mistake or by an interruption, it can be pressed again.

    Args:
        words: What stands on it.
        busy: What stands on it while it works.
        do: The work.
        say: Told what happened, as a sentence, when the work did not come to its end.
        tooltip: What it does, in more words.
    """

    def __init__(
        self,
        words: str,
        busy: str,
        do: Callable[[], None],
        say: Callable[[str], object],
        tooltip: str = "",
    ) -> None:
        super().__init__(description=words, tooltip=tooltip, layout={"width": "auto"})
        self._words, self._busy, self._do, self._say = words, busy, do, say
        self.on_click(lambda _: self._pressed())

    @in_turn
    def _pressed(self) -> None:
        self.disabled, self.description = True, self._busy
        try:
            self._do()
        except KeyboardInterrupt:
            self._say(f"{self._words}: it was interrupted. Nothing was changed; press it again.")
        except TooMuch as error:
            self._say(str(error))
        except Exception as error:
            self._say(f"{self._words}: it failed ({error}). Nothing was changed.")
            raise
        finally:
            self.description, self.disabled = self._words, False
