"""A machine: a mechanism, the code that sets its bars, and the type that it prints with."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property, reduce
from operator import or_

from mechlogic.codes import Code, with_parity
from mechlogic.logbook import NOTHING, UNREADABLE
from mechlogic.mechanism import Mechanism
from mechlogic.table import Blocks, Column, Rows, Table, at_place, tabulate, without

OUTPUT = "print"
"""Name under which the printing itself follows parts; no part may be called so."""

Prints = Mapping[str, Column]
"""For each thing that can be seen on the paper, the rows in which it is printed."""


@dataclass(frozen=True)
class Wheel:
    """A type wheel: a grid of characters round a drum, one of which faces the hammer.

    Attributes:
        lift: The part whose place is the elevation of the wheel, in mm.
        turn: The part whose place is the rotation of the wheel, in degrees; empty for a block
            of type that does not turn and has a single column.
        hammer: The part that prints when it is operated; empty if every code prints.
        rows: Elevation of each row of characters, lowest first, in mm.
        columns: Rotation that brings each column to the hammer, in degrees.
        glyphs: One string for each row, one character for each column.
    """

    lift: str
    turn: str
    hammer: str
    rows: tuple[Fraction, ...]
    columns: tuple[Fraction, ...]
    glyphs: tuple[str, ...]

    @property
    def parts(self) -> tuple[str, ...]:
        """The parts that the printing follows."""
        return tuple(filter(None, (self.lift, self.turn, self.hammer)))

    def prints(self, mechanism: Mechanism, table: Table, every: Column) -> Prints:
        """What is printed, and in which rows of the table.

        A wheel that stands between two columns or rows prints parts of both: unreadable.  A
        blank on the wheel looks like nothing printed, and is called so.
        """
        struck = table.seen(OUTPUT, self.hammer)[-1] & every if self.hammer else every
        found = {NOTHING: without(every, struck)}
        aimed = 0
        lifts, turns = self._stations(mechanism)
        heights = table.seen(OUTPUT, self.lift)
        angles = table.seen(OUTPUT, self.turn) if self.turn else ()
        turned = [at_place(angles, place, struck) for place in turns]
        faced = reduce(or_, turned, 0)
        for line, place in zip(self.glyphs, lifts, strict=True):
            lifted = at_place(heights, place, struck) & struck
            if not lifted:
                continue
            for glyph, there in zip(line, turned, strict=True):
                if cell := lifted & there:
                    key = NOTHING if glyph == " " else glyph
                    found[key] = found[key] | cell if key in found else cell
            aimed |= lifted & faced
        if missed := without(struck, aimed):
            found[UNREADABLE] = missed
        return {glyph: rows for glyph, rows in found.items() if rows}

    def _stations(self, mechanism: Mechanism) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Numbers of the places at which each row, and each column, faces the hammer."""
        if mechanism not in self._found:
            heights = mechanism.laws[self.lift].places
            angles = mechanism.laws[self.turn].places if self.turn else self.columns
            self._found[mechanism] = (
                tuple(heights.index(row) for row in self.rows),
                tuple(angles.index(column) for column in self.columns),
            )
        return self._found[mechanism]

    @cached_property
    def _found(self) -> dict[Mechanism, tuple[tuple[int, ...], tuple[int, ...]]]:
        return {}


@dataclass(frozen=True)
class Fold:
    """A run of codes that prints as another run: each code as the one *shift* away.

    Attributes:
        first, last: First and last code of the run.
        onto: The code that the first one prints as.
    """

    first: int
    last: int
    onto: int


