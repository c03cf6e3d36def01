"""What a machine shows to the outside: type on paper, actions, or a code on the line.

Every kind of output is a class, and declares the keys of its table in a description.  It follows
some parts of the mechanism and says, for a table of their places, what is seen in each row.  What
is seen is a text as a log has it: a character, the name of a function, several of them joined by
``+`` if they happen at once, or one of the words
:data:`~mechlogic.model.logbook.NOTHING` and :data:`~mechlogic.model.logbook.UNREADABLE`.

==================  ==========================================================================
:class:`TypeWheel`  a wheel or block of type, one character of which faces the hammer
:class:`TypeBar`    a bar of type that is shifted lengthwise
:class:`Typebars`   one bar for each character or pair of characters, swung by a pull bar
:class:`Actions`    levers that each do one thing: return the carriage, ring the bell
:class:`Line`       contacts that put a code on the line
:class:`Both`       two outputs of one machine, such as typebars and actions
==================  ==========================================================================
"""

from abc import ABC, abstractmethod
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import reduce
from itertools import pairwise
from operator import or_
from typing import Any, ClassVar

from mechlogic.helpers.kept import kept
from mechlogic.helpers.sentences import figure
from mechlogic.model.codes import ALPHABETS, PARITIES, Code, is_function, shown, with_parity
from mechlogic.model.keys import (
    FieldKey,
    Wrong,
    above_zero,
    keys_of,
    line,
    numbers,
    part,
    parts,
    tables,
    text,
    texts,
    together,
)
from mechlogic.model.logbook import NOTHING, UNREADABLE
from mechlogic.model.mechanism import Mechanism
from mechlogic.model.table import Column, Table, at_place, without

OUTPUT = "print"
"""Name under which the output itself follows parts; no part may be called so."""

Prints = Mapping[str, Column]
"""For each thing that can be seen, the rows in which it is seen."""

Worn = Mapping[int, Mapping[str, Column]]
"""For a cell whose type is not as it should be, what it shows instead, and in which rows."""

AS_MADE: Worn = {}
"""All type as it should be."""


@dataclass(frozen=True)
class Layout:
    """How the type of an output is laid out on a flat sheet.

    Attributes:
        title: What it shows.
        rows: A heading for each row, top row first.
        columns: A heading for each column.
        cells: For each row, the number of the cell in each column, or None where there is none.
        up: What the headings of the rows say, with its unit; empty if there is nothing to say.
        across: The same of the columns.
        does: For a cell that stands for a doing and not for a character, what is done.
    """

    title: str
    rows: tuple[str, ...]
    columns: tuple[str, ...]
    cells: tuple[tuple[int | None, ...], ...]
    up: str = ""
    across: str = ""
    does: Mapping[int, str] = field(default_factory=dict)


class Output(ABC):
    """What every kind of output offers.

    The first sentence of its docstring stands on the page about descriptions.

    Attributes:
        name: The name of its table in a description; empty for what has no table of its own.
        verb: What it does with a character: ``"prints"`` or ``"sends"``; empty if it shows none.
        type_key: The key of its type, if it has any; what is there twice or is not used is then
            declared beside it.
    """

    name: ClassVar[str] = ""
    verb: ClassVar[str] = ""
    type_key: ClassVar[str] = ""

    @property
    @abstractmethod
    def parts(self) -> tuple[str, ...]:
        """The parts that the output follows."""

    @property
    def selects(self) -> tuple[str, ...]:
        """Those of the parts that choose what is seen, not whether it is seen."""
        return self.parts

    @property
    def strikes(self) -> tuple[str, ...]:
        """Those of the parts that make it seen, last in a cycle: a hammer, a function lever."""
        return self.parts

    @property
    @abstractmethod
    def glyphs(self) -> tuple[str, ...]:
        """What each cell shows; a blank for an empty place."""

    @property
    def muddle(self) -> str:
        """What has happened where nothing of this can be read; empty if that never happens."""
        return ""

    @abstractmethod
    def layout(self) -> Layout:
        """The cells on a flat sheet."""

    @abstractmethod
    def cells(self, mechanism: Mechanism, table: Table, every: Column) -> Mapping[int, Column]:
        """For each cell, the rows in which it is chosen, whether or not it is then struck."""

    @property
    @abstractmethod
    def called(self) -> str:
        """What a person calls it."""

    @abstractmethod
    def prints(
        self, mechanism: Mechanism, table: Table, every: Column, worn: Worn = AS_MADE
    ) -> Prints:
        """What is seen, and in which rows of the table."""

    def wrong(self) -> Iterator[Wrong]:
        """What does not go together among the fields, each of which is right by itself."""
        return iter(())


