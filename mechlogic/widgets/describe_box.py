"""Describing a machine of one's own: read what its bits do, write its parts, have it checked."""

from collections.abc import Iterable
from pathlib import Path

import ipywidgets as w

from mechlogic.bench import pages
from mechlogic.describing.description import (
    LARGEST_FILE,
    DescriptionError,
    Problem,
    parse,
    sketch,
)
from mechlogic.describing.draft import BLANK
from mechlogic.describing.roles import RolesError, infer
from mechlogic.explaining.proofs import MACHINE_CLAIMS
from mechlogic.helpers import safe_file
from mechlogic.helpers.storage import Folder
from mechlogic.machines import FOLDER, names, own
from mechlogic.model.codes import ALPHABETS
from mechlogic.model.faults import single_faults
from mechlogic.model.logbook import LogbookError, from_lines
from mechlogic.model.machine import Machine
from mechlogic.widgets.description_form import DescriptionForm
from mechlogic.widgets.machine_view import MachineView
from mechlogic.widgets.screen import Screen, button, labelled, replace_children, row, said, styled
from mechlogic.widgets.turns import in_turn

MOST_PROBLEMS = 12
"""How many mistakes are shown at once; the rest are counted."""

LOOK = Path(__file__).with_suffix(".css").read_text(encoding="utf-8")
BEFORE, MOST_BYTES = "before", 4 * LARGEST_FILE

LONGEST_LINE = 200
"""So much of a line with a mistake is shown, in characters."""


class RolesBox(Screen):
    """Type in the type, and what was sent and printed, and read which bit does what.

    Args:
        grid: The type to begin with, one text for each row, the top row first.
        sent, printed: Two lines to begin with.
        alphabet: The code in which it was sent: a key of
        :data:`~mechlogic.model.codes.ALPHABETS`.
    """

    def __init__(
        self,
        grid: Iterable[str] = (),
        sent: str = "",
        printed: str = "",
        alphabet: str = "seven-unit",
    ) -> None:
        self.alphabet = w.Dropdown(options=list(ALPHABETS), value=alphabet, description="Code")
        self.grid = _text("\n".join(grid), "Type, top row first", 8)
        self.sent, self.printed = _text(sent, "Sent", 2), _text(printed, "Printed", 2)
        self.page = w.HTML()
        super().__init__(
            children=[
                styled(pages.STYLE),
                self.alphabet,
                self.grid,
                self.sent,
                self.printed,
                row(button("What does each bit do?", self.read)),
                self.page,
            ]
        )

    @in_turn
    def read(self) -> None:
        """Read the roles, and show them or what is wrong."""
        self.page.value = said("status", self._findings())

    def _findings(self) -> str:
        code = ALPHABETS[self.alphabet.value]
        rows = [row for row in self.grid.value.split("\n") if row.strip()]
        try:
            log = from_lines(self.sent.value, self.printed.value, code)
            prints = {entry.sent: entry.printed for entry in log}
            width = max(map(len, rows), default=0)
            grid = [row.ljust(width) for row in reversed(rows)]
            roles = infer(prints, grid, code.units)
        except LogbookError as error:
            return said("list", list(map(str, error.problems)))
        except RolesError as error:
            return said("sentence", str(error))
        return said("sections", [(head, list(says)) for head, says in roles.sections(code.name)])


