"""The motion of one sprung, damped part: how long its spring takes to bring it to its stop.

A lever, bar or rack of a given mass is let go at some distance from a stop.  Its spring drives it
towards the stop; oil drags on it in proportion to its speed; dry friction holds against it with a
force that does not depend on the speed.  Once it is at the stop it stays there: how hard it hits
and whether it rebounds is not looked at.

Until then its distance x from the stop obeys

    m·x'' = −(P + k·x) − c·x' + F

with the mass m, the spring's rate k, the preload P (its force at the stop), the drag c and the
friction F.  With y = x + (P − F)/k that is the damped oscillator of every vibration text (for
example Den Hartog, Mechanical Vibrations; from memory), whose solution has one form each for
little, critical and much damping.  The spring only ever pushes towards the stop, so the part never
turns back: where an oscillator would, friction already holds it.

The friction of a part at rest is taken to be no greater than that of one that slides; in old
machines it often is, so a part may stick sooner than said here.

Units: mm, ms, g and N.  They fit together without factors: 1 N = 1 g·mm/ms², and a drag of
1 N·s/m is 1 N·ms/mm.
"""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from math import cos, exp, expm1, inf, isclose, pi, sin, sqrt
from typing import Any

from mechlogic.model.keys import NOT_NEGATIVE, Bound, above_zero, hold_bounds, number, text

ZERO = Fraction(0)

WEAKEST_N_PER_MM = Fraction(1, 1_000_000)
"""The weakest spring that a description may name, in N/mm.

With a weaker one the place at which spring and friction balance lies so far off that floats lose
the travel beside it.
"""


def _positive(key: str, says: str) -> Any:
    return number(key, says, bound=above_zero())


def _or_none(key: str, says: str) -> Any:
    return number(key, says, bound=NOT_NEGATIVE, default=ZERO)


@dataclass(frozen=True)
class Moves:
    """What a description says of how a part moves.

    Attributes:
        mass_g: Mass of the part and of what it carries along, in g, reduced to the point at which
            its travel is measured (see :func:`reduced_mass_g`).
        spring_n_per_mm: Rate of its spring at that point, in N/mm.
        preload_n: Force of the spring when the part stands at the stop towards which the spring
            works, in N.
        drag_ns_per_m: Viscous drag with fresh oil at 20 degrees C, in N·s/m.
        friction_n: Dry friction, in N.
        within_mm: How near to that stop, in mm, the part counts as arrived.
        operates: Whether the spring works towards full travel, as in a pull bar that drops, and
            not towards 0.
    """

    mass_g: Fraction = _positive(
        "mass_g", "Mass in g of the part and of what it carries, where its travel is measured."
    )
    spring_n_per_mm: Fraction = number(
        "spring_n_per_mm",
        "Rate of the spring there, in N/mm.",
        bound=Bound(
            lambda rate: rate >= WEAKEST_N_PER_MM,
            "no spring is as soft as that",
            "Give its rate in N/mm; for a steady force take a soft spring with much preload.",
        ),
    )
    preload_n: Fraction = _or_none(
        "preload_n", "Force of the spring, in N, where it has brought the part."
    )
    drag_ns_per_m: Fraction = _or_none("drag_ns_per_m", "Drag of fresh oil at 20 °C, in N·s/m.")
    friction_n: Fraction = _or_none("friction_n", "Dry friction, in N.")
    within_mm: Fraction = _or_none("within_mm", "How near to its stop the part counts as arrived.")
    operates: bool = text(
        "spring",
        "What the spring does: brings the part back to rest, or out.",
        choices={"returns": False, "operates": True},
        default=False,
    )

    def __post_init__(self) -> None:
        hold_bounds(self)

    def stroke(self, travel_mm: Fraction | float, thickness: float = 1.0) -> "Stroke":
        """The motion over a travel.

        Args:
            travel_mm: How far from its stop the part is let go, in mm.
            thickness: How many times as thick the oil is as fresh oil at 20 degrees C.
        """
        return Stroke(
            float(self.mass_g),
            float(self.spring_n_per_mm),
            float(self.preload_n),
            float(self.drag_ns_per_m) * thickness,
            float(self.friction_n),
            float(travel_mm),
        )


