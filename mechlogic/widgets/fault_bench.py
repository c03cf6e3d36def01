"""A bench on which to give a machine faults and to read what is known about them."""

import ipywidgets as w

from mechlogic.bench.pages import mode_notes
from mechlogic.bench.story import fault_label
from mechlogic.explaining.words import fault_sentence, parts_in_order
from mechlogic.model.faults import MODES, Fault, faults_of, rarer_faults_of
from mechlogic.widgets.machine_view import MachineView
from mechlogic.widgets.screen import Screen, button, labelled, row, said
from mechlogic.widgets.turns import in_turn


class FaultBench(Screen):
    """Choose a part and what is wrong with it; the picture then has that fault.

    A part that is picked in the picture, with a click or with Enter, is chosen here too, and one
    that is chosen here is pointed out in the picture.

    Args:
        view: The picture of the machine that is to have the faults.
    """

    def __init__(self, view: MachineView) -> None:
        self.view = view
        labels = [(view.machine.label(name), name) for name in parts_in_order(view.machine)]
        self.part = labelled(w.Dropdown, "Part", "320px", options=labels)
        self.fault = labelled(w.Dropdown, "Fault", "320px")
        self.only = button("Only this fault", lambda: self._give(self.fault.value))
        self.add = button("Add this fault", lambda: self._give(*view.faults, self.fault.value))
        self.mend = button("Mend everything", self._give)
        self.knowledge = w.HTML()
        super().__init__(
            [
                row(self.part, self.fault),
                row(self.only, self.add, self.mend),
                self.knowledge,
            ]
        )
        self.part.observe(lambda _: self._choose(), "value")
        self.fault.observe(lambda _: self._tell(), "value")
        view.observe(lambda change: self._follow(change["new"]), "picked")
        self._follow(view.picked)
        self._offer()

    @in_turn
    def _follow(self, picked: str) -> None:
        if picked in self.view.machine.mechanism.parts:
            self.part.value = picked

    @in_turn
    def _choose(self) -> None:
        """Point out the chosen part, so that a click on any other part chooses that."""
        self.view.picked = self.part.value
        self._offer()

    def _offer(self) -> None:
        """Offer the faults that the chosen part can have."""
        machine = self.view.machine
        chosen = machine.mechanism, self.part.value
        faults = (*faults_of(*chosen), *rarer_faults_of(*chosen))
        self.fault.options = [(fault_label(machine, fault), fault) for fault in faults]
        self.fault.index = 0
        self._tell()

    def _tell(self) -> None:
        if self.fault.value is not None:
            self.knowledge.value = knowledge(self.view, self.fault.value)

    @in_turn
    def _give(self, *faults: Fault) -> None:
        self.view.faults = faults


def knowledge(view: MachineView, fault: Fault) -> str:
    """What the bench knows about a fault, as HTML with every text escaped."""
    return said("knowledge", fault_sentence(view.machine, fault), mode_notes(MODES[fault.mode]))