DECLARED = (
    FieldKey("unused", "texts", "Type that no code prints.", ()),
    FieldKey("repeated", "texts", "Type that is there more than once.", ()),
)
"""What a table declares of its type."""


@dataclass(frozen=True)
class Window:
    """How far type may stand from its place in one direction, in mm or degrees, either way.

    Attributes:
        whole: As far as this the character prints whole, in mm or degrees.
        readable: As far as this it is clipped but can still be read, in mm or degrees.
        size: Height or width of the character, in mm or degrees.
    """

    whole: Fraction
    readable: Fraction
    size: Fraction


def _window(about: str, *keys: str) -> Any:
    """A window by its three keys, of which the last is a height or a width."""
    extent = "Height" if "height" in keys[2] else "Width"
    says = (
        f"How far off its {about} a character may be and still print whole. The three belong "
        "together.",
        "How far off it may be, clipped, and still be read.",
        f"{extent} of the characters.",
    )
    bound = above_zero()
    fields = (FieldKey(*one, bound=bound) for one in zip(keys, ["number"] * 3, says, strict=True))
    return together(Window, *fields)


def _hammer() -> Any:
    says = "The part that strikes when operated; every code prints if left out."
    return part("hammer", says, default="")


@dataclass(frozen=True)
class Direction:
    """One of the two directions in which type is brought to the hammer.

    Attributes:
        name: ``"lift"``, ``"turn"`` or ``"shift"``.
        part: The part that does it; empty if none does.
        stations: Where each row or column stands, in mm or degrees.
        window: How far off it may be; None if nothing is said.
        key: The key of the stations in a description.
        window_keys: The three keys of the window.
    """

    name: str
    part: str
    stations: tuple[Fraction, ...]
    window: Window | None
    key: str
    window_keys: tuple[str, ...]


Stations = tuple[tuple[int, ...], ...]
"""For each row or column of type, numbers of places of the part that brings it to the hammer."""


