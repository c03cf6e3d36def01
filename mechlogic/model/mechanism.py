"""Parts joined by laws, checked and put in order: the one description that all readings share.

A part has a small number of *places*: displacements it can reach when every code bar stands at
rest or at full travel.  Between two neighbouring places lies a *cut*: the question "has the
part moved at least this far?".  A part with n + 1 places has n cuts, and a part with two places
has just one, "is it operated?".

Each cut of a part depends on the cuts of the parts it touches.  That dependence is not written
down anywhere; it is derived here from the joint's travel law, by trying the law at every
combination of its inputs' places.  So the boolean reading of a mechanism is a consequence of
its contacts, never a second opinion about them.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import product
from math import prod
from typing import Any

from mechlogic.helpers.kept import kept
from mechlogic.model.keys import NOT_NEGATIVE, FieldKey, dimensions, keys_of, number, table, text
from mechlogic.model.laws import (
    PLAIN,
    Arithmetic,
    Bit,
    Joint,
    Key,
    Number,
)
from mechlogic.model.motion import Moves

MOST_COMBINATIONS = 4096
"""The most combinations of input places that one joint may have (twelve two-place inputs)."""

MOST_PLACES = 256
"""The most places of one part: those of a sum of eight bits."""

MOST_TO_TABULATE = 1_000_000
"""The most combinations times places of all parts together: about a second of work."""

LONGEST_NAME, MOST_NAMES = 100, 40
"""So many letters of a wrong name are compared, and so many known names are listed."""

REST = Fraction(0)


class MechanismError(ValueError):
    """A description that no mechanism can be built from.

    Attributes:
        part: Name of the part at fault.
        what: What is wrong.
        mend: What to do about it.
    """

    def __init__(self, part: str, what: str, mend: str) -> None:
        super().__init__(f"part {part!r}: {what}. {mend}")
        self.part, self.what, self.mend = part, what, mend


@dataclass(frozen=True)
class Sense:
    """A condition on one input of a joint: it has passed a cut, or it has not.

    Attributes:
        input: Position of the input among the joint's inputs, from 0.
        cut: Number of the cut, from 0: between places ``cut`` and ``cut + 1``.
        passed: Whether the input must have passed the cut, or must not.
    """

    input: int
    cut: int
    passed: bool = True


Ways = tuple[tuple[Sense, ...], ...]
"""The ways in which a part passes a cut: any one of them will do, each needs all its senses."""


@dataclass(frozen=True)
class Part:
    """One moving part as described.

    Attributes:
        name: Short identifier, unique in the mechanism.
        joint: The joint that moves it.
        label: What a person calls it.
        group: The assembly it belongs to.
        reach: Which access the part needs: a key of the machine's table of efforts.
        note: A remark for the restorer.
        moves: Its mass, spring, drag and friction; None if nothing is said of them.
        bounce_ms: How long a contact bounces after it closes, in ms; None if nothing is said.
        gap_mm: How far an input moves before it acts on this part, in mm (degrees if it turns).
        backlash_deg: Free turn between a pinion and its racks, in degrees; no reading but that of
            tolerances knows it.
        tolerances: (key, tolerance) of dimensions that are not held to the machine's usual ones, in
            the key's own unit, either way.
        adjusts: (key, range) of dimensions that a restorer can adjust, and how far either way.
    """

    name: str
    joint: Joint
    label: str = text(
        "label", "What a person calls it; its name if left out. No two parts the same.", default=""
    )
    group: str = text("group", "The assembly that it belongs to.", default="")
    reach: str = text("reach", "Which access it needs: a key of `[efforts_min]`.", default="")
    note: str = text("note", "A remark for the restorer.", default="")
    moves: Moves | None = table(
        "moves", "Its mass and its spring, for questions of time.", entry=Moves
    )
    bounce_ms: Fraction | None = number(
        "bounce_ms",
        "How long it bounces after it closes, in ms.",
        bound=NOT_NEGATIVE,
        default=None,
    )
    gap_mm: Fraction = number(
        "gap_mm",
        "Lost motion: how far an input moves before it acts on this part.",
        bound=NOT_NEGATIVE,
        default=REST,
    )
    backlash_deg: Fraction = number(
        "backlash_deg",
        "Free turn between the pinion and its racks.",
        bound=NOT_NEGATIVE,
        default=REST,
    )
    tolerances: tuple[tuple[str, Fraction], ...] = dimensions(
        "tolerances",
        "How far its dimensions may be off, where that is not as in `[tolerances]`: the same keys, "
        "as far as its joint has them.",
    )
    adjusts: tuple[tuple[str, Fraction], ...] = dimensions(
        "adjusts",
        "Which of its dimensions a restorer can adjust, and how far either way: the same keys.",
    )

    @classmethod
    def keys(cls, joint: type[Joint]) -> Mapping[str, FieldKey]:
        """The keys of a part with such a joint, but for those of the joint, by the field's name."""
        only = {"bounce_ms", "backlash_deg"} - {*joint.more}
        only |= {"gap_mm"} if joint.given else set()
        return {name: key for name, key in keys_of(cls).items() if name not in only}

    def travel(self, x: Sequence[Number], full: Sequence[Fraction], m: Arithmetic) -> Number:
        """Displacement of the part, in mm or degrees: its joint's law, once its gap is taken up.

        Args:
            x: Displacements of the inputs, and behind them that of a part with memory before.
            full: The inputs' full travels, same order and unit.
            m: Arithmetic of the numbers in *x*.
        """
        if isinstance(self.gap_mm, Fraction) and not self.gap_mm:
            return self.joint.travel(x, full, m)
        n = len(self.joint.inputs)
        acting = [m.largest(REST, place - self.gap_mm) for place in x[:n]]
        return self.joint.travel([*acting, *x[n:]], full, m)


