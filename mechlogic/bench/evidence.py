"""A log held against a machine: whether a hypothesis accounts for it, and how well.

A faulty machine is a small finite-state machine (see :mod:`mechlogic.model.behaviour`).  To hold a
log against it is to follow, entry by entry, every memory that it may have by then.  That is done
exactly: no run of the machine that fits the log is missed, and none is counted twice.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import exp, fsum, log
from operator import mul

from mechlogic.bench.doubt import can_print
from mechlogic.model.behaviour import Behaviour, World
from mechlogic.model.codes import is_function
from mechlogic.model.faults import Hypothesis
from mechlogic.model.logbook import (
    FORGOTTEN,
    NOTHING,
    PAUSE,
    UNREADABLE,
    Logbook,
)
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import Prints
from mechlogic.model.seen import UNSEEN, alternatives, beneath
from mechlogic.model.steps import steps
from mechlogic.model.table import (
    Column,
    Rows,
    Table,
    at_place,
    place_in_row,
    tabulate,
    without,
)

MISREADING = 0.01
"""Chance that an entry of the log is not what was printed (common practice, no source)."""

SMUDGE = 0.03
"""Chance that a whole character is noted as unreadable, or a half one as a clipped character."""

OTHER_PRINTS = 65
"""Other entries that a misreading can make: 64 characters, nothing, unreadable, less one."""

Cost = tuple[int, int]
"""Entries misread, and of the rest those that show less than was printed; a misreading is worse."""

HOME = (0.0, 0.5, 1.0)
"""How likely it may be that a sluggish part has come home after a pause, one as likely as the other
(our own choice, no source).

