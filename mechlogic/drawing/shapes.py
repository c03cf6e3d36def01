"""Shapes that several parts of a plate share: levers, notches, screws.

Each is drawn where it stands at displacement 0, and says where it is touched.
"""

from dataclasses import dataclass
from math import atan, degrees, pi, sin

from mechlogic.helpers import svg

TIP = 2.0  # half the width of a foot's tip
ROLLER = 8.0


@dataclass(frozen=True)
class Touch:
    """Where a part is pushed from below, at displacement 0.

    Attributes:
        x, y: The point of contact.
        move: How far the contact moves over the part's full travel, in pixels.
        wide: How far the pusher's lug may reach beyond the point.
    """

    x: float
    y: float
    move: float
    wide: float = 8.0


@dataclass(frozen=True)
class Crank:
    """A bell crank that draws a stop blade back by as much as its pin moves.

    Attributes:
        x, y: Its pivot.
        level: Height of the blade's middle line.
        throw: How far the pin moves, in pixels.
        push: How far its roller is pushed, in pixels.
        side: 1 if the blade points to the right.
    """

    x: float
    y: float
    level: float
    throw: float
    push: float
    side: float

    @property
    def height(self) -> float:
        """How high the pin stands above the pivot, alike at both ends of its travel."""
        return self.y - self.level

    @property
    def swing(self) -> float:
        """The angle of its full travel, in degrees."""
        return 2 * degrees(atan(self.throw / 2 / self.height))

    @property
    def pin(self) -> svg.Point:
        """Where the pin stands."""
        return self.x + self.side * self.throw / 2, self.level

    @property
    def roller(self) -> svg.Point:
        """The middle of the roller that is pushed up."""
        ratio = self.push / self.throw
        return self.x + self.side * ratio * self.height, self.y + self.push / 2

    def touch(self, pushers: int) -> Touch:
        """Where it is pushed; two pushers share the roller, each from its own side."""
        x, y = self.roller
        return Touch(x, y + ROLLER, self.push, -0.8 if pushers > 1 else 8.0)

    def lever(self) -> str:
        """Its marks."""
        return _two_arms((self.x, self.y), self.pin, self.roller, 9, 7, 8)


@dataclass(frozen=True)
class Upright:
    """A straight lever: pushed aside at its foot, it draws a stop blade back with its head.

    Attributes:
        x: Its pivot, and the middle of its swing.
        level: Height of the blade's middle line.
        foot: Height of the roller at its foot, in the middle.
        throw: How far its head moves, in pixels.
        push: How far its foot is pushed, in pixels.
        side: 1 if the blade points to the right: then the foot is pushed to the right.
    """

    x: float
    level: float
    foot: float
    throw: float
    push: float
    side: float

    @property
    def y(self) -> float:
        """Height of the pivot, which divides the lever as head and foot move."""
        return (self.level * self.push + self.foot * self.throw) / (self.push + self.throw)

    @property
    def swing(self) -> float:
        """The angle of its full travel, in degrees."""
        return 2 * degrees(atan(self.push / 2 / (self.foot - self.y)))

    @property
    def pin(self) -> svg.Point:
        """Where the pin in its head stands."""
        return self.x + self.side * self.throw / 2, self.level

    @property
    def roller(self) -> svg.Point:
        """The middle of the roller at its foot."""
        return self.x - self.side * self.push / 2, self.foot

    @property
    def pushed_at(self) -> float:
        """Where the roller is pushed."""
        return self.roller[0] - self.side * ROLLER

    def lever(self) -> str:
        """Its marks."""
        return _two_arms((self.x, self.y), self.pin, self.roller, 11, 8, 9)


def _two_arms(
    pivot: svg.Point, pin: svg.Point, roller: svg.Point, wide: float, narrow: float, hub: float
) -> str:
    """A lever with a pin at one end and a roller at the other."""
    arms = svg.strut(pivot, pin, wide, 7), svg.strut(pivot, roller, wide, narrow)
    body = svg.solid(*arms, svg.disc(*pivot, hub), svg.disc(*pin, 4.5))
    return body + svg.solid(svg.disc(*roller, ROLLER), kind="roller") + screw(*pivot)


def screw(x: float, y: float) -> str:
    """The head of a fixed screw."""
    return svg.drawn("screw", svg.disc(x, y, 3.2))


def notch(x: float, top: float, depth: float, offset: float) -> list[svg.Point]:
    """A notch with one slope, which stands under *x* when its bar has moved by *offset*."""
    steep = [(TIP + 1.0, depth), (TIP + 5.0, 0.0)]
    slope = [(-TIP - 12.0, 0.0), (-TIP - 1.0, depth)]
    if offset:
        profile = [(-u, v) for u, v in reversed(steep)] + [(-u, v) for u, v in reversed(slope)]
    else:
        profile = slope + steep
    return [(x - offset + u, top + v) for u, v in profile]


def clockwise(points: list[svg.Point]) -> list[svg.Point]:
    """The same polygon, wound clockwise on the screen."""
    area = sum(
        x * v - u * y for (x, y), (u, v) in zip(points, points[1:] + points[:1], strict=True)
    )
    return points if area > 0 else points[::-1]


def sine(share: float) -> float:
    """Sine of a share of a right angle: how a wheel's face is foreshortened."""
    return sin(share * pi / 2)
