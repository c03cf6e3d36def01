"""Faults of the type: which there can be on a machine, and what the type then shows.

Type that is worn, broken or filled prints nothing or nothing that can be read, one as likely as the
other (common practice, no source). A wheel or block that was put back one place off shows the
neighbour of each character.
"""

from collections.abc import Iterable, Mapping

from mechlogic.helpers.kept import kept
from mechlogic.model.faults import (
    TYPE_OFF,
    WORN_COLUMN,
    WORN_ROW,
    WORN_TYPE,
    Fault,
    FaultError,
)
from mechlogic.model.logbook import NOTHING, UNREADABLE
from mechlogic.model.machine import Machine
from mechlogic.model.mechanism import did_you_mean
from mechlogic.model.outputs import OUTPUT, Output, Type, Typebars, singles

Shows = Mapping[int, str]
"""For each cell whose type is not as it should be, what is seen of it."""

STEPS = {"up": (1, 0), "down": (-1, 0), "left": (0, -1), "right": (0, 1)}
"""To which side type may be one place off, and by how many rows and columns."""


@kept(1)
def type_faults(machine: Machine) -> tuple[Fault, ...]:
    """Every fault of the type that a machine can have: characters, rows, columns, one place off."""
    return tuple(Fault(OUTPUT, mode, which) for mode, which in _ways(machine))


@kept(1000)
def type_shows(machine: Machine, fault: Fault) -> tuple[Shows, ...]:
    """What the type shows under a fault of it: one way, or several that are equally likely.

    Raises:
        FaultError: If the machine cannot have it.
    """
    ways = _ways(machine)
    if (fault.mode, fault.input) not in ways:
        known = [which for mode, which in ways if mode == fault.mode]
        raise FaultError(
            f"{machine.title}: its {machine.output.called} cannot have the fault "
            f"{fault.mode!r} in {fault.input!r}. {did_you_mean(fault.input, known)}"
        )
    return ways[fault.mode, fault.input]


@kept(1)
def _ways(machine: Machine) -> dict[tuple[str, str], tuple[Shows, ...]]:
    output = _with_type(machine.output)
    if output is None:
        return {}
    grid = output.layout().cells[::-1] if isinstance(output, Type) else output.layout().cells
    glyphs, found = output.glyphs, dict[tuple[str, str], tuple[Shows, ...]]()
    for glyph in dict.fromkeys(glyphs):
        if glyph != " ":
            found[WORN_TYPE.name, glyph] = _worn(n for n, g in enumerate(glyphs) if g == glyph)
    for mode, lines in ((WORN_ROW, grid), (WORN_COLUMN, tuple(zip(*grid, strict=True)))):
        for number, line in enumerate(lines if 1 < len(lines) < len(glyphs) else (), start=1):
            found[mode.name, str(number)] = _worn(cell for cell in line if cell is not None)
    if isinstance(output, Type):
        for side, (up, right) in STEPS.items():
            if (up and output.lift) or (right and output.turn):
                found[TYPE_OFF.name, side] = (_off(output, up, right),)
    return found


def _with_type(output: Output) -> Type | Typebars | None:
    """The output, or the part of it, that has type."""
    first = next(singles(output))  # whose cells are numbered first
    return first if isinstance(first, Type | Typebars) else None


def _worn(cells: Iterable[int]) -> tuple[Shows, ...]:
    worn = tuple(cells)
    return dict.fromkeys(worn, NOTHING), dict.fromkeys(worn, UNREADABLE)


def _off(output: Type, up: int, right: int) -> Shows:
    """For each cell what its neighbour shows; a wheel goes round, a block or bar has an end."""
    n_rows, n = len(output.rows), len(output.columns)
    round_ = n > 1 and n * (output.columns[1] - output.columns[0]) == 360
    found = {}
    for row in range(n_rows):
        for column in range(n):
            there, across = row + up, (column + right) % n if round_ else column + right
            inside = 0 <= there < n_rows and 0 <= across < n
            glyph = output.glyphs[there * n + across] if inside else " "
            found[row * n + column] = NOTHING if glyph == " " else glyph
    return found
