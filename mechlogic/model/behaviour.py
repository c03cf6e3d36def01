"""A machine with faults, as a small finite-state machine.

What a faulty machine prints depends on three things: the code sent now; what some of its parts
*remember*, the place that each was asked for one character ago; and *chance*, what each follower
of a half-way part happens to find.  One combination of memory and chance is a *world*.  In any
one world the machine is a plain table again.

Sluggish parts remember, and so do latches, which nobody need be at fault for.  Memories never
overlap in a hidden way: a part remembers the place that its law asked for, whatever it then did.
So two sluggish parts in series reach back two characters, a latch reaches back for ever, and the
machine still is finite: next memory follows from this world and this code.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property, reduce
from itertools import chain, combinations, product
from math import prod
from operator import or_, xor

from mechlogic.helpers.kept import kept
from mechlogic.model.acts import Act, Acts, Found, Late, Reads, Stands, Stays, Swapped
from mechlogic.model.faults import (
    BY_CHANCE,
    DISCONNECTED,
    EXCHANGED,
    MODES,
    SLUGGISH,
    Effect,
    Fault,
    Hypothesis,
)
from mechlogic.model.machine import Machine
from mechlogic.model.mechanism import Mechanism
from mechlogic.model.outputs import OUTPUT, Prints
from mechlogic.model.table import Column, Columns, Rows, Table, asked_by, standing, tabulate
from mechlogic.model.type_faults import type_shows

FEW_FOLLOWERS = 6
"""Up to so many followers of a half-way part have a die each."""

MOST_DICE = 6
"""How many dice the followers of one half-way part have at most, if there are more of them."""


@dataclass(frozen=True)
class World:
    """One combination of what parts remember and what chance decides.

    Attributes:
        memory: For each remembering part, the number of the place it was last asked for.
        chance: For each of the behaviour's dice, the number thrown, from 0.
    """

    memory: tuple[int, ...] = ()
    chance: tuple[int, ...] = ()


@dataclass(frozen=True)
class Die:
    """Something that chance decides anew for every character, every number being as likely.

    Attributes:
        fault: The fault that leaves it to chance.
        followers: For a half-way part, the followers that find it at rest (0) or operated (1).
            None if the die says whether a fault shows (1) or not (0), or where a free part stands.
        sides: How many numbers it has.
    """

    fault: Fault
    followers: tuple[str, ...]
    sides: int


Shared = tuple[tuple[str, ...], ...]
"""The followers of a half-way part, those together that share a die."""


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
        """The sluggish parts and the latches, in the order of :attr:`World.memory`."""
        sluggish = (fault.part for fault in self.faults if fault.mode in SLUGGISH)
        return tuple(dict.fromkeys((*sluggish, *self.mechanism.latches)))

    @cached_property
    def dice(self) -> tuple[Die, ...]:
        """What chance decides, in the order of :attr:`World.chance`."""
        return tuple(
            die for fault in self.faults for die in _dice(self.machine, fault, self._shared[fault])
        )

    @cached_property
    def _shared(self) -> dict[Fault, Shared]:
        """For each fault that leaves it to chance what followers find, those that share a die."""
        return {
            fault: sharing(self.machine, fault.part, free_links(self.machine, fault, self.faults))
            if fault.mode in BY_CHANCE
            else ()
            for fault in self.faults
        }

    @cached_property
    def memories(self) -> tuple[tuple[int, ...], ...]:
        """Every memory the machine can have."""
        laws = self.mechanism.laws
        return tuple(product(*(range(len(laws[name].places)) for name in self.remembering)))

    @cached_property
    def chances(self) -> tuple[tuple[int, ...], ...]:
        """Every throw of the dice in one cycle, all equally likely."""
        return tuple(product(*(range(die.sides) for die in self.dice)))

    @cached_property
    def settled(self) -> bool:
        """Whether the code before settles what is remembered.

        It does unless the machine has a latch, or something that a sluggish part waits for is
        sluggish itself, or left to chance.
        """
        return self.determined and not any(map(self._waits, self.remembering))

    @cached_property
    def slow(self) -> tuple[int, ...]:
        """Where in a memory the sluggish parts stand; a latch stays where it is put."""
        latches, names = self.mechanism.latches, enumerate(self.remembering)
        return tuple(place for place, name in names if name not in latches)

    @cached_property
    def at_home(self) -> tuple[tuple[int, ...], ...]:
        """Which of the sluggish parts may have come home in a pause, any of them; first, none."""
        sizes = range(len(self.slow) + 1)
        return tuple(chain.from_iterable(combinations(self.slow, size) for size in sizes))

    def home(self, memory: tuple[int, ...]) -> list[tuple[int, ...]]:
        """What is remembered once those parts have come home: for each of :attr:`at_home`."""
        laid = list(zip(self.remembering, memory, strict=True))
        return [
            tuple(
                self.mechanism.rest[name] if place in some else before
                for place, (name, before) in enumerate(laid)
            )
            for some in self.at_home
        ]

    @cached_property
    def determined(self) -> bool:
        """Whether what is remembered follows from the first memory and the codes since.

        It does unless something that a part remembers is left to chance.
        """
        return not any(map(self._unsure, self.remembering))

    def _waits(self, part: str) -> bool:
        """Whether a part is asked by what was remembered before, its own memory or another's."""
        others = (other for other in self.remembering if other != part)
        upstream = self.mechanism.upstream(part)
        return part in self.mechanism.latches or any(other in upstream for other in others)

    def _unsure(self, part: str) -> bool:
        """Whether chance has a say in what a part that remembers is asked for."""
        upstream = self.mechanism.upstream(part)
        return any(
            die.fault.part in upstream
            and (die.fault.part != part or die.fault.mode == DISCONNECTED.name or self._held(die))
            for die in self.dice
        )

    def _held(self, die: Die) -> bool:
        """Whether a die says whether a latch is moved, and so what it remembers."""
        return die.fault.part in self.mechanism.latches and not die.followers

    @property
    def n_worlds(self) -> int:
        """How many worlds there are."""
        return len(self.memories) * prod(die.sides for die in self.dice)

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
        changes = self._acts(world, rows.every, columns).changes(rows, at_speed)
        return tabulate(self.mechanism, rows, changes, base)

    def table_after(
        self, before: Rows, rows: Rows, world: World, base: Table | None = None
    ) -> Table:
        """Where every part stands at speed when each row's code follows that of *before*.

        Only where that settles what is remembered (see :attr:`settled`): what the machine
        remembered before, and what followers found then, makes no difference.
        """
        then = self.table(before, before.every, World(self.memories[0], world.chance))
        columns = dict(zip(self.remembering, self.remembered(then, world), strict=True))
        changes = self._acts(world, rows.every, columns).changes(rows, rows.every)
        return tabulate(self.mechanism, rows, changes, base)

    def remembered(self, table: Table, world: World) -> list[Columns]:
        """For each part that remembers, what it remembers after each row of a world's table.

        A sluggish part remembers the place that it was asked for.  A latch that stayed or was held
        remembers where it stands.
        """
        held = {act.part for act in self.acts[world.chance] if isinstance(act, Stands | Stays)}
        held &= set(self.mechanism.latches)
        return [
            table.places[name] if name in held else table.asked[name] for name in self.remembering
        ]

    def prints(self, table: Table, rows: Rows, world: World) -> Prints:
        """What is printed, or else seen, in each row of a world's table."""
        return self.machine.prints(table, rows, self._acts(world, rows.every, {}).worn)

    @cached_property
    def acts(self) -> dict[tuple[int, ...], tuple[Act, ...]]:
        """For each throw of the dice, what the faults do."""
        chosen = product(
            *(_ways(self.machine, fault, self._shared[fault]) for fault in self.faults)
        )
        acts = (tuple(chain.from_iterable(ways)) for ways in chosen)
        return dict(zip(self.chances, acts, strict=True))

    def _acts(self, world: World, every: Column, memory: dict[str, Columns]) -> Acts:
        """What the faults do in every row of one world's table, given what is remembered."""
        acts = Acts(self.machine, memory)
        acts.add(self.acts[world.chance], every)
        return acts