class Type(Output):
    """A grid of characters, one of which faces the hammer: a type wheel, a block, a bar of type.

    Attributes:
        lift: The part whose place is the elevation of the type, in mm; empty if it is not lifted
            and has a single row.
        turn: The part whose place is the rotation of a wheel, in degrees, or the shift of a bar, in
            mm; empty for a block of type that has a single column.
        hammer: The part that prints when it is operated; empty if every code prints.
        rows: Elevation of each row of characters, lowest first, in mm.
        columns: Rotation (degrees) or shift (mm) that brings each column to the hammer.
        lines: One string for each row, one character for each column.
        kind: What a person calls it: ``"type wheel"``, ``"type block"`` or ``"type bar"``.
        across_is: How it goes across, and in what unit: ``"turn"``, ``"degrees"``.
        up: How far off its lift it may be, in mm; None if nothing is said.
        across: How far off its turn (degrees) or shift (mm) it may be; None if nothing is said.
    """

    type_key = "glyphs"
    verb = "prints"
    across_is: ClassVar[tuple[str, str]]
    lift: str
    turn: str
    hammer: str
    rows: tuple[Fraction, ...]
    columns: tuple[Fraction, ...]
    lines: tuple[str, ...]
    up: Window | None
    across: Window | None

    @property
    @abstractmethod
    def kind(self) -> str:
        """What a person calls it."""

    @property
    def directions(self) -> Iterator[Direction]:
        """The directions that a description can say something of."""
        keys = keys_of(type(self))
        for name, moved_by, stations, window in (
            ("lift", self.lift, "rows", "up"),
            (self.across_is[0], self.turn, "columns", "across"),
        ):
            if stations in keys:
                names = tuple(key.key for key in keys[window].together)
                found = getattr(self, stations), getattr(self, window)
                yield Direction(name, moved_by, *found, keys[stations].key, names)

    def wrong(self) -> Iterator[Wrong]:
        """Stations that stand twice, windows that leave no room, lines that fit no grid."""
        for way in self.directions:
            for i, place in enumerate(way.stations):
                if place in way.stations[:i]:
                    what = f"{figure(place)} is listed twice"
                    yield (way.key, i), what, "Give each its own place."
            if way.window and way.window.readable <= way.window.whole:
                whole, unreadable, _ = way.window_keys
                mend = f"Make it more than {whole}: in between, a character is clipped."
                yield (unreadable,), "it leaves no room for a clipped character", mend
        if self.rows and len(self.lines) != len(self.rows):
            what = f"{len(self.lines)} rows of type for {len(self.rows)} heights"
            yield ("glyphs",), what, "One for each height in rows_mm."
        for i, row in enumerate(self.lines):
            if self.columns and len(row) != len(self.columns):
                places = "angles" if self.across_is == ("turn", "degrees") else "places"
                what = f"{shown(row)} has {len(row)} characters for {len(self.columns)} {places}"
                single = keys_of(type(self))["lines"].kind == "line"
                at = ("glyphs",) if single else ("glyphs", i)
                yield at, what, "One for each; write a blank as a space."

    @property
    def called(self) -> str:
        """What a person calls it."""
        return self.kind

    @property
    def parts(self) -> tuple[str, ...]:
        """The parts that the printing follows."""
        return tuple(filter(None, (self.lift, self.turn, self.hammer)))

    @property
    def selects(self) -> tuple[str, ...]:
        """The parts that bring a character to the hammer."""
        return tuple(filter(None, (self.lift, self.turn)))

    @property
    def strikes(self) -> tuple[str, ...]:
        """The hammer, if there is one."""
        return tuple(filter(None, (self.hammer,)))

    @property
    def glyphs(self) -> tuple[str, ...]:
        """The characters, row by row from the lowest."""
        return tuple("".join(self.lines))

    @property
    def muddle(self) -> str:
        """It has stopped between two rows or columns."""
        return f"the {self.kind} stands between two characters"

    def layout(self) -> Layout:
        """The type laid flat, highest row on top."""
        n = len(self.columns)
        rows = [tuple(range(row * n, row * n + n)) for row in range(len(self.rows))]
        return Layout(
            f"The {self.kind} laid flat",
            tuple(_number(row) if self.lift else "" for row in reversed(self.rows)),
            tuple(_number(column, "+") if self.turn else "" for column in self.columns),
            tuple(reversed(rows)),
            "lift, mm" if self.lift else "",
            ", ".join(self.across_is) if self.turn else "",
        )

    def cells(self, mechanism: Mechanism, table: Table, every: Column) -> Mapping[int, Column]:
        """For each character, the rows in which it faces the hammer."""
        return _crossed(*self._faced(mechanism, table, every))

    def prints(
        self, mechanism: Mechanism, table: Table, every: Column, worn: Worn = AS_MADE
    ) -> Prints:
        """What is printed, and in which rows of the table.

        Type that stands between two columns or rows prints parts of both: unreadable.  A blank
        among the type looks like nothing printed, and is called so.
        """
        struck = table.seen(OUTPUT, self.hammer)[-1] & every if self.hammer else every
        lifted, turned = self._faced(mechanism, table, struck)
        aimed = reduce(or_, lifted) & reduce(or_, turned)
        return _struck(self.glyphs, _crossed(lifted, turned), struck, every, aimed, worn)

    def _faced(
        self, mechanism: Mechanism, table: Table, every: Column
    ) -> tuple[list[Column], list[Column]]:
        """For each line of type, and for each column, the rows in which it faces the hammer."""
        lifts, turns = self._stations(mechanism)
        return (
            self._facing(table, self.lift, lifts, every),
            self._facing(table, self.turn, turns, every),
        )

    def _facing(
        self, table: Table, part: str, stations: Sequence[Sequence[int]], every: Column
    ) -> list[Column]:
        if not part:
            return [every]
        columns = table.seen(OUTPUT, part)
        return [
            reduce(or_, (at_place(columns, place, every) for place in places), 0) & every
            for places in stations
        ]

    @kept(8)
    def _stations(self, mechanism: Mechanism) -> tuple[Stations, Stations]:
        """For each row, and each column, the numbers of the places at which it is struck."""
        heights = mechanism.laws[self.lift].places if self.lift else ()
        angles = mechanism.laws[self.turn].places if self.turn else ()
        return (
            struck_at(self.rows, heights, self.up),
            struck_at(self.columns, angles, self.across),
        )


