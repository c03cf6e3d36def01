"""What to do next: the check that tells the suspects apart best for its cost.

The checks here are characters to type; :mod:`mechlogic.bench.checks` weighs the others.  A check
is worth the information that its outcome is expected to bring about which suspect is the true one
(in bits, Shannon 1948), for each character that has to be typed.  Where no single character tells,
two in a row may: a sluggish part shows only after the character before it.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import log2

from mechlogic.bench.diagnosis import Diagnosis, Suspect
from mechlogic.explaining.words import listed
from mechlogic.helpers.kept import kept
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.faults import Hypothesis
from mechlogic.model.logbook import NOTHING
from mechlogic.model.machine import Machine
from mechlogic.model.steps import Memory, steps

ENOUGH = 0.02
"""Bits below which a check is not worth a keystroke."""

TYPED_NEXT = "at speed, straight after the last entry"
"""How the characters of a check are to be typed."""

LONGEST = 5
"""How many characters in a row are thought of, where fewer do not tell."""

LONGEST_LINE = 6
"""How many characters are typed as one line at most."""

MOST_ALIKE = 3
"""How often one character stands in such a line at most."""

MOST_OUTCOMES = 40
"""A line with more outcomes than this is not made longer: nobody could follow it."""

MOST_WEIGHED = 12
"""How many characters, the most telling ones, are weighed for the next place of a line."""

ENOUGH_MORE = 0.05
"""Bits below which one more character is not worth a place in a line."""

MOST_APART = 8
"""How many suspects, the likeliest ones, are then held against each other two by two."""

MOST_SUSPECTS = 40
"""How many suspects, the likeliest ones, are weighed against each other."""

State = tuple[int, Memory]
"""The number of a suspect in the ranking, from 0, and what it remembers."""

Chances = dict[State, float]
Outcomes = dict[tuple[str, Memory], float]
"""The chance of each (print, memory afterwards)."""

Shown = tuple[tuple[str, float], ...]
"""The chance of each print."""


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
    """The characters to type next, or None where typing would hardly tell the suspects apart.

    One character and two in a row are weighed, for the likeliest of the suspects considered.  If
    none of them tells, a longer text may, where a part remembers: a shift must be thrown over, and
    then back, before a letter can show that it stayed.
    """
    suspects = diagnosis.considered[:MOST_SUSPECTS]
    machine = diagnosis.machine
    for codes in (readable_codes(machine), tuple(range(len(machine.code)))):
        outlook = _Outlook(machine, suspects, codes)
        single = outlook.best()
        pair = outlook.best_pair() if single[0] < 0.5 else (0.0, ())
        gain, rows = max(single, pair, key=lambda found: found[0] / max(1, len(found[1])))
        if gain >= ENOUGH:
            return _check(outlook, rows, gain)
    for rows in outlook.longer_texts():
        if (gain := outlook.gain_of(rows)) >= ENOUGH * len(rows):
            return _check(outlook, rows, gain)
    return None


def next_line(diagnosis: Diagnosis) -> Check | None:
    """Several characters to type as one line, or None where typing would hardly tell.

    The line begins with :func:`next_check`.  Each further character is the one that tells most
    after those before it, whatever they print, as long as it is worth a keystroke.  No character
    stands in it more than :data:`MOST_ALIKE` times.
    """
    first = next_check(diagnosis)
    if first is None:
        return None
    machine, suspects = diagnosis.machine, diagnosis.considered[:MOST_SUSPECTS]
    codes = readable_codes(machine)
    if not set(first.codes) <= set(codes):
        return first
    outlook = _Outlook(machine, suspects, codes)
    rows = tuple(codes.index(code) for code in first.codes)
    gain = outlook.gain_of(rows)
    while len(rows) < LONGEST_LINE and len(outlook.outcomes(rows)) <= MOST_OUTCOMES:
        alone = outlook.gains(outlook.now)
        open_to_it = [row for row in range(len(codes)) if rows.count(row) < MOST_ALIKE]
        telling = sorted(open_to_it, key=lambda row: -round(alone[row], 9))[:MOST_WEIGHED]
        gains = {row: outlook.gain_of((*rows, row)) for row in telling}
        best = max(gains, key=lambda row: round(gains[row], 9))
        if gains[best] - gain < ENOUGH_MORE:
            break
        rows, gain = (*rows, best), gains[best]
    return _check(outlook, rows, gain)


def readable_codes(machine: Machine) -> tuple[int, ...]:
    """Codes whose good print can be seen: letters and digits first, no blank among them."""
    codes = [code for code in machine.printing_codes if machine.good_print(code) != NOTHING]
    return tuple(sorted(codes, key=lambda code: not machine.good_print(code).isalnum()))


class _Outlook:
    """What each suspect would print next, for every code of a list.

    A *state* is a suspect together with what it remembers.  The chances of all states are known
    now, and follow from them after each character and its print.
    """

    def __init__(self, machine: Machine, suspects: Sequence[Suspect], codes: Sequence[int]) -> None:
        self._machine, self._suspects, self.codes = machine, suspects, tuple(codes)
        self.weights = _normalised([suspect.probability for suspect in suspects])
        self.next: dict[State, list[Outcomes]] = {
            (number, memory): [outcomes[code] for code in codes]
            for number, suspect in enumerate(suspects)
            for memory, outcomes in _after(machine, suspect.members[0]).items()
        }
        self.now: Chances = {
            (number, memory): weight * chance
            for number, (suspect, weight) in enumerate(zip(suspects, self.weights, strict=True))
            for memory, chance in suspect.accounts[0].belief.items()
        }
        self._tabulate()

    def _tabulate(self) -> None:
        """For every row, what may be printed: each state's kind, and what each kind prints.

        Few of the suspects differ in what they print for one code.  Those that do not are of one
        kind, so that all of them are weighed together.
        """
        shown = {
            (number, memory): [prints[code] for code in self.codes]
            for number, suspect in enumerate(self._suspects)
            for memory, prints in _shown(self._machine, suspect.members[0]).items()
        }
        self._place = {state: number for number, state in enumerate(self.next)}
        self._kinds: list[list[int]] = []
        self._prints: list[list[tuple[dict[str, float], float]]] = []
        for row in range(len(self.codes)):
            kinds: dict[tuple[tuple[str, float], ...], int] = {}
            self._kinds.append(
                [kinds.setdefault(shown[state][row], len(kinds)) for state in self.next]
            )
            self._prints.append([(dict(kind), _entropy(dict(kind).values())) for kind in kinds])

    def gains(self, now: Chances) -> list[float]:
        """Expected information of typing the code of each row, in bits, given chances of states.

        It is the uncertainty of the print less that which stays if the suspect is known.
        """
        place = self._place
        several = [
            [(place[state], chance) for state, chance in states.items()]
            for states in _of_one_suspect(now)
        ]
        weighed = [(place[state], chance) for state, chance in now.items()]
        return [self._gain(row, weighed, several) for row in range(len(self.codes))]

    def _gain(
        self,
        row: int,
        now: Sequence[tuple[int, float]],
        several: Sequence[Sequence[tuple[int, float]]],
    ) -> float:
        kinds, prints = self._kinds[row], self._prints[row]
        if len(prints) == 1:
            return 0.0  # whoever it is, the print says the same
        weight = [0.0] * len(prints)
        for state, chance in now:
            weight[kinds[state]] += chance
        mixed = _mixed(zip(prints, weight, strict=True))
        known = sum(share * own for share, (_, own) in zip(weight, prints, strict=True) if share)
        for states in several:
            if len({kinds[state] for state, _ in states}) > 1:
                share = sum(chance for _, chance in states)
                own = [(prints[kinds[state]], chance / share) for state, chance in states]
                apart = sum(chance * entropy for (_, entropy), chance in own)
                known += share * (_entropy(_mixed(own).values()) - apart)
        return _entropy(mixed.values()) - known

    def after(self, row: int) -> dict[str, Chances]:
        """For each print that the code of a row may give, the chance of it with each state."""
        found: dict[str, Chances] = defaultdict(lambda: defaultdict(float))
        for state, weight in self.now.items():
            for (print_, then), chance in self.next[state][row].items():
                found[print_][state[0], then] += weight * chance
        return found

    def best(self) -> tuple[float, tuple[int, ...]]:
        """The most telling row and its gain."""
        return _first_best(self.gains(self.now), ())

    def best_pair(self) -> tuple[float, tuple[int, ...]]:
        """The most telling two rows, one after the other, and their gain."""
        alone = self.gains(self.now)
        found = []
        for first in self._firsts(alone):
            gains = [alone[first]] * len(alone)
            for chances in self.after(first).values():
                chance = sum(chances.values()) or 1.0  # all but impossible
                rescaled = {state: share / chance for state, share in chances.items()}
                more = self.gains(rescaled)
                gains = [gain + chance * further for gain, further in zip(gains, more, strict=True)]
            found.append(_first_best(gains, (first,)))
        return max(found, key=lambda one: round(one[0], 9), default=(0.0, ()))

    def _firsts(self, alone: Sequence[float]) -> Iterable[int]:
        """First rows worth weighing: of those that leave the same memories, the most telling."""
        remembering = [state for state in self.now if state[1]]
        if not remembering:
            return ()
        firsts: dict[tuple[object, ...], int] = {}
        for row in sorted(range(len(self.codes)), key=lambda row: -round(alone[row], 9)):
            left = tuple(
                tuple(sorted({then for _, then in self.next[state][row]})) for state in remembering
            )
            firsts.setdefault(left, row)
        return firsts.values()

    def longer_texts(self) -> Iterator[tuple[int, ...]]:
        """For two of the likeliest suspects at a time, the shortest text that tells them apart."""
        if any(memory for _, memory in self.now):
            for one, other in combinations(range(min(len(self.weights), MOST_APART)), 2):
                if rows := self._text_apart(one, other):
                    yield rows

    def _text_apart(self, one: int, other: int) -> tuple[int, ...]:
        """The rows of a text that may show something under one suspect and not under the other."""
        start = tuple(
            frozenset(memory for suspect, memory in self.now if suspect == number)
            for number in (one, other)
        )
        texts: dict[tuple[frozenset[Memory], ...], tuple[int, ...]] = {start: ()}
        edge = [start]
        for _ in range(LONGEST):
            further = []
            for here in edge:
                for row in range(len(self.codes)):
                    outcomes = [
                        {
                            outcome
                            for memory in memories
                            for outcome in self.next[number, memory][row]
                        }
                        for number, memories in zip((one, other), here, strict=True)
                    ]
                    mine, its = ({seen for seen, _ in some} for some in outcomes)
                    if mine != its:
                        return (*texts[here], row)
                    after = tuple(frozenset(then for _, then in some) for some in outcomes)
                    if after not in texts:
                        texts[after] = (*texts[here], row)
                        further.append(after)
            edge = further
        return ()

    def gain_of(self, rows: tuple[int, ...]) -> float:
        """Expected information of the codes of these rows, typed one after the other, in bits."""
        gain = 0.0
        for chances in self.outcomes(rows).values():
            together = sum(chances.values())
            for suspect, chance in chances.items():
                if chance:  # a product of three small numbers may be too small for a float
                    gain += chance * (log2(chance) - log2(self.weights[suspect]) - log2(together))
        return gain

    def outcomes(self, rows: tuple[int, ...]) -> dict[tuple[str, ...], dict[int, float]]:
        """For each run of prints that the codes of these rows may give, each suspect's chance."""
        runs: dict[tuple[str, ...], Chances] = {(): self.now}
        for row in rows:
            longer: dict[tuple[str, ...], Chances] = defaultdict(lambda: defaultdict(float))
            for prints, chances in runs.items():
                for state, weight in chances.items():
                    for (print_, then), chance in self.next[state][row].items():
                        longer[*prints, print_][state[0], then] += weight * chance
            runs = longer
        found: dict[tuple[str, ...], dict[int, float]] = defaultdict(lambda: defaultdict(float))
        for prints, chances in runs.items():
            for (suspect, _), weight in chances.items():
                found[prints][suspect] += weight
        return found