@dataclass(frozen=True)
class Law:
    """What the travel law of one part comes to, once the places of its inputs are known.

    Attributes:
        places: Displacements the part can reach, rising, in mm or degrees.
        cuts: For each pair of neighbouring places, the ways in which the part passes from the
            lower to the higher.
    """

    places: tuple[Fraction, ...]
    cuts: tuple[Ways, ...]

    @property
    def full(self) -> Fraction:
        """Full travel: the distance between the outermost places."""
        return self.places[-1] - self.places[0]


class Mechanism:
    """Parts in working order: every part stands after the parts it touches.

    Args:
        parts: The parts, in any order.

    Raises:
        MechanismError: For a name used twice, an input that does not exist, parts that form a
            loop, a joint whose part never moves, or a joint with too many inputs.
    """

    def __repr__(self) -> str:
        return f"<Mechanism of {len(self.parts)} parts: {', '.join(self.parts)}>"

    def __init__(self, parts: Iterable[Part]) -> None:
        self.parts: Mapping[str, Part] = _in_order(list(parts))
        laws: dict[str, Law] = {}
        work = 0
        for part in self.parts.values():
            inputs = [laws[name] for name in part.joint.inputs]
            laws[part.name] = law = derive(part, inputs)
            work += len(law.places) * prod(len(each.places) for each in inputs)
            if work > MOST_TO_TABULATE:
                mend = "Describe a part of the machine at a time, or joints with fewer inputs."
                raise MechanismError(part.name, "up to here is too much to tabulate", mend)
        self.laws: Mapping[str, Law] = laws

    def __iter__(self) -> Iterator[Part]:
        return iter(self.parts.values())

    def __getitem__(self, name: str) -> Part:
        return self.parts[name]

    @cached_property
    def bars(self) -> Mapping[str, Bit]:
        """The code bars: parts set by the code itself."""
        return {p.name: p.joint for p in self if isinstance(p.joint, Bit)}

    @cached_property
    def keys(self) -> Mapping[str, Key]:
        """The key levers: parts set by the operator."""
        return {p.name: p.joint for p in self if isinstance(p.joint, Key)}

    @cached_property
    def latches(self) -> tuple[str, ...]:
        """The parts that stay where the last character left them, in working order."""
        return tuple(part.name for part in self if part.joint.remembers)

    @cached_property
    def followers(self) -> Mapping[str, tuple[str, ...]]:
        """For each part, the parts that touch it and follow it."""
        found: dict[str, list[str]] = {name: [] for name in self.parts}
        for part in self:
            for name in dict.fromkeys(part.joint.inputs):
                found[name].append(part.name)
        return {name: tuple(names) for name, names in found.items()}

    @cached_property
    def rest(self) -> Mapping[str, int]:
        """For each part, the number of its place at rest.

        That is its place when no bit is set; a driven member goes home, to its first place, and
        a latch is taken to have been there before.
        """
        places: dict[str, int] = {}
        for part in self:
            law = self.laws[part.name]
            inputs = [places[name] for name in part.joint.inputs]
            inputs += [0] * part.joint.remembers
            places[part.name] = 0 if part.joint.driven else asked_place(law, inputs)
        return places

    @cached_property
    def far_end(self) -> Mapping[str, int]:
        """For each part, the number of the end place that lies further from rest."""
        return {
            name: 0
            if 2 * law.places[self.rest[name]] > law.places[0] + law.places[-1]
            else len(law.cuts)
            for name, law in self.laws.items()
        }

    def unit(self, name: str) -> str:
        """The unit of a part's displacement: ``"mm"``, or ``"degrees"`` for a turning part.

        That of a contact, which is open or closed, is ``"contact"``.
        """
        joint = self[name].joint
        return joint.unit(self.unit(joint.inputs[0]) if joint.inputs else "mm")

    def downstream(self, name: str) -> frozenset[str]:
        """The part itself and every part that its place can reach."""
        reached = {name}
        for part in self:
            if reached.intersection(part.joint.inputs):
                reached.add(part.name)
        return frozenset(reached)

    @kept(None)
    def cone(self, names: frozenset[str]) -> tuple[str, ...]:
        """The named parts and all parts that they can reach, in working order."""
        reached = frozenset().union(*(self.downstream(n) for n in names if n in self.parts))
        return tuple(name for name in self.parts if name in reached)

    def upstream(self, name: str) -> frozenset[str]:
        """The part itself and every part whose place can reach it."""
        return self._upstream[name]

    @cached_property
    def _upstream(self) -> Mapping[str, frozenset[str]]:
        found: dict[str, frozenset[str]] = {}
        for part in self:
            found[part.name] = frozenset((part.name,)).union(
                *(found[name] for name in part.joint.inputs)
            )
        return found