@dataclass(frozen=True, kw_only=True)
class TypeWheel(Type):
    """A type wheel, or a block of type, one character of which faces the hammer."""

    name = "wheel"
    across_is = ("turn", "degrees")
    lift: str = part("lift", "The part that lifts the type.")
    turn: str = part(
        "turn", "The part that turns it; left out for a block with a single column.", default=""
    )
    hammer: str = _hammer()
    rows: tuple[Fraction, ...] = numbers(
        "rows_mm",
        "Lift that brings each row to the hammer; where the parts put it if left out.",
        default=(),
    )
    up: Window | None = _window("lift", "window_mm", "unreadable_mm", "type_height_mm")
    columns: tuple[Fraction, ...] = numbers(
        "columns_deg",
        "Turn that brings each column to the hammer; where the parts put it if left out.",
        default=(),
    )
    across: Window | None = _window("turn", "window_deg", "unreadable_deg", "type_width_deg")
    lines: tuple[str, ...] = texts(
        "glyphs", "A text for each row, the lowest first; a blank where no type is."
    )

    @property
    def kind(self) -> str:
        """A block of type does not turn."""
        return "type wheel" if self.turn else "type block"

    def wrong(self) -> Iterator[Wrong]:
        """Besides the others, columns and nothing that turns."""
        if not self.turn and self.columns not in ((), (Fraction(0),)):
            mend = "Leave it out, or say with turn = … which part turns the type."
            yield ("columns_deg",), "nothing turns the type", mend
        yield from super().wrong()


@dataclass(frozen=True, kw_only=True)
class TypeBar(Type):
    """A straight bar of type that is shifted lengthwise."""

    name = "type_bar"
    kind = "type bar"
    across_is = ("shift", "mm")
    lift: str = field(default="", init=False)
    turn: str = part("shift", "The part that shifts the bar.")
    hammer: str = _hammer()
    rows: tuple[Fraction, ...] = field(default=(Fraction(0),), init=False)
    up: Window | None = field(default=None, init=False)
    columns: tuple[Fraction, ...] = numbers(
        "places_mm",
        "Shift that brings each character to the hammer; where the parts put it if left out.",
        default=(),
    )
    across: Window | None = _window("shift", "window_mm", "unreadable_mm", "type_width_mm")
    lines: tuple[str, ...] = line("glyphs", "The characters in order; a blank where no type is.")


