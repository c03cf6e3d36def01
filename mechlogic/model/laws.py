"""The joints of the linkage algebra: how far a part moves when the parts it touches move.

Every joint is one class, and all that is known of it stands there: its travel law, its fields with
the keys that a description has for them, what it says of itself in words.  Which code bits operate
a part, the table of all codes, the formulas and the faults are derived from the law (see
:mod:`mechlogic.model.mechanism`); the reader and the writer of descriptions, the page about their
format and the list of dimensions are derived from the fields (see :mod:`mechlogic.model.keys`).

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
:class:`Cam`                moves along a path with corners and dwells           a broken line
:class:`Latch`              stays where it was last put                       T, 0 or as before
:class:`Key`                a key lever, pressed by the operator              0 or full
:class:`Contact`            a contact that closes once its input has come     0 or 1
==========================  ================================================  ==============

Three things need no joint of their own, since every part may have them (see
:class:`~mechlogic.model.mechanism.Part`): lost motion (``gap_mm``), a standing error (an offset,
see :mod:`mechlogic.model.dimensions`) and whatever a faulty part does
(:mod:`mechlogic.model.faults`).
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from typing import Any, ClassVar

from mechlogic.helpers.sentences import listed
from mechlogic.model.keys import (
    Bound,
    FieldKey,
    Wrong,
    above_zero,
    code,
    end,
    keys_of,
    number,
    part,
    parts,
    sensed,
    tables,
)

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

    part: str = part("part", "The part.")
    operated: bool = end("when", "Where the part must be to show its notch.")


@dataclass(frozen=True)
class Stop:
    """One stop in the way of a driven member.

    Attributes:
        lever: The part that draws the stop out of the way, and the end at which it is out.
        at: Where the stop arrests the member, in the member's own unit (mm).
        lets_go: How deep the lever must have moved before the stop lets go, in mm.
            ``None`` means half of the lever's full travel.
    """

    lever: Literal = sensed(
        "lever",
        "The part that draws it out of the way.",
        when="Where that part must be for the stop to be out.",
    )
    at: Fraction = number(
        "at_mm",
        "Where it arrests the member, from the member's home.",
        of="where a stop arrests a member",
        bound=Bound(
            lambda at: at >= 0, "the stop lies behind the member's home", "Count from home, 0."
        ),
    )
    lets_go: Fraction | None = number(
        "lets_go_mm",
        "How far the part must have moved before the stop lets go; half of its travel if left out.",
        of="the depth at which a stop lets go",
        bound=above_zero("the stop lets go at once", "Give a depth above 0."),
        default=None,
    )


@dataclass(frozen=True)
class Touched:
    """A part that another one touches, as a sentence needs it.

    Attributes:
        label: Its label with its article.
        at: Its displacement with its unit.
        value: Its displacement, in mm or degrees.
        full: Its full travel, same unit.
    """

    label: str
    at: str
    value: Fraction
    full: Fraction


@dataclass(frozen=True)
class Scene:
    """What a sentence about one part needs to know.

    Attributes:
        part: Its label with its article, as in "the arm" or "slide 5".
        at: Its displacement with its unit.
        moved: Whether it stands away from zero.
        inputs: The parts it touches.
    """

    part: str
    at: str
    moved: bool
    inputs: tuple[Touched, ...]

    @property
    def stays(self) -> str:
        """That it does not move, or where it stands without being moved."""
        return f"stands at {self.at}" if self.moved else "stays at rest"


class Joint:
    """What every joint offers; a new one is a subclass, which is all that must be written.

    The first sentence of its docstring stands on the page about descriptions.

    Attributes:
        name: Its name in a description.
        also: Other words that somebody may use for it; the reader offers the name instead.
        driven: Whether the cycle drives the part out and home again for every character.
        given: Whether what is sent sets the part, and no other part does.
        remembers: Whether the part stays where the last character left it.  Its law then has one
            more input behind the others: the part itself, as it stood before.
        from_rest: Whether it measures how far its inputs have moved from 0.
        takes_up: Whether lost motion is taken up before a depth counts at which it acts.
        twice: Whether it may touch one part twice.
        more: Keys of a part that only this joint has: ``backlash_deg``, ``bounce_ms``.
        electric: Whether the part is open or closed, rather than so many mm away.
        shape: What the picture draws: a slide if a picture has nothing special for it.
    """

    name: ClassVar[str]
    also: ClassVar[tuple[str, ...]] = ()
    driven: ClassVar[bool] = False
    given: ClassVar[bool] = False
    remembers: ClassVar[bool] = False
    from_rest: ClassVar[bool] = False
    takes_up: ClassVar[bool] = False
    twice: ClassVar[bool] = False
    more: ClassVar[tuple[str, ...]] = ()
    electric: ClassVar[bool] = False
    shape: ClassVar[str] = "slide"

    @classmethod
    def keys(cls) -> Mapping[str, FieldKey]:
        """The key of each field in a description, by the field's name."""
        return keys_of(cls)

    @cached_property
    def inputs(self) -> tuple[str, ...]:
        """Names of the parts this joint touches, in the order of its fields."""
        found: list[str] = []
        for name, key in self.keys().items():
            found += key.touched(getattr(self, name))
        return tuple(found)

    @property
    def sensed(self) -> tuple[Literal, ...]:
        """The parts that must show it one of their ends, if it works by that."""
        return ()

    def unit(self, of_input: str) -> str:
        """The unit of the part's displacement, by that of its first input; "mm" without one."""
        return "mm" if of_input == "contact" else of_input

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        """Displacement of the part, in mm or degrees.

        Args:
            x: Displacements of the inputs, in the order of :attr:`inputs`.
            full: The inputs' full travels, same order and unit.
            m: Arithmetic of the numbers in *x*.
        """
        raise NotImplementedError(f"no law for {type(self).__name__}")

    def sentence(self, scene: Scene) -> str:
        """Where the part stands, and which of its inputs put it there."""
        raise NotImplementedError(f"no words for {type(self).__name__}")

    def wrong(self) -> Iterator[Wrong]:
        """What does not go together among the fields, each of which is right by itself."""
        return iter(())

    def outside(self, bits: int) -> Iterator[Wrong]:
        """What a code of so many bits, parity among them, cannot give it."""
        return iter(())

    def never(self, own: str, furthest: Fraction, full: Sequence[Fraction]) -> Iterator[Wrong]:
        """What can never happen, as far as the part and its inputs go.

        Args:
            own: Name of the part.
            furthest: The largest displacement of the part, in its unit.
            full: The inputs' full travels.
        """
        return iter(())


