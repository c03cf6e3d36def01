"""Pictures of errors at the hammer, as SVG and HTML: a map of the type, and a bar moved part-way.

Shades go from light to dark in one hue, so that they can be told by the colour-blind and in black
and white; what is clipped has a bar at the side that is lost, what is unreadable is crossed out.
The marks stand in ``templates/fit.html``, which escapes every text.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from mechlogic.explaining.travel import walk
from mechlogic.explaining.words import capitalised, listed, the
from mechlogic.fit.hammer import (
    CLIPPED,
    WHOLE,
    Strike,
    aims,
    cell_of,
    strike_at,
    strikes,
    targets,
    type_of,
)
from mechlogic.fit.linkage import arrays, given_by
from mechlogic.helpers.templates import piece
from mechlogic.model.dimensions import Key
from mechlogic.model.logbook import UNREADABLE
from mechlogic.model.machine import Machine

CELL_WIDTH_PX, CELL_HEIGHT_PX = 52.0, 56.0
HEADING_PX = 52.0
MOST_IN_A_ROW = 16
"""How many characters of a long bar of type stand in one row of the map; a count."""

SHADES = ("#ffffff", "#dbe7f0", "#9fc0d6", "#5790b8", "#0f6199")
"""White mixed with 0, 15, 40, 70 and 100 % of ``--ml-set`` (drawing/style.css, light paper).

