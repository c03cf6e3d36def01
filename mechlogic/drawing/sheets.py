"""Print-outs on paper: ordinary Matplotlib figures, A4, black on white."""

from typing import TYPE_CHECKING

from mechlogic.machine import Machine

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

A4 = (8.27, 11.69)
"""Width and height of an upright A4 sheet, in inches."""

SET, CLEAR = "●", "○"


def code_sheet(machine: Machine) -> "Figure":
    """A sheet for the wall: the type laid flat, each character with the bars that make it.

    Bars that play no part at all are left out.  The figure can be saved as PDF:
    ``code_sheet(machine).savefig("sheet.pdf")``.
    """
    from matplotlib.figure import Figure

    layout, glyphs = machine.output.layout(), machine.output.glyphs
    n_rows, n_columns = len(layout.rows), len(layout.columns)
    figure = Figure(figsize=(A4[0], 1.6 + 0.92 * n_rows), layout="constrained")
    axes = figure.subplots()
    axes.set_title(f"{machine.title}: every character and the bars that make it", fontsize=11)
    for y, numbers in enumerate(reversed(layout.cells)):
        for x, number in enumerate(numbers):
            if number is None:
                continue
            glyph = glyphs[number]
            name = "space" if glyph == " " else glyph
            size = 17 if len(name) == 1 else 9
            axes.text(x, y + 0.14, name, ha="center", va="center", fontsize=size, parse_math=False)
            axes.text(x, y - 0.27, bars_for(machine, glyph), ha="center", va="center", fontsize=7)
    _ruled(axes, n_columns, n_rows)
    axes.set_xticks(range(n_columns), layout.columns)
    axes.set_yticks(range(n_rows), reversed(layout.rows))
    axes.set_ylabel(layout.up)
    bits = " ".join(str(bit) for bit in _shown_bits(machine))
    key = f"{SET} bar operated   {CLEAR} bar at rest   from left to right: bars {bits}"
    axes.set_xlabel(f"{layout.across}\n{key}")
    return figure


def bars_for(machine: Machine, glyph: str) -> str:
    """The bars that make a character, highest bit first as on the switches: ``●○○○○●``."""
    code = machine.code.code(glyph)
    return "".join(SET if code >> (bit - 1) & 1 else CLEAR for bit in _shown_bits(machine))


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
