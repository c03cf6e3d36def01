"""The line: a port or a simulated machine; what to send, a stop button, and the paper under it."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import ipywidgets as w

from mechlogic.acceptance.testcards import smallest_sequence, walk_all_transitions
from mechlogic.bench.advice import next_check
from mechlogic.bench.diagnosis import diagnose
from mechlogic.helpers.refusal import Refusal
from mechlogic.helpers.templates import render
from mechlogic.line.framing import Framing, LineError, framing_for, keyed
from mechlogic.line.log import described, heard_as_sent, log_of
from mechlogic.line.port import CAUTIONS, SerialPort, ports
from mechlogic.line.session import Errand, LineSession
from mechlogic.line.simulated import SimulatedMachine
from mechlogic.model.faults import Hypothesis
from mechlogic.model.logbook import Logbook
from mechlogic.model.machine import Machine
from mechlogic.widgets.keys import OwnKeys
from mechlogic.widgets.turns import in_turn

SIMULATED = "a simulated machine"
AUTO = {"width": "auto"}
ROW = w.Layout(flex_flow="row wrap")

OPENING = {"open_line": "Open the line", "close_line": "Close the line"}
SENDING = {
    "burst": "Send the text",
    "step": "Send one character",
    "check": "Send the next check",
    "acceptance": "Send the acceptance text",
    "changes": "Send every change",
    "stop": "Stop sending",
}
READING = {"enter": "Enter what it shows", "right": "All right", "heard": "Use what was heard"}
"""The buttons of each row: the method that each calls, and what it says."""


class LineBox(w.VBox):  # type: ignore[misc]
    """A line to a machine.

    Args:
        machine: The machine at its end.
        faults: What is wrong with the simulated one.
        file: Where each character that goes out is noted, before and after; None for nowhere.

    Attributes:
        session: The open line, or None.
        errand: What was last sent, or None.
        logbook: What was sent, with what the paper shows, once that was said.
    """

    def __init__(
        self,
        machine: Machine,
        faults: Hypothesis = (),
        file: str | Path | None = "line_sent.jsonl",
    ) -> None:
        self.machine, self._faults, self._file = machine, faults, file
        self.session: LineSession | None = None
        self.errand: Errand | None = None
        self.simulated: SimulatedMachine | None = None
        self.logbook = Logbook((), machine.code)
        usual = framing_for(machine)
        found = [(f"{name} ({about})", name) for name, about in _ports()]
        self.port = _choice("Port", [(SIMULATED, SIMULATED), *found], SIMULATED)
        self.baud = w.BoundedFloatText(usual.baud, min=1, max=9600, description="Baud")
        self.bits = _choice("Units", [5, 6, 7, 8], usual.bits)
        self.parity = _choice("Parity", ["none", "even", "odd"], usual.parity)
        self.stop_units = _choice("Stop units", [1.0, 1.42, 1.5, 2.0], usual.stop_units)
        self.inverted = w.Checkbox(description="bits inverted", indent=False, layout=AUTO)
        self.echo = w.Checkbox(description="the line echoes", indent=False, layout=AUTO)
        self.text = w.Text(description="To send", layout={"width": "320px"})
        self.pause = w.BoundedFloatText(0, min=0, max=60, description="Pause (s)")
        self.paper = w.Text(description="Paper shows", layout={"width": "320px"})
        self._said, self._seen = (w.HTML(layout=AUTO) for _ in range(2))
        for box in (self.port, self.baud, self.bits, self.parity, self.stop_units, self.pause):
            box.layout.width, box.style.description_width = "auto", "auto"
        cautions = w.HTML(render("line_cautions.html", cautions=CAUTIONS), layout=AUTO)
        super().__init__(
            [
                OwnKeys(),
                cautions,
                w.HBox([self.port, self.baud, self.bits, self.parity, self.stop_units], layout=ROW),
                w.HBox([self.inverted, self.echo, *self._buttons(OPENING)], layout=ROW),
                w.HBox([self.text, self.pause, *self._buttons(SENDING)], layout=ROW),
                w.HBox([self.paper, *self._buttons(READING)], layout=ROW),
                self._said,
                self._seen,
            ],
            layout=AUTO,
        )

    def _buttons(self, names: dict[str, str]) -> list[w.Button]:
        """Buttons, each for the method of its name."""
        buttons = []
        for method, words in names.items():
            button = w.Button(description=words, layout=AUTO)
            button.on_click(lambda _, method=method: self._try(method))
            buttons.append(button)
        return buttons

    @in_turn
    def _try(self, method: str) -> None:
        """Do what a button says, and say what came of it or why it cannot be."""
        try:
            said = getattr(self, method)()
        except Refusal as error:
            said = str(error)
        except OSError as error:
            said = f"{error.filename or 'The line'}: {error.strerror or error}."
        self._said.value = render("line_said.html", said=said)

    def open_line(self) -> str:
        """Open the line as the boxes say."""
        self.close_line()
        framing = Framing(
            self.baud.value,
            self.bits.value,
            self.parity.value,
            self.stop_units.value,
            self.inverted.value,
        )
        name = self.port.value
        if name == SIMULATED:
            self.simulated = SimulatedMachine(self.machine, self._faults, framing)
            name = self.simulated.name
        port = SerialPort(name, framing)
        self.session = LineSession(port, framing, self._file, self.echo.value, self._show)
        instead = () if self.simulated else port.instead
        return " ".join((f"Open: {framing.character_s * 1000:.0f} ms a character.", *instead))

    def close_line(self) -> str:
        """Stop sending, and give the port free."""
        if self.session:
            self.session.close()
        if self.simulated:
            self.simulated.close()
        self.session = self.simulated = None
        return "The line is closed."

    def burst(self) -> str:
        """Send the text, one character right after the other, or with the pause that is given."""
        return self._send(keyed(self.machine, self.text.value))

    def step(self) -> str:
        """Send the first character of the text, with the shift it needs, and take it off."""
        said = self._send(keyed(self.machine, self.text.value[:1]))
        self.text.value = self.text.value[1:]
        return said

    def check(self) -> str:
        """Send what tells the likely faults apart best."""
        check = next_check(diagnose(self.machine, self.logbook)) if self.logbook.entries else None
        if check is None:
            raise LineError("there is no check to send", "Send a text, and say what it printed")
        return self._send(check.codes)

    def acceptance(self) -> str:
        """Send the shortest text that shows the machine to be repaired."""
        return self._send(smallest_sequence(self.machine).codes)

    def changes(self) -> str:
        """Send a text in which every character follows every other; it is long."""
        return self._send(walk_all_transitions(self.machine).codes)

    def _send(self, codes: Sequence[int]) -> str:
        if self.session is None:
            raise LineError("the line is not open", "Open it first")
        self.errand = self.session.send(Errand(codes, self.pause.value))
        return f"Sending {len(codes)} characters."

    def stop(self) -> str:
        """Hold back what has not gone out."""
        if self.errand:
            self.errand.stop()
        return "Stopped: the next character is held back."

    def heard(self) -> str:
        """Take what the keyboard sent for what the printer was sent."""
        if self.session is None or not self.session.heard:
            raise LineError("nothing was heard", "Open the line, and press a key of the machine")
        self.errand = Errand(())
        self.errand.sent = list(heard_as_sent(self.session.heard))
        self.session.heard.clear()
        return f"{len(self.errand.sent)} characters sent by key: now say what the paper shows."

    def enter(self) -> str:
        """Add what was sent to the log, with the paper as it was typed."""
        return self._log(self.paper.value)

    def right(self) -> str:
        """Add what was sent to the log, all of it printed right."""
        return self._log(None)

    def _log(self, paper: str | None) -> str:
        if self.errand is None or self.session is None:
            raise LineError("nothing was sent", "Send something first")
        found = log_of(self.machine, self.session.framing, self.errand.sent, paper)
        self.logbook = self.logbook.adding(*found)
        self.errand, self.paper.value = None, ""
        return f"The log has {len(self.logbook)} entries."

    def _show(self) -> None:
        """Show what has gone out, what has come in, and the paper of a simulated machine."""
        session, errand = self.session, self.errand
        if session is None:
            return
        names = [self.machine.code.name(each.code) for each in errand.sent] if errand else []
        error = (errand and errand.error) or session.error
        self._seen.value = render(
            "line_seen.html",
            sent=names,
            asked=len(errand.codes) if errand else 0,
            heard=[described(each, session.framing.bits) for each in session.heard],
            paper=self.simulated.paper if self.simulated else (),
            error=str(error) if error else "",
        )


def _choice(words: str, options: list[Any], value: Any) -> w.Dropdown:
    return w.Dropdown(options=options, value=value, description=words)


def _ports() -> list[tuple[str, str]]:
    try:
        return list(ports())
    except ImportError:  # no pyserial: opening a port will say so
        return []
