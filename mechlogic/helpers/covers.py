"""Smallest sets and shortest walks that meet every need, with the proof that none is smaller.

Nothing here knows of machines.  A *need* is met by any one of several choices: a fault by any of
the characters that show it.  A set of choices that meets every need is a *cover*; the smallest is
found by integer programming with HiGHS (``scipy.optimize.milp``), which also proves a bound: no
cover is smaller than that.  Without SciPy a quick search finds a small cover, and the bound is a
weaker one.  A *walk* is a sequence, and its choices are steps: this letter after
that one.
"""

from collections.abc import Callable, Collection, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import accumulate, chain, combinations
from math import ceil, inf
from operator import or_
from random import Random
from time import monotonic
from typing import Generic, TypeVar

N = TypeVar("N", bound=Hashable)
C = TypeVar("C", bound=Hashable)
T = TypeVar("T", bound=Hashable)
Step = tuple[C | None, C]
"""A letter and the one before it; before the first letter stands ``None``."""

SECONDS = 60.0
"""How long a search may take unless told otherwise."""

MOST_COLUMNS = 250_000
"""The most unknowns in one integer programme; a larger one is not tried."""

SHORTENINGS = 40
"""How many times letters are left out by chance."""

_ROUNDING = 1e-6
_INFEASIBLE = 2


@dataclass(frozen=True)
class Found(Generic[N, C]):
    """A cover or a walk, and what is proved of it.

    Attributes:
        chosen: The choices or, of a walk, its letters in order.
        bound: Proved: every cover, or walk, that meets these needs has at least so many.
        unmet: The needs that nothing meets; they are left out of account.
        solver: What the solver said last, in its own words.
        gap: Relative gap between the size found and the size proved to be needed; 0 is a proof.
    """

    chosen: tuple[C, ...]
    bound: int
    unmet: tuple[N, ...] = ()
    solver: str = ""
    gap: float = 0.0

    def __len__(self) -> int:
        return len(self.chosen)

    @property
    def proved(self) -> bool:
        """Whether none is smaller."""
        return len(self.chosen) == self.bound


def smallest_cover(
    table: Mapping[N, Collection[C]],
    cost: Callable[[C], float] = lambda _: 0.0,
    seconds: float = SECONDS,
) -> Found[N, C]:
    """The smallest set of choices that meets every need.

    Args:
        table: For each need, the choices that meet it.
        cost: Of equally small sets, one with the least sum of costs is taken, if time allows.
        seconds: How long each of the two searches may take.
    """
    unmet = tuple(need for need, meets in table.items() if not meets)
    needs = _hardest([frozenset(meets) for meets in table.values() if meets])
    choices = tuple(dict.fromkeys(c for meets in table.values() for c in meets))
    if not needs:
        return Found((), 0, unmet, "nothing to meet")
    column = {choice: j for j, choice in enumerate(choices)}
    model = _Model(len(choices))
    for meets in needs:
        model.row((column[choice] for choice in meets), at_least=1)
    smallest = model.solve([1.0] * len(choices), seconds)
    if smallest.x is None:
        greedy = shortened(_greedy_cover(needs, choices), choices, _meeting(needs, tuple))
        bound = max(smallest.bound, _n_apart(needs))
        return Found(greedy, bound, unmet, smallest.says, 1 - bound / len(greedy))
    model.row(range(len(choices)), at_most=len(smallest.x))
    nicest = model.solve([cost(choice) for choice in choices], seconds)
    taken = smallest.x if nicest.x is None else nicest.x
    chosen = tuple(choices[j] for j in taken)
    _held(chosen, needs)
    if len(chosen) > smallest.bound:
        chosen = shortened(chosen, choices, _meeting(needs, tuple))
    return Found(chosen, smallest.bound, unmet, smallest.says, smallest.gap)


