"""The few SVG marks that every picture is made of, as text.

Coordinates are in units of the picture, which are pixels at 100 %; x runs to the right and y
downwards.  No mark carries a colour: marks carry classes, and ``style.css`` gives them their look.
Text goes through :func:`text` or :func:`attribute`, which escape it.
"""

from collections.abc import Iterable
from html import escape
from math import cos, pi, sin

Point = tuple[float, float]


def number(value: float) -> str:
    """A coordinate, rounded to a hundredth of a pixel."""
    return f"{round(float(value), 2) + 0.0:g}"


def attribute(value: str) -> str:
    """Text made fit to stand between quotation marks."""
    return escape(value, quote=True)


def outline(points: Iterable[Point], closed: bool = True) -> str:
    """Path data of straight lines through the points."""
    corners = " L".join(f"{number(x)} {number(y)}" for x, y in points)
    return f"M{corners}{' Z' if closed else ''}"


def bow(start: Point, end: Point) -> str:
    """Path data of a line that leaves and arrives upright."""
    (x, y), (u, v) = start, end
    middle = (y + v) / 2
    ways = [(x, y), (x, middle), (u, middle), (u, v)]
    first, *others = (f"{number(a)} {number(b)}" for a, b in ways)
    return f"M{first} C{' '.join(others)}"


def card(left: float, top: float, right: float, bottom: float, radius: float) -> str:
    """Path data of a rectangle with round corners."""
    r = number(radius)
    across, down = number(right - left - 2 * radius), number(bottom - top - 2 * radius)
    return (
        f"M{number(left + radius)} {number(top)} h{across} a{r} {r} 0 0 1 {r} {r} v{down} "
        f"a{r} {r} 0 0 1 -{r} {r} h-{across} a{r} {r} 0 0 1 -{r} -{r} v-{down} "
        f"a{r} {r} 0 0 1 {r} -{r} Z"
    )


def box(left: float, top: float, right: float, bottom: float) -> str:
    """Path data of a rectangle, wound clockwise."""
    return outline([(left, top), (right, top), (right, bottom), (left, bottom)])


def window(left: float, top: float, right: float, bottom: float) -> str:
    """Path data of a rectangular hole: wound the other way round."""
    return outline([(left, top), (left, bottom), (right, bottom), (right, top)])


def disc(x: float, y: float, radius: float) -> str:
    """Path data of a circle, wound clockwise."""
    return _circle(x, y, radius, 1)


def hole(x: float, y: float, radius: float) -> str:
    """Path data of a round hole."""
    return _circle(x, y, radius, 0)


def _circle(x: float, y: float, radius: float, sweep: int) -> str:
    left, right, height, r = number(x - radius), number(x + radius), number(y), number(radius)
    arc = f"A{r} {r} 0 0 {sweep}"
    return f"M{left} {height} {arc} {right} {height} {arc} {left} {height} Z"


def strut(start: Point, end: Point, width: float, end_width: float | None = None) -> str:
    """Path data of a straight arm between two points, wound clockwise."""
    (x, y), (u, v) = start, end
    length = ((u - x) ** 2 + (v - y) ** 2) ** 0.5 or 1.0
    nx, ny = (y - v) / length / 2, (u - x) / length / 2
    a, b = width, width if end_width is None else end_width
    return outline(
        [
            (x - nx * a, y - ny * a),
            (u - nx * b, v - ny * b),
            (u + nx * b, v + ny * b),
            (x + nx * a, y + ny * a),
        ]
    )


def gear(x: float, y: float, radius: float, teeth: int, depth: float) -> str:
    """Path data of a toothed wheel about its pitch circle; a tooth points to the right."""
    step = 2 * pi / teeth
    points = []
    for k in range(teeth):
        for share, r in ((-0.32, -1), (-0.16, 1), (0.16, 1), (0.32, -1)):
            angle = (k + share) * step
            reach = radius + r * depth / 2
            points.append((x + reach * cos(angle), y + reach * sin(angle)))
    return outline(points)


def solid(*paths: str, kind: str = "") -> str:
    """One piece of metal made of overlapping outlines: no line shows where they overlap."""
    data = " ".join(paths)
    extra = f" {kind}" if kind else ""
    return f'<path class="edge{extra}" d="{data}"/><path class="metal{extra}" d="{data}"/>'


def drawn(kind: str, *paths: str) -> str:
    """Path data drawn in one class."""
    return f'<path class="{kind}" d="{" ".join(paths)}"/>'


def text(x: float, y: float, words: str, kind: str = "name", anchor: str = "start") -> str:
    """A line of text with its base line at (x, y)."""
    return (
        f'<text class="{kind}" x="{number(x)}" y="{number(y)}" '
        f'text-anchor="{anchor}">{escape(words)}</text>'
    )


def text_upright(x: float, y: float, words: str, kind: str = "name") -> str:
    """A line of text that runs upwards from (x, y), its base line to the right."""
    turned = f"rotate(-90 {number(x)} {number(y)})"
    return f'<g transform="{turned}">{text(x, y, words, kind)}</g>'


def shift(x: float = 0.0, y: float = 0.0) -> str:
    """CSS transform that moves a group."""
    return f"translate({number(x)}px, {number(y)}px)"


def turn(degrees: float) -> str:
    """CSS transform that turns a group about its transform-origin, clockwise on the screen."""
    return f"rotate({number(degrees)}deg)"