@kept(1000)
def _after(machine: Machine, faults: Hypothesis) -> dict[Memory, list[Outcomes]]:
    """For every memory and every code, the chance of each print and memory afterwards."""
    share = 1 / len(Behaviour(machine, faults).chances)
    return {
        memory: [{outcome: n * share for outcome, n in counts.items()} for counts in row]
        for memory, row in steps(machine, faults).items()
    }


@kept(1000)
def _shown(
    machine: Machine, faults: Hypothesis
) -> dict[Memory, list[tuple[tuple[str, float], ...]]]:
    """For every memory and every code, the chance of each print, whatever is remembered then."""
    found: dict[Memory, list[Shown]] = {}
    for memory, outcomes in _after(machine, faults).items():
        found[memory] = []
        for chances in outcomes:
            seen: dict[str, float] = {}
            for (print_, _), chance in chances.items():
                seen[print_] = seen.get(print_, 0.0) + chance
            found[memory].append(tuple(sorted(seen.items())))
    return found


def _of_one_suspect(now: Chances) -> list[Chances]:
    """The states of each suspect that may remember one thing or another."""
    own: dict[int, Chances] = defaultdict(dict)
    for state, chance in now.items():
        own[state[0]][state] = chance
    return [states for states in own.values() if len(states) > 1]


