"""A club evening: machine, number and paper go in, a preview and printed sheets come out."""

import re
from collections.abc import Callable
from functools import partial
from pathlib import Path

import ipywidgets as w

from mechlogic import machines
from mechlogic.bench import pages
from mechlogic.drawing.club_pages import save
from mechlogic.helpers.paper import SIZES
from mechlogic.model.machine import Machine
from mechlogic.teaching import club
from mechlogic.teaching.club import Evening
from mechlogic.widgets.screen import Screen, button, labelled, page, refused, row, said, styled
from mechlogic.widgets.turns import in_turn

WAIT = "Working it out: this can take half a minute."


class ClubBox(Screen):
    """What an instructor chooses for a club evening, and what comes of it.

    Args:
        machine: Name of the machine to begin with.
        number: The number to begin with.
        folder: Where the sheets are put: beside the workbook, unless told otherwise.

    Attributes:
        evening: The evening that was last asked for; None before, and after what cannot be.
        files: The sheets that were last made.
    """

    def __init__(
        self, machine: str = "saltmere", number: int = 1, folder: str | Path = "."
    ) -> None:
        self.folder = Path(folder)
        self.evening: Evening | None = None
        self.files: tuple[Path, ...] = ()
        self._machines: dict[str, Machine] = {}  # one of each: much is worked out only once
        titles = [(machines.load(name).title, name) for name in machines.names()]
        whole = partial(labelled, w.BoundedIntText)
        self.machine = labelled(w.Dropdown, "Machine", "320px", options=titles, value=machine)
        self.number = whole("Number", "190px", max=club.MOST_NUMBER, value=number)
        self.teams = whole("Teams", "170px", min=1, max=club.MOST_TEAMS, value=4)
        self.minutes = whole("Minutes", "170px", min=club.SHORTEST, max=club.LONGEST, value=120)
        self.levels = labelled(w.Text, "Levels", "170px", value="1, 2")
        self.paper = labelled(w.Dropdown, "Paper", "170px", options=SIZES)
        self.preview = button("Preview", lambda: self._try(self._previewed))
        self.make = button("Make the sheets", lambda: self._try(self._made))
        self._said = page()
        super().__init__(
            [
                styled(pages.STYLE),
                row(self.machine, self.number),
                row(self.teams, self.minutes, self.levels, self.paper),
                row(self.preview, self.make),
                self._said,
            ],
            layout={"width": "auto"},
        )

    @property
    def said(self) -> str:
        """What the box says, as HTML."""
        return str(self._said.value)

    def _chosen(self) -> Evening:
        name = self.machine.value
        machine = self._machines.setdefault(name, machines.load(name))
        return Evening(
            machine, self.number.value, self.teams.value, self.minutes.value, self._levels()
        )

    def _levels(self) -> tuple[int, ...]:
        pieces = re.split(r"[,\s]+", self.levels.value.strip())
        if not all(re.fullmatch("[1-5]", piece) for piece in pieces):
            raise ValueError("the levels are not numbers from 1 to 5. Write them like 1, 2.")
        return tuple(map(int, pieces))

    def _previewed(self) -> str:
        self.evening = self._chosen()
        return said("as_typed", self.evening.preview())

    def _made(self) -> str:
        self.evening = self._chosen()
        self.files = save(self.evening, self.folder, self.paper.value)
        names = [path.name for path in self.files]
        return said("files", str(self.folder.resolve()), names)

    @in_turn
    def _try(self, do: Callable[[], str]) -> None:
        """Do something, and say what came of it or why it cannot be."""
        self._say(said("sentence", WAIT))
        self.evening, self.files = None, ()
        try:
            self._say(do())
        except (OSError, ValueError) as error:
            self._say(refused(error, self.folder))

    def _say(self, html: str) -> None:
        self._said.value = said("live", html)
