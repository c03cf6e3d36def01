"""After the repair: a text was sent, something stands on the paper, and so it passed or failed.

A text is written as lines of characters, or, where something in it does not print, as the names of
all that is sent: ``K 8 LF E R``.  The paper is written as it is, line by line.
"""

from collections.abc import Sequence
from datetime import date
from itertools import zip_longest

from mechlogic.acceptance.testcards import Card, laid_out
from mechlogic.bench.alignment import LONGEST_LINE, laid_under, place_of
from mechlogic.bench.evidence import Evidence
from mechlogic.bench.log_editor import LogEditor, LogRefused
from mechlogic.bench.record import MAX_SENT, Acceptance
from mechlogic.model.codes import STEP, Code, CodeError
from mechlogic.model.logbook import NOTHING, UNSEEN, Entry, Logbook
from mechlogic.model.machine import Machine
from mechlogic.model.steps import good_text

FIVE = 5
"""Characters in a group: so many are kept in mind at a glance (common practice, no source)."""


def text_of(card: Card) -> str:
    """A card's text as :func:`judged` takes it; names stand in groups of five."""
    name = card.machine.code.name
    if all(len(name(code)) == 1 for code in card.text):
        lines = ("".join(n for n in map(name, line) if len(n) == 1) for line in card.lines)
        return "\n".join(lines)
    return "\n".join(
        "  ".join(map(" ".join, in_fives(list(map(name, line))))) for line in card.lines
    )


def in_fives(items: Sequence[str]) -> list[Sequence[str]]:
    """The items in groups of five, the last of them what is left."""
    return [items[n : n + FIVE] for n in range(0, len(items), FIVE)]


def judged(
    machine: Machine, on: date, sent: str, printed: str, remark: str = ""
) -> tuple[Acceptance, LogEditor]:
    """A test that passes or fails by what was printed, and its log.

    It passes if a good machine leaves the same on the paper, character by character.  Of one that
    fails the log goes on at the bench; what is left out, too much or impossible is questioned.
    It is empty if more stands on the paper than was sent.

    Args:
        machine: The machine.
        on: The day.
        sent: The text, as :func:`text_of` gives it; line ends between lines of characters were not
            sent.
        printed: What stands on the paper, in the same lines; blanks that begin a line may be left
            out, and ``~`` stands for what cannot be read.
        remark: Anything else.

    Raises:
        ValueError: If nothing was printed, or the lines do not belong together.
    """
    if not sent.strip():
        raise ValueError("sent: write the text that was sent")
    if not printed.strip():
        raise ValueError("printed: type what stands on the paper, or nothing")
    for what, text in (("sent", sent), ("printed", printed)):
        if len(text) > MAX_SENT:
            raise ValueError(f"{what}: {len(text)} characters; send at most {MAX_SENT}")
    codes = _by_name(machine.code, sent)
    if len(codes) > LONGEST_LINE:
        raise ValueError(f"sent: {len(codes)} names; send at most {LONGEST_LINE} at a time")
    if codes:
        good, log = _read_off(machine, codes, printed)
    else:
        good, log = _line_by_line(machine, sent, printed)
    return Acceptance(on, sent, "passed" if good else "failed", remark, printed), log


def _by_name(code: Code, text: str) -> tuple[int, ...]:
    """The codes of a text that consists of names, one of them of several letters; else none."""
    names = text.split()
    try:
        return tuple(map(code.parse, names)) if max(map(len, names)) > 1 else ()
    except CodeError:
        return ()


def _line_by_line(machine: Machine, sent: str, printed: str) -> tuple[bool, LogEditor]:
    try:
        log, pasted = LogEditor(machine).paste(sent, printed)
    except LogRefused as error:
        raise ValueError(f"printed: {error}") from None
    if pasted.refused:
        raise ValueError(f"printed: {pasted.refused[0]}")
    return not log.questions and not Evidence(machine, log.log).misprints, log


def _read_off(machine: Machine, codes: Sequence[int], printed: str) -> tuple[bool, LogEditor]:
    """Whether the paper is as it should be, and the log of what stands there."""
    good = good_text(machine, codes)
    due = list(laid_out(machine, codes, good))
    typed = [] if printed.strip() == NOTHING else printed.rstrip().splitlines()
    rows, paper = [], ""
    for should, typed_row in zip_longest(due, typed, fillvalue=""):
        begins = len(should) - len(should.lstrip())  # a line feed alone leaves such a step
        stands = typed_row if typed_row[:begins].isspace() else " " * begins + typed_row
        rows.append(stands.rstrip())
        fits = len(rows[-1]) <= len(should)
        paper += rows[-1].ljust(len(should))[begins:] if fits else rows[-1].strip()
    places = [_place(machine, code, seen) for code, seen in zip(codes, good, strict=True)]
    if len(paper) > len(codes):  # the carriage went astray: no print can be told from another
        return False, LogEditor(machine)
    prints = laid_under(good, places, paper)
    as_long = len(typed) == len(due) and all(
        len(row) <= len(line) for row, line in zip(rows, due, strict=True)
    )
    moved = any(
        not place and seen not in (well, UNSEEN)
        for place, seen, well in zip(places, prints, good, strict=True)
    )
    log = Logbook(tuple(map(Entry, codes, prints)), machine.code)
    return rows == due, LogEditor(machine).append(log, sure=as_long and not moved)


def _place(machine: Machine, code: int, good: str) -> str:
    """What should stand on the paper; where the machine moves the carriage, another one prints."""
    character = machine.code.character(code)
    if STEP in good.split("+") and character.isprintable():
        return character
    return place_of(machine, code, good)
