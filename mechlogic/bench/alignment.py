"""Two lines of unequal length, what was sent and what was printed, laid side by side.

A machine may drop a character or print one twice, and whoever writes a line down may too.  The
lines are then brought to one length with a filler wherever one of them has nothing.  The proposal
is shown and can be edited before it becomes a log.
"""

from collections.abc import Sequence
from math import inf

from mechlogic.model.codes import is_function
from mechlogic.model.machine import Machine
from mechlogic.model.seen import NOTHING, UNREADABLE, UNSEEN, glyph_of

FILLER = "·"
"""Stands where a line has nothing: under a dropped character, or above one printed too many."""

MISPRINT, MISSING = 5, 7
"""What a misprint costs, and what a filler costs: two misprints side by side are believed sooner
than a character dropped and another printed too many."""

LONGEST_LINE = 2_000

SMUDGE = "~"
"""Stands for a print that cannot be read; no machine of ours has it as type."""


def align(sent: str, printed: str) -> tuple[str, str]:
    """Bring two lines to one length with as few misprints and fillers as can be.

    This is the edit distance by dynamic programming (R. Wagner, M. Fischer, Journal of the ACM
    21, 1974).  Of equally good alignments the one with its fillers furthest to the right is given.

    Args:
        sent: What was sent.
        printed: What was printed.

    Returns:
        The two lines, of equal length, with :data:`FILLER` in them.

    Raises:
        ValueError: If a line is longer than :data:`LONGEST_LINE` or holds the filler already.
    """
    for line in (sent, printed):
        if len(line) > LONGEST_LINE:
            raise ValueError(f"a line has {len(line)} characters. Cut it at {LONGEST_LINE}.")
        if FILLER in line:
            raise ValueError(f"a line holds the filler {FILLER!r} already. Take it out first.")
    cost = _costs(sent, printed)
    above, below = [], []
    i, j = len(sent), len(printed)
    while i or j:
        if j and (not i or cost[i][j] == cost[i][j - 1] + MISSING):
            j -= 1
            above.append(FILLER)
            below.append(printed[j])
        elif i and cost[i][j] == cost[i - 1][j] + MISSING:
            i -= 1
            above.append(sent[i])
            below.append(FILLER)
        else:
            i, j = i - 1, j - 1
            above.append(sent[i])
            below.append(printed[j])
    return "".join(reversed(above)), "".join(reversed(below))


def _costs(sent: str, printed: str) -> Sequence[Sequence[int]]:
    """Least cost of every start of one line against every start of the other."""
    cost = [[MISSING * j for j in range(len(printed) + 1)]]
    for i, above in enumerate(sent, start=1):
        row = [MISSING * i]
        for j, below in enumerate(printed, start=1):
            together = cost[i - 1][j - 1] + (0 if above == below else MISPRINT)
            row.append(min(together, cost[i - 1][j] + MISSING, row[-1] + MISSING))
        cost.append(row)
    return cost


# -- what stands on the paper, under all that was sent ---------------------------------------------


def place_of(machine: Machine, code: int, good: str) -> str:
    """What a character should leave on the paper: its type, a blank for a space, '' for nothing."""
    glyph = glyph_of(good)
    if glyph in (NOTHING, UNREADABLE) or is_function(glyph):
        return " " if machine.code.name(code) == "SP" else ""
    return glyph


def laid_under(good: Sequence[str], place: Sequence[str], paper: str) -> list[str]:
    """What the paper shows for each character sent, with as little wrong about it as can be.

    A character sent has one place on the paper or none; every place on the paper has a character.
    What a machine did besides printing cannot be seen there: it is unseen, unless all is well.

    Args:
        good: For each character sent, what a good machine does, as a log has it.
        place: For each what it should leave on the paper, see :func:`place_of`.
        paper: What stands there, in one line: a blank for a place that stayed empty,
            :data:`SMUDGE` for what cannot be read; at most as many as were sent.
    """
    least = [[0] + [inf] * len(paper)]  # of the first n sent and the first k on the paper
    for own in place:
        row = [cost + MISSING * bool(own) for cost in least[-1]]
        for k, character in enumerate(paper):
            wrong = character != own if own else 2
            row[k + 1] = min(row[k + 1], least[-1][k] + MISPRINT * wrong)
        least.append(row)
    found, k = list(good), len(paper)
    for n in reversed(range(len(good))):
        if least[n + 1][k] == least[n][k] + MISSING * bool(place[n]):
            found[n] = _read(good[n], place[n], " " if place[n] else "")
        else:
            k -= 1
            found[n] = _read(good[n], place[n], paper[k])
    return found


def _read(good: str, own: str, there: str) -> str:
    """What a place shows of one character: what stands there, beside what should."""
    if there == SMUDGE:
        return UNREADABLE
    if there == own and (own or not is_function(good)):
        return good
    if is_function(good) or "+" in good[1:]:
        return UNSEEN
    return there if there.strip() else NOTHING