def struck_at(
    stations: Sequence[Fraction], places: Sequence[Fraction], window: Window | None
) -> Stations:
    """For each row or column of type, the numbers of the places at which it is struck.

    A place belongs to the nearest station, if it is no further from it than the window allows
    in which a character prints whole.  Where nothing is said of a window, that is a tenth of the
    smallest distance between two stations: what calipers and a file leave undecided.

    Args:
        stations: Where each row or column stands, in mm or degrees.
        places: Where the part that brings it there can stand, same unit.
        window: How far off type may be, if that is said.
    """
    steps = [abs(b - a) for a, b in pairwise(sorted(stations))]
    allowed = window.whole if window else min(steps, default=Fraction(0)) / 10
    found: list[list[int]] = [[] for _ in stations]
    for number, place in enumerate(places):
        off, nearest = min((abs(place - station), i) for i, station in enumerate(stations))
        if off <= allowed:
            found[nearest].append(number)
    return tuple(map(tuple, found))


@dataclass(frozen=True)
class Typebar:
    """One typebar.

    Attributes:
        pull: The part that swings it up.
        type: Its characters: one, or one for each place of the shift, a blank for none.
    """

    pull: str = part("pull", "The part that swings it up.")
    type: str = text("type", "Its character; with a shift, its two: letter and figure.")


@dataclass(frozen=True)
class Typebars(Output):
    """A basket of typebars.  One that is swung up prints; two at once meet and smudge.

    Attributes:
        bars: The typebars.
        shift: The part whose place chooses which character of a bar prints; empty if each has one.
    """

    name = "typebars"
    called = "basket of typebars"
    verb = "prints"
    muddle = "two typebars meet"
    type_key = "bars"
    bars: tuple[Typebar, ...] = tables("bars", "One entry for each typebar.", entry=Typebar)
    shift: str = part(
        "shift", "The part that chooses between the two characters of each bar.", default=""
    )

    def wrong(self) -> Iterator[Wrong]:
        """Bars with more or fewer characters than the shift has places."""
        wanted = 2 if self.shift else 1
        for i, bar in enumerate(self.bars):
            n = len(bar.type)
            if n != wanted:
                what = f"{shown(bar.type)} has {n} characters for {wanted} places of the shift"
                yield ("bars", i, "type"), what, "One for each; write a blank as a space."

    @property
    def parts(self) -> tuple[str, ...]:
        """The parts that the printing follows."""
        return tuple(filter(None, (*(bar.pull for bar in self.bars), self.shift)))

    @property
    def strikes(self) -> tuple[str, ...]:
        """The parts that swing a typebar up."""
        return tuple(bar.pull for bar in self.bars)

    @property
    def glyphs(self) -> tuple[str, ...]:
        """The characters: those of every bar for the first place of the shift, then the next."""
        return tuple(bar.type[place] for place in range(self._n_cases) for bar in self.bars)

    @property
    def _n_cases(self) -> int:
        return max(len(bar.type) for bar in self.bars)

    def layout(self) -> Layout:
        """A column for each bar, a row for each place of the shift."""
        n = len(self.bars)
        headings = ("letters", "figures") if self._n_cases == 2 else ("",) * self._n_cases
        rows = tuple(tuple(range(case * n, case * n + n)) for case in range(self._n_cases))
        return Layout("The typebars", headings, ("",) * n, rows)

    def cells(self, mechanism: Mechanism, table: Table, every: Column) -> Mapping[int, Column]:
        """For each character, the rows in which its bar alone is swung up."""
        pulled = [self._pulled(table, bar) & every for bar in self.bars]
        once, twice = _once_and_more(pulled)
        alone = without(once, twice)
        n, found = len(self.bars), {}
        for case in range(self._n_cases):
            there = at_place(table.seen(OUTPUT, self.shift), case, alone) if self.shift else alone
            for number, column in enumerate(pulled):
                if both := column & there & alone:
                    found[case * n + number] = both
        return found

    def prints(
        self, mechanism: Mechanism, table: Table, every: Column, worn: Worn = AS_MADE
    ) -> Prints:
        """What is printed, and in which rows of the table."""
        struck = reduce(or_, (self._pulled(table, bar) for bar in self.bars), 0) & every
        cells = self.cells(mechanism, table, every)
        return _struck(self.glyphs, cells, struck, every, reduce(or_, cells.values(), 0), worn)

    def _pulled(self, table: Table, bar: Typebar) -> Column:
        return table.seen(OUTPUT, bar.pull)[-1]