_A_RATIO = above_zero("it is not greater than 0", "Give a ratio greater than 0.")


def _ratio(says: str) -> Any:
    return number("ratio", says, of="the ratio of a lever", bound=_A_RATIO, default=Fraction(1))


def _stroke(what: str) -> Any:
    bound = above_zero(what, "Give a stroke greater than 0.")
    return number("stroke_mm", "Full travel.", of="the stroke of a code bar or key", bound=bound)


@dataclass(frozen=True)
class Bit(Joint):
    """A code bar, set by one bit of the code.

    Attributes:
        bit: Number of the code bit, from 1 (b1).
        stroke: Full travel in mm.
    """

    name = "bit"
    also = ("bar", "code_bar")
    given = True
    shape = "bar"
    bit: int = number(
        "bit",
        "Number of the bit, from 1. The parity bit comes after the others.",
        bound=Bound(
            lambda bit: bit.denominator == 1, "it is not a whole number", "Bits count from 1."
        ),
        whole=True,
    )
    stroke: Fraction = _stroke("a bar must move")

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        raise TypeError("a code bar's place comes from the code, not from other parts")

    def outside(self, bits: int) -> Iterator[Wrong]:
        if not 1 <= self.bit <= bits:
            yield ("bit",), f"the code has no bit {self.bit}", f"Its bits are 1 to {bits}."


@dataclass(frozen=True)
class Key(Joint):
    """A key lever, pressed when its character is sent.

    Attributes:
        code: The code of its character.
        stroke: Full travel in mm.
    """

    name = "key"
    also = ("key_lever", "button")
    given = True
    shape = "key"
    code: int = code("key", "Its character.")
    stroke: Fraction = _stroke("a key must move")

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        raise TypeError("a key's place comes from the operator, not from other parts")


