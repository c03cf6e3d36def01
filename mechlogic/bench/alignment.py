"""Two lines of unequal length, what was sent and what was printed, laid side by side.

A machine may drop a character or print one twice, and whoever writes a line down may too.  The
lines are then brought to one length with a filler wherever one of them has nothing.  The proposal
is shown and can be edited before it becomes a log.
"""

from collections.abc import Sequence

FILLER = "·"
"""Stands where a line has nothing: under a dropped character, or above one printed too many."""

MISPRINT, MISSING = 5, 7
"""What a misprint costs, and what a filler costs: two misprints side by side are believed sooner
than a character dropped and another printed too many."""

LONGEST_LINE = 2_000


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
