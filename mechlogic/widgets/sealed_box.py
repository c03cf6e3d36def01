"""A hidden fault to search for: what is tried goes in, findings, minutes and a replay come out."""

from collections.abc import Callable, Sequence
from threading import Thread
from typing import Any

import ipywidgets as w

from mechlogic import machines
from mechlogic.bench import pages
from mechlogic.bench.checks import HAND, SOURCE, TYPE, costs_of, reaches
from mechlogic.bench.evidence import Evidence
from mechlogic.explaining.words import capitalised, parts_in_order
from mechlogic.helpers.templates import piece
from mechlogic.model.machine import Machine
from mechlogic.teaching import hunt_pages, progress
from mechlogic.teaching.sealed import (
    ANYTHING_BEFORE,
    HINTS,
    LEVELS,
    MENDING,
    Declaration,
    Hunt,
    Move,
    Sealed,
    library_hunt,
    replaying,
)
from mechlogic.widgets.buttons import AskFirst
from mechlogic.widgets.screen import (
    Screen,
    button,
    labelled,
    page,
    replace_children,
    row,
    said,
    say,
    styled,
)
from mechlogic.widgets.turns import in_turn

AUTO, LABEL = {"width": "auto"}, "60px"
LARGEST_SEED = 10**9
THINKING = "The library searches for the same fault, and then goes through your search"
TYPED = "AB CR"