@dataclass(frozen=True)
class Follow(Joint):
    """A link, slide, rod, rocker or bell crank that follows one part."""

    name = "follow"
    also = ("pivot", "lever", "link", "rod", "slide", "rocker", "bell_crank", "arm")
    input: str = part("input", "The part that moves it.")
    ratio: Fraction = _ratio("How far it moves for each mm of its input.")

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        return self.ratio * x[0]

    def sentence(self, scene: Scene) -> str:
        input_ = scene.inputs[0].label
        if scene.moved:
            return f"{scene.part} follows {input_} and moves {scene.at}."
        return f"{scene.part} stays at rest with {input_}."


@dataclass(frozen=True)
class SpringLink(Joint):
    """A follower behind a spring link: it goes with its input to a stop, and no further.

    There the spring of the link gives way, so that the input may go on alone.

    Attributes:
        input: The part that moves it.
        at: Where the stop arrests it, in the follower's own unit (mm).
        ratio: How far it moves for each mm of its input, before it is arrested.
    """

    name = "spring_link"
    also = ("spring", "yielding_link")
    takes_up = True
    input: str = part("input", "The part that moves it.")
    at: Fraction = number(
        "at_mm",
        "Where the stop arrests it.",
        of="where a stop arrests a member",
        bound=above_zero("the stop lets it go nowhere", "Give a travel greater than 0."),
    )
    ratio: Fraction = _ratio("How far it moves for each mm of its input, up to the stop.")

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        return m.smallest(self.at, self.ratio * x[0])

    def never(self, own: str, furthest: Fraction, full: Sequence[Fraction]) -> Iterator[Wrong]:
        if furthest < self.at:
            what = f"the stop is never reached: {own} goes no further than {float(furthest):g}"
            yield ("at_mm",), what, "Place it there or before; without a stop the joint is follow."

    def sentence(self, scene: Scene) -> str:
        input_ = scene.inputs[0]
        if self.ratio * input_.value > self.at:
            stop = f"its stop at {scene.at}; there the spring gives way"
            return f"{scene.part} follows {input_.label} to {stop}."
        if scene.moved:
            return f"{scene.part} follows {input_.label} and moves {scene.at}."
        return f"{scene.part} stays at rest with {input_.label}."


@dataclass(frozen=True)
class Withdraw(Joint):
    """A follower that rests in the way and is drawn back as its input moves."""

    name = "withdraw"
    also = ("drawn_back", "not")
    from_rest = True
    input: str = part("input", "The part that draws it back.")
    ratio: Fraction = _ratio("How far it moves for each mm of its input.")

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        return self.ratio * (full[0] - x[0])

    def sentence(self, scene: Scene) -> str:
        input_ = scene.inputs[0]
        if not input_.value:
            return f"{input_.label} is at rest, so {scene.part} goes its full {scene.at}."
        at = f" at {scene.at}" if scene.moved else ""
        return f"{scene.part} is held back{at} by {input_.label}."


@dataclass(frozen=True)
class EitherPushes(Joint):
    """A follower touched by several pushers through one-sided contacts: the furthest wins."""

    name = "either_pushes"
    also = ("bail", "pushed", "or")
    inputs: tuple[str, ...] = parts("inputs", "The parts that push it.")
    ratio: Fraction = _ratio("How far it moves for each mm of the furthest.")

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        return self.ratio * m.largest(*x)

    def sentence(self, scene: Scene) -> str:
        pushing = [one.label for one in scene.inputs if one.value > 0]
        if not pushing:
            idle = [one.label for one in scene.inputs]
            neither = f"neither {listed(idle, 'nor')} pushes"
            pushes = neither if len(idle) > 1 else f"{idle[0]} does not push"
            return f"{pushes}, so {scene.part} {scene.stays}."
        both = "both push" if len(pushing) == 2 else "push" if len(pushing) > 1 else "pushes"
        return f"{listed(pushing)} {both} {scene.part}: it moves {scene.at}."


@dataclass(frozen=True)
class AllClear(Joint):
    """A sprung follower held back by blockers: it moves as far as the least withdrawn one."""

    name = "all_clear"
    also = ("blocked", "and")
    inputs: tuple[str, ...] = parts("inputs", "The parts that hold it back.")
    ratio: Fraction = _ratio("How far it moves for each mm of the one that has moved least.")

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        return self.ratio * m.smallest(*x)

    def sentence(self, scene: Scene) -> str:
        blocking = [one.label for one in scene.inputs if one.value < one.full]
        if not blocking:
            clear = [one.label for one in scene.inputs]
            are = "is" if len(clear) == 1 else "are"
            return f"{listed(clear)} {are} clear: {scene.part} moves {scene.at}."
        at = f" at {scene.at}" if scene.moved else ""
        return f"{scene.part} is held back{at} by {listed(blocking)}."


