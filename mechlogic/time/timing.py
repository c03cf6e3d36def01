"""Time: which parts of a machine come too late at a speed, a temperature and an oil.

Every character takes the machine through one cycle, and a share of the cycle is all the time that a
sprung part has to move.  Turned by hand, the shaft gives it as long as it likes; under power, the
rate of the line says how long.  A part that needs more than that still stands where the character
before had it, and that is the fault *slow to return* (or *slow to operate*) of
:mod:`mechlogic.model.faults`: here it follows from mass, spring, oil and speed.

Each part is taken by itself, let go at full travel at the moment at which its share of the cycle
begins.  A part that waits for another one to come out of its way begins later than that; in the
machine's own logic it is late as soon as the other is, so its margin here is the most it can have.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import inf, isinf

from mechlogic.explaining.words import capitalised, the
from mechlogic.helpers.refusal import Refusal
from mechlogic.model.faults import (
    HALF_WAY,
    SLOW_TO_OPERATE,
    SLOW_TO_RETURN,
    STUCK_AT_REST,
    STUCK_OPERATED,
    UNKNOWN,
    Fault,
    Mode,
    faults_of,
)
from mechlogic.model.machine import Machine
from mechlogic.model.mechanism import did_you_mean
from mechlogic.model.motion import Cycle, Stroke
from mechlogic.time.oil import COLDEST_DEGC, FRESH, HOTTEST_DEGC, Oil, thickness

FINE_DEGC = 0.01
"""How finely a temperature is looked for, in degrees C."""


class TimingError(Refusal):
    """A question about time for which the description does not say enough."""


@dataclass(frozen=True)
class Conditions:
    """How a machine is run.

    Attributes:
        baud: The rate in baud; None for the rate that the machine is geared for.
        temperature_degc: Temperature of the oil in degrees C: that of the room, at first.
        oil: The oil on its parts.
    """

    baud: float | None = None
    temperature_degc: float = 20.0
    oil: Oil = FRESH


GOOD = Conditions()
"""Fresh oil at 20 degrees C, at the machine's own rate."""


@dataclass(frozen=True)
class Margin:
    """What one part has in hand.

    Attributes:
        part: Name of the part.
        operates: Whether its spring works towards the operated end, and not towards rest.
        given_ms: The time that the cycle gives it, in ms.
        needed_ms: The time that it needs, in ms; infinity if it never arrives.
        travel_mm: How far it has to go, in mm.
        ends_mm: Where it comes to rest in the end, in mm from its stop.
        fastest_baud: The highest rate in baud at which it is still in time: the fault appears
            above it and disappears below.
        fastest_characters_per_s: The same in characters a second.
    """

    part: str
    operates: bool
    given_ms: float
    needed_ms: float
    travel_mm: float
    ends_mm: float
    fastest_baud: float
    fastest_characters_per_s: float

    @property
    def margin_ms(self) -> float:
        """Time given minus time needed, in ms; less than 0 if the part is late."""
        return self.given_ms - self.needed_ms

    @property
    def late(self) -> bool:
        """Whether it needs more time than it is given."""
        return self.needed_ms > self.given_ms


def stroke(machine: Machine, name: str, conditions: Conditions = GOOD) -> Stroke:
    """The motion of one part, let go at its full travel.

    Raises:
        TimingError: If there is no such part, or nothing is said of its mass and spring.
    """
    if name not in machine.mechanism.parts:
        hint = did_you_mean(name, machine.mechanism.parts)
        raise TimingError(f"no part is called {name!r}", hint)
    moves = machine.mechanism[name].moves
    if moves is None:
        mend = "Add a line moves = { mass_g = …, spring_n_per_mm = … } to its table."
        raise TimingError(f"nothing is said of the mass and the spring of {name}", mend)
    thick = thickness(conditions.oil, conditions.temperature_degc)
    return moves.stroke(machine.mechanism.laws[name].full, thick)


def cycle_of(machine: Machine) -> Cycle:
    """The cycle of a machine.

    Raises:
        TimingError: If its description says nothing of it.
    """
    if machine.cycle is None:
        mend = "Add a table [cycle] with units, baud, sense_share and return_share."
        raise TimingError(f"nothing is said of the cycle of {machine.title}", mend)
    return machine.cycle


def timed_parts(machine: Machine) -> tuple[str, ...]:
    """The parts of whose mass and spring something is said, in working order."""
    return tuple(part.name for part in machine.mechanism if part.moves is not None)


def margin(machine: Machine, name: str, conditions: Conditions = GOOD) -> Margin:
    """What one part has in hand under some conditions.

    Raises:
        TimingError: If the description says nothing of the part's motion or of the cycle.
    """
    cycle, motion = cycle_of(machine), stroke(machine, name, conditions)
    moves = machine.mechanism[name].moves
    assert moves is not None  # stroke() has refused that
    needed = motion.time_ms(float(moves.within_mm))
    fastest = cycle.fastest_baud(moves.operates, needed)
    return Margin(
        part=name,
        operates=moves.operates,
        given_ms=cycle.given_ms(moves.operates, conditions.baud),
        needed_ms=needed,
        travel_mm=motion.travel_mm,
        ends_mm=motion.ends_mm,
        fastest_baud=fastest,
        fastest_characters_per_s=fastest / float(cycle.units),
    )


