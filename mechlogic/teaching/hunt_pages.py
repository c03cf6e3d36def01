"""The page reading of a hunt for a hidden fault: budget, findings and the replay, as HTML.

Every text that a person can have written is escaped here.  No number on these pages is in bits:
they speak of possible causes left and of the doubt that was removed.
"""

from collections.abc import Sequence
from html import escape
from pathlib import Path

from mechlogic.bench.story import hypothesis_label
from mechlogic.explaining.words import capitalised, percent
from mechlogic.model.codes import Code, CodeError
from mechlogic.teaching.sealed import HINT, Declaration, Finding, Hunt, Move

STYLE = (Path(__file__).parent / "hunt_pages.css").read_text(encoding="utf-8")
"""The style sheet for every piece made here; it needs that of :mod:`mechlogic.bench.pages` too."""

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
    return (
        f'<p class="mh-budget"><progress max="{whole:.3f}" value="{min(spent, whole):.3f}" '
        f'aria-label="minutes spent of the budget"></progress> <span>{escape(says)}</span></p>'
    )


def findings(hunt: Hunt) -> str:
    """What was done and found and what it cost, the latest first."""
    if not hunt.findings:
        return '<p class="ml-quiet">Nothing has been tried yet.</p>'
    numbered = reversed(list(enumerate(hunt.findings, start=1)))
    rows = "".join(
        f'<tr><td>{number}</td><th scope="row">{escape(one.did)}</th>'
        f"<td>{escape(one.found)}</td><td>{number_of(one.minutes)}</td></tr>"
        for number, one in numbered
    )
    return (
        '<table class="ml-splits mh-list"><caption>The latest stands first.</caption>'
        '<tr><th scope="col">no.</th><th scope="col">done</th><th scope="col">found</th>'
        f'<th scope="col">minutes</th></tr>{rows}</table>'
    )


def said(finding: Finding) -> str:
    """One finding as a sentence to be read out."""
    text = f"{finding.did}: {finding.found}. {capitalised(minutes(finding.minutes))}."
    return f'<p role="status">{escape(text)}</p>'


def truth(declaration: Declaration) -> str:
    """What was wrong, and what of it was put right."""
    machine, left = declaration.hunt.machine, declaration.left
    items = "".join(
        f"<li>{'✗ still there' if fault in left else '✓ repaired'}: "
        f"<b>{escape(hypothesis_label(machine, (fault,)))}</b></li>"
        for fault in declaration.hunt.sealed.faults
    )
    head = "A fault remains." if left else "The machine is repaired."
    return (
        f'<p class="ml-next" role="status">{head} This was wrong:</p>'
        f'<ul class="mh-truth">{items}</ul>'
    )


def score(declaration: Declaration, library: Declaration) -> str:
    """The points, and what the library needed.

    Args:
        declaration: The end of the hunt.
        library: How the library fared with the same fault.
    """
    took = minutes(library.hunt.minutes)
    outcome = f"repaired everything in {took}" if not library.left else f"gave up after {took}"
    steps = "".join(
        f"<li>{escape(one.did)}: {escape(one.found)} ({minutes(one.minutes)})</li>"
        for one in library.hunt.findings
    )
    return (
        f'<p class="ml-summary" role="status">{declaration.points} of 100 points; you took '
        f"{minutes(declaration.hunt.minutes)}.</p><details><summary>The library {outcome}. "
        f"See what it did</summary><ol>{steps}</ol></details>"
    )


def replayed(moves: Sequence[Move]) -> str:
    """The hunt again, check by check: possible causes and doubt before and after, what was wasted.

    Args:
        moves: What :func:`mechlogic.teaching.sealed.replay` gives.
    """
    if not moves:
        return "<p>Nothing was tried, so there is nothing to replay.</p>"
    rows = "".join(_move_row(number, move) for number, move in enumerate(moves, start=1))
    wasted = sum(move.wasted for move in moves)
    lost = sum(move.finding.minutes for move in moves if move.wasted)
    sums = f"{wasted} of {len(moves)} told almost nothing and cost {minutes(lost)}."
    return (
        '<table class="ml-splits mh-replay"><caption>Check by check. '
        f"{sums if wasted else 'None was wasted.'}</caption><thead><tr>"
        '<th scope="col">no.</th><th scope="col">done</th><th scope="col">minutes</th>'
        '<th scope="col">possible causes before</th><th scope="col">after</th>'
        '<th scope="col">doubt removed</th><th scope="col">what the library would have done</th>'
        f"</tr></thead><tbody>{rows}</tbody></table>"
    )


def _move_row(number: int, move: Move) -> str:
    mark = '<span class="mh-wasted">✗ wasted</span> ' if move.wasted else ""
    better = "the same" if move.instead.agrees(move.finding) else move.instead.what
    return (
        f'<tr><td>{number}</td><th scope="row">{mark}{escape(move.finding.did)}</th>'
        f"<td>{number_of(move.finding.minutes)}</td><td>{move.suspects_before}</td>"
        f"<td>{move.suspects_after}</td><td>{escape(doubt_in_words(move))}</td>"
        f"<td>{escape(better)}</td></tr>"
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