@dataclass(frozen=True)
class Cycle:
    """What a description says of the time in which a machine works through one character.

    Attributes:
        units: Start-stop units of one character, start and stop included.
        baud: Units a second for which the machine is geared.
        sense_share: Share of the character's time in which sprung parts must operate.
        return_share: Share of the character's time in which parts must come back to rest.
        lead_ms: Time in ms from the closing of a keyboard's contacts to the start of the character
            on the line.
    """

    units: Fraction = _positive(
        "units", "Start-stop units of one character, start and stop among them."
    )
    baud: Fraction = _positive("baud", "Units a second.")
    sense_share: Fraction = _positive(
        "sense_share", "Share of a character's time in which sprung parts must operate."
    )
    return_share: Fraction = _positive(
        "return_share",
        "Share of that time in which parts must be back at rest. Both together at most 1.",
    )
    lead_ms: Fraction = _or_none(
        "lead_ms",
        "From the closing of a keyboard's contacts to the start of the character on the line, "
        "in ms.",
    )

    def __post_init__(self) -> None:
        hold_bounds(self)
        if self.sense_share + self.return_share > 1:
            raise ValueError("sense_share and return_share are together more than 1")

    def character_ms(self, baud: float | None = None) -> float:
        """How long one character takes, in ms, at a rate in baud or at the machine's own.

        Raises:
            ValueError: If the rate is not greater than 0.
        """
        rate = float(self.baud) if baud is None else baud
        if not rate > 0:
            raise ValueError(f"the rate must be greater than 0 baud, not {rate:g}")
        return 1000 * float(self.units) / rate

    def characters_per_s(self, baud: float | None = None) -> float:
        """How many characters follow one another in a second."""
        return 1000 / self.character_ms(baud)

    def given_ms(self, operates: bool, baud: float | None = None) -> float:
        """The time in ms that a part has to operate, or else to return."""
        share = self.sense_share if operates else self.return_share
        return float(share) * self.character_ms(baud)

    def fastest_baud(self, operates: bool, needed_ms: float) -> float:
        """The highest rate in baud that still gives a part the time that it needs, in ms."""
        return self.given_ms(operates, 1.0) / needed_ms if needed_ms else inf