def margins(machine: Machine, conditions: Conditions = GOOD) -> tuple[Margin, ...]:
    """What every part has in hand, the least first.

    Raises:
        TimingError: If the description says nothing of the cycle.
    """
    cycle_of(machine)
    found = (margin(machine, name, conditions) for name in timed_parts(machine))
    return tuple(sorted(found, key=lambda m: m.margin_ms))


def late_faults(machine: Machine, conditions: Conditions = GOOD) -> tuple[Fault, ...]:
    """The faults that speed, temperature and oil give a machine, the worst first.

    A part that arrives too late is slow; one that friction holds on its way hangs half-way; one
    that its spring cannot start is stuck where it was driven.  They can be given to
    :class:`~mechlogic.model.behaviour.Behaviour` or to a picture; but each slow part doubles what
    the machine may remember, so take the first few.

    Raises:
        TimingError: If the description says nothing of the cycle.
    """
    return tuple(_faults(machine, conditions))


def _faults(machine: Machine, conditions: Conditions) -> Iterator[Fault]:
    for m in margins(machine, conditions):
        if m.late:
            fits = {fault.mode for fault in faults_of(machine.mechanism, m.part)}
            mode = _mode(machine, m)
            yield Fault(m.part, mode.name if mode.name in fits else UNKNOWN.name)


def _mode(machine: Machine, m: Margin) -> Mode:
    """The mode of a late part.

    A part may rest at the operated end, as a pull bar does that drops when no bit is set; then its
    spring brings it back by operating it.
    """
    end = len(machine.mechanism.laws[m.part].cuts) if m.operates else 0
    goes_to_rest = machine.mechanism.rest[m.part] == end
    if m.ends_mm >= m.travel_mm:
        return STUCK_OPERATED if goes_to_rest else STUCK_AT_REST
    if isinf(m.needed_ms):
        return HALF_WAY
    return SLOW_TO_RETURN if goes_to_rest else SLOW_TO_OPERATE


def coldest_degc(machine: Machine, name: str, conditions: Conditions = GOOD) -> float:
    """The temperature in degrees C below which a part is late, all else as in *conditions*.

    Returns:
        The temperature; −infinity if the part is in time even at the lowest temperature that the
        law of the oil is used for, and infinity if it is late at the highest.

    Raises:
        TimingError: As :func:`margin`.
    """

    def late_at(temperature_degc: float) -> bool:
        return margin(machine, name, replace(conditions, temperature_degc=temperature_degc)).late

    cold, warm = COLDEST_DEGC, HOTTEST_DEGC
    if not late_at(cold):
        return -inf
    if late_at(warm):
        return inf
    while warm - cold > FINE_DEGC:
        middle = (cold + warm) / 2
        cold, warm = (middle, warm) if late_at(middle) else (cold, middle)
    return warm


def sentence(machine: Machine, m: Margin) -> str:
    """What a margin means, in words."""
    label = capitalised(the(machine.label(m.part)))
    does = "operate" if m.operates else "return"
    where = "at rest" if m.operates else "operated"
    given = f"the cycle gives it {_ms(m.given_ms)}"
    if m.ends_mm >= m.travel_mm:
        return f"{label} stays {where}: its spring cannot overcome the friction."
    if isinf(m.needed_ms):
        left = f"{m.ends_mm:.1f} mm before its stop"
        return f"{label} hangs {left}: there friction holds its spring."
    needs = f"{label} needs {_ms(m.needed_ms)} to {does}, and {given}"
    if m.late:
        return f"{needs}. It is {_ms(-m.margin_ms)} late: {_limit(m)}."
    return f"{needs}. It has {_ms(m.margin_ms)} in hand: {_limit(m)}."


def story(machine: Machine, name: str, conditions: Conditions = GOOD) -> str:
    """What a part does under some conditions, where its moment finds it, and what would mend it.

    Raises:
        TimingError: As :func:`margin`.
    """
    m = margin(machine, name, conditions)
    left_mm = stroke(machine, name, conditions).position_mm(m.given_ms)
    found = f"Its moment finds it {left_mm:.1f} mm from its stop." if left_mm else ""
    found = found or "Its moment finds it at its stop."
    return " ".join(
        (sentence(machine, m), found, _weather(coldest_degc(machine, name, conditions)))
    )


def _weather(coldest: float) -> str:
    """From which temperature a part is in time, all else as it is."""
    if coldest == -inf:
        return f"It is in time at every temperature down to {_degrees(COLDEST_DEGC)}."
    if coldest == inf:
        return "No warmth makes it early enough."
    return f"With this oil at this rate it is late below {_degrees(coldest)}."


def _degrees(temperature: float) -> str:
    return f"{temperature:.0f} °C".replace("-", "−")


def _limit(m: Margin) -> str:
    """The rate up to which a part is in time."""
    fastest = f"{m.fastest_characters_per_s:.1f} characters a second"
    return f"it keeps up to {m.fastest_baud:.0f} baud, {fastest}"


def _ms(time_ms: float) -> str:
    return f"{time_ms:.1f} ms"
