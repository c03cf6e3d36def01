"""The type of a machine laid flat: one cell for each character, or for each thing that it does."""

from mechlogic.drawing import svg
from mechlogic.machine import Machine

CELL_WIDTH, CELL_HEIGHT = 36.0, 33.0
LEFT, TOP, RIGHT = 66.0, 6.0, 16.0
FOOT = 66.0  # two lines of headings, every other one lower, and the axis title


def unrolled_wheel(machine: Machine) -> str:
    """The type as a grid, as the output's layout has it, as one ``<svg>``."""
    layout, glyphs = machine.output.layout(), machine.output.glyphs
    n_rows, n_columns = len(layout.rows), len(layout.columns)
    bottom = TOP + n_rows * CELL_HEIGHT
    foot = FOOT if any(layout.columns) else TOP
    width, height = LEFT + n_columns * CELL_WIDTH + RIGHT, bottom + foot
    middle = LEFT + n_columns * CELL_WIDTH / 2
    label = svg.attribute(f"{machine.title}: {layout.title[:1].lower()}{layout.title[1:]}")
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="mechlogic mechlogic-wheel" '
        f'viewBox="0 0 {svg.number(width)} {svg.number(height)}" role="group" '
        f'aria-label="{label}">',
        f'<rect class="paper" width="{svg.number(width)}" height="{svg.number(height)}"/>',
        '<g class="axes" aria-hidden="true">',
        *(
            svg.text(LEFT - 8, _top(row) + CELL_HEIGHT / 2 + 6, heading, "axis", "end")
            for row, heading in enumerate(layout.rows)
        ),
        *(
            svg.text(
                _left(column) + CELL_WIDTH / 2,
                bottom + 18 + 18 * (column % 2),
                heading,
                "axis",
                "middle",
            )
            for column, heading in enumerate(layout.columns)
        ),
        svg.text(middle, bottom + 59, layout.across, "axis title", "middle"),
        f'<g transform="translate(17 {svg.number((TOP + bottom) / 2)}) rotate(-90)">'
        f"{svg.text(0, 0, layout.up, 'axis title', 'middle')}</g>",
        "</g>",
    ]
    for row, numbers in enumerate(layout.cells):
        for column, number in enumerate(numbers):
            if number is not None:
                lines.append(_cell(glyphs[number], number, row, column, n_rows))
    return "\n".join([*lines, "</svg>"])


def cell_of(machine: Machine) -> dict[str, tuple[int, int]]:
    """For each character of the type, its row and column, both from 0 at the lowest place."""
    layout, glyphs = machine.output.layout(), machine.output.glyphs
    found: dict[str, tuple[int, int]] = {}
    for row, numbers in enumerate(reversed(layout.cells)):
        for column, number in enumerate(numbers):
            if number is not None:
                found.setdefault(glyphs[number], (row, column))
    return found


def _cell(glyph: str, number: int, row: int, column: int, n_rows: int) -> str:
    left, top = _left(column), _top(row)
    name = "blank" if glyph == " " else glyph
    kind = "glyph" if len(glyph) == 1 else "glyph long"
    letter = svg.text(left + CELL_WIDTH / 2, top + CELL_HEIGHT / 2 + 7, glyph, kind, "middle")
    return (
        f'<g class="cell" data-glyph="{svg.attribute(glyph)}" data-cell="{number}" '
        f'data-row="{n_rows - 1 - row}" data-column="{column}">'
        f"<title>{svg.attribute(name)}</title>"
        f'<rect class="face" x="{svg.number(left + 2)}" y="{svg.number(top + 2)}" '
        f'width="{svg.number(CELL_WIDTH - 4)}" height="{svg.number(CELL_HEIGHT - 4)}" rx="5"/>'
        f"{letter}</g>"
    )


def _left(column: int) -> float:
    return LEFT + column * CELL_WIDTH


def _top(row: int) -> float:
    return TOP + row * CELL_HEIGHT
