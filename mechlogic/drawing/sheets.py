"""The sheet for the wall: the type laid flat, and under each character what chooses it."""

from collections.abc import Sequence
from dataclasses import dataclass

from mechlogic.explaining.cells import Chosen, chosen, good_tables
from mechlogic.explaining.words import listed, stand, the
from mechlogic.helpers.paper import Page
from mechlogic.helpers.templates import piece, render
from mechlogic.model.machine import Machine
from mechlogic.model.table import place_in_row

SET, CLEAR = "●", "○"

MOST_UPRIGHT = 16
"""A sheet with more columns than this lies across."""


@dataclass(frozen=True)
class Cell:
    """One cell of the sheet: its character, what chooses it, and whether anything does."""

    name: str
    made_by: str
    chosen: bool


def code_sheet(machine: Machine, size: str = "A4") -> Page:
    """A sheet for the wall: the output laid flat, each cell with what chooses it.

    That is the setting of the code bars, or the key.  Bars that play no part at all are left out.
    A cell that a good machine never chooses stays empty.  A notebook shows the sheet;
    ``code_sheet(machine).save("sheet.html")`` is the page to print.

    Args:
        machine: The machine.
        size: The paper, one of :data:`mechlogic.helpers.paper.SIZES`.
    """
    body = render(
        "paper_main.html",
        kind="Sheet for the wall",
        title=machine.title,
        across=lies_across(machine),
        body=laid_flat(machine),
    )
    return Page(f"{machine.title}: sheet for the wall", body, size)


def lies_across(machine: Machine) -> bool:
    """Whether the sheet of a machine is wider than high."""
    return len(machine.output.layout().columns) > MOST_UPRIGHT


def laid_flat(machine: Machine) -> str:
    """The same as a section of a page, HTML."""
    layout, ways = machine.output.layout(), chosen(machine)
    makes = "the key that sends it" if machine.mechanism.keys else "the bars that make it"
    every = "function" if set(layout.does) == set(range(len(ways))) else "character"
    below = (*_doings(machine, ways), *_throws(machine), _key(machine))
    return piece(
        "code_sheet.html",
        "sheet",
        layout,
        [[_cell(machine, number, ways) for number in row] for row in layout.cells],
        f"Every {every} and {makes}",
        [line for line in below if line],
    )


def _cell(machine: Machine, number: int | None, ways: Sequence[Chosen | None]) -> Cell | None:
    if number is None:
        return None
    glyph, way = machine.output.glyphs[number], ways[number]
    return Cell("space" if glyph == " " and way else glyph, made_by(machine, way), bool(way))


def bars_for(machine: Machine, setting: int) -> str:
    """A setting of the bars, highest bit first as on the switches: ``●○○○○●``."""
    return "".join(SET if setting >> (bit - 1) & 1 else CLEAR for bit in _shown_bits(machine))


def made_by(machine: Machine, way: Chosen | None) -> str:
    """What chooses a cell: the bars, or the key."""
    if way is None:
        return ""
    if not way.alone:
        return "several codes"
    keys = {key.code: name for name, key in machine.mechanism.keys.items()}
    if keys:
        return machine.label(keys[way.setting]) if way.setting in keys else ""
    return bars_for(machine, way.setting)


def _doings(machine: Machine, ways: Sequence[Chosen | None]) -> list[str]:
    """What the cells that stand for a doing do, and with which latch thrown, as lines of text."""
    said = [
        f"{machine.output.glyphs[cell]} {done}{_thrown(machine, ways[cell])}"
        for cell, done in machine.output.layout().does.items()
    ]
    return [", ".join(said)] if said else []


def _thrown(machine: Machine, way: Chosen | None) -> str:
    """Which latches have to stand elsewhere than at rest for a cell to be chosen."""
    places = zip(machine.mechanism.latches, way.memory, strict=True) if way else ()
    away = [(name, place) for name, place in places if place != machine.mechanism.rest[name]]
    return f" ({listed(f'in {stand(machine, *each)}' for each in away)})" if away else ""


def _throws(machine: Machine) -> list[str]:
    """For each latch position, the codes that move the latch there, as lines of text."""
    lines: list[str] = []
    for name in machine.mechanism.latches:
        asked = [table.asked[name] for table in good_tables(machine).values()]
        for place in range(len(machine.mechanism.laws[name].places)):
            codes = [
                f"{machine.code.name(code)} {made_by(machine, Chosen(setting, (), True))}"
                for code in range(len(machine.code))
                for setting in (machine.as_set(code),)
                if all(place_in_row(columns, setting) == place for columns in asked)
            ]
            to = f"{the(machine.label(name))} to {stand(machine, name, place)}"
            lines += [f"{', '.join(codes)} to bring {to}"] if codes else []
    return lines


def _key(machine: Machine) -> str:
    if machine.mechanism.keys:
        return ""
    bits = " ".join(str(bit) for bit in _shown_bits(machine))
    return f"{SET} bar operated, {CLEAR} bar at rest; from left to right: bars {bits}"


def _shown_bits(machine: Machine) -> list[int]:
    idle = machine.declared.no_part_at_all
    bars = machine.mechanism.bars.items()
    return sorted((bar.bit for name, bar in bars if name not in idle), reverse=True)
