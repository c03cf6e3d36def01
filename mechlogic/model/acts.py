"""What faults do, and in which rows of a table: one place for one world, or for thousands at once.

A fault does one thing or another as chance has it; each thing that it may do is an *act*.  Acts are
gathered with the rows in which they happen, and then stand in the place of healthy laws.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

from mechlogic.model.machine import Machine
from mechlogic.model.table import (
    Change,
    Changes,
    Column,
    Columns,
    Rows,
    Table,
    View,
    Worlds,
    without,
)


@dataclass(frozen=True)
class Stands:
    """A part stands at a place, whatever it is asked for."""

    part: str
    place: int


@dataclass(frozen=True)
class Late:
    """A part takes, at speed, the higher or the lower of two places.

    They are the place it is asked for and the place it remembers.
    """

    part: str
    higher: bool


@dataclass(frozen=True)
class Found:
    """One follower finds a part at a place, wherever it stands.

    A follower that is *unhooked* from the part finds it at rest, whatever else may be wrong.
    """

    part: str
    follower: str
    place: int
    unhooked: bool = False


@dataclass(frozen=True)
class Stays:
    """A latch stays where it stood before."""

    part: str


@dataclass(frozen=True)
class Swapped:
    """Two parts have changed places, for all that both of them are sensed by."""

    part: str
    other: str


@dataclass(frozen=True)
class Reads:
    """Some of the type shows something else.

    Attributes:
        cells: (cell, what it shows).
    """

    cells: tuple[tuple[int, str], ...]


Act = Stands | Late | Found | Stays | Swapped | Reads
"""What one fault does."""

ByPlace = dict[int, Column]


def _by_part() -> dict[str, ByPlace]:
    return defaultdict(lambda: defaultdict(int))


def _by_link() -> dict[tuple[str, str], ByPlace]:
    return defaultdict(lambda: defaultdict(int))


@dataclass(frozen=True)
class Acts:
    """Acts with their rows: where parts stand, what they remember, what others find.

    What a follower that is unhooked finds goes before all else that it may find.

    Attributes:
        machine: The machine.
        past: For each part that remembers, the place that it remembers, in each row.
        worn: For each cell whose type is not as it should be, what it shows and in which rows.
    """

    machine: Machine
    past: dict[str, Columns]
    stuck: dict[str, ByPlace] = field(default_factory=_by_part)
    late: dict[str, ByPlace] = field(default_factory=_by_part)
    stays: dict[str, Column] = field(default_factory=lambda: defaultdict(int))
    swapped: dict[tuple[str, str], Column] = field(default_factory=lambda: defaultdict(int))
    found: dict[tuple[str, str], ByPlace] = field(default_factory=_by_link)
    unhooked: dict[tuple[str, str], ByPlace] = field(default_factory=_by_link)
    worn: dict[int, dict[str, Column]] = field(
        default_factory=lambda: defaultdict(lambda: defaultdict(int))
    )

    def add(self, acts: Iterable[Act], rows: Column) -> None:
        """Let some acts happen in some rows."""
        for act in acts:
            match act:
                case Stands(name, place):
                    self.stuck[name][place] |= rows
                case Late(name, higher):
                    self.late[name][higher] |= rows
                case Found(name, follower, place, unhooked):
                    (self.unhooked if unhooked else self.found)[follower, name][place] |= rows
                case Stays(name):
                    self.stays[name] |= rows
                case Swapped(name, other):
                    self.swapped[name, other] |= rows
                    self.swapped[other, name] |= rows
                case Reads(cells):
                    for cell, shown in cells:
                        self.worn[cell][shown] |= rows

    def changes(self, rows: Rows | Worlds, at_speed: Column) -> Changes:
        """All of it, as changes of the laws.

        Args:
            rows: The rows.
            at_speed: Those driven at speed; in the others the shaft is turned by hand, and
                sluggish parts have all the time they need.
        """
        mechanism = self.machine.mechanism
        given: dict[str, list[tuple[Column, Column]]] = defaultdict(list)
        elsewhere: dict[tuple[str, str], dict[str, Column]] = defaultdict(dict)
        for (name, other), some in self.swapped.items():
            if name in mechanism.bars:
                given[name].append((rows.bit(mechanism.bars[other].bit), some))
            else:
                for follower in both_sensed(self.machine, name, other):
                    elsewhere[follower, name][other] = some
        late = {
            name: {higher: some & at_speed for higher, some in ways.items()}
            for name, ways in self.late.items()
        }
        parts: dict[str, Change] = {
            name: partial(
                _acting,
                given=given[name],
                stays=self.stays.get(name, 0),
                late=late.get(name, {}),
                past=self.past.get(name, ()),
                stuck=self.stuck.get(name, {}),
            )
            for name in {**self.stuck, **self.late, **self.past, **self.stays, **given}
        }
        views: dict[tuple[str, str], View] = {
            link: partial(
                _viewed,
                part=link[1],
                others=elsewhere[link],
                masks=(self.found.get(link, {}), self.unhooked.get(link, {})),
            )
            for link in {**self.found, **self.unhooked, **elsewhere}
        }
        before = {name: self.past[name] for name in mechanism.latches}
        return Changes(parts, views, before)

    def remembered(self, table: Table, name: str) -> Columns:
        """What a part remembers after each row: where it was asked to stand.

        A latch that stayed or was held remembers where it stands.
        """
        held = 0
        if name in self.machine.mechanism.latches:
            held = self.stays.get(name, 0)
            for rows in self.stuck.get(name, {}).values():
                held |= rows
        pairs = zip(table.asked[name], table.places[name], strict=True)
        return tuple(without(asked, held) | its & held for asked, its in pairs)


def both_sensed(machine: Machine, one: str, other: str) -> set[str]:
    """The parts that sense both of two parts."""
    followers = machine.mechanism.followers
    return set(followers[one]) & set(followers[other])


def _acting(
    asked: Columns,
    given: Sequence[tuple[Column, Column]],
    stays: Column,
    late: Mapping[int, Column],
    past: Columns,
    stuck: Mapping[int, Column],
) -> Columns:
    """Where a part stands that is asked to stand so; where it is late, *past* says where it was."""
    found = asked
    for column, rows in given:
        found = (without(found[0], rows) | column & rows,)
    if stays:
        found = _between(found, past, lambda now, then: without(now, stays) | then & stays)
    if late:
        higher, lower = late.get(True, 0), late.get(False, 0)
        found = _between(
            found, past, lambda now, then: without(now | then & higher, without(lower, then))
        )
    return _overlaid(found, stuck)


def _between(now: Columns, past: Columns, law: Callable[[Column, Column], Column]) -> Columns:
    return tuple(map(law, now, past))


def _viewed(
    places: Mapping[str, Columns],
    part: str,
    others: Mapping[str, Column],
    masks: Iterable[Mapping[int, Column]],
) -> Columns:
    """Where a follower finds a part: another one in some rows, a certain place in others."""
    columns = places[part]
    for other, rows in others.items():
        pairs = zip(columns, places[other], strict=True)
        columns = tuple(without(own, rows) | its & rows for own, its in pairs)
    for mask in masks:
        columns = _overlaid(columns, mask)
    return columns


def _overlaid(columns: Columns, masks: Mapping[int, Column]) -> Columns:
    """The columns, but in some rows those of a part that stands at a certain place."""
    for place, rows in masks.items():
        columns = tuple(
            column | rows if place > cut else without(column, rows)
            for cut, column in enumerate(columns)
        )
    return columns