How sluggish it is, and how long the pauses were, is not known, but is the same throughout the log.
"""

WELL, WRONG = 1 - MISREADING - SMUDGE, MISREADING / OTHER_PRINTS
"""Chance of an entry that fits what was printed, and of one that has to be misread."""


@dataclass(frozen=True)
class Evidence:
    """A log, ready to be compared with tables.

    Attributes:
        machine: The machine that the log was taken on.
        log: The log.

    Raises:
        ValueError: If the log is not in the machine's code, or says that the machine did something
            that it has no lever for.
    """

    machine: Machine
    log: Logbook

    def __post_init__(self) -> None:
        if self.log.code != self.machine.code:
            raise ValueError(
                f"the log is in the {self.log.code.title}, but {self.machine.title} receives a "
                f"{self.machine.code.title}. Read the log again in that code: "
                "from_lines(sent, printed, machine.code), read_logbook(path, machine.code)."
            )
        for number, entry in enumerate(self.log, start=1):
            several = alternatives(entry.printed)
            done = {name for one in several for name in one.split("+") if is_function(name)}
            if strange := done.difference(self.machine.output.glyphs):
                names = " and ".join(sorted(strange))
                raise ValueError(
                    f"entry {number}: {self.machine.title} shows no {names}. "
                    f"Write {NOTHING} if nothing was printed."
                )

    @cached_property
    def rows(self) -> Rows:
        """The codes sent, one row for each entry."""
        return self.machine.rows(entry.sent for entry in self.log)

    @cached_property
    def base(self) -> Table:
        """Where a healthy machine's parts stand in each entry."""
        return tabulate(self.machine.mechanism, self.rows)

    @cached_property
    def at_speed(self) -> Column:
        """The entries made with the machine driven at speed."""
        return self.rows.where(entry.driven == "speed" for entry in self.log)

    @cached_property
    def starts(self) -> Column:
        """The entries before which nothing is known: the first, and each after a gap."""
        return self.rows.where(t == 0 or entry.gap == FORGOTTEN for t, entry in enumerate(self.log))

    @cached_property
    def waited(self) -> Column:
        """The entries before which a sluggish part may have come home."""
        return self.rows.where(t > 0 and entry.gap == PAUSE for t, entry in enumerate(self.log))

    @cached_property
    def stretches(self) -> tuple[Column, ...]:
        """The entries from each start to the next; no stretch knows of another."""
        firsts = [*_numbers(self.starts), len(self.log)]
        return tuple((1 << end) - (1 << first) for first, end in pairwise(firsts))

    @cached_property
    def clipped(self) -> Column:
        """The entries of which only a part could be seen."""
        return self.rows.where(entry.clipped for entry in self.log)

    @cached_property
    def printed(self) -> tuple[str, ...]:
        """What was printed; a printed blank is called nothing, as it looks."""
        return tuple(NOTHING if e.printed == " " else e.printed for e in self.log)

    @cached_property
    def idle(self) -> Column:
        """The entries that count for nothing: not seen, or a print that the machine cannot make.

        The latter are questions for the restorer, see :mod:`mechlogic.bench.doubt`.
        """
        prints = {e.printed for e in self.log}
        idle = {p for p in prints if p == UNSEEN or not can_print(self.machine, p)}
        return self.rows.where(entry.printed in idle for entry in self.log)

    @cached_property
    def readings(self) -> tuple[frozenset[str], ...]:
        """For each entry, all that may have been printed, given what was seen."""
        return tuple(frozenset(alternatives(entry.printed)) for entry in self.log)

    @cached_property
    def good(self) -> tuple[frozenset[str], ...]:
        """For each entry, what a good machine may have printed, seeing what it printed before.

        That is one print, unless a latch may have stood one way or the other before the log began
        and nothing printed since has told which.
        """
        table = steps(self.machine, ())
        return tuple(
            frozenset(seen for memory in memories for seen, _ in table[memory][entry.sent])
            for entry, memories in zip(self.log, self._good_memories, strict=True)
        )

    @cached_property
    def latched(self) -> tuple[dict[str, int] | None, ...]:
        """For each entry, where a good machine's latches stood before it; None if not known."""
        latches = self.machine.mechanism.latches
        found: list[dict[str, int] | None] = []
        for one, *others in self._good_memories:
            found.append(None if others else dict(zip(latches, one, strict=True)))
        return tuple(found)

    @cached_property
    def _good_memories(self) -> tuple[frozenset[tuple[int, ...]], ...]:
        """For each entry, what a good machine may have remembered before it, given the prints."""
        table = steps(self.machine, ())
        found, memories = [], frozenset(table)
        for t, entry in enumerate(self.log):
            if self.starts >> t & 1:
                memories = frozenset(table)
            found.append(memories)
            outcomes = {outcome for memory in memories for outcome in table[memory][entry.sent]}
            idle = bool(self.idle >> t & 1)
            fitting = {after for seen, after in outcomes if idle or seen in self.readings[t]}
            memories = frozenset(fitting or {after for _, after in outcomes})
        return tuple(found)

    @cached_property
    def misprints(self) -> Column:
        """The entries that count and that a good machine would not have made."""
        wrong = self.rows.where(map(frozenset.isdisjoint, self.readings, self.good))
        return without(wrong, self.idle)

    @cached_property
    def wrong(self) -> tuple[int, ...]:
        """The numbers of the misprints, from 0."""
        return tuple(_numbers(self.misprints))

    @cached_property
    def _seen(self) -> Prints:
        every = dict.fromkeys(print_ for readings in self.readings for print_ in sorted(readings))
        return {
            print_: self.rows.where(print_ in readings for readings in self.readings)
            for print_ in every
        }

    @cached_property
    def _beneath(self) -> Prints:
        """What two characters on top of each other may hide, and in which entries."""
        hidden = [beneath(entry.printed) for entry in self.log]
        every = dict.fromkeys(print_ for one in hidden for print_ in one)
        return {print_: self.rows.where(print_ in one for one in hidden) for print_ in every}

    def fits(self, prints: Prints, each: int = 1) -> tuple[Column, Column]:
        """The entries that fit what would be printed, and those that fit it less well.

        An unreadable entry fits any character less well, and a clipped one a wheel that stood
        between two places; :mod:`mechlogic.model.seen` says what the other readings fit.  An entry
        that counts for nothing fits everything.

        Args:
            prints: What would be printed, in as many rows as the log has entries, or in blocks
                of so many.
            each: A one for every block, so that a column times this is repeated in each.
        """
        well = self.idle * each
        for print_, seen in self._seen.items():
            well |= seen * each & prints.get(print_, 0)
        struck = without(self.rows.every * each, prints.get(NOTHING, 0))
        missed = prints.get(UNREADABLE, 0)
        less = (self._seen.get(UNREADABLE, 0) * each & struck) | (self.clipped * each & missed)
        for print_, seen in self._beneath.items():
            less |= seen * each & prints.get(print_, 0)
        return well, without(less, well)


