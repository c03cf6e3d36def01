"""The page reading of a hunt for a hidden fault: budget, findings and the replay, as HTML.

The HTML stands in ``templates/hunt.html``, which escapes every text.  No number on these pages is
in bits: they speak of possible causes left and of the doubt that was removed.
"""

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from mechlogic.bench.story import hypothesis_label
from mechlogic.explaining.words import capitalised, percent
from mechlogic.helpers.templates import piece
from mechlogic.model.codes import Code, CodeError
from mechlogic.teaching.sealed import HINT, Declaration, Finding, Hunt, Move

STYLE = (Path(__file__).parent / "hunt_pages.css").read_text(encoding="utf-8")
"""The style sheet for every piece made here; it needs that of :mod:`mechlogic.bench.pages` too."""

_piece = partial(piece, "hunt.html")

MOST_TYPED = 200
"""How many characters are sent at once."""


def typed_codes(text: str, code: Code) -> tuple[int, ...]:
    """The codes of a text as a person types it: ``AB``, ``A CR B``, ``4/1 SP``.

    What stands between blanks is one character by name or position, if it is the name of one, and
    otherwise a run of characters, each of them itself.

    Args:
        text: The text.
        code: The code that it is sent in.

    Raises:
        CodeError: If it holds something that cannot be sent.
        ValueError: If it is empty or far too long.
    """
    found: list[int] = []
    for word in text.split():
        try:
            found.append(code.parse(word))
        except CodeError as error:
            if len(word) == 1 or "/" in word:
                raise
            try:
                found += [code.code(character) for character in word]
            except CodeError:
                raise error from None
    if not found:
        raise ValueError("nothing is written there. Write a character or more, or SP for a blank.")
    if len(found) > MOST_TYPED:
        raise ValueError(f"these are {len(found)} characters. Send at most {MOST_TYPED} at once.")
    return tuple(found)


def minutes(number: float) -> str:
    """A time in words: ``1 minute``, ``2.4 minutes``."""
    said = number_of(number)
    return f"{said} minute{'' if said == '1' else 's'}"


def number_of(amount: float) -> str:
    """A number of minutes, to a tenth."""
    return f"{round(amount, 1):g}"


def budget(hunt: Hunt) -> str:
    """The minutes spent and left, in words and as a bar."""
    spent, whole = hunt.minutes, hunt.sealed.minutes
    left = f"{minutes(hunt.left)} left" if hunt.left >= 0 else f"overspent by {minutes(-hunt.left)}"
    says = f"{number_of(spent)} of {minutes(whole)} spent, {left}"
    return _piece("budget", min(spent, whole), whole, says)


def findings(hunt: Hunt) -> str:
    """What was done and found and what it cost, the latest first."""
    return _piece("findings", hunt.findings, number_of)


def said(finding: Finding) -> str:
    """One finding as a sentence to be read out."""
    text = f"{finding.did}: {finding.found}. {capitalised(minutes(finding.minutes))}."
    return _piece("said", text)


def truth(declaration: Declaration) -> str:
    """What was wrong, and what of it was put right."""
    machine, left = declaration.hunt.machine, declaration.left
    faults = [
        (hypothesis_label(machine, (fault,)), fault in left)
        for fault in declaration.hunt.sealed.faults
    ]
    return _piece("truth", faults, bool(left))


def score(declaration: Declaration, library: Declaration) -> str:
    """The points, and what the library needed.

    Args:
        declaration: The end of the hunt.
        library: How the library fared with the same fault.
    """
    took = minutes(declaration.hunt.minutes)
    return _piece("score", declaration.points, library, took, minutes)


def replayed(moves: Sequence[Move]) -> str:
    """The hunt again, check by check: possible causes and doubt before and after, what was wasted.

    Args:
        moves: What :func:`mechlogic.teaching.sealed.replay` gives.
    """
    wasted = sum(move.wasted for move in moves)
    lost = sum(move.finding.minutes for move in moves if move.wasted)
    sums = f"{wasted} of {len(moves)} told almost nothing and cost {minutes(lost)}."
    return _piece(
        "replayed", moves, sums if wasted else "None was wasted.", number_of, doubt_in_words
    )


def doubt_in_words(move: Move) -> str:
    """What a check did to the doubt, for a layman."""
    if move.finding.kind == HINT:
        return "a hint"
    if move.finding.mended:
        return "repaired; the search starts again"
    if move.removed >= 0.005:
        return percent(move.removed)
    if move.wasted:
        return "none"
    if move.removed > -0.005:
        return "none, but other causes are likely now"
    return "it grew: the likely cause was ruled out"
