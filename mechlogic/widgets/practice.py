"""A few exercises drawn from a number, and a button for others."""

from collections.abc import Sequence

import ipywidgets as w

from mechlogic.bench import pages
from mechlogic.model.machine import Machine
from mechlogic.teaching import (
    exercises,
    measured_exercises,
    progress,
    sealed_exercises,
    workshop_exercises,
)
from mechlogic.widgets.questions import choice
from mechlogic.widgets.screen import Screen, button, replace_children, row, styled
from mechlogic.widgets.turns import in_turn

KINDS = {
    **exercises.KINDS,
    **workshop_exercises.KINDS,
    **measured_exercises.KINDS,
    **sealed_exercises.KINDS,
}
"""Every kind of exercise by name."""


class Practice(Screen):
    """Exercises on a machine, each with hints and a worked solution; another number, other ones.

    Args:
        machine: The machine.
        kinds: Keys of :data:`KINDS`, in the order in which to ask them.
        number: The number to begin with.
        page: The number of the workbook: no two ask the same under one number.
    """

    def __init__(
        self,
        machine: Machine,
        kinds: Sequence[str] = tuple(exercises.KINDS),
        number: int = 1,
        page: int = 0,
    ) -> None:
        self.machine, self.kinds, self.page = machine, tuple(kinds), page
        self.number = w.BoundedIntText(
            number, min=1, max=99_999, description="Number", layout=w.Layout(width="200px")
        )
        self.number.observe(lambda _: self._ask(), "value")
        self._questions = w.VBox()
        super().__init__(
            children=[
                styled(pages.STYLE),
                row(self.number, button("Other exercises", self._next)),
                self._questions,
            ]
        )
        self._ask()

    @in_turn
    def _next(self) -> None:
        self.number.value += 1

    @in_turn
    def _ask(self) -> None:
        """Put the exercises of the number in the place of those before."""
        number = self.number.value
        drawn = number + progress.PAGE * self.page
        asked = tuple(
            choice(
                **KINDS[kind](self.machine, drawn).asked,  # type: ignore[arg-type]
                key=progress.exercise_key(self.page, self.machine.name, kind, number),
            )
            for kind in self.kinds
        )
        replace_children(self._questions, asked)
