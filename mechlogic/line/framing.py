"""How a start-stop line carries a character: start, bits, parity, stop, and how long each lasts.

The line rests at mark (current flows). A character is one unit of space, the start; then its bits,
b1 first, a set bit being mark; then the parity bit, if there is one; then mark for at least the
stop time. Sources: ITU-T S.3 for five units (50 baud, stop of 1.5 units: 150 ms a character; from
memory); ISO 1177 and ITU-T V.4 for seven units with parity.
"""

from dataclasses import dataclass
from typing import Literal

from mechlogic.helpers.refusal import Refusal
from mechlogic.model.codes import shown, with_parity
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import Line
from mechlogic.model.seen import glyph_of, look_alike
from mechlogic.model.steps import Memory, at_rest, good_step
from mechlogic.time.startstop import Rate

Parity = Literal["none", "even", "odd"]

SPEEDS = (45.45, 50.0, 75.0, 100.0, 110.0)
"""Customary speeds in baud (common practice, no source); any other from 1 to 9600 will do."""

STOPS = (1.0, 1.42, 1.5, 2.0)
"""Customary lengths of the stop, in units (common practice, no source)."""

USUAL = (50.0, 1.5)
"""Speed in baud and stop in units where a machine's description says nothing (ITU-T S.3)."""


class LineError(Refusal):
    """Something that this line, or the port it hangs on, cannot do."""


@dataclass(frozen=True)
class Framing:
    """How characters are framed on one line.

    Attributes:
        baud: Units a second.
        bits: Bits of a character, from 5 to 8, parity not counted.
        parity: ``"none"``, ``"even"`` or ``"odd"``.
        stop_units: The least length of the stop, in units.
        inverted: Whether every bit, parity included, goes out and comes in the other way about.
            Start and stop stay as they are: a line that has those the wrong way about needs an
            adapter that inverts.

    Raises:
        LineError: If a value is out of range.
    """

    baud: float
    bits: int
    parity: Parity = "none"
    stop_units: float = 1.5
    inverted: bool = False

    def __post_init__(self) -> None:
        if not 1 <= self.baud <= 9600:
            raise LineError(f"a speed of {self.baud:g} baud", "Give a speed from 1 to 9600 baud")
        if self.bits not in range(5, 9):
            raise LineError(f"characters of {self.bits} units", "Choose 5, 6, 7 or 8 units")
        if self.parity not in ("none", "even", "odd"):
            raise LineError(f"parity {shown(self.parity)}", "Choose none, even or odd")
        if not 1 <= self.stop_units <= 10:
            raise LineError(f"a stop of {self.stop_units:g} units", "Give from 1 to 10 units")

    @property
    def rate(self) -> Rate:
        """Speed and length of a character, as :mod:`mechlogic.time.startstop` reckons with it."""
        n_bits = self.bits + (self.parity != "none")
        return Rate(self.baud, 1 + n_bits + self.stop_units, n_bits)

    @property
    def character_s(self) -> float:
        """How long one character lasts, in seconds, from its start to the end of its stop."""
        return self.rate.character_ms / 1000

    @property
    def home_again_s(self) -> float:
        """How long after a character, in seconds, a slow part is taken to be home again.

        Three characters' time, and a fifth of a second at least: on a computer that is busy, two
        characters of a burst may come so far apart.
        """
        return max(3 * self.character_s, 0.2)

    def word(self, code: int) -> int:
        """The bits as they stand on the line, b1 lowest, the parity bit on top.

        Raises:
            LineError: If the code has more bits than the line.
        """
        if not 0 <= code < 1 << self.bits:
            raise LineError(f"code {code} on a line of {self.bits} units", "Choose more units")
        word = code if self.parity == "none" else with_parity(code, self.bits, self.parity)
        return word ^ self._mask

    def code_of(self, word: int) -> tuple[int, bool]:
        """The code that came in as *word*, and whether its parity is right."""
        word ^= self._mask
        code = word & (1 << self.bits) - 1
        return code, self.parity == "none" or word == with_parity(code, self.bits, self.parity)

    @property
    def _mask(self) -> int:
        return (1 << self.rate.bits) - 1 if self.inverted else 0

    def elements(self, code: int) -> tuple[tuple[bool, float], ...]:
        """What the line shows for one character: (mark or not, length in ms), start to stop."""
        unit, word = self.rate.unit_ms, self.word(code)
        bits = [(bool(word >> n & 1), unit) for n in range(self.rate.bits)]
        return ((False, unit), *bits, (True, self.stop_units * unit))


def framing_for(machine: Machine) -> Framing:
    """The line that a machine is made for, as its description says; else :data:`USUAL`."""
    baud, stop = USUAL
    own = machine.output if isinstance(machine.output, Line) else machine  # keyboard or printer
    parity: Parity = own.parity  # type: ignore[assignment]
    if machine.cycle:
        n_bits = own.code.units + (parity != "none")
        baud, stop = float(machine.cycle.baud), float(machine.cycle.units) - 1 - n_bits
    bits = max(5, own.code.units)  # a smaller code goes out with blank bits behind its own
    return Framing(baud, bits, parity, min(STOPS, key=lambda known: abs(known - stop)))


def keyed(machine: Machine, text: str) -> tuple[int, ...]:
    """The codes that make a good machine print a text, shifts put in where they are needed.

    A small letter may print as its capital, if that is the type that the machine has. The text
    begins with the shift that its first character needs, since nobody knows how the machine stands.

    Args:
        machine: The machine that is to print.
        text: What is to stand on the paper. A line end becomes CR and LF, where the code has them.

    Raises:
        LineError: For the first character that the machine cannot print.
    """
    names = machine.code.names
    shifts = [(), *((names.index(name),) for name in ("LTRS", "FIGS", "SO", "SI") if name in names)]
    memory, sent = at_rest(machine), list[int]()
    for character in text.replace("\r\n", "\n"):
        sure = any((code,) in shifts for code in sent)
        if character == "\n":
            wanted = tuple(names.index(name) for name in ("CR", "LF") if name in names)
        else:
            ways = (_way(machine, memory, shift, character, sure) for shift in shifts)
            wanted = next(filter(None, ways), ())
            if not wanted:
                raise LineError(
                    f"{shown(character)} is not among this machine's type", "Leave it out"
                )
        for code in wanted:
            _, memory = good_step(machine, code, memory)
        sent += wanted
    return tuple(sent)


def _way(
    machine: Machine, memory: Memory, shift: tuple[int, ...], character: str, sure: bool
) -> tuple[int, ...]:
    """A shift, or none, and the code that then prints a character; empty if none does."""
    for code in shift:
        _, memory = good_step(machine, code, memory)
    for wanted in (character, character.upper()):
        for code in range(len(machine.code)):
            seen, _ = good_step(machine, code, memory)
            if look_alike(glyph_of(seen), wanted) and (
                wanted != " " or machine.code.name(code) == "SP"
            ):
                return (*shift, code) if shift or sure or not _is_shifted(machine, code) else ()
    return ()


def _is_shifted(machine: Machine, code: int) -> bool:
    """Whether what a good machine prints for a code depends on its latches."""
    case = machine.cases.get("figures", machine.printed)
    setting = machine.as_set(code)
    return case[setting] != machine.printed[setting]
