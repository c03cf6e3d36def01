"""The table reading: where every part stands, for many codes at once.

A *row* is one code; a *column* is a Python integer whose bit t answers a yes-or-no question
about row t.  One ``&`` or ``|`` then works on every row together, so the law of a part is
tabulated over all codes, over all pairs of codes or over a whole log in one stroke.

The place of a part is given by one column for each of its cuts (see
:mod:`mechlogic.model.mechanism`): the part stands at place k in the rows where it has passed
exactly k cuts.  This is threshold decomposition: max and min act on every cut by itself as OR and
AND.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from mechlogic.helpers.kept import kept
from mechlogic.model.mechanism import Law, Mechanism, Ways

Column = int
Columns = tuple[Column, ...]
Change = Callable[[Columns], Columns]
"""What the place of a part becomes, given the place that its law asks for."""

View = Callable[[Mapping[str, Columns]], Columns]
"""Where one follower finds a part, given the places of the parts worked out before it."""


@dataclass(frozen=True)
class Rows:
    """The codes a table runs over, in order; bit i of a code is b(i+1)."""

    codes: tuple[int, ...]

    @cached_property
    def every(self) -> Column:
        """The column that says yes in every row."""
        return (1 << len(self.codes)) - 1

    @kept(None)
    def bit(self, number: int) -> Column:
        """The rows whose code has bit b(*number*) set; *number* counts from 1."""
        return self.where(code >> (number - 1) & 1 for code in self.codes)

    @kept(None)
    def only(self, code: int) -> Column:
        """The rows with just this code."""
        return self.where(code == other for other in self.codes)

    def where(self, answers: Iterable[object]) -> Column:
        """The column of the given yes-or-no answers, one for each row."""
        told = "".join("1" if answer else "0" for answer in answers)
        return int(told[::-1] or "0", 2)  # a million rows at once, not one by one


@dataclass(frozen=True)
class Worlds:
    """One code, in so many worlds: a row for each of them.

    Attributes:
        code: The code as it is sent, with its parity bit.
        times: How many worlds there are.
    """

    code: int
    times: int

    @cached_property
    def every(self) -> Column:
        """The column that says yes in every row."""
        return (1 << self.times) - 1

    def bit(self, number: int) -> Column:
        """Every row if the code has bit b(*number*) set, or else none."""
        return self.every if self.code >> (number - 1) & 1 else 0

    def only(self, code: int) -> Column:
        """Every row if this is the code, or else none."""
        return self.every if code == self.code else 0


@dataclass(frozen=True)
class Changes:
    """What stands in the place of healthy laws.

    Attributes:
        parts: For a part, what its place becomes, given the place that its law asks for.
        views: For (follower, part), where this one follower finds the part.
        before: For a latch, where it stood before; at rest if left out.
    """

    parts: Mapping[str, Change] = field(default_factory=dict)
    views: Mapping[tuple[str, str], View] = field(default_factory=dict)
    before: Mapping[str, Columns] = field(default_factory=dict)

    @cached_property
    def touched(self) -> frozenset[str]:
        """The parts whose law, whose view of another part or whose memory is changed."""
        return frozenset(self.parts) | {follower for follower, _ in self.views} | set(self.before)


HEALTHY = Changes()


@dataclass(frozen=True)
class Table:
    """Where the parts stand.

    Attributes:
        places: For each part, one column for each of its cuts.
        asked: For each part with a changed law, and each one that remembers, where its healthy law
            asked it to stand.
        views: For (follower, part), where this one follower finds the part instead; for followers
            that are no parts themselves.
    """

    places: Mapping[str, Columns]
    asked: Mapping[str, Columns]
    views: Mapping[tuple[str, str], Columns]

    def seen(self, follower: str, part: str) -> Columns:
        """Where a follower finds a part."""
        return self.views.get((follower, part), self.places[part])

    def in_row(self, row: int) -> dict[str, int]:
        """Where every part stands in one row, by the number of its place."""
        return {name: place_in_row(columns, row) for name, columns in self.places.items()}


def tabulate(
    mechanism: Mechanism,
    rows: Rows | Worlds,
    changes: Changes = HEALTHY,
    base: Table | None = None,
) -> Table:
    """Tabulate every part of a mechanism.

    Args:
        mechanism: The parts.
        rows: The codes.
        changes: Faults, as terms that replace healthy ones.
        base: The healthy table of the same rows, if at hand: only parts that the changes can
            reach are then worked out anew.
    """
    every = rows.every
    places: dict[str, Columns] = dict(base.places) if base else {}
    asked: dict[str, Columns] = {}
    for name in _order(mechanism, changes, base):
        part = mechanism.parts[name]
        law = mechanism.laws[name]
        if part.joint.given:
            place: Columns = (_given(mechanism, name, rows),)
        else:
            inputs = [_seen(name, other, changes, places) for other in part.joint.inputs]
            if part.joint.remembers:
                at_rest = standing(mechanism.rest[name], len(law.cuts), every)
                inputs.append(changes.before.get(name, at_rest))
            place = asked_by(law, inputs, every)
        if name in changes.parts or part.joint.remembers:
            asked[name] = place
        if name in changes.parts:
            place = changes.parts[name](place)
        places[name] = place
    outside = {
        link: view(places) for link, view in changes.views.items() if link[0] not in mechanism.parts
    }
    return Table(places, asked, outside)


def _given(mechanism: Mechanism, name: str, rows: Rows | Worlds) -> Column:
    """The rows in which what is sent sets a code bar or presses a key."""
    bar = mechanism.bars.get(name)
    return rows.bit(bar.bit) if bar else rows.only(mechanism.keys[name].code)


def asked_by(law: Law, inputs: Sequence[Columns], every: Column) -> Columns:
    """Where a law asks its part to stand, given its inputs; last, where a latch stood before."""
    return tuple(_column(ways, inputs, every) for ways in law.cuts)


def _seen(follower: str, part: str, changes: Changes, places: Mapping[str, Columns]) -> Columns:
    view = changes.views.get((follower, part))
    return places[part] if view is None else view(places)


def without(column: Column, other: Column) -> Column:
    """The rows of a column that are not in another one.

    Python's integers are slow below nought, so this is several times as fast as ``& ~``.
    """
    return (column | other) ^ other


def at_place(columns: Columns, place: int, every: Column) -> Column:
    """The rows in which a part with these cut columns stands at the place of that number."""
    passed = columns[place - 1] if place else every
    return without(passed, columns[place]) if place < len(columns) else passed


def standing(place: int, n_cuts: int, every: Column) -> Columns:
    """The cut columns of a part that stands at the same place in every row."""
    return (every,) * place + (0,) * (n_cuts - place)


def place_in_row(columns: Columns, row: int) -> int:
    """The number of the place at which a part stands in one row."""
    return sum(column >> row & 1 for column in columns)


def _order(mechanism: Mechanism, changes: Changes, base: Table | None) -> Sequence[str]:
    if base is None:
        return tuple(mechanism.parts)
    return mechanism.cone(changes.touched)


def _column(ways: Ways, inputs: Sequence[Columns], every: Column) -> Column:
    column = 0
    for way in ways:
        rows = every
        for sense in way:
            passed = inputs[sense.input][sense.cut]
            rows = rows & passed if sense.passed else without(rows, passed)
        column |= rows
    return column
