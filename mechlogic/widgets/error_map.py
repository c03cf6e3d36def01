"""A map of the errors at the hammer, with a slider for each dimension that may be off."""

from collections.abc import Sequence

import ipywidgets as w

from mechlogic.bench import pages
from mechlogic.explaining.words import capitalised
from mechlogic.fit.adjustment import adjustable, dimension_words
from mechlogic.fit.fit_pages import error_map
from mechlogic.model.dimensions import Key, dimensions
from mechlogic.model.machine import Machine
from mechlogic.widgets.labels import as_label
from mechlogic.widgets.screen import Screen, button, said, styled
from mechlogic.widgets.turns import in_turn

MOST_SLIDERS = 6
"""How many sliders are shown if the dimensions are not chosen; a count."""


class ErrorMap(Screen):
    """Put dimensions out of order and see which characters are clipped, and at which side.

    Args:
        machine: The machine.
        chosen: The dimensions to slide, by part and key; the first adjustable ones if left out.
    """

    def __init__(self, machine: Machine, chosen: Sequence[Key] = ()) -> None:
        self.machine = machine
        every = {one.name: one for one in dimensions(machine)}
        names = chosen or [one.name for one in adjustable(machine)][:MOST_SLIDERS]
        self.sliders = {}
        for name in names:
            one = every[name]
            far = float(one.adjusts or 4 * one.tolerance or 1)
            unit = f", {one.unit}" if one.unit else ""
            self.sliders[name] = w.FloatSlider(
                value=0.0,
                min=-far,
                max=far,
                step=far / 20,
                description=as_label(f"{capitalised(dimension_words(machine, one))}{unit}"),
                readout_format="+.2f",
                style={"description_width": "400px"},
                layout=w.Layout(width="780px", max_width="100%"),
            )
        self._nominal = {name: float(every[name].nominal) for name in names}
        self._page = w.HTML()
        self.reset = button("All in order", self._put_right)
        for slider in self.sliders.values():
            slider.observe(self._show, "value")
        style = styled(pages.STYLE)
        super().__init__([style, *self.sliders.values(), self.reset, self._page])
        self._show(None)

    @in_turn
    def _put_right(self) -> None:
        for slider in self.sliders.values():
            slider.value = 0.0

    @in_turn
    def _show(self, _: object) -> None:
        off = {name: self._nominal[name] + s.value for name, s in self.sliders.items() if s.value}
        self._page.value = said("page", error_map(self.machine, off))
