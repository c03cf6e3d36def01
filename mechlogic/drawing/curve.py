"""The motion of one part as a curve: how far from its stop, against time, and its moment.

The picture is drawn once by :func:`chart`; what changes with oil and speed are the *marks*, named
elements whose attributes :func:`marks` works out.  So a picture on the screen is changed in place.
Nothing is told by colour alone: what is too late is hatched, and a late part has a cross where one
in time has a disc.
"""

from collections.abc import Mapping
from math import isinf

from mechlogic.helpers.svg import box, disc, drawn, number, outline, text
from mechlogic.model.motion import Stroke
from mechlogic.time.timing import Margin

WIDTH, HEIGHT = 660.0, 340.0
LEFT, TOP, RIGHT, BOTTOM = 62.0, 52.0, 640.0, 284.0
N_POINTS = 121
"""Points of the curve."""

Marks = Mapping[str, Mapping[str, str]]
"""For each named element of the chart its attributes; ``text`` is what it says."""


class Scale:
    """Where a time in ms and a distance in mm lie in the picture.

    Args:
        longest_ms: The time at the right edge, in ms.
        travel_mm: The distance at the upper edge, in mm.
    """

    def __init__(self, longest_ms: float, travel_mm: float) -> None:
        self.longest_ms, self.travel_mm = longest_ms, travel_mm

    def x(self, time_ms: float) -> float:
        """The x of a time in ms; what lies beyond the right edge is put there."""
        return LEFT + (RIGHT - LEFT) * min(time_ms / self.longest_ms, 1.0)

    def y(self, distance_mm: float) -> float:
        """The y of a distance in mm."""
        return BOTTOM - (BOTTOM - TOP) * distance_mm / self.travel_mm


def chart(scale: Scale, within_mm: float, healthy: Stroke, part: str) -> str:
    """The picture without its marks: axes, the way home, and the part in fresh oil.

    Args:
        scale: The scale of both axes.
        within_mm: How near to its stop the part counts as arrived, in mm.
        healthy: Its motion with fresh oil at 20 degrees C.
        part: What the part is called.
    """
    empty = drawn("moment", "").replace("/>", ' data-mark="{}"/>')
    return "".join(
        (
            f'<svg class="mechlogic ml-curve" viewBox="0 0 {number(WIDTH)} {number(HEIGHT)}" '
            'role="img">',
            f"<defs>{HATCH}</defs>",
            drawn("arrived", box(LEFT, scale.y(within_mm), RIGHT, BOTTOM)) if within_mm else "",
            '<path class="too-late" data-mark="late"/>',
            *_rulers(scale),
            text(LEFT - 46, TOP - 34, f"{part}: mm from its stop", "quiet"),
            text(RIGHT, BOTTOM + 44, "ms after it is let go", "quiet", "end"),
            text(LEFT, BOTTOM + 44, LEGEND if within_mm else LEGEND.split(";")[0], "quiet"),
            drawn("fresh", _path(scale, healthy)),
            empty.format("moment"),
            '<text class="name" data-mark="says" y="44"/>',
            '<path class="way" data-mark="way"/>',
            '<path class="there" data-mark="there"/>',
            "</svg>",
        )
    )


LEGEND = "dashed: fresh oil at 20 °C; grey: counts as arrived"

HATCH = (
    '<pattern id="ml-late" width="7" height="7" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><path class="late-line" d="M0 0 V7"/></pattern>'
)


def marks(scale: Scale, motion: Stroke, margin: Margin, within_mm: float) -> Marks:
    """What the marks of the chart are for one motion.

    Args:
        scale: The scale of both axes.
        motion: The motion of the part.
        margin: What it has in hand.
        within_mm: How near to its stop it counts as arrived, in mm.
    """
    moment = scale.x(margin.given_ms)
    right = moment > (LEFT + RIGHT) / 2
    return {
        "way": {"d": _path(scale, motion)},
        "moment": {"d": outline([(moment, TOP - 4), (moment, BOTTOM + 6)], closed=False)},
        "late": {"d": box(moment, TOP, RIGHT, BOTTOM)},
        "says": {
            "x": number(moment + (-6 if right else 6)),
            "text-anchor": "end" if right else "start",
            "text": f"its moment, {margin.given_ms:.1f} ms: {'late' if margin.late else 'in time'}",
        },
        "there": {"d": _there(scale, motion, margin, within_mm)},
    }


def _there(scale: Scale, motion: Stroke, margin: Margin, within_mm: float) -> str:
    """A disc where it arrives in time, or a cross where its moment finds a late part."""
    if not margin.late:
        return disc(scale.x(margin.needed_ms), scale.y(within_mm), 6)
    x, y = scale.x(margin.given_ms), scale.y(motion.position_mm(margin.given_ms))
    return f"M{number(x - 7)} {number(y - 7)} l14 14 m0 -14 l-14 14"


def _path(scale: Scale, motion: Stroke) -> str:
    """The curve of a motion, with a corner where it ends at its stop."""
    step = scale.longest_ms / (N_POINTS - 1)
    times = [n * step for n in range(N_POINTS)]
    at_stop = motion.time_ms()
    if not isinf(at_stop) and at_stop < scale.longest_ms:
        times = sorted((*times, at_stop))
    points = [(scale.x(time), scale.y(motion.position_mm(time))) for time in times]
    return outline(points, closed=False)


def _rulers(scale: Scale) -> list[str]:
    """Both axes with a few round numbers."""
    found = [drawn("rule", outline([(LEFT, TOP), (LEFT, BOTTOM), (RIGHT, BOTTOM)], closed=False))]
    for time in _round_steps(scale.longest_ms):
        x = scale.x(time)
        found.append(drawn("rule", outline([(x, BOTTOM), (x, BOTTOM + 5)], closed=False)))
        found.append(text(x, BOTTOM + 22, f"{time:g}", "quiet", "middle"))
    for distance in _round_steps(scale.travel_mm):
        y = scale.y(distance)
        found.append(drawn("rule", outline([(LEFT - 5, y), (LEFT, y)], closed=False)))
        found.append(text(LEFT - 10, y + 5, f"{distance:g}", "quiet", "end"))
    return found


def _round_steps(longest: float) -> list[float]:
    """From 0 up to a length in steps of 1, 2 or 5 times a power of ten, at most seven of them."""
    size = 1e-3
    while longest / size > 60:
        size *= 10
    step = next(step for step in (size, 2 * size, 5 * size, 10 * size) if longest / step <= 6)
    return [n * step for n in range(int(longest / step + 1e-9) + 1)]
