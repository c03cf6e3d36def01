"""The line: a port or a simulated machine; what to send, a stop button, and the paper under it."""

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import ipywidgets as w

from mechlogic.acceptance.testcards import smallest_sequence, walk_all_transitions
from mechlogic.bench.advice import next_check
from mechlogic.bench.diagnosis import diagnose
from mechlogic.bench.store import Store
from mechlogic.helpers.refusal import Refusal
from mechlogic.helpers.storage import Folder, InMapping
from mechlogic.helpers.templates import render
from mechlogic.line.framing import STOPS, Framing, LineError, framing_for, keyed
from mechlogic.line.log import described, heard_as_sent, log_of
from mechlogic.line.port import SerialPort, ports
from mechlogic.line.session import Errand, LineSession
from mechlogic.line.simulated import SimulatedMachine
from mechlogic.model.faults import Hypothesis
from mechlogic.model.logbook import Logbook
from mechlogic.model.machine import Machine
from mechlogic.widgets.screen import Screen, button, labelled, page, row
from mechlogic.widgets.turns import in_turn

SIMULATED = "a simulated machine"
AUTO = {"width": "auto"}


class LineBox(Screen):
    """A line to a machine.

    Args:
        machine: The machine at its end.
        faults: What is wrong with the simulated one.
        file: Where each character that goes out is noted, before and after; None for nowhere.
        storage: Folder in which the log on the bench is kept; None for memory only.

    Attributes:
        session: The open line, or None.
        simulated: The simulated machine at its end, or None.
        errand: What was sent and is not in the logbook yet, or None.
        kept: The log on the bench, to which is added what was sent and what the paper shows.
    """

    def __init__(
        self,
        machine: Machine,
        faults: Hypothesis = (),
        file: str | Path | None = "line_sent.jsonl",
        storage: str | Path | None = "bench",
    ) -> None:
        self.machine, self._faults, self._file = machine, faults, file
        place = InMapping({}) if storage is None else Folder(storage)
        self.kept = Store(place).bench(machine)
        self.session: LineSession | None = None
        self.errand: Errand | None = None
        self.simulated: SimulatedMachine | None = None
        usual = framing_for(machine)
        self.port = _choice("Port", [(SIMULATED, SIMULATED), *ports()], SIMULATED)
        self.framing = {
            "baud": _number("Baud", usual.baud, 1, 9600),
            "bits": _choice("Units", [5, 6, 7, 8], usual.bits),
            "parity": _choice("Parity", ["none", "even", "odd"], usual.parity),
            "stop_units": _choice("Stop units", STOPS, usual.stop_units),
            "inverted": w.Checkbox(description="bits inverted", indent=False, layout=AUTO),
        }
        self.echo = w.Checkbox(description="the line echoes", indent=False, layout=AUTO)
        self.text = _whole(w.Text, "To send", "330px")
        self.pause = _number("Pause after each, in s", 0, 0, 60)
        self.paper = _whole(w.Text, "Paper shows", "330px")
        self._said, self._seen = page(), page()
        opening = {"Open the line": self.open_line, "Close the line": self.close_line}
        sending = {
            "Send the text": lambda: self.send(keyed(machine, self.text.value)),
            "Send one character": self.step,
            "Send the next check": self.check,
            "Send the acceptance text": lambda: self.send(smallest_sequence(machine).codes),
            "Send every change": lambda: self.send(walk_all_transitions(machine).codes),
            "Stop sending": self.stop,
        }
        reading = {
            "Enter what it shows": lambda: self.enter(self.paper.value),
            "All right": lambda: self.enter(None),
            "Use what was heard": self.use_heard,
        }
        super().__init__(
            [
                w.HTML(render("line_cautions.html"), layout=AUTO),
                row(self.port, *self.framing.values(), self.echo, *self._buttons(opening)),
                row(self.text, self.pause, *self._buttons(sending)),
                row(self.paper, *self._buttons(reading)),
                self._said,
                self._seen,
            ],
            layout=AUTO,
        )

    def _buttons(self, does: dict[str, Callable[[], str]]) -> list[w.Button]:
        return [button(words, partial(self._try, do)) for words, do in does.items()]

    @in_turn
    def _try(self, do: Callable[[], str]) -> None:
        """Do what a button says, and say what came of it or why it cannot be."""
        try:
            said = do()
        except Refusal as error:
            said = str(error)
        self._said.value = render("line_said.html", said=said)

    @property
    def logbook(self) -> Logbook:
        """The log on the bench, as far as nothing about it is questioned."""
        return self.kept.editor.log

    def open_line(self) -> str:
        """Open the line as the boxes say."""
        self.close_line()
        framing = Framing(**{key: box.value for key, box in self.framing.items()})
        if self.port.value == SIMULATED:
            self.simulated = SimulatedMachine(self.machine, self._faults, framing)
        port = SerialPort(self.simulated.name if self.simulated else self.port.value, framing)
        self.session = LineSession(port, framing, self._file, self.echo.value, self._show)
        instead = () if self.simulated else port.instead
        return " ".join((f"Open: {framing.character_s * 1000:.0f} ms a character.", *instead))

    def close_line(self) -> str:
        """Stop sending, and give the port free."""
        for each in (self.session, self.simulated):
            if each:
                each.close()
        self.session = self.simulated = None
        return "The line is closed."

    def step(self) -> str:
        """Send the first character of the text, with the shift it needs, and take it off."""
        said = self.send(keyed(self.machine, self.text.value[:1]))
        self.text.value = self.text.value[1:]
        return said

    def check(self) -> str:
        """Send what tells the likely faults apart best."""
        log = self.logbook
        found = next_check(diagnose(self.machine, log)) if log.entries else None
        if found is None:
            raise LineError("there is no check to send", "Send a text, and say what it printed")
        return self.send(found.codes)

    def send(self, codes: Sequence[int]) -> str:
        """Send codes, one after the other."""
        if self.session is None:
            raise LineError("the line is not open", "Open it first")
        if self.errand and self.errand.sent:
            raise LineError("the paper under the last text is not entered", "Say what it shows")
        self.errand = self.session.send(Errand(codes, self.pause.value))
        return f"Sending {len(codes)} characters."

    def stop(self) -> str:
        """Hold back what has not gone out."""
        if self.errand:
            self.errand.stop()
        return "Stopped: the next character is held back."

    def use_heard(self) -> str:
        """Take what the keyboard sent for what the printer was sent."""
        if self.session is None or not self.session.heard:
            raise LineError("nothing was heard", "Open the line, and press a key of the machine")
        self.errand = Errand(())
        self.errand.sent = list(heard_as_sent(self.session.heard))
        self.session.heard.clear()
        return f"{len(self.errand.sent)} characters sent by key: now say what the paper shows."

    def enter(self, paper: str | None) -> str:
        """Add what was sent to the logbook; *paper* as :func:`mechlogic.line.log.log_of` has it."""
        if self.errand is None or self.session is None:
            raise LineError("nothing was sent", "Send something first")
        found = log_of(self.machine, self.session.framing, self.errand.sent, paper)
        self.kept.put(editor=self.kept.editor.append(found))
        self.errand, self.paper.value = None, ""
        return f"The log on the bench has {len(self.logbook)} entries. {self.kept.trouble}"

    def _show(self) -> None:
        """Show what has gone out, what has come in, and the paper of a simulated machine."""
        if self.session:
            name = self.machine.code.name
            errors = [self.errand and self.errand.error, self.session.error]
            self._seen.value = render(
                "line_seen.html",
                sent=[name(each.code) for each in self.errand.sent] if self.errand else [],
                asked=len(self.errand.codes) if self.errand else 0,
                heard=[described(each, self.session.framing.bits) for each in self.session.heard],
                paper=self.simulated.paper if self.simulated else (),
                error=next((str(error) for error in errors if error), ""),
            )


_whole = partial(labelled, label="auto")
"""A control whose label is not cut."""


def _choice(words: str, options: Sequence[Any], value: Any) -> w.Dropdown:
    return _whole(w.Dropdown, words, options=options, value=value)


def _number(words: str, value: float, least: float, most: float) -> w.BoundedFloatText:
    return _whole(w.BoundedFloatText, words, "180px", value=value, min=least, max=most)
