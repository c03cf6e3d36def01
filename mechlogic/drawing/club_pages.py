"""A club evening on paper: hand-outs, a hunt sheet for each team, and the instructor's answers.

Black on white, A4 or US Letter, and the same bytes every time.  Every line is measured before it is
drawn; what does not fit on a sheet goes to the next.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from hashlib import sha256
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from mechlogic.bench.pages import print_mark
from mechlogic.bench.report import CELLS_IN_ROW, Cell
from mechlogic.drawing.sheets import code_sheet
from mechlogic.drawing.typeset import (
    A4,
    ITALIC,
    LEFT,
    MONO,
    POINT,
    PRINTED,
    PRINTED_WRONG,
    SENT,
    SENT_LONG,
    SIGNS,
    SMALL,
    SMALL_STRONG,
    STRONG,
    TEXT,
    TITLE,
    Face,
    Paper,
    Sheet,
    pdf,
    wrapped,
)
from mechlogic.explaining.words import capitalised, listed
from mechlogic.helpers import safe_file
from mechlogic.model.faults import Mode
from mechlogic.teaching.club import RULES, Evening, Printed, Team
from mechlogic.teaching.sealed import LEVELS

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["documents", "save"]

HEADING = Face(size=13, bold=True)
PROSE = Face(size=11)
PAPER_FACE = Face(MONO, 11)
CELL, CELL_WRONG, HEAD = Face(MONO, 6.6), Face(MONO, 6.6, bold=True), Face(size=6.6, bold=True)

FOOT = 16.0
"""Height kept free for the line at the foot of each sheet, in points."""

ROW = 25.0
"""Height of a ruled row, to be written in by hand, in points."""

RULED = ((0.05, "No."), (0.40, "what we did"), (0.37, "what was found"), (0.09, "minutes"))
"""Share of the width and heading of each column of the ruled rows; the last takes what is left."""
LAST = "left"

MOST_BLOCKS = 4
"""At most so many columns of characters stand side by side in a table of answers."""

CELL_GAP, BLOCK_GAP = 7.0, 16.0
"""Room between the cells of a row, and between columns of characters, in points."""

MOST_CELL = 130.0
"""A cell is cut at this width, in points; its end is then a sign that there is more."""

SIGNS_SAID = "␣ nothing   ▒ unreadable"


def documents(evening: Evening, paper: Paper = A4) -> dict[str, bytes]:
    """The evening as PDF files: for everybody, for the teams, and for the instructor alone.

    Args:
        evening: The evening.
        paper: The paper to print on.

    Returns:
        For each file name, its bytes.  The same evening and paper give the same bytes.
    """
    club, number = f"club_{evening.machine.name}", str(evening.number)
    mark = sha256(f"{club} {number}".encode()).hexdigest()[:4]  # tells nobody the number
    size = "letter" if paper.inches != A4.inches else "a4"
    made: dict[str, tuple[str, Callable[[Evening, Paper], list[Figure]]]] = {
        f"{mark}_hand_outs": ("Hand-outs", hand_outs),
        f"{mark}_hunt_sheets": ("Hunt sheets", hunt_sheets),
        f"{number}_instructor": ("For the instructor", instructor_sheets),
    }
    return {
        f"{club}_{kind}_{size}.pdf": pdf(pages(evening, paper), title)
        for kind, (title, pages) in made.items()
    }


def save(evening: Evening, folder: str | Path, paper: Paper = A4) -> tuple[Path, ...]:
    """Write the evening's files into a folder; nothing that differs is ever overwritten.

    Args:
        evening: The evening.
        folder: The folder.
        paper: The paper to print on.

    Returns:
        The files.  One that was there already, with the same bytes, is left as it is.

    Raises:
        FileExistsError: If another file of such a name is there; then none is written.
        OSError: If a file cannot be written.
    """
    made = {Path(folder) / name: data for name, data in documents(evening, paper).items()}
    with safe_file.locked(folder):
        there = {path for path in made if path.exists()}
        for path in sorted(there):
            if safe_file.read_bytes(path, len(made[path])) != made[path]:
                raise FileExistsError(
                    f"{path.name} is there already and holds another evening. Move or rename it, "
                    "or choose another number."
                )
        for path in sorted(made.keys() - there):
            safe_file.write_whole(path, made[path])
    return tuple(made)


# -- sheets that follow each other -----------------------------------------------------------------


@dataclass
class _Book:
    """Sheets of one document; a new one is begun where the last is full."""

    paper: Paper
    foot: str
    sheets: list[Sheet] = field(default_factory=list)

    @property
    def sheet(self) -> Sheet:
        """The sheet that is being filled."""
        if not self.sheets:
            self.new()
        return self.sheets[-1]

    @property
    def width(self) -> float:
        """Width of what is written, in points."""
        return self.paper.right - LEFT

    @property
    def end(self) -> float:
        """Where the foot of a sheet begins, in points from the top."""
        return self.paper.bottom - FOOT

    def new(self) -> None:
        """Begin another sheet."""
        self.sheets.append(Sheet(paper=self.paper))

    def room(self, height: float) -> None:
        """Begin another sheet unless this one has so much room left, in points."""
        if self.sheet.y + height > self.end:
            self.new()

    def title(self, kind: str, title: str, below: str) -> None:
        """What stands at the head of a document."""
        self.paragraph(kind, SMALL)
        self.paragraph(title, TITLE)
        self.paragraph(below, ITALIC)
        self.gap(6)

    def heading(self, text: str, keep: float = 40.0) -> None:
        """A heading, with at least so much room below it, in points."""
        self.room(HEADING.line + 8 + keep)
        self.gap(8)
        self.paragraph(text, HEADING)
        self.gap(2)

    def gap(self, height: float) -> None:
        """Leave so much free, in points."""
        self.sheet.y += height

    def paragraph(self, text: str, face: Face = TEXT, indent: float = 0.0) -> None:
        """A text in lines, over as many sheets as it needs."""
        for line in wrapped(face.readable(text), face, self.width - indent):
            self.room(face.line)
            self.sheet.put(LEFT + indent, line, face)
            self.sheet.y += face.line

    def labelled(self, label: str, text: str, face: Face = TEXT, column: float = 76.0) -> None:
        """A label in the margin, and beside it a text; kept on one sheet."""
        lines = wrapped(face.readable(text), face, self.width - column)
        self.room(len(lines) * face.line)
        self.sheet.put(LEFT, label, Face(size=face.size, italic=True))
        self.paragraph(text, face, column)

    def figures(self) -> "list[Figure]":
        """All sheets, drawn, each with the line at its foot."""
        for number, sheet in enumerate(self.sheets, start=1):
            sheet.y = self.paper.bottom - SMALL.line
            of = f"{self.foot}, sheet {number} of {len(self.sheets)}"
            sheet.put(self.paper.width / 2, of, SMALL, "center")
        return [sheet.figure() for sheet in self.sheets]


def _book(evening: Evening, paper: Paper, what: str, number: str = "") -> _Book:
    """A document; only the instructor's may tell the number, for it makes the answers."""
    return _Book(paper, f"{evening.machine.title}, club evening{number}: {what}")