@dataclass(frozen=True)
class PullBar(Joint):
    """A bar that drops only where every part under it shows it a notch."""

    name = "pull_bar"
    also = ("notches", "notched_bar", "drop_bar")
    from_rest = True
    shape = "pull bar"
    notches: tuple[Literal, ...] = tables(
        "notches", "One entry for each part under the bar.", entry=Literal
    )

    @property
    def sensed(self) -> tuple[Literal, ...]:
        return self.notches

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        depths = [
            place if notch.operated else whole - place
            for notch, place, whole in zip(self.notches, x, full, strict=True)
        ]
        return m.smallest(*depths)

    def sentence(self, scene: Scene) -> str:
        if scene.moved:
            return f"every bar under {scene.part} shows it a notch: it drops {scene.at}."
        depths = [
            one.value if notch.operated else one.full - one.value
            for notch, one in zip(self.notches, scene.inputs, strict=True)
        ]
        shallow = [
            one.label
            for one, depth in zip(scene.inputs, depths, strict=True)
            if depth == min(depths)
        ]
        holding = list(dict.fromkeys(shallow))
        show = "shows" if len(holding) == 1 else "show"
        return f"{listed(holding)} {show} no notch: {scene.part} is held up."


@dataclass(frozen=True)
class SteppedStops(Joint):
    """A member that the cycle drives to the first stop still in its way, or to its end, and home.

    Attributes:
        stops: The stops, in any order.
        end: Where the member comes to rest when no stop is in its way, in mm.
    """

    name = "stepped_stops"
    also = ("rack", "stops", "stop", "pawl")
    driven = True
    from_rest = True
    takes_up = True
    twice = True
    shape = "rack"
    stops: tuple[Stop, ...] = tables("stops", "One entry for each stop, in any order.", entry=Stop)
    end: Fraction = number(
        "end_mm",
        "Where the member comes to rest when no stop is in its way.",
        of="where a member comes to its end",
    )

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        limits = [
            m.where(in_the_way(stop, place, whole), stop.at, self.end)
            for stop, place, whole in zip(self.stops, x, full, strict=True)
        ]
        return m.smallest(self.end, *limits)

    def wrong(self) -> Iterator[Wrong]:
        for i, stop in enumerate(self.stops):
            if stop.at >= self.end:
                mend = f"Place it before {float(self.end):g}; the end itself needs no stop."
                yield ("stops", i, "at_mm"), "the stop lies behind the end", mend

    def never(self, own: str, furthest: Fraction, full: Sequence[Fraction]) -> Iterator[Wrong]:
        for i, (stop, whole) in enumerate(zip(self.stops, full, strict=True)):
            if stop.lets_go is not None and stop.lets_go > whole:
                what = f"the stop never lets go: {stop.lever.part} moves only {float(whole):g}"
                yield ("stops", i, "lets_go_mm"), what, "Make it less than the lever's travel."

    def sentence(self, scene: Scene) -> str:
        blocking = sorted(
            (stop.at, one.label)
            for stop, one in zip(self.stops, scene.inputs, strict=True)
            if in_the_way(stop, one.value, one.full) and stop.at < self.end
        )
        if not blocking:
            return f"nothing is in the way of {scene.part}: it runs to its end, {scene.at}."
        if not scene.moved:
            return f"{blocking[0][1]} holds {scene.part} at the start of its way."
        return f"{scene.part} runs to {scene.at}, where {blocking[0][1]} is in its way."


def in_the_way(stop: Stop, place: Number, whole: Fraction) -> Any:
    """Whether a stop is still in the way, its lever having moved so far of its whole travel."""
    lets_go = whole / 2 if stop.lets_go is None else stop.lets_go
    return place < lets_go if stop.lever.operated else whole - place < lets_go


