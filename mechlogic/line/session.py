"""Sending and listening: each character with its time, written to a file before and after it goes.

Characters go out one by one, each when its time has come, so that an abort holds back the next one
and the file is exact to the last. Nothing goes out twice: an errand is begun once, and what a file
tells of an earlier one is only read.
"""

import json
import os
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from mechlogic.line.framing import Framing, LineError
from mechlogic.line.port import STUCK_S, SerialPort

ECHO_S = 0.5
"""How long after its end a character that was sent may come back as an echo, in seconds."""


@dataclass(frozen=True)
class Sent:
    """A character that went out.

    Attributes:
        code: The code, without parity.
        at_s: When it was handed to the port, in seconds from the beginning of the errand.
        sure: False while it goes out, and if that broke off, so that it may not have gone.
    """

    code: int
    at_s: float
    sure: bool = True


@dataclass(frozen=True)
class Heard:
    """A character that came in, and not as an echo.

    Attributes:
        code: The code, without parity, whether or not the machine has it.
        at_s: When it was read, in seconds from the opening of the line.
        parity_right, stop_right: Whether its parity bit and its stop were as they should be.
    """

    code: int
    at_s: float
    parity_right: bool = True
    stop_right: bool = True


class Errand:
    """Characters to be sent once.

    Args:
        codes: What to send, without parity.
        pause_s: How long to wait after each character beyond its own time.

    Attributes:
        sent: What has gone out so far.
        error: What ended it early, or None.
    """

    def __init__(self, codes: Iterable[int], pause_s: float = 0.0) -> None:
        self.codes, self.pause_s = tuple(codes), pause_s
        self.sent: list[Sent] = []
        self.error: LineError | None = None
        self.begun = False
        self._stop, self._over = threading.Event(), threading.Event()

    def stop(self) -> None:
        """Hold the next character back."""
        self._stop.set()

    def wait(self, seconds: float | None = None) -> bool:
        """Wait until it is over, for so long at most; whether it is."""
        return self._over.wait(seconds)

    @property
    def over(self) -> bool:
        """Whether nothing more will be sent."""
        return self._over.is_set()


class LineSession:
    """An open line.

    Args:
        port: The port.
        framing: How its characters are framed.
        file: Where what is sent is noted, a line for each event; None for nowhere.
        echo: Whether the line gives back what is sent on it, as a loop does.
        told: Called, in another thread, after each character that went out or came in.

    Attributes:
        heard: What came in and was no echo.
        error: What ended the listening, or None.
    """

    def __init__(
        self,
        port: SerialPort,
        framing: Framing,
        file: str | os.PathLike[str] | None = None,
        echo: bool = False,
        told: Callable[[], None] = lambda: None,
    ) -> None:
        self.port, self.framing, self.echo, self._told = port, framing, echo, told
        self.file = Path(file) if file else None
        self.heard: list[Heard] = []
        self.error: LineError | None = None
        self._errand: Errand | None = None
        self._echoes: deque[tuple[int, float]] = deque()  # (word, until when it may come back)
        self._closed, self._began = threading.Event(), time.monotonic()
        self._listener = threading.Thread(target=self._listen, daemon=True)
        self._listener.start()

    def send(self, errand: Errand) -> Errand:
        """Begin an errand; it goes on by itself.

        Raises:
            LineError: If it was begun before, another one is not over, the line is closed, or a
                code does not go through this line.
        """
        if errand.begun:
            raise LineError("this was sent before", "Ask for it anew if you want it sent again")
        if self._errand and not self._errand.over:
            raise LineError("something is being sent", "Wait, or stop it")
        if self._closed.is_set() or self.error:
            raise LineError("the line is closed", "Open it")
        words = [self.framing.word(code) for code in errand.codes]
        errand.begun, self._errand = True, errand
        threading.Thread(target=self._send, args=(errand, words), daemon=True).start()
        return errand

    def close(self) -> None:
        """Stop what is being sent, and give the port free."""
        if self._errand and self._errand.begun:
            self._errand.stop()
            self._errand.wait(2 * STUCK_S)
        self._closed.set()
        self._listener.join(STUCK_S)  # a port is free only once nobody reads from it
        self.port.close()

    def _send(self, errand: Errand, words: Sequence[int]) -> None:
        step, began = self.framing.character_s + errand.pause_s, time.monotonic()
        due = began
        try:
            self._note({"asked": errand.codes})
            for n, (code, word) in enumerate(zip(errand.codes, words, strict=True)):
                if errand._stop.wait(max(0.0, due - time.monotonic())):
                    break
                at = time.monotonic()
                self._note({"sending": n, "code": code, "at_s": round(at - began, 4)})
                if self.echo:
                    self._echoes.append((word, at + self.framing.character_s + ECHO_S))
                errand.sent.append(Sent(code, at - began, sure=False))
                self.port.write(word)
                self._note({"sent": n})
                errand.sent[-1] = replace(errand.sent[-1], sure=True)
                due = at + step  # a late one delays the rest: two never run into each other
                self._told()
            errand._stop.wait(max(0.0, due - time.monotonic()))  # until the last one is through
        except LineError as error:
            errand.error = error
        except OSError as error:
            errand.error = LineError(f"{self.file}: {error.strerror or error}", "Choose a folder")
        errand._over.set()
        self._told()

    def _note(self, event: dict[str, object]) -> None:
        """Add an event to the file in one piece, at once."""
        if self.file is None:
            return
        handle = os.open(self.file, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o644)
        try:
            os.write(handle, json.dumps(event).encode() + b"\n")
        finally:
            os.close(handle)

    def _listen(self) -> None:
        while not self._closed.is_set():
            try:
                found = self.port.read()
            except LineError as error:
                if not self._closed.is_set():
                    self.error = error
                    self._told()
                return
            now = time.monotonic()
            for word, stop_right in found:
                if not self._is_echo(word, now):
                    code, right = self.framing.code_of(word)
                    self.heard.append(Heard(code, now - self._began, right, stop_right))
            if found:
                self._told()

    def _is_echo(self, word: int, now: float) -> bool:
        """Whether a character is the next one that a loop gives back of what was sent."""
        while self._echoes and self._echoes[0][1] < now:
            self._echoes.popleft()
        if self._echoes and self._echoes[0][0] == word:
            self._echoes.popleft()
            return True
        return False


def sent_before(file: str | os.PathLike[str]) -> tuple[tuple[Sent, ...], int]:
    """What a file says of the last errand in it: what went out, and how many were asked for.

    A last line that is cut off counts as not written. Raises OSError if it cannot be read.
    """
    sent: list[Sent] = []
    asked = 0
    for event in _events(Path(file).read_text(encoding="utf-8")):
        if "asked" in event:
            sent, asked = [], len(event["asked"])
        elif "sending" in event:
            sent.append(Sent(event["code"], event["at_s"], sure=False))
        elif "sent" in event and sent:
            sent[-1] = replace(sent[-1], sure=True)
    return tuple(sent), asked


def _events(text: str) -> Iterator[dict[str, Any]]:
    for line in text.splitlines():
        try:
            event = json.loads(line)
        except ValueError:
            continue
        if isinstance(event, dict):
            yield event