def _answer_book(evening: Evening, paper: Paper, what: str) -> _Book:
    return _book(evening, paper, what, f" {evening.number}")


# -- for everybody ---------------------------------------------------------------------------------


def hand_outs(evening: Evening, paper: Paper = A4) -> "list[Figure]":
    """How it decodes, the type laid flat, the modes of fault, and what can hurt."""
    book = _book(evening, paper, "hand-out")
    book.title("HAND-OUT", evening.machine.title, "Club evening")
    book.heading("How it decodes")
    for paragraph in evening.prose:
        book.paragraph(paragraph, PROSE)
        book.gap(6)
    book.heading("What can hurt")
    for caution in evening.cautions:
        book.paragraph(caution, PROSE)
        book.gap(4)
    first = book.figures()
    modes = _book(evening, paper, "how parts fail")
    modes.title("HAND-OUT", "How parts fail", f"{evening.machine.title}; the commonest first")
    for mode in evening.modes:
        _mode(modes, mode)
    return [*first, _flat(evening, paper), *modes.figures()]


def _mode(book: _Book, mode: Mode) -> None:
    book.room(6 * TEXT.line)
    book.paragraph(capitalised(mode.name), STRONG)
    book.labelled("at the bench", mode.looks_like)
    book.labelled("usual causes", f"{capitalised(mode.causes)}.")
    book.labelled("usual remedy", mode.remedy)
    book.gap(6)