def asked_place(law: Law, inputs: Sequence[int]) -> int:
    """The number of the place that a law asks for, given the numbers of its inputs' places.

    A code bar has no inputs and is asked to rest.
    """
    return sum(_holds(ways, inputs) for ways in law.cuts)


def derive(part: Part, inputs: Sequence[Law]) -> Law:
    """Derive a part's places and cuts from its travel law and the places of its inputs.

    The law is tried at every combination of input places.  Where it never falls as an input
    moves, or never rises, the ways found are the smallest ones, and they are unique.

    Raises:
        MechanismError: If the part never moves, or there are too many combinations.
    """
    joint: Any = part.joint
    if joint.given:
        return Law((REST, joint.stroke), (((),),))
    if joint.remembers:
        inputs = [*inputs, Law((REST, joint.throw), ())]
    if prod(len(law.places) for law in inputs) > MOST_COMBINATIONS:
        mend = "Divide it into several parts, each with fewer inputs."
        raise MechanismError(part.name, "its joint has too many inputs to tabulate", mend)
    full = [law.full for law in inputs]
    travel = {
        combination: part.travel(
            [law.places[k] for law, k in zip(inputs, combination, strict=True)], full, PLAIN
        )
        for combination in product(*(range(len(law.places)) for law in inputs))
    }
    places = tuple(sorted(set(travel.values())))
    if len(places) > MOST_PLACES:
        what = f"it has {len(places)} places, more than {MOST_PLACES}"
        raise MechanismError(part.name, what, "Give it fewer inputs, or round its dimensions.")
    if len(places) < 2:
        raise MechanismError(
            part.name, "it never moves, whatever the code", "Check its inputs and its dimensions."
        )
    senses = [_sense_of(travel, i, len(law.places)) for i, law in enumerate(inputs)]
    cuts = tuple(
        _smallest_ways([c for c, t in travel.items() if t >= place], senses, inputs)
        for place in places[1:]
    )
    return Law(places, cuts)


