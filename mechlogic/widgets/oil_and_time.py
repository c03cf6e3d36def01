"""Oil, cold and speed with sliders, and one part's motion against its moment."""

from pathlib import Path
from typing import Any

import anywidget
import traitlets

from mechlogic.drawing import style
from mechlogic.drawing.curve import Scale, chart, marks
from mechlogic.model.machine import Machine
from mechlogic.time.oil import FRESH
from mechlogic.time.timing import GOOD, Conditions, cycle_of, margin, story, stroke
from mechlogic.widgets.scripts import script
from mechlogic.widgets.turns import in_turn

HERE = Path(__file__).parent
RATES = (0.5, 2.0)
"""The slowest and the fastest line on the slider, as multiples of the machine's own rate."""


class OilAndTime(anywidget.AnyWidget):
    """Watch one part come home in thick oil, in the cold and at speed.

    Args:
        machine: A machine whose description says how its parts move, and of its cycle.
        part: Name of the part.

    Attributes:
        thickened: How many times as thick as fresh the oil has become.
        temperature_degc: Temperature in degrees C.
        baud: Rate that the whole machine is built for, motor and cycle, in baud.
        says: What the picture shows, in words.

    Raises:
        TimingError: If the description says nothing of the part's motion or of the cycle.
    """

    _esm = script("oil_and_time.js")
    _css = style() + (HERE / "oil_and_time.css").read_text(encoding="utf-8")

    svg = traitlets.Unicode().tag(sync=True)
    marks: "traitlets.Dict[str, Any]" = traitlets.Dict().tag(sync=True)
    says = traitlets.Unicode().tag(sync=True)
    sliders: "traitlets.List[dict[str, Any]]" = traitlets.List().tag(sync=True)
    thickened = traitlets.Float(1.0, min=1.0, max=20.0).tag(sync=True)
    temperature_degc = traitlets.Float(20.0, min=-10.0, max=35.0).tag(sync=True)
    baud = traitlets.Float().tag(sync=True)

    def __init__(self, machine: Machine, part: str) -> None:
        cycle, healthy = cycle_of(machine), stroke(machine, part, GOOD)
        moves = machine.mechanism[part].moves
        assert moves is not None  # stroke() has refused that
        own = float(cycle.baud)
        slowest, fastest = (own * rate for rate in RATES)
        self.machine, self.part, self._rates = machine, part, (slowest, fastest)
        self._within_mm = float(moves.within_mm)
        self._scale = Scale(1.25 * cycle.given_ms(moves.operates, slowest), healthy.travel_mm)
        super().__init__(
            svg=chart(self._scale, self._within_mm, healthy, machine.label(part)),
            sliders=[
                _slider("thickened", "Oil, times as thick as fresh", 1.0, 20.0, 0.5),
                _slider("temperature_degc", "Temperature, °C", -10.0, 35.0, 1.0),
                _slider("baud", "Rate the machine is built for, baud", slowest, fastest, 5.0),
            ],
            baud=own,
        )
        self.observe(self._show, ["thickened", "temperature_degc", "baud"])
        self._show(None)

    @property
    def conditions(self) -> Conditions:
        """What the sliders say."""
        return Conditions(self.baud, self.temperature_degc, FRESH.aged(self.thickened))

    @traitlets.validate("baud")
    def _a_rate(self, proposal: Any) -> float:
        slowest, fastest = self._rates
        if not slowest <= proposal["value"] <= fastest:
            raise traitlets.TraitError(f"the rate goes from {slowest:g} to {fastest:g} baud")
        return float(proposal["value"])

    def say_trouble(self, words: str) -> None:
        """Say that the picture is not of what the sliders say; the next one says what it shows."""
        if words:
            self.says = words

    @in_turn
    def _show(self, _: object) -> None:
        motion = stroke(self.machine, self.part, self.conditions)
        in_hand = margin(self.machine, self.part, self.conditions)
        with self.hold_sync():
            self.marks = dict(marks(self._scale, motion, in_hand, self._within_mm))
            self.says = story(self.machine, self.part, self.conditions)


def _slider(name: str, label: str, least: float, most: float, step: float) -> dict[str, Any]:
    return {"name": name, "label": label, "min": least, "max": most, "step": step}
