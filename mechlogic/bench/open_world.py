"""Something that is not on the list: how likely a log would be if that were the cause.

The list of faults is never complete.  So two kinds of cause are weighed besides it:

*   One part stands where it should not.  Where it stands is unknown: always at the same place; or
    it depends on where it should stand now; on that and where it should have stood one character
    ago, or in the last two; on that and one code bar; on the whole code; or it is anew for every
    entry.
*   The print differs.  What is printed is unknown, but it depends on the code; on that and the code
    before; or on nothing.  It is the good print, one that is near (as if one part stood elsewhere),
    any other, something unreadable or nothing.

Whatever the same things decide is the same each time.  So for all entries that agree in them, the
chance is summed over what may be printed then.  How often a part stands right, and how often each
kind of print comes, is unknown too, and summed over a few values.  All of it is exact, and costs a
few operations for each entry.  The weights are common practice, no source.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from math import exp, fsum, log

from mechlogic.bench.evidence import SMUDGE, WELL, WRONG, Evidence
from mechlogic.helpers.kept import kept
from mechlogic.model.logbook import NOTHING, UNREADABLE
from mechlogic.model.machine import Machine, spread
from mechlogic.model.table import (
    Changes,
    Column,
    Columns,
    Worlds,
    place_in_row,
    standing,
    tabulate,
    without,
)

RIGHT = (0.1, 0.5, 0.9)
"""How often a part that is at fault stands where it should, for each thing that decides it."""

SHARES = tuple(
    (right, *((1 - right) * share for share in shares))
    for right in RIGHT
    for shares in (
        (0.25, 0.25, 0.25, 0.25),
        (0.94, 0.02, 0.02, 0.02),
        (0.02, 0.94, 0.02, 0.02),
        (0.02, 0.02, 0.94, 0.02),
        (0.02, 0.02, 0.02, 0.94),
    )
)
"""How often a print is good, near, any other, unreadable, and nothing."""

Situation = tuple[int, tuple[int, ...]]
"""A code, without parity, and where the latches of a good machine stood before it."""


@dataclass(frozen=True)
class Elsewhere:
    """What comes of one code where one part stands elsewhere.

    Attributes:
        good: What a good machine prints.
        asked: For each part, the number of the place where it should stand.
        prints: For each part, what is printed with it at each of its places.
    """

    good: str
    asked: Mapping[str, int]
    prints: Mapping[str, tuple[str, ...]]

    @cached_property
    def near(self) -> frozenset[str]:
        """What one part alone can make of it, beside the good print, unreadable and nothing."""
        every = {print_ for prints in self.prints.values() for print_ in prints}
        return frozenset(every - {self.good, UNREADABLE, NOTHING})


@dataclass(frozen=True)
class Cause:
    """A cause that is not on the list, as far as anything is known of it.

    Attributes:
        part: The part that stands elsewhere; empty where only the print is spoken of.
        decided_by: What decides where it stands, or what is printed, in words.
        log_chance: Natural logarithm of the chance of the log, times that of such a cause.
    """

    part: str
    decided_by: str
    log_chance: float


JAMMED = "always the same one"
NOW = "depending on where it should stand"
NOW_AND_BEFORE = "depending on where it should stand now and one character ago"
AND_TWO_BEFORE = "depending on where it should stand now and in the two characters before"
AND_A_BAR = "depending on where it should stand and on one code bar"
THE_CODE = "depending on the code that is sent"
CODES = "depending on the code that is sent and on the one before"
ANEW = "anew for every character"


def causes(evidence: Evidence) -> tuple[Cause, ...]:
    """Every cause that is not on the list, likeliest first.

    The chances of all of them, without the log, add up to one.
    """
    held = _Held(evidence)
    found = [*_one_part(held), *_any_print(held)]
    return tuple(sorted(found, key=lambda cause: -cause.log_chance))


def log_sum(logs: Iterable[float]) -> float:
    """The logarithm of a sum of which the logarithms are given."""
    known = list(logs)
    most = max(known)
    return most + log(fsum(exp(each - most) for each in known))


@kept(5_000)
def elsewhere(machine: Machine, situation: Situation) -> Elsewhere:
    """What comes of one code with each part, by itself, at each of its places."""
    code, latched = situation
    mechanism, first = machine.mechanism, dict[str, int]()
    n = 1  # the first row is the good machine
    for name, law in mechanism.laws.items():
        first[name] = n
        n += len(law.places)
    rows = Worlds(machine.as_set(code), n)
    before = {}
    for name, place in zip(mechanism.latches, latched, strict=True):
        n_cuts = len(mechanism.laws[name].cuts)
        before[name] = standing(place, n_cuts, rows.every)
    parts = {
        name: partial(_at_each, row=row, n_places=len(mechanism.laws[name].places))
        for name, row in first.items()
    }
    table = tabulate(mechanism, rows, Changes(parts=parts, before=before))
    prints = spread(machine.prints(table, rows), n)
    return Elsewhere(
        prints[0],
        {name: place_in_row(table.asked[name], 0) for name in first},
        {name: prints[row : row + len(mechanism.laws[name].places)] for name, row in first.items()},
    )


def _at_each(asked: Columns, row: int, n_places: int) -> Columns:
    """A part that stands at each of its places, one in each row, and as asked in all others."""
    own = (1 << n_places) - 1
    return tuple(
        without(column, own << row) | own >> cut + 1 << row + cut + 1
        for cut, column in enumerate(asked)
    )


class _Held:
    """A log, held against what may have been printed."""

    def __init__(self, evidence: Evidence) -> None:
        self.evidence, self.mechanism = evidence, evidence.machine.mechanism
        every, n = evidence.rows.every, len(evidence.log)
        alike: dict[Situation, Column] = defaultdict(int)
        for t, entry in enumerate(evidence.log):
            latched = evidence.latched[t] or {}  # at rest where the log leaves it open
            places = tuple(latched.get(name, 0) for name in self.mechanism.latches)
            alike[entry.sent, places] |= 1 << t
        self.told = [
            (elsewhere(evidence.machine, situation), rows) for situation, rows in alike.items()
        ]
        self.follows = without(evidence.at_speed, evidence.starts)
        self.unknown = without(every, self.follows)
        self.codes = list(alike.values())
        self.anew = [1 << t for t in range(n)]

    @kept(None)
    def fit(self, print_: str) -> tuple[Column, Column]:
        """The entries that show a print, and those that show it less well."""
        return self.evidence.fits({print_: self.evidence.rows.every})

    def after(self, rows: Iterable[Column]) -> list[Column]:
        """The entries that follow others straight away; last, those that follow none."""
        return [*(some << 1 & self.follows for some in rows), self.unknown]

    def chance(self, rows: Column, fit: tuple[Column, Column]) -> float:
        """Natural logarithm of the chance of some entries, given which of them fit."""
        well, less = (rows & fit[0]).bit_count(), (rows & fit[1]).bit_count()
        return well * _WELL + less * _LESS + (rows.bit_count() - well - less) * _WRONG

    def chance_of_one(self, rows: Column, prints: Collection[str]) -> float:
        """The same where one of some prints, all equally likely, was made each time."""
        chances = (self.chance(rows, self.fit(print_)) for print_ in prints)
        return log_sum(chances) - log(len(prints))


_WELL, _LESS, _WRONG = log(WELL), log(SMUDGE), log(WRONG)


def _one_part(held: _Held) -> Iterator[Cause]:
    """One part stands elsewhere."""
    bars = [held.evidence.rows.bit(bar.bit) for bar in held.mechanism.bars.values()]
    every = held.evidence.rows.every
    for name, law in held.mechanism.laws.items():
        n_places = len(law.places)
        asked, fits = [0] * n_places, [(0, 0)] * n_places
        for told, rows in held.told:
            asked[told.asked[name]] |= rows
            for place, print_ in enumerate(told.prints[name]):
                well, less = held.fit(print_)
                fits[place] = fits[place][0] | well & rows, fits[place][1] | less & rows
        before = held.after(asked)
        two_before = [one & other for one in before for other in held.after(before)]
        decided = {
            NOW: [[every]],
            NOW_AND_BEFORE: [before],
            AND_TWO_BEFORE: [two_before],
            AND_A_BAR: [[bar, without(every, bar)] for bar in bars],
            THE_CODE: [held.codes],
            ANEW: [held.anew],
        }
        decided = {by: ways for by, ways in decided.items() if ways}
        share = 2 * len(held.mechanism.laws) * (1 + len(decided))
        same = log_sum(held.chance(every, fit) for fit in fits)
        yield Cause(name, JAMMED, same - log(n_places * share))
        for decided_by, ways in decided.items():
            chances = []
            for way in ways:
                groups = Counter[tuple[float, ...]](
                    (held.chance(rows, fits[place]), _one_of_others(held, rows, fits, place))
                    for place, here in enumerate(asked)
                    for some in way
                    if (rows := here & some)
                )
                chances += [_mixed(groups, (right, 1 - right)) for right in RIGHT]
            yield Cause(name, decided_by, log_sum(chances) - log(len(chances) * share))


def _one_of_others(
    held: _Held, rows: Column, fits: Sequence[tuple[Column, Column]], place: int
) -> float:
    others = [held.chance(rows, fit) for other, fit in enumerate(fits) if other != place]
    return others[0] if len(others) == 1 else log_sum(others) - log(len(others))


def _any_print(held: _Held) -> Iterator[Cause]:
    """The print differs."""
    glyphs = frozenset(held.evidence.machine.output.glyphs) - {" "}
    decided = {THE_CODE: [held.evidence.rows.every], CODES: held.after(held.codes), ANEW: held.anew}
    for decided_by, way in decided.items():
        groups = Counter[tuple[float, ...]]()
        for told, here in held.told:
            kinds = [[told.good], told.near, glyphs - told.near - {told.good}]
            kinds += [[UNREADABLE], [NOTHING]]
            for some in way:
                if rows := here & some:
                    groups[
                        tuple(held.chance_of_one(rows, kind or [told.good]) for kind in kinds)
                    ] += 1
        chances = [_mixed(groups, shares) for shares in SHARES]
        yield Cause("", decided_by, log_sum(chances) - log(2 * len(decided) * len(chances)))


def _mixed(groups: Mapping[tuple[float, ...], int], shares: Sequence[float]) -> float:
    """The logarithm of the chance of all groups, where each kind has its share.

    Args:
        groups: For each group, the logarithm of its chance for each kind; how many there are.
        shares: The share of each kind.
    """
    logs = [log(share) for share in shares]
    return fsum(
        n * log_sum(each + its for each, its in zip(group, logs, strict=True))
        for group, n in groups.items()
    )
