"""Start-stop characters: when each bit is read, and what a late, fast or bouncing part spoils.

A character on the line begins with a start element of one unit, then come its bits, one unit each,
b1 first and the parity bit last, then a stop element that lasts at least until the next start.  The
receiver begins to turn at the start and reads each bit in the middle of its unit, by its own motor.
Nothing corrects the motor until the next start, so an error of its speed grows from bit to bit and
the last bit fails first.

Bits are counted from 1.  Times count from the beginning of the start element, in ms.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf

from mechlogic.model.faults import CONTACT_BOUNCES, Fault
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import Line
from mechlogic.time.timing import TimingError, cycle_of

CLOSINGS = ("with the key", "each in its unit")
"""When the contacts of a keyboard close.

With the key: all together, and a distributor then reads them one after the other.  Each in its
unit: a cam lets each close at the beginning of its own unit.
"""


@dataclass(frozen=True)
class Rate:
    """How fast characters follow one another on a line.

    Attributes:
        baud: Units a second.
        units: Units of a whole character, start and stop included.
        bits: Bits of a character, the parity bit included.
        source: Where the numbers come from.
    """

    baud: float
    units: float
    bits: int
    source: str = ""

    def __post_init__(self) -> None:
        if not self.baud > 0:
            raise ValueError(f"the rate must be greater than 0 baud, not {self.baud:g}")
        if self.bits < 1 or self.stop_units < 1:
            raise ValueError(
                f"{self.units:g} units have no room for a start, {self.bits} bits and a stop of "
                "one unit or more"
            )

    @property
    def unit_ms(self) -> float:
        """How long one unit lasts, in ms."""
        return 1000 / self.baud

    @property
    def stop_units(self) -> float:
        """How long the stop element lasts, in units."""
        return self.units - 1 - self.bits

    @property
    def character_ms(self) -> float:
        """How long one character lasts, in ms."""
        return self.units * self.unit_ms

    @property
    def characters_per_s(self) -> float:
        """How many characters follow one another in a second."""
        return 1000 / self.character_ms

    def begins_ms(self, bit: int) -> float:
        """When a bit begins on the line, in ms.

        Raises:
            ValueError: If the character has no such bit.
        """
        if not 1 <= bit <= self.bits:
            raise ValueError(f"the character has bits 1 to {self.bits}, and no bit {bit}")
        return bit * self.unit_ms


RATES: Mapping[str, Rate] = {
    "50 baud": Rate(50.0, 7.5, 5, "ITU-T S.3 (from memory)"),
    "45.45 baud": Rate(45.45, 7.42, 5, "common practice, no source"),
    "75 baud": Rate(75.0, 7.5, 5, "common practice, no source"),
    "100 baud": Rate(100.0, 10.0, 8, "ISO 1177 (from memory): start, 7 bits, parity, stop"),
}
"""Customary rates: five bits without parity, and at 100 baud seven bits with a parity bit."""


@dataclass(frozen=True)
class Selector:
    """What reads a start-stop character.

    Attributes:
        speed_error: By how much its motor turns too fast, as a share: 0.02 is two per cent fast,
            −0.02 two per cent slow.
        centre: Where in each unit it is set to read, as a share of the unit: 0.5 is the middle.
        look_units: How long it looks at the line, in its own units; 0 is an instant.
    """

    speed_error: float = 0.0
    centre: float = 0.5
    look_units: float = 0.0

    def __post_init__(self) -> None:
        if not self.speed_error > -1:
            raise ValueError("speed_error is a share: 0.02 for two per cent fast")
        if not (self.look_units >= 0 and 0 <= self.centre <= 1):
            raise ValueError("centre is a share of the unit, and look_units is not less than 0")

    def reads_ms(self, rate: Rate, bit: int) -> float:
        """The middle of the time in which it looks at a bit, in ms."""
        rate.begins_ms(bit)  # refuses a bit that is not there
        return (bit + self.centre) * rate.unit_ms / (1 + self.speed_error)

    def bit_margin(self, rate: Rate, bit: int) -> float:
        """How far the ends of a bit may be shifted before it is read wrong, as a share of a unit.

        It is less than 0 if the bit may be read wrong on a perfect line.
        """
        middle = self.reads_ms(rate, bit) / rate.unit_ms
        half = self.look_units / 2 / (1 + self.speed_error)
        return min(middle - half - bit, bit + 1 - (middle + half))

    def margin(self, rate: Rate) -> float:
        """The receiving margin: the smallest of its bits' margins, as a share of a unit.

        The theoretical margin of telegraph books: one half for a perfect receiver, less the speed
        error times the time up to the last reading, n + ½ units (to first order, from memory).
        """
        return min(self.bit_margin(rate, bit) for bit in range(1, rate.bits + 1))

    def weakest_bit(self, rate: Rate) -> int:
        """The bit with the least margin; the earliest one if several have it."""
        return min(range(1, rate.bits + 1), key=lambda bit: (self.bit_margin(rate, bit), bit))


def speed_limits(rate: Rate, centre: float = 0.5) -> tuple[float, float]:
    """The speed errors between which a selector reads a perfect line right, as shares.

    At the lower one, the slowest, it reads the last bit only as the stop begins; at the upper one
    it reads it just as it begins.
    """
    return -(1 - centre) / (rate.bits + 1), centre / rate.bits


def slowest_for_rest(rate: Rate, cycle_units: float) -> float:
    """The speed error, as a share, at which a receiver is just at rest when the next start comes.

    Args:
        rate: The rate of the line.
        cycle_units: How long the receiver's own cycle takes at its proper speed, in units.  Less
            than the sender's, so that it waits for each start.

    Raises:
        ValueError: If the receiver's cycle is longer than the sender's.
    """
    if not 0 < cycle_units <= rate.units:
        raise ValueError(f"the receiver's cycle must be at most {rate.units:g} units")
    return cycle_units / rate.units - 1


def settled_ms(rate: Rate, bit: int, lead_ms: float = 0.0, closing: str = CLOSINGS[0]) -> float:
    """How long a contact has been closed when its bit is read in the middle of its unit, in ms.

    Args:
        rate: The rate of the line.
        bit: The bit that the contact sends.
        lead_ms: Time from the closing of the contacts to the start of the character, in ms.
        closing: One of :data:`CLOSINGS`.

    Raises:
        ValueError: For a bit or a way of closing that there is not.
    """
    if closing not in CLOSINGS:
        raise ValueError(f"contacts close {' or '.join(CLOSINGS)}, not {closing!r}")
    begins = rate.begins_ms(bit)
    middle = rate.unit_ms / 2
    return middle if closing == CLOSINGS[1] else lead_ms + begins + middle


def bits_at_risk(
    rate: Rate, bounce_ms: float, lead_ms: float = 0.0, closing: str = CLOSINGS[0]
) -> tuple[int, ...]:
    """The bits that are read while a contact of this bounce may still be open.

    Args:
        rate: The rate of the line.
        bounce_ms: How long a contact bounces after it first closes, in ms.
        lead_ms: As for :func:`settled_ms`.
        closing: As for :func:`settled_ms`.
    """
    bits = range(1, rate.bits + 1)
    return tuple(bit for bit in bits if settled_ms(rate, bit, lead_ms, closing) < bounce_ms)


def bounce_matters_from_baud(
    bit: int, bounce_ms: float, lead_ms: float = 0.0, closing: str = CLOSINGS[0]
) -> float:
    """The rate in baud above which a bit is read while its contact still bounces.

    It is infinity if the contact has come to rest before the character begins.

    Args:
        bit: The bit that the contact sends, from 1.
        bounce_ms: How long the contact bounces, in ms.
        lead_ms: As for :func:`settled_ms`.
        closing: As for :func:`settled_ms`.
    """
    at_once = Rate(1.0, bit + 2.0, bit)
    units = settled_ms(at_once, bit, 0.0, closing) / at_once.unit_ms
    left = bounce_ms - (lead_ms if closing == CLOSINGS[0] else 0.0)
    return 1000 * units / left if left > 0 else inf


def line_rate(machine: Machine, baud: float | None = None) -> Rate:
    """The rate at which a keyboard sends, at its own speed or at another one in baud.

    Raises:
        TimingError: If the machine sends nothing on a line, or nothing is said of its cycle.
    """
    cycle, line = cycle_of(machine), _line_of(machine)
    rate = float(cycle.baud) if baud is None else baud
    return Rate(rate, float(cycle.units), len(line.contacts), f"[cycle] of {machine.name}")


def bouncing_contacts(
    machine: Machine, baud: float | None = None, wear: float = 1.0, closing: str = CLOSINGS[0]
) -> tuple[Fault, ...]:
    """The contacts of a keyboard whose bounce reaches into the reading of their bit, as faults.

    Args:
        machine: A machine that sends on a line, such as ``desk``.
        baud: The rate in baud; its own if left out.
        wear: How many times as long as described its contacts bounce.
        closing: As for :func:`settled_ms`.

    Raises:
        TimingError: As :func:`line_rate`.
    """
    rate, lead = line_rate(machine, baud), float(cycle_of(machine).lead_ms)
    found = []
    for bit, name in enumerate(_line_of(machine).contacts, start=1):
        bounce_ms = wear * float(machine.mechanism[name].bounce_ms or 0)
        if settled_ms(rate, bit, lead, closing) < bounce_ms:
            found.append(Fault(name, CONTACT_BOUNCES.name))
    return tuple(found)


def _line_of(machine: Machine) -> Line:
    if not isinstance(machine.output, Line):
        what = f"{machine.title} sends nothing on a line"
        raise TimingError(what, "Ask it of a keyboard by itself.")
    return machine.output