def _flat(evening: Evening, paper: Paper) -> "Figure":
    """The type laid flat, as a sheet of this paper; it lies across if the type is wide."""
    figure = code_sheet(evening.machine)
    own = figure.get_size_inches()
    across = own[0] > own[1] and own[0] > paper.inches[0] + 0.5
    width, height = reversed(paper.inches) if across else paper.inches
    margin, foot = (LEFT / 2 if across else LEFT) * POINT, 2.2 * LEFT * POINT
    used = min(own[1], height - margin - foot)
    figure.set_size_inches(width, height)
    engine = figure.get_layout_engine()
    assert engine is not None
    rect = (margin / width, 1 - (margin + used) / height, 1 - 2 * margin / width, used / height)
    engine.set(rect=rect)  # type: ignore[call-arg]
    says = f"{evening.machine.title}, club evening: hand-out"
    line = figure.text(0.5, 0.6 * LEFT * POINT / height, says, ha="center")
    line.set(fontproperties=SMALL.properties, parse_math=False, usetex=False)
    return figure


def log_cell(sheet: Sheet, x: float, step: float, cell: Cell) -> None:
    """One entry of a log in a column that begins at x and is so wide, in points."""
    middle = x + step / 2
    sent = SENT_LONG if len(cell.sent) > 2 else SENT
    sheet.put(middle, cell.sent, sent, "center", 7 - sent.size + 1)
    if cell.hand:
        half, below = sent.width(cell.sent) / 2, sheet.y + 9.4
        sheet.lines.append((middle - half, below, middle + half, below, 0.5))
    _printed(sheet, middle, step, cell)
    if cell.wrong:
        sheet.box(x + 0.7, sheet.y, step - 1.4, 22)
    if cell.gap:
        sheet.lines.append((x - 0.2, sheet.y - 0.5, x - 0.2, sheet.y + 22.5, 1.6))


def _printed(sheet: Sheet, middle: float, step: float, cell: Cell) -> None:
    """What was printed or done; names of functions are set small, several one below the other."""
    face = PRINTED_WRONG if cell.wrong else PRINTED
    if len(cell.printed) == 1:
        sheet.put(middle, cell.printed, face, "center", 9)
        return
    pieces = cell.printed.split("+")
    widest = max(face.width(piece) for piece in pieces) / face.size
    size = min(6.5, (step - 3) / widest, 12 / len(pieces))
    for k, piece in enumerate(pieces):
        drop = 15 + (k - len(pieces) / 2) * size
        sheet.put(middle, piece, replace(face, size=size), "center", drop)


# -- for each team ---------------------------------------------------------------------------------


def hunt_sheets(evening: Evening, paper: Paper = A4) -> "list[Figure]":
    """For each team what its machine printed, what checks cost, and rows to write in."""
    figures = []
    for team in evening.hunts:
        book = _book(evening, paper, f"hunt sheet of team {team.number}")
        book.title(
            "HUNT SHEET",
            f"Team {team.number}",
            f"{evening.machine.title}; {LEVELS[team.sealed.level]}. You have {team.budget} minutes "
            "of the machine to spend.",
        )
        book.paragraph(RULES)
        _opening(book, team)
        _prices(book, evening)
        _ruled(book, team)
        figures += book.figures()
    return figures


def _opening(book: _Book, team: Team) -> None:
    book.heading("The opening text")
    name = team.sealed.machine.code.name
    cells = [Cell(name(one.sent), print_mark(one.printed)) for one in team.opening.entries]
    step = book.width / CELLS_IN_ROW
    for start in range(0, len(cells), CELLS_IN_ROW):
        for number, cell in enumerate(cells[start : start + CELLS_IN_ROW]):
            log_cell(book.sheet, LEFT + number * step, step, cell)
        book.gap(25)
    book.paragraph(f"Above what was sent, below what was seen:   {SIGNS_SAID}", SIGNS)
    if any(line.strip() for line in team.paper):
        book.gap(4)
        book.paragraph("On the paper:", ITALIC)
        for line in team.paper:
            book.paragraph(line.replace(" ", "\N{NO-BREAK SPACE}"), PAPER_FACE)


