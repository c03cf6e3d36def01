"""The live picture of a machine in a notebook."""

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from mechlogic.acceptance.testcards import laid_out
from mechlogic.bench.evidence import Account, Evidence
from mechlogic.drawing import scene, style, type_sheet
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.faults import Fault, FaultError, Hypothesis, hypothesis
from mechlogic.model.logbook import Driven, Entry, Logbook
from mechlogic.model.machine import Machine
from mechlogic.widgets.frames import frames
from mechlogic.widgets.scripts import script

HERE = Path(__file__).parent


class MachineView(anywidget.AnyWidget):
    """A machine to try out: set its code bars, send it characters, watch every part.

    Everything a click can ask has been worked out beforehand, so the browser answers by itself.

    Args:
        machine: The machine.
        faults: What is wrong with it.

    Attributes:
        code: The setting of the code bars, parity bit included.
        picked: Name of the part that is pointed out; empty if none is.
        printed: What is on the paper: for each character the setting of the bars, what was
            printed, and ``"speed"`` or ``"hand"``.
        machines: How often another machine was put in the place of the one before.
        play: Entries of a log to be shown in motion, see :meth:`replay`.
        message: A sentence shown below the picture, such as why a fault was refused.
    """

    _esm = script("front_end.js")
    _css = style() + (HERE / "front_end.css").read_text(encoding="utf-8")

    svg = traitlets.Unicode().tag(sync=True)
    wheel = traitlets.Unicode().tag(sync=True)
    poses: "traitlets.Dict[str, list[str]]" = traitlets.Dict().tag(sync=True)
    frames: "traitlets.Dict[str, Any]" = traitlets.Dict().tag(sync=True)
    message = traitlets.Unicode().tag(sync=True)
    code = traitlets.Int(0).tag(sync=True)
    picked = traitlets.Unicode().tag(sync=True)
    printed: "traitlets.List[tuple[int, str, Driven]]" = traitlets.List().tag(sync=True)

    play: "traitlets.Dict[str, Any]" = traitlets.Dict().tag(sync=True)
    machines = traitlets.Int(0).tag(sync=True)

    def __init__(self, machine: Machine, faults: Iterable[Fault] = ()) -> None:
        super().__init__(**_seen(machine))
        self.machine = machine
        self._faults: Hypothesis = ()
        self.faults = tuple(faults)

    def put_on(self, machine: Machine) -> None:
        """Show another machine in the place of this one: in good order, with nothing on paper."""
        with self.hold_sync():
            self.machine, self._faults = machine, ()
            self.machines += 1
            self.set_trait("code", 0)
            for name, value in {**_seen(machine), "picked": "", "printed": [], "play": {}}.items():
                self.set_trait(name, value)

    @traitlets.validate("code")
    def _a_setting(self, proposal: Any) -> int:
        settings = len(self.frames["settings"])
        if not 0 <= proposal["value"] < settings:
            raise traitlets.TraitError(f"the code bars can be set to 0 to {settings - 1}")
        return int(proposal["value"])

    @property
    def faults(self) -> Hypothesis:
        """The faults it has; set them and the picture changes in place.

        Faults that the machine cannot have are refused: it keeps those it has, and
        :attr:`message` says why.
        """
        return self._faults

    @faults.setter
    def faults(self, faults: Iterable[Fault]) -> None:
        try:
            checked = hypothesis(self.machine.mechanism, faults)
            if checked != self._faults:
                self.frames = frames(self.machine, checked)
                self._faults = checked
            self.message = ""
        except FaultError as error:
            self.message = f"Not possible: {error}"

    def replay(self, evidence: Evidence, told: Account, t: int) -> None:
        """Play an entry of a log as the faults make it, after the entry before it if there is one.

        Args:
            evidence: The log.
            told: How these faults account for it.
            t: The number of the entry, from 0.
        """
        behaviour = Behaviour(self.machine, self._faults)
        played = range(t if evidence.starts >> t & 1 else t - 1, t + 1)
        latched = evidence.latched[played[0]]
        good = Behaviour(self.machine, ()).memories
        self.play = {
            "times": self.play.get("times", 0) + 1,  # the same entry once more is news, too
            "memory": behaviour.memories.index(told.path[played[0]].memory),
            "good": None if latched is None else good.index(tuple(latched.values())),
            "cycles": [
                (
                    self.machine.as_set(evidence.log.entries[i].sent),
                    behaviour.chances.index(told.path[i].chance),
                    evidence.log.entries[i].driven == "hand",
                )
                for i in played
            ],
        }

    @property
    def paper(self) -> str:
        """What is on the paper, line by line; ``?`` where it is unreadable."""
        n = len(self.machine.code)
        codes = [setting % n for setting, _, _ in self.printed]
        return "\n".join(laid_out(self.machine, codes, [seen for _, seen, _ in self.printed]))

    def logbook(self) -> Logbook:
        """What is on the paper, as a logbook for a diagnosis."""
        code = self.machine.code
        entries = (
            Entry(setting % len(code), glyph, driven) for setting, glyph, driven in self.printed
        )
        return Logbook(tuple(entries), code, self.machine.title)


def _seen(machine: Machine) -> dict[str, Any]:
    """What the browser is told of a machine, by the names of the attributes."""
    picture = scene(machine)
    return {
        "svg": picture.svg,
        "wheel": type_sheet(machine),
        "poses": {name: list(poses) for name, poses in picture.poses.items()},
        "frames": frames(machine),
    }
