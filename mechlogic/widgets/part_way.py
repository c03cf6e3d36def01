"""A slider for every bar or key, so that it may stand part-way, and what everything else does."""

from fractions import Fraction

import ipywidgets as w

from mechlogic.bench import pages
from mechlogic.explaining.travel import positions
from mechlogic.explaining.words import measure, percent
from mechlogic.model.machine import Machine
from mechlogic.widgets.labels import as_label
from mechlogic.widgets.screen import Screen, labelled, said, styled
from mechlogic.widgets.turns import in_turn


class PartWay(Screen):
    """Slide the code bars or the keys to any depth and read how far every part has moved.

    Args:
        machine: The machine.
        bars: Names of the bars or keys to slide; all of them if left out.
        parts: Names of the parts to show; all but these if left out.
    """

    def __init__(
        self, machine: Machine, bars: tuple[str, ...] = (), parts: tuple[str, ...] = ()
    ) -> None:
        self.machine = machine
        given = tuple(part.name for part in machine.mechanism if part.joint.given)
        self.parts = parts or tuple(n for n in machine.mechanism.parts if n not in given)
        self.sliders = {
            name: labelled(
                w.IntSlider, as_label(machine.label(name)), "420px", step=5, readout_format="d"
            )
            for name in (bars or given)
        }
        self._page = w.HTML()
        for slider in self.sliders.values():
            slider.observe(self._show, "value")
        super().__init__(children=[styled(pages.STYLE), *self.sliders.values(), self._page])
        self._show(None)

    @in_turn
    def _show(self, _: object) -> None:
        laws = self.machine.mechanism.laws
        bars = {
            name: laws[name].full * Fraction(slider.value, 100)
            for name, slider in self.sliders.items()
        }
        x = positions(self.machine.mechanism, bars)
        self._page.value = said("part_way", [self._row(name, x[name]) for name in self.parts])

    def _row(self, name: str, place: Fraction) -> tuple[str, str, float, str]:
        """A part, how far it has moved, and how much of its way that is."""
        law = self.machine.mechanism.laws[name]
        share = (place - law.places[0]) / law.full
        moved = measure(place, self.machine.mechanism.unit(name))
        return self.machine.label(name), moved, float(share), percent(share)