def shortest_walk(
    letters: Sequence[C],
    table: Mapping[N, Collection[Step[C]]],
    cost: Callable[[C], float] = lambda _: 0.0,
    seconds: float = SECONDS,
) -> Found[N, C]:
    """The shortest sequence of letters whose steps meet every need.

    First the smallest set of steps, whether or not they hang together, bounds the length from
    below.  Then one integer programme for each length from there on either finds a walk or proves
    that there is none.  When the time is up, the walk is the best one known and ``proved`` is
    false.

    Args:
        letters: What may be sent; any letter may follow any other.
        table: For each need, the steps that meet it; steps with other letters are ignored.
        cost: Of equally short walks, one with the least sum of costs is taken, if time allows.
        seconds: How long the search for a walk may take.

    Raises:
        ValueError: As :func:`greedy_walk`.
    """
    known = set(letters)
    steps = {
        need: frozenset(s for s in meets if s[1] in known and (s[0] is None or s[0] in known))
        for need, meets in table.items()
    }
    unmet = tuple(need for need, meets in steps.items() if not meets)
    needs = _hardest([meets for meets in steps.values() if meets])
    if not needs:
        return Found((), 0, unmet, "nothing to meet")
    apart = smallest_cover(dict(enumerate(_kinds(needs))), seconds=seconds)
    best = shortened(greedy_walk(letters, needs, cost), letters, _meeting(needs, steps_of))
    bound, says = apart.bound, apart.solver
    steps_of_needs = [_Steps.of(need, letters) for need in needs]
    costs = [cost(letter) for letter in letters]
    deadline = monotonic() + seconds
    for length in range(max(bound, 1), len(best) + 1):
        left = deadline - monotonic()
        if left <= 0 or _n_columns(length, len(letters), steps_of_needs) > MOST_COLUMNS:
            break
        answer = _walk_of(length, steps_of_needs, costs, left)
        says = answer.says
        if answer.x is not None:
            best = tuple(letters[j] for j in answer.x)
            _held(steps_of(best), needs)
            break
        if not answer.infeasible:
            break
        bound = length + 1
    return Found(best, bound, unmet, says, 1 - bound / len(best))


def greedy_walk(
    letters: Sequence[C],
    needs: Iterable[Collection[Step[C]]],
    cost: Callable[[C], float] = lambda _: 0.0,
) -> tuple[C, ...]:
    """A walk that meets every need, a step at a time: always the step that meets most at once.

    Where no step meets anything new, the step is taken after which most can be met.  Quick, and
    seldom the shortest.

    Raises:
        ValueError: If a need can be met by the first letter only, and another one was first.
    """
    met: dict[Step[C], int] = {}
    n_needs = 0
    for number, meets in enumerate(needs):
        n_needs += 1
        for step in meets:
            met[step] = met.get(step, 0) | 1 << number
    nicest = sorted(letters, key=cost)
    left, walk = (1 << n_needs) - 1, list[C]()

    def gain(before: C | None, now: C) -> int:
        return (met.get((before, now), 0) & left).bit_count()

    while left:
        before = walk[-1] if walk else None
        now = max(nicest, key=lambda letter: gain(before, letter))
        if not gain(before, now):
            now = max(nicest, key=lambda letter: max(gain(letter, then) for then in nicest))
            if not any(gain(now, then) for then in nicest):
                raise ValueError("a need asks for a first letter and something else was first")
        left &= ~met.get((before, now), 0)
        walk.append(now)
    return tuple(walk)


def shortened(
    walk: Sequence[C], letters: Sequence[C], meets: Callable[[tuple[C, ...]], bool]
) -> tuple[C, ...]:
    """A walk, or a set in any order, made as short as leaving out and replacing can make it.

    Of what comes back no letter and no two letters can be left out, and no two be replaced by one
    in the place of the first.  Letters are left out by chance, several times over, and the
    shortest outcome is taken; the same walk always gives the same one.

    Args:
        walk: What to begin with; it meets what is needed.
        letters: What may replace two others.
        meets: Whether a walk meets all that is needed.
    """
    chance = Random(0)
    best = tuple(walk)
    for _ in range(SHORTENINGS):
        kept = set(range(len(walk)))
        for place in chance.sample(range(len(walk)), len(walk)):
            if meets(tuple(walk[i] for i in sorted(kept - {place}))):
                kept.remove(place)
        best = min(best, tuple(walk[i] for i in sorted(kept)), key=len)
    while shorter := next(filter(meets, _shorter(best, letters)), None):
        best = shorter
    return best


