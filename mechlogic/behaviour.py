"""A machine with faults, as a small finite-state machine.

What a faulty machine prints depends on three things: the code sent now; what its sluggish parts
*remember*, the place that each was asked for one character ago; and *chance*, what each follower
of a half-way part happens to find.  One combination of memory and chance is a *world*.  In any
one world the machine is a plain table again.

Memories never overlap in a hidden way: a sluggish part remembers the place that its law asked
for, whatever it then did.  So two sluggish parts in series reach back two characters, and the
machine still is finite: next memory follows from this world and this code.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, partial
from itertools import product

from mechlogic.faults import (
    DISCONNECTED,
    HALF_WAY,
    SLOW_TO_RETURN,
    SLUGGISH,
    STUCK_AT_REST,
    Hypothesis,
    other_end,
)
from mechlogic.machine import Machine
from mechlogic.mechanism import Mechanism
from mechlogic.table import Change, Changes, Column, Columns, Rows, Table, standing, tabulate


@dataclass(frozen=True)
class World:
    """One combination of what sluggish parts remember and what followers happen to find.

    Attributes:
        memory: For each remembering part, the number of the place it was last asked for.
        chance: For each follower of a half-way part, whether it finds the part operated.
    """

    memory: tuple[int, ...] = ()
    chance: tuple[bool, ...] = ()


@dataclass(frozen=True)
class Behaviour:
    """How a machine behaves under a hypothesis.

    Attributes:
        machine: The machine.
        faults: The faults, all present at once.
    """

    machine: Machine
    faults: Hypothesis

    @property
    def mechanism(self) -> Mechanism:
        """The parts of the machine."""
        return self.machine.mechanism

    @cached_property
    def remembering(self) -> tuple[str, ...]:
        """The sluggish parts, in the order of :attr:`World.memory`."""
        return tuple(fault.part for fault in self.faults if fault.mode in SLUGGISH)

    @cached_property
    def uncertain(self) -> tuple[tuple[str, str], ...]:
        """(follower, half-way part), in the order of :attr:`World.chance`."""
        return tuple(
            (follower, fault.part)
            for fault in self.faults
            if fault.mode == HALF_WAY.name
            for follower in self.machine.followers(fault.part)
        )

    @cached_property
    def memories(self) -> tuple[tuple[int, ...], ...]:
        """Every memory the machine can have."""
        laws = self.mechanism.laws
        return tuple(product(*(range(len(laws[name].places)) for name in self.remembering)))

    @cached_property
    def chances(self) -> tuple[tuple[bool, ...], ...]:
        """Every outcome of chance in one cycle, all equally likely."""
        return tuple(product((False, True), repeat=len(self.uncertain)))

    @cached_property
    def settled(self) -> bool:
        """Whether the code before settles what is remembered.

        It does unless something that a sluggish part waits for is sluggish itself, or half-way.
        """
        unsure = {fault.part for fault in self.faults if fault.mode in SLUGGISH | {HALF_WAY.name}}
        return not any(unsure & self.mechanism.upstream(part) - {part} for part in self.remembering)

    @property
    def n_worlds(self) -> int:
        """How many worlds there are."""
        return len(self.memories) * len(self.chances)

    def worlds(self) -> Iterator[World]:
        """Every world."""
        for memory in self.memories:
            for chance in self.chances:
                yield World(memory, chance)

    def table(self, rows: Rows, at_speed: Column, world: World, base: Table | None = None) -> Table:
        """Where every part stands in one world.

        Args:
            rows: The codes.
            at_speed: The rows driven at speed; in the others the shaft is turned by hand and
                sluggish parts have all the time they need.
            world: Memory and chance, the same in every row.
            base: The healthy table of the same rows, if at hand.
        """
        memory = dict(zip(self.remembering, world.memory, strict=True))
        columns = {
            name: standing(place, len(self.mechanism.laws[name].cuts), rows.every)
            for name, place in memory.items()
        }
        return tabulate(self.mechanism, rows, self._changes(rows, at_speed, world, columns), base)

    def table_after(
        self, before: Rows, rows: Rows, world: World, base: Table | None = None
    ) -> Table:
        """Where every part stands at speed when each row's code follows that of *before*.

        Only where that settles what is remembered (see :attr:`settled`): what the machine
        remembered before, and what followers found then, makes no difference.
        """
        then = self.table(before, before.every, World(self.memories[0], world.chance))
        columns = {name: then.asked[name] for name in self.remembering}
        return tabulate(self.mechanism, rows, self._changes(rows, rows.every, world, columns), base)

    def _changes(
        self, rows: Rows, at_speed: Column, world: World, memory: dict[str, Columns]
    ) -> Changes:
        every = rows.every
        parts: dict[str, Change] = {}
        views: dict[tuple[str, str], Change] = {}
        for fault in self.faults:
            name = fault.part
            n_cuts, rest = len(self.mechanism.laws[name].cuts), self.mechanism.rest[name]
            if fault.mode == DISCONNECTED.name:
                heard = self.mechanism.rest[fault.input]
                n_heard = len(self.mechanism.laws[fault.input].cuts)
                views[name, fault.input] = partial(fixed, place=standing(heard, n_heard, every))
            elif fault.mode in SLUGGISH:
                outward = (fault.mode == SLOW_TO_RETURN.name) == (rest == 0)
                late = _higher if outward else _lower
                parts[name] = partial(late, past=memory[name], at_speed=at_speed, every=every)
            elif fault.mode != HALF_WAY.name:
                end = rest if fault.mode == STUCK_AT_REST.name else other_end(self.mechanism, name)
                parts[name] = partial(fixed, place=standing(end, n_cuts, every))
        for link, operated in zip(self.uncertain, world.chance, strict=True):
            views.setdefault(link, partial(fixed, place=standing(int(operated), 1, every)))
        return Changes(parts, views)


def fixed(asked: Columns, place: Columns) -> Columns:
    """The place at which a stuck part stands, whatever is asked for."""
    return place


def _higher(asked: Columns, past: Columns, at_speed: Column, every: Column) -> Columns:
    """At speed, the higher of the place asked for and the place remembered."""
    return tuple(now | (then & at_speed) for now, then in zip(asked, past, strict=True))


def _lower(asked: Columns, past: Columns, at_speed: Column, every: Column) -> Columns:
    """At speed, the lower of the place asked for and the place remembered."""
    return tuple(now & (then | (every ^ at_speed)) for now, then in zip(asked, past, strict=True))
