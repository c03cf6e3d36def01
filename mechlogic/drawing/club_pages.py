"""A club evening on paper: hand-outs, a hunt sheet for each team, and the instructor's answers.

Pages to print from a browser, on A4 or Letter, black on white.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from itertools import groupby
from pathlib import Path

from mechlogic.bench.pages import print_mark
from mechlogic.bench.report import Cell
from mechlogic.drawing.scene import scene_at
from mechlogic.drawing.sheets import laid_flat, lies_across
from mechlogic.explaining.words import capitalised, listed
from mechlogic.helpers import safe_file
from mechlogic.helpers.paper import Page
from mechlogic.helpers.templates import render
from mechlogic.model.machine import Machine
from mechlogic.model.mechanism import Mechanism
from mechlogic.teaching.club import RULES, Evening, Printed, Team
from mechlogic.teaching.sealed import LEVELS

__all__ = ["documents", "hand_outs", "hunt_sheets", "instructor_sheets", "save", "unlabelled"]

ROWS = 32
"""Rows to write in on a hunt sheet: they end on its second page."""

SIGNS_SAID = "␣ nothing, ▒ unreadable"

BLANK = "\N{NO-BREAK SPACE}………"
"""What stands behind a number in the place of a label."""


def documents(evening: Evening, size: str = "A4") -> dict[str, Page]:
    """The evening as pages: for everybody, for the teams, and for the instructor alone.

    Args:
        evening: The evening.
        size: The paper to print on, one of :data:`mechlogic.helpers.paper.SIZES`.

    Returns:
        For each file name, its page.  The same evening and paper give the same pages.
    """
    club, number = f"club_{evening.machine.name}", str(evening.number)
    mark = sha256(f"{club} {number}".encode()).hexdigest()[:4]  # tells nobody the number
    made = {
        f"{mark}_hand_outs": hand_outs,
        f"{mark}_hunt_sheets": hunt_sheets,
        f"{number}_instructor": instructor_sheets,
    }
    return {
        f"{club}_{kind}_{size.lower()}.html": pages(evening, size) for kind, pages in made.items()
    }


def save(evening: Evening, folder: str | Path, size: str = "A4") -> tuple[Path, ...]:
    """Write the evening's pages into a folder; nothing that differs is ever overwritten.

    Args:
        evening: The evening.
        folder: The folder.
        size: The paper to print on.

    Returns:
        The files.  One that was there already, with the same bytes, is left as it is.

    Raises:
        FileExistsError: If another file of such a name is there; then none is written.
        OSError: If a file cannot be written.
    """
    pages = documents(evening, size)
    made = {Path(folder) / name: page.html.encode() for name, page in pages.items()}
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


# -- for everybody ---------------------------------------------------------------------------------


def hand_outs(evening: Evening, size: str = "A4") -> Page:
    """How it decodes, its picture with names and with blanks, its type, and the modes of fault."""
    machine = evening.machine
    body = render(
        "hand_out.html",
        evening=evening,
        picture=scene_at(machine, {}),
        blanks=scene_at(unlabelled(machine), {}),
        flat=laid_flat(machine),
        across=lies_across(machine),
        capitalised=capitalised,
    )
    return Page(f"{machine.title}: hand-out", body, size)


def unlabelled(machine: Machine) -> Machine:
    """The machine with a number and a blank in the place of each part's label, counted from 1."""
    parts = [
        replace(part, label=f"{number}{BLANK}")
        for number, part in enumerate(machine.mechanism, start=1)
    ]
    picture = {
        part: {key: hint for key, hint in hints.items() if key != "name" or not hint}
        for part, hints in machine.picture.items()
    }
    return replace(machine, mechanism=Mechanism(parts), picture=picture)


# -- for each team ---------------------------------------------------------------------------------


def hunt_sheets(evening: Evening, size: str = "A4") -> Page:
    """For each team what its machine printed, what checks cost, and rows to write in."""
    body = render(
        "hunt_sheets.html",
        evening=evening,
        levels=LEVELS,
        rules=RULES,
        openings=list(map(_opening, evening.hunts)),
        signs=SIGNS_SAID,
        rows=ROWS,
    )
    return Page(f"{evening.machine.title}: hunt sheets", body, size)


def _opening(team: Team) -> list[Cell]:
    name = team.sealed.machine.code.name
    return [Cell(name(one.sent), print_mark(one.printed)) for one in team.opening.entries]


# -- for the instructor ----------------------------------------------------------------------------

Texts = list[tuple[str, bool]]
"""The cells of a row, and whether each is wrong."""


@dataclass(frozen=True)
class Answers:
    """What an instructor answers a team.

    Attributes:
        picture: The machine with its faulty parts hatched.
        looks: What has to come off, and what a look then finds.
        heads: The headings of the tables of characters.
        tables: For each case of the latches, in words, a row for each character.
    """

    picture: str
    looks: Sequence[tuple[str, str]]
    heads: Sequence[str]
    tables: Sequence[tuple[str, Sequence[Texts]]]


def instructor_sheets(evening: Evening, size: str = "A4") -> Page:
    """The timetable, and for each team the answers."""
    body = render(
        "instructor.html",
        evening=evening,
        levels=LEVELS,
        teams=[(team, _answers(team)) for team in evening.hunts],
        capitalised=capitalised,
        signs=SIGNS_SAID,
    )
    return Page(f"{evening.machine.title}: for the instructor alone", body, size)


def _answers(team: Team) -> Answers:
    label, name = team.sealed.machine.label, team.sealed.machine.code.name
    telling = [] if team.telling is None else [f"after {name(team.telling)}"]
    nothing = "nothing wrong with what can be seen"
    return Answers(
        scene_at(team.sealed.machine, {}, {fault.part for fault in team.sealed.faults}),
        [(reach, listed(map(label, parts)) or nothing) for reach, parts in team.looks],
        ["sent", "good", f"after {name(team.neutral)}", *telling, "by hand"],
        [
            (case, [_texts(row, name(row.code), bool(telling)) for row in rows])
            for case, rows in groupby(team.table, key=lambda row: row.case)
        ],
    )


def _texts(row: Printed, name: str, telling: bool) -> Texts:
    columns = (row.neutral, *([row.telling] if telling else []), row.hand)
    seen = [("/".join(map(print_mark, one)), one != (row.good,)) for one in columns]
    return [(name, False), (print_mark(row.good), False), *seen]
