"""A machine: a mechanism, the code that it receives, and what it shows to the outside."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from typing import TypeVar

from mechlogic.helpers.refusal import TooMuch
from mechlogic.model.codes import Code, Setting, runs_of, with_parity
from mechlogic.model.keys import Wrong, code, part, parts, tables, text
from mechlogic.model.logbook import NOTHING
from mechlogic.model.mechanism import Mechanism
from mechlogic.model.motion import Cycle
from mechlogic.model.outputs import AS_MADE, OUTPUT, Output, Prints, Worn
from mechlogic.model.table import Changes, Column, Rows, Table, Worlds, standing, tabulate

MOST_UNITS = 16
"""The most bits of which every setting is tabulated."""


@dataclass(frozen=True)
class Run:
    """A run of codes.

    Attributes:
        first, last: First and last code of the run.
    """

    first: int = code("first", "First code of the run.")
    last: int = code("last", "Last code of the run.")

    def __contains__(self, code: int) -> bool:
        return self.first <= code <= self.last

    @property
    def codes(self) -> range:
        """The codes of the run."""
        return range(self.first, self.last + 1)


@dataclass(frozen=True)
class Fold(Run):
    """A run of codes that prints as another run: each code as the one *shift* away.

    Attributes:
        onto: The code that the first one prints as.
    """

    onto: int = code("onto", "The code whose character the first one prints.")


@dataclass(frozen=True)
class Shows(Run):
    """A run of codes that all show the same thing.

    Attributes:
        what: What they show.
    """

    what: str = text("what", "What they show.")


@dataclass(frozen=True)
class Figure:
    """What a code prints in the figures case, where the published code leaves that open."""

    code: int = code("code", "The code.")
    prints: str = text("prints", "The character that it prints.")


@dataclass(frozen=True)
class Declared:
    """What the description says that codes do, to be held against what the parts do.

    Attributes:
        case: The part that, once operated, makes the machine print the figures of its code; empty
            if it has one case.
        printing: Runs of codes that print their own character.
        folds: Runs of codes that print as others.
        shows: Runs of codes that all do the same thing.
        silent: Runs of codes that print nothing.
        figures: What prints in the figures case where the published code leaves it open.
        no_part_in_selection: Code bars that do not choose the character.
        no_part_at_all: Code bars that change nothing whatever.
    """

    case: str = part(
        "case",
        "The part that makes the machine print figures once it is operated: a latch, or a part "
        "that follows one.",
        default="",
    )
    printing: tuple[Run, ...] = tables(
        "printing", "Runs of codes that print their own character.", entry=Run, default=()
    )
    folds: tuple[Fold, ...] = tables(
        "folds", "Runs of codes that print as another run does.", entry=Fold, default=()
    )
    shows: tuple[Shows, ...] = tables(
        "shows", "Runs of codes that all show the same thing.", entry=Shows, default=()
    )
    silent: tuple[Run, ...] = tables(
        "silent", "Runs of codes that print nothing.", entry=Run, default=()
    )
    figures: tuple[Figure, ...] = tables(
        "figures",
        "What prints in figures where the published code leaves it open.",
        entry=Figure,
        default=(),
    )
    no_part_in_selection: tuple[str, ...] = parts(
        "no_part_in_selection", "Code bars that do not choose the character.", default=()
    )
    no_part_at_all: tuple[str, ...] = parts(
        "no_part_at_all", "Code bars that change nothing whatever.", default=()
    )

    def wrong(self, code: Code) -> Iterator[Wrong]:
        """What cannot be, in a code of so many characters."""
        for key in ("printing", "folds", "shows", "silent"):
            for i, run in enumerate(getattr(self, key)):
                if run.first > run.last:
                    yield (key, i, "first"), "it comes after the last", "Exchange the two."
        for i, fold in enumerate(self.folds):
            if fold.onto + fold.last - fold.first >= len(code):
                what = "the run does not fit behind it"
                yield ("folds", i, "onto"), what, "Check first, last and onto."
        for i, figure in enumerate(self.figures):
            if len(figure.prints) != 1:
                mend = "Write the one that is printed."
                yield ("figures", i, "prints"), "it is not one character", mend

    @property
    def runs(self) -> tuple[Run, ...]:
        """Every run of codes that something is said about."""
        return *self.printing, *self.folds, *self.shows, *self.silent

    def prints_as(self, code: int) -> int | None:
        """The code whose character is printed for *code*; None where nothing is printed.

        Raises:
            KeyError: If nothing is declared for the code.
        """
        if any(code in run for run in self.silent):
            return None
        for fold in self.folds:
            if code in fold:
                return code - fold.first + fold.onto
        if any(code in run for run in self.printing):
            return code
        raise KeyError(code)


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class Machine:
    """A whole machine.  Two machines are the same only if they are one object.

    Attributes:
        name: Short name.
        title: Name with its kind.
        about: A few sentences for the reader.
        mechanism: Its parts.
        code: The code that it receives.
        parity: ``"even"``, ``"odd"`` or ``"none"``: how the bar after the code's bits is set.
        output: What it prints with, or else shows to the outside.
        declared: What the description claims that codes do.
        efforts: Minutes that each kind of check costs; a part's ``reach`` is one of the kinds.
        picture: Drawing hints for each part, not used by any other reading.
        source: Names of the parts that belong to the source of the code, such as a keyboard; the
            printer could be fed from another one.
        cycle: The time that it has for one character; None if nothing is said of it.
        tolerances: How far each kind of dimension may be off either way, in the kind's own unit.
    """

    name: str = text("name", "Short name.")
    title: str = text("title", "Name with its kind, for headings.")
    about: str = text("about", "A few sentences for the reader.", default="")
    mechanism: Mechanism
    code: Code
    parity: str
    output: Output
    declared: Declared
    efforts: Mapping[str, Fraction] = field(default_factory=dict)
    picture: Mapping[str, Mapping[str, object]] = field(default_factory=dict)
    source: frozenset[str] = frozenset()
    cycle: Cycle | None = None
    tolerances: Mapping[str, Fraction] = field(default_factory=dict)

    def __repr__(self) -> str:
        parts = len(self.mechanism.parts)
        return f"<Machine {self.name}: {self.title}, {self.units} bits, {parts} parts>"

    @property
    def units(self) -> int:
        """How many bits set the code bars, the parity bit among them."""
        return self.code.units + (self.parity != "none")

    def as_set(self, code: int | str) -> Setting:
        """How the code bars stand for a code: with its parity bit.

        Args:
            code: The code; or what :meth:`.Code.parse` reads: ``"A"``, ``"CR"``.  A setting stays.

        Raises:
            CodeError: If the text names no code.
        """
        if isinstance(code, str):
            code = self.code.parse(code)
        if isinstance(code, Setting) or self.parity == "none":
            return Setting(code)
        return Setting(with_parity(code, self.code.units, self.parity))  # type: ignore[arg-type]

    def rows(self, codes: Iterable[int]) -> Rows:
        """Table rows for codes as they are sent, parity added."""
        return Rows(tuple(self.as_set(code) for code in codes))

    @cached_property
    def all_codes(self) -> Rows:
        """Every setting of the code bars, whether or not its parity is right.

        Raises:
            TooMuch: If there are more than :data:`MOST_UNITS` bits.
        """
        if self.units > MOST_UNITS:
            raise TooMuch(
                f"{self.title} is set by {self.units} bits; {MOST_UNITS} are the most of which "
                "every setting is tabulated",
                "Describe a part of the machine that fewer bits set",
            )
        return Rows(tuple(range(1 << self.units)))

    @cached_property
    def healthy(self) -> Table:
        """The table of all settings of the code bars, no fault present and every latch at rest."""
        return tabulate(self.mechanism, self.all_codes)

    @cached_property
    def printed(self) -> tuple[str, ...]:
        """What a good machine prints for each setting of the code bars, every latch at rest."""
        return self.printed_with({})

    @cached_property
    def thrown(self) -> Mapping[str, int]:
        """The latches that the case of the code follows, each at its far end; empty without cases.

        As :meth:`printed_with` takes them: so a good machine prints figures.
        """
        case, laws = self.declared.case, self.mechanism.laws
        above = self.mechanism.upstream(case) if case else frozenset()
        return {name: len(laws[name].cuts) for name in self.mechanism.latches if name in above}

    @cached_property
    def cases(self) -> Mapping[str, tuple[str, ...]]:
        """For each case of the code, ``""`` or ``"figures"``, what is printed for each setting."""
        cases = {"": self.printed}
        if self.declared.case:
            cases["figures"] = self.printed_with(self.thrown)
        return cases

    def printed_with(self, latched: Mapping[str, int]) -> tuple[str, ...]:
        """What a good machine prints for each setting of the code bars.

        Args:
            latched: The number of the place at which each latch stood before; those left out
                stood at rest.
        """
        prints = self.prints(self.table_with(latched), self.all_codes)
        return spread(prints, len(self.all_codes.codes))

    def table_with(self, latched: Mapping[str, int]) -> Table:
        """The table of all settings of the code bars; *latched* as in :meth:`printed_with`."""
        laws, every = self.mechanism.laws, self.all_codes.every
        before = {n: standing(place, len(laws[n].cuts), every) for n, place in latched.items()}
        return tabulate(self.mechanism, self.all_codes, Changes(before=before), self.healthy)

    @cached_property
    def printing_codes(self) -> tuple[int, ...]:
        """The codes that print their own character, as declared."""
        return tuple(code for run in self.declared.printing for code in run.codes)

    def good_print(self, code: int | str) -> str:
        """What a good machine prints when a code is sent, every latch at rest.

        Args:
            code: The code, without parity; or what :meth:`.Code.parse` reads: ``"A"``, ``"CR"``.

        Raises:
            CodeError: If the text names no code.
        """
        return self.printed[self.as_set(code)]

    def claimed(self, code: int, in_figures: bool = False) -> str:
        """What the description says that a code shows, as a log has it.

        Args:
            code: The code, without parity.
            in_figures: Whether the machine stands in the figures case of its code.

        Raises:
            KeyError: If nothing is declared for the code.
            CodeError: If the published code leaves its figure open, and so does the description.
        """
        for run in self.declared.shows:
            if code in run:
                return run.what
        claimed = self.declared.prints_as(code)
        if claimed is None:
            return NOTHING
        own = {one.code: one.prints for one in self.declared.figures if in_figures}
        seen = own.get(claimed) or self.code.character(claimed, figures=in_figures)
        if not seen.isprintable():
            return self.code.name(claimed, figures=in_figures)
        return NOTHING if seen == " " else seen

    def prints(self, table: Table, rows: Rows | Worlds, worn: Worn = AS_MADE) -> Prints:
        """What is printed, or else seen, in each row of a table."""
        return self.output.prints(self.mechanism, table, rows.every, worn)

    def followers(self, name: str) -> tuple[str, ...]:
        """What follows a part: other parts, and the printing."""
        touched = (OUTPUT,) if name in self.output.parts else ()
        return (*self.mechanism.followers[name], *touched)

    def label(self, name: str) -> str:
        """What a person calls a part, or the output itself."""
        if name == OUTPUT:
            return self.output.called
        return self.mechanism[name].label or name if name in self.mechanism.parts else name


Seen = TypeVar("Seen")


def spread(
    prints: Mapping[Seen, Column],
    n_rows: int,
    otherwise: Seen = "",  # type: ignore[assignment]
) -> tuple[Seen, ...]:
    """What is printed, or chosen, row by row."""
    found = [otherwise] * n_rows
    for glyph, rows in prints.items():
        while rows:
            low = rows & -rows
            found[low.bit_length() - 1] = glyph
            rows ^= low
    return tuple(found)


def as_it_prints(machine: Machine) -> Declared:
    """What the codes are found to do: print their own character, another, or nothing."""
    prints = [machine.good_print(code) for code in range(len(machine.code))]
    own = [code for code, seen in enumerate(prints) if seen == machine.code.name(code)]
    silent = [code for code, seen in enumerate(prints) if seen == NOTHING]
    others = [code for code in range(len(prints)) if code not in own and code not in silent]
    return Declared(
        printing=tuple(Run(*run) for run in runs_of(own)),
        shows=tuple(Shows(code, code, prints[code]) for code in others),
        silent=tuple(Run(*run) for run in runs_of(silent)),
    )
