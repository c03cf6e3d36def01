"""A rack with three stops, tried with any levers: which heights come, and which lever is forced.

A *trial* says for each of four settings of two bits which of the three levers are out of the way,
that of the lowest stop first.  Where the rack then comes to rest is what its own law says.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product

from mechlogic.explaining.words import measure, the
from mechlogic.helpers.sentences import counted
from mechlogic.model.laws import SteppedStops, Stop
from mechlogic.model.machine import Machine
from mechlogic.model.mechanism import asked_place

SETTINGS = ("00", "01", "10", "11")
"""The settings of two bits, the higher bit first."""

Triple = tuple[int, int, int]
"""A function of two bits for each lever: bit n of the number is set if it clears in setting n."""


@dataclass(frozen=True)
class Rack:
    """A driven member with three stops, and the two bits that choose among its four places.

    Attributes:
        machine: The machine.
        member: Name of the member, whose joint is :class:`.SteppedStops`.
        bits: Numbers of the two bits, the higher first.
    """

    machine: Machine
    member: str
    bits: tuple[int, int]

    @property
    def stops(self) -> list[Stop]:
        """Its stops, the lowest first."""
        joint = self.machine.mechanism[self.member].joint
        assert isinstance(joint, SteppedStops)
        return sorted(joint.stops, key=lambda stop: stop.at)

    @property
    def labels(self) -> list[str]:
        """What a person calls the levers of its stops."""
        return [self.machine.label(stop.lever.part) for stop in self.stops]

    def rests(self, clear: Sequence[bool]) -> Fraction:
        """Where it comes to rest, in mm, with these of its levers out of the way."""
        mechanism, places = self.machine.mechanism, {}
        for stop, out in zip(self.stops, clear, strict=True):
            part = stop.lever.part
            places[part] = len(mechanism.laws[part].cuts) * (out == stop.lever.operated)
        inputs = [places[name] for name in mechanism[self.member].joint.inputs]
        law = mechanism.laws[self.member]
        return law.places[asked_place(law, inputs)]

    def row_says(self, setting: str, clear: Sequence[bool]) -> str:
        """Where it stops in one setting, and at what."""
        held = [
            f"held by {the(label)}"
            for label, out in zip(self.labels, clear, strict=True)
            if not out
        ]
        by = (*held, "with nothing in the way")[0]
        return f"{setting}: the rack stops at {measure(self.rests(clear), 'mm')}, {by}."

    def says(self, trial: Sequence[Sequence[bool]]) -> str:
        """How many heights a trial gives, and when each lever is out of the way."""
        heights = [self.rests(clear) for clear in trial]
        told = f"{counted(len(set(heights)), 'height', 'different heights')}, and four are wanted"
        if len(set(heights)) == len(SETTINGS):
            lowest = "is" if heights[0] == min(heights) else "is not"
            told = f"Four different heights. With no bit set the rack {lowest} at the lowest"
        columns = zip(self.labels, zip(*trial, strict=True), strict=True)
        levers = [f"{label}: {self._when(clears)}" for label, clears in columns]
        return f"{told}. Out of the way: {'; '.join(levers)}."

    def _when(self, clears: Sequence[bool]) -> str:
        """The settings in which a lever is out of the way, as a formula."""
        from sympy import SOPform, symbols

        rows = [row for row, out in enumerate(clears) if out]
        found = SOPform(symbols(f"b{self.bits[0]} b{self.bits[1]}"), rows)
        return {"True": "always", "False": "never"}.get(str(found), str(found))

    def four_heights(self) -> dict[Triple, tuple[Fraction, ...]]:
        """Of all 4,096 triples of levers those that give four heights, with the heights, in mm."""
        rests = {clear: self.rests(clear) for clear in product((False, True), repeat=3)}
        found = {}
        for one, two, three in product(range(16), repeat=3):
            triple = one, two, three
            clears = [tuple(bool(lever >> row & 1) for lever in triple) for row in range(4)]
            heights = tuple(rests[clear] for clear in clears)
            if len(set(heights)) == len(SETTINGS):
                found[triple] = heights
        return found

    def triples_say(self, found: Mapping[Triple, Sequence[Fraction]]) -> str:
        """How many of all triples give four heights, and how many levers each stop can have."""
        lowest = [triple for triple, heights in found.items() if heights[0] == min(heights)]
        kinds = [len(set(levers)) for levers in zip(*lowest, strict=True)]
        can = [f"{label}: {n}" for label, n in zip(self.labels, kinds, strict=True)]
        return (
            f"Of 4,096 triples of levers, {len(found)} give four heights. In {len(lowest)} of them "
            f"the rack is lowest with no bit set. Different levers in these: {', '.join(can)}."
        )
