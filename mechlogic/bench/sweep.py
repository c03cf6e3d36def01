"""Many hypotheses in one table: what every fault, or every pair of faults, prints for one code.

A table's rows need not all belong to one machine.  Here each row is one *world* of one hypothesis:
what its parts remember, and what chance decides.  The parts are worked out once for all rows
together, so ten thousand hypotheses cost little more than one.  Nothing here depends on a log: it
is worked out once for each code, and kept.

For each throw of the dice, and for each memory, there is one row for each hypothesis.  So what
comes of one world of all hypotheses stands side by side, and is cut out in one stroke.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from math import prod

from mechlogic.helpers.kept import kept
from mechlogic.model.acts import Act, Acts
from mechlogic.model.behaviour import ways_of
from mechlogic.model.faults import SLUGGISH, Fault, Hypothesis
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import Prints
from mechlogic.model.table import Column, Columns, Table, Worlds, at_place, tabulate, without

Ways = tuple[tuple[Act, ...], ...]
"""For each throw of a fault's dice, what it does."""


@dataclass(frozen=True)
class Told:
    """What the hypotheses of a sweep do with one code.

    Attributes:
        prints: What may be printed, in which memory of which hypothesis.
        after: For each memory, the hypotheses that have it then, whatever was remembered before.
        loose: The others, of which the code alone does not settle what they remember then.
        joint: Of those, for each memory afterwards, what may be printed in which memory before.
    """

    prints: Prints
    after: tuple[Column, ...]
    loose: Column
    joint: tuple[Prints, ...]


