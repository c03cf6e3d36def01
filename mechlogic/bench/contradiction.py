"""Why nothing explains a log: the fewest entries that cannot stand together.

Each hypothesis that was tried leaves some entries unexplained.  A set of entries that holds one
of these for *every* hypothesis cannot be explained by any of them, and a smallest such set is the
shortest answer to "what is contradictory here?".  It is a smallest cover, found exactly.
"""

from dataclasses import dataclass

from mechlogic.bench.diagnosis import Diagnosis
from mechlogic.helpers.covers import smallest_cover
from mechlogic.model.behaviour import Behaviour


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

    None too if a hypothesis was tried that links entries to one another, such as a sluggish part
    behind another: which of its entries is the wrong one is then a matter of choice.
    """
    if diagnosis.suspects or not diagnosis.ranked:
        return None
    accounts = [account for suspect in diagnosis.ranked for account in suspect.accounts]
    if not all(Behaviour(diagnosis.machine, account.faults).settled for account in accounts):
        return None
    cover = smallest_cover({account.faults: frozenset(account.misfits) for account in accounts})
    return Contradiction(tuple(sorted(cover.chosen)), cover.proved)