In place, within half a window, within it, clipped, unreadable.
"""

_LIGHT, _DARK = "#ffffff", "#1a1a1a"
"""What letters are written in."""

LIMITS = (0.02, 0.5, 1.0)
"""Up to which error, in windows, each of the first three shades goes."""

SAMPLES = 161
"""At how many depths the way of a bar is looked at; a count."""

PLOT_WIDTH_PX, LANE_PX, LEFT_PX = 520.0, 46.0, 170.0


# -- the map of the type ---------------------------------------------------------------------------


def error_map(machine: Machine, dimensions: Mapping[Key, float] | None = None) -> str:
    """The type unrolled, each character with its errors, as one ``<svg>`` and a sentence.

    Args:
        machine: The machine.
        dimensions: Dimensions that are otherwise than described, each in its own unit.
    """
    found = {cell_of(machine, one.code): one for one in strikes(machine, dimensions)}
    rows = [list(row) for row in machine.output.layout().cells]
    if len(rows) == 1:
        (line,) = rows
        rows = [line[i : i + MOST_IN_A_ROW] for i in range(0, len(line), MOST_IN_A_ROW)]
    heads = _headings(machine) if len(rows) == len(machine.output.layout().rows) else []
    n_rows, n_columns = len(rows), max(map(len, rows))
    summary = summary_of(list(found.values()))
    return piece(
        "fit.html",
        "error_map",
        HEADING_PX if heads else 0.0,
        n_columns * CELL_WIDTH_PX,
        n_rows * CELL_HEIGHT_PX + 24 * bool(heads),
        heads,
        [
            _cell(machine, found[number], column * CELL_WIDTH_PX, row * CELL_HEIGHT_PX)
            for row, numbers in enumerate(rows)
            for column, number in enumerate(numbers)
            if number is not None and number in found
        ],
        machine.title,
        summary,
        SHADES[2],
    )


_Heading = tuple[float, float, str, str]
"""Where a heading stands, in px; what it says; and which end of it stands there."""


def _headings(machine: Machine) -> list[_Heading]:
    """What brings each row and each column of the type to the hammer, in mm and degrees."""
    layout = machine.output.layout()
    unit = "°" if type_of(machine).kind == "type wheel" else " mm"
    below = len(layout.rows) * CELL_HEIGHT_PX + 16
    at_the_left = [
        (-6.0, (row + 0.5) * CELL_HEIGHT_PX + 4, f"{said} mm", "end")
        for row, said in enumerate(layout.rows)
        if said
    ]
    return at_the_left + [
        ((column + 0.5) * CELL_WIDTH_PX, below, f"{said}{unit}", "middle")
        for column, said in enumerate(layout.columns)
        if said
    ]


def summary_of(found: Sequence[Strike]) -> str:
    """How many characters print whole, are clipped and where, or are unreadable; counts."""
    said = []
    for seen in (WHOLE, CLIPPED, UNREADABLE):
        those = [
            one for one in found if one.seen == seen and one.printed in (one.asked, UNREADABLE)
        ]
        sides = sorted({side for one in those for side in one.clipped})
        where = f" at the {listed(sides)}" if sides else ""
        if those or seen == WHOLE:
            said.append(f"{len(those)} {seen}{where}")
    if wrong := sum(one.printed not in (one.asked, UNREADABLE) for one in found):
        said.append(f"{wrong} printing another character")
    return f"Of {len(found)} characters: {listed(said)}."


def shade(machine: Machine, one: Strike) -> str:
    """The shade of a character, by its worst error in windows; a colour, without a unit."""
    if one.seen == UNREADABLE or one.printed != one.asked:
        return SHADES[4]
    worst = max(abs(one.errors[aim.name]) / float(aim.window.whole) for aim in aims(machine))
    return next((SHADES[i] for i, most in enumerate(LIMITS) if worst <= most + 1e-9), SHADES[3])


def _cell(machine: Machine, one: Strike, left: float, top: float) -> dict[str, Any]:
    """One character of the map: where it stands, its shade, its errors and its lost sides."""
    errors = []
    for level, aim in enumerate(aims(machine)):
        error = one.errors[aim.name]
        if abs(error) > 0.005:
            said = f"{error:+.1f}°" if aim.unit == "degrees" else f"{error:+.2f}"
            errors.append((34 + 11 * level, said.replace("-", "−")))
    fill = shade(machine, one)
    return {
        "x": left,
        "y": top,
        "width": CELL_WIDTH_PX,
        "height": CELL_HEIGHT_PX,
        "fill": fill,
        "ink": _LIGHT if fill == SHADES[4] else _DARK,
        "asked": one.asked,
        "errors": errors,
        "other": one.printed if one.printed not in (one.asked, UNREADABLE) else "",
        "crossed": one.seen == UNREADABLE,
        "lost": one.clipped,
    }


# -- a bar moved part-way --------------------------------------------------------------------------


def bars_that_aim(machine: Machine) -> tuple[str, ...]:
    """The code bars and keys that bring type to the hammer; others may suppress, or do nothing."""
    above = _that_aim(machine)
    return tuple(p.name for p in machine.mechanism if p.joint.given and p.name in above)


def _that_aim(machine: Machine) -> frozenset[str]:
    """Every part that has a say in where the type stands."""
    return frozenset().union(*(machine.mechanism.upstream(aim.part) for aim in aims(machine)))


def break_page(machine: Machine, code: int, bar: str, depth_mm: float) -> str:
    """How every part follows a bar from rest to full stroke, and what is printed on the way.

    Whether the hammer strikes at all is not looked at.

    Args:
        machine: The machine.
        code: The code that is sent, without parity.
        bar: The code bar that is moved.
        depth_mm: Where it stands now, in mm.
    """
    import numpy as np

    mechanism, stroke = machine.mechanism, float(machine.mechanism.laws[bar].full)
    depths = np.linspace(0.0, stroke, SAMPLES)
    follow = [n for n in _on_the_way(machine, bar) if n != bar]
    m, given = arrays(), given_by(machine, code)
    parts = (*follow, *(aim.part for aim in aims(machine)))
    x = walk(mechanism, given, m, moved={bar: depths}, parts=parts)
    now = walk(mechanism, given, m, moved={bar: depth_mm}, parts=parts)
    lanes = [name for name in follow if np.ptp(np.broadcast_to(x[name], depths.shape)) > 0]
    bands = _bands(machine, code, {a.name: _list(x[a.part]) for a in aims(machine)})
    here = _printed(machine, code, {a.name: float(now[a.part]) for a in aims(machine)})
    return piece(
        "fit.html",
        "breaks",
        LEFT_PX,
        PLOT_WIDTH_PX,
        LANE_PX,
        [
            (
                machine.label(name),
                _points(_list(x[name])),
                f"{float(now[name]):.2f}{'°' if mechanism.unit(name) == 'degrees' else ' mm'}",
            )
            for name in lanes
        ],
        list(map(_shown, bands)),
        LEFT_PX + PLOT_WIDTH_PX * depth_mm / stroke,
        f"{depth_mm:.2f} mm",
        _says(machine, bar, depth_mm, stroke, here),
    )


def _on_the_way(machine: Machine, bar: str) -> list[str]:
    """The parts between a bar and the type."""
    between = _that_aim(machine) & machine.mechanism.downstream(bar)
    return [name for name in machine.mechanism.parts if name in between]


def _list(values: object) -> list[float]:
    import numpy as np

    return [float(v) for v in np.broadcast_to(np.asarray(values), (SAMPLES,))]


def _printed(machine: Machine, code: int, places: Mapping[str, float]) -> Strike:
    wanted = {aim.name: targets(machine, aim, (code,))[0] for aim in aims(machine)}
    return strike_at(machine, code, places, wanted)


def _bands(
    machine: Machine, code: int, places: Mapping[str, Sequence[float]]
) -> list[tuple[int, int, str, bool]]:
    """Stretches over which the same is printed: first and last sample, what, and whether whole."""
    bands: list[tuple[int, int, str, bool]] = []
    for i in range(SAMPLES):
        one = _printed(machine, code, {name: at[i] for name, at in places.items()})
        whole = one.seen == WHOLE
        what = one.printed if whole else "?" if one.seen == UNREADABLE else one.printed
        if bands and bands[-1][2:] == (what, whole):
            bands[-1] = (bands[-1][0], i, what, whole)
        else:
            bands.append((i, i, what, whole))
    return bands


def _x_px(sample: int) -> float:
    return LEFT_PX + PLOT_WIDTH_PX * sample / (SAMPLES - 1)


def _points(values: Sequence[float]) -> list[tuple[float, float]]:
    """The way of a part as points of its lane, in px from the top of the lane."""
    low, high = min(values), max(values)
    scale = (LANE_PX - 14) / (high - low)
    return [(_x_px(i), LANE_PX - 7 - scale * (v - low)) for i, v in enumerate(values)]


def _shown(band: tuple[int, int, str, bool]) -> tuple[float, float, str, str, str]:
    """What is printed along the way: whole on white, clipped on grey, unreadable on dark."""
    first, last, what, whole = band
    left = _x_px(first) if first == 0 else (_x_px(first) + _x_px(first - 1)) / 2
    right = _x_px(last) if last == SAMPLES - 1 else (_x_px(last) + _x_px(last + 1)) / 2
    fill = _LIGHT if whole else "#4d4d4d" if what == "?" else "#bdbdbd"
    return left, right - left, what, fill, _LIGHT if what == "?" else _DARK


def _says(machine: Machine, bar: str, depth_mm: float, stroke_mm: float, one: Strike) -> str:
    begin = f"{capitalised(the(machine.label(bar)))} stands at {depth_mm:.2f} of {stroke_mm:g} mm"
    if one.seen == UNREADABLE:
        return f"{begin}: what is printed is unreadable."
    how = f", clipped at the {listed(one.clipped)}" if one.clipped else ", whole"
    return f"{begin}: {one.printed} is printed{how}."