@dataclass(frozen=True, eq=False)
class Sweep:
    """Hypotheses that have as many chances and memories, laid out side by side.

    Attributes:
        machine: The machine.
        hypotheses: The hypotheses.
        ways: For each of them, the ways of its faults.
        sluggish: For each of them, the parts that remember besides the latches.
    """

    machine: Machine
    hypotheses: Sequence[Hypothesis]
    ways: Sequence[tuple[Ways, ...]]
    sluggish: Sequence[tuple[str, ...]]

    @cached_property
    def _chances(self) -> tuple[int, ...]:
        return tuple(map(len, self.ways[0]))

    @cached_property
    def _memories(self) -> tuple[int, ...]:
        mechanism = self.machine.mechanism
        names = (*self.sluggish[0], *mechanism.latches)
        return tuple(len(mechanism.laws[name].places) for name in names)

    @cached_property
    def _n_chances(self) -> int:
        return prod(self._chances)

    @cached_property
    def n_memories(self) -> int:
        """How many memories each hypothesis has."""
        return prod(self._memories)

    @cached_property
    def width(self) -> int:
        """How many rows one world of all hypotheses takes: whole bytes."""
        return 8 * -(-len(self.hypotheses) // 8)

    @cached_property
    def every(self) -> Column:
        """The hypotheses, all of them."""
        return (1 << len(self.hypotheses)) - 1

    @cached_property
    def homeward(self) -> list[list[tuple[int, int, Column]]]:
        """For each place in a memory that is a sluggish part's, where a pause may lead.

        From one memory to another, and the hypotheses whose part there rests as the latter says.
        """
        found, rest = [], self.machine.mechanism.rest
        for axis, n_places in enumerate(self._memories[: len(self.sluggish[0])]):
            step, ways = prod(self._memories[axis + 1 :]), list[tuple[int, int, Column]]()
            resting = [
                _column(n for n, parts in enumerate(self.sluggish) if rest[parts[axis]] == place)
                for place in range(n_places)
            ]
            for memory in range(self.n_memories):
                place = memory // step % n_places
                for home, some in enumerate(resting):
                    if some and home != place:
                        ways.append((memory, memory + (home - place) * step, some))
            found.append(ways)
        return found

    def any_memory(self, column: Column) -> Column:
        """The hypotheses that a column of memories holds in one memory or another."""
        return _folded(column, self.n_memories, self.width)

    def in_memories(self, columns: Iterable[Column]) -> Column:
        """For each memory a column of hypotheses, made one column of memories."""
        size = self.width // 8
        return int.from_bytes(b"".join(c.to_bytes(size, "little") for c in columns), "little")

    def each_memory(self, column: Column) -> list[Column]:
        """A column of memories, as one of hypotheses for each."""
        return [column >> number * self.width & self.every for number in range(self.n_memories)]

    @kept(None)
    def told(self, code: int, at_speed: bool) -> Told:
        """What comes of one code, without parity; worked out once, and kept."""
        n_worlds = self._n_chances * self.n_memories
        rows = Worlds(self.machine.as_set(code), self.width * n_worlds)
        changes = self._acts.changes(rows, rows.every if at_speed else 0)
        table = tabulate(self.machine.mechanism, rows, changes)
        prints = self.machine.prints(table, rows, self._acts.worn)

        def by_chance(there: Column) -> Prints:
            distance = self.width * self.n_memories
            some = {p: _folded(c & there, self._n_chances, distance) for p, c in prints.items()}
            return {p: column for p, column in some.items() if column}

        remembered = [self._remembered(table, parts) for parts in self._remembering]
        may = [tuple(_folded(c, n_worlds, self.width) for c in columns) for columns in remembered]
        loose = 0
        for columns, some in zip(remembered, may, strict=True):
            for column, now in zip(columns, some, strict=True):
                loose |= now & _folded(rows.every ^ column, n_worlds, self.width)
        loose &= self.every
        after = tuple(self._at_each(may, without(self.every, loose)))
        there = _times(loose, self.width, n_worlds)
        joint = tuple(map(by_chance, self._at_each(remembered, there))) if loose else ()
        return Told(by_chance(_times(self.every, self.width, n_worlds)), after, loose, joint)

    def _remembered(self, table: Table, parts: Mapping[str, Column]) -> Columns:
        """What is remembered after each row, each part in its rows."""
        every = [
            [column & rows for column in self._acts.remembered(table, name)]
            for name, rows in parts.items()
        ]
        return tuple(sum(cuts) for cuts in zip(*every, strict=True))

    def _at_each(self, columns: Sequence[Columns], there: Column) -> Iterator[Column]:
        """The rows in which each memory is remembered."""
        for places in product(*map(range, self._memories)):
            some = there
            for its, place in zip(columns, places, strict=True):
                some &= at_place(its, place, there)
            yield some

    @cached_property
    def _remembering(self) -> list[dict[str, Column]]:
        """For each place in a memory, the parts that it may be of, each with its rows."""
        rows: list[dict[str, list[int]]] = [defaultdict(list) for _ in self._memories]
        for number, parts in enumerate(self.sluggish):
            for own, name in zip(rows, parts, strict=False):
                own[name].append(number)
        found: list[dict[str, Column]] = []
        for own in rows[: len(self.sluggish[0])]:
            found.append({name: self._everywhere(some) for name, some in own.items()})
        every = self._everywhere(range(len(self.hypotheses)))
        return [*found, *({name: every} for name in self.machine.mechanism.latches)]

    def _everywhere(self, numbers: Iterable[int]) -> Column:
        """All rows of some hypotheses."""
        return _times(_column(numbers), self.width, self._n_chances * self.n_memories)

    def _at(self, column: Column, axis: int, place: int) -> Column:
        """The rows of some hypotheses in which one of the dice, or of the memories, is so."""
        axes = (*self._chances, *self._memories)
        row = column.to_bytes(self.width // 8, "little") * prod(axes[axis + 1 :])
        blank = bytes(len(row))
        rows = (blank * place + row + blank * (axes[axis] - place - 1)) * prod(axes[:axis])
        return int.from_bytes(rows, "little")

    @cached_property
    def _acts(self) -> Acts:
        """What the faults of all hypotheses do."""
        acts = Acts(self.machine, self._past)
        for position in range(len(self._chances)):
            numbers: dict[Ways, list[int]] = defaultdict(list)
            for number, each in enumerate(self.ways):
                numbers[each[position]].append(number)
            for ways, some in numbers.items():
                column = _column(some)
                for throw, own in enumerate(ways):
                    if own:
                        acts.add(own, self._at(column, position, throw))
        return acts

    @property
    def _past(self) -> dict[str, Columns]:
        """For each part that remembers, its place in each memory, in the rows of that memory."""
        found: dict[str, Columns] = {}
        for number, parts in enumerate(self._remembering):
            axis, n_places = len(self._chances) + number, self._memories[number]
            at = [self._at(self.every, axis, place) for place in range(n_places)]
            cuts = [sum(at[cut + 1 :]) for cut in range(n_places - 1)]
            for name, rows in parts.items():
                before = found.get(name, (0,) * len(cuts))
                found[name] = tuple(a | b & rows for a, b in zip(before, cuts, strict=True))
        return found


def sweeps(machine: Machine, hypotheses: Iterable[Hypothesis]) -> tuple[Sweep, ...]:
    """Lay out hypotheses, those together that have as many chances and memories.

    Args:
        machine: The machine.
        hypotheses: The hypotheses, all of which the machine can have.
    """
    mechanism, few = machine.mechanism, dict[Fault, tuple[Ways, str]]()

    def known(fault: Fault, faults: Hypothesis) -> tuple[Ways, str]:
        if fault in few:
            return few[fault]
        ways, alone = ways_of(machine, fault, faults)
        slow = fault.mode in SLUGGISH and fault.part not in mechanism.latches
        found = ways, fault.part if slow else ""
        if alone:
            few[fault] = found
        return found

    alike: dict[tuple[int, ...], list[tuple[Hypothesis, tuple[Ways, ...], tuple[str, ...]]]]
    alike = defaultdict(list)
    n_places = {name: len(law.places) for name, law in mechanism.laws.items()}
    for faults in hypotheses:
        found = [known(fault, faults) for fault in faults]
        ways = tuple(own for own, _ in found)
        sluggish = tuple(name for _, name in found if name)
        kind = (*map(len, ways), *(-n_places[name] for name in sluggish))
        alike[kind].append((faults, ways, sluggish))
    return tuple(Sweep(machine, *zip(*group, strict=True)) for group in alike.values())


def _column(numbers: Iterable[int]) -> Column:
    """The column of the rows with these numbers, which rise."""
    several = list(numbers)
    bits = bytearray((several[-1] >> 3) + 1 if several else 0)
    for number in several:
        bits[number >> 3] |= 1 << (number & 7)
    return int.from_bytes(bits, "little")


def _times(column: Column, width: int, times: int) -> Column:
    """A column so many times, one beside the other, each so wide."""
    return int.from_bytes(column.to_bytes(width // 8, "little") * times, "little")


def _folded(column: Column, times: int, width: int) -> Column:
    """The rows that a column has in one or another of so many parts, each so wide."""
    while times > 1:
        times = -(-times // 2)
        size = times * width
        column = column & (1 << size) - 1 | column >> size
    return column
