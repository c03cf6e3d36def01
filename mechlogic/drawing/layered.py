"""A picture without hints: every part in its own box, in layers, the code bars at the foot.

A part stands in the layer above the highest part that it touches.  It is drawn as a slider in a
slot that is as long as its travel, so that every part can be seen to move, and a thin line joins
it to each part that it follows.
"""

from collections.abc import Iterator, Mapping
from textwrap import wrap

from mechlogic.drawing import svg
from mechlogic.drawing.figure import Figure, Group
from mechlogic.laws import Bit, OpposedRacks
from mechlogic.machine import Machine

MARGIN = 12.0
BOX_WIDTH, BOX_HEIGHT = 108.0, 94.0
GAP_X, GAP_Y = 8.0, 36.0
SLIDER = 14.0
MOST_IN_A_ROW = 9
LONGEST_LINE, MOST_LINES = 11, 3


def figure(machine: Machine) -> Figure:
    """Lay the parts out in layers."""
    rows = [row for layer in _layers(machine) for row in _rows(layer)]
    widest = max(len(row) for row in rows)
    width = 2 * MARGIN + widest * (BOX_WIDTH + GAP_X) - GAP_X
    height = 2 * MARGIN + len(rows) * (BOX_HEIGHT + GAP_Y) - GAP_Y
    at: dict[str, svg.Point] = {}
    for level, names in enumerate(rows):
        span = len(names) * (BOX_WIDTH + GAP_X) - GAP_X
        left, top = (width - span) / 2, height - MARGIN - BOX_HEIGHT - level * (BOX_HEIGHT + GAP_Y)
        for k, name in enumerate(names):
            at[name] = (left + k * (BOX_WIDTH + GAP_X), top)
    groups = [_part(machine, name, at[name]) for name in machine.mechanism.parts]
    return Figure(
        width,
        height,
        groups,
        (*_links(machine, at), *_slots(machine, at)),
        tuple(_names(machine, at)),
    )


def _layers(machine: Machine) -> list[list[str]]:
    """The parts, layer by layer; within a layer each near the parts that it touches."""
    level: dict[str, int] = {}
    for part in machine.mechanism:
        level[part.name] = 1 + max((level[name] for name in part.joint.inputs), default=-1)
    layers: list[list[str]] = [[] for _ in range(max(level.values()) + 1)]
    for name, number in level.items():
        layers[number].append(name)
    bars = machine.mechanism.bars
    layers[0].sort(key=lambda name: bars[name].bit if name in bars else 0)
    where: dict[str, float] = {}
    for names in layers:
        names.sort(key=lambda name: _middle(machine, name, where))
        where.update({name: (k + 0.5) / len(names) for k, name in enumerate(names)})
    return layers


def _rows(layer: list[str]) -> list[list[str]]:
    """A layer in as many rows as it needs to stay legible, evenly filled."""
    n_rows = -(-len(layer) // MOST_IN_A_ROW)
    size = -(-len(layer) // n_rows)
    return [layer[start : start + size] for start in range(0, len(layer), size)]


def _middle(machine: Machine, name: str, where: Mapping[str, float]) -> float:
    inputs = [where[other] for other in machine.mechanism[name].joint.inputs if other in where]
    return sum(inputs) / len(inputs) if inputs else 0.0


def _part(machine: Machine, name: str, at: svg.Point) -> Group:
    x, y = at
    part, law = machine.mechanism[name], machine.mechanism.laws[name]
    middle = y + BOX_HEIGHT - 19
    if isinstance(part.joint, OpposedRacks):
        centre = (x + BOX_WIDTH / 2, middle)
        body = svg.solid(svg.gear(*centre, 11, 12, 5), kind="wheel")
        body += svg.drawn("mark", svg.outline([centre, (centre[0], middle - 8)], closed=False))
        poses = [svg.turn(float(place)) for place in law.places]
        return Group(name, "pinion", body, poses, centre)
    kind = "bar" if isinstance(part.joint, Bit) else "slide"
    left = x + 10
    body = svg.solid(svg.box(left, middle - 10, left + SLIDER, middle + 10))
    room = BOX_WIDTH - 20 - SLIDER
    poses = [svg.shift(room * float((place - law.places[0]) / law.full)) for place in law.places]
    return Group(name, kind, body, poses)


def _links(machine: Machine, at: Mapping[str, svg.Point]) -> Iterator[str]:
    for part in machine.mechanism:
        inputs = list(dict.fromkeys(part.joint.inputs))
        for k, other in enumerate(inputs, 1):
            x, y = at[other]
            u, v = at[part.name]
            start = (x + BOX_WIDTH / 2, y)
            end = (u + BOX_WIDTH * k / (len(inputs) + 1), v + BOX_HEIGHT)
            yield svg.drawn("link", svg.outline([start, end], closed=False))


def _slots(machine: Machine, at: Mapping[str, svg.Point]) -> Iterator[str]:
    for name, (x, y) in at.items():
        yield svg.drawn("card", svg.box(x, y, x + BOX_WIDTH, y + BOX_HEIGHT))
        if not isinstance(machine.mechanism[name].joint, OpposedRacks):
            middle = y + BOX_HEIGHT - 19
            slot = [(x + 10, middle), (x + BOX_WIDTH - 10, middle)]
            yield svg.drawn("guide", svg.outline(slot, closed=False))


def _names(machine: Machine, at: Mapping[str, svg.Point]) -> Iterator[str]:
    for name, (x, y) in at.items():
        lines = wrap(machine.label(name), LONGEST_LINE, max_lines=MOST_LINES, placeholder=" …")
        for k, line in enumerate(lines):
            yield svg.text(x + BOX_WIDTH / 2, y + 20 + 17 * k, line, "name", "middle")