def moved_by(fault: Fault) -> tuple[str, ...]:
    """The parts that a fault moves by itself: none if it is one of the type."""
    if fault.part == OUTPUT:
        return ()
    return (fault.part, fault.input) if fault.mode == EXCHANGED.name else (fault.part,)


@kept(10_000)
def _dice(machine: Machine, fault: Fault, shared: Shared) -> tuple[Die, ...]:
    """What one fault leaves to chance."""
    dice = [Die(fault, (), 2)] if fault.sometimes else []
    if fault.mode in BY_CHANCE:
        dice += [Die(fault, some, 2) for some in shared]
    elif MODES[fault.mode].effect is Effect.FREE:
        dice.append(Die(fault, (), len(machine.mechanism.laws[fault.part].places)))
    elif MODES[fault.mode].effect is Effect.STAYS:
        dice.append(Die(fault, (), 2))
    elif fault.part == OUTPUT and len(ways := type_shows(machine, fault)) > 1:
        dice.append(Die(fault, (), len(ways)))
    return tuple(dice)


@kept(10_000)
def sharing(machine: Machine, part: str, free: frozenset[tuple[str, str]] = frozenset()) -> Shared:
    """The followers of a half-way part, those together that share a die.

    Each has one of its own, up to :data:`FEW_FOLLOWERS`.  A code bar may have dozens, of
    which only one or two can act with any one code; then those share a die that never act with
    the same code, which makes no difference to what is printed.  If that is not enough either,
    the last die is shared by all that are left, and then some of what could happen is left out.

    Args:
        machine: The machine.
        part: The half-way part.
        free: (follower, other part) where the follower may find the other part anywhere; see
            :func:`free_links`.
    """
    followers = machine.followers(part)
    if len(followers) <= FEW_FOLLOWERS:
        return tuple((follower,) for follower in followers)
    shared: list[tuple[list[str], Column]] = []
    for follower in followers:
        acting = _acting(machine, part, follower, free)
        open_to_it = (k for k, (_, rows) in enumerate(shared) if not rows & acting)
        number = next(open_to_it, min(len(shared), MOST_DICE - 1))
        if number == len(shared):
            shared.append(([], 0))
        some, rows = shared[number]
        some.append(follower)
        shared[number] = some, rows | acting
    return tuple(tuple(some) for some, _ in shared)