Combination = tuple[int, ...]


def _sense_of(travel: Mapping[Combination, Fraction], i: int, n_places: int) -> int:
    """1 if the travel never falls as input *i* moves, -1 if it never rises, 0 if it does both."""
    steps = {
        travel[(*c[:i], c[i] + 1, *c[i + 1 :])] - t
        for c, t in travel.items()
        if c[i] + 1 < n_places
    }
    if all(step >= 0 for step in steps):
        return 1
    return -1 if all(step <= 0 for step in steps) else 0


def _smallest_ways(
    combinations: list[Combination], senses: Sequence[int], inputs: Sequence[Law]
) -> Ways:
    """The combinations that ask least of the inputs, as conditions on the inputs' cuts."""
    passing = set(combinations)
    smallest = [c for c in combinations if passing.isdisjoint(_asking_less(c, senses))]
    return tuple(
        tuple(
            sense
            for i, (k, law) in enumerate(zip(c, inputs, strict=True))
            for sense in _conditions(i, k, len(law.cuts), senses[i])
        )
        for c in smallest
    )


def _asking_less(c: Combination, senses: Sequence[int]) -> Iterator[Combination]:
    """The combinations in which one input has moved one place less.

    If none of them passes a cut, no other combination that asks less does either.
    """
    for i, sense in enumerate(senses):
        if sense:
            yield (*c[:i], c[i] - sense, *c[i + 1 :])


def _conditions(i: int, place: int, n_cuts: int, sense: int) -> Iterator[Sense]:
    """Input *i* stands at *place* (sense 0), at least there (1), or at most there (-1)."""
    if place > 0 and sense >= 0:
        yield Sense(i, place - 1, True)
    if place < n_cuts and sense <= 0:
        yield Sense(i, place, False)


def _holds(ways: Ways, inputs: Sequence[int]) -> bool:
    """Whether any of the ways holds, given the numbers of the inputs' places.

    A code bar has no inputs and its single way asks nothing; at rest it has not passed its cut.
    """
    return any(way and all((inputs[s.input] > s.cut) == s.passed for s in way) for way in ways)


def _in_order(parts: list[Part]) -> dict[str, Part]:
    """The parts by name, each after the parts it touches."""
    named: dict[str, Part] = {}
    for part in parts:
        if part.name in named:
            raise MechanismError(part.name, "it is described twice", "Give each part its own name.")
        named[part.name] = part
    for part in parts:
        for name in part.joint.inputs:
            if name not in named:
                raise MechanismError(
                    part.name,
                    f"it touches {name!r}, which is not described",
                    did_you_mean(name, named),
                )
    ordered: dict[str, Part] = {}
    waiting = list(parts)
    while waiting:
        ready = [p for p in waiting if all(name in ordered for name in p.joint.inputs)]
        if not ready:
            loop = _loop(waiting)
            mend = f"Leave out one of the links {' > '.join([*loop, loop[0]])}."
            raise MechanismError(loop[0], "it waits for itself in a loop", mend)
        ordered.update((p.name, p) for p in ready)
        waiting = [p for p in waiting if p.name not in ordered]
    return ordered


def _loop(waiting: Sequence[Part]) -> list[str]:
    """Names of parts that wait for one another in a ring, each touched by the next.

    Every waiting part touches another one, so walking from part to part must come round.
    """
    touched = {p.name: p.joint.inputs for p in waiting}
    walked = [waiting[0].name]
    while True:
        further = next(name for name in touched[walked[-1]] if name in touched)
        if further in walked:
            return walked[walked.index(further) :][::-1]
        walked.append(further)


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """A sentence that offers the known names nearest to a wrong one."""
    from difflib import get_close_matches

    names = sorted(each[:LONGEST_NAME] for each in known)
    near = get_close_matches(name[:LONGEST_NAME], names, n=3, cutoff=0.5)
    if near:
        return f"Did you mean {' or '.join(near)}?"
    more = ", …" if len(names) > MOST_NAMES else ""
    return f"Known names: {', '.join(names[:MOST_NAMES])}{more}."
