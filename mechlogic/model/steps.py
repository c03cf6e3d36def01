"""One cycle of a machine, for every memory and every code: what is seen, and what is remembered.

This is the transition table of the finite-state machine that a behaviour is.  Whoever has to look
ahead, from any state, reads it: the advice, the coverage of a text, the classes of faults.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from mechlogic.helpers.kept import kept
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.faults import Fault, Hypothesis, hypothesis
from mechlogic.model.machine import Machine, spread
from mechlogic.model.table import place_in_row

Memory = tuple[int, ...]
Outcome = tuple[str, Memory]
"""What is seen, and what is remembered afterwards."""

Steps = Mapping[Memory, Sequence[Mapping[Outcome, int]]]
"""For each memory and code, in how many throws of the dice each outcome comes about."""


@kept(10_000)
def steps(machine: Machine, faults: Hypothesis, at_speed: bool = True) -> Steps:
    """The transition table of a machine under a hypothesis.

    Args:
        machine: The machine.
        faults: The hypothesis; ``()`` for a good machine.
        at_speed: Whether the machine is driven at speed; False if it is turned by hand.
    """
    behaviour, rows = Behaviour(machine, faults), machine.rows(range(len(machine.code)))
    found: dict[Memory, tuple[Counter[Outcome], ...]] = {
        memory: tuple(Counter() for _ in rows.codes) for memory in behaviour.memories
    }
    for world in behaviour.worlds():
        table = behaviour.table(rows, rows.every if at_speed else 0, world)
        asked = behaviour.remembered(table, world)
        for code, seen in enumerate(spread(behaviour.prints(table, rows, world), len(rows.codes))):
            after = tuple(place_in_row(columns, code) for columns in asked)
            found[world.memory][code][seen, after] += 1
    return found


def at_rest(machine: Machine) -> Memory:
    """What a good machine remembers when every latch stands at rest."""
    return tuple(machine.mechanism.rest[name] for name in machine.mechanism.latches)


def good_memory(machine: Machine, faults: Hypothesis, memory: Memory) -> Memory:
    """What a good machine would remember where a faulty one remembers this: its latches only."""
    remembered = dict(zip(Behaviour(machine, faults).remembering, memory, strict=True))
    return tuple(remembered[name] for name in machine.mechanism.latches)


def good_step(machine: Machine, code: int, memory: Memory) -> Outcome:
    """What a good machine shows for a code, and what it remembers afterwards."""
    (outcome,) = steps(machine, ())[memory][code]
    return outcome


def good_text(machine: Machine, codes: Iterable[int]) -> list[str]:
    """What a good machine shows for one code after the other, its latches at rest before.

    Args:
        machine: The machine.
        codes: What is sent, without parity.
    """
    shown, now = [], at_rest(machine)
    for code in codes:
        seen, now = good_step(machine, code, now)
        shown.append(seen)
    return shown


def prints(
    machine: Machine, text: str, faults: Iterable[Fault] = (), at_speed: bool = True
) -> tuple[frozenset[str], ...]:
    """What a machine can print for each character of a text, whatever came before the text.

    Args:
        machine: The machine.
        text: What is sent, a character of the machine's code each.
        faults: What is wrong with the machine; nothing if left out.
        at_speed: Whether it is driven at speed; False if it is turned by hand.

    Raises:
        CodeError: If a character is not in the machine's code.
        FaultError: If the machine cannot have a fault.
    """
    table = steps(machine, hypothesis(machine.mechanism, faults), at_speed)
    memories: Iterable[Memory] = table
    shown = []
    for character in text:
        found = _seen_from(table, memories, machine.code.code(character))
        shown.append(frozenset(found))
        memories = frozenset().union(*found.values())
    return tuple(shown)


Lead = tuple[tuple[str, int], ...]
"""What may be seen of one character, and for each the number of the situation that it leads to."""


@dataclass(frozen=True)
class Language:
    """All that a machine can show, whatever is sent: equal for two that allow the same logs.

    It is the least automaton that accepts just the logs that the machine allows.  A *situation* is
    all that the machine may remember, given what has been seen so far; situations from which the
    same can be seen are one, and they are numbered as they are come upon from the start.

    Attributes:
        leads: For each situation, the one at the start being the first, and for each code at speed,
            then for each code by hand, what it leads to.
    """

    leads: tuple[tuple[Lead, ...], ...]

    @property
    def n_codes(self) -> int:
        """How many codes can be sent."""
        return len(self.leads[0]) // 2

    def after_each(self) -> tuple[int, ...] | None:
        """The situation after each code, if nothing that came before that code matters."""
        found: list[int] = []
        n = self.n_codes
        for code in range(n):
            after = {s for row in self.leads for way in (code, code + n) for _, s in row[way]}
            if len(after) > 1:
                return None
            found += after
        return tuple(found)


def language(machine: Machine, faults: Hypothesis) -> Language:
    """All that a machine can show under a hypothesis, at speed and by hand.

    Args:
        machine: The machine.
        faults: The hypothesis.
    """
    tables = [steps(machine, faults, at_speed) for at_speed in (True, False)]
    n_codes = len(machine.code)
    start = frozenset(tables[0])
    leads: dict[frozenset[Memory], list[dict[str, frozenset[Memory]]]] = {}
    waiting = [start]
    while waiting:
        here = waiting.pop()
        if here not in leads:
            leads[here] = [_seen_from(table, here, c) for table in tables for c in range(n_codes)]
            waiting += {there for lead in leads[here] for there in lead.values()}
    return Language(_least(start, leads))


def _seen_from(table: Steps, memories: Iterable[Memory], code: int) -> dict[str, frozenset[Memory]]:
    """What may be seen of a code, in order, and for each what may then be remembered."""
    found: dict[str, set[Memory]] = defaultdict(set)
    for memory in memories:
        for seen, after in table[memory][code]:
            found[seen].add(after)
    return {seen: frozenset(found[seen]) for seen in sorted(found)}


def _least(
    start: frozenset[Memory],
    leads: Mapping[frozenset[Memory], Sequence[Mapping[str, frozenset[Memory]]]],
) -> tuple[tuple[Lead, ...], ...]:
    """The situations with those that look the same made one (E. F. Moore, 1956), and numbered."""
    kind, n_kinds = dict.fromkeys(leads, 0), 0
    told: dict[frozenset[Memory], tuple[Lead, ...]] = {}
    while len(set(kind.values())) > n_kinds:
        n_kinds = len(set(kind.values()))
        told = {
            here: tuple(tuple((seen, kind[there]) for seen, there in lead.items()) for lead in row)
            for here, row in leads.items()
        }
        numbers: dict[tuple[Lead, ...], int] = {}
        kind = {here: numbers.setdefault(told[here], len(numbers)) for here in leads}
    one_of = {kind[here]: told[here] for here in leads}
    met = [kind[start]]
    for here in met:  # which grows meanwhile
        met += dict.fromkeys(s for lead in one_of[here] for _, s in lead if s not in met)
    order = {here: number for number, here in enumerate(met)}
    return tuple(
        tuple(tuple((seen, order[there]) for seen, there in lead) for lead in one_of[here])
        for here in met
    )
