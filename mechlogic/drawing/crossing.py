"""Many uprights across the same few bars: pull bars over notched code bars, keys over coding bars.

A machine gets this picture for its structure, not for its name: it has several pull bars that sense
nothing but code bars, or several keys that push the same bars.  The bars lie across, one below the
other, and the uprights stand side by side in front of them, in the order of the description.

A *pull bar* has a tooth at each bar that it senses, and each of these bars has a notch for it: the
tooth finds it when the bar stands as that pull bar needs it.  Where all do, the pull bar drops; if
it swings a typebar, the type rises above it.  A *key* has a lug above each bar that it pushes; a
contact that a bar closes stands at the bar's end.

All other parts have boxes of their own above, in a row or in layers (see
:mod:`mechlogic.drawing.boxes`).
Travel is not drawn to scale: the part that moves furthest moves by :data:`FURTHEST`.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from textwrap import wrap

from mechlogic.drawing import boxes
from mechlogic.drawing.figure import Figure, Group, Unplaced
from mechlogic.drawing.layered import MOST_IN_A_ROW, Plan
from mechlogic.helpers import svg
from mechlogic.model.laws import EitherPushes
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import Actions, Typebars, singles

FEWEST = 4
"""With fewer uprights the layers serve as well."""

WIDTH, MARGIN = 1000.0, 12.0
NARROWEST, WIDEST = 24.0, 62.0  # distance between two uprights
FURTHEST = 12.0  # travel of the part that moves furthest, in px
LETTER = 8.4  # width of a letter of a name
LONGEST_LINE = 12
NAMES_AT_ENDS = 84.0  # room for the names of contacts
SLUG = 22.0  # width of a piece of type, or of a key's cap at the least
RISE = 14.0  # how far a typebar's type rises
LINE = 19.0  # height of a line on a piece of type
CAP = 30.0  # height of a key's cap
END = 11.0  # from the end of a bar to the room of the first upright
GAP = 34.0  # between the boxes and the heads of the uprights
GAP_X, ARC = 12.0, 24.0
LANE = 6.0  # between two lines beside the ends of the bars


def figure(machine: Machine) -> Figure:
    """Draw the crossing.

    Raises:
        Unplaced: If the machine is not built like that, or has too many uprights for the room.
    """
    return _Crossing(machine).figure()


@dataclass
class _Crossing:
    """One picture of one machine."""

    machine: Machine

    def figure(self) -> Figure:
        if len(self.uprights) < FEWEST or not self.bars:
            raise Unplaced("there are not many uprights over the same bars")
        if self.pitch < NARROWEST:
            raise Unplaced("there are more uprights than there is room for")
        groups = [self.bar(name) for name in self.bars]
        groups += [boxes.contact(name, self.contact_at(bar)) for bar, name in self.contacts.items()]
        for name in self.uprights:
            groups += self.upright(name)
        behind = [
            *self.links(),
            *self.links_between(),
            *map(boxes.contact_ground, map(self.contact_at, self.contacts)),
        ]
        before = [*self.names()]
        for name, at in self.box_at.items():
            part, ground = boxes.boxed(self.machine, name, at)
            groups.append(part)
            behind += ground
            before += boxes.names(self.machine, name, at)
        return Figure(self.width, self.foot + MARGIN, groups, behind, before)

    # -- what crosses what ------------------------------------------------------------------------

    @cached_property
    def keyed(self) -> bool:
        """Whether the uprights are keys."""
        return not self.pull_bars

    @cached_property
    def pull_bars(self) -> list[str]:
        bars = set(self.machine.mechanism.bars)
        return [
            part.name
            for part in self.machine.mechanism
            if part.joint.sensed and bars.issuperset(part.joint.inputs)
        ]

    @cached_property
    def uprights(self) -> list[str]:
        return self.pull_bars or list(self.machine.mechanism.keys)

    @cached_property
    def bars(self) -> list[str]:
        """What lies across, the topmost first."""
        mechanism = self.machine.mechanism
        if self.pull_bars:
            return sorted(mechanism.bars, key=lambda name: mechanism.bars[name].bit)
        keys = set(mechanism.keys)
        return [
            part.name
            for part in mechanism
            if isinstance(part.joint, EitherPushes) and keys.issuperset(part.joint.inputs)
        ]

    @cached_property
    def contacts(self) -> Mapping[str, str]:
        """For each bar that closes a contact when it is pushed, the contact."""
        found: dict[str, str] = {}
        for part in self.machine.mechanism:
            if self.keyed and part.joint.electric and part.joint.inputs[0] in self.bars:
                found.setdefault(part.joint.inputs[0], part.name)
        return found

    @cached_property
    def others(self) -> list[str]:
        """The parts that get boxes."""
        placed = {*self.uprights, *self.bars, *self.contacts.values()}
        return [name for name in self.machine.mechanism.parts if name not in placed]

    # -- where things are -------------------------------------------------------------------------

    @cached_property
    def left(self) -> float:
        """Left end of the bars, at rest."""
        lines = [line for name in self.bars for line in self.name_lines(name)]
        return MARGIN + max(map(len, lines)) * LETTER + 10

    @cached_property
    def beside(self) -> float:
        """Room to the right of the bars."""
        ends = boxes.SPRING + NAMES_AT_ENDS if self.contacts else FURTHEST
        return MARGIN + self.lanes + ends

    @cached_property
    def lanes(self) -> float:
        """Room for the lines that run up beside everything else."""
        return LANE * len(self.laned) + (10 if self.laned else 0)

    @cached_property
    def pitch(self) -> float:
        room = (WIDTH - self.left - self.beside - 2 * END) / len(self.uprights)
        return min(max(WIDEST, self.longest * LETTER + 8), room)

    @cached_property
    def longest(self) -> int:
        """Letters in the longest word above an upright."""
        return max(
            (len(self.full_word(n)) for n in self.uprights if not self.type_of(n)), default=0
        )

    @cached_property
    def right(self) -> float:
        """Right end of the bars, at rest."""
        return self.left + len(self.uprights) * self.pitch + 2 * END

    @cached_property
    def width(self) -> float:
        row = len(self.others) * self.step - GAP_X
        boxed = self.plan.width if self.plan else row
        return max(self.right + self.beside, 2 * MARGIN + boxed + self.lanes)

    @cached_property
    def plan(self) -> Plan | None:
        """The layers of the boxes, if one row does not hold them."""
        many = len(self.others) > MOST_IN_A_ROW
        return Plan.of(self.machine, self.others) if many else None

    @cached_property
    def step(self) -> float:
        return boxes.WIDTH + GAP_X

    def x(self, name: str) -> float:
        """The middle of an upright."""
        return self.left + END + (self.uprights.index(name) + 0.5) * self.pitch

    @cached_property
    def heads(self) -> float:
        """Top of the heads of the uprights."""
        if not self.box_at:
            return MARGIN + (0 if self.keyed else RISE)
        rows = {top for _, top in self.box_at.values()}
        return max(rows) + boxes.HEIGHT + GAP + (len(self.laned) * 4 if self.plan else 0)

    @cached_property
    def head(self) -> float:
        """Height of the heads."""
        if self.keyed:
            return CAP
        words = [name for name in self.uprights if not self.type_of(name)]
        lines = max((len(self.type_of(name)) for name in self.uprights), default=0)
        written = [LINE if self.lies(name) else len(self.word(name)) * LETTER for name in words]
        return max(lines * LINE + 6, *written, 0) + 6

    @property
    def bars_top(self) -> float:
        return self.heads + self.head + (16 if self.keyed else 22)

    @property
    def bar_pitch(self) -> float:
        return 36.0 if self.keyed else 34.0

    @property
    def thick(self) -> float:
        return 12.0 if self.keyed else 22.0

    def top(self, bar: str) -> float:
        return self.bars_top + self.bars.index(bar) * self.bar_pitch

    @property
    def foot(self) -> float:
        return self.bars_top + len(self.bars) * self.bar_pitch

    @cached_property
    def scale(self) -> float:
        laws = self.machine.mechanism.laws
        return FURTHEST / max(float(laws[name].full) for name in (*self.uprights, *self.bars))

    def travel(self, name: str) -> list[float]:
        law = self.machine.mechanism.laws[name]
        return [self.scale * float(place) for place in law.places]

    def contact_at(self, bar: str) -> svg.Point:
        return self.right + boxes.SPRING - 10, self.top(bar) + self.thick + 6

    # -- bars and uprights ------------------------------------------------------------------------

    def bar(self, name: str) -> Group:
        top, low = self.top(name), self.top(name) + self.thick
        edge = [(self.left, top)]
        for x in sorted(self.notches(name)):
            deep = top + FURTHEST + 1
            edge += [(x - 5, top), (x - 5, deep), (x + 5, deep), (x + 5, top)]
        edge += [(self.right, top), (self.right, low), (self.left, low)]
        moves = [svg.shift(0, d) if self.keyed else svg.shift(d) for d in self.travel(name)]
        return Group(name, "bar", svg.solid(svg.outline(edge)), moves)

    def notches(self, bar: str) -> Iterator[float]:
        """Where a bar at rest has notches: one that it shows when operated waits to the left."""
        for name in self.pull_bars:
            joint = self.machine.mechanism[name].joint
            for notch in joint.sensed:
                if notch.part == bar:
                    yield self.x(name) - (self.travel(bar)[-1] if notch.operated else 0.0)

    def upright(self, name: str) -> Iterator[Group]:
        x, start = self.x(name), self.heads + self.head
        poses = [svg.shift(0, d) for d in self.travel(name)]
        if self.keyed:
            yield Group(name, "key", self.key(name, x), poses)
            return
        sensed = [self.top(bar) for bar in self.machine.mechanism[name].joint.inputs]
        pieces = [svg.box(x + 5, start, x + 8, max(sensed) - 6), svg.card(*self.hook(x, start), 2)]
        for top in sensed:
            pieces += [svg.box(x - 3, top - 10, x + 3, top), svg.box(x, top - 10, x + 7, top - 6)]
        yield Group(name, "pull-bar", svg.solid(*pieces), poses)
        if self.type_of(name):
            ways = [svg.shift(0, -RISE * d / FURTHEST) for d in self.travel(name)]
            yield Group(name, "typebar", self.slug(name, x), ways, spot=2)

    def hook(self, x: float, start: float) -> tuple[float, float, float, float]:
        """The head of a pull bar."""
        return x - 3, start, x + 8, start + 8

    def slug(self, name: str, x: float) -> str:
        lines, low = self.type_of(name), self.heads + self.head - 4
        top = low - len(lines) * LINE - 4
        half = min(SLUG, self.pitch - 4) / 2
        body = svg.solid(svg.card(x - half, top, x + half, low, 3), kind="type-wheel")
        for k, letter in enumerate(lines):
            if letter != " ":
                body += svg.text(x, top + LINE * (k + 1) - 3, letter, "slug", "middle")
        return body

    def key(self, name: str, x: float) -> str:
        stem = svg.box(x - 2.5, self.heads + CAP - 2, x + 2.5, self.foot - 8)
        lugs = []
        for bar in self.bars:
            if name in self.machine.mechanism[bar].joint.inputs:
                slack = self.travel(name)[-1] - self.travel(bar)[-1]
                low = self.top(bar) - max(slack, 0.0) - 1
                lugs.append(svg.box(x - 8, low - 7, x + 8, low))
        word = self.word(name)
        half = min(max(SLUG, len(word) * LETTER + 8), self.pitch - 3) / 2
        cap = svg.card(x - half, self.heads, x + half, self.heads + CAP, 5)
        letters = svg.text(x, self.heads + CAP / 2 + 6, word, "slug", "middle")
        return svg.solid(stem, *lugs, cap) + letters

    # -- names ------------------------------------------------------------------------------------

    def name_lines(self, name: str) -> list[str]:
        label = self.machine.label(name)
        return wrap(label, LONGEST_LINE, max_lines=2, placeholder=" …")

    @cached_property
    def common(self) -> set[str]:
        """Words in the name of every upright, which need not be written above each."""
        words = [set(self.machine.label(name).split()) for name in self.uprights]
        return set.intersection(*words)

    def word(self, name: str) -> str:
        """What is written above an upright: the name of what it does, if there is little room."""
        word = self.full_word(name)
        return word if self.level_words else self._shows.get(name, word)

    @cached_property
    def _shows(self) -> Mapping[str, str]:
        outputs = [one for one in singles(self.machine.output) if isinstance(one, Actions)]
        return {action.lever: action.shows for one in outputs for action in one.actions}

    def full_word(self, name: str) -> str:
        if key := self.machine.mechanism.keys.get(name):
            return self.machine.code.name(key.code)
        label = self.machine.label(name)
        return " ".join(word for word in label.split() if word not in self.common) or label

    def type_of(self, name: str) -> tuple[str, ...]:
        """The characters on the typebar that an upright swings, if it swings one."""
        return self._types.get(name, ())

    @cached_property
    def _types(self) -> Mapping[str, tuple[str, ...]]:
        outputs = [one for one in singles(self.machine.output) if isinstance(one, Typebars)]
        return {bar.pull: tuple(bar.type) for one in outputs for bar in one.bars}

    @cached_property
    def level_words(self) -> bool:
        """Whether the words above the uprights have room to lie level."""
        return self.longest * LETTER + 6 <= self.pitch

    def lies(self, name: str) -> bool:
        """Whether the word above an upright lies level."""
        return len(self.word(name)) * LETTER + 6 <= self.pitch

    def names(self) -> Iterator[str]:
        for name in self.bars:
            yield from self.lines_at(name, self.left - 8, self.top(name) + self.thick / 2, "end")
        for bar, name in self.contacts.items():
            x, y = self.contact_at(bar)
            yield from self.lines_at(name, x + 14, y + 4, "start")
        if self.keyed:
            return
        for name in self.uprights:
            if self.type_of(name):
                continue
            x, low = self.x(name), self.heads + self.head - 6
            if self.lies(name):
                yield svg.text(x + 3, low, self.word(name), "name", "middle")
            else:
                yield svg.text_upright(x + 8, low, self.word(name), "name")

    def lines_at(self, name: str, x: float, middle: float, anchor: str) -> Iterator[str]:
        lines = self.name_lines(name)
        for k, line in enumerate(lines):
            yield svg.text(x, middle + 5 + 15 * (k - (len(lines) - 1) / 2), line, "name", anchor)

    # -- boxes and links --------------------------------------------------------------------------

    @cached_property
    def box_at(self) -> Mapping[str, svg.Point]:
        """The boxes in layers, or in a row, each as near as can be to what it touches."""
        if self.plan:
            room = self.width - 2 * MARGIN - self.lanes - self.plan.width
            at = self.plan.placed((MARGIN + room / 2, MARGIN))
            return {name: at[name,] for name in self.others}
        middle: dict[str, float] = {name: self.x(name) for name in self.uprights}
        middle |= dict.fromkeys((*self.bars, *self.contacts.values()), self.right)
        for name in self.others:
            inputs = self.machine.mechanism[name].joint.inputs or (self.bars[0],)
            middle[name] = sum(middle[other] for other in inputs) / len(inputs)
        order = sorted(self.others, key=lambda name: middle[name])
        lefts: list[float] = []
        for name in order:
            least = lefts[-1] + self.step if lefts else MARGIN
            lefts.append(max(least, middle[name] - boxes.WIDTH / 2))
        most = self.width - MARGIN - self.lanes + GAP_X
        for k in reversed(range(len(lefts))):
            most -= self.step
            lefts[k] = max(MARGIN + k * self.step, min(lefts[k], most))
            most = lefts[k]
        top = MARGIN + (ARC if self.arched(order) else 0.0)
        return {name: (left, top) for name, left in zip(order, lefts, strict=True)}

    def arched(self, order: Sequence[str]) -> bool:
        """Whether a line leads from one box over another."""
        return any(
            abs(order.index(name) - order.index(other)) > 1
            for name in order
            for other in self.machine.mechanism[name].joint.inputs
            if other in order
        )

    @cached_property
    def laned(self) -> list[str]:
        """The bars, and the contacts at their ends, that parts in boxes touch directly."""
        inputs = {i for name in self.others for i in self.machine.mechanism[name].joint.inputs}
        ends = [end for bar in self.bars for end in (bar, self.contacts.get(bar)) if end]
        return [end for end in ends if end in inputs]

    def links(self) -> Iterator[str]:
        """A line to each part in a box from each part that it touches and that is in none."""
        for name, (_, top) in self.box_at.items():
            for other in dict.fromkeys(self.machine.mechanism[name].joint.inputs):
                if other in self.box_at:
                    continue
                end = (self.port(name, other), top + boxes.HEIGHT)
                if other in self.uprights:
                    start = (self.x(other) + (0 if self.keyed else 3), self.above(other))
                    yield svg.drawn("link", svg.bow(start, end))
                else:
                    yield svg.drawn("link", self.lane(other, end))

    def links_between(self) -> Iterator[str]:
        """A line between two boxes where one touches the other."""
        if self.plan:
            room = self.width - 2 * MARGIN - self.lanes - self.plan.width
            yield from self.plan.lines(self.plan.placed((MARGIN + room / 2, MARGIN)))
            return
        order = list(self.box_at)
        for name in order:
            for other in dict.fromkeys(self.machine.mechanism[name].joint.inputs):
                if other in self.box_at:
                    yield svg.drawn("link", self.between_boxes(order, other, name))

    def above(self, name: str) -> float:
        """Where a line to a box begins, above the head of an upright and what is written there."""
        if self.keyed:
            return self.heads
        if lines := self.type_of(name):
            return self.heads + self.head - 8 - len(lines) * LINE
        written = LINE if self.lies(name) else len(self.word(name)) * LETTER
        return self.heads + self.head - 10 - written

    def port(self, name: str, other: str) -> float:
        """Where at the foot of a box a line from below arrives: from further left, further left."""
        inputs = dict.fromkeys(self.machine.mechanism[name].joint.inputs)
        below = [other for other in inputs if other not in self.box_at]
        below.sort(key=lambda i: self.x(i) if i in self.uprights else self.right - self.level(i))
        share = (below.index(other) + 1) / (len(below) + 1)
        return self.box_at[name][0] + boxes.WIDTH * (0.2 + 0.6 * share)

    def level(self, end: str) -> float:
        """Height of the end of a bar, or of the contact there."""
        for bar, contact in self.contacts.items():
            if contact == end:
                return self.contact_at(bar)[1] + 9
        return self.top(end) + self.thick / 2

    def lane(self, other: str, end: svg.Point) -> str:
        """Path data of a line from the end of a bar, up beside the others, to a box."""
        number, n = self.laned.index(other), len(self.laned)
        start = self.right + self.beside - MARGIN - self.lanes + 6
        across = end[1] + 6 + number * min(7.0, 26 / n)
        lane = self.width - MARGIN - LANE * (n - 1 - number)
        level = self.level(other)
        ways = [(start, level), (lane, level), (lane, across), (end[0], across), end]
        return svg.outline(ways, closed=False)

    def between_boxes(self, order: Sequence[str], one: str, other: str) -> str:
        """Path data of a line between two boxes of the row: beside, or over those between."""
        (x, y), (u, v) = self.box_at[one], self.box_at[other]
        far = abs(order.index(one) - order.index(other))
        if far == 1:
            near, away = (x + boxes.WIDTH, u) if x < u else (x, u + boxes.WIDTH)
            level = y + boxes.HEIGHT / 2
            return svg.outline([(near, level), (away, level)], closed=False)
        start, end = x + boxes.WIDTH / 2, u + boxes.WIDTH / 2
        start += (8 if u > x else -8) * (far - 1)
        height = y - ARC - 4
        first, *others = (
            f"{svg.number(a)} {svg.number(b)}"
            for a, b in ((start, y), (start, height), (end, height), (end, v))
        )
        return f"M{first} C{' '.join(others)}"
