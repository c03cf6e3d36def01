"""A machine at the other end of the line: any description, any faults, on a pseudo-terminal.

It reads what comes as a real one would, a character at a time, and types on paper. A slow part is
late only if the next character comes before it is home, as on the real machine.
"""

import os
import random
import threading
import time
from collections.abc import Sequence

from mechlogic.bench.alignment import SMUDGE, place_of
from mechlogic.line.framing import Framing, LineError
from mechlogic.model.faults import Hypothesis
from mechlogic.model.logbook import NOTHING, UNREADABLE
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import Line
from mechlogic.model.seen import glyph_of
from mechlogic.model.steps import steps


class SimulatedMachine:
    """A machine on a pseudo-terminal.

    Args:
        machine: Which machine.
        faults: What is wrong with it.
        framing: The line that it hangs on.
        seed: For what is left to chance.

    Attributes:
        name: The port at which a program reaches it.
        prints: What it showed for each character that came, as a log has it.
        paper: The lines on its paper.

    Raises:
        LineError: On a system without pseudo-terminals.
    """

    def __init__(
        self, machine: Machine, faults: Hypothesis, framing: Framing, seed: int = 0
    ) -> None:
        try:
            import pty
            import tty
        except ImportError as error:
            raise LineError(
                "this system has no pseudo-terminals",
                "Use Linux or macOS for the simulated machine",
            ) from error
        self.machine, self.framing = machine, framing
        self.prints: list[str] = []
        self.paper = [""]
        self._tables = tuple(steps(machine, faults, at_speed) for at_speed in (False, True))
        self._chance = random.Random(seed)
        self._memory = min(self._tables[0])
        self._last = -framing.home_again_s
        self._end, other = pty.openpty()
        tty.setraw(other)
        self.name = os.ttyname(other)
        self._other = other  # held, so that the port stays while no program has it open
        threading.Thread(target=self._work, daemon=True).start()

    def press(self, codes: Sequence[int], gap_s: float = 0.0) -> None:
        """For a keyboard: press keys one after the other, and send what its contacts say.

        Raises:
            LineError: If the machine is no keyboard.
        """
        line = self.machine.output
        if not isinstance(line, Line):
            raise LineError(f"{self.machine.title} has no keys", "Choose a keyboard")
        for code in codes:
            shown = self._step(code)
            sent = line.code.parse(shown) if shown not in (NOTHING, UNREADABLE) else 32
            word = self.framing.word(sent) ^ (shown == UNREADABLE) << line.code.units
            os.write(self._end, bytes((word,)))
            time.sleep(gap_s)

    def close(self) -> None:
        """Take the machine off the line: its port is then gone."""
        for handle in (self._other, self._end):
            os.close(handle)

    def _work(self) -> None:
        while True:
            try:
                data = os.read(self._end, 1)
            except OSError:
                return
            if not data:
                return
            code, right = self.framing.code_of(data[0])
            if right and code < len(self.machine.code):
                self._step(code)

    def _step(self, code: int) -> str:
        now = time.monotonic()
        at_speed = now - self._last < self.framing.home_again_s
        self._last = now
        outcomes = self._tables[at_speed][self._memory][code]
        ((seen, self._memory),) = self._chance.choices(list(outcomes), list(outcomes.values()))
        self.prints.append(seen)
        self._type(code, seen)
        return seen

    def _type(self, code: int, seen: str) -> None:
        """Put a print on the paper; what prints nothing leaves a blank where it should print."""
        glyph, good = glyph_of(seen), self.machine.good_print(code)
        if len(glyph) == 1 or glyph == UNREADABLE:
            self.paper[-1] += SMUDGE if glyph == UNREADABLE else glyph
        elif glyph == NOTHING and place_of(self.machine, code, good):
            self.paper[-1] += " "
        if "LF" in seen.split("+"):
            self.paper.append("")