class DescribeBox(Screen):
    """A description to write and have checked, line by line; when it is right, its picture.

    Args:
        text: The description to begin with.
        folder: Where descriptions are saved.
        storage: Folder of what is on the bench: a machine that is saved there is in every list.
    """

    def __init__(
        self, text: str = BLANK, folder: str | Path = ".", storage: str | Path = "bench"
    ) -> None:
        self.folder, self._storage = Path(folder), Folder(storage)
        self.machine: Machine | None = None
        self.form = DescriptionForm(text, self._from_form, self)
        self.text = w.Textarea(value=text, rows=24, layout=w.Layout(width="auto", height="440px"))
        self.text.add_class("ml-description")
        self.page = w.HTML()
        # in a row the picture would be 0 wide: its width is what asks for the height
        self.picture = w.VBox()
        self._written: dict[Path, bytes] = {}  # each file as it was saved or opened here
        self._before = text
        self.opened = w.Dropdown(description="Open", layout={"width": "300px"})
        self._list_files()
        self.name = w.Text("my_machine.toml", description="File", layout=w.Layout(width="300px"))
        check, save = button("Check it", self.check), button("Save it", self.save)
        self.opened.observe(lambda change: self.bring(change["new"]), "value")
        self.text.observe(lambda change: self._from_text(change["new"]), "value")
        tabs = w.Tab([self.form, self.text], titles=["Form", "Text"])
        tabs.selected_index = 0 if text == BLANK else 1
        super().__init__(
            children=[
                styled(pages.STYLE, LOOK),
                tabs,
                row(check, self.name, save, self.opened),
                self.page,
                self.picture,
            ]
        )
        self.add_class("ml-describe")

    @in_turn
    def _from_form(self, text: str) -> None:
        self.text.value = text
        self.check()

    @in_turn
    def _from_text(self, text: str) -> None:
        self.form.show(text)

    @in_turn
    def check(self) -> None:
        """Read the description; show the machine as far as it goes, and what is wrong with it."""
        try:
            self.machine = parse(self.text.value, "your description")
            self.page.value = said("status", _praise(self.machine))
        except DescriptionError as error:
            self.machine = None
            self.page.value = said("status", _problems(error.problems, self.text.value))
        shown = self.machine or sketch(self.text.value)
        if shown and self.picture.children:
            self.picture.children[0].put_on(shown)
        else:
            replace_children(self.picture, (MachineView(shown),) if shown else ())

    def _list_files(self) -> None:
        """The descriptions that can be opened: those of the folder, and those that ship."""
        mine = sorted(self.folder.glob("*.toml"))
        shipped = [(f"{name} (comes with this copy)", FOLDER / f"{name}.toml") for name in names()]
        choices = [("", None), *((path.name, path) for path in mine), *shipped]
        self.opened.options = [*choices, ("what stood here before", BEFORE)]

    @in_turn
    def bring(self, path: Path | str | None) -> None:
        """Put another description into the box; what stood there can be had back."""
        if path is None:
            return
        try:
            raw = (
                self._before.encode() if path == BEFORE else safe_file.read_bytes(path, MOST_BYTES)
            )
            text = raw.decode("utf-8")
        except (OSError, ValueError) as error:
            self.page.value = said("status", said("sentence", f"It could not be opened: {error}"))
            return
        if isinstance(path, Path):
            self._written[path] = raw
            self.name.value = path.name
        self._before, self.text.value = self.text.value, text
        self.opened.value = None
        self.check()

    @in_turn
    def save(self) -> None:
        """Save the text as it is, right or wrong.

        A file that was not opened or saved here is left alone.  Of one that was, the version before
        is kept beside it.
        """
        self.page.value = said("status", said("sentence", self._saved()))

    def _saved(self) -> str:
        name = Path(self.name.value.strip() or "my_machine.toml").name
        path = self.folder / (name if name.endswith(".toml") else f"{name}.toml")
        taken = f"There is a file {path.name} already, and it was left alone. Give another name."
        try:
            whole = self.text.value.encode("utf-8")
            there = path.read_bytes() if path.exists() else whole
            if there not in (whole, self._written.get(path)):
                return taken
            if there != whole:
                safe_file.write_whole(path.with_suffix(".before.toml"), there)
            safe_file.write_whole(path, whole)
        except (OSError, ValueError) as error:  # a name or a text with what no file can hold
            return f"It could not be saved: {error}"
        self._written[path] = whole
        self._list_files()
        return f"Saved as {path.name}. {self._kept(whole)}"

    def _kept(self, whole: bytes) -> str:
        """Keep the machine among one's own; what came of it."""
        try:
            machine = own.keep(self._storage, whole, "your description")
        except DescriptionError:
            return "It is not in the lists of machines yet: something in it is to be mended first."
        except OSError as error:
            why = error.strerror or error
            return f"It is not in the lists of machines ({why}). {safe_file.mend_for(error)}."
        return f"{machine.title} is now in the list of machines of every bench."


def _text(value: str, words: str, rows: int) -> w.Textarea:
    box = labelled(w.Textarea, words, label="150px", value=value, rows=rows)
    box.add_class("ml-description")
    return box


def _problems(problems: Iterable[Problem], text: str) -> str:
    """The mistakes, each with its line as it is written."""
    found, lines = list(problems), text.split("\n")
    return said("mistakes", [(one, _line(one, lines)) for one in found[:MOST_PROBLEMS]], len(found))


def _line(problem: Problem, lines: list[str]) -> str:
    """The line of a mistake, empty if it has none."""
    there = 0 < problem.line <= len(lines)
    line = lines[problem.line - 1].strip() if there else ""
    return line if len(line) <= LONGEST_LINE else f"{line[:LONGEST_LINE]}…"


def _praise(machine: Machine) -> str:
    """What the machine is, and what is proved of it."""
    n_faults = len(single_faults(machine.mechanism))
    words = (
        f"{machine.title}: {len(machine.mechanism.parts)} parts, {n_faults} ways in which one of "
        "them can fail. Every claim about its codes holds."
    )
    return said("praise", words, [str(claim(machine)) for claim in MACHINE_CLAIMS])
