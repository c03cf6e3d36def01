"""Two machines side by side: what they print differently, and where in the works they part.

A restorer's machine is seldom quite the one that was described; and a description that was changed
should do what it did before, but for the change.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

from mechlogic.describing.writing import cycle_keys, output_tables, part_keys
from mechlogic.explaining.words import capitalised, listed, the
from mechlogic.helpers.refusal import Refusal
from mechlogic.model.codes import shown
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import OUTPUT
from mechlogic.model.table import place_in_row

__all__ = ["Change", "CompareError", "Comparison", "Parting", "compare"]

MOST_NAMED = 8
"""How many codes a sentence names one by one."""


class CompareError(Refusal):
    """Two machines that cannot be compared."""


@dataclass(frozen=True)
class Parting:
    """A code that two machines print differently.

    Attributes:
        code: The code, without its parity bit.
        prints: What the first machine prints, and what the second.
        part: The first part in working order that both have and that stands elsewhere;
            :data:`~mechlogic.model.outputs.OUTPUT` if all stand alike, so that the output itself
            differs.
        thrown: The latches that were thrown over before, in both machines; the others that both
            have were thrown back.
    """

    code: int
    prints: tuple[str, str]
    part: str
    thrown: tuple[str, ...] = ()


@dataclass(frozen=True)
class Change:
    """A part, or another table of the description, that is not the same in both machines.

    Attributes:
        name: The part, or the table.
        keys: For each key of its table in the description that differs, the value in the first
            machine and in the second; an empty text where it is not given.
    """

    name: str
    keys: Mapping[str, tuple[str, str]]


@dataclass(frozen=True)
class Comparison:
    """Two machines side by side.

    Attributes:
        machines: The two.
        partings: The codes that they print differently.
        only: The parts that only the first has, and those that only the second has.
        changes: The parts that both have but with another joint or other dimensions.
        tables: The differences in what they print with, and in how fast they run.
    """

    machines: tuple[Machine, Machine]
    partings: tuple[Parting, ...]
    only: tuple[tuple[str, ...], tuple[str, ...]]
    changes: tuple[Change, ...]
    tables: tuple[Change, ...]

    @property
    def print_alike(self) -> bool:
        """Whether both print the same for every code."""
        return not self.partings

    @property
    def identical(self) -> bool:
        """Whether there is no difference that could matter to a print or to a part's travel."""
        parity = {machine.parity for machine in self.machines}
        return not (self.partings or any(self.only) or self.changes or self.tables) and (
            len(parity) == 1
        )

    def report(self) -> tuple[str, ...]:
        """The differences in words, a sentence or two for each."""
        return tuple(_sentences(self))


def compare(first: Machine, second: Machine) -> Comparison:
    """Lay two machines side by side.

    Args:
        first: A machine.
        second: Another one that receives the same code.

    Raises:
        CompareError: If they do not receive the same code.
    """
    if first.code.names != second.code.names or first.code.figures != second.code.figures:
        what = (
            f"{first.name} receives the {first.code.title} of {first.code.units} units, "
            f"{second.name} the {second.code.title} of {second.code.units} units, "
            "and the two do not have the same characters in the same places"
        )
        raise CompareError(what, "Compare machines that receive the same code.")
    one, other = first.mechanism.parts, second.mechanism.parts
    shared = [name for name in one if name in other]
    changes = (
        _change(name, *(part_keys(parts[name], first.code) for parts in (one, other)))
        for name in shared
    )
    return Comparison(
        (first, second),
        tuple(_partings(first, second, shared)),
        (
            tuple(name for name in one if name not in other),
            tuple(name for name in other if name not in one),
        ),
        tuple(change for change in changes if change.keys),
        tuple(_table_changes(first, second)),
    )


def _partings(first: Machine, second: Machine, shared: Sequence[str]) -> Iterator[Parting]:
    both = [n for n in shared if all(n in m.mechanism.latches for m in (first, second))]
    for thrown in _subsets(both):
        one, other = (
            _Followed(machine, {name: name in thrown for name in both})
            for machine in (first, second)
        )
        for code in range(len(first.code)):
            prints = one.prints(code), other.prints(code)
            if prints[0] != prints[1]:
                part = next((n for n in shared if _apart(one, other, n, code)), OUTPUT)
                yield Parting(code, prints, part, thrown)


def _subsets(names: Sequence[str]) -> Iterator[tuple[str, ...]]:
    """Some of the names, fewer first."""
    for n in range(len(names) + 1):
        yield from combinations(names, n)


class _Followed:
    """A machine followed through every code, some of its latches thrown over or back before."""

    def __init__(self, machine: Machine, thrown: Mapping[str, bool]) -> None:
        self.machine, self.laws = machine, machine.mechanism.laws
        latched = {name: over * len(self.laws[name].cuts) for name, over in thrown.items()}
        self.table, self.printed = machine.table_with(latched), machine.printed_with(latched)

    def prints(self, code: int) -> str:
        return self.printed[self.machine.as_set(code)]

    def place(self, name: str, code: int) -> int:
        return place_in_row(self.table.places[name], self.machine.as_set(code))