def _shorter(walk: tuple[C, ...], letters: Sequence[C]) -> Iterator[tuple[C, ...]]:
    """The walk with one letter less, with two less, and with one in the place of two."""
    for i in range(len(walk)):
        yield walk[:i] + walk[i + 1 :]
    for i, j in combinations(range(len(walk)), 2):
        between, after = walk[i + 1 : j], walk[j + 1 :]
        yield walk[:i] + between + after
        for letter in letters:
            yield (*walk[:i], letter, *between, *after)


def _meeting(
    needs: Iterable[frozenset[T]], pieces: Callable[[tuple[C, ...]], Iterable[T]]
) -> Callable[[tuple[C, ...]], bool]:
    """Whether the pieces of a walk meet every need."""
    met: dict[T, int] = {}
    every = 0
    for number, need in enumerate(needs):
        every |= 1 << number
        for piece in need:
            met[piece] = met.get(piece, 0) | 1 << number
    return lambda walk: reduce(or_, (met.get(piece, 0) for piece in pieces(walk)), 0) == every


def _n_apart(needs: Iterable[frozenset[C]]) -> int:
    """How many needs, picked one by one, share no choice: each takes a choice of its own."""
    taken, found = set[C](), 0
    for need in sorted(needs, key=len):
        if taken.isdisjoint(need):
            taken |= need
            found += 1
    return found


def all_pairs_walk(letters: Sequence[C]) -> tuple[C, ...]:
    """The shortest walk with every letter after every letter: n² + 1 letters for n.

    It goes round the complete graph by every edge once: a de Bruijn sequence of order 2, the
    first in alphabetical order, put together from Lyndon words (Fredricksen and Maiorana 1978,
    from memory), with its first letter once more at the end.
    """

    def circuit() -> Iterator[C]:
        for i, one in enumerate(letters):
            yield one
            for other in letters[i + 1 :]:
                yield one
                yield other

    return (*circuit(), *letters[:1])


def steps_of(walk: Sequence[C]) -> list[Step[C]]:
    """The steps of a walk, the first from ``None``."""
    return list(zip((None, *walk), walk, strict=False))


def _held(chosen: Collection[C], needs: Iterable[frozenset[C]]) -> None:
    """The solver reckons with rounded numbers; its answer is held against every need once more."""
    if any(need.isdisjoint(chosen) for need in needs):
        raise ArithmeticError(
            "the integer programme's answer does not meet every need: its numbers are too rough. "
            "Please report this with the version of SciPy."
        )


# -- the integer programmes ------------------------------------------------------------------------


@dataclass(frozen=True)
class _Answer:
    """What the solver answered: the unknowns that are 1, if it found any, and what it proved."""

    x: tuple[int, ...] | None
    bound: int
    gap: float
    says: str
    infeasible: bool


class _Model:
    """Unknowns that are 0 or 1, and rows of sums that have to lie between two numbers."""

    def __init__(self, n_columns: int) -> None:
        self.n_columns = n_columns
        self.rows: list[list[tuple[int, float]]] = []
        self.bounds: list[tuple[float, float]] = []

    def row(
        self,
        plus: Iterable[int],
        minus: Iterable[int] = (),
        at_least: float = -inf,
        at_most: float = inf,
    ) -> None:
        self.rows.append([*((column, 1.0) for column in plus), *((c, -1.0) for c in minus)])
        self.bounds.append((at_least, at_most))

    def solve(self, cost: Sequence[float], seconds: float) -> _Answer:
        try:
            import numpy as np
            from scipy.optimize import Bounds, LinearConstraint, milp
            from scipy.sparse import csr_array
        except ImportError:
            return _Answer(None, 0, inf, "SciPy is not installed: nothing was solved", False)

        starts = [0, *accumulate(map(len, self.rows))]
        columns, signs = zip(*chain.from_iterable(self.rows), strict=True)
        rows = csr_array((signs, columns, starts), shape=(len(self.rows), self.n_columns))
        result = milp(
            np.array(cost),
            integrality=np.ones(self.n_columns),
            bounds=Bounds(0, 1),
            constraints=LinearConstraint(rows, *zip(*self.bounds, strict=True)),
            options={"time_limit": seconds, "mip_rel_gap": 0.0},
        )
        x = None if result.x is None else tuple(int(j) for j in np.flatnonzero(result.x > 0.5))
        proved = result.mip_dual_bound
        bound = ceil(proved - _ROUNDING) if proved is not None and proved > -inf else 0
        gap = inf if result.mip_gap is None else float(result.mip_gap)
        return _Answer(x, bound, gap, str(result.message), result.status == _INFEASIBLE)


