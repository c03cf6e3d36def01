"""The output of a machine on a flat sheet: a cell for each character, or for each thing it does."""

from mechlogic.explaining.words import uncapitalised
from mechlogic.helpers import svg
from mechlogic.helpers.templates import render
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import Layout

CELL_WIDTH, CELL_HEIGHT = 36.0, 33.0
MARGIN, TOP = 8.0, 6.0
TITLE = 22.0  # an axis title beside the headings of the rows
AXIS_LETTER, NAME_LETTER, WORD_LETTER = 8.8, 9.7, 10.2  # widths of letters, in px
HEADINGS, TITLES = 18.0, 30.0  # height of a line of headings, and of the axis title below them
LONGEST_HEADING = 3  # if there are longer ones, every other one stands a line lower
GAP = 14.0  # between the cells of a row and the words beside them


def type_sheet(machine: Machine) -> str:
    """The output as a grid of cells, as its layout has it, as one ``<svg>``."""
    return _Sheet(machine).svg()


def cell_of(machine: Machine) -> dict[str, tuple[int, int]]:
    """For each character of the type, its row and column, both from 0 at the lowest place."""
    layout, glyphs = machine.output.layout(), machine.output.glyphs
    found: dict[str, tuple[int, int]] = {}
    for row, numbers in enumerate(reversed(layout.cells)):
        for column, number in enumerate(numbers):
            if number is not None:
                found.setdefault(glyphs[number], (row, column))
    return found


class _Sheet:
    """One sheet, while it is drawn."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self.layout = _listed(machine.output.layout())
        self.glyphs = machine.output.glyphs
        longest = max(map(len, self.glyphs))
        self.cell_width = max(CELL_WIDTH, longest * NAME_LETTER + 6)
        widest = max(map(len, self.layout.rows)) * AXIS_LETTER
        self.left = MARGIN + widest + (TITLE if self.layout.up else 0.0) + (8 if widest else 0)
        self.lines = 1 + (max(map(len, self.layout.columns)) > LONGEST_HEADING)
        self.bottom = TOP + len(self.layout.rows) * CELL_HEIGHT
        foot = self.lines * HEADINGS + TITLES if any(self.layout.columns) else TOP
        right = 16 if self.lines > 1 else MARGIN
        cells = self.left + len(self.layout.columns) * self.cell_width + right
        beside = [
            self.place(len(_filled(numbers))) + GAP + len(self.words(row)) * WORD_LETTER
            for row, numbers in enumerate(self.layout.cells)
            if self.words(row)
        ]
        self.width, self.height = max([cells, *beside]), self.bottom + foot

    def svg(self) -> str:
        return render(
            "type_sheet.svg",
            title=f"{self.machine.title}: {uncapitalised(self.layout.title)}",
            width=svg.number(self.width),
            height=svg.number(self.height),
            axes="\n".join(self.axes()),
            cells=[
                self.cell(number, row, column)
                for row, numbers in enumerate(self.layout.cells)
                for column, number in enumerate(numbers)
                if number is not None
            ],
            face_width=svg.number(self.cell_width - 4),
            face_height=svg.number(CELL_HEIGHT - 4),
        )

    def axes(self) -> list[str]:
        """The headings, and what the cells of a row do where they do something."""
        layout, width = self.layout, self.cell_width
        middle = self.left + len(layout.columns) * width / 2
        lines = []
        for row, heading in enumerate(layout.rows):
            level = _top(row) + CELL_HEIGHT / 2 + 6
            if heading:
                lines.append(svg.text(self.left - 8, level, heading, "axis", "end"))
            if words := self.words(row):
                beside = self.place(len(_filled(layout.cells[row]))) + GAP
                lines.append(svg.text(beside, level, words, "axis words"))
        for column, heading in enumerate(layout.columns):
            at, level = (
                self.place(column) + width / 2,
                self.bottom + HEADINGS * (1 + column % self.lines),
            )
            lines.append(svg.text(at, level, heading, "axis", "middle"))
        foot = self.bottom + self.lines * HEADINGS + TITLES - 7
        if layout.across:
            lines.append(svg.text(middle, foot, layout.across, "axis title", "middle"))
        if layout.up:
            turned = f"translate(17 {svg.number((TOP + self.bottom) / 2)}) rotate(-90)"
            title = svg.text(0, 0, layout.up, "axis title", "middle")
            lines.append(f'<g transform="{turned}">{title}</g>')
        return lines

    def words(self, row: int) -> str:
        """What the cells of a row do, to be written beside them."""
        cells = _filled(self.layout.cells[row])
        does = [(self.glyphs[cell], self.layout.does.get(cell, "")) for cell in cells]
        if len(cells) == 1:
            return does[0][1]
        return ", ".join(f"{name} {done}" for name, done in does if done)

    def place(self, column: int) -> float:
        """The left edge of a column."""
        return self.left + column * self.cell_width

    def cell(self, number: int, row: int, column: int) -> dict[str, object]:
        """What the sheet says of one cell, and where it stands."""
        glyph, left, top = self.glyphs[number], self.place(column), _top(row)
        level = top + CELL_HEIGHT / 2 + (7 if len(glyph) == 1 else 5.5)
        kind = "glyph" if len(glyph) == 1 else "glyph long"
        return {
            "glyph": glyph,
            "number": number,
            "row": len(self.layout.rows) - 1 - row,
            "column": column,
            "name": self.layout.does.get(number) or ("blank" if glyph == " " else glyph),
            "x": svg.number(left + 2),
            "y": svg.number(top + 2),
            "text": svg.text(left + self.cell_width / 2, level, glyph, kind, "middle"),
        }


def _listed(layout: Layout) -> Layout:
    """A sheet of doings alone is a list: a row for each, with room for its words."""
    cells = [cell for row in layout.cells for cell in _filled(row)]
    if not set(cells) <= set(layout.does):
        return layout
    rows = ("",) * len(cells)
    return Layout(layout.title, rows, ("",), tuple((cell,) for cell in cells), does=layout.does)


def _filled(cells: tuple[int | None, ...]) -> list[int]:
    return [cell for cell in cells if cell is not None]


def _top(row: int) -> float:
    return TOP + row * CELL_HEIGHT
