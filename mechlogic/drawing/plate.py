"""A plate after the machine's own hints: contacts drawn where the parts meet.

Every part that is not a code bar says in ``draw = { … }`` where it stands; the code bars lie at
the foot of the plate, in the order of their bits, and the plate ends a little beyond them.
Lengths are in pixels at 100 %, x to the right and y downwards; travel is drawn at
:data:`~mechlogic.drawing.figure.SCALE` pixels for each mm, so what touches in the machine touches
in the picture, at every place.

==============  ==========================================  ======================================
``shape``       what it is                                  further hints
==============  ==========================================  ======================================
``bar``         notched code bar (the default)              ``y``: its top; ``left`` and
                                                            ``right``: its ends at rest (all
                                                            may be left out)
``slide``       upright strip; the parts that it moves      ``y``: its foot, if it rests on slides
                give it its lugs (the default)
``stop``        bell crank that draws a stop blade back     ``y``: its pivot
``lever``       upright lever with its foot among the bars  ``foot``: height of its foot
                that push it; draws a stop blade back
``shoulder``    strip with a ledge for each height          (under its carriage's foot)
``plate``       stop plate across the rack that it stops    ``y``: its foot
``rack``        driven upwards to its stops; carries the    ``y``: top of its nose,
                type, if there is a single column of it     ``top``, ``bottom``
``long rack``   pulled to the right to its stops; has a     ``y``: its middle line
                slot for each cam rack that it moves
``cam rack``    upright rack beside a pinion, its roller    ``x``: where the roller stands
                in the slot of a long rack
``toothed rack``  upright rack beside a pinion, driven      ``x``: its middle line; ``y``:
                upwards to its stops                        top of its nose
``carriage``    stands on a rack, carries the type wheel    ``y``: underside of its foot
``pinion``      wheel between two racks, from above         ``x``, ``y``: its centre
``pull bar``    upright strip with a tooth on each bar      ``y``: its top, if neither hammer
                                                            nor bail is there
``bail``        taken down by pull bars; carries a hammer
``hammer``      bell crank that strikes                     ``face``: x of its face at rest
==============  ==========================================  ======================================

``x`` is the middle of a slide, strip or rack, the pivot of a lever, the centre of a pinion, and
the nose of a long rack.  Any part may have ``name`` (a short name to write on the plate; an empty
one writes none), ``name_at = [x, y]``, ``name_anchor`` (``start``, ``middle`` or ``end``) and
``lead = [x, y]``, the end of a thin line from the name.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from math import atan, degrees, pi
from typing import TypeVar

from mechlogic.drawing.figure import SCALE, Figure, Group, Unplaced
from mechlogic.drawing.shapes import (
    ROLLER,
    TIP,
    Crank,
    Touch,
    Upright,
    clockwise,
    notch,
    screw,
    sine,
)
from mechlogic.helpers import svg
from mechlogic.model.laws import Cam, HalfStep, Joint, OpposedRacks, SteppedStops
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import Type

BARS_LEFT, BARS_RIGHT = 98.0, 966.0
BARS_TOP, BAR_PITCH, BAR_HEIGHT = 356.0, 23.5, 21.0
BEYOND, BELOW = 34.0, 27.0  # room beside the bars for their travel, and below them for the scale
FURTHEST = 2000.0  # no hint leads further from the corner of the plate
LONGEST_TRAVEL = 160.0
MOST_BARS = 8
SHANK = 5.0  # half the width of a slide
LUG = 9.0  # height of a lug
BLADE = 9.0
LETTER = 20.0  # height of a letter on a block of type
BLOCK = 32.0  # width of the block
RACK = 12.0  # height of a long rack's body
TOOTH = 6.0
PLATE = 7.0
HOOK = 18.0  # from the top of a bail to the hooks over its beam

LIFTED = ("rack", "toothed rack")
"""The shapes of what is driven upwards to its stops."""

SHAPES = ("bar", "pull bar", "rack", "carriage", "pinion")
"""The shapes of joints that a plate draws, unless a hint says otherwise; else it draws a slide."""

Kind = TypeVar("Kind", bound=Joint)


def figure(machine: Machine) -> Figure:
    """Draw the plate.

    Raises:
        Unplaced: If a hint is missing, or leads to something that cannot be drawn.
    """
    try:
        return _Plate(machine).figure()
    except (ZeroDivisionError, KeyError) as error:
        raise Unplaced(f"the hints do not fit together: {error}") from error


@dataclass
class _Plate:
    """One plate of one machine."""

    machine: Machine

    @property
    def type(self) -> Type:
        """The type that the machine prints with."""
        if not isinstance(self.machine.output, Type):
            raise Unplaced("it prints with no wheel or block of type")
        return self.machine.output

    def figure(self) -> Figure:
        groups: list[Group] = []
        for shape, draw in self._draughtsmen.items():
            for name in self.named(shape):
                groups.extend(draw(name))
        if {g.part for g in groups} != set(self.machine.mechanism.parts):
            raise Unplaced("a part has a shape that is not known")
        behind, before = tuple(self._behind()), tuple(self._before())
        return Figure(self.right + BEYOND, self.bottom + BELOW, groups, behind, before)

    @cached_property
    def _draughtsmen(self) -> Mapping[str, Callable[[str], Iterator[Group]]]:
        """Who draws which shape, the rearmost first."""
        return {
            "bar": self.bar,
            "plate": self.plate,
            "toothed rack": self.toothed_rack,
            "long rack": self.long_rack,
            "cam rack": self.on_cam,
            "slide": self.slide,
            "pull bar": self.pull_bar,
            "bail": self.bail,
            "pinion": self.pinion,
            "shoulder": self.shoulder,
            "lever": self.lever,
            "rack": self.rack,
            "stop": self.stop,
            "carriage": self.carriage,
            "hammer": self.hammer,
        }

    # -- asking the description -------------------------------------------------------------------

    def joint(self, name: str) -> Joint:
        return self.machine.mechanism[name].joint

    def shape(self, name: str) -> str:
        hint = self.machine.picture.get(name, {}).get("shape")
        usual = self.joint(name).shape
        return str(hint) if hint else usual if usual in SHAPES else "slide"

    def stopped(self, name: str) -> SteppedStops:
        return _moved_by(SteppedStops, self.machine, name, "is not stopped by anything")

    def lifted(self, name: str) -> HalfStep:
        return _moved_by(HalfStep, self.machine, name, "stands on no rack")

    def turned(self, name: str) -> OpposedRacks:
        return _moved_by(OpposedRacks, self.machine, name, "has no racks")

    def end_of(self, name: str) -> float:
        """How far a rack goes if nothing stops it, in pixels."""
        return SCALE * float(self.stopped(name).end)

    def named(self, shape: str) -> list[str]:
        return [name for name in self.machine.mechanism.parts if self.shape(name) == shape]

    def hint(self, name: str, key: str) -> float:
        value = self.machine.picture.get(name, {}).get(key)
        if (found := _coordinate(value)) is None:
            raise Unplaced(f"{name} has no hint {key}")
        return found

    def hint_or(self, name: str, key: str, usual: float) -> float:
        return self.hint(name, key) if key in self.machine.picture.get(name, {}) else usual

    def point(self, name: str, key: str) -> svg.Point | None:
        value = self.machine.picture.get(name, {}).get(key)
        if not isinstance(value, list | tuple) or len(value) != 2:
            return None
        x, y = _coordinate(value[0]), _coordinate(value[1])
        return None if x is None or y is None else (x, y)

    def places(self, name: str) -> list[float]:
        """The part's places in pixels (degrees for a pinion)."""
        factor = 1.0 if self.shape(name) == "pinion" else SCALE
        return [factor * float(place) for place in self.machine.mechanism.laws[name].places]

    def full(self, name: str) -> float:
        """Full travel in pixels."""
        travel = SCALE * float(self.machine.mechanism.laws[name].full)
        if travel > LONGEST_TRAVEL:
            raise Unplaced(f"{name} travels too far for a plate")
        return travel

    def followers(self, name: str, *shapes: str) -> list[str]:
        return [f for f in self.machine.mechanism.followers[name] if self.shape(f) in shapes]

    def stops_of(self, name: str) -> list[tuple[str, float]]:
        """The levers that stop a rack, and where, in pixels."""
        return [(stop.lever.part, SCALE * float(stop.at)) for stop in self.stopped(name).stops]

    def stopped_by(self, name: str, *shapes: str) -> tuple[str, float]:
        """The rack of one of those shapes that a lever stops, and where."""
        for rack in self.followers(name, *shapes):
            for lever, at in self.stops_of(rack):
                if lever == name:
                    return rack, at
        raise Unplaced(f"{name} stops no {' or '.join(shapes)}")

    # -- code bars and what senses them -----------------------------------------------------------

    @cached_property
    def bars_top(self) -> Mapping[str, float]:
        bars = self.machine.mechanism.bars
        order = sorted(bars, key=lambda name: bars[name].bit)
        if len(bars) > MOST_BARS:
            raise Unplaced("there are more code bars than a plate has room for")
        return {
            name: self.hint_or(name, "y", BARS_TOP + k * BAR_PITCH) for k, name in enumerate(order)
        }

    def ends(self, bar: str) -> tuple[float, float]:
        """Left and right end of a bar at rest."""
        left = self.hint_or(bar, "left", BARS_LEFT)
        right = self.hint_or(bar, "right", BARS_RIGHT)
        if right - left < LONGEST_TRAVEL:
            raise Unplaced(f"{bar} is too short")
        return left, right

    @cached_property
    def left(self) -> float:
        """Left end of the bars."""
        return min(self.ends(bar)[0] for bar in self.bars_top)

    @cached_property
    def right(self) -> float:
        """Right end of the bars."""
        return max(self.ends(bar)[1] for bar in self.bars_top)

    @cached_property
    def bottom(self) -> float:
        """Underside of the bars."""
        return max(self.bars_top.values()) + BAR_HEIGHT

    def bar(self, name: str) -> Iterator[Group]:
        top, stroke = self.bars_top[name], self.full(name)
        left, right = self.ends(name)
        notches, lugs = [], []
        for follower in self.machine.mechanism.followers[name]:
            if self.shape(follower) == "lever":
                lugs.append(self.bar_lug(name, follower))
                continue
            x, depth = self.foot_x(follower, name), self.full(follower)
            if self.shape(follower) not in ("slide", "pull bar") or depth > BAR_HEIGHT - 4:
                raise Unplaced(f"{follower} cannot stand in a notch of {name}")
            notches.append((x, self.shows(follower, name), depth))
        edge = [(left, top)]
        for x, operated, depth in sorted(notches):
            edge.extend(notch(x, top, depth, stroke if operated else 0.0))
        edge += [(right, top), (right, top + BAR_HEIGHT), (left, top + BAR_HEIGHT)]
        middle = top + BAR_HEIGHT / 2
        slots = [
            svg.window(x - 4, middle - 4, x + stroke + 4, middle + 4) for x in self.screws(name)
        ]
        body = svg.solid(svg.outline(edge), *lugs, *slots)
        yield Group(name, "bar", body, [svg.shift(x) for x in self.places(name)])

    def screws(self, bar: str) -> list[float]:
        """Where the fixed screws stand that guide a bar: to the right in its slots, at rest."""
        stroke, (left, right) = self.full(bar), self.ends(bar)
        return [left + share * (right - left) - stroke for share in (0.25, 0.73)]

    def bar_lug(self, bar: str, name: str) -> str:
        """What a bar pushes a lever's foot with; several bars share the roller's height."""
        lever, top = self.upright(name), self.bars_top[bar]
        above = top + BAR_HEIGHT / 2 < lever.foot
        start = top + BAR_HEIGHT - 1 if above else top + 1
        shared = len(self.joint(name).inputs) > 1
        reach = lever.foot + (1 if above else -1) * (-0.8 if shared else 5.0)
        if (reach > start) != above or lever.side * self.full(bar) < 0:
            raise Unplaced(f"{bar} cannot push {name}")
        left, right = sorted((lever.pushed_at, lever.pushed_at - lever.side * LUG))
        return svg.box(left, min(start, reach), right, max(start, reach))

    def shows(self, follower: str, bar: str) -> bool:
        """Whether a bar shows the follower its notch when it is operated, not at rest."""
        notches = self.joint(follower).sensed
        return next((notch.operated for notch in notches if notch.part == bar), False)

    def foot_x(self, follower: str, bar: str) -> float:
        """Where a strip that senses several bars has its foot for one of them."""
        bars = [i for i in self.joint(follower).inputs if i in self.bars_top]
        bars.sort(key=lambda name: -self.bars_top[name])
        return self.hint(follower, "x") - 24 * bars.index(bar)

    def feet(self, name: str, sunk: float) -> list[str]:
        """Path data of the pointed feet of a strip, *sunk* below the tops of the bars."""
        x, pieces = self.hint(name, "x"), []
        for bar in self.joint(name).inputs:
            if bar not in self.bars_top:
                continue
            u, tip = self.foot_x(name, bar), self.bars_top[bar] + sunk
            pieces.append(
                svg.outline(
                    [(u - SHANK, tip - 7), (u + SHANK, tip - 7), (u + TIP, tip), (u - TIP, tip)]
                )
            )
            if u != x:
                pieces.append(svg.box(u - SHANK, tip - 26, u + SHANK, tip - 6.5))
                pieces.append(svg.box(u - SHANK, tip - 26, x, tip - 26 + LUG))
        return pieces

    def slide(self, name: str) -> Iterator[Group]:
        x, full = self.hint(name, "x"), self.full(name)
        inputs = self.joint(name).inputs
        bars = [i for i in inputs if i in self.bars_top]
        pieces, tops = [], []
        for follower in self.machine.mechanism.followers[name]:
            touch = self.touch(follower, name)
            top = touch.y + max(0.0, full - touch.move)
            tops.append(top)
            pieces.append(self.lug(x, touch, top))
        if bars:
            pieces += self.feet(name, full)
            bottom = max(self.bars_top[bar] for bar in bars) + full - 6.5
        else:
            bottom = self.hint(name, "y")
            reach = [self.hint(i, "x") for i in inputs] + [x]
            pieces.append(svg.box(min(reach) - 9, bottom - LUG, max(reach) + 9, bottom))
        top = min(tops, default=bottom - 60)
        pieces.append(svg.box(x - SHANK, top, x + SHANK, bottom))
        yield Group(
            name, "slide", svg.solid(*pieces), [svg.shift(0, -y) for y in self.places(name)]
        )

    def lug(self, x: float, touch: Touch, top: float) -> str:
        """The part of a slide that pushes a follower."""
        if abs(touch.x - x) < 1:
            return svg.box(x - SHANK - 4, top, x + SHANK + 4, top + LUG)
        side = 1 if touch.x > x else -1
        left, right = sorted((x - side * SHANK, touch.x + side * touch.wide))
        return svg.box(left, top, right, top + LUG)

    def touch(self, name: str, by: str) -> Touch:
        """Where one part is pushed by another."""
        shape, full = self.shape(name), self.full(name)
        if shape == "slide":
            return Touch(self.hint(by, "x"), self.hint(name, "y"), full)
        if shape == "plate":
            return Touch(self.hint(by, "x"), self.hint(name, "y"), full)
        if shape == "stop":
            return self.crank(name).touch(len(self.joint(name).inputs))
        if shape == "shoulder":
            return Touch(self.hint(name, "x"), self._ledges(name)[1], full)
        raise Unplaced(f"nothing can push {name}, a {shape}")

    def pull_bar(self, name: str) -> Iterator[Group]:
        x, top = self.hint(name, "x"), self.head_of(name)
        bars = [self.bars_top[i] for i in self.joint(name).inputs if i in self.bars_top]
        if not bars:
            raise Unplaced(f"{name} lies over no bar")
        pieces = [
            svg.box(x - SHANK, top, x + SHANK, max(bars) - 6.5),
            svg.box(x - 12, top, x + 12, top + LUG),
            *self.feet(name, 0.0),
        ]
        yield Group(
            name, "pull-bar", svg.solid(*pieces), [svg.shift(0, y) for y in self.places(name)]
        )

    def bail(self, name: str) -> Iterator[Group]:
        x, top = self.hint(name, "x"), self.head_of(name)
        ends = [self.hint(bar, "x") for bar in self.joint(name).inputs]
        middle = (min(ends) + max(ends)) / 2
        pieces = [
            svg.box(middle - 4, top, x + 12, top + LUG),
            svg.box(middle - 4, top, middle + 4, top + HOOK + LUG + 1),
            svg.box(min(ends) - 12, top + HOOK + LUG, max(ends) + 12, top + HOOK + 2 * LUG),
        ]
        yield Group(name, "bail", svg.solid(*pieces), [svg.shift(0, y) for y in self.places(name)])

    def head_of(self, name: str) -> float:
        """Top of a part that is not dropped: it carries a hammer's tail, or hooks over a bail."""
        for bail in self.followers(name, "bail"):
            return self.head_of(bail) + HOOK
        for hammer in self.followers(name, "hammer"):
            (_, y), _ = self.hammer_pivot(hammer)
            return y + ROLLER - self.full(name) / 2
        return self.hint(name, "y")

    # -- height -----------------------------------------------------------------------------------

    def crank(self, name: str) -> Crank:
        rack, at = self.stopped_by(name, *LIFTED)
        level = self.hint(rack, "y") - at
        x, y = self.hint(name, "x"), self.hint(name, "y")
        side = 1.0 if self.hint(rack, "x") > x else -1.0
        push = max(self.full(i) for i in self.joint(name).inputs)
        return Crank(x, y, level - BLADE / 2, self.full(name), push, side)

    def upright(self, name: str) -> Upright:
        rack, at = self.stopped_by(name, "rack")
        x = self.hint(name, "x")
        inputs = self.joint(name).inputs
        if self.hint(rack, "x") < x or not set(inputs) <= set(self.bars_top):
            raise Unplaced(f"{name} is not pushed away from {rack} by code bars")
        level, foot = self.hint(rack, "y") - at - BLADE / 2, self.hint(name, "foot")
        push = max(self.full(i) for i in inputs)
        return Upright(x, level, foot, self.full(name), push, 1.0)

    def stop(self, name: str) -> Iterator[Group]:
        return self.blade_and(name, self.crank(name))

    def lever(self, name: str) -> Iterator[Group]:
        return self.blade_and(name, self.upright(name))

    def blade_and(self, name: str, crank: Crank | Upright) -> Iterator[Group]:
        """A lever that turns, and the stop blade that it draws back."""
        rack, _ = self.stopped_by(name, *LIFTED)
        share = [place / self.full(name) for place in self.places(name)]
        yield Group(
            name,
            "stop",
            crank.lever(),
            [svg.turn(-crank.side * crank.swing * s) for s in share],
            (crank.x, crank.y),
            spot=2,
        )
        nose = self.hint(rack, "x") - crank.side * (8 + 16)
        tip = nose + crank.side * 12
        start = crank.pin[0] - crank.side * 7
        left, right = sorted((start, tip))
        y = crank.level
        pin = svg.drawn("pin", svg.disc(*crank.pin, 2.6))
        body = svg.solid(svg.box(left, y - BLADE / 2, right, y + BLADE / 2)) + pin
        yield Group(
            name, "stop", body, [svg.shift(-crank.side * place) for place in self.places(name)]
        )

    def rack(self, name: str) -> Iterator[Group]:
        x, nose = self.hint(name, "x"), self.hint(name, "y")
        top, bottom = self.hint(name, "top"), self.hint(name, "bottom")
        edge: list[svg.Point] = [(x - 8, top), (x + 5, top)]
        y = top + 6
        if self.is_block(name):  # the block is screwed to the upper part
            y = self.block_at(name)[1] + self.full(name) + LETTER
        while y + 8 <= bottom - 4:
            edge += [(x + 5, y + 1), (x + 10, y + 3), (x + 10, y + 5), (x + 5, y + 7)]
            y += 8
        edge += [(x + 5, bottom), (x - 8, bottom)]
        edge += [(x - 8, nose + 30), (x - 24, nose + 12), (x - 24, nose), (x - 8, nose)]
        body = svg.solid(svg.outline(edge))
        if self.is_block(name):
            body += self.block(name)
        yield Group(name, "rack", body, [svg.shift(0, -y) for y in self.places(name)])

    # -- type in a single column ------------------------------------------------------------------

    def is_block(self, rack: str) -> bool:
        """Whether a rack carries a block of type that does not turn."""
        wheel = self.type
        return wheel.lift == rack and not wheel.turn

    def block_at(self, rack: str) -> tuple[float, float]:
        """Left edge of the block, and the height of its first row, which prints at rest."""
        return self.hint(rack, "x") + 22, self.hint(rack, "top") + LETTER / 2 + 6

    def block(self, rack: str) -> str:
        """The letters one below the other on a block, and on its right the type that prints."""
        left, level = self.block_at(rack)
        rows = self.type.rows
        heights = [level + SCALE * float(row - rows[0]) for row in rows]
        if any(b - a < LETTER for a, b in pairwise(heights)):
            raise Unplaced("the rows of type lie too close for a block")
        top, bottom, right = level - LETTER / 2 - 2, heights[-1] + LETTER / 2 + 2, left + BLOCK
        x = self.hint(rack, "x")
        marks = [
            svg.solid(svg.box(x + 4, top + 4, left + 6, top + 14)),
            svg.solid(svg.box(x + 4, bottom - 14, left + 6, bottom - 4)),
            svg.solid(svg.box(left, top, right, bottom), kind="type-wheel"),
        ]
        for y, line in zip(heights, self.type.lines, strict=True):
            marks.append(svg.drawn("type", svg.box(right, y - 5, right + 5, y + 5)))
            marks.append(svg.text((left + right) / 2, y + 6, line, "letter", "middle"))
        return "".join(marks)

    def behind_block(self, rack: str) -> Iterator[str]:
        """The paper, the height at which it is printed on, and how the rack is driven."""
        left, level = self.block_at(rack)
        x = left + BLOCK + 7
        yield svg.drawn("sheet", svg.box(x, level - 76, x + 2.4, level + 88))
        yield svg.text(x + 10, level - 64, "paper", "name quiet")
        y, tip = level, x + 6
        yield svg.drawn("pointer", svg.outline([(tip, y), (tip + 10, y - 5), (tip + 10, y + 5)]))
        yield svg.text(tip + 15, level + 4.5, "prints here", "name quiet")
        x, bottom = self.hint(rack, "x") + 27, self.hint(rack, "bottom")
        head = bottom - 46
        yield svg.drawn(
            "arrow",
            svg.outline([(x, bottom - 20), (x, head)], closed=False),
            svg.outline([(x - 4, head + 6), (x, head), (x + 4, head + 6)], closed=False),
        )
        yield svg.text(x + 10, bottom - 28, "lift", "name quiet")

    def _ledges(self, name: str) -> tuple[list[float], float]:
        """Heights of a shoulder's ledges, and its lower end."""
        for carriage in self.followers(name, "carriage"):
            base, foot = self.lifted(carriage).base, self.hint(carriage, "y")
            return [foot - place for place in self.places(base)], foot + 24
        raise Unplaced(f"{name} lifts no carriage")

    def shoulder(self, name: str) -> Iterator[Group]:
        x = self.hint(name, "x")
        ledges, bottom = self._ledges(name)
        side = -1 if self.hint(self.followers(name, "carriage")[0], "x") < x else 1
        edge: list[svg.Point] = [(x - side * 6, ledges[-1] - 8), (x + side * 2, ledges[-1] - 8)]
        for y in reversed(ledges):
            edge += [
                (x + side * 2, y),
                (x + side * 11, y),
                (x + side * 11, y + 3),
                (x + side * 2, y + 12),
            ]
        edge += [(x + side * 2, bottom), (x - side * 6, bottom)]
        body = svg.solid(svg.outline(edge))
        yield Group(name, "shoulder", body, [svg.shift(0, -y) for y in self.places(name)])

    def carriage(self, name: str) -> Iterator[Group]:
        joint, x, foot = self.lifted(name), self.hint(name, "x"), self.hint(name, "y")
        rack, top = self.hint(joint.base, "x"), self.hint(joint.base, "top")
        side = 1 if self.hint(joint.shoulder, "x") > x else -1
        drum_top, drum_bottom, half = self.drum(name)
        left, right = sorted((rack - 9 if rack < x else rack + 9, x))
        pieces = [
            svg.box(left, top - 11, right, top),
            svg.box(x - 4, top - 16, x + 4, foot),
            svg.box(min(x, x + side * 15), foot - 8, max(x, x + side * 15), foot),
        ]
        drum = [svg.solid(svg.box(x - half, drum_top, x + half, drum_bottom), kind="type-wheel")]
        rows = self.type.rows if self.type.lift == name else ()
        for row in rows:
            y = drum_top + 5 + SCALE * float(row - rows[0])
            for k in range(-3, 4):
                u = x + half * 0.98 * sine(k / 4)
                w = 3.0 * (1 - abs(k) / 5)
                drum.append(svg.drawn("type", svg.box(u - w, y - 2.6, u + w, y + 2.6)))
        body = svg.solid(*pieces) + "".join(drum)
        yield Group(name, "carriage", body, [svg.shift(0, -y) for y in self.places(name)])

    def drum(self, name: str) -> tuple[float, float, float]:
        """Top, bottom and half width of the type wheel on a carriage, in elevation."""
        joint, rows = self.joint(name), self.type.rows
        top = self.hint(joint.inputs[0], "top") + 4
        return top, top + SCALE * float(rows[-1] - rows[0]) + 10, 28.0

    # -- angle ------------------------------------------------------------------------------------

    def pitch_radius(self, pinion: str) -> float:
        """Pitch radius of a pinion, in pixels."""
        radius = SCALE * degrees(1) / float(self.turned(pinion).ratio)
        if radius > LONGEST_TRAVEL:
            raise Unplaced(f"{pinion} is too large for a plate")
        return radius

    def pinion(self, name: str) -> Iterator[Group]:
        x, y, radius = self.hint(name, "x"), self.hint(name, "y"), self.pitch_radius(name)
        teeth = max(8, round(2 * pi * radius / 8))
        body = svg.solid(svg.gear(x, y, radius, teeth, TOOTH), svg.hole(x, y, 5.5), kind="wheel")
        body += svg.drawn("mark", svg.outline([(x, y - 7.5), (x, y - radius + 4.5)], closed=False))
        poses = [svg.turn(angle) for angle in self.places(name)]
        yield Group(name, "pinion", body, poses, (x, y))

    def toothed(self, name: str) -> tuple[float, float, float, str]:
        """Middle line, top and bottom of an upright rack beside a pinion; and its marks.

        A rack that turns the pinion forward lies on its left, so it moves upwards as all do.
        """
        for pinion in self.followers(name, "pinion"):
            side = 1 if name == self.turned(pinion).forward else -1
            inner = self.hint(pinion, "x") - side * (self.pitch_radius(pinion) + TOOTH / 2 + 0.5)
            y, full = self.hint(pinion, "y"), self.full(name)
            x, top, bottom, tip = (
                inner - side * RACK / 2,
                y - 13,
                y + full + 13,
                inner + side * TOOTH,
            )
            teeth, v = [], y
            while v < bottom - 6:
                edge = [(inner, v - 3.4), (tip, v - 1.2), (tip, v + 1.2), (inner, v + 3.4)]
                teeth.append(svg.outline(clockwise(edge)))
                v += 8
            body = svg.box(x - RACK / 2, top, x + RACK / 2, bottom)
            return x, top, bottom, " ".join([body, *teeth])
        raise Unplaced(f"{name} turns no pinion")

    def body_of(self, rack: str) -> tuple[float, float]:
        """Top and bottom of a long rack's body."""
        y = self.hint(rack, "y")
        return y - RACK / 2, y + RACK / 2

    def slot(self, rack: str, follower: str) -> list[svg.Point]:
        """The slot in a long rack in which a cam rack's roller runs, at rest under the roller."""
        joint = self.joint(follower)
        if not isinstance(joint, Cam):
            raise Unplaced(f"{follower} is moved by no cam")
        x, y = self.toothed(follower)[0], self.hint(rack, "y")
        path = [(0.0, 0.0), *((float(one.input), float(one.output)) for one in joint.corners)]
        path.append((max(path[-1][0], float(self.stopped(rack).end)), path[-1][1]))
        return [(x - SCALE * one, y - SCALE * other) for one, other in path]

    def long_rack(self, name: str) -> Iterator[Group]:
        nose, (top, bottom) = self.hint(name, "x"), self.body_of(name)
        pieces = [
            svg.outline([(nose - 13, top), (nose - 8, top - 10), (nose, top - 10), (nose, top)])
        ]
        slots, right = "", nose + 44
        for follower in self.followers(name, "cam rack"):
            path = self.slot(name, follower)
            xs, ys = [x for x, _ in path], [y for _, y in path]
            right = max(xs) + 13
            pieces.append(svg.box(min(xs) - 13, min(ys) - 13, right, max(ys) + 13))
            line = svg.outline(path, closed=False)
            slots += svg.drawn("slot-edge", line) + svg.drawn("slot", line)
        pieces.append(svg.box(nose - 62, top, right, bottom))
        body = svg.solid(*pieces) + slots
        yield Group(name, "long-rack", body, [svg.shift(d) for d in self.places(name)])

    def on_cam(self, name: str) -> Iterator[Group]:
        x, top, _, body = self.toothed(name)
        for rack in self.joint(name).inputs:
            y = self.hint(rack, "y")
            stem = svg.box(x - 3.5, y, x + 3.5, top + 1)
            marks = svg.solid(body, stem)
            marks += svg.solid(svg.disc(x, y, 4.6), kind="pin-end")
            yield Group(name, "cam-rack", marks, [svg.shift(0, -d) for d in self.places(name)])

    def nose_side(self, name: str) -> int:
        """The side on which a toothed rack has its nose: where its first stop lever stands."""
        lever = self.stopped(name).stops[0].lever.part
        return 1 if self.hint(lever, "x") > self.hint(name, "x") else -1

    def toothed_rack(self, name: str) -> Iterator[Group]:
        x, top, bottom, body = self.toothed(name)
        nose = self.hint(name, "y")
        side = self.nose_side(name)
        edge = [(x, nose), (x + side * 24, nose), (x + side * 24, nose + 8), (x, nose + 26)]
        if not top < nose < bottom - 26:
            raise Unplaced(f"{name} has its nose beside its body")
        marks = svg.solid(body, svg.outline(clockwise(edge)))
        yield Group(name, "toothed-rack", marks, [svg.shift(0, -d) for d in self.places(name)])

    def plate(self, name: str) -> Iterator[Group]:
        rack, at = self.stopped_by(name, "long rack")
        foot, full = self.hint(name, "y"), self.full(name)
        left, (top, bottom) = self.hint(rack, "x") + at, self.body_of(rack)
        pusher = self.hint(self.joint(name).inputs[0], "x")
        sides = sorted((left, left + PLATE, pusher - 8, pusher + 8))
        pieces = [
            svg.box(left, top - 24, left + PLATE, foot),
            svg.box(sides[0], foot - 8, sides[-1], foot),
            svg.window(left, top - 1, left + PLATE, bottom + full + 1),
        ]
        yield Group(
            name, "plate", svg.solid(*pieces), [svg.shift(0, -y) for y in self.places(name)]
        )

    # -- print ------------------------------------------------------------------------------------

    def hammer(self, name: str) -> Iterator[Group]:
        (x, y), reach = self.hammer_pivot(name)
        full, half = self.full(name), self.full(name) / 2
        tail, head = (x + reach, y + half), (x + half, y - reach)
        face = self.hint(name, "face")
        pieces = [
            svg.strut((x, y), head, 12, 8),
            svg.strut((x, y), tail, 12, 7),
            svg.disc(x, y, 9),
            svg.box(face + 5, head[1] - 7, head[0] + 8, head[1] + 7),
            svg.box(face, head[1] - 4, face + 6, head[1] + 4),
        ]
        body = svg.solid(*pieces)
        body += svg.solid(svg.disc(*tail, ROLLER), kind="roller") + screw(x, y)
        swing = 2 * degrees(atan(half / reach))
        poses = [svg.turn(-swing * place / full) for place in self.places(name)]
        yield Group(name, "hammer", body, poses, (x, y))

    def hammer_pivot(self, name: str) -> tuple[svg.Point, float]:
        """Pivot of a hammer, and the length of its arms, which are alike."""
        x = self.hint(name, "x")
        reach = self.hint(self.joint(name).inputs[0], "x") - x
        return (x, self.print_level() + reach), reach

    def print_level(self) -> float:
        """The height at which the hammer meets the type."""
        name = self.type.lift
        if self.shape(name) != "carriage":
            raise Unplaced("the type wheel has no carriage")
        return self.drum(name)[0] + 5

    # -- what stands still ------------------------------------------------------------------------

    def _behind(self) -> Iterator[str]:
        top = min(self.bars_top.values())
        yield svg.drawn("frame", svg.box(self.left, top - 11, self.right, top - 6))
        for name in self.named("long rack"):
            end, top = self.hint(name, "x") + self.end_of(name), self.body_of(name)[0]
            yield svg.drawn("frame", svg.box(end, top - 14, end + 6, top - 1.5))
        for name in self.named("rack"):
            end, x = self.hint(name, "y") - self.end_of(name), self.hint(name, "x")
            yield svg.drawn("frame", svg.box(x - 26, end - 6, x - 10, end))
            if self.is_block(name):
                yield from self.behind_block(name)
        for name in self.named("toothed rack"):
            end, x = self.hint(name, "y") - self.end_of(name), self.hint(name, "x")
            left, right = sorted(x + self.nose_side(name) * reach for reach in (10, 26))
            yield svg.drawn("frame", svg.box(left, end - 6, right, end))
        for name in self.named("carriage"):
            if self.type.lift == name:
                _, _, half = self.drum(name)
                x = self.hint(name, "x") + half + 3
                level = self.print_level()
                yield svg.drawn("sheet", svg.box(x, level - 70, x + 2.4, level + 80))
                yield svg.text(x + 10, level - 58, "paper", "name quiet")
        for name in self.named("long rack"):
            x, y = self.hint(name, "x") + 190, self.hint(name, "y") + 5
            yield svg.text(x, y, "pull", "name quiet")
            tip = x + 62
            yield svg.drawn(
                "arrow",
                svg.outline([(x + 34, y - 5), (tip, y - 5)], closed=False),
                svg.outline([(tip - 6, y - 9), (tip, y - 5), (tip - 6, y - 1)], closed=False),
            )

    def _before(self) -> Iterator[str]:
        groups: dict[str, list[float]] = {}
        for part in self.machine.mechanism:
            if part.name not in self.bars_top and self.shape(part.name) != "plate":
                groups.setdefault(part.group, []).append(self.hint(part.name, "x"))
        for name in filter(self.is_block, self.named("rack")):
            left, level = self.block_at(name)
            half = LETTER / 2
            sight = svg.box(left - 4, level - half, left + BLOCK + 4, level + half)
            yield svg.drawn("sight", sight)
        for group, xs in groups.items():
            yield svg.text(min(xs) - 20, 26, group.upper(), "caption")
        for name, top in self.bars_top.items():
            for x in self.screws(name):
                yield screw(x + self.full(name), top + BAR_HEIGHT / 2)
            left = self.ends(name)[0]
            yield svg.text(left - 10, top + 15.5, self.name(name), "name", "end")
        for part in self.machine.mechanism:
            at = self.point(part.name, "name_at")
            if at and (words := self.name(part.name)):
                hint = self.machine.picture[part.name].get("name_anchor")
                anchor = str(hint) if hint in ("middle", "end") else "start"
                if lead := self.point(part.name, "lead"):
                    start = (at[0], at[1] + 4)
                    yield svg.drawn("lead", svg.outline([start, lead], closed=False))
                for k, line in enumerate(words.split("\n")):
                    yield svg.text(at[0], at[1] + 17 * k, line, "name", anchor)
        yield from self._rule()

    def name(self, part: str) -> str:
        hint = self.machine.picture.get(part, {}).get("name")
        return self.machine.label(part) if hint is None else str(hint)

    def _rule(self) -> Iterator[str]:
        """The scale: ten millimetres of travel."""
        right, y = self.right, self.bottom + BELOW - 9
        left = right - 10 * SCALE
        ticks = [left + k * SCALE for k in range(11)]
        yield svg.drawn(
            "rule",
            svg.outline([(left, y), (right, y)], closed=False),
            *(
                svg.outline([(x, y), (x, y - (7 if k % 5 == 0 else 4))], closed=False)
                for k, x in enumerate(ticks)
            ),
        )
        yield svg.text(left - 10, y + 3, "travel to one scale: 10 mm", "name quiet", "end")


def _moved_by(kind: type[Kind], machine: Machine, name: str, otherwise: str) -> Kind:
    """The joint of a part whose shape only one kind of joint can move."""
    joint = machine.mechanism[name].joint
    if not isinstance(joint, kind):
        raise Unplaced(f"{name} {otherwise}")
    return joint


def _coordinate(value: object) -> float | None:
    """A hint as a number of pixels, if it is one that lies anywhere near the plate."""
    if isinstance(value, bool) or not isinstance(value, int | float | Fraction):
        return None
    try:
        number = float(value)
    except OverflowError:
        return None
    return number if abs(number) <= FURTHEST else None
