"""The mechanism as a notebook would draw it without our front end: for comparison of speed.

Every part is a box with its name, in columns by how far it is from the code bars, moved to the
side by its place and filled if it is away from rest; a line joins it to each part that moves it.
That is less than the live picture shows: no type, no shapes, no words, no paper, and nothing in it
can be clicked.
"""

from typing import Any

import ipywidgets
import matplotlib.pyplot as plt
from IPython.display import display

from mechlogic.model.machine import Machine
from mechlogic.model.table import place_in_row

WIDTH, HEIGHT, SHIFT = 0.8, 0.6, 0.06


class Redrawn(ipywidgets.VBox):  # type: ignore[misc]
    """A button that toggles a bit, and the whole figure drawn anew in an Output."""

    def __init__(self, machine: Machine, bit: int) -> None:
        self.machine, self.code = machine, 0
        self.output = ipywidgets.Output()
        button = ipywidgets.Button(description=f"toggle b{bit}")
        button.on_click(lambda _: self.set(self.code ^ 1 << bit - 1))
        super().__init__([button, self.output])
        self.set(0)

    def set(self, code: int) -> None:
        self.code = code
        with self.output:
            self.output.clear_output(wait=True)
            figure = draw(self.machine, code)
            display(figure)
            plt.close(figure)


def draw(machine: Machine, code: int) -> Any:
    """The figure for one setting of the code bars."""
    mechanism, at = machine.mechanism, _corners(machine)
    figure, axes = plt.subplots(figsize=(9, 5), layout="constrained")
    for name, (x, y) in at.items():
        place = place_in_row(machine.healthy.places[name], code)
        away = place != mechanism.rest[name]
        x += SHIFT * place
        axes.add_patch(plt.Rectangle((x, y), WIDTH, HEIGHT, fc="#9ecae1" if away else "w", ec="k"))
        axes.text(
            x + WIDTH / 2, y + HEIGHT / 2, machine.label(name), ha="center", va="center", size=6
        )
        for other in mechanism[name].joint.inputs:
            from_x, from_y = at[other]
            axes.plot([from_x + WIDTH, x], [from_y + HEIGHT / 2, y + HEIGHT / 2], "k-", lw=0.6)
    axes.set_axis_off()
    axes.autoscale_view()
    return figure


def _corners(machine: Machine) -> dict[str, tuple[float, float]]:
    """Where each box stands: a column for each level, one below the other."""
    level: dict[str, int] = {}
    at = {}
    for name, part in machine.mechanism.parts.items():
        level[name] = 1 + max((level[other] for other in part.joint.inputs), default=-1)
        above = sum(one == level[name] for one in level.values()) - 1
        at[name] = (1.5 * level[name], -float(above))
    return at
