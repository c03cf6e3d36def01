"""Which setting makes a good machine choose each cell of its output, from each of its memories."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from mechlogic.helpers.kept import kept
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.machine import Machine, spread
from mechlogic.model.steps import Memory, at_rest
from mechlogic.model.table import Table


@dataclass(frozen=True)
class Chosen:
    """How a cell is chosen.

    Attributes:
        setting: A setting of the code bars that chooses it, parity right: that of the code which
            is declared to print its own character, if there is one.
        memory: How the latches of the machine stand before, in working order.
        alone: Whether it is the code's own character, or no other code chooses the cell.
    """

    setting: int
    memory: Memory
    alone: bool


def good_tables(machine: Machine) -> Mapping[Memory, Table]:
    """The tables of a good machine for all settings, one for each of its memories."""
    latches = machine.mechanism.latches
    return {
        memory: machine.table_with(dict(zip(latches, memory, strict=True)))
        for memory in Behaviour(machine, ()).memories
    }


@kept(100)
def chosen_from(machine: Machine, memory: Memory) -> Sequence[Chosen | None]:
    """For each cell of the output, how it is chosen from one memory; None where it cannot be."""
    cells = _cells(machine, memory)
    own = [machine.as_set(code) for code in machine.printing_codes]
    rest = [machine.as_set(code) for code in range(len(machine.code))]
    found: dict[int, Chosen] = {}
    for setting in dict.fromkeys((*own, *rest)):
        for cell in cells[setting]:
            if cell not in found:
                alone = setting in own or sum(cell in cells[other] for other in rest) == 1
                found[cell] = Chosen(setting, memory, alone)
    return [found.get(cell) for cell in range(len(machine.output.glyphs))]


def chosen(machine: Machine) -> Sequence[Chosen | None]:
    """For each cell, how it is chosen from whichever memory can, the one at rest first."""
    rest = at_rest(machine)
    memories = sorted(Behaviour(machine, ()).memories, key=lambda memory: memory != rest)
    each = [chosen_from(machine, memory) for memory in memories]
    return [next(filter(None, ways), None) for ways in zip(*each, strict=True)]


def _cells(machine: Machine, memory: Memory) -> Sequence[set[int]]:
    """For each setting, the cells that it chooses: its character, and what it does besides."""
    rows, table = machine.all_codes, good_tables(machine)[memory]
    glyphs, does = machine.output.glyphs, machine.output.layout().does
    facing = machine.output.cells(machine.mechanism, table, rows.every)
    cells: list[set[int]] = [set() for _ in rows.codes]
    seen = spread(machine.prints(table, rows), len(rows.codes))
    for setting, cell in enumerate(spread(facing, len(rows.codes), -1)):
        done = {number for number in does if glyphs[number] in seen[setting].split("+")}
        empty = cell >= 0 and glyphs[cell] == " " and done  # its typebar has no such character
        cells[setting] = done if cell < 0 or empty else done | {cell}
    return cells