class SealedBox(Screen):
    """A machine with a hidden fault, to be found at the least expense.

    Args:
        machine: The machine to begin with.
        level: The level to begin with, from 1 to 5.
        seed: The number to begin with.

    Attributes:
        hunt: The hunt so far.
        ended: How it ended; None until the reader says that the machine is repaired.
        thinking: What works out the points and the replay, meanwhile; None before.
    """

    def __init__(self, machine: Machine, level: int = 1, seed: int = 1) -> None:
        self._machines = {machine.name: machine}  # one of each: much is worked out only once
        self._budget, self._strip, self._list = page(), page(), page()
        self._said, self._end, self._points = page(), page(), page()
        self._replay, self._thinks = page(), page()
        self._tools = w.VBox(layout=AUTO)
        self.thinking: Thread | None = None
        self.ended: Declaration | None = None
        super().__init__(
            [
                styled(pages.STYLE, hunt_pages.STYLE),
                self._sealing(machine, level, seed),
                self._budget,
                self._tools,
                self._said,
                self._end,
                self._points,
                self._replay,
                self._thinks,
                self._strip,
                self._list,
            ],
            layout=AUTO,
        )
        self.start(Sealed(machine, level, seed))

    def start(self, sealed: Sealed) -> None:
        """Begin a hunt for a hidden fault."""
        self.hunt, self.ended = Hunt(sealed), None
        self._again.calm()
        replace_children(self._tools, self._tool_rows())
        self._tools.layout.display = ""
        for place in (self._said, self._end, self._points, self._replay, self._thinks):
            say(place, "")
        self._show()

    # -- sealing ----------------------------------------------------------------------------------

    def _sealing(self, machine: Machine, level: int, seed: int) -> w.Widget:
        names = dict.fromkeys((machine.name, *machines.names()))
        titles = [(self._machine(name).title, name) for name in names]
        chooser = self._menu("Machine", titles, "330px", value=machine.name)
        holds = [(f"{n}: {holds}", n) for n, holds in LEVELS.items()]
        levels = self._menu("Level", holds, "620px", value=level)
        number = labelled(w.BoundedIntText, "Number", "190px", LABEL, max=LARGEST_SEED, value=seed)

        @self.in_turn
        def seal() -> None:
            self.start(Sealed(self._machine(chooser.value), levels.value, number.value))

        self._again = AskFirst(
            "Hide this fault",
            "Stop this search? Press again",
            seal,
            lambda: bool(self.hunt.findings) and self.ended is None,
        )
        return w.VBox([row(chooser, number, self._again), levels])

    def _machine(self, name: str) -> Machine:
        if name not in self._machines:
            self._machines[name] = machines.load(name)
        return self._machines[name]

    # -- what can be done -------------------------------------------------------------------------

    def _tool_rows(self) -> list[w.Widget]:
        machine, costs = self.hunt.machine, costs_of(self.hunt.machine)
        text = labelled(w.Text, "Send", "270px", LABEL, placeholder=TYPED)
        text.continuous_update = False  # whole, and before the button that is pressed next

        def send(hunt: Hunt) -> Hunt:
            return hunt.typed(hunt_pages.typed_codes(text.value, machine.code))

        def turn(hunt: Hunt) -> Hunt:
            codes = hunt_pages.typed_codes(text.value, machine.code)
            if len(codes) > 1:
                raise ValueError("by hand one character at a time is sent. Write only one.")
            return hunt.turned(codes[0])

        typing = self._button(f"At speed ({costs[TYPE]:g} min each)", send)
        by_hand = self._button(f"Turning by hand ({costs[HAND]:g} min)", turn)
        source = self._button(
            f"Try another source ({costs[SOURCE]:g} min)", lambda hunt: hunt.other_source()
        )
        off = self._menu(
            "Look",
            [(f"{reach} off ({costs[reach]:g} min)", reach) for reach in reaches(machine)],
            "240px",
        )
        look = self._button("Look", lambda hunt: hunt.looked(off.value))
        parts = [(machine.label(name), name) for name in parts_in_order(machine)]
        part = self._menu("Repair", [*parts, ("what comes before the printer", ANYTHING_BEFORE)])
        mend = self._button(
            f"Repair it ({MENDING:g} min, and what comes off)", lambda hunt: hunt.mend(part.value)
        )
        hints = self._menu(
            "Hint", [(f"{asked} ({n:g} min)", asked) for asked, n in HINTS.items()], "420px"
        )
        hint = self._button("Ask", lambda hunt: hunt.hinted(hints.value))
        self._declare = AskFirst(
            "I have repaired it", "Show the fault? Press again", self.in_turn(self.declare)
        )
        looking = [off, look] if reaches(machine) else []
        return [
            row(text, typing, by_hand, source),
            row(*looking, part, mend),
            row(hints, hint, self._declare),
        ]

    def _menu(
        self, words: str, options: Sequence[Any], width: str = "290px", **chosen: Any
    ) -> w.Dropdown:
        return labelled(w.Dropdown, words, width, LABEL, options=options, **chosen)

    def _button(self, words: str, do: Callable[[Hunt], Hunt]) -> w.Button:
        return button(words, lambda: self._do(do))

    @in_turn
    def _do(self, do: Callable[[Hunt], Hunt]) -> None:
        """Do something to the machine and say what was found."""
        if self.ended:
            return
        self._declare.calm()
        self._again.calm()
        try:
            self.hunt = do(self.hunt)
        except ValueError as error:
            say(self._said, pages.problem_list([capitalised(str(error))]))
            return
        say(self._said, hunt_pages.said(self.hunt.findings[-1]))
        self._show()

    def _show(self) -> None:
        hunt = self.hunt
        say(self._budget, hunt_pages.budget(hunt))
        say(self._strip, pages.log_strip(Evidence(hunt.machine, hunt.log)))
        say(self._list, hunt_pages.findings(hunt))

    # -- the end ----------------------------------------------------------------------------------

    def declare(self) -> None:
        """Say that the machine is repaired: the fault is shown, points and replay follow."""
        ended = self.ended = self.hunt.declare()
        self._tools.layout.display = "none"
        say(self._said, "")
        say(self._end, hunt_pages.truth(ended) + _keep(ended))
        say(self._thinks, piece("hunt.html", "said", f"{THINKING} …"))
        say(self._strip, "")
        say(self._list, "")
        self._again.focus()
        self.thinking = Thread(target=self._reckon, args=(ended,), daemon=True)
        self.thinking.start()

    def _reckon(self, ended: Declaration) -> None:
        """Work out points and replay, beside whatever else the reader does."""
        try:
            library = library_hunt(ended.hunt.sealed)
            self._say_of(ended, self._points, hunt_pages.score(ended, library))
            moves: list[Move] = []
            for move in replaying(ended.hunt):
                moves.append(move)
                count = f"check {len(moves)} of {len(ended.hunt.findings)}"
                told = f"The library goes through your search: {count} …"
                self._say_of(ended, self._thinks, said("sentence", told))
            self._say_of(ended, self._replay, hunt_pages.replayed(moves))
            self._say_of(ended, self._thinks, "")
        except Exception as error:  # nobody else would see it: this is a thread of its own
            told = f"The library could not finish: {error}"
            self._say_of(ended, self._thinks, said("sentence", told))

    def _say_of(self, ended: Declaration, where: w.HTML, html: str) -> None:
        if self.ended is ended:  # and not of another hunt, begun meanwhile
            say(where, html)


def _keep(ended: Declaration) -> str:
    """Keep that a hidden fault was repaired, beside the workbooks; says so if that fails."""
    kept, sealed = progress.beside(), ended.hunt.sealed
    if kept is None or ended.left:
        return ""
    try:
        kept.note(f"{progress.SEALED}{sealed.machine.name[:100]}/{sealed.level}/{sealed.seed}")
    except progress.ProgressError as error:
        return piece("hunt.html", "not_saved", str(error))
    return ""
