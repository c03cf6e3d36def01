"""Repairs made up by chance: a machine with its faults, and somebody who notes what it prints.

The machine is the tests' own simulator, so what is diagnosed here was never worked out by the
library.  Only the rates at which an entry is misread or smudged are the library's stated ones.
"""

import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import sqrt

from brute_force import NOTHING, UNREADABLE
from plain_runs import SALTMERE, plain

import mechlogic
from mechlogic import Entry, Logbook
from mechlogic.bench.advice import next_check, readable_codes
from mechlogic.bench.diagnosis import Diagnosis, diagnose, every_single, signature
from mechlogic.bench.evidence import MISREADING, SMUDGE, Evidence
from mechlogic.bench.search import look_further, minimal_sets
from mechlogic.model.faults import Hypothesis, iter_pairs

MACHINE = mechlogic.load("saltmere")
CODES = readable_codes(MACHINE)
SEEN = tuple(sorted({*(MACHINE.good_print(code) for code in CODES), NOTHING, UNREADABLE}))
"""All that can be noted of a print."""


class Desk:
    """The Saltmere printer with some faults, and the log that somebody keeps of it.

    Attributes:
        faults: What is wrong with it.
        log: What was sent and noted so far, all at speed.
        misread: The entries, counted from 0, that are not as printed.
    """

    def __init__(
        self,
        faults: Hypothesis,
        rng: random.Random,
        misreading: float = MISREADING,
        smudge: float = SMUDGE,
    ) -> None:
        self.faults, self.rng = faults, rng
        self.misreading, self.smudge = misreading, smudge
        self.log, self.misread = Logbook(), []
        self._state = rng.choice(SALTMERE.states(plain(faults)))

    def type(self, codes: Iterable[int]) -> None:
        for code in codes:
            runs = SALTMERE.step(plain(self.faults), code, False, self._state)
            self._state, printed = self.rng.choice(runs)
            self.log = self.log.adding(Entry(code, self._noted(printed)))

    def _noted(self, printed: str) -> str:
        chance = self.rng.random()
        if chance < self.misreading:
            self.misread.append(len(self.log))
            return self.rng.choice([other for other in SEEN if other != printed])
        if chance < self.misreading + self.smudge and printed != NOTHING:
            return UNREADABLE
        return printed


def text(rng: random.Random, length: int) -> list[int]:
    """Readable characters at random."""
    return rng.choices(CODES, k=length)


# -- calibration -----------------------------------------------------------------------------------

EDGES = (0.0, 0.01, *(tenth / 10 for tenth in range(1, 11)))
"""Bins of stated probability.  The first tenth is split: most suspects have next to none."""

Claim = tuple[float, bool]
"""The stated probability of one suspect, and whether it was the true one."""


@dataclass(frozen=True)
class Bin:
    """Suspects of about the same stated probability.

    low, high  the bounds of the stated probability; the upper one belongs to the next bin
    n          how many suspects
    stated     their mean stated probability
    true       how many of them were the true one
    """

    low: float
    high: float
    n: int
    stated: float
    true: int


def claims_of_repair(rng: random.Random, weight: Callable[[Hypothesis], float]) -> list[Claim]:
    """One repair: a fault drawn by its weight, a log of 6 to 20 characters, every suspect.

    The last claim is that it is something that is not on the list; it never is.
    """
    known = every_single(MACHINE)
    (true,) = rng.choices(known, [weight(faults) for faults in known])
    desk = Desk(true, rng)
    desk.type(text(rng, rng.randint(6, 20)))
    found = diagnose(MACHINE, desk.log)
    claims = [(suspect.probability, true in suspect.members) for suspect in found.ranked]
    return [*claims, (found.off_list, False)]


def binned(claims: Iterable[Claim]) -> list[Bin]:
    """The claims by their stated probability; empty bins are left out."""
    bins: list[list[Claim]] = [[] for _ in EDGES[1:]]
    for stated, true in claims:
        number = sum(stated >= edge for edge in EDGES[1:-1])
        bins[number].append((stated, true))
    return [
        Bin(
            low,
            high,
            len(held),
            sum(stated for stated, _ in held) / len(held),
            sum(true for _, true in held),
        )
        for low, high, held in zip(EDGES, EDGES[1:], bins, strict=False)
        if held
    ]


def expected_error(bins: Sequence[Bin]) -> float:
    """Expected calibration error: how far stated and true share lie apart, over all suspects."""
    return sum(abs(b.true - b.n * b.stated) for b in bins) / sum(b.n for b in bins)


def wilson(true: int, n: int, z: float = 1.96) -> tuple[float, float]:
    """The interval of E. B. Wilson (1927) for a share, at 95 % unless told otherwise."""
    share, spread = true / n, z * z / n
    middle = (share + spread / 2) / (1 + spread)
    half = z / (1 + spread) * sqrt(share * (1 - share) / n + spread / (4 * n))
    return max(0.0, middle - half), min(1.0, middle + half)


# -- two faults at once ----------------------------------------------------------------------------

MISREAD_OFTEN = 0.02
"""Twice the stated rate of misreadings, and no smudges, which no bound counts."""


def two_faults(rng: random.Random, entries: int = 64) -> Desk:
    """A machine with two faults, any two, and a long log of it."""
    pairs = list(iter_pairs(MACHINE.mechanism))
    desk = Desk(rng.choice(pairs), rng, MISREAD_OFTEN, smudge=0.0)
    desk.type(text(rng, entries))
    return desk


def parts_that_explain(desk: Desk) -> list[Hypothesis]:
    """The true faults, and any of them alone, that explain the log as well."""
    entries = list(desk.log)
    parts = [faults for n in range(3) for faults in combinations(desk.faults, n)]
    doubt = {faults: SALTMERE.least_doubt(plain(faults), entries) for faults in parts}
    assert doubt[desk.faults][0] <= len(desk.misread)
    return [faults for faults in parts if doubt[faults] <= doubt[desk.faults]]


def found_in_search(desk: Desk) -> bool:
    """Whether the true faults, or some of them that explain the log as well, are in the list.

    The search is told how many entries were misread, which is its bound.
    """
    bound = len(desk.misread)
    found = minimal_sets(Evidence(MACHINE, desk.log), misreadings=bound)
    return any(faults in found for faults in parts_that_explain(desk))


def place_of_truth(diagnosis: Diagnosis, desk: Desk) -> int | None:
    """Where in the ranking, from 1, the first suspect stands that is the truth or prints alike."""
    alike = {signature(MACHINE, faults) for faults in parts_that_explain(desk)}
    for place, suspect in enumerate(diagnosis.ranked, start=1):
        if signature(MACHINE, suspect.members[0]) in alike:
            return place
    return None


SETTLED, MOST_ADVICE = 0.95, 40


def follow_advice(desk: Desk, misreadings: int | None = None) -> Diagnosis:
    """Type what is advised until the first suspect is settled or nothing more is advised.

    Args:
        desk: The machine and its log, which grows.
        misreadings: The bound that the restorer gives; as many as were made if left out.
    """
    longest = len(desk.log) + MOST_ADVICE
    while True:
        bound = len(desk.misread) if misreadings is None else misreadings
        diagnosis = look_further(MACHINE, desk.log, misreadings=bound)
        check = next_check(diagnosis)
        first = diagnosis.ranked[0]
        settled = first.probability >= SETTLED and len(first.misfits) <= bound
        if settled or check is None or len(desk.log) >= longest:
            return diagnosis
        desk.type(check.codes)
