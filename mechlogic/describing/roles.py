"""Which bits lift, which turn, which only suppress: read off a print of all characters.

A restorer who has no drawing prints every character, looks where each stands on the type, and asks
what each bit of the code does.  Every division of the bits is tried here: some choose the row, some
the column, no bit does both, and the rest play no part in the choice.  The smallest divisions that
explain the prints are all reported; if a few prints contradict them, the fewest that must be set
aside are named, and proved to be the fewest.

What the rows' order says about the works behind them is proposed too: a sum of weights, as a
whiffletree makes it, or stops of which the first one still in the way arrests the member.  The
prints can often be made by either, and then they cannot say which it is: look under the cover.

Rows and columns are counted from 0, the lowest row and the first column.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations
from typing import TYPE_CHECKING

from mechlogic.explaining.words import capitalised, listed
from mechlogic.helpers.kept import kept
from mechlogic.helpers.refusal import Refusal
from mechlogic.model.logbook import NOTHING

if TYPE_CHECKING:
    from sympy.logic.boolalg import Boolean

__all__ = [
    "Choice",
    "Ladder",
    "Mirror",
    "Reading",
    "Roles",
    "RolesError",
    "Stop",
    "Weights",
    "infer",
]

MOST_BITS = 8
"""The most bits of a code that are tried: 3 to the power of 8 divisions."""

MOST_ASIDE = 4
"""If more than one print in so many would have to be set aside, the division explains nothing."""

MOST_NAMED = 6
"""How many codes a sentence names one by one."""

MOST_SETTINGS_NAMED = 8
MOST_STOPS_NAMED = 4
MOST_READINGS_SAID = 3
"""How many settings and stops a sentence lists, and how many readings are said."""

Seen = Mapping[int, int]
"""For codes, the number of the row, or of the column, in which each prints."""


class RolesError(Refusal):
    """Prints or type that nothing can be read off."""


@dataclass(frozen=True)
class Stop:
    """A stop, and the bits that draw it out of the way.

    Attributes:
        at: The row or column at which it arrests.
        drawn_by: (bit, set): any one of these bits, in this state, draws it out.
    """

    at: int
    drawn_by: tuple[tuple[int, bool], ...]


@dataclass(frozen=True)
class Ladder:
    """Stops of which the first one still in the way arrests the member.

    Attributes:
        stops: The stops, the first one first.
        end: Where the member comes to rest when every stop is drawn out.
        shoulder: A bit that shifts the whole assembly, whatever the stops do; 0 if there is none.
        step: By how many rows or columns it does.
    """

    stops: tuple[Stop, ...]
    end: int
    shoulder: int = 0
    step: int = 0

    def at(self, setting: int) -> int:
        """Where the member stands for a setting of the bits."""
        arrested = (
            stop.at
            for stop in self.stops
            if not any(bool(setting >> bit - 1 & 1) == is_set for bit, is_set in stop.drawn_by)
        )
        shift = self.step if self.shoulder and setting >> self.shoulder - 1 & 1 else 0
        return next(arrested, self.end) + shift


@dataclass(frozen=True)
class Weights:
    """A number that is a sum: every bit that is set adds its weight.

    Attributes:
        base: The number when no bit is set.
        of: The weight of each bit.
    """

    base: int
    of: Mapping[int, int]

    @property
    def binary(self) -> bool:
        """Whether the weights are 1, 2, 4 and so on, whatever their sign and order."""
        return sorted(map(abs, self.of.values())) == [1 << i for i in range(len(self.of))]

    def at(self, setting: int) -> int:
        """The sum for a setting of the bits."""
        return self.base + sum(w for bit, w in self.of.items() if setting >> bit - 1 & 1)


@dataclass(frozen=True)
class Choice:
    """A choice that some bits of the code make: of a row, of a column, or whether to print.

    Attributes:
        bits: The bits that make it, counted from 1.
        table: What they choose, for each of their settings that was seen; a setting is a code in
            which all other bits are 0.
        n_places: How many places there are to choose from.
    """

    bits: tuple[int, ...]
    table: Mapping[int, int]
    n_places: int

    @cached_property
    def mask(self) -> int:
        """A code in which just these bits are set."""
        return sum(1 << bit - 1 for bit in self.bits)

    def of(self, code: int) -> int | None:
        """What is chosen for a code; None if that setting of the bits was never seen."""
        return self.table.get(code & self.mask)

    @cached_property
    def weights(self) -> Weights | None:
        """The choice as a sum of weights: whiffletree arithmetic.  None if it is none.

        None also if too few settings were seen to say what each bit weighs.
        """
        return _weights(self.bits, self.table)

    @cached_property
    def ladder(self) -> Ladder | None:
        """The choice as stops, each drawn out by any one of some bits.  None if that fails.

        If one bit shifts everything by one, it may be a shoulder, and the stops are the fewer.
        """
        return next(iter(_ladders(self.bits, self.table)), None)

    @cached_property
    def mirror(self) -> "Mirror | None":
        """A bit that reverses the order of the places, and what the others choose."""
        found = list(_mirrors(self))
        plain = [mirror for mirror in found if mirror.choice.ladder and not mirror.choice.negated]
        return next(iter(plain or found), None)

    @property
    def negated(self) -> bool:
        """Whether some stop is drawn out by a bit that is not set."""
        stops = self.ladder.stops if self.ladder else ()
        return any(not is_set for stop in stops for _, is_set in stop.drawn_by)

    def logic(self) -> "Mapping[int, Boolean]":
        """For every stop, when its lever must have drawn it out, as a short SymPy expression.

        The stop at a place must be out for every setting that goes further, and in for those that
        go just there; what it does for settings that never come so far does not matter, nor for
        those never seen.  The shorter of the two two-level forms is given.
        """
        places = sorted(set(self.table.values()))
        return {place: self._drawn_out(place) for place in places[:-1]}

    def _drawn_out(self, place: int) -> "Boolean":
        from sympy.logic import POSform, SOPform

        from mechlogic.explaining.formulas import bit

        rows = [[setting >> b - 1 & 1 for b in self.bits] for setting in _settings(self.bits)]
        chosen = [self.table.get(setting) for setting in _settings(self.bits)]
        out = [row for row, at in zip(rows, chosen, strict=True) if at is not None and at > place]
        free = [row for row, at in zip(rows, chosen, strict=True) if at is None or at < place]
        symbols = [bit(b) for b in self.bits]
        forms = [form(symbols, out, free) for form in (SOPform, POSform)]
        return min(forms, key=lambda form: form.count_ops())


@dataclass(frozen=True)
class Mirror:
    """A bit that reverses the order of the places.

    Attributes:
        bit: The bit.
        is_set: Whether the choice is the one made while the bit is set, or while it is not.
        choice: What the other bits choose then; otherwise they choose the same, counted from the
            other end.
    """

    bit: int
    is_set: bool
    choice: Choice


@dataclass(frozen=True)
class Reading:
    """One explanation of the prints.

    Attributes:
        rows: The bits that choose the row.
        columns: The bits that choose the column.
        printing: The bits that choose whether to print, 1, or to suppress the print, 0.
        aside: The fewest codes whose prints must be set aside; one such set.
        surely_aside: Those of them that are in every such set.
        wrongly_silent: Codes that print, or do not, against what their suppressing bits say.
        foretold: Codes whose row and column other codes foretell: they test the reading.
    """

    rows: Choice
    columns: Choice
    printing: Choice
    aside: tuple[int, ...]
    surely_aside: tuple[int, ...]
    wrongly_silent: tuple[int, ...]
    foretold: tuple[int, ...]

    @property
    def only_suppress(self) -> tuple[int, ...]:
        """The bits that only say whether to print."""
        choosing = {*self.rows.bits, *self.columns.bits}
        return tuple(bit for bit in self.printing.bits if bit not in choosing)

    def idle(self, units: int) -> tuple[int, ...]:
        """The bits that play no part."""
        busy = {*self.rows.bits, *self.columns.bits, *self.printing.bits}
        return tuple(bit for bit in range(1, units + 1) if bit not in busy)


@dataclass(frozen=True)
class Simpler:
    """A division with fewer bits than the readings, for which more must be set aside.

    Attributes:
        rows: The bits that choose the row.
        columns: The bits that choose the column.
        n_aside: How many prints must be set aside, and no fewer.
    """

    rows: tuple[int, ...]
    columns: tuple[int, ...]
    n_aside: int


@dataclass(frozen=True)
class Clash:
    """Two codes that no division of the kind can explain together.

    Attributes:
        codes: The two, which set the bits alike.
        bits: Those bits.
        what: ``"row"`` or ``"column"``.
        at: Where each of the two prints.
    """

    codes: tuple[int, int]
    bits: tuple[int, ...]
    what: str
    at: tuple[int, int]


@dataclass(frozen=True)
class Roles:
    """What the prints say about the bits.

    Attributes:
        units: How many bits the code has.
        n_prints: How many prints say where they stand on the type.
        strange: Codes that print what is not on the type.
        doubtful: Codes whose character stands on the type in several rows, or several columns;
            they say nothing about the one that is in doubt.
        readings: All the smallest explanations; none if no division explains the prints.
        simpler: The best with one bit less, with two less and so on, as long as they explain the
            prints but for some more.  Where many prints are wrong, look at them: a bit that only
            helps to explain wrong prints is no bit of the decoder.
        at_least: If none does: so many prints would have to be set aside for the nearest one.
        clashes: If none does: examples from the nearest division.
    """

    units: int
    n_prints: int
    strange: tuple[int, ...]
    doubtful: tuple[int, ...]
    readings: tuple[Reading, ...]
    simpler: tuple[Simpler, ...] = ()
    at_least: int = 0
    clashes: tuple[Clash, ...] = field(default=())

    def says(self, name: Callable[[int], str] = str) -> tuple[str, ...]:
        """The findings in sentences.

        Args:
            name: What to call a code.
        """
        return tuple(said for _, section in self.sections(name) for said in section)

    def sections(self, name: Callable[[int], str] = str) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """The findings in sentences, each stretch of them under its heading.

        Args:
            name: What to call a code.
        """
        found = ((heading, tuple(says)) for heading, says in _sections(self, name))
        return tuple((heading, says) for heading, says in found if says)


def infer(
    prints: Mapping[int, str | None] | Sequence[str | None], grid: Sequence[str], units: int
) -> Roles:
    """Infer what each bit does.

    Args:
        prints: What each code prints; ``"nothing"`` or a blank if nothing.  A code that is left
            out, or None, was not tried.
        grid: The type as it is laid out, a text for each row, the lowest first; a blank where
            there is no character.
        units: How many bits the code has, its parity bit among them if the codes have it.

    Raises:
        RolesError: If there are too many bits, a code has more of them, the type is no grid, or
            the prints contradict each other in more ways than can be searched.
    """
    tried = dict(prints if isinstance(prints, Mapping) else enumerate(prints))
    _check(tried, grid, units)
    places = _places(grid)
    seen = {
        code: places[glyph]
        for code, glyph in tried.items()
        if glyph is not None and glyph in places
    }
    rows = {code: at[0][0] for code, at in seen.items() if len({row for row, _ in at}) == 1}
    columns = {code: at[0][1] for code, at in seen.items() if len({col for _, col in at}) == 1}
    silent = tuple(code for code, glyph in tried.items() if glyph in (NOTHING, " "))
    strange = {
        code for code, glyph in tried.items() if glyph is not None and glyph not in places
    } - set(silent)
    doubtful = tuple(sorted(code for code in seen if code not in rows or code not in columns))
    search = _Search(rows, columns, units, len(seen))
    found = search.smallest()
    facts = units, len(seen), tuple(sorted(strange)), doubtful
    if not found:
        return Roles(*facts, (), (), search.nearest_misfits, tuple(search.clashes()))
    shape = len(grid), len(grid[0])
    printed = frozenset(seen) | strange
    readings = (_reading(search, lift, turn, shape, grid, printed, silent) for lift, turn in found)
    simpler = (
        Simpler(_bits(lift), _bits(turn), len(search.aside(lift, turn)))
        for n_bits in reversed(range(sum(mask.bit_count() for mask in found[0])))
        for lift, turn in search.best_with(n_bits)
    )
    return Roles(*facts, tuple(readings), tuple(simpler))


def _check(tried: Mapping[int, str | None], grid: Sequence[str], units: int) -> None:
    if not 1 <= units <= MOST_BITS:
        mend = "Leave out the bits that you know to do nothing."
        raise RolesError(f"a code of {units} bits cannot be tried: 1 to {MOST_BITS} can", mend)
    for code in tried:
        if not 0 <= code < 1 << units:
            mend = "Check the code, or the number of bits."
            raise RolesError(f"the code {code} has more than {units} bits", mend)
    if not grid or not grid[0] or len(set(map(len, grid))) > 1:
        mend = "Write a text for each row, all of one length, with a blank where nothing is."
        raise RolesError("the type is no grid of rows and columns", mend)


def _places(grid: Sequence[str]) -> Mapping[str, list[tuple[int, int]]]:
    """For each character, the rows and columns where it stands."""
    found: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for row, line in enumerate(grid):
        for column, glyph in enumerate(line):
            if glyph != " ":
                found[glyph].append((row, column))
    return found


# -- the search ------------------------------------------------------------------------------------


class _Search:
    """Every division of the bits into row bits, column bits and others.

    Args:
        rows, columns: In which row, and in which column, each code prints.
        units: How many bits there are.
        n_prints: How many prints there are.
    """

    def __init__(self, rows: Seen, columns: Seen, units: int, n_prints: int) -> None:
        self.rows, self.columns, self.units = rows, columns, units
        self.every = (1 << units) - 1
        self.most = n_prints // MOST_ASIDE
        masks = range(1 << units)
        self.row_misfits = [_misfits(rows, mask) for mask in masks]
        self.column_misfits = [_misfits(columns, mask) for mask in masks]

    def smallest(self) -> list[tuple[int, int]]:
        """All divisions with the fewest prints set aside and, of these, the fewest bits.

        More bits never make more prints misfit, so the fewest are found where every bit either
        lifts or turns.
        """
        least = self.most + 1
        whole = [(mask, self.every ^ mask) for mask in range(self.every + 1)]
        for lift, turn in sorted(whole, key=self.bound):
            if self.bound((lift, turn)) >= least:
                break
            least = min(least, len(self.aside(lift, turn)))
        if least > self.most:
            return []
        divisions = [d for d in self._divisions() if self.bound(d) <= least]
        for size in range(self.units + 1):
            here = [d for d in divisions if (d[0] | d[1]).bit_count() == size]
            if found := [d for d in here if len(self.aside(*d)) == least]:
                return found
        raise AssertionError("a division that was found is not found again")

    def best_with(self, n_bits: int) -> list[tuple[int, int]]:
        """The divisions with so many bits that set the fewest prints aside, if not too many."""
        best: list[tuple[int, int]] = []
        least = self.most
        here = [d for d in self._divisions() if (d[0] | d[1]).bit_count() == n_bits]
        for lift, turn in sorted(here, key=self.bound):
            if self.bound((lift, turn)) > least:
                break
            n_aside = len(self.aside(lift, turn))
            if n_aside < least:
                least, best = n_aside, []
            if n_aside == least:
                best.append((lift, turn))
        return best

    def _divisions(self) -> Iterator[tuple[int, int]]:
        """Every pair of two sets of bits that have none in common."""
        for lift in range(self.every + 1):
            rest = turn = self.every ^ lift
            while True:
                yield lift, turn
                if not turn:
                    break
                turn = (turn - 1) & rest

    def bound(self, division: tuple[int, int]) -> int:
        """At least so many prints must be set aside."""
        return max(self.row_misfits[division[0]], self.column_misfits[division[1]])

    @kept(None)
    def aside(self, lift: int, turn: int) -> tuple[int, ...]:
        """The fewest codes to set aside, so that the row and the column follow from the bits."""
        return _fewest(self._pairs(lift, turn), self.bound((lift, turn)))

    def surely(self, lift: int, turn: int) -> tuple[int, ...]:
        """The codes that every such smallest set has."""
        fewest, pairs = self.aside(lift, turn), self._pairs(lift, turn)
        return tuple(code for code in fewest if len(_fewest(pairs, 0, stays=code)) > len(fewest))

    def _pairs(self, lift: int, turn: int) -> tuple[tuple[int, int], ...]:
        """Pairs of codes that cannot both be right."""
        pairs = (*_clashing(self.rows, lift), *_clashing(self.columns, turn))
        return tuple(dict.fromkeys(pairs))

    @cached_property
    def nearest(self) -> tuple[int, int]:
        """The division of all bits that looks best, judged by what must at least be set aside."""
        return min(((mask, self.every ^ mask) for mask in range(self.every + 1)), key=self.bound)

    @property
    def nearest_misfits(self) -> int:
        """So many prints must at least be set aside for any division."""
        return max(self.bound(self.nearest), self.most + 1)

    def clashes(self) -> Iterator[Clash]:
        """Pairs of codes that contradict the nearest division."""
        for what, seen, mask in (
            ("row", self.rows, self.nearest[0]), ("column", self.columns, self.nearest[1])
        ):  # fmt: skip
            for one, other in _clashing(seen, mask):
                yield Clash((one, other), _bits(mask), what, (seen[one], seen[other]))


def _groups(seen: Seen, mask: int) -> Iterable[list[int]]:
    """The codes that set these bits alike."""
    groups: dict[int, list[int]] = defaultdict(list)
    for code in seen:
        groups[code & mask].append(code)
    return groups.values()


def _misfits(seen: Seen, mask: int) -> int:
    """The fewest codes to set aside, so that the place follows from these bits."""
    return sum(
        len(codes) - max(Counter(seen[code] for code in codes).values())
        for codes in _groups(seen, mask)
    )


def _clashing(seen: Seen, mask: int) -> Iterator[tuple[int, int]]:
    """Pairs of codes that set these bits alike and yet print in different places."""
    for codes in _groups(seen, mask):
        for one, other in combinations(codes, 2):
            if seen[one] != seen[other]:
                yield one, other


def _fewest(
    pairs: Sequence[tuple[int, int]], bound: int, stays: int | None = None
) -> tuple[int, ...]:
    """The fewest codes, one of each pair at least; *stays* is not to be among them."""
    if not pairs:
        return ()
    quick = _often_clashing(pairs) if stays is None else ()
    if quick and len(quick) == bound:  # no fewer will do, so these are the fewest
        return quick
    from mechlogic.helpers.covers import smallest_cover

    table = {pair: tuple(code for code in pair if code != stays) for pair in pairs}
    found = smallest_cover(table, cost=float)
    if not found.proved:
        what = "it takes too long to find the fewest prints to set aside"
        raise RolesError(what, "Leave out prints that you do not trust.")
    return tuple(sorted(found.chosen))


def _often_clashing(pairs: Sequence[tuple[int, int]]) -> tuple[int, ...]:
    """The codes that clash most, taken one by one until no pair is left."""
    left, taken = list(pairs), []
    while left:
        worst = max(Counter(code for pair in left for code in pair).items(), key=lambda it: it[1])
        taken.append(worst[0])
        left = [pair for pair in left if worst[0] not in pair]
    return tuple(sorted(taken))


# -- one reading -----------------------------------------------------------------------------------


def _reading(
    search: _Search,
    lift: int,
    turn: int,
    shape: tuple[int, int],
    grid: Sequence[str],
    printed: frozenset[int],
    silent: Sequence[int],
) -> Reading:
    aside = search.aside(lift, turn)
    kept_rows, kept_columns = (
        {code: at for code, at in seen.items() if code not in aside}
        for seen in (search.rows, search.columns)
    )
    rows = _choice(kept_rows, lift, shape[0])
    columns = _choice(kept_columns, turn, shape[1])
    prints = dict.fromkeys(printed, 1)
    for code in silent:
        row, column = rows.of(code), columns.of(code)
        known = row is not None and column is not None
        blank = grid[row][column] == " " if known else any(" " in line for line in grid)  # type: ignore[index]
        if not blank:  # otherwise it may well strike, and print a blank
            prints[code] = 0
    mask = _shortest(prints, search.units)
    printing = _choice(prints, mask, 2)
    alone = (_seen_once(kept_rows, lift), _seen_once(kept_columns, turn))
    return Reading(
        rows,
        columns,
        printing,
        aside,
        search.surely(lift, turn),
        tuple(sorted(code for code, p in prints.items() if printing.of(code) != p)),
        tuple(sorted(c for c in kept_rows if c in kept_columns and not any(c in a for a in alone))),
    )


def _choice(seen: Seen, mask: int, n_places: int) -> Choice:
    table = {
        codes[0] & mask: Counter(seen[code] for code in codes).most_common(1)[0][0]
        for codes in _groups(seen, mask)
    }
    return Choice(_bits(mask), dict(sorted(table.items())), n_places)


def _seen_once(seen: Seen, mask: int) -> set[int]:
    """Codes that are the only one with their setting of these bits."""
    return {codes[0] for codes in _groups(seen, mask) if len(codes) == 1}


def _shortest(prints: Seen, units: int) -> int:
    """The bits that say shortest which codes print and which do not.

    A table of some bits takes a line for each of their settings; each code that prints otherwise
    must be named, which takes as many bits as the code has, and one more.  Without that price a
    single missing print would make every bit a suppressing one.
    """

    def length(mask: int) -> tuple[int, int]:
        lines = 1 << mask.bit_count()
        return lines + _misfits(prints, mask) * (units + 1), mask.bit_count()

    return min(range(1 << units), key=length)


def _bits(mask: int) -> tuple[int, ...]:
    """The numbers of the bits that are set, from 1."""
    return tuple(i + 1 for i in range(mask.bit_length()) if mask >> i & 1)


def _settings(bits: Sequence[int]) -> list[int]:
    """Every setting of some bits, as codes in which the others are 0."""
    found = [0]
    for bit in bits:
        found += [setting | 1 << bit - 1 for setting in found]
    return sorted(found)


# -- what the order says about the works -----------------------------------------------------------


def _weights(bits: tuple[int, ...], table: Seen) -> Weights | None:
    import numpy

    rows = [[1, *(setting >> bit - 1 & 1 for bit in bits)] for setting in table]
    found, _, rank, _ = numpy.linalg.lstsq(
        numpy.array(rows, float), numpy.array(list(table.values()), float), rcond=None
    )
    if rank <= len(bits):
        return None
    base, *weights = (round(float(x)) for x in found)
    sums = Weights(base, dict(zip(bits, weights, strict=True)))
    return sums if all(sums.at(setting) == at for setting, at in table.items()) else None


def _ladders(bits: tuple[int, ...], table: Seen) -> Iterator[Ladder]:
    """The stops behind a shoulder, if a bit can be one, and then without any."""
    for bit in bits:
        step = _step(bit, table)
        if step in (1, -1) and len(bits) > 2:
            rest = {s & ~(1 << bit - 1): at - step * (s >> bit - 1 & 1) for s, at in table.items()}
            stops = _stops(tuple(b for b in bits if b != bit), rest)
            if stops is not None and len(set(rest.values())) < len(set(table.values())):
                yield Ladder(stops, max(rest.values()), bit, step)
    stops = _stops(bits, table)
    if stops is not None:
        yield Ladder(stops, max(table.values()))


def _step(bit: int, table: Seen) -> int:
    """By how much a bit shifts the place, whatever the others do; 0 if it varies."""
    flag = 1 << bit - 1
    steps = {table[s | flag] - at for s, at in table.items() if not s & flag and s | flag in table}
    unpaired = any(s ^ flag not in table for s in table)
    return steps.pop() if len(steps) == 1 and not unpaired else 0


def _stops(bits: tuple[int, ...], table: Seen) -> tuple[Stop, ...] | None:
    """The stops, each drawn out by the fewest bits; None if one of them is not so simple."""
    found = []
    for place in sorted(set(table.values()))[:-1]:
        here = [setting for setting, at in table.items() if at == place]
        beyond = [setting for setting, at in table.items() if at > place]
        drawn_by = _fewest_of_any(bits, here, beyond)
        if drawn_by is None:
            return None
        found.append(Stop(place, drawn_by))
    return tuple(found)


def _fewest_of_any(
    bits: tuple[int, ...], here: Sequence[int], beyond: Sequence[int]
) -> tuple[tuple[int, bool], ...] | None:
    """The fewest bits, any one of which holds for every setting beyond and for none here."""
    signs = [(bit, is_set) for is_set in (True, False) for bit in bits]
    may = [s for s in signs if not any(_holds(s, setting) for setting in here)]
    for n in range(len(bits) + 1):
        for some in combinations(may, n):
            if all(any(_holds(sign, setting) for sign in some) for setting in beyond):
                return some
    return None


def _holds(sign: tuple[int, bool], setting: int) -> bool:
    bit, is_set = sign
    return bool(setting >> bit - 1 & 1) == is_set


def _mirrors(choice: Choice) -> Iterator[Mirror]:
    for bit in choice.bits:
        rest = tuple(b for b in choice.bits if b != bit)
        for is_set in (False, True):
            table = _mirrored(choice, bit, is_set)
            if rest and table is not None:
                half = Choice(rest, table, choice.n_places)
                if half.weights or half.ladder:
                    yield Mirror(bit, is_set, half)


def _mirrored(choice: Choice, bit: int, wanted: bool) -> Seen | None:
    """What the other bits choose in one state of a bit, if the other state reverses the order."""
    flag, last = 1 << bit - 1, choice.n_places - 1
    found: dict[int, int] = {}
    states = set()
    for setting, at in choice.table.items():
        states.add(is_set := bool(setting & flag))
        here = at if is_set == wanted else last - at
        if found.setdefault(setting & ~flag, here) != here:
            return None
    return found if len(states) == 2 else None


# -- words -----------------------------------------------------------------------------------------


def _sections(roles: Roles, name: Callable[[int], str]) -> Iterator[tuple[str, Iterator[str]]]:
    yield "At first", _general_sentences(roles, name)
    n_readings = len(roles.readings)
    for number, reading in enumerate(roles.readings[:MOST_READINGS_SAID], start=1):
        which = f"Explanation {number} of {n_readings}: " if n_readings > 1 else ""
        yield f"{which}what the bits do", _reading_sentences(roles, reading)
        for what, choice in (("row", reading.rows), ("column", reading.columns)):
            yield f"{which}the {what}", _choice_sentences(what, choice)
        yield f"{which}the rest", _rest_sentences(roles, reading, name)
    yield "With fewer bits", _simpler_sentences(roles)


def _general_sentences(roles: Roles, name: Callable[[int], str]) -> Iterator[str]:
    if roles.strange:
        yield f"Not on the type, and left out: what {_named(roles.strange, name)} print."
    if roles.doubtful:
        yield (
            f"Standing on the type more than once, and so in doubt: {_named(roles.doubtful, name)}."
        )
    if not roles.readings:
        yield from _failure(roles, name)
    if len(roles.readings) > 1:
        yield (
            f"There are {len(roles.readings)} equally small explanations. The codes that were "
            "tried do not tell them apart; type others, or look which bars the levers touch."
        )
        if len(roles.readings) > MOST_READINGS_SAID:
            yield f"The first {MOST_READINGS_SAID} of them:"


def _simpler_sentences(roles: Roles) -> Iterator[str]:
    by_size: dict[int, list[Simpler]] = defaultdict(list)
    for simpler in roles.simpler:
        by_size[len(simpler.rows) + len(simpler.columns)].append(simpler)
    for n_bits, alike in by_size.items():
        one, others = alike[0], len(alike) - 1
        prints = f"{one.n_aside} prints" if one.n_aside > 1 else "one print"
        also = f" ({others} more divisions do as well)" if others else ""
        yield (
            f"With {n_bits} bits, {_jobs(one.rows, one.columns)}, {prints} would have to be set "
            f"aside{also}."
        )
    if by_size:
        yield "A bit that only helps to explain wrong prints is no bit of the decoder."


def _failure(roles: Roles, name: Callable[[int], str]) -> Iterator[str]:
    yield (
        "No division into bits that choose the row and bits that choose the column explains these "
        f"{roles.n_prints} prints: at least {roles.at_least} would have to be set aside."
    )
    for clash in roles.clashes[:MOST_NAMED]:
        one, other = map(name, clash.codes)
        yield (
            f"If {_bit_names(clash.bits)} chose the {clash.what}, {one} and {other} would share "
            f"it, but they print in {clash.what}s {clash.at[0]} and {clash.at[1]}."
        )


def _reading_sentences(roles: Roles, reading: Reading) -> Iterator[str]:
    n_prints = roles.n_prints - len(reading.aside)
    jobs = _jobs(reading.rows.bits, reading.columns.bits)
    yield f"These {n_prints} prints are explained by {jobs}."
    if len(reading.foretold) == n_prints:
        yield "Each of them is foretold by others, and so tests this."
    elif reading.foretold:
        yield f"{len(reading.foretold)} of them are foretold by the others, and so test this."
    else:
        yield "None of them tests this: each is the only one with its setting of the bits."


def _rest_sentences(roles: Roles, reading: Reading, name: Callable[[int], str]) -> Iterator[str]:
    yield from _printing_sentences(reading, name)
    if idle := reading.idle(roles.units):
        yield f"{_bit_names(idle)} {'plays' if len(idle) == 1 else 'play'} no part."
    if reading.aside:
        sure = [code for code in reading.aside if code in reading.surely_aside]
        unsure = [code for code in reading.aside if code not in sure]
        number = len(reading.aside)
        prints = f"{number} prints" if number > 1 else "One print"
        yield f"{prints} must be set aside, and no fewer: {_named(reading.aside, name)}."
        if unsure:
            yield f"For {_named(unsure, name)} it may as well be another that is wrong."


def _jobs(rows: tuple[int, ...], columns: tuple[int, ...]) -> str:
    jobs = [
        f"{_bit_names(bits)} as {what} bit{'s' * (len(bits) > 1)}"
        for what, bits in (("height", rows), ("turning", columns))
        if bits
    ]
    return listed(jobs) or "no bit at all"


def _choice_sentences(what: str, choice: Choice) -> Iterator[str]:
    if not choice.bits:
        yield f"No bit chooses the {what}: all prints stand in one."
        return
    yield f"The {what} is chosen by {_bit_names(choice.bits)}{_table(choice, str)}."
    mirror = choice.mirror
    if choice.weights or (choice.ladder and not mirror):
        yield from _works(what, choice)
    elif mirror:
        yield (
            f"b{mirror.bit} reverses the order of the {what}s; "
            f"while it is {'set' if mirror.is_set else 'not set'}:"
        )
        yield from _works(what, mirror.choice)
    else:
        yield (
            f"The order of the {what}s is neither a sum of weights nor that of stops, "
            "each drawn out by any one of some bits."
        )
        logic = choice.logic()
        if len(logic) <= MOST_STOPS_NAMED:
            said = (f"the one at {place} for {drawn_out}" for place, drawn_out in logic.items())
            yield f"Stops would have to be drawn out otherwise: {'; '.join(said)}."


def _table(choice: Choice, said: Callable[[int], str]) -> str:
    """What is chosen for each setting, if there are not too many."""
    if len(choice.table) > MOST_SETTINGS_NAMED:
        return ""
    return ": " + ", ".join(f"{_setting(s)} {said(at)}" for s, at in choice.table.items())


def _works(what: str, choice: Choice) -> Iterator[str]:
    if weights := choice.weights:
        kind = "binary weights" if weights.binary else "weights"
        yield f"{capitalised(what)} number = {_sum(weights)}: {kind}, as a whiffletree adds them."
    if ladder := choice.ladder:
        yield f"Stops can make it: {_stops_in_words(ladder)}."
    if choice.weights and choice.ladder:
        yield "The prints cannot tell which of the two it is; look under the cover."


def _sum(weights: Weights) -> str:
    by_weight = sorted(weights.of.items(), key=lambda one: abs(one[1]))
    terms = [(w, f"{abs(w)}·b{bit}") for bit, w in by_weight]
    if weights.base or not terms:
        terms.insert(0, (weights.base, str(weights.base)))
    said = " ".join(f"{'−' if w < 0 else '+'} {term}" for w, term in terms)
    return said.removeprefix("+ ")


def _stops_in_words(ladder: Ladder) -> str:
    if len(ladder.stops) > MOST_STOPS_NAMED:
        return f"{len(ladder.stops)} of them, each drawn out by any one of some bits"
    drawn = (
        f"the stop at {stop.at} is drawn out by "
        + listed((f"b{b}" if is_set else f"b{b} not set" for b, is_set in stop.drawn_by), "or")
        for stop in ladder.stops
    )
    said = f"{'; '.join(drawn)}; with all of them out it goes on to {ladder.end}"
    if ladder.shoulder:
        step = str(ladder.step).replace("-", "−")
        said += f"; and b{ladder.shoulder} shifts everything by {step}, as a shoulder does"
    return said


def _printing_sentences(reading: Reading, name: Callable[[int], str]) -> Iterator[str]:
    printing = reading.printing
    if printing.bits:
        said = _table(printing, lambda prints: "yes" if prints else "no")
        yield f"Whether it prints is chosen by {_bit_names(printing.bits)}{said}."
    if bits := reading.only_suppress:
        yield f"{_bit_names(bits)} only {'suppress' if len(bits) > 1 else 'suppresses'} the print."
    if reading.wrongly_silent:
        yield f"Against that print, or do not: {_named(reading.wrongly_silent, name)}."


def _setting(setting: int) -> str:
    return "+".join(f"b{bit}" for bit in _bits(setting)) or "no bit"


def _bit_names(bits: Iterable[int]) -> str:
    return listed(f"b{bit}" for bit in bits)


def _named(codes: Sequence[int], name: Callable[[int], str]) -> str:
    names = [name(code) for code in codes[:MOST_NAMED]]
    return listed([*names, f"{len(codes) - MOST_NAMED} more"] if codes[MOST_NAMED:] else names)
