"""A picture without hints: every part in its own box, in layers, the code bars at the foot.

A part stands in the layer above the highest part that it touches, or just below what touches it
if those are more.  It is drawn as a slider in a slot that is as long as its travel, with a tick at
each of its places, so that every part can be seen to move; a thin line joins it to each part that
it follows.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from textwrap import wrap

from mechlogic.drawing import svg
from mechlogic.drawing.figure import Figure, Group
from mechlogic.laws import Bit, OpposedRacks
from mechlogic.machine import Machine

MARGIN = 12.0
BOX_WIDTH, BOX_HEIGHT = 108.0, 90.0
GAP_X, GAP_Y = 10.0, 40.0
SLOT = 21.0  # height of a slot above the foot of its box
SLIDER = 14.0
MOST_IN_A_ROW = 9
LONGEST_LINE, MOST_LINES = 11, 3
SWEEPS = 4


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
    followers = machine.mechanism.followers
    for part in reversed(list(machine.mechanism)):
        if 0 < len(set(part.joint.inputs)) < len(followers[part.name]):
            level[part.name] = min(level[name] for name in followers[part.name]) - 1
    layers: list[list[str]] = [[] for _ in range(max(level.values()) + 1)]
    for name, number in level.items():
        layers[number].append(name)
    bars = machine.mechanism.bars
    layers[0].sort(key=lambda name: bars[name].bit if name in bars else 0)
    inputs = {part.name: part.joint.inputs for part in machine.mechanism}
    where: dict[str, float] = {}
    for names in layers:  # upwards, then down and up again; the bars keep their order
        _sort(names, inputs, where)
    for _ in range(SWEEPS):
        for names in reversed(layers[1:]):
            _sort(names, followers, where)
        for names in layers[1:]:
            _sort(names, inputs, where)
    return layers


def _rows(layer: list[str]) -> list[list[str]]:
    """A layer in as many rows as it needs to stay legible, evenly filled."""
    n_rows = -(-len(layer) // MOST_IN_A_ROW)
    size = -(-len(layer) // n_rows)
    return [layer[start : start + size] for start in range(0, len(layer), size)]


def _sort(names: list[str], near: Mapping[str, Sequence[str]], where: dict[str, float]) -> None:
    """Bring each part of a layer near its neighbours; one that has none stays where it is."""

    def middle(name: str) -> float:
        found = [where[other] for other in near[name] if other in where]
        return sum(found) / len(found) if found else where.get(name, 0.0)

    names.sort(key=middle)
    # Counted from the middle: a part of a short layer stands near the middle of the picture.
    where.update({name: k + 0.5 - len(names) / 2 for k, name in enumerate(names)})


def _part(machine: Machine, name: str, at: svg.Point) -> Group:
    x, y = at
    part, law = machine.mechanism[name], machine.mechanism.laws[name]
    middle = y + BOX_HEIGHT - SLOT
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
    followers = machine.mechanism.followers
    for part in machine.mechanism:
        for other in dict.fromkeys(part.joint.inputs):
            start = (_port(at, other, followers[other], part.name), at[other][1])
            end = (_port(at, part.name, part.joint.inputs, other), at[part.name][1] + BOX_HEIGHT)
            yield svg.drawn("link", svg.bow(start, end))


def _port(at: Mapping[str, svg.Point], name: str, others: Iterable[str], other: str) -> float:
    """Where on a box the line to another begins: those further left begin further left."""
    order = sorted(set(others), key=lambda each: at[each])
    share = (order.index(other) + 1) / (len(order) + 1)
    return at[name][0] + BOX_WIDTH * (0.2 + 0.6 * share)


def _slots(machine: Machine, at: Mapping[str, svg.Point]) -> Iterator[str]:
    for name, (x, y) in at.items():
        yield svg.drawn("card", svg.card(x, y, x + BOX_WIDTH, y + BOX_HEIGHT, 6))
        if isinstance(machine.mechanism[name].joint, OpposedRacks):
            continue
        law, middle = machine.mechanism.laws[name], y + BOX_HEIGHT - SLOT
        slot = [(x + 10, middle), (x + BOX_WIDTH - 10, middle)]
        room, left = BOX_WIDTH - 20 - SLIDER, x + 10 + SLIDER / 2
        stands = [left + room * float((p - law.places[0]) / law.full) for p in law.places]
        ticks = [svg.outline([(u, middle + 11), (u, middle + 16)], closed=False) for u in stands]
        yield svg.drawn("guide", svg.outline(slot, closed=False), *ticks)


def _names(machine: Machine, at: Mapping[str, svg.Point]) -> Iterator[str]:
    for name, (x, y) in at.items():
        lines = wrap(machine.label(name), LONGEST_LINE, max_lines=MOST_LINES, placeholder=" …")
        for k, line in enumerate(lines):
            yield svg.text(x + BOX_WIDTH / 2, y + 19 + 16 * k, line, "name", "middle")
