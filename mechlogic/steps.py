"""One cycle of a machine, for every memory and every code: what is seen, and what is remembered.

This is the transition table of the finite-state machine that a behaviour is.  Whoever has to look
ahead, from any state, reads it: the advice, the coverage of a text, the classes of faults.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache

from mechlogic.behaviour import Behaviour
from mechlogic.faults import Hypothesis
from mechlogic.machine import Machine, spread
from mechlogic.table import place_in_row

Memory = tuple[int, ...]
Outcome = tuple[str, Memory]
"""What is seen, and what is remembered afterwards."""

Steps = Mapping[Memory, Sequence[Mapping[Outcome, int]]]
"""For each memory and code, in how many throws of the dice each outcome comes about."""

FURTHEST = 12
"""Two states that no text of so many characters can tell apart are taken for one."""


@lru_cache(maxsize=10_000)
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
        asked = [table.asked[name] for name in behaviour.remembering]
        for code, seen in enumerate(spread(machine.prints(table, rows), len(rows.codes))):
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


def good_text(machine: Machine, codes: Iterable[int], memory: Memory | None = None) -> list[str]:
    """What a good machine shows for one code after the other.

    Args:
        machine: The machine.
        codes: What is sent, without parity.
        memory: How its latches stand before; at rest if left out.
    """
    shown, now = [], at_rest(machine) if memory is None else memory
    for code in codes:
        seen, now = good_step(machine, code, now)
        shown.append(seen)
    return shown


def state_numbers(
    machine: Machine, faults: Hypothesis, numbers: dict[object, int]
) -> frozenset[int]:
    """A number for each state that a machine may be in before the first character.

    Two states, of one hypothesis or of two, have one number if no text of :data:`FURTHEST`
    characters, at speed or by hand, can tell them apart.  So two hypotheses with the same set of
    numbers allow the same logs.

    Args:
        machine: The machine.
        faults: The hypothesis.
        numbers: The numbers given so far, for this machine; new ones are added.
    """
    tables = [steps(machine, faults, at_speed) for at_speed in (True, False)]
    known: dict[Memory, int] = dict.fromkeys(tables[0], 0)
    for depth in range(FURTHEST):
        told = {
            memory: tuple(
                frozenset((seen, known[after]) for seen, after in outcomes)
                for table in tables
                for outcomes in table[memory]
            )
            for memory in known
        }
        known = {
            memory: numbers.setdefault((depth, told[memory]), len(numbers)) for memory in known
        }
    return frozenset(known.values())
