"""Many hypotheses in one table: every fault, or every pair of faults, over the same rows at once.

A table's rows need not all belong to one machine.  Here they come in blocks, one for each world of
each hypothesis, and the faults of a hypothesis act in its own blocks alone.  The parts are then
worked out once for all blocks together, so a thousand hypotheses cost little more than one.

Within a block a sluggish part remembers the row before.  What it remembered before the first row,
or before a gap, is a matter of the block's world.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, partial

from mechlogic.behaviour import Behaviour, Found, Late, Stands
from mechlogic.faults import Hypothesis
from mechlogic.machine import Machine, Prints
from mechlogic.table import Changes, Column, Columns, Rows, ones_apart, standing, tabulate


@dataclass(frozen=True)
class Run:
    """Rows that follow one another: a log, or any other sequence of codes.

    Attributes:
        rows: The codes sent.
        at_speed: The rows driven at speed.
        starts: The rows before which nothing is known; the first is one of them.
    """

    rows: Rows
    at_speed: Column
    starts: Column


@dataclass(frozen=True)
class Sweep:
    """What hypotheses print over one run, a block for each world of each.

    Where the code before does not settle what is remembered (see :attr:`Behaviour.settled`),
    a block takes its world's memory for every row: then the blocks of a hypothesis together hold
    all that it can print, and perhaps more.

    Attributes:
        behaviours: The hypotheses.
        distance: How many rows lie between the starts of two blocks: those of the run and a few
            idle ones, so that every block begins with a whole byte.
        prints: What is printed, in every row of every block.
    """

    behaviours: tuple[Behaviour, ...]
    distance: int
    prints: Prints

    def any_world(self, column: Column) -> Iterator[tuple[Behaviour, Column]]:
        """For each hypothesis, the rows in which any of its worlds is in the column."""
        n_bytes = self.distance // 8
        n_blocks = sum(behaviour.n_worlds for behaviour in self.behaviours)
        rows = (column & (1 << self.distance * n_blocks) - 1).to_bytes(n_bytes * n_blocks, "little")
        place = 0
        for behaviour in self.behaviours:
            found = 0
            for _ in range(behaviour.n_worlds):
                found |= int.from_bytes(rows[place : place + n_bytes], "little")
                place += n_bytes
            yield behaviour, found

    @property
    def each(self) -> int:
        """A one at the first row of every block: times a column of the run, it repeats it."""
        n_blocks = sum(behaviour.n_worlds for behaviour in self.behaviours)
        return ones_apart(self.distance, n_blocks)


def sweep(machine: Machine, run: Run, hypotheses: Sequence[Hypothesis]) -> Sweep:
    """Work out what many hypotheses print over the same rows.

    Args:
        machine: The machine.
        run: The rows, the same for every hypothesis.
        hypotheses: The hypotheses, all of which the machine can have.
    """
    behaviours = tuple(Behaviour(machine, faults) for faults in hypotheses)
    for bar in machine.mechanism.bars.values():
        run.rows.bit(bar.bit)  # once here, so that it need not be worked out for every block
    layout = _Layout(machine, run, behaviours)
    rows = run.rows.repeated(layout.n_blocks, layout.distance)
    prints = machine.prints(tabulate(machine.mechanism, rows, layout.changes), rows)
    return Sweep(behaviours, layout.distance, prints)


class _Blocks(defaultdict[str, dict[int, list[int]]]):
    """For each part and each place (or side), the blocks in which a fault puts it there."""

    def __init__(self) -> None:
        super().__init__(dict)


@dataclass(frozen=True)
class _Layout:
    """Which faults act in which blocks."""

    machine: Machine
    run: Run
    behaviours: tuple[Behaviour, ...]

    @cached_property
    def n_blocks(self) -> int:
        """One block for each world of each hypothesis."""
        return sum(behaviour.n_worlds for behaviour in self.behaviours)

    @cached_property
    def distance(self) -> int:
        """Rows from block to block, a whole number of bytes."""
        return -(-len(self.run.rows.codes) // 8) * 8

    @cached_property
    def changes(self) -> Changes:
        """The faults of all blocks as one set of changes."""
        stuck, late, memory = _Blocks(), _Blocks(), _Blocks()
        found: dict[tuple[str, str], dict[int, list[int]]] = defaultdict(dict)
        guessed: list[int] = []
        block = 0
        for behaviour in self.behaviours:
            for world in behaviour.worlds():
                if not behaviour.settled:
                    guessed.append(block)
                for name, place in zip(behaviour.remembering, world.memory, strict=True):
                    memory[name].setdefault(place, []).append(block)
                heard: set[tuple[str, str]] = set()
                for act in behaviour.acts(world):
                    match act:
                        case Stands(name, place):
                            stuck[name].setdefault(place, []).append(block)
                        case Late(name, higher):
                            late[name].setdefault(higher, []).append(block)
                        case Found(name, follower, place):
                            link = follower, name
                            if link not in heard:
                                found[link].setdefault(place, []).append(block)
                                heard.add(link)
                block += 1
        guess = self._everywhere(self.run.starts)
        guess |= self._rows_of(guessed)
        parts = {
            name: _Act(
                self._masks(stuck[name]),
                self._masks(late[name]),
                {place: rows & guess for place, rows in self._masks(memory[name]).items()},
                guess,
                self._everywhere(self.run.at_speed),
            )
            for name in {*stuck, *late}
        }
        views = {link: partial(_overlaid, masks=self._masks(found[link])) for link in found}
        return Changes(parts, views)

    def _masks(self, blocks: dict[int, list[int]]) -> dict[int, Column]:
        return {key: self._rows_of(numbers) for key, numbers in blocks.items()}

    def _rows_of(self, blocks: list[int]) -> Column:
        """All rows of some blocks."""
        n_bytes = self.distance // 8
        whole = self.run.rows.every.to_bytes(n_bytes, "little")
        rows = bytearray(n_bytes * self.n_blocks)
        for block in blocks:
            rows[block * n_bytes : (block + 1) * n_bytes] = whole
        return int.from_bytes(rows, "little")

    def _everywhere(self, column: Column) -> Column:
        return column * ones_apart(self.distance, self.n_blocks)


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
    """

    stuck: dict[int, Column]
    late: dict[int, Column]
    memory: dict[int, Column]
    guess: Column
    at_speed: Column

    def __call__(self, asked: Columns) -> Columns:
        found = asked
        if self.late:
            higher = self.late.get(True, 0) & self.at_speed
            lower = self.late.get(False, 0) & self.at_speed
            past = self._past(asked)
            found = tuple(
                (now | then & higher) & (then | ~lower)
                for now, then in zip(asked, past, strict=True)
            )
        return _overlaid(found, self.stuck)

    def _past(self, asked: Columns) -> Columns:
        before = tuple(column << 1 & ~self.guess for column in asked)
        return tuple(
            column | sum(rows for place, rows in self.memory.items() if place > cut)
            for cut, column in enumerate(before)
        )


def _overlaid(columns: Columns, masks: dict[int, Column]) -> Columns:
    """The columns, but in some rows those of a part that stands at a certain place."""
    for place, rows in masks.items():
        there = standing(place, len(columns), rows)
        columns = tuple(c & ~rows | s for c, s in zip(columns, there, strict=True))
    return columns