def free_links(
    machine: Machine, fault: Fault, faults: Iterable[Fault]
) -> frozenset[tuple[str, str]]:
    """Where a follower of a part may find another part otherwise than the code alone decides.

    It may if the other part follows this one too, or a latch, or anything else that is at fault.
    """
    mechanism, others = machine.mechanism, [other for other in faults if other != fault]
    if len(machine.followers(fault.part)) <= FEW_FOLLOWERS:
        return frozenset()  # then nobody shares a die, and nobody asks
    moved = mechanism.downstream(fault.part).union(
        *(mechanism.downstream(name) for name in mechanism.latches),
        *(mechanism.downstream(name) for other in others for name in moved_by(other)),
    )
    unhooked = {(other.part, other.input) for other in others}
    return frozenset(
        (follower, name)
        for follower in mechanism.followers[fault.part]
        for name in mechanism[follower].joint.inputs
        if name != fault.part and (name in moved or (follower, name) in unhooked)
    )


def _acting(machine: Machine, part: str, follower: str, free: frozenset[tuple[str, str]]) -> Column:
    """The settings with which it may matter to a follower where it finds the part."""
    mechanism, every = machine.mechanism, machine.all_codes.every
    if follower not in mechanism.parts:
        return every
    joint, law = mechanism[follower].joint, mechanism.laws[follower]

    def anywhere(name: str) -> list[Columns]:
        n_cuts = len(mechanism.laws[name].cuts)
        return [standing(place, n_cuts, every) for place in range(n_cuts + 1)]

    def found(name: str) -> list[Columns]:
        return anywhere(name) if (follower, name) in free else [machine.healthy.places[name]]

    acting, n_cuts = 0, len(mechanism.laws[part].cuts)
    memory = [anywhere(follower)] if joint.remembers else []
    for other in product(*(found(name) for name in joint.inputs), *memory):
        at_rest, operated = (
            [
                standing(place, n_cuts, every) if name == part else columns
                for name, columns in zip((*joint.inputs, ""), other, strict=False)
            ]
            for place in (0, n_cuts)
        )
        asked = (asked_by(law, inputs, every) for inputs in (at_rest, operated))
        acting |= reduce(or_, map(xor, *asked))
    return acting


def ways_of(
    machine: Machine, fault: Fault, faults: Hypothesis
) -> tuple[tuple[tuple[Act, ...], ...], bool]:
    """What one fault does, for each throw of its own dice, and whether the others do not matter.

    They matter to who shares a die, where many follow a half-way part.
    """
    if fault.mode not in BY_CHANCE:
        return _ways(machine, fault, ()), True
    shared = sharing(machine, fault.part, free_links(machine, fault, faults))
    return _ways(machine, fault, shared), len(machine.followers(fault.part)) <= FEW_FOLLOWERS


@kept(10_000)
def _ways(machine: Machine, fault: Fault, shared: Shared) -> tuple[tuple[Act, ...], ...]:
    """What one fault does, for each throw of its own dice."""
    throws = product(*(range(die.sides) for die in _dice(machine, fault, shared)))
    return tuple(tuple(_acts_of(machine, fault, throw, shared)) for throw in throws)


def _acts_of(machine: Machine, fault: Fault, throw: tuple[int, ...], shared: Shared) -> list[Act]:
    name, mechanism = fault.part, machine.mechanism
    if fault.sometimes:
        shows, *throw_on = throw
        steady = replace(fault, sometimes=False)
        return _acts_of(machine, steady, tuple(throw_on), shared) if shows else []
    match MODES[fault.mode].effect:
        case Effect.AT_REST:
            return [Stands(name, mechanism.rest[name])]
        case Effect.FAR_END:
            return [Stands(name, mechanism.far_end[name])]
        case Effect.OPEN:
            return [Stands(name, 0)]
        case Effect.CLOSED:
            return [Stands(name, 1)]
        case Effect.LATE_BACK:
            return [Late(name, higher=mechanism.rest[name] == 0)]
        case Effect.LATE_OUT:
            return [Late(name, higher=mechanism.rest[name] != 0)]
        case Effect.UNHOOKED:
            return [Found(fault.input, name, mechanism.rest[fault.input], unhooked=True)]
        case Effect.BY_CHANCE:
            return [
                Found(name, follower, place)
                for some, place in zip(shared, throw, strict=True)
                for follower in some
            ]
        case Effect.BOUNCES:
            return [
                Found(name, follower, 0)
                for some, as_it_stands in zip(shared, throw, strict=True)
                for follower in some
                if not as_it_stands
            ]
        case Effect.FREE:
            return [Stands(name, *throw)]
        case Effect.STAYS:
            return [Stays(name)] if throw[0] else []
        case Effect.SWAPPED:
            return [Swapped(name, fault.input)]
        case Effect.TYPE:
            return [Reads(tuple(type_shows(machine, fault)[throw[0] if throw else 0].items()))]
