"""The type of a wheel laid flat: one row for each height, one column for each angle."""

from mechlogic.drawing import svg
from mechlogic.machine import Machine

CELL_WIDTH, CELL_HEIGHT = 36.0, 33.0
LEFT, TOP, RIGHT = 66.0, 6.0, 16.0
FOOT = 66.0  # two lines of angles, every other one lower, and the axis title


def unrolled_wheel(machine: Machine) -> str:
    """The type as a grid, the row of the lowest elevation at the bottom, as one ``<svg>``."""
    wheel = machine.wheel
    rows, columns = len(wheel.rows), len(wheel.columns)
    bottom = TOP + rows * CELL_HEIGHT
    width, height = LEFT + columns * CELL_WIDTH + RIGHT, bottom + (FOOT if wheel.turn else TOP)
    middle = LEFT + columns * CELL_WIDTH / 2
    title = "turn, degrees" if wheel.turn else ""
    label = svg.attribute(f"{machine.title}: the type wheel laid flat")
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="mechlogic mechlogic-wheel" '
        f'viewBox="0 0 {svg.number(width)} {svg.number(height)}" role="group" '
        f'aria-label="{label}">',
        f'<rect class="paper" width="{svg.number(width)}" height="{svg.number(height)}"/>',
        '<g class="axes" aria-hidden="true">',
        *(
            svg.text(
                LEFT - 8, _top(rows, row) + CELL_HEIGHT / 2 + 6, f"{float(mm):g}", "axis", "end"
            )
            for row, mm in enumerate(wheel.rows)
        ),
        *(
            svg.text(
                _left(column) + CELL_WIDTH / 2,
                bottom + 18 + 18 * (column % 2),
                _degrees(float(deg)),
                "axis",
                "middle",
            )
            for column, deg in enumerate(wheel.columns if wheel.turn else ())
        ),
        svg.text(middle, bottom + 59, title, "axis title", "middle"),
        f'<g transform="translate(17 {svg.number((TOP + bottom) / 2)}) rotate(-90)">'
        f"{svg.text(0, 0, 'lift, mm', 'axis title', 'middle')}</g>",
        "</g>",
    ]
    for row, line in enumerate(wheel.glyphs):
        for column, glyph in enumerate(line):
            lines.append(_cell(glyph, row, column, rows))
    return "\n".join([*lines, "</svg>"])


def cell_of(machine: Machine) -> dict[str, tuple[int, int]]:
    """For each character on the wheel, its row and column, both from 0 at the lowest place."""
    found: dict[str, tuple[int, int]] = {}
    for row, line in enumerate(machine.wheel.glyphs):
        for column, glyph in enumerate(line):
            found.setdefault(glyph, (row, column))
    return found


def _cell(glyph: str, row: int, column: int, rows: int) -> str:
    left, top = _left(column), _top(rows, row)
    name = "blank" if glyph == " " else glyph
    letter = svg.text(left + CELL_WIDTH / 2, top + CELL_HEIGHT / 2 + 7, glyph, "glyph", "middle")
    return (
        f'<g class="cell" data-glyph="{svg.attribute(glyph)}" data-row="{row}" '
        f'data-column="{column}"><title>{svg.attribute(name)}</title>'
        f'<rect class="face" x="{svg.number(left + 2)}" y="{svg.number(top + 2)}" '
        f'width="{svg.number(CELL_WIDTH - 4)}" height="{svg.number(CELL_HEIGHT - 4)}" rx="5"/>'
        f"{letter}</g>"
    )


def _left(column: int) -> float:
    return LEFT + column * CELL_WIDTH


def _top(rows: int, row: int) -> float:
    return TOP + (rows - 1 - row) * CELL_HEIGHT


def _degrees(value: float) -> str:
    return f"{value:+g}".replace("-", "−") if value else "0"