@dataclass(frozen=True)
class HalfStep(Joint):
    """A shouldered lever that shifts a whole assembly by a fixed step.

    Attributes:
        base: The assembly.
        shoulder: The lever that carries the shoulder.
        step: The shift when the shoulder is fully operated, in the assembly's unit.
    """

    name = "half_step"
    shape = "carriage"
    also = ("shoulder", "step")
    base: str = part("base", "The assembly that is shifted.")
    shoulder: str = part("shoulder", "The lever with the shoulder.")
    step: Fraction = number(
        "step_mm",
        "By how much it shifts when the lever is operated.",
        of="the step of a shoulder",
        bound=Bound(bool, "the shoulder shifts nothing", "Give a step other than 0."),
    )

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        return x[0] + self.step * x[1] / full[1]

    def sentence(self, scene: Scene) -> str:
        base, shoulder = scene.inputs
        brings = f"{base.label} brings {scene.part} to"
        if shoulder.value:
            return f"{brings} {base.at}, and {shoulder.label} shifts it to {scene.at}."
        return f"{brings} {scene.at}; {shoulder.label} adds nothing."


@dataclass(frozen=True)
class OpposedRacks(Joint):
    """Two racks on opposite sides of one pinion: one turns it one way, the other the other way.

    Attributes:
        forward: The rack that turns the pinion in the positive sense.
        backward: The rack that turns it in the negative sense.
        ratio: Degrees of turn for each mm of rack, s = r·θ (rack and pinion).
    """

    name = "opposed_racks"
    also = ("pinion", "racks", "gear", "wheel")
    more = ("backlash_deg",)
    shape = "pinion"
    forward: str = part("forward", "The rack that turns the pinion in the positive sense.")
    backward: str = part("backward", "The other rack.")
    ratio: Fraction = number(
        "degrees_per_mm",
        "Degrees of turn for each mm of rack.",
        of="the turn of a pinion for each mm of its rack",
        bound=_A_RATIO,
    )

    def unit(self, of_input: str) -> str:
        return "degrees"

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        return self.ratio * (x[0] - x[1])

    def sentence(self, scene: Scene) -> str:
        pulling = [f"{one.label} by {one.at}" for one in scene.inputs if one.value]
        if not pulling:
            idle = listed((one.label for one in scene.inputs), "nor")
            return f"neither {idle} moves, so {scene.part} stays at {scene.at}."
        turns = "turns" if len(pulling) == 1 else "turn"
        return f"{listed(pulling)} {turns} {scene.part} to {scene.at}."


def _arm(which: str, more: str = "") -> Any:
    return number(
        f"{which}_arm_mm",
        f"From the output pin to the pin of the {which} input.{more}",
        of=f"the {which} arm of a summing lever",
        bound=_A_RATIO,
        default=Fraction(1),
    )


@dataclass(frozen=True)
class SummingLever(Joint):
    """A whiffletree: its output pin divides the line between two input pins.

    Attributes:
        first, second: The two inputs.
        first_arm, second_arm: Distance from the output pin to each input pin, in mm.
    """

    name = "summing_lever"
    also = ("whiffletree", "sum", "balance")
    first: str = part("first", "The first input.")
    second: str = part("second", "The second input.")
    first_arm: Fraction = _arm("first", " The longer an arm, the less its input counts.")
    second_arm: Fraction = _arm("second")

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        return (self.second_arm * x[0] + self.first_arm * x[1]) / (self.first_arm + self.second_arm)

    def sentence(self, scene: Scene) -> str:
        shares = listed(f"{one.at} of {one.label}" for one in scene.inputs)
        return f"{scene.part} divides the way between {shares}: it stands at {scene.at}."


@dataclass(frozen=True)
class Corner:
    """A corner of a cam's path.

    Attributes:
        input: How far the input has come there, in mm.
        output: How far the part has come there, in mm.
    """

    input: Fraction = number(
        "input_mm",
        "How far the input has come at this corner.",
        of="where a corner of a cam stands on its input",
        bound=above_zero(
            "the path begins at rest", "Leave out the corner at 0; it is always there."
        ),
    )
    output: Fraction = number(
        "output_mm",
        "How far the part has come at this corner.",
        of="the height of a corner of a cam",
        bound=Bound(lambda output: output >= 0, "the path goes behind its start", "Count from 0."),
    )