def _apart(one: _Followed, other: _Followed, name: str, code: int) -> bool:
    """Whether a part stands elsewhere in the second machine.

    Parts with as many places are held by the number of the place: one of them may well be longer,
    or move further, and still do the same.
    """
    places = one.laws[name].places, other.laws[name].places
    at = one.place(name, code), other.place(name, code)
    if len(places[0]) == len(places[1]):
        return at[0] != at[1]
    return places[0][at[0]] != places[1][at[1]]


# -- parts and type --------------------------------------------------------------------------------


def _table_changes(first: Machine, second: Machine) -> Iterator[Change]:
    """The differences in what the machines print with, how fast they run and how true they are."""
    tables = [
        {
            **(output_tables(machine.output) if first.output != second.output else {}),
            **({"cycle": cycle_keys(machine.cycle)} if machine.cycle else {}),
            **({"tolerances": machine.tolerances} if machine.tolerances else {}),
        }
        for machine in (first, second)
    ]
    for name in dict.fromkeys((*tables[0], *tables[1])):
        change = _change(name, tables[0].get(name, {}), tables[1].get(name, {}))
        if change.keys:
            yield change


def _change(name: str, one: Mapping[str, object], other: Mapping[str, object]) -> Change:
    here, there = (dict(_flat("", keys)) for keys in (one, other))
    keys = dict.fromkeys((*here, *there))
    pairs = {key: (here.get(key, ""), there.get(key, "")) for key in keys}
    return Change(name, {key: pair for key, pair in pairs.items() if pair[0] != pair[1]})


def _flat(key: str, value: object) -> Iterator[tuple[str, str]]:
    """The single values within a table, by keys such as ``stops[2].at_mm``."""
    match value:
        case Mapping():
            for inner, item in value.items():
                yield from _flat(f"{key}.{inner}".removeprefix("."), item)
        case list() | tuple():
            for i, item in enumerate(value):
                yield from _flat(f"{key}[{i + 1}]", item)
        case Fraction():
            yield key, f"{float(value):g}".replace("-", "−")
        case str() if value != value.strip():
            yield key, shown(value)
        case _:
            yield key, str(value)


# -- words -----------------------------------------------------------------------------------------


def _sentences(found: Comparison) -> Iterator[str]:
    first, second = _names(found.machines)
    if found.identical:
        yield f"{capitalised(first)} and {second} are alike: the same parts, type and prints."
        return
    yield from _print_sentences(found, first, second)
    for machine, names, who in zip(found.machines, found.only, (first, second), strict=True):
        if names:
            yield f"Only {who} has {listed(the(machine.label(name)) for name in names)}."
    for change in found.changes:
        label = capitalised(the(found.machines[0].label(change.name)))
        yield f"{label} is not the same: {_pairs(change, first, second)}."
    for change in found.tables:
        yield f"The table {change.name} is not the same: {_pairs(change, first, second)}."
    parity = [machine.parity for machine in found.machines]
    if parity[0] != parity[1]:
        yield f"Parity is {parity[0]} for {first}, {parity[1]} for {second}."
    if found.print_alike:
        yield "None of this changes a print."


def _names(machines: tuple[Machine, Machine]) -> tuple[str, str]:
    first, second = (machine.name for machine in machines)
    return (first, second) if first != second else ("the first", "the second")


def _print_sentences(found: Comparison, first: str, second: str) -> Iterator[str]:
    machine, n_codes = found.machines[0], len(found.machines[0].code)
    if found.print_alike:
        yield f"{capitalised(first)} and {second} print the same for all {n_codes} codes."
        return
    n_apart = len({parting.code for parting in found.partings})
    yield f"{capitalised(first)} and {second} print {n_apart} of {n_codes} codes differently."
    for part, thrown in dict.fromkeys((p.part, p.thrown) for p in found.partings):
        here = [p for p in found.partings if (p.part, p.thrown) == (part, thrown)]
        said = [_said(machine, parting) for parting in here[:MOST_NAMED]]
        if len(here) > MOST_NAMED:
            said.append(f"{len(here) - MOST_NAMED} more")
        latches = f"With {listed(the(machine.label(name)) for name in thrown)} thrown, "
        where = (
            "all parts that both have stand alike, but what is printed differs"
            if part == OUTPUT
            else f"they part first at {the(machine.label(part))}"
        )
        yield f"{capitalised((latches if thrown else '') + where)}: {listed(said)}."


def _said(machine: Machine, parting: Parting) -> str:
    one, other = parting.prints
    return f"{machine.code.name(parting.code)} ({one}, {other})"


def _pairs(change: Change, first: str, second: str) -> str:
    return "; ".join(
        f"{key} is {one or 'not given'} in {first}, {other or 'not given'} in {second}"
        for key, (one, other) in change.keys.items()
    )
