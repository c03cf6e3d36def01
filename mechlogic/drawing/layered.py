"""A picture without hints: every part in its own box, in layers, the code bars at the foot.

A part stands in the layer above the highest part that it touches, or just below what touches it
if those are more.  What a box shows of its part, :mod:`mechlogic.drawing.boxes` says; a thin line
joins it to each part that it follows.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from mechlogic.drawing import boxes
from mechlogic.drawing.figure import Figure, Group
from mechlogic.helpers import svg
from mechlogic.model.machine import Machine

MARGIN = 12.0
GAP_X, GAP_Y = 10.0, 30.0
MOST_IN_A_ROW = 8
SWEEPS = 4

Node = tuple[str, ...]
"""A part, ``(name,)``, or room for a line that passes a layer, ``(lower, upper, layer)``."""

Ways = Mapping[tuple[str, str], Sequence[Node]]
"""For each part and what follows it, the nodes from the one to the other."""


def figure(machine: Machine) -> Figure:
    """Lay the parts out in layers."""
    plan = Plan.of(machine, tuple(machine.mechanism.parts))
    at = plan.placed((MARGIN, MARGIN))
    groups, behind, before = list[Group](), plan.lines(at), list[str]()
    for name in machine.mechanism.parts:
        part, ground = boxes.boxed(machine, name, at[name,])
        groups.append(part)
        behind += ground
        before += boxes.names(machine, name, at[name,])
    return Figure(plan.width + 2 * MARGIN, plan.height + 2 * MARGIN, groups, behind, before)


@dataclass(frozen=True)
class Plan:
    """Which part stands in which row, and how the lines run between them.

    Attributes:
        rows: The nodes from left to right, row by row, the lowest row first.
        ways: The ways of the lines.
    """

    rows: Sequence[Sequence[Node]]
    ways: Ways

    @classmethod
    def of(cls, machine: Machine, names: Sequence[str]) -> "Plan":
        """Plan for some parts of a machine; what they touch besides is left out of account."""
        level = _levels(machine, names)
        ways = _ways(machine, level)
        layers = _layers(machine, level, ways)
        return cls([row for layer in layers for row in _rows(layer)], ways)

    @property
    def width(self) -> float:
        """Width of the widest row."""
        return max(map(len, self.rows)) * (boxes.WIDTH + GAP_X) - GAP_X

    @property
    def height(self) -> float:
        """Height of all rows."""
        return len(self.rows) * (boxes.HEIGHT + GAP_Y) - GAP_Y

    def placed(self, corner: svg.Point) -> dict[Node, svg.Point]:
        """The upper left corner of every box, given that of the whole."""
        at: dict[Node, svg.Point] = {}
        for number, nodes in enumerate(reversed(self.rows)):
            span = len(nodes) * (boxes.WIDTH + GAP_X) - GAP_X
            left = corner[0] + (self.width - span) / 2
            top = corner[1] + number * (boxes.HEIGHT + GAP_Y)
            for k, node in enumerate(nodes):
                at[node] = (left + k * (boxes.WIDTH + GAP_X), top)
        return at

    def lines(self, at: Mapping[Node, svg.Point]) -> list[str]:
        """The lines between the boxes."""
        return [svg.drawn("link", _line(way, self.ways, at)) for way in self.ways.values()]


def _levels(machine: Machine, names: Sequence[str]) -> Mapping[str, int]:
    """The number of the layer of each part."""
    level: dict[str, int] = {}
    chosen = set(names)
    order = [part for part in machine.mechanism if part.name in chosen]
    for part in order:
        inputs = chosen.intersection(part.joint.inputs)
        level[part.name] = 1 + max((level[name] for name in inputs), default=-1)
    for part in reversed(order):
        inputs = chosen.intersection(part.joint.inputs)
        followers = chosen.intersection(machine.mechanism.followers[part.name])
        if 0 < len(inputs) <= len(followers):
            level[part.name] = min(level[name] for name in followers) - 1
    return level


def _ways(machine: Machine, level: Mapping[str, int]) -> Ways:
    """The way of each line; it has room of its own in a layer that it passes, if there is any."""
    crowd = [list(level.values()).count(number) for number in range(max(level.values()) + 1)]
    ways: dict[tuple[str, str], list[Node]] = {}
    for part in machine.mechanism:
        for other in dict.fromkeys(part.joint.inputs):
            if not {other, part.name} <= level.keys():
                continue
            way: list[Node] = [(other,)]
            for number in range(level[other] + 1, level[part.name]):
                if crowd[number] < MOST_IN_A_ROW:
                    crowd[number] += 1
                    way.append((other, part.name, str(number)))
            ways[other, part.name] = [*way, (part.name,)]
    return ways


def _layers(machine: Machine, level: Mapping[str, int], ways: Ways) -> list[list[Node]]:
    """The nodes, layer by layer; within a layer each near those that it is joined to."""
    layers: list[list[Node]] = [[] for _ in range(max(level.values()) + 1)]
    below: dict[Node, list[Node]] = {(name,): [] for name in level}
    above: dict[Node, list[Node]] = {(name,): [] for name in level}
    for name, number in level.items():
        layers[number].append((name,))
    for way in ways.values():
        for node in way[1:-1]:
            layers[int(node[-1])].append(node)
        for lower, upper in pairwise(way):
            below.setdefault(upper, []).append(lower)
            above.setdefault(lower, []).append(upper)
    bars = machine.mechanism.bars
    layers[0].sort(key=lambda node: bars[node[0]].bit if node[0] in bars else 0)
    where: dict[Node, float] = {}
    for nodes in layers:  # upwards, then down and up again; the bars keep their order
        _sort(nodes, below, where)
    for _ in range(SWEEPS):
        for nodes in reversed(layers[1:]):
            _sort(nodes, above, where)
        for nodes in layers[1:]:
            _sort(nodes, below, where)
    return layers


def _rows(layer: list[Node]) -> list[list[Node]]:
    """A layer in as many rows as it needs to stay legible, evenly filled."""
    n_rows = -(-len(layer) // MOST_IN_A_ROW)
    size = -(-len(layer) // n_rows)
    return [layer[start : start + size] for start in range(0, len(layer), size)]


def _sort(nodes: list[Node], near: Mapping[Node, Sequence[Node]], where: dict[Node, float]) -> None:
    """Bring each node of a layer near its neighbours; one that has none stays where it is."""

    def middle(node: Node) -> float:
        found = [where[other] for other in near[node] if other in where]
        return sum(found) / len(found) if found else where.get(node, 0.0)

    nodes.sort(key=middle)
    # Counted from the middle: a part of a short layer stands near the middle of the picture.
    where.update({node: k + 0.5 - len(nodes) / 2 for k, node in enumerate(nodes)})


def _line(way: Sequence[Node], ways: Ways, at: Mapping[Node, svg.Point]) -> str:
    """Path data of a line from the top of one box, through the rooms left for it, to another."""
    leaving = [other[1] for other in ways.values() if other[0] == way[0]]
    arriving = [other[-2] for other in ways.values() if other[-1] == way[-1]]
    point = (_port(at, way[0], leaving, way[1]), at[way[0]][1])
    path = ""
    for node in way[1:-1]:
        x, y = at[node][0] + boxes.WIDTH / 2, at[node][1]
        path += svg.bow(point, (x, y + boxes.HEIGHT)) + f" L{svg.number(x)} {svg.number(y)} "
        point = (x, y)
    end = (_port(at, way[-1], arriving, way[-2]), at[way[-1]][1] + boxes.HEIGHT)
    return path + svg.bow(point, end)


def _port(at: Mapping[Node, svg.Point], node: Node, others: Sequence[Node], other: Node) -> float:
    """Where on a box the line to another begins: those further left begin further left."""
    order = sorted(others, key=lambda each: at[each])
    share = (order.index(other) + 1) / (len(order) + 1)
    return at[node][0] + boxes.WIDTH * (0.2 + 0.6 * share)
