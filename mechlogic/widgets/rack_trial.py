"""Four settings of two bits, and in each three levers that the reader puts in or out of the way."""

import ipywidgets as w

from mechlogic.bench import pages
from mechlogic.drawing import style
from mechlogic.drawing.stops import at_its_stop
from mechlogic.explaining.stops import SETTINGS, Rack
from mechlogic.model.machine import Machine
from mechlogic.widgets.labels import as_label
from mechlogic.widgets.screen import Screen, page, row, said, styled
from mechlogic.widgets.turns import in_turn


class RackTrial(Screen):
    """Put each lever in or out of the way for each setting, and see which heights come.

    Args:
        machine: The machine.
        member: Name of its rack with three stops.
        bits: Numbers of the two bits that choose its place, the higher first.
    """

    def __init__(self, machine: Machine, member: str, bits: tuple[int, int]) -> None:
        self.rack = Rack(machine, member, bits)
        labels = [as_label(label) for label in self.rack.labels]
        self.out = [
            [w.Checkbox(description=f"{name}: {label} out", indent=False) for label in labels]
            for name in SETTINGS
        ]
        self._pictures = [page() for _ in SETTINGS]
        self._told = page()
        boxes = []
        for picture, ticks in zip(self._pictures, self.out, strict=True):
            for tick in ticks:
                tick.layout = {"width": "auto", "margin": "0 12px 0 0"}
                tick.observe(self._show, "value")
            boxes += [picture, row(*ticks)]
        super().__init__([styled(pages.STYLE, style()), *boxes, self._told])
        self._show(None)

    @in_turn
    def _show(self, _: object) -> None:
        trial = [[tick.value for tick in ticks] for ticks in self.out]
        for name, clear, picture in zip(SETTINGS, trial, self._pictures, strict=True):
            says = said("sentence", self.rack.row_says(name, clear))
            picture.value = said("page", at_its_stop(self.rack, name, clear) + says)
        self._told.value = said("status", said("sentence", self.rack.says(trial)))
