"""A bar that is moved part-way, and where on its way the logic stops holding."""

import ipywidgets as w

from mechlogic.bench import pages
from mechlogic.fit.fit_pages import bars_that_aim, break_page
from mechlogic.fit.hammer import printing
from mechlogic.model.machine import Machine
from mechlogic.widgets.screen import Screen, labelled, row, said, styled
from mechlogic.widgets.turns import in_turn


class WhereLogicBreaks(Screen):
    """Choose a character and a bar, and slide the bar between rest and full stroke.

    Args:
        machine: The machine.
        character: The character that is sent; the first that prints if left out.
        bar: The bar to begin with; the first that brings type to the hammer if left out.
    """

    def __init__(self, machine: Machine, character: str = "", bar: str = "") -> None:
        self.machine = machine
        bars = bars_that_aim(machine)
        code = machine.code.parse(character) if character else printing(machine)[0]
        codes = [(machine.code.name(c), c) for c in printing(machine)]
        labels = [(machine.label(name), name) for name in bars]
        self.code = w.Dropdown(description="Character", options=codes, value=code)
        self.bar = w.Dropdown(description="Bar", options=labels, value=bar or bars[0])
        self.depth = labelled(w.FloatSlider, "Depth, mm", "620px", min=0.0, step=0.05)
        self._page = w.HTML()
        self._to_stroke(None)
        self.bar.observe(self._to_stroke, "value")
        for control in (self.code, self.bar, self.depth):
            control.observe(self._show, "value")
        style = styled(pages.STYLE)
        super().__init__([style, row(self.code, self.bar), self.depth, self._page])
        self._show(None)

    @in_turn
    def _to_stroke(self, _: object) -> None:
        self.depth.max = float(self.machine.mechanism.laws[self.bar.value].full)

    @in_turn
    def _show(self, _: object) -> None:
        page = break_page(self.machine, self.code.value, self.bar.value, self.depth.value)
        self._page.value = said("page", page)
