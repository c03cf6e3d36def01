"""The joints of the linkage algebra: how far a part moves when the parts it touches move.

Every joint states **one** thing, its travel law.  Which code bits operate a part, the table
of all codes, the formulas and the faults are all derived from it (see
:mod:`mechlogic.model.mechanism`).

A displacement is measured in millimetres (degrees for a turning part) from the part's rest.
A law is written once and read by several kinds of number: exact fractions, floats, or SymPy
symbols.  The few operations that differ between them come as an :class:`Arithmetic`.

==========================  ================================================  ==============
joint                       what happens                                      travel law
==========================  ================================================  ==============
:class:`Bit`                a code bit sets a code bar                        0 or full
:class:`Follow`             link, rod, slide, rocker, bell crank              r·x
:class:`SpringLink`         follows to a stop, where its spring gives way         min(r·x, stop)
:class:`EitherPushes`       touched by several pushers, one-sided contacts    max(x, y, …)
:class:`AllClear`           held back by the least-withdrawn blocker          min(x, y, …)
:class:`Withdraw`           rests in the way, is drawn back by its input      T − x
:class:`PullBar`            drops only where every bar shows it a notch       min of literals
:class:`SteppedStops`       driven to the first stop still in its way         min(H, hᵢ …)
:class:`HalfStep`           a shoulder shifts a whole assembly                base + h·x/T
:class:`OpposedRacks`       two racks turn one pinion from opposite sides     r·(x − y)
:class:`SummingLever`       output pin divides the line between two inputs    (b·x + a·y)/(a+b)
:class:`Latch`              stays where it was last put                       T, 0 or as before
:class:`Key`                a key lever, pressed by the operator              0 or full
:class:`Contact`            a contact that closes once its input has come     0 or 1
==========================  ================================================  ==============

Three things need no joint of their own, since every part may have them (see
:class:`~mechlogic.model.mechanism.Part`): lost motion (``gap_mm``), a standing error (an offset,
see :mod:`mechlogic.model.dimensions`) and whatever a faulty part does
(:mod:`mechlogic.model.faults`).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, ClassVar, Protocol

Number = Any
"""An exact :class:`~fractions.Fraction`, a float, a NumPy array or a SymPy expression."""


@dataclass(frozen=True)
class Arithmetic:
    """The operations in which one kind of number differs from another.

    Attributes:
        largest: The maximum of its arguments, one or more.
        smallest: The minimum of its arguments, one or more.
        where: ``where(condition, a, b)`` is *a* where the condition holds, else *b*.
    """

    largest: Callable[..., Number]
    smallest: Callable[..., Number]
    where: Callable[[Any, Number, Number], Number]


PLAIN = Arithmetic(
    largest=lambda *x: max(x),  # max(*x) would not take one number alone
    smallest=lambda *x: min(x),
    where=lambda condition, a, b: a if condition else b,
)
"""Arithmetic of fractions and floats."""


@dataclass(frozen=True)
class Literal:
    """A part sensed in one of its two ends.

    Attributes:
        part: Name of the part that is sensed.
        operated: True if the sensor is satisfied by the operated part, False if by the
            part at rest.
    """

    part: str
    operated: bool = True


@dataclass(frozen=True)
class Stop:
    """One stop in the way of a driven member.

    Attributes:
        lever: The part that draws the stop out of the way, and the end at which it is out.
        at: Where the stop arrests the member, in the member's own unit (mm).
        lets_go: How deep the lever must have moved before the stop lets go, in mm.
            ``None`` means half of the lever's full travel.
    """

    lever: Literal
    at: Fraction
    lets_go: Fraction | None = None


class Joint(Protocol):
    """What every joint offers.

    Attributes:
        inputs: Names of the parts this joint touches, in a fixed order.
        driven: Whether the cycle drives the part out and home again for every character.
        given: Whether what is sent sets the part, and no other part does.
        remembers: Whether the part stays where the last character left it.  Its law then has one
            more input behind the others: the part itself, as it stood before.
    """

    @property
    def inputs(self) -> tuple[str, ...]: ...

    @property
    def driven(self) -> bool: ...

    @property
    def given(self) -> bool: ...

    @property
    def remembers(self) -> bool: ...

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        """Displacement of the part, in mm or degrees.

        Args:
            x: Displacements of the inputs, in the order of :attr:`inputs`.
            full: The inputs' full travels, same order and unit.
            m: Arithmetic of the numbers in *x*.
        """
        ...


class Usual:
    """What most joints have in common: neither driven, nor given by the code, nor with memory."""

    driven: ClassVar[bool] = False
    given: ClassVar[bool] = False
    remembers: ClassVar[bool] = False


@dataclass(frozen=True)
class Bit(Usual):
    """A code bar, set by one bit of the code.

    Attributes:
        bit: Number of the code bit, from 1 (b1).
        stroke: Full travel in mm.
    """

    bit: int
    stroke: Fraction
    inputs: tuple[str, ...] = ()
    given: ClassVar[bool] = True

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        raise TypeError("a code bar's place comes from the code, not from other parts")


@dataclass(frozen=True)
class Key(Usual):
    """A key lever, pressed when its character is sent.

    Attributes:
        code: The code of its character.
        stroke: Full travel in mm.
    """

    code: int
    stroke: Fraction
    inputs: tuple[str, ...] = ()
    given: ClassVar[bool] = True

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        raise TypeError("a key's place comes from the operator, not from other parts")


@dataclass(frozen=True)
class Follow(Usual):
    """A link, rod, slide, rocker or bell crank that follows one part with a lever ratio."""

    input: str
    ratio: Fraction = Fraction(1)

    @property
    def inputs(self) -> tuple[str, ...]:
        return (self.input,)

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        return self.ratio * x[0]


@dataclass(frozen=True)
class SpringLink(Usual):
    """A follower behind a spring link: it goes with its input to a stop, and no further.

    There the spring of the link gives way, so that the input may go on alone.

    Attributes:
        input: The part that moves it.
        at: Where the stop arrests it, in the follower's own unit (mm).
        ratio: How far it moves for each mm of its input, before it is arrested.
    """

    input: str
    at: Fraction
    ratio: Fraction = Fraction(1)

    @property
    def inputs(self) -> tuple[str, ...]:
        return (self.input,)

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        return m.smallest(self.at, self.ratio * x[0])


@dataclass(frozen=True)
class EitherPushes(Usual):
    """A follower touched by several pushers through one-sided contacts: the furthest wins."""

    inputs: tuple[str, ...]
    ratio: Fraction = Fraction(1)

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        return self.ratio * m.largest(*x)


@dataclass(frozen=True)
class AllClear(Usual):
    """A sprung follower held back by blockers: it moves as far as the least withdrawn one."""

    inputs: tuple[str, ...]
    ratio: Fraction = Fraction(1)

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        return self.ratio * m.smallest(*x)


@dataclass(frozen=True)
class Withdraw(Usual):
    """A follower that rests fully in the way and is drawn back as its input moves."""

    input: str
    ratio: Fraction = Fraction(1)

    @property
    def inputs(self) -> tuple[str, ...]:
        return (self.input,)

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        return self.ratio * (full[0] - x[0])


@dataclass(frozen=True)
class PullBar(Usual):
    """A pull bar over notched code bars: it drops as far as the shallowest notch lets it."""

    notches: tuple[Literal, ...]

    @property
    def inputs(self) -> tuple[str, ...]:
        return tuple(notch.part for notch in self.notches)

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        depths = [
            place if notch.operated else whole - place
            for notch, place, whole in zip(self.notches, x, full, strict=True)
        ]
        return m.smallest(*depths)


@dataclass(frozen=True)
class SteppedStops(Usual):
    """A driven member that travels to the first stop still in its way, or to its end.

    Attributes:
        stops: The stops, in any order.
        end: Where the member comes to rest when no stop is in its way, in mm.
    """

    stops: tuple[Stop, ...]
    end: Fraction
    driven: ClassVar[bool] = True

    @property
    def inputs(self) -> tuple[str, ...]:
        return tuple(stop.lever.part for stop in self.stops)

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        limits = [
            m.where(in_the_way(stop, place, whole), stop.at, self.end)
            for stop, place, whole in zip(self.stops, x, full, strict=True)
        ]
        return m.smallest(self.end, *limits)


def in_the_way(stop: Stop, place: Number, whole: Fraction) -> Any:
    """Whether a stop is still in the way, its lever having moved so far of its whole travel."""
    lets_go = whole / 2 if stop.lets_go is None else stop.lets_go
    return place < lets_go if stop.lever.operated else whole - place < lets_go


@dataclass(frozen=True)
class HalfStep(Usual):
    """A shouldered lever that shifts a whole assembly by a fixed step.

    Attributes:
        base: The assembly.
        shoulder: The lever that carries the shoulder.
        step: The shift when the shoulder is fully operated, in the assembly's unit.
    """

    base: str
    shoulder: str
    step: Fraction

    @property
    def inputs(self) -> tuple[str, ...]:
        return (self.base, self.shoulder)

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        return x[0] + self.step * x[1] / full[1]


@dataclass(frozen=True)
class OpposedRacks(Usual):
    """Two racks on opposite sides of one pinion: one turns it one way, one the other.

    Attributes:
        forward: The rack that turns the pinion in the positive sense.
        backward: The rack that turns it in the negative sense.
        ratio: Degrees of turn for each mm of rack, s = r·θ (rack and pinion).
    """

    forward: str
    backward: str
    ratio: Fraction

    @property
    def inputs(self) -> tuple[str, ...]:
        return (self.forward, self.backward)

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        return self.ratio * (x[0] - x[1])


@dataclass(frozen=True)
class SummingLever(Usual):
    """A whiffletree: the output pin divides the line between two input pins.

    Attributes:
        first, second: The two inputs.
        first_arm, second_arm: Distance from the output pin to each input pin, in mm.
    """

    first: str
    second: str
    first_arm: Fraction = Fraction(1)
    second_arm: Fraction = Fraction(1)

    @property
    def inputs(self) -> tuple[str, ...]:
        return (self.first, self.second)

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        return (self.second_arm * x[0] + self.first_arm * x[1]) / (self.first_arm + self.second_arm)


@dataclass(frozen=True)
class Latch(Usual):
    """A part that stays where it was last put, such as the letters-and-figures shift.

    It is a toggle: one part throws it over, another throws it back.  If both do, it is thrown.

    Attributes:
        sets: The part that throws it over, once that part has moved half its way.
        resets: The part that throws it back, likewise.
        throw: Full travel in mm.
    """

    sets: str
    resets: str
    throw: Fraction
    remembers: ClassVar[bool] = True

    @property
    def inputs(self) -> tuple[str, ...]:
        return (self.sets, self.resets)

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        thrown, back, before = x
        stays = m.where(2 * back >= full[1], Fraction(0), before)
        return m.where(2 * thrown >= full[0], self.throw, stays)


@dataclass(frozen=True)
class Contact(Usual):
    """An electric contact, open (0) until its input has moved far enough to close it (1).

    Attributes:
        input: The part that works it.
        closes: How far that part must have moved, in mm.  ``None`` means half of its full travel.
    """

    input: str
    closes: Fraction | None = None

    @property
    def inputs(self) -> tuple[str, ...]:
        return (self.input,)

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        closes = full[0] / 2 if self.closes is None else self.closes
        return m.where(x[0] >= closes, Fraction(1), Fraction(0))
