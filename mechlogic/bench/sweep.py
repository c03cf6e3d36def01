"""Many hypotheses in one table: every fault, or every pair of faults, over the same rows at once.

A table's rows need not all belong to one machine.  Here they come in blocks, one for each world of
each hypothesis, and the faults of a hypothesis act in its own blocks alone.  The parts are then
worked out once for all blocks together, so a thousand hypotheses cost little more than one.

Within a block parts remember the row before.  What they remembered before the first row, or before
a gap, is a matter of the block's world.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, partial

from mechlogic.model.behaviour import (
    Act,
    Behaviour,
    Found,
    Late,
    Reads,
    Stands,
    Stays,
    Swapped,
    both_sensed,
)
from mechlogic.model.faults import Hypothesis
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import Prints, Worn
from mechlogic.model.table import (
    Blocks,
    Change,
    Changes,
    Column,
    Columns,
    Rows,
    Table,
    tabulate,
    without,
)


@dataclass(frozen=True)
class Run:
    """Rows that follow one another: a log, or any other sequence of codes.

    Attributes:
        rows: The codes sent.
        at_speed: The rows driven at speed.
        starts: The rows before which nothing is known; the first is one of them.  Without any,
            what came before the first row is left open, and what is printed there means nothing.
    """

    rows: Rows
    at_speed: Column
    starts: Column


@dataclass(frozen=True)
class Sweep:
    """What hypotheses print over one run, a block for each world of each.

    Where chance has a say in what is remembered (see :attr:`Behaviour.determined`), a block takes
    its world's memory for every row: then the blocks of a hypothesis together hold all that it can
    print, and perhaps more.

    Attributes:
        behaviours: The hypotheses.
        blocks: How many blocks each of them has: all its memories in the order of
            :attr:`Behaviour.memories`, if they matter, and for each all its chances.
        rows: The rows: in each block those of the run and a few idle ones, so that every block
            begins with a whole byte.
        prints: What is printed, in every row of every block.
    """

    behaviours: tuple[Behaviour, ...]
    blocks: tuple[int, ...]
    rows: Blocks
    prints: Prints

    def any_chance(self, column: Column) -> Iterator[tuple[Behaviour, list[Column]]]:
        """For each hypothesis and memory to begin with, the rows that some chance has in it."""
        n_bytes = self.rows.distance // 8
        size = n_bytes * sum(self.blocks)
        rows = (column & (1 << 8 * size) - 1).to_bytes(size, "little")
        place = 0
        for behaviour, n_blocks in zip(self.behaviours, self.blocks, strict=True):
            runs = []
            n_chances = len(behaviour.chances)
            for _ in range(n_blocks // n_chances):
                found = 0
                for _ in range(n_chances):
                    found |= int.from_bytes(rows[place : place + n_bytes], "little")
                    place += n_bytes
                runs.append(found)
            yield behaviour, runs

    @cached_property
    def each(self) -> int:
        """A one at the first row of every block: times a column of the run, it repeats it."""
        return self.rows.repeated(1)


def sweep(
    machine: Machine, run: Run, hypotheses: Sequence[Hypothesis], base: Table | None = None
) -> Sweep:
    """Work out what many hypotheses print over the same rows.

    Args:
        machine: The machine.
        run: The rows, the same for every hypothesis.
        hypotheses: The hypotheses, all of which the machine can have.  Long runs are done
            soonest if those on the same parts are swept together, and apart from others.
        base: The healthy table of the run's rows, if at hand.
    """
    mechanism = machine.mechanism
    healthy = base or tabulate(mechanism, run.rows)
    layout = _Layout(machine, run, tuple(Behaviour(machine, faults) for faults in hypotheses))
    rows = layout.rows
    beside = {name: layout.everywhere(healthy.places[name]) for name in layout.beside}
    table = tabulate(mechanism, rows, layout.changes, Table(beside, {}, {}))
    prints = machine.prints(table, rows, layout.worn)
    return Sweep(layout.behaviours, layout.blocks, rows, prints)


Numbers = list[int]
_ByPart = dict[str, dict[int, Numbers]]
"""For each part and each place (or side), the blocks in which a fault puts it there."""


@dataclass(frozen=True)
class _Layout:
    """Which faults act in which blocks."""

    machine: Machine
    run: Run
    behaviours: tuple[Behaviour, ...]

    def _memories(self, behaviour: Behaviour) -> tuple[tuple[int, ...], ...]:
        """The memories that have blocks of their own."""
        matter = self.run.starts or not self._follows(behaviour)
        return behaviour.memories if matter else behaviour.memories[:1]

    def _follows(self, behaviour: Behaviour) -> bool:
        """Whether what is remembered follows from row to row, and need not be guessed in each."""
        return behaviour.determined if self.run.starts else behaviour.settled

    @cached_property
    def blocks(self) -> tuple[int, ...]:
        """How many blocks each hypothesis has."""
        return tuple(len(self._memories(b)) * len(b.chances) for b in self.behaviours)

    @cached_property
    def rows(self) -> Blocks:
        """All blocks, a whole number of bytes from one to the next."""
        distance = max(1, -(-len(self.run.rows.codes) // 8)) * 8
        return Blocks(self.run.rows, distance, sum(self.blocks))

    @cached_property
    def worn(self) -> Worn:
        """What the type of all blocks shows instead."""
        found: dict[int, dict[str, Numbers]] = defaultdict(lambda: defaultdict(list))
        for block, act in self._acts():
            if isinstance(act, Reads):
                for cell, shown in act.cells:
                    found[cell][shown].append(block)
        return {
            cell: {shown: self._rows_of(blocks) for shown, blocks in shows.items()}
            for cell, shows in found.items()
        }

    def _acts(self) -> Iterator[tuple[int, Act]]:
        """Every act with the block that it happens in, the blocks in rising order."""
        block = 0
        for behaviour in self.behaviours:
            for _ in self._memories(behaviour):
                for acts in behaviour.acts.values():
                    for act in acts:
                        yield block, act
                    block += 1

    @cached_property
    def changes(self) -> Changes:
        """The faults of all blocks as one set of changes."""
        stuck: _ByPart = defaultdict(lambda: defaultdict(list))
        late: _ByPart = defaultdict(lambda: defaultdict(list))
        memory: _ByPart = defaultdict(lambda: defaultdict(list))
        found: dict[tuple[str, str], dict[int, Numbers]] = defaultdict(lambda: defaultdict(list))
        mechanism = self.machine.mechanism
        laws = mechanism.laws
        stays: dict[str, Numbers] = defaultdict(list)
        swapped: dict[tuple[str, str], Numbers] = defaultdict(list)
        guessed: Numbers = []
        block = 0
        for behaviour, n_blocks in zip(self.behaviours, self.blocks, strict=True):
            guesses = self.run.starts or not self._follows(behaviour)
            if not self._follows(behaviour):
                guessed += range(block, block + n_blocks)
            for remembered in self._memories(behaviour):
                places = tuple(zip(behaviour.remembering, remembered, strict=True))
                for _ in behaviour.acts:
                    for name, place in places if guesses else ():
                        memory[name][place].append(block)
                    block += 1
        for block, act in self._acts():
            match act:
                case Stands(name, place):
                    stuck[name][place].append(block)
                case Late(name, higher):
                    late[name][higher].append(block)
                case Found(name, follower, place):
                    found[follower, name][place].append(block)
                case Stays(name):
                    stays[name].append(block)
                case Swapped(name, other):
                    swapped[name, other].append(block)
                    swapped[other, name].append(block)
        starts, at_speed = self.everywhere((self.run.starts, self.run.at_speed))
        guess = starts | self._rows_of(guessed)
        bars = mechanism.bars
        given: dict[str, list[tuple[Column, Column]]] = defaultdict(list)
        elsewhere: dict[tuple[str, str], dict[str, Column]] = defaultdict(dict)
        for (name, other), blocks in swapped.items():
            rows = self._rows_of(blocks)
            if name in bars:
                given[name].append((self.rows.bit(bars[other].bit), rows))
            for follower in () if name in bars else both_sensed(self.machine, name, other):
                elsewhere[follower, name][other] = rows
        parts = {
            name: _Act(
                self._masks(stuck[name]),
                self._masks(late[name]),
                {place: rows & guess for place, rows in self._masks(memory[name]).items()},
                guess,
                at_speed,
                self._rows_of(stays[name]),
                given[name],
            )
            for name in {**stuck, **late, **stays, **given}
        }
        views = {
            link: partial(_viewed, link[1], masks=self._masks(found[link]), others=elsewhere[link])
            for link in {**found, **elsewhere}
        }
        before = {
            name: partial(
                _followed,
                guessed=_overlaid((0,) * len(laws[name].cuts), self._masks(memory[name])),
                guess=guess,
                every=self.rows.every,
            )
            for name in self.machine.mechanism.latches
        }
        return Changes(parts, views, before)

    def _masks(self, blocks: dict[int, Numbers]) -> dict[int, Column]:
        return {key: self._rows_of(numbers) for key, numbers in blocks.items()}

    def _rows_of(self, blocks: Numbers) -> Column:
        """All rows of some blocks, given in rising order."""
        rows, distance = 0, self.rows.distance
        for first, end in _stretches(blocks):
            rows |= (1 << (end - first) * distance) - 1 << first * distance
        return rows

    @cached_property
    def beside(self) -> tuple[str, ...]:
        """The parts that no fault reaches, but that those reached, or the printing, touch."""
        mechanism = self.machine.mechanism
        reached = mechanism.cone(self.changes.touched)
        touched = {name for part in reached for name in mechanism[part].joint.inputs}
        return tuple(touched.union(self.machine.output.parts).difference(reached))

    def everywhere(self, columns: Columns) -> Columns:
        """Columns of the run, repeated in every block."""
        return tuple(self.rows.repeated(column) for column in columns)


@dataclass(frozen=True)
class _Act:
    """What the faults of all blocks do to one part.

    Attributes:
        stuck: For each place, the rows in which the part is stuck there.
        late: The rows in which it takes the higher (True) or the lower (False) of the place asked
            for and the place remembered.
        memory: For each place, the rows in which a guess says that it remembers this place.
        guess: The rows in which what it remembers is guessed and not the row before.
        at_speed: The rows driven at speed.
        stays: The rows in which it stays where it stood.
        given: What another bar is told, and the rows in which this one is told so.
    """

    stuck: dict[int, Column]
    late: dict[int, Column]
    memory: dict[int, Column]
    guess: Column
    at_speed: Column
    stays: Column
    given: list[tuple[Column, Column]]

    def __call__(self, asked: Columns) -> Columns:
        found = asked
        for column, rows in self.given:
            found = (without(found[0], rows) | column & rows,)
        if self.stays:
            past = self._past(asked)
            found = tuple(
                without(now, self.stays) | then & self.stays
                for now, then in zip(found, past, strict=True)
            )
        if self.late:
            higher = self.late.get(True, 0) & self.at_speed
            lower = self.late.get(False, 0) & self.at_speed
            past = self._past(found)
            found = tuple(
                without(now | then & higher, without(lower, then))
                for now, then in zip(found, past, strict=True)
            )
        return _overlaid(found, self.stuck)

    def _past(self, asked: Columns) -> Columns:
        before = tuple(without(column << 1, self.guess) for column in asked)
        return tuple(
            column | sum(rows for place, rows in self.memory.items() if place > cut)
            for cut, column in enumerate(before)
        )


def _followed(law: Change, guessed: Columns, guess: Column, every: Column) -> Columns:
    """Where a latch stood before each row: as guessed, or else where the row before left it.

    From row to row its place is carried like the carry of an addition: some rows set it, some let
    it pass, the others end it.  So one addition of whole columns follows it through all of them.
    """
    at_rest, at_end, found = (0,) * len(guessed), (every,) * len(guessed), []
    for cut, told in enumerate(guessed):
        sets, passes = law(at_rest)[cut], law(at_end)[cut]
        told &= guess
        sets |= passes & told
        passes = without(passes, guess)
        carried = sets | passes
        before = (carried ^ sets ^ (carried + sets)) & every
        found.append(without(before, guess) | told)
    return tuple(found)


def _viewed(
    part: str,
    places: Mapping[str, Columns],
    masks: dict[int, Column],
    others: dict[str, Column],
) -> Columns:
    """Where a follower finds a part: another one in some rows, a certain place in others."""
    columns = places[part]
    for other, rows in others.items():
        columns = tuple(
            without(own, rows) | its & rows for own, its in zip(columns, places[other], strict=True)
        )
    return _overlaid(columns, masks)


def _overlaid(columns: Columns, masks: dict[int, Column]) -> Columns:
    """The columns, but in some rows those of a part that stands at a certain place."""
    for place, rows in masks.items():
        columns = tuple(
            column | rows if place > cut else without(column, rows)
            for cut, column in enumerate(columns)
        )
    return columns


def _stretches(blocks: Numbers) -> Iterator[tuple[int, int]]:
    """Runs of blocks side by side: the first, and the one after the last."""
    first = end = 0
    for block in blocks:
        if block != end:
            if end > first:
                yield first, end
            first = block
        end = block + 1
    if end > first:
        yield first, end