@dataclass(frozen=True)
class Declared:
    """What the description says that codes do, to be held against what the parts do.

    Attributes:
        printing: (first, last) runs of codes that print their own character.
        folds: Runs of codes that print as others.
        silent: (first, last) runs of codes that print nothing.
        no_part_in_selection: Code bars that do not choose the character.
        no_part_at_all: Code bars that change nothing whatever.
    """

    printing: tuple[tuple[int, int], ...] = ()
    folds: tuple[Fold, ...] = ()
    silent: tuple[tuple[int, int], ...] = ()
    no_part_in_selection: tuple[str, ...] = ()
    no_part_at_all: tuple[str, ...] = ()

    def prints_as(self, code: int) -> int | None:
        """The code whose character is printed for *code*; None where nothing is printed.

        Raises:
            KeyError: If nothing is declared for the code.
        """
        if any(first <= code <= last for first, last in self.silent):
            return None
        for fold in self.folds:
            if fold.first <= code <= fold.last:
                return code - fold.first + fold.onto
        if any(first <= code <= last for first, last in self.printing):
            return code
        raise KeyError(code)


@dataclass(frozen=True, eq=False)
class Machine:
    """A whole machine.  Two machines are the same only if they are one object.

    Attributes:
        name: Short name.
        title: Name with its kind.
        about: A few sentences for the reader.
        mechanism: Its parts.
        code: The code that it receives.
        parity: ``"even"``, ``"odd"`` or ``"none"``: how the bar after the code's bits is set.
        wheel: What it prints with.
        declared: What the description claims that codes do.
        efforts: Minutes that each kind of check costs; a part's ``reach`` is one of the kinds.
        picture: Drawing hints for each part, not used by any other reading.
    """

    name: str
    title: str
    about: str
    mechanism: Mechanism
    code: Code
    parity: str
    wheel: Wheel
    declared: Declared
    efforts: Mapping[str, Fraction] = field(default_factory=dict)
    picture: Mapping[str, Mapping[str, object]] = field(default_factory=dict)

    @property
    def units(self) -> int:
        """How many bits set the code bars, the parity bit among them."""
        return self.code.units + (self.parity != "none")

    def as_set(self, code: int) -> int:
        """The code with its parity bit, as the code bars receive it."""
        if self.parity == "none":
            return code
        return with_parity(code, self.code.units, self.parity)  # type: ignore[arg-type]

    def rows(self, codes: Iterable[int]) -> Rows:
        """Table rows for codes as they are sent, parity added."""
        return Rows(tuple(self.as_set(code) for code in codes))

    @cached_property
    def all_codes(self) -> Rows:
        """Every setting of the code bars, whether or not its parity is right."""
        return Rows(tuple(range(1 << self.units)))

    @cached_property
    def healthy(self) -> Table:
        """The table of all settings of the code bars, no fault present."""
        return tabulate(self.mechanism, self.all_codes)

    @cached_property
    def printed(self) -> tuple[str, ...]:
        """What a good machine prints for each setting of the code bars."""
        return spread(self.prints(self.healthy, self.all_codes), len(self.all_codes.codes))

    @cached_property
    def printing_codes(self) -> tuple[int, ...]:
        """The codes that print their own character, as declared."""
        return tuple(c for a, b in self.declared.printing for c in range(a, b + 1))

    def good_print(self, code: int) -> str:
        """What a good machine prints when a code is sent."""
        return self.printed[self.as_set(code)]

    def prints(self, table: Table, rows: Rows | Blocks) -> Prints:
        """What is printed in each row of a table."""
        return self.wheel.prints(self.mechanism, table, rows.every)

    def followers(self, name: str) -> tuple[str, ...]:
        """What follows a part: other parts, and the printing."""
        touched = (OUTPUT,) if name in self.wheel.parts else ()
        return (*self.mechanism.followers[name], *touched)

    def label(self, name: str) -> str:
        """What a person calls a part."""
        return self.mechanism[name].label or name if name in self.mechanism.parts else name


def spread(prints: Prints, n_rows: int) -> tuple[str, ...]:
    """What is printed, row by row."""
    found = [""] * n_rows
    for glyph, rows in prints.items():
        while rows:
            low = rows & -rows
            found[low.bit_length() - 1] = glyph
            rows ^= low
    return tuple(found)