@dataclass(frozen=True)
class Stroke:
    """One motion of a part, let go without speed, to the stop towards which its spring works.

    Attributes:
        mass_g: Mass in g.
        spring_n_per_mm: Rate of the spring in N/mm.
        preload_n: Force of the spring at the stop, in N.
        drag_ns_per_m: Viscous drag in N·s/m.
        friction_n: Dry friction in N.
        travel_mm: Distance from the stop at which it is let go, in mm.
    """

    mass_g: float
    spring_n_per_mm: float
    preload_n: float
    drag_ns_per_m: float
    friction_n: float
    travel_mm: float

    @property
    def damping_ratio(self) -> float:
        """Drag as a multiple of that drag with which the part is critically damped."""
        return self.drag_ns_per_m / (2 * sqrt(self.spring_n_per_mm * self.mass_g))

    @property
    def regime(self) -> str:
        """``"under-damped"``, ``"critically damped"`` or ``"over-damped"``."""
        if isclose(self.damping_ratio, 1, rel_tol=1e-9):
            return "critically damped"
        return "under-damped" if self.damping_ratio < 1 else "over-damped"

    @property
    def sticks_within_mm(self) -> float:
        """How wide the band before the stop is, in mm, in which friction holds the spring.

        A part at rest in it stays there.  It is 0 where the preload overcomes the friction: then
        the part can stick nowhere.
        """
        return max(0.0, -self._centre_mm)

    @property
    def starts(self) -> bool:
        """Whether the spring overcomes the friction where the part is let go."""
        return self.preload_n + self.spring_n_per_mm * self.travel_mm > self.friction_n

    @property
    def ends_mm(self) -> float:
        """Where it comes to rest, in mm from the stop: 0 if it reaches the stop."""
        if not self.starts:
            return self.travel_mm
        left = self._amplitude_mm * self._left(self._turns_ms) if self._turns_ms < inf else 0.0
        return max(0.0, left - self._centre_mm)

    def position_mm(self, after_ms: float) -> float:
        """Its distance from the stop, in mm, some time in ms after it was let go."""
        if not self.starts:
            return self.travel_mm
        if after_ms >= self._turns_ms:
            return self.ends_mm
        here = self._amplitude_mm * self._left(max(0.0, after_ms)) - self._centre_mm
        return max(0.0, here)

    def time_ms(self, within_mm: float = 0.0) -> float:
        """How long it takes to come within a distance of its stop, in ms.

        Args:
            within_mm: The distance in mm; 0 is the stop itself.

        Returns:
            The time, 0 if it starts there, and infinity if it never comes so near.
        """
        if within_mm >= self.travel_mm:
            return 0.0
        wanted = (within_mm + self._centre_mm) / self._amplitude_mm if self.starts else -inf
        if self._turns_ms < inf:
            latest = self._turns_ms
            if wanted < self._left(latest):
                return inf
        else:
            if not wanted > 0:
                return inf
            latest = 1 / self._natural
            while self._left(latest) > wanted:
                latest *= 2
        return _when(self._left, wanted, latest)

    # -- the oscillator ----------------------------------------------------------------------------

    @property
    def _centre_mm(self) -> float:
        """How far behind the stop spring and friction would balance; less than 0 before it."""
        return (self.preload_n - self.friction_n) / self.spring_n_per_mm

    @property
    def _amplitude_mm(self) -> float:
        return self.travel_mm + self._centre_mm

    @property
    def _natural(self) -> float:
        """Natural frequency without drag, in radians a ms."""
        return sqrt(self.spring_n_per_mm / self.mass_g)

    @cached_property
    def _turns_ms(self) -> float:
        """When an oscillator would turn back, in ms; infinity unless it is under-damped."""
        if self.regime != "under-damped":
            return inf
        return pi / (self._natural * sqrt(1 - self.damping_ratio**2))

    @cached_property
    def _left(self) -> Callable[[float], float]:
        """The share of the amplitude that is left after a time in ms: 1 at first, then falling."""
        natural, ratio = self._natural, self.damping_ratio
        decay = natural * ratio
        if self.regime == "critically damped":
            return lambda t: exp(-natural * t) * (1 + natural * t)
        if self.regime == "under-damped":
            beat = natural * sqrt(1 - ratio**2)
            return lambda t: exp(-decay * t) * (cos(beat * t) + decay / beat * sin(beat * t))
        apart = natural * sqrt(ratio**2 - 1)
        slow = natural**2 / (decay + apart)  # decay − apart, without loss of figures

        def left(t: float) -> float:
            fallen = -expm1(-2 * apart * t)  # 1 − exp(−2·apart·t)
            return exp(-slow * t) * (1 - fallen / 2 + decay * fallen / (2 * apart))

        return left


def _when(falling: Callable[[float], float], wanted: float, latest: float) -> float:
    """When a falling function comes down to a value, found by halving; at *latest* it has."""
    early, late = 0.0, latest
    while early < (middle := (early + late) / 2) < late:
        if falling(middle) > wanted:
            early = middle
        else:
            late = middle
    return late


def reduced_mass_g(inertia_g_mm2: float, arm_mm: float) -> float:
    """The mass in g that, at the end of an arm, is as hard to set moving as a turning part.

    Args:
        inertia_g_mm2: Moment of inertia about the pivot, in g·mm².
        arm_mm: Distance in mm from the pivot to the point at which travel is measured.

    Raises:
        ValueError: If either is not greater than 0.
    """
    if not (inertia_g_mm2 > 0 and arm_mm > 0):
        raise ValueError("moment of inertia and arm must be greater than 0")
    return inertia_g_mm2 / arm_mm**2