@dataclass(frozen=True)
class Account:
    """How well a hypothesis accounts for a log.

    Attributes:
        faults: The hypothesis.
        misfits: The fewest entries that must be misread if it is true; none if it is consistent.
        smudges: With so few misread, the fewest entries that show less than was printed.
        log_likelihood: Natural logarithm of the chance of this log under the hypothesis.
        belief: After the last entry, the chance of each memory.
        path: For each entry, a world in which the machine can have been, fewest misfits first.
    """

    faults: Hypothesis
    misfits: tuple[int, ...]
    log_likelihood: float
    belief: dict[tuple[int, ...], float]
    path: tuple[World, ...]
    smudges: int = 0

    @property
    def consistent(self) -> bool:
        """Whether the hypothesis explains every entry without a misreading."""
        return not self.misfits

    @property
    def cost(self) -> "Cost":
        """What it leaves unexplained, for comparison with other hypotheses."""
        return len(self.misfits), self.smudges


def account(evidence: Evidence, behaviour: Behaviour) -> Account:
    """Hold a log against a hypothesis.

    Args:
        evidence: The log.
        behaviour: The machine under the hypothesis.
    """
    worlds = [_Leaf(evidence, behaviour, world) for world in behaviour.worlds()]
    return (_all_at_once if behaviour.settled else _follow)(evidence, behaviour, worlds)


def predictions(evidence: Evidence, behaviour: Behaviour) -> tuple[frozenset[str], ...]:
    """For each entry, everything that may be printed if the hypothesis is true.

    Only what was sent counts here, not what was printed.
    """
    machine, faults = evidence.machine, behaviour.faults
    speed, hand = steps(machine, faults), steps(machine, faults, at_speed=False)
    found, memories = [], set(speed)
    for t, entry in enumerate(evidence.log):
        if evidence.starts >> t & 1:
            memories = set(speed)
        elif evidence.waited >> t & 1:
            memories = {home for memory in memories for home in behaviour.home(memory)}
        table = speed if entry.driven == "speed" else hand
        outcomes = {outcome for memory in memories for outcome in table[memory][entry.sent]}
        found.append(frozenset(seen for seen, _ in outcomes))
        memories = {after for _, after in outcomes}
    return tuple(found)


class _Leaf:
    """One world held against the log: which entries fit, and what is remembered after each."""

    def __init__(self, evidence: Evidence, behaviour: Behaviour, world: World) -> None:
        self.world = world
        table = behaviour.table(evidence.rows, evidence.at_speed, world, evidence.base)
        self.well, self.less = evidence.fits(behaviour.prints(table, evidence.rows, world))
        self.asked = behaviour.remembered(table, world)

    def remembers(self, row: int) -> tuple[int, ...]:
        return tuple(place_in_row(columns, row) for columns in self.asked)

    def fit(self, row: int) -> tuple[float, Cost]:
        """Chance of the entry in this world, and whether it must be misread or smudged."""
        if self.well >> row & 1:
            return WELL, (0, 0)
        if self.less >> row & 1:
            return SMUDGE, (0, 1)
        return WRONG, (1, 0)

    def possible(self, evidence: Evidence, behaviour: Behaviour) -> list[Column]:
        """The entries that can find this world, if the entry before settles the memory.

        There is a column for each of :attr:`.Behaviour.at_home`.
        """
        every, memory = evidence.rows.every, self.world.memory
        rest = [behaviour.mechanism.rest[name] for name in behaviour.remembering]
        asked = [at_place(own, place, every) for own, place in zip(self.asked, memory, strict=True)]
        found = []
        for at_home in behaviour.at_home:
            there = every
            for place, rows in enumerate(asked):
                if place in at_home:
                    there &= every if memory[place] == rest[place] else 0
                else:
                    there &= rows
            found.append(evidence.starts | (there << 1 & every))
        return found