@dataclass(frozen=True)
class Cam(Joint):
    """A follower on a cam: it moves along a path with corners, and dwells where the path is level.

    Attributes:
        input: The part that carries the cam.
        corners: The corners of the path in order, from rest on.  Beyond the last one it is level.
    """

    name = "cam"
    from_rest = True
    input: str = part("input", "The part that carries the cam.")
    corners: tuple[Corner, ...] = tables(
        "corners",
        "One entry for each corner of the path, from rest on; then it is level.",
        entry=Corner,
    )

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        come: Number = 0  # a Fraction here would make NumPy arrays of Python objects
        place: Number = 0
        height: Number = 0
        for corner in self.corners:
            length, rise = corner.input - place, corner.output - height
            come = come + m.largest(Fraction(0), m.smallest(x[0] - place, length)) * rise / length
            place, height = corner.input, corner.output
        return come

    def wrong(self) -> Iterator[Wrong]:
        for i, (one, other) in enumerate(pairwise(self.corners), start=1):
            if other.input <= one.input:
                mend = "Write the corners in order, each further than the one before."
                yield ("corners", i, "input_mm"), "it is not beyond the corner before", mend
            if other.output < one.output:
                mend = "A path that comes back needs a joint of its own."
                yield ("corners", i, "output_mm"), "the path goes back here", mend

    def sentence(self, scene: Scene) -> str:
        input_ = scene.inputs[0]
        if not input_.value:
            return f"{input_.label} is at rest, and so is {scene.part}."
        if not scene.moved:
            return f"{input_.label} comes {input_.at}; its cam is level, and {scene.part} waits."
        return f"{input_.label} comes {input_.at}, and its cam brings {scene.part} to {scene.at}."


@dataclass(frozen=True)
class Latch(Joint):
    """A part that stays where it was last put. If both throw it, it is thrown over.

    Such is the letters-and-figures shift: one part throws it over, another throws it back.

    Attributes:
        sets: The part that throws it over, once that part has moved half its way.
        resets: The part that throws it back, likewise.
        throw: Full travel in mm.
    """

    name = "latch"
    also = ("toggle", "shift", "detent")
    remembers = True
    from_rest = True
    takes_up = True
    shape = "latch"
    sets: str = part("set", "The part that throws it over, once that has moved half its way.")
    resets: str = part("reset", "The part that throws it back, likewise.")
    throw: Fraction = number(
        "throw_mm",
        "Full travel.",
        of="the throw of a latch",
        bound=above_zero("a latch must move", "Give a throw greater than 0."),
    )

    def unit(self, of_input: str) -> str:
        return "mm"

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        thrown, back, before = x
        stays = m.where(2 * back >= full[1], Fraction(0), before)
        return m.where(2 * thrown >= full[0], self.throw, stays)

    def sentence(self, scene: Scene) -> str:
        thrown, back = scene.inputs
        if 2 * thrown.value >= thrown.full:
            return f"{thrown.label} throws {scene.part} over: it moves {scene.at}."
        if 2 * back.value >= back.full:
            return f"{back.label} throws {scene.part} back to rest."
        where = f"over, at {scene.at}" if scene.moved else "at rest"
        return f"neither {thrown.label} nor {back.label} touches {scene.part}: it stays {where}."


@dataclass(frozen=True)
class Contact(Joint):
    """An electric contact, open until its input has moved far enough.

    Its displacement is 0 while it is open, and 1 once it is closed.

    Attributes:
        input: The part that works it.
        closes: How far that part must have moved, in mm.  ``None`` means half of its full travel.
    """

    name = "contact"
    also = ("switch",)
    from_rest = True
    more = ("bounce_ms",)
    electric = True
    shape = "contact"
    input: str = part("input", "The part that works it.")
    closes: Fraction | None = number(
        "closes_mm",
        "How far that part must have moved; half of its travel if left out.",
        of="where a contact closes",
        bound=above_zero("it is closed at rest", "Give a travel above 0."),
        default=None,
    )

    def unit(self, of_input: str) -> str:
        return "contact"

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        closes = full[0] / 2 if self.closes is None else self.closes
        return m.where(x[0] >= closes, Fraction(1), Fraction(0))

    def sentence(self, scene: Scene) -> str:
        input_ = scene.inputs[0]
        if scene.moved:
            return f"{input_.label} comes {input_.at} and reaches {scene.part}: it is closed."
        return f"{input_.label} does not reach {scene.part}: it stays open."


JOINTS: Mapping[str, type[Joint]] = {kind.name: kind for kind in Joint.__subclasses__()}
"""The joints by the name they have in a description."""

OTHER_WORDS: Mapping[str, str] = {word: name for name, kind in JOINTS.items() for word in kind.also}
"""For other words that somebody may use for a joint, its name."""