@dataclass(frozen=True)
class Action:
    """Something that a lever does.

    Attributes:
        lever: The part that does it when it is operated.
        shows: The name that stands for it in a log, such as ``"CR"``.
        does: What it does, in words.
    """

    lever: str = part("lever", "The part.")
    shows: str = text("shows", "The code's name for what it does: CR, LF, BEL. It stands in a log.")
    does: str = text("does", "What it does, in words.")


@dataclass(frozen=True)
class Actions(Output):
    """Levers that each do one thing.  Several may act at once."""

    name = "actions"
    called = "row of function levers"
    actions: tuple[Action, ...] = tables("levers", "One entry for each lever.", entry=Action)

    def wrong(self) -> Iterator[Wrong]:
        """Names that no code has for a function."""
        for i, action in enumerate(self.actions):
            if not is_function(action.shows):
                mend = "Write the code's own name for it, such as CR, LF or BEL."
                what = f"{shown(action.shows)} is the name of no function"
                yield ("levers", i, "shows"), what, mend

    @property
    def parts(self) -> tuple[str, ...]:
        """The levers."""
        return tuple(action.lever for action in self.actions)

    @property
    def glyphs(self) -> tuple[str, ...]:
        """The names that stand for the actions."""
        return tuple(action.shows for action in self.actions)

    def layout(self) -> Layout:
        """One row, a column for each action."""
        n = len(self.actions)
        does = {number: action.does for number, action in enumerate(self.actions)}
        return Layout("The functions", ("functions",), ("",) * n, (tuple(range(n)),), does=does)

    def cells(self, mechanism: Mechanism, table: Table, every: Column) -> Mapping[int, Column]:
        """For each action, the rows in which it is the only one."""
        acting = [self._acting(table, action) & every for action in self.actions]
        once, twice = _once_and_more(acting)
        alone = without(once, twice)
        return {number: rows & alone for number, rows in enumerate(acting) if rows & alone}

    def prints(
        self, mechanism: Mechanism, table: Table, every: Column, worn: Worn = AS_MADE
    ) -> Prints:
        """What is done, and in which rows of the table."""
        found: Prints = {NOTHING: every}
        for action in self.actions:
            done = self._acting(table, action) & every
            found = _together(found, {NOTHING: without(every, done), action.shows: done})
        return found

    def _acting(self, table: Table, action: Action) -> Column:
        return table.seen(OUTPUT, action.lever)[-1]