def _weights(behaviour: Behaviour, chance: float) -> list[float]:
    """The chance of each of :attr:`.Behaviour.at_home`, if each part comes home by itself."""
    n = len(behaviour.slow)
    return [chance ** len(s) * (1 - chance) ** (n - len(s)) for s in behaviour.at_home]


def _cases(evidence: Evidence, behaviour: Behaviour) -> tuple[float, ...]:
    """How likely sluggish parts may be to have come home; one case where it does not matter."""
    return HOME if behaviour.slow and evidence.waited else HOME[:1]


def _together(likelihoods: Sequence[float]) -> tuple[float, list[float]]:
    """The log likelihood over all cases, and the chance of each case once the log is known."""
    best = max(likelihoods)
    shares = [exp(own - best) for own in likelihoods]
    total = fsum(shares)
    return best + log(total / len(shares)), [share / total for share in shares]


def _all_at_once(evidence: Evidence, behaviour: Behaviour, leaves: list[_Leaf]) -> Account:
    """The same as :func:`_follow` where the entry before settles what is remembered.

    Then each entry stands by itself: how likely it is depends only on how many of its possible
    worlds print it well, less well and not at all, and entries with equal counts go together.
    """
    n, every = len(evidence.log), evidence.rows.every
    waited = evidence.waited if behaviour.slow else 0
    possible = list(zip(*(leaf.possible(evidence, behaviour) for leaf in leaves), strict=True))
    # Entries of equal chances: one chance for each way in which parts may have come home.
    alike: dict[tuple[float, ...], Column] = {(): waited}
    for way in possible if waited else ():
        chances = _chances(leaves, way, waited)
        alike = {
            (*before, chance): both
            for before, some in alike.items()
            for chance, rows in chances.items()
            if (both := some & rows)
        }
    straight = _chances(leaves, possible[0], without(every, waited))
    terms = [rows.bit_count() * log(chance) for chance, rows in straight.items()]
    likelihoods = []
    for case in _cases(evidence, behaviour):
        weights = _weights(behaviour, case)
        more = (
            rows.bit_count() * log(sum(map(mul, weights, chances)))
            for chances, rows in alike.items()
            if rows
        )
        likelihoods.append(fsum((*terms, *more)))  # exactly, so that equal suspects come out equal
    likelihood, _ = _together(likelihoods)
    path, smudged, wrong = _likeliest(leaves, possible, every, waited)
    if n:
        belief = {leaves[0].remembers(n - 1): 1.0}
    else:
        belief = {memory: 1 / len(behaviour.memories) for memory in behaviour.memories}
    misfits = tuple(_numbers(wrong))
    return Account(behaviour.faults, misfits, likelihood, belief, path, smudged.bit_count())


def _chances(leaves: list[_Leaf], possible: Sequence[Column], every: Column) -> dict[float, Column]:
    """The chance of some entries, given in which of them each world is possible."""
    alike = {(0, 0, 0): every}
    for leaf, may_be in zip(leaves, possible, strict=True):
        well, less = may_be & leaf.well, may_be & leaf.less
        refined: dict[tuple[int, int, int], Column] = {}
        for (a, b, c), rows in alike.items():
            for counts, some in (
                ((a, b, c), rows & ~may_be),
                ((a + 1, b, c), rows & well),
                ((a, b + 1, c), rows & less),
                ((a, b, c + 1), rows & may_be & ~well & ~less),
            ):
                if some:
                    refined[counts] = refined.get(counts, 0) | some
        alike = refined
    found: dict[float, Column] = {}
    for (a, b, c), rows in alike.items():
        if rows:
            chance = (a * WELL + b * SMUDGE + c * WRONG) / (a + b + c)
            found[chance] = found.get(chance, 0) | rows
    return found


def _likeliest(
    leaves: list[_Leaf], possible: Sequence[Sequence[Column]], every: Column, waited: Column
) -> tuple[tuple[World, ...], Column, Column]:
    """For each entry, a possible world that prints it, as well as can be.

    Then the entries that no world prints well, and those that none prints at all.
    """
    path = [leaves[0].world] * every.bit_length()
    left, after = every, [every]
    for fitting in (
        [leaf.well for leaf in leaves],
        [leaf.less for leaf in leaves],
        [every] * len(leaves),
    ):
        for number, way in enumerate(possible):
            for leaf, may_be, fits in zip(leaves, way, fitting, strict=True):
                rows = left & may_be & fits & (waited if number else every)
                left ^= rows
                if leaf is not leaves[0]:
                    for row in _numbers(rows):
                        path[row] = leaf.world
        after.append(left)
    return tuple(path), after[1] ^ after[2], after[2]


