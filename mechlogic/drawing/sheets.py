"""Print-outs on paper: ordinary Matplotlib figures, A4, black on white."""

from collections.abc import Sequence
from textwrap import fill
from typing import TYPE_CHECKING, Any

from mechlogic.explaining.cells import Chosen, chosen, good_tables
from mechlogic.explaining.words import listed, stand, the
from mechlogic.model.machine import Machine
from mechlogic.model.table import place_in_row

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

A4 = (8.27, 11.69)
"""Width and height of an upright A4 sheet, in inches."""

SET, CLEAR = "●", "○"

MOST_UPRIGHT = 16
"""A sheet with more columns than this lies across."""

ROW, FRAME = 0.92, 1.9
"""Height of a row of cells, and of all that is above and below them, in inches."""


def code_sheet(machine: Machine) -> "Figure":
    """A sheet for the wall: the output laid flat, each cell with what chooses it.

    That is the setting of the code bars, or the key.  Bars that play no part at all are left out.
    A cell that a good machine never chooses stays empty.  The figure can be saved as PDF:
    ``code_sheet(machine).savefig("sheet.pdf")``.
    """
    from matplotlib.figure import Figure

    layout, ways = machine.output.layout(), chosen(machine)
    n_rows, n_columns = len(layout.rows), len(layout.columns)
    across = n_columns > MOST_UPRIGHT
    width, most = (A4[1], A4[0]) if across else A4
    height = min(most, FRAME + ROW * n_rows)
    figure = Figure(figsize=(width, height), layout="constrained")
    axes = figure.subplots()
    makes = "the key that sends it" if machine.mechanism.keys else "the bars that make it"
    all_does = set(layout.does) == set(range(len(ways)))
    every = "every function" if all_does else "every character"
    axes.set_title(f"{machine.title}: {every} and {makes}", fontsize=11)
    for y, numbers in enumerate(reversed(layout.cells)):
        for x, number in enumerate(numbers):
            if number is not None:
                _cell(axes, machine, (x, y), number, ways[number], across)
    _ruled(axes, n_columns, n_rows)
    turned = "vertical" if across else "horizontal"
    axes.set_xticks(range(n_columns), layout.columns, rotation=turned)
    axes.set_yticks(range(n_rows), reversed(layout.rows))
    axes.set_ylabel(layout.up)
    lines = [
        layout.across,
        *_doings(machine, ways),
        *_throws(machine),
        _key(machine),
    ]
    axes.set_xlabel("\n".join(filter(None, lines)))
    _as_written(figure)
    return figure


def _as_written(figure: "Figure") -> None:
    """No text of a sheet is taken for a formula, whatever signs it has and the reader has set."""
    from matplotlib.text import Text

    for text in figure.findobj(Text):
        assert isinstance(text, Text)
        text.set_parse_math(False)
        text.set_usetex(False)


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


def _cell(
    axes: "Axes",
    machine: Machine,
    at: tuple[int, int],
    number: int,
    way: Chosen | None,
    small: bool,
) -> None:
    x, y = at
    glyph = machine.output.glyphs[number]
    name = "space" if glyph == " " and way else glyph
    size = 17 if len(name) == 1 else 8 if small else 9
    grey = "black" if way else "0.6"
    middle: dict[str, Any] = {"ha": "center", "va": "center"}
    axes.text(x, y + 0.14, name, fontsize=size, color=grey, **middle)
    axes.text(x, y - 0.27, made_by(machine, way), fontsize=5 if small else 7, **middle)


def _doings(machine: Machine, ways: Sequence[Chosen | None]) -> list[str]:
    """What the cells that stand for a doing do, and with which latch thrown, as lines of text."""
    said = [
        f"{machine.output.glyphs[cell]} {done}{_thrown(machine, ways[cell])}"
        for cell, done in machine.output.layout().does.items()
    ]
    return [fill(", ".join(said), 90, break_on_hyphens=False)] if said else []


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
            lines += [fill(f"{', '.join(codes)} to bring {to}", 90)] if codes else []
    return lines


def _key(machine: Machine) -> str:
    if machine.mechanism.keys:
        return ""
    bits = " ".join(str(bit) for bit in _shown_bits(machine))
    return f"{SET} bar operated   {CLEAR} bar at rest   from left to right: bars {bits}"


def _shown_bits(machine: Machine) -> list[int]:
    idle = machine.declared.no_part_at_all
    bars = machine.mechanism.bars.items()
    return sorted((bar.bit for name, bar in bars if name not in idle), reverse=True)


def _ruled(axes: "Axes", n_columns: int, n_rows: int) -> None:
    """Thin rules between the cells and no other ornament."""
    axes.set_xlim(-0.5, n_columns - 0.5)
    axes.set_ylim(-0.5, n_rows - 0.5)
    for x in range(1, n_columns):
        axes.axvline(x - 0.5, color="0.8", linewidth=0.6)
    for y in range(1, n_rows):
        axes.axhline(y - 0.5, color="0.8", linewidth=0.6)
    axes.tick_params(length=0)