_Block = tuple[list[int], list[int]]
"""Numbers of letters: a step from any of the first to any of the second."""


@dataclass(frozen=True)
class _Steps:
    """The steps that meet a need, put together from a few blocks.

    A part that must go back, say, needs any letter that moves it and then any that does not: that
    is one block, where the steps are a thousand.

    Attributes:
        first: Numbers of the letters that meet it as the first of a walk.
        blocks: Those that meet it later; letters after which the same ones do stand together.
    """

    first: list[int]
    blocks: list[_Block]

    @classmethod
    def of(cls, need: frozenset[Step[C]], letters: Sequence[C]) -> "_Steps":
        after: dict[tuple[int, ...], list[int]] = {}
        for i, before in enumerate(letters):
            now = tuple(j for j, letter in enumerate(letters) if (before, letter) in need)
            after.setdefault(now, []).append(i)
        first = [j for j, letter in enumerate(letters) if (None, letter) in need]
        return cls(first, [(before, list(now)) for now, before in after.items() if now])


def _n_columns(length: int, n_letters: int, needs: Iterable[_Steps]) -> int:
    return n_letters * length + sum(len(need.blocks) for need in needs) * (length - 1)


def _walk_of(
    length: int, needs: Sequence[_Steps], costs: Sequence[float], seconds: float
) -> _Answer:
    """A walk of exactly this length, as the numbers of its letters in order.

    An unknown for each letter at each place, one of which is 1 at each place.  For each block of a
    need and each place after the first there is one more: it can be 1 only if the letter before is
    among the block's first letters and the letter there among its second ones.
    """
    n = len(costs)
    model = _Model(_n_columns(length, n, needs))
    for place in range(length):
        model.row(range(place * n, (place + 1) * n), at_least=1, at_most=1)
    taken = n * length
    for need in needs:
        meets = list(need.first)
        for place in range(1, length):
            for before, now in need.blocks:
                model.row([taken], ((place - 1) * n + j for j in before), at_most=0)
                model.row([taken], (place * n + j for j in now), at_most=0)
                meets.append(taken)
                taken += 1
        model.row(meets, at_least=1)
    answer = model.solve([*costs] * length + [0.0] * (taken - n * length), seconds)
    if answer.x is None:
        return answer
    walk = tuple(j % n for j in answer.x if j < n * length)
    return _Answer(walk, length, answer.gap, answer.says, False)


def _hardest(needs: Iterable[frozenset[C]]) -> list[frozenset[C]]:
    """The needs without those that are met whenever another one is."""
    hardest: list[frozenset[C]] = []
    for need in sorted(dict.fromkeys(needs), key=len):
        if not any(harder <= need for harder in hardest):
            hardest.append(need)
    return hardest


def _kinds(needs: Sequence[frozenset[C]]) -> list[set[C]]:
    """The needs with one choice in the place of all that meet the same needs."""
    meets: dict[C, list[int]] = {}
    for number, need in enumerate(needs):
        for choice in need:
            meets.setdefault(choice, []).append(number)
    kinds = {tuple(numbers): choice for choice, numbers in meets.items()}
    stand_ins = set(kinds.values())
    return [set(need & stand_ins) for need in needs]


def _greedy_cover(needs: Sequence[frozenset[C]], choices: Sequence[C]) -> tuple[C, ...]:
    left, chosen = list(needs), list[C]()
    while left:
        best = max(choices, key=lambda choice: sum(choice in need for need in left))
        chosen.append(best)
        left = [need for need in left if best not in need]
    return tuple(chosen)