def _mixed(
    kinds: Iterable[tuple[tuple[dict[str, float], float], float]],
) -> dict[str, float]:
    """The chance of each print, if kinds of state have these chances."""
    mixed: dict[str, float] = {}
    for (prints, _), share in kinds:
        if share:
            for print_, chance in prints.items():
                mixed[print_] = mixed.get(print_, 0.0) + share * chance
    return mixed


def _first_best(gains: Sequence[float], before: tuple[int, ...]) -> tuple[float, tuple[int, ...]]:
    """The largest gain and its row, the first of equals, after the rows before it."""
    if not gains:
        return 0.0, ()
    most = max(gains) - 1e-9
    row = next(row for row, gain in enumerate(gains) if gain > most)
    return gains[row], (*before, row)


def _check(outlook: _Outlook, rows: tuple[int, ...], gain: float) -> Check:
    splits = sorted(
        (
            Split(prints, tuple(sorted(number + 1 for number in found)), sum(found.values()))
            for prints, found in outlook.outcomes(rows).items()
        ),
        key=lambda split: -split.probability,
    )
    codes = tuple(outlook.codes[row] for row in rows)
    return Check(codes, gain, tuple(splits), _reason(splits))


def split_in_words(suspects: Sequence[Sequence[int]]) -> str:
    """``It splits 3 suspects 2/1``: how many each outcome leaves, and whether some stay in several.

    Args:
        suspects: For each outcome, the numbers of the suspects that it leaves.
    """
    sizes = [len(numbers) for numbers in suspects]
    n = len({number for numbers in suspects for number in numbers})
    several = " (one suspect may allow several outcomes)" if sum(sizes) > n else ""
    noun = "suspect" if n == 1 else "suspects"
    return f"It splits {n} {noun} {'/'.join(map(str, sizes))}{several}"


def _reason(splits: Sequence[Split]) -> str:
    meanings = [
        f"{' '.join(split.prints)} points to "
        f"{'suspect' if len(split.suspects) == 1 else 'suspects'} "
        f"{listed(str(number) for number in split.suspects)}"
        for split in splits[:4]
    ]
    more = "; any other print to the rest" if len(splits) > 4 else ""
    return f"{split_in_words([s.suspects for s in splits])}: {'; '.join(meanings)}{more}."


def _normalised(weights: Sequence[float]) -> list[float]:
    total = sum(weights) or 1.0
    return [weight / total for weight in weights]


def _entropy(chances: Iterable[float]) -> float:
    """The entropy of some chances, in bits; what does not happen counts nothing."""
    return -sum(chance * log2(chance) for chance in chances if chance > 0)