@dataclass(frozen=True)
class Line(Output):
    """Contacts that put a code on the line, one for each bit.

    Attributes:
        contacts: The parts for b1, b2, …; the parity bit last, if there is one.
        code: The code that is sent.
        parity: ``"even"``, ``"odd"`` or ``"none"``.
    """

    name = "line"
    called = "line"
    verb = "sends"
    muddle = "the parity on the line is wrong"
    contacts: tuple[str, ...] = parts(
        "contacts", "The parts for b1, b2 and so on; that of the parity bit last."
    )
    code: Code = text("alphabet", "The code that is sent.", choices=ALPHABETS)
    parity: str = text("parity", "The parity that is sent.", choices=PARITIES, default="none")

    def wrong(self) -> Iterator[Wrong]:
        """One contact for each bit."""
        wanted = self.code.units + (self.parity != "none")
        if len(self.contacts) != wanted:
            what = f"{len(self.contacts)} contacts for {wanted} bits"
            mend = "Name one for each bit, b1 first, the parity bit last."
            yield ("contacts",), what, mend

    @property
    def parts(self) -> tuple[str, ...]:
        """The contacts."""
        return self.contacts

    @property
    def selects(self) -> tuple[str, ...]:
        """The contacts of the code's own bits."""
        return self.contacts[: self.code.units]

    @property
    def glyphs(self) -> tuple[str, ...]:
        """The characters of the code, by their codes, and the names of those without a print."""
        return tuple(map(self._shown, range(len(self.code))))

    def _shown(self, code: int) -> str:
        character = self.code.character(code)
        return character if character.isprintable() else self.code.name(code)

    def layout(self) -> Layout:
        """The code table: sixteen rows, as the standards print it."""
        n_rows = min(16, len(self.code))
        n_columns = len(self.code) // n_rows
        return Layout(
            f"The {self.code.title}",
            tuple(map(str, range(n_rows))),
            tuple(map(str, range(n_columns))),
            tuple(
                tuple(column * n_rows + row for column in range(n_columns)) for row in range(n_rows)
            ),
            "row of the code table",
            "column",
        )

    def cells(self, mechanism: Mechanism, table: Table, every: Column) -> Mapping[int, Column]:
        """For each code, the rows in which its bits are on the line."""
        return _combinations([table.seen(OUTPUT, name)[-1] for name in self.selects], every)

    def prints(
        self, mechanism: Mechanism, table: Table, every: Column, worn: Worn = AS_MADE
    ) -> Prints:
        """What a receiver makes of it; a wrong parity bit cannot be read."""
        settings = _combinations([table.seen(OUTPUT, name)[-1] for name in self.contacts], every)
        found: dict[str, Column] = {}
        for setting, rows in settings.items():
            code = setting % len(self.code)
            good = setting == self._with_parity(code)
            shown = NOTHING if self.code.character(code) == " " else self._shown(code)
            key = shown if good else UNREADABLE
            found[key] = found.get(key, 0) | rows
        return found

    def _with_parity(self, code: int) -> int:
        if self.parity == "none":
            return code
        return with_parity(code, self.code.units, self.parity)  # type: ignore[arg-type]


@dataclass(frozen=True)
class Both(Output):
    """Two outputs of one machine, seen together: typebars and actions, for example."""

    first: Output
    second: Output

    @property
    def called(self) -> str:
        """What a person calls it."""
        return self.first.called

    @property
    def parts(self) -> tuple[str, ...]:
        """The parts that either follows."""
        return tuple(dict.fromkeys((*self.first.parts, *self.second.parts)))

    @property
    def selects(self) -> tuple[str, ...]:
        """The parts that choose what is seen."""
        return tuple(dict.fromkeys((*self.first.selects, *self.second.selects)))

    @property
    def strikes(self) -> tuple[str, ...]:
        """The parts that make either of them seen."""
        return tuple(dict.fromkeys((*self.first.strikes, *self.second.strikes)))

    @property
    def glyphs(self) -> tuple[str, ...]:
        """What the cells show, those of the first output before those of the second."""
        return (*self.first.glyphs, *self.second.glyphs)

    @property
    def muddle(self) -> str:
        """What has happened to whichever of them can be unreadable."""
        return self.first.muddle or self.second.muddle

    def layout(self) -> Layout:
        """The second below the first."""
        above, below = self.first.layout(), self.second.layout()
        n, width = len(self.first.glyphs), max(len(above.columns), len(below.columns))
        lower = [[None if c is None else c + n for c in row] for row in below.cells]
        return Layout(
            f"{above.title} and {below.title[:1].lower()}{below.title[1:]}",
            (*above.rows, *below.rows),
            (*above.columns, *[""] * (width - len(above.columns))),
            tuple((*row, *[None] * (width - len(row))) for row in (*above.cells, *lower)),
            above.up,
            above.across,
            {**above.does, **{n + cell: does for cell, does in below.does.items()}},
        )

    def cells(self, mechanism: Mechanism, table: Table, every: Column) -> Mapping[int, Column]:
        """Cells of both; where both have one, that of the first."""
        first = self.first.cells(mechanism, table, every)
        taken = reduce(or_, first.values(), 0)
        second = self.second.cells(mechanism, table, without(every, taken))
        n = len(self.first.glyphs)
        return {**first, **{n + cell: rows for cell, rows in second.items()}}

    def prints(
        self, mechanism: Mechanism, table: Table, every: Column, worn: Worn = AS_MADE
    ) -> Prints:
        """What is seen of both, the first before the second."""
        n = len(self.first.glyphs)
        below = {cell - n: shows for cell, shows in worn.items() if cell >= n}
        return _together(
            self.first.prints(mechanism, table, every, worn),
            self.second.prints(mechanism, table, every, below),
        )


