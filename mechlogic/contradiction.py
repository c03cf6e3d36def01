"""Why nothing explains a log: the fewest entries that cannot stand together.

Each hypothesis that was tried leaves some entries unexplained.  A set of entries that holds one
of these for *every* hypothesis cannot be explained by any of them, and a smallest such set is the
shortest answer to "what is contradictory here?".  It is a smallest cover, found exactly.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from mechlogic.behaviour import Behaviour
from mechlogic.covers import smallest_cover
from mechlogic.diagnosis import Diagnosis
from mechlogic.evidence import Account


@dataclass(frozen=True)
class Contradiction:
    """Entries that no hypothesis that was tried can explain all together.

    Attributes:
        entries: The entries, counted from 0; any one of them left out, the rest can be explained.
        fewest: Whether no smaller set is contradictory.
    """

    entries: tuple[int, ...]
    fewest: bool


def contradiction(diagnosis: Diagnosis) -> Contradiction | None:
    """The fewest entries that cannot stand together; None if some suspect explains them all.

    Hypotheses that link entries to one another (a sluggish part behind another) are taken at
    their fewest misfits; with such a hypothesis among those tried the set is contradictory still,
    but a smaller one might be, and it is not called the fewest.
    """
    if diagnosis.suspects or not diagnosis.ranked:
        return None
    accounts = [account for suspect in diagnosis.ranked for account in suspect.accounts]
    table = {account.faults: frozenset(account.misfits) for account in accounts}
    cover = smallest_cover(table)
    independent = all(_entries_apart(diagnosis, accounts))
    return Contradiction(tuple(sorted(cover.chosen)), cover.proved and independent)


def _entries_apart(diagnosis: Diagnosis, accounts: Iterable[Account]) -> Iterable[bool]:
    """Whether each hypothesis explains or fails each entry by itself."""
    return (Behaviour(diagnosis.machine, account.faults).settled for account in accounts)
