"""From what went over the line to a log: the paper under it, or the keys that were pressed."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from mechlogic.bench.alignment import laid_under, place_of
from mechlogic.line.framing import Framing, LineError
from mechlogic.line.session import Heard, Sent
from mechlogic.model.logbook import (
    AT_ONCE,
    FORGOTTEN,
    NOT_NOTED,
    NOTHING,
    PAUSE,
    UNREADABLE,
    Entry,
    Logbook,
)
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import Line
from mechlogic.model.steps import good_text


def log_of(
    machine: Machine, framing: Framing, sent: Sequence[Sent], paper: str | None, source: str = ""
) -> Logbook:
    """The log of what was sent, and of what stands on the paper.

    What may not have gone out is left out.

    Args:
        machine: The machine that printed.
        framing: The line.
        sent: What went out.
        paper: What stands on the paper, from the first character sent on, as ``laid_under`` has it;
            line ends do not count. None if all of it is as it should be.
        source: Where the log comes from, for messages.

    Raises:
        LineError: If the paper holds more than was sent.
    """
    went = [each for each in sent if each.sure]
    good = good_text(machine, [each.code for each in went])
    if paper is None:
        return timed_log(machine, framing, went, good, source)
    typed = paper.replace("\r", "").replace("\n", "")
    if len(typed) > len(good):
        raise LineError(
            f"the paper shows {len(typed)} characters, and {len(good)} were sent",
            "Type only what belongs to this errand, from its first character on",
        )
    place = [place_of(machine, each.code, seen) for each, seen in zip(went, good, strict=True)]
    return timed_log(machine, framing, went, laid_under(good, place, typed), source)


def timed_log(
    machine: Machine,
    framing: Framing,
    sent: Sequence[Sent],
    prints: Sequence[str],
    source: str = "",
) -> Logbook:
    """The log of what was sent, and of what was seen for each character, as an entry has it.

    An entry counts as made at speed if its character followed the one before within
    :attr:`Framing.home_again_s`; after a longer pause slow parts are home, as when the shaft is
    turned by hand.
    """
    pairs = zip(sent, prints, strict=True)
    entries = [Entry(each.code, seen, gap=AT_ONCE) for each, seen in pairs]
    for n, (before, each) in enumerate(pairwise(sent), start=1):
        if (since := each.at_s - before.at_s) >= framing.home_again_s:
            note = f"{since:.1f} s after the one before"
            entries[n] = replace(entries[n], driven="hand", gap=PAUSE, note=note)
    entries[:1] = [replace(entry, gap=FORGOTTEN) for entry in entries[:1]]
    return Logbook(tuple(entries), machine.code, source)


def heard_as_sent(heard: Sequence[Heard]) -> tuple[Sent, ...]:
    """What a keyboard sent, as what the printer on the same line was sent: for :func:`log_of`."""
    first = heard[0].at_s if heard else 0.0
    return tuple(Sent(each.code, each.at_s - first) for each in heard)


def keyboard_log(
    keyboard: Machine, pressed: Sequence[int], heard: Sequence[Heard], source: str = ""
) -> Logbook:
    """The log of a keyboard: the keys that were pressed, and what each put on the line.

    What has a wrong parity or stop is unreadable; its bits stand in the note.

    Args:
        keyboard: A machine whose output is a line.
        pressed: The codes of the keys, in the order in which they were pressed.
        heard: What came in.
        source: Where the log comes from.

    Raises:
        LineError: If the machine is no keyboard, or as many keys as characters are not given.
    """
    line = keyboard.output
    if not isinstance(line, Line):
        raise LineError(f"{keyboard.title} sends nothing", "Put a keyboard on the bench")
    if len(pressed) != len(heard):
        raise LineError(
            f"{len(pressed)} keys are noted, and {len(heard)} characters were heard",
            "Note one key for each; if one key sent two or none, log that key by itself",
        )
    entries = []
    for n, (key, each) in enumerate(zip(pressed, heard, strict=True)):
        note = described(each, line.code.units)
        entry = Entry(key, UNREADABLE, gap=NOT_NOTED if n else FORGOTTEN, note=note)
        if each.parity_right and each.stop_right and each.code < len(line.code):
            character = line.code.character(each.code)
            name = character if character.isprintable() else line.code.name(each.code)
            entry = replace(entry, printed=NOTHING if character == " " else name, note="")
        entries.append(entry)
    return Logbook(tuple(entries), keyboard.code, source)


def described(heard: Heard, units: int) -> str:
    """A character that came in, bit by bit, b1 first, and what was wrong with it."""
    bits = "".join(str(heard.code >> n & 1) for n in range(units))
    rights = {"parity": heard.parity_right, "stop": heard.stop_right}
    wrong = [word for word, right in rights.items() if not right]
    return f"bits {bits}" + (f", wrong {' and '.join(wrong)}" if wrong else "")