OUTPUTS: Mapping[str, type[Output]] = {
    kind.name: kind for kind in (TypeWheel, TypeBar, Typebars, Actions, Line)
}
"""What a machine can show, by the name of the table that describes it."""


def singles(output: Output) -> Iterator[Output]:
    """The outputs of a machine one by one, the first before the second."""
    if isinstance(output, Both):
        yield from singles(output.first)
        yield from singles(output.second)
    else:
        yield output


def _crossed(lifted: Sequence[Column], turned: Sequence[Column]) -> Mapping[int, Column]:
    """For each cell of a grid, the rows in which both its line and its column are chosen."""
    found = {}
    for row, high in enumerate(lifted):
        if high:
            for column, round_ in enumerate(turned):
                if both := high & round_:
                    found[row * len(turned) + column] = both
    return found


def _struck(
    glyphs: Sequence[str],
    cells: Mapping[int, Column],
    struck: Column,
    every: Column,
    aimed: Column,
    worn: Worn,
) -> Prints:
    """What is printed where the chosen cells are struck; a blank looks like nothing.

    Where something is struck but no cell is *aimed* at, nobody can read it.
    """
    found = {NOTHING: without(every, struck)}
    for cell, rows in cells.items():
        for seen, where in worn.get(cell, {}).items():
            found[seen] = found.get(seen, 0) | rows & where
            rows = without(rows, where)
        key = NOTHING if glyphs[cell] == " " else glyphs[cell]
        found[key] = found[key] | rows if key in found else rows
    if missed := without(struck, aimed):
        found[UNREADABLE] = found.get(UNREADABLE, 0) | missed
    return {glyph: rows for glyph, rows in found.items() if rows}


def _together(first: Prints, second: Prints) -> Prints:
    """Two things seen at once: ``A+LF``, and nothing where neither is seen."""
    found: dict[str, Column] = {}
    for one, there in first.items():
        for other, here in second.items():
            if both := there & here:
                key = one if other == NOTHING else other if one == NOTHING else f"{one}+{other}"
                key = UNREADABLE if UNREADABLE in (one, other) else key
                found[key] = found.get(key, 0) | both
    return found


def _once_and_more(columns: Sequence[Column]) -> tuple[Column, Column]:
    """The rows in which any of the columns says yes, and those in which more than one does."""
    once = twice = 0
    for column in columns:
        twice |= once & column
        once |= column
    return once, twice


def _combinations(bits: Sequence[Column], every: Column) -> Mapping[int, Column]:
    """For each combination of bits that occurs, as a number, its rows."""
    found = {0: every}
    for number, column in enumerate(bits):
        parted = {}
        for setting, rows in found.items():
            for value, some in ((0, without(rows, column)), (1, rows & column)):
                if some:
                    parted[setting | value << number] = some
        found = parted
    return found


def _number(value: Fraction, sign: str = "-") -> str:
    return f"{float(value):{sign}g}".replace("-", "−") if value else "0"