def _prices(book: _Book, evening: Evening) -> None:
    book.heading("What checks cost, in minutes")
    half = (len(evening.prices) + 1) // 2
    top, wide = book.sheet.y, book.width / 2 - 10
    for column, prices in enumerate((evening.prices[:half], evening.prices[half:])):
        book.sheet.y, left = top, LEFT + column * (wide + 20)
        for price in prices:
            book.sheet.put(left, f"{price.minutes:g}", STRONG)
            book.sheet.paragraph(left + 28, price.what, TEXT, wide - 28)
    book.sheet.y = top + (half + 1) * TEXT.line


def _ruled(book: _Book, team: Team) -> None:
    """Rows to write in, to the foot of this sheet and over the whole of the next."""
    first = ("1", "the opening text, at speed", "as above", f"{team.opening.minutes:g}")
    left = f"{team.budget - team.opening.minutes:g}"
    book.heading("What we did", 3 * ROW)
    following = _rows(book, 1, (*first, left))
    _verdict(book)
    book.new()
    book.paragraph(f"Team {team.number}: what we did, continued", HEADING)
    book.gap(4)
    _rows(book, following, ())
    _verdict(book)


HEAVY = 1.1


def _rows(book: _Book, number: int, filled: Sequence[str]) -> int:
    """Ruled rows to the foot of the sheet, numbered; the first may be filled in.

    Returns:
        The number that follows the last one.
    """
    sheet = book.sheet
    edges = [LEFT]
    for share, _ in RULED:
        edges.append(edges[-1] + share * book.width)
    headings = [heading for _, heading in RULED]
    for x, heading in zip(edges, (*headings, LAST), strict=True):
        sheet.put(x + 3, heading, SMALL_STRONG)
    sheet.y += SMALL.line + 2
    top = sheet.y
    sheet.lines.append((LEFT, top, book.paper.right, top, HEAVY))
    while sheet.y + 2 * ROW <= book.end:
        texts = filled or (str(number),)
        for x, text in zip(edges, texts, strict=False):
            sheet.put(x + 3, text, TEXT, drop=(ROW - TEXT.line) / 2)
        sheet.y += ROW
        sheet.lines.append((LEFT, sheet.y, book.paper.right, sheet.y, 0.4))
        number, filled = number + 1, ()
    for x in (*edges, book.paper.right):
        sheet.lines.append((x, top, x, sheet.y, 0.4))
    return number


def _verdict(book: _Book) -> None:
    sheet = book.sheet
    sheet.put(LEFT, "What was wrong:", STRONG, drop=10)
    sheet.put(LEFT + 0.72 * book.width, "minutes in all:", STRONG, drop=10)
    y = sheet.y + 22
    sheet.lines.append((LEFT + 84, y, LEFT + 0.70 * book.width, y, 0.4))
    sheet.lines.append((LEFT + 0.72 * book.width + 72, y, book.paper.right, y, 0.4))


# -- for the instructor ----------------------------------------------------------------------------


def instructor_sheets(evening: Evening, paper: Paper = A4) -> "list[Figure]":
    """The timetable, and for each team the answers."""
    book = _answer_book(evening, paper, "for the instructor")
    book.title("FOR THE INSTRUCTOR ALONE", evening.machine.title, f"Club evening {evening.number}")
    book.heading("Timetable")
    for slot in evening.timetable:
        book.labelled(slot.when, f"{slot.what}. {slot.note}")
    book.heading("The teams")
    for team in evening.hunts:
        book.labelled(f"team {team.number}", f"{_level(team)}. {' '.join(team.truth)}")
    book.heading("How to answer")
    book.paragraph(_how_to_answer(evening))
    figures = book.figures()
    for team in evening.hunts:
        figures += _answers(evening, team, paper)
    return figures


def _level(team: Team) -> str:
    sealed = team.sealed
    return f"Level {sealed.level}, {LEVELS[sealed.level]}; number {sealed.seed}"


def _how_to_answer(evening: Evening) -> str:
    return (
        "Make a team say its check before you answer. A character sent at speed is looked up in "
        "the table of the team's answers, in the column of what was sent before it. For anything "
        "else, type the level and the number of the fault into the workbook of the sealed fault: "
        "it answers every check. A look finds what stands under it, all that is in reach being "
        "moved by finger. Mending the right part puts it right; mending another costs the same and "
        "changes nothing."
    )


