"""A box for the reader's own claim about a part: proved, or refuted by a setting that is shown."""

import ipywidgets as w

from mechlogic import machines
from mechlogic.bench import pages
from mechlogic.explaining.claims import ClaimError, answer, names
from mechlogic.explaining.words import measure, parts_in_order
from mechlogic.model.machine import Machine
from mechlogic.widgets.labels import as_label
from mechlogic.widgets.machine_view import MachineView
from mechlogic.widgets.screen import Screen, button, page, row, said, styled
from mechlogic.widgets.turns import in_turn


class ClaimBox(Screen):
    """Say when a part has moved so far; the box proves it, or shows a setting that refutes it.

    Args:
        machine: The machine to begin with.
        part: The part to begin with.
    """

    def __init__(self, machine: Machine, part: str = "") -> None:
        self.view = MachineView(machine)
        shipped = {one.title: one for one in map(machines.load, machines.names())}
        offered = {as_label(machine.title): machine, **shipped}
        self.machine = w.Dropdown(description="Machine", options=offered)
        self.part = w.Dropdown(description="Part")
        self.cut = w.Dropdown(description="stands at")
        wide = {"description_width": "initial"}
        self.claim = w.Text(description="exactly when", placeholder="b1 or b2", style=wide)
        self.check = button("Is it so?", self._check)
        self.check.button_style = "primary"
        self._told = page()
        for control in (self.machine, self.part, self.cut, self.claim):
            control.layout.max_width = "98%"
        self.machine.observe(self._another_machine, "value")
        self.part.observe(self._another_part, "value")
        entry = row(self.claim, self.check)
        choice = row(self.machine, self.part, self.cut)
        super().__init__([styled(pages.STYLE), choice, entry, self._told, self.view])
        self._offer_parts(machine, part)

    @in_turn
    def _another_machine(self, change: dict[str, Machine]) -> None:
        self.view.put_on(change["new"])
        self._offer_parts(change["new"], "")

    def _offer_parts(self, machine: Machine, part: str) -> None:
        given = {one.name for one in machine.mechanism if one.joint.given}
        moved = [name for name in parts_in_order(machine) if name not in given]
        self.part.options = [(as_label(machine.label(name)), name) for name in moved]
        self.part.value = part or moved[0]
        self._another_part(None)  # a part of the other machine may have had the same name

    @in_turn
    def _another_part(self, _: object) -> None:
        part, mechanism = self.part.value, self.machine.value.mechanism
        if part not in mechanism.parts:  # the list is being changed
            return
        marks = [measure(place, mechanism.unit(part)) for place in mechanism.laws[part].places[1:]]
        further = [f"{mark} or further" for mark in marks[:-1]]
        self.cut.options = [(mark, cut) for cut, mark in enumerate([*further, marks[-1]])]
        self.cut.index = 0
        self.view.picked = part
        known = names(mechanism)
        words = f'Names: {", ".join(known)}. Join them with "and", "or" and "not"; ( and ) group.'
        self._told.value = said("status", said("sentence", words))

    @in_turn
    def _check(self) -> None:
        part = self.part.value
        try:
            found = answer(self.machine.value, part, self.cut.value, self.claim.value)
        except ClaimError as error:
            self._told.value = said("problems", [str(error)])
            return
        self.view.code, self.view.picked = found.setting, part
        self._told.value = said("status", said("sentence", found.says))
