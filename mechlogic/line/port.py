"""The serial port: what it is asked for, what it does instead, and what can go wrong with it.

A port takes whole bytes. Up to eight bits go through it, the parity bit among them, worked out by
:mod:`~mechlogic.line.framing`, so that a wrong one is heard and not thrown away. Needs pyserial
(``pip install mechlogic[line]``).
"""

import errno
import os
from collections.abc import Iterator
from typing import Any

from mechlogic.line.framing import Framing, LineError

WAIT_S = 0.05
"""How long a reading waits for a character, in seconds; an abort is noticed as often."""

STUCK_S = 2.0
"""How long a port may refuse to take a character, in seconds, beyond the time of a character."""


def ports() -> list[tuple[str, str]]:
    """(words for people, name) of each serial port of this computer; none without pyserial."""
    try:
        from serial.tools import list_ports
    except ImportError:
        return []
    return [
        (f"{found.device} ({found.description})", found.device) for found in list_ports.comports()
    ]


class SerialPort:
    """A serial port, opened for this program alone.

    Args:
        name: As the system calls it: ``/dev/ttyUSB0``, ``COM3``.
        framing: What goes through it.

    Attributes:
        instead: What the port does in place of what it was asked for, in sentences.

    Raises:
        LineError: If it cannot be opened so.
    """

    def __init__(self, name: str, framing: Framing) -> None:
        try:
            import serial
        except ImportError as error:
            raise LineError(
                "pyserial is not installed", "Install it: pip install 'mechlogic[line]'"
            ) from error
        self.name, self.instead = name, tuple(_instead(framing))
        n_bits = framing.rate.bits
        self._nine = n_bits == 9  # eight bits and parity: the port itself must make the parity
        if self._nine and framing.inverted:
            raise LineError("nine inverted bits", "Choose no parity, or an adapter that inverts")
        try:
            self._serial: Any = serial.Serial(
                name,
                round(framing.baud),
                bytesize=min(n_bits, 8),
                parity=framing.parity[0].upper() if self._nine else "N",
                stopbits=_port_stop(framing),
                timeout=WAIT_S,
                write_timeout=STUCK_S + framing.character_s,
                exclusive=True if os.name == "posix" else None,
            )
        except (OSError, ValueError) as error:
            raise _refusal(name, error) from error
        self.instead += tuple(_granted(self._serial, min(n_bits, 8)))
        self._marked = _mark_errors(self._serial)
        self._rest = b""

    def write(self, word: int) -> None:
        """Hand one character over; returns when the port has taken it.

        Raises:
            LineError: If the port has gone, or takes nothing.
        """
        try:
            self._serial.write(bytes((word & 255,)))
        except OSError as error:  # pyserial's errors are of this kind
            raise _refusal(self.name, error) from error

    def read(self) -> tuple[tuple[int, bool], ...]:
        """What has come in: (word, whether its stop was right).

        Raises:
            LineError: If the port has gone.
        """
        try:
            data = self._rest + self._serial.read(max(1, self._serial.in_waiting))
        except (OSError, TypeError) as error:  # TypeError: closed by another thread meanwhile
            raise _refusal(self.name, error) from error
        if not self._marked:
            return tuple((word, True) for word in data)
        found, self._rest = unmarked(data)
        return found

    def close(self) -> None:
        """Give the port free."""
        self._serial.close()


def _port_stop(framing: Framing) -> float:
    """What a port is asked for: 1, 1.5 (which ports know for five bits only) or 2 units."""
    if framing.stop_units <= 1:
        return 1
    return 1.5 if framing.rate.bits == 5 and framing.stop_units <= 1.5 else 2


def _instead(framing: Framing) -> Iterator[str]:
    """What a port does in place of what it is asked for."""
    if (baud := round(framing.baud)) != framing.baud:
        off = baud / framing.baud - 1
        yield f"A port counts whole bauds: {baud} in place of {framing.baud:g}, {off:+.1%}."
    if (stop := _port_stop(framing)) < framing.stop_units:
        yield f"A port's stop lasts {stop:g} units; the rest of it is waited for."
    elif stop > framing.stop_units:
        yield f"A port's stop lasts {stop:g} units in place of {framing.stop_units:g}."


def _granted(serial: Any, bits: int) -> Iterator[str]:
    """Whether the system says that the port works with another number of bits."""
    try:
        import termios

        size = termios.tcgetattr(serial.fd)[2] & termios.CSIZE
    except (ImportError, OSError):  # not a system that can tell
        return
    granted = {termios.CS5: 5, termios.CS6: 6, termios.CS7: 7, termios.CS8: 8}[size]
    if granted != bits:
        yield (
            f"The port works with {granted} bits in place of {bits}. On a real line the machine "
            "will misread every character: use an adapter that can do it."
        )


def _mark_errors(serial: Any) -> bool:
    """Have characters with a wrong stop marked; False on a system that cannot.

    PARMRK (POSIX termios): 255 0 c stands for c with a wrong stop or parity, 255 255 for 255.
    """
    try:
        import termios

        settings = termios.tcgetattr(serial.fd)
        settings[0] = settings[0] & ~(termios.IGNPAR | termios.IGNBRK) | termios.PARMRK
        settings[0] |= termios.INPCK
        termios.tcsetattr(serial.fd, termios.TCSANOW, settings)
        return bool(termios.tcgetattr(serial.fd)[0] & termios.PARMRK)
    except (ImportError, OSError):
        return False


def unmarked(data: bytes) -> tuple[tuple[tuple[int, bool], ...], bytes]:
    """The characters in marked bytes, each with whether its stop was right; and unfinished ones."""
    found, at = [], 0
    while at < len(data):
        if data[at] != 255:
            found.append((data[at], True))
            at += 1
        elif data[at + 1 : at + 2] == b"\xff":
            found.append((255, True))
            at += 2
        elif len(data) > at + 2:
            found.append((data[at + 2], False))
            at += 3
        else:
            break
    return tuple(found), data[at:]


def _refusal(name: str, error: Exception) -> LineError:
    """What went wrong with a port, in plain words."""
    text, code = str(error), getattr(error, "errno", None)
    known = {
        errno.EACCES: (
            f"you may not use {name}",
            "Ask for the right to serial ports; on Linux, join the group that owns it (dialout)",
        ),
        errno.ENOENT: (f"there is no port {name}", "Plug the adapter in, and look at the list"),
    }
    if code in known:
        return LineError(*known[code])
    if "exclusively lock" in text or code in (errno.EBUSY, errno.EAGAIN):
        return LineError(f"another program uses {name}", "Close that program, then open it again")
    if "timeout" in text.lower():
        return LineError(f"{name} takes no more characters", "Look at the adapter and the loop")
    if isinstance(error, ValueError):
        return LineError(f"{name} cannot be set so ({text})", "Choose another speed or units")
    return LineError(f"{name} has gone ({text})", "Plug the adapter in again and open the port")