def _answers(evening: Evening, team: Team, paper: Paper) -> "list[Figure]":
    book = _answer_book(evening, paper, f"answers for team {team.number}")
    book.title("FOR THE INSTRUCTOR ALONE", f"Team {team.number}: the answers", _level(team))
    book.heading("What is wrong")
    for sentence in team.truth:
        book.paragraph(sentence, STRONG)
    for mode in team.remedies:
        book.labelled(mode.name, f"{mode.looks_like} {mode.remedy}", SMALL, 100.0)
    book.labelled("take care", " ".join(team.cautions), SMALL, 100.0)
    book.heading("What is found")
    book.labelled("other source", capitalised(f"{team.source.found}."))
    label = evening.machine.label
    for reach, parts in team.looks:
        found = listed(map(label, parts)) or "nothing wrong with what can be seen"
        book.labelled(f"{reach} off", capitalised(f"{found}."))
    _table(book, team)
    _library(book, team)
    return book.figures()


def _table(book: _Book, team: Team) -> None:
    name = team.sealed.machine.code.name
    heads = ["sent", "good", f"after {name(team.neutral)}"]
    if team.telling is not None:
        heads.append(f"after {name(team.telling)}")
    heads.append("by hand")
    book.heading("What it prints", 120)
    says = f"Bold: not as a good machine. A stroke: either may be seen.   {SIGNS_SAID}"
    book.paragraph(says, SIGNS)
    for case, group in groupby(team.table, key=lambda row: row.case):
        rows = list(group)
        texts = [_texts(row, name(row.code), team.telling is not None) for row in rows]
        _blocks(book, case, heads, texts)


_Texts = list[tuple[str, bool]]
"""The cells of a row, and whether each is wrong."""


def _texts(row: Printed, name: str, telling: bool) -> _Texts:
    columns = (row.neutral, *([row.telling] if telling else []), row.hand)
    seen = [("/".join(map(print_mark, one)), one != (row.good,)) for one in columns]
    return [(name, False), (print_mark(row.good), False), *seen]


def _blocks(book: _Book, case: str, heads: Sequence[str], rows: list[_Texts]) -> None:
    """The rows of a table in columns side by side, read downwards, sheet after sheet."""
    widths = [
        CELL_GAP + min(MOST_CELL, max(HEAD.width(head), *(_width(row[number][0]) for row in rows)))
        for number, head in enumerate(heads)
    ]
    blocks = int((book.width + BLOCK_GAP) / (sum(widths) + BLOCK_GAP))
    blocks = min(max(blocks, 1), MOST_BLOCKS)
    step = (book.width + BLOCK_GAP) / blocks
    while rows:
        book.room(8 * CELL.line)
        if case:
            book.gap(3)
            book.paragraph(capitalised(case), SMALL_STRONG)
        lines = int((book.end - book.sheet.y) / CELL.line) - 1
        lines = min(lines, -(-len(rows) // blocks))
        top = book.sheet.y
        for block in range(blocks):
            some, rows = rows[:lines], rows[lines:]
            if some:
                book.sheet.y = top
                _block(book.sheet, LEFT + block * step, widths, heads, some)
        book.sheet.y = top + (lines + 1) * CELL.line + 4
        if rows:
            book.new()


def _block(
    sheet: Sheet,
    left: float,
    widths: Sequence[float],
    heads: Sequence[str],
    rows: Iterable[_Texts],
) -> None:
    edges = [left + sum(widths[:number]) for number in range(len(widths))]
    for x, head in zip(edges, heads, strict=True):
        sheet.put(x, head, HEAD)
    sheet.y += CELL.line
    for row in rows:
        for x, width, (text, wrong) in zip(edges, widths, row, strict=True):
            face = CELL_WRONG if wrong else CELL
            sheet.put(x, _cut(text, face, min(width, MOST_CELL)), face)
        sheet.y += CELL.line


def _width(text: str) -> float:
    return CELL_WRONG.width(text)


def _cut(text: str, face: Face, width: float) -> str:
    """The text, its end left out if it is wider than this."""
    while len(text) > 1 and face.width(text) > width:
        text = f"{text.removesuffix('…')[:-1]}…"
    return text


def _library(book: _Book, team: Team) -> None:
    book.heading("How the library hunted", 60)
    for number, move in enumerate(team.library, start=1):
        text = f"{move.did}: {move.found}. {move.finding.minutes:g} min. ({capitalised(move.why)}.)"
        book.labelled(f"{number}.", text, SMALL, 22.0)
    book.paragraph(team.library_ends, SMALL_STRONG)