def _numbers(rows: Column) -> Iterator[int]:
    """The numbers of the rows in a column, rising."""
    while rows:
        low = rows & -rows
        yield low.bit_length() - 1
        rows ^= low


def _follow(evidence: Evidence, behaviour: Behaviour, worlds: list[_Leaf]) -> Account:
    """Follow every memory through the log: the chance of each, and the best way to it."""
    best: _Best = dict.fromkeys(behaviour.memories, _Way())
    for row in range(len(evidence.log)):
        if evidence.starts >> row & 1:
            best = dict.fromkeys(behaviour.memories, min(best.values(), key=_cost))
        elif behaviour.slow and evidence.waited >> row & 1:
            for memory, way in list(best.items()):
                for home in behaviour.home(memory):
                    best[home] = min(best.get(home, way), way, key=_cost)
        new_best: _Best = {}
        for leaf in worlds:
            if before := best.get(leaf.world.memory):
                after = leaf.remembers(row)
                _, (misfit, smudge) = leaf.fit(row)
                misread, smudged = before.cost
                cost = (misread + misfit, smudged + smudge)
                if after not in new_best or cost < new_best[after].cost:
                    new_best[after] = _Way(cost, row, bool(misfit), leaf.world, before)
        best = new_best
    cheapest = min(best.values(), key=_cost)
    misfits, path = cheapest.unwound()
    cases = [_believed(evidence, behaviour, worlds, case) for case in _cases(evidence, behaviour)]
    total, shares = _together([own for own, _ in cases])
    belief: _Belief = defaultdict(float)
    for share, (_, own) in zip(shares, cases, strict=True):
        for memory, chance in own.items():
            belief[memory] += share * chance
    return Account(behaviour.faults, misfits, total, dict(belief), path, cheapest.cost[1])


def _believed(
    evidence: Evidence, behaviour: Behaviour, worlds: list[_Leaf], case: float
) -> tuple[float, "_Belief"]:
    """The log likelihood in one case, and the chance of each memory after the last entry."""
    memories, n_chances = behaviour.memories, len(behaviour.chances)
    weights = _weights(behaviour, case)
    belief, total = dict.fromkeys(memories, 1 / len(memories)), 0.0
    for row in range(len(evidence.log)):
        if evidence.starts >> row & 1:
            belief = dict.fromkeys(memories, 1 / len(memories))
        elif behaviour.slow and evidence.waited >> row & 1:
            waited: _Belief = defaultdict(float)
            for memory, share in belief.items():
                for weight, home in zip(weights, behaviour.home(memory), strict=True):
                    waited[home] += share * weight
            belief = waited
        new_belief: _Belief = defaultdict(float)
        for leaf in worlds:
            if share := belief.get(leaf.world.memory, 0.0):
                new_belief[leaf.remembers(row)] += share * leaf.fit(row)[0] / n_chances
        scale = sum(new_belief.values())
        total += log(scale)
        belief = {memory: share / scale for memory, share in new_belief.items()}
    return total, belief


@dataclass(frozen=True, slots=True)
class _Way:
    """A run of the machine up to one entry, as a chain back to its start."""

    cost: Cost = (0, 0)
    row: int = 0
    misfit: bool = False
    world: World | None = None
    before: "_Way | None" = None

    def unwound(self) -> tuple[tuple[int, ...], tuple[World, ...]]:
        """The entries that do not fit, and the world of each entry."""
        misfits: list[int] = []
        path: list[World] = []
        way: _Way | None = self
        while way is not None and way.world is not None:
            path.append(way.world)
            if way.misfit:
                misfits.append(way.row)
            way = way.before
        return tuple(reversed(misfits)), tuple(reversed(path))


_Best = dict[tuple[int, ...], _Way]
"""The best way to each memory."""

_Belief = dict[tuple[int, ...], float]
"""The chance of each memory."""


def _cost(way: _Way) -> Cost:
    return way.cost
