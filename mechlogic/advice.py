"""What to do next: the check that tells the suspects apart best for its cost.

For now the checks are characters to type.  A check is worth the information that its outcome
is expected to bring about which suspect is the true one (in bits, Shannon 1948), for each
character that has to be typed.  Where no single character tells, two in a row may: a sluggish
part shows only after the character before it.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import log2

from mechlogic.behaviour import Behaviour
from mechlogic.diagnosis import Diagnosis, Suspect
from mechlogic.logbook import NOTHING
from mechlogic.machine import Machine, spread
from mechlogic.table import Rows, Table, place_in_row, tabulate
from mechlogic.words import listed

ENOUGH = 0.02
"""Bits below which a check is not worth a keystroke."""

MOST_SUSPECTS = 40
"""How many suspects, the likeliest ones, are weighed against each other."""

Memory = tuple[int, ...]
Outcomes = Mapping[tuple[str, Memory], float]
"""The chance of each (print, memory afterwards)."""


@dataclass(frozen=True)
class Split:
    """What one outcome of a check would mean.

    Attributes:
        prints: What would be printed, one for each character typed.
        suspects: The suspects that may print so, by their number in the ranking, from 1.
        probability: The chance of this outcome.
    """

    prints: tuple[str, ...]
    suspects: tuple[int, ...]
    probability: float


@dataclass(frozen=True)
class Check:
    """Characters to type next, at speed, straight after the last entry.

    Attributes:
        codes: The codes to send, without parity.
        gain: Expected information, in bits.
        splits: What each outcome would mean, likeliest first.
        reason: Why this check, in a sentence.
    """

    codes: tuple[int, ...]
    gain: float
    splits: tuple[Split, ...]
    reason: str


def next_check(diagnosis: Diagnosis) -> Check | None:
    """The characters to type next, or None where no more typing can tell the suspects apart.

    Suspects that explain every entry are weighed; if there are none, the doubtful ones are.
    """
    suspects = (diagnosis.suspects or diagnosis.doubtful)[:MOST_SUSPECTS]
    machine = diagnosis.machine
    for codes in (readable_codes(machine), tuple(range(len(machine.code)))):
        outlook = _Outlook(machine, suspects, codes)
        single = _best(outlook, [(row,) for row in range(len(codes))])
        pair = _best(outlook, outlook.telling_pairs()) if single[0] < 0.5 else (0.0, ())
        gain, rows = max(single, pair, key=lambda found: found[0] / max(1, len(found[1])))
        if gain >= ENOUGH:
            return _check(outlook, rows, gain)
    return None


def readable_codes(machine: Machine) -> tuple[int, ...]:
    """Codes whose good print can be seen: letters and digits first, no blank among them."""
    codes = [code for code in machine.printing_codes if machine.good_print(code) != NOTHING]
    return tuple(sorted(codes, key=lambda code: not machine.good_print(code).isalnum()))


class _Outlook:
    """What each suspect would print next, for every code of a list."""

    def __init__(self, machine: Machine, suspects: Sequence[Suspect], codes: Sequence[int]) -> None:
        self.machine, self.codes = machine, tuple(codes)
        self.weights = _normalised([suspect.probability for suspect in suspects])
        rows = machine.rows(codes)
        base = tabulate(machine.mechanism, rows)
        self.after = [
            _after(Behaviour(machine, suspect.members[0]), rows, base) for suspect in suspects
        ]
        self.start = [suspect.accounts[0].belief for suspect in suspects]

    def outcomes(self, suspect: int, rows: tuple[int, ...]) -> dict[tuple[str, ...], float]:
        """The chance of each print or run of prints."""
        runs: dict[tuple[tuple[str, ...], Memory], float] = {
            ((), memory): chance for memory, chance in self.start[suspect].items()
        }
        for row in rows:
            longer: dict[tuple[tuple[str, ...], Memory], float] = defaultdict(float)
            for (prints, memory), chance in runs.items():
                for (print_, then), share in self.after[suspect][memory][row].items():
                    longer[(*prints, print_), then] += chance * share
            runs = longer
        found: dict[tuple[str, ...], float] = defaultdict(float)
        for (prints, _), chance in runs.items():
            found[prints] += chance
        return found

    def telling_pairs(self) -> list[tuple[int, int]]:
        """Pairs of codes worth weighing: of first codes that leave the same memories, one."""
        firsts: dict[tuple[object, ...], int] = {}
        for row in range(len(self.codes)):
            left = tuple(
                tuple(sorted(after[memory][row].items()))
                for after in self.after
                if len(after) > 1
                for memory in after
            )
            firsts.setdefault(tuple(tuple(then for (_, then), _ in item) for item in left), row)
        return [(first, row) for first in firsts.values() for row in range(len(self.codes))]

    def gain(self, rows: tuple[int, ...]) -> float:
        """Expected information of typing the codes in these rows, in bits."""
        mixed: dict[tuple[str, ...], float] = defaultdict(float)
        known = 0.0
        for suspect, weight in enumerate(self.weights):
            outcomes = self.outcomes(suspect, rows)
            known += weight * _entropy(outcomes.values())
            for prints, chance in outcomes.items():
                mixed[prints] += weight * chance
        return max(0.0, _entropy(mixed.values()) - known)


def _after(behaviour: Behaviour, rows: Rows, base: Table) -> dict[Memory, list[Outcomes]]:
    """For every memory and every row, the chance of each print and memory afterwards."""
    found: dict[Memory, list[dict[tuple[str, Memory], float]]] = {
        memory: [defaultdict(float) for _ in rows.codes] for memory in behaviour.memories
    }
    share = 1 / len(behaviour.chances)
    for world in behaviour.worlds():
        table = behaviour.table(rows, rows.every, world, base)
        prints = spread(behaviour.machine.prints(table, rows), len(rows.codes))
        asked = [table.asked[name] for name in behaviour.remembering]
        for row, print_ in enumerate(prints):
            then = tuple(place_in_row(columns, row) for columns in asked)
            found[world.memory][row][print_, then] += share
    return {memory: list(outcomes) for memory, outcomes in found.items()}


def _best(
    outlook: _Outlook, candidates: Iterable[tuple[int, ...]]
) -> tuple[float, tuple[int, ...]]:
    best: tuple[float, tuple[int, ...]] = (0.0, ())
    for rows in candidates:
        gain = outlook.gain(rows)
        if gain > best[0] + 1e-9:
            best = (gain, rows)
    return best


def _check(outlook: _Outlook, rows: tuple[int, ...], gain: float) -> Check:
    by_print: dict[tuple[str, ...], dict[int, float]] = defaultdict(dict)
    for suspect, weight in enumerate(outlook.weights):
        for prints, chance in outlook.outcomes(suspect, rows).items():
            if weight * chance > 1e-9:
                by_print[prints][suspect + 1] = weight * chance
    splits = sorted(
        (
            Split(prints, tuple(sorted(found)), sum(found.values()))
            for prints, found in by_print.items()
        ),
        key=lambda split: -split.probability,
    )
    codes = tuple(outlook.codes[row] for row in rows)
    return Check(codes, gain, tuple(splits), _reason(len(outlook.weights), splits))


def _reason(n_suspects: int, splits: Sequence[Split]) -> str:
    sizes = "/".join(str(len(split.suspects)) for split in splits)
    meanings = [
        f"{' '.join(split.prints)} points to "
        f"{'suspect' if len(split.suspects) == 1 else 'suspects'} "
        f"{listed(str(number) for number in split.suspects)}"
        for split in splits[:4]
    ]
    more = "; any other print to the rest" if len(splits) > 4 else ""
    return f"It splits {n_suspects} suspects {sizes}: {'; '.join(meanings)}{more}."


def _normalised(weights: Sequence[float]) -> list[float]:
    total = sum(weights) or 1.0
    return [weight / total for weight in weights]


def _entropy(chances: Iterable[float]) -> float:
    return -sum(p * log2(p) for p in chances if p > 0)
