"""Tolerances: what every dimension being a little off does to each character.

Three answers to "how far off can it be?", each with its own use:

* **worst case**: every dimension at whichever end of its tolerance makes things worse.  Nothing
  that was built to the drawing is worse.  For laws that run one way in each dimension, as levers,
  stops and racks do, it is found from many corners, moving one dimension at a time until
  none makes it worse.
* **root sum of squares**: the tolerances times their sensitivities, squared, added, and the root
  taken.  Where no dimension dominates, about as seldom exceeded as a single tolerance is.
* **Monte Carlo**: many machines, each dimension drawn by lot, followed by the very laws themselves.

The first two are handbook practice (machine-design handbooks, from memory).  Results are in mm for
the lift and the shift, in degrees for the turn.

A *sensitivity* is how many mm (or degrees) the type is off for each mm (or degree, or unit of a
ratio) that a dimension is off.  SymPy differentiates the travel laws themselves.  Where the larger
of two pushers changes, or a contact is just about to part, there is no one derivative: then there
are two, one on each side, and both are given.  A stop that lets go is worse than that: the type
jumps.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from mechlogic.explaining.travel import walk
from mechlogic.fit.hammer import SLACK, Aim, aims, distinct, errors, printing, targets
from mechlogic.fit.linkage import arrays, given_by
from mechlogic.helpers.kept import kept
from mechlogic.model.dimensions import Dimension, Key, dimensions
from mechlogic.model.laws import Arithmetic, Number
from mechlogic.model.machine import Machine
from mechlogic.model.mechanism import did_you_mean

MACHINES = 100_000
"""How many machines are built by lot, if nothing else is said; a count."""

CHUNK = 5_000
"""How many of them are followed at a time, so that their numbers stay near the processor; a
count."""

CORNERS = 15
"""From how many corners, drawn by lot, the search for a worst case starts; a count."""

MOST_ROUNDS = 20
"""How often the search for a worst case goes through all dimensions before it stops; a count."""


def toleranced(machine: Machine) -> tuple[Dimension, ...]:
    """The dimensions with a tolerance, each in its own unit."""
    return tuple(one for one in dimensions(machine) if one.tolerance)


# -- the three answers -----------------------------------------------------------------------------


@dataclass(frozen=True)
class Spread:
    """How far off one character can be in one direction.

    Attributes:
        code: The code, without parity.
        aim: The direction: ``"lift"``, ``"turn"`` or ``"shift"``.
        unit: The unit of what follows: ``"mm"`` or ``"degrees"``.
        lowest, highest: The worst case on either side, in *unit*.
        statistical: The root sum of squares, either way, in *unit*.
    """

    code: int
    aim: str
    unit: str
    lowest: float
    highest: float
    statistical: float


def spreads(machine: Machine, codes: Sequence[int] | None = None) -> tuple[Spread, ...]:
    """Worst case and root sum of squares of every character, in mm or degrees.

    The root sum of squares knows slopes only.  Where a stop may let go within its tolerances, go by
    the worst case and by :func:`build`.

    Args:
        machine: The machine.
        codes: The codes, without parity; all that print a character if left out.
    """
    codes = printing(machine) if codes is None else tuple(codes)
    found = toleranced(machine)
    found_slopes = slopes(machine, codes, found)
    result = []
    for aim in aims(machine):
        low, high = (_worst(machine, aim, codes, found, side) for side in (-1.0, 1.0))
        steps = found_slopes[aim.name] * _tolerances(found)
        square = (steps**2).max(axis=0).sum(axis=-1) ** 0.5
        result += [
            Spread(code, aim.name, aim.unit, float(low[i]), float(high[i]), float(square[i]))
            for i, code in enumerate(codes)
        ]
    return tuple(result)


def _tolerances(found: Sequence[Dimension]) -> Any:
    import numpy as np

    return np.array([float(one.tolerance) for one in found])


def slopes(
    machine: Machine,
    codes: Sequence[int],
    found: Sequence[Dimension],
) -> dict[str, Any]:
    """Sensitivities by small steps of a millionth, quick and good enough to adjust by.

    They are in mm or degrees for each unit of the dimension.  For exact ones see
    :func:`sensitivities`.

    Args:
        machine: The machine.
        codes: The codes, without parity.
        found: The dimensions.

    Returns:
        For each direction an array of two sides (a little less, a little more), codes, dimensions.
    """
    import numpy as np

    step, n = 1e-6, len(found)
    values = {}
    for i, one in enumerate(found):
        column = np.full(2 * n + 1, float(one.nominal))
        column[i] -= step
        column[n + i] += step
        values[one.name] = column
    off = errors(machine, codes, values)
    result = {}
    for name, rows in off.items():
        rows = np.broadcast_to(rows, (len(codes), 2 * n + 1))
        middle = rows[:, -1:]
        below, above = (middle - rows[:, :n]) / step, (rows[:, n : 2 * n] - middle) / step
        both = np.stack([below, above])
        result[name] = np.where(np.abs(both) > 1e4, 0.0, np.round(both, 7))  # a jump is no slope
    return result


def _worst(
    machine: Machine, aim: Aim, codes: Sequence[int], found: Sequence[Dimension], side: float
) -> Any:
    """The furthest that each code can be off on one side, mm or degrees.

    Each dimension in turn goes to the end that is worse than its other end, even if that is no
    worse than it was: where two blockers are level, neither alone lets go what both hold.  Where
    it makes no difference now, it may once others have moved; so the search starts from many
    corners, and from the drawing.
    """
    import numpy as np

    ends = _tolerances(found)
    corners = np.random.default_rng(0).choice([-1.0, 1.0], (len(codes), CORNERS, len(found)))
    at = ends * np.concatenate([np.zeros((len(codes), 1, len(found))), corners], axis=1)
    best = _off(machine, aim, codes, found, at)
    for _ in range(MOST_ROUNDS):
        before = at.copy()
        for i in range(len(found)):
            low, high = at.copy(), at.copy()
            low[..., i], high[..., i] = -ends[i], ends[i]
            at_low, at_high = (_off(machine, aim, codes, found, tried) for tried in (low, high))
            for end, off, other in ((-ends[i], at_low, at_high), (ends[i], at_high, at_low)):
                worse = side * (off - best) > SLACK
                as_bad = side * (off - best) >= -SLACK
                moves = worse | (as_bad & (side * (off - other) > SLACK))
                at[moves, i], best[moves] = end, off[moves]
        if np.array_equal(at, before):
            break
    return side * (side * best).max(axis=1)


def _off(
    machine: Machine, aim: Aim, codes: Sequence[int], found: Sequence[Dimension], at: Any
) -> Any:
    """How far each code is off, mm or degrees, in machines of its own: codes, machines."""
    import numpy as np

    values = {one.name: float(one.nominal) + at[..., i] for i, one in enumerate(found)}
    return np.broadcast_to(_errors(machine, aim, codes, values), at.shape[:2]).copy()


def _errors(machine: Machine, aim: Aim, codes: Sequence[int], values: Mapping[Key, Number]) -> Any:
    """How far off each code is in one direction, a row each, mm or degrees."""
    import numpy as np

    above = machine.mechanism.upstream(aim.part)
    some = {key: value for key, value in values.items() if key[0] in above}
    x = walk(
        machine.mechanism, given_by(machine, codes), arrays(), dimensions=some, parts=(aim.part,)
    )
    return x[aim.part] - np.array(targets(machine, aim, codes))[:, None]


# -- Monte Carlo -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Built:
    """What came of many machines built by lot.

    Attributes:
        codes: The codes, without parity.
        machines: How many machines were built, a count.
        clean: For each code, the share of machines that print it whole, 0 to 1.
        all_clean: The share of machines that print every character whole, 0 to 1.
        sigma: For each direction, the standard deviation of each code's error, mm or degrees.
        mean: For each direction, the mean of each code's error, mm or degrees.
        within: For each direction, the error (either way) that 99.73 % of the machines stay
            within, mm or degrees; three standard deviations of a normal spread.
    """

    codes: tuple[int, ...]
    machines: int
    clean: tuple[float, ...]
    all_clean: float
    sigma: Mapping[str, tuple[float, ...]]
    mean: Mapping[str, tuple[float, ...]]
    within: Mapping[str, tuple[float, ...]]


def draw(
    machine: Machine,
    n: int,
    seed: int = 0,
    spread: str = "normal",
    worn: float = 1.0,
) -> dict[Key, Any]:
    """The dimensions of machines built by lot, each in its own unit.

    Args:
        machine: The machine.
        n: How many machines, a count.
        seed: Where the lots begin; the same seed draws the same machines.
        spread: ``"normal"``, a tolerance being three standard deviations (common practice, no
            source), or ``"uniform"``, everything within the tolerance being as likely.
        worn: By what the tolerances are multiplied; a plain ratio.
    """
    import numpy as np

    lots = np.random.default_rng(seed)
    found = {}
    for one in toleranced(machine):
        tolerance = worn * float(one.tolerance)
        if spread == "normal":
            off = lots.standard_normal(n) * (tolerance / 3)
        elif spread == "uniform":
            off = lots.uniform(-tolerance, tolerance, n)
        else:
            raise ValueError(f'no spread is called {spread!r}. Give "normal" or "uniform".')
        found[one.name] = float(one.nominal) + off
    return found


def build(
    machine: Machine,
    n: int = MACHINES,
    seed: int = 0,
    spread: str = "normal",
    worn: float = 1.0,
) -> Built:
    """Build machines by lot and see how they print; errors in mm or degrees.

    Args:
        machine: The machine.
        n: How many machines, a count.
        seed: Where the lots begin.
        spread: As in :func:`draw`.
        worn: By what the tolerances are multiplied; a plain ratio.
    """
    import numpy as np

    codes = printing(machine)
    values = draw(machine, n, seed, spread, worn)
    clean = np.zeros(len(codes))
    all_clean = 0
    kept: dict[str, list[Any]] = {aim.name: [] for aim in aims(machine)}
    rows: dict[str, Any] = {}
    for start in range(0, n, CHUNK):
        some = {key: value[start : start + CHUNK] for key, value in values.items()}
        width = min(CHUNK, n - start)
        whole = np.ones((len(codes), width), dtype=bool)
        for aim in aims(machine):
            few, row, off = distinct_errors(machine, aim, codes, some)
            off = np.broadcast_to(off, (len(few), width))
            whole &= (np.abs(off) <= float(aim.window.whole) + SLACK)[row]
            kept[aim.name].append(off)
            rows[aim.name] = row
        clean += whole.sum(axis=1)
        all_clean += int(whole.all(axis=0).sum())
    sigma, mean, within = {}, {}, {}
    for name, pieces in kept.items():
        off, row = np.concatenate(pieces, axis=1), rows[name]
        sigma[name] = _tuple(off.std(axis=1)[row])
        mean[name] = _tuple(off.mean(axis=1)[row])
        place = min(n - 1, int(0.9973 * n))
        within[name] = _tuple(np.partition(np.abs(off), place, axis=1)[:, place][row])
    return Built(codes, n, _tuple(clean / n), all_clean / n, sigma, mean, within)


def distinct_errors(
    machine: Machine, aim: Aim, codes: Sequence[int], values: Mapping[Key, Number]
) -> tuple[tuple[int, ...], Any, Any]:
    """Errors in one direction, mm or degrees, worked out once for codes that are set alike.

    Returns:
        The codes that differ, for each code the number of its like among them, and the errors of
        these, one row each.
    """
    import numpy as np

    few, row = distinct(machine, aim.part, tuple(codes))
    return few, np.array(row), _errors(machine, aim, few, values)


def _tuple(array: Any) -> tuple[float, ...]:
    return tuple(float(one) for one in array)


# -- exact sensitivities ---------------------------------------------------------------------------


@dataclass(frozen=True)
class Sensitivity:
    """What one dimension does to one character in one direction.

    Attributes:
        dimension: The dimension.
        aim: The direction: ``"lift"``, ``"turn"`` or ``"shift"``.
        below, above: The derivative if the dimension is a little smaller, and a little larger, in
            the direction's unit for each unit of the dimension; exact, a SymPy number.
        jumps: How far the type jumps, in the direction's unit, if it is a little smaller or larger
            by however little; 0 nearly always.
    """

    dimension: Dimension
    aim: str
    below: Any
    above: Any
    jumps: tuple[Any, Any] = (0, 0)

    @property
    def smooth(self) -> bool:
        """Whether there is one derivative, of whatever unit, and no jump."""
        return bool(self.below == self.above and not any(self.jumps))

    @property
    def most(self) -> float:
        """The larger of the two derivatives, without its sign, same unit as they have."""
        return max(abs(float(self.below)), abs(float(self.above)))

    @property
    def contributes(self) -> float:
        """What it adds to the error if it is off by its whole tolerance, in mm or degrees."""
        return self.most * float(self.dimension.tolerance) + max(
            abs(float(jump)) for jump in self.jumps
        )


def sensitivities(machine: Machine, code: int) -> tuple[Sensitivity, ...]:
    """Exact sensitivities of one character, those that matter most first.

    Those of all dimensions that have a tolerance or an adjustment.

    A travel law is walked with a SymPy symbol in the place of every dimension.  Its maxima, minima
    and stops are decided at the described dimensions, a little below and a little above, so that
    what is left can be differentiated.

    Args:
        machine: The machine.
        code: The code, without parity.

    Returns:
        Those that are not zero, in mm or degrees for each unit of the dimension.
    """
    found = tuple(d for d in dimensions(machine) if d.tolerance or d.adjusts)
    result = []
    for aim in aims(machine):
        above = machine.mechanism.upstream(aim.part)
        mine = tuple(one for one in found if one.part in above)
        given = given_by(machine, code)
        setting = tuple((n, v) for n, v in given.items() if n in above)
        result += [s for s in _exact(machine, aim, setting, mine) if s.contributes or s.most]
    return tuple(sorted(result, key=lambda s: (-s.contributes, s.dimension.name)))


@kept(512)
def _exact(
    machine: Machine,
    aim: Aim,
    setting: tuple[tuple[str, float], ...],
    found: tuple[Dimension, ...],
) -> tuple[Sensitivity, ...]:
    """The sensitivities of the part that is aimed, for one setting of the bars above it."""
    import sympy

    from mechlogic.explaining.formulas import exact

    symbols = {one.name: sympy.Dummy(".".join(one.name), real=True) for one in found}
    nominal = {symbols[one.name]: exact(one.nominal) for one in found}
    given = {name: sympy.Integer(int(value)) for name, value in setting}

    def place(side: "_Side") -> Any:
        x = walk(
            machine.mechanism,
            given,
            side.arithmetic(),
            dimensions=symbols,
            parts=(aim.part,),
            exact=True,
        )
        return sympy.sympify(x[aim.part])

    middle = _Side(nominal)
    formula = place(middle)
    at = formula.subs(nominal)
    result = []
    for one in found:
        symbol = symbols[one.name]
        if symbol not in middle.tied:
            slope = sympy.diff(formula, symbol).subs(nominal)
            result.append(Sensitivity(one, aim.name, slope, slope))
            continue
        formulas = [place(_Side(nominal, symbol, sign)) for sign in (-1, 1)]
        below, above = (sympy.diff(f, symbol).subs(nominal) for f in formulas)
        jumps = tuple(f.subs(nominal) - at for f in formulas)
        result.append(Sensitivity(one, aim.name, below, above, (jumps[0], jumps[1])))
    return tuple(result)


class _Side:
    """Decides maxima, minima and conditions at the described dimensions, or just beside them.

    Args:
        nominal: For each symbol its described value.
        symbol: The dimension that is a little off.
        sign: Whether it is smaller (−1) or larger (1).
    """

    def __init__(self, nominal: Mapping[Any, Any], symbol: Any = None, sign: int = 0) -> None:
        self.nominal, self.symbol, self.sign = nominal, symbol, sign
        self.tied: set[Any] = set()

    def arithmetic(self) -> Arithmetic:
        return Arithmetic(
            largest=lambda *x: self._furthest(x, 1),
            smallest=lambda *x: self._furthest(x, -1),
            where=self._where,
        )

    def _furthest(self, x: Sequence[Any], way: int) -> Any:
        best = x[0]
        for other in x[1:]:
            if self._compare(other, best) == way:
                best = other
        return best

    def _where(self, condition: Any, a: Any, b: Any) -> Any:
        import sympy

        if isinstance(condition, sympy.core.relational.Relational):
            order = self._compare(condition.lhs, condition.rhs)
            strict = isinstance(condition, sympy.StrictLessThan | sympy.StrictGreaterThan)
            less = isinstance(condition, sympy.StrictLessThan | sympy.LessThan)
            holds = order == (-1 if less else 1) or (order == 0 and not strict)
            return a if holds else b
        return a if bool(condition) else b

    def _compare(self, a: Any, b: Any) -> int:
        """Whether a number is less (−1), the same (0) or more (1) than another one."""
        import sympy

        apart = sympy.sympify(a) - sympy.sympify(b)
        value = apart.subs(self.nominal)
        if value == 0:
            self.tied |= apart.free_symbols
            if self.symbol is not None:
                value = self.sign * sympy.diff(apart, self.symbol).subs(self.nominal)
        return int(sympy.sign(value))


# -- what matters ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Share:
    """How much of the spread of a machine one dimension is to blame for.

    Attributes:
        dimension: The dimension.
        aim: The direction: ``"lift"``, ``"turn"`` or ``"shift"``.
        worst: Its sensitivity at the character it harms most, in the direction's unit for each
            unit of the dimension.
        share: Its part in the sum of squares over all characters, 0 to 1.
        characters: How many characters it moves at all, a count.
    """

    dimension: Dimension
    aim: str
    worst: float
    share: float
    characters: int


def what_matters(machine: Machine) -> tuple[Share, ...]:
    """Which dimensions matter most in each direction, sensitivities in mm or degrees a unit."""
    found = toleranced(machine)
    result = []
    for name, both in slopes(machine, printing(machine), found).items():
        slope = abs(both).max(axis=0)
        squares = ((slope * _tolerances(found)) ** 2).sum(axis=0)
        total = float(squares.sum()) or 1.0
        result += [
            Share(
                one,
                name,
                float(slope[:, i].max()),
                float(squares[i]) / total,
                int((slope[:, i] > 0).sum()),
            )
            for i, one in enumerate(found)
            if squares[i]
        ]
    return tuple(sorted(result, key=lambda share: -share.share))


@dataclass(frozen=True)
class Reading:
    """A character to look at, and how well it tells one stop from wear.

    Attributes:
        code: The code of the character that is looked at, without parity.
        aim: The direction that is measured: ``"lift"``, ``"turn"`` or ``"shift"``.
        unit: ``"mm"`` or ``"degrees"``.
        limit: An error above this, in *unit* and either way, speaks for *above*.
        above: ``"one dimension"`` or ``"everything worn"``: what a large error speaks for.
        right: How often that verdict is right if both are as likely, a share: 0.5 (no use) to 1.
    """

    code: int
    aim: str
    unit: str
    limit: float
    above: str
    right: float


def telling_readings(
    machine: Machine,
    suspect: Key,
    seen: int,
    worn: float = 4.0,
    n: int = 5_000,
    seed: int = 0,
) -> tuple[Reading, ...]:
    """Which reading tells one dimension out of adjustment from a machine that is worn throughout.

    Two lots of machines are built: in one the suspect alone is anywhere within four times what it
    takes to clip (and all else within tolerance), in the other every tolerance is *worn* times as
    wide.  Of both only those are kept that clip the character *seen* in a direction in which the
    suspect moves it; then every character is tried for what its error tells.

    Args:
        machine: The machine.
        suspect: The dimension that may be out of adjustment, by part and key.
        seen: The code of a character that is clipped.
        worn: How many times the tolerances are exceeded by wear; a plain ratio.
        n: How many machines of each lot, a count.
        seed: Where the lots begin.

    Returns:
        The readings, the most telling first, limits in mm or degrees.

    Raises:
        ValueError: If the suspect cannot clip that character, or no machine is left to compare.
    """
    import numpy as np

    codes, directions = printing(machine), aims(machine)
    every = {one.name: one for one in dimensions(machine)}
    if suspect not in every:
        name = " ".join(suspect)
        hint = did_you_mean(name, map(" ".join, every))
        raise ValueError(f"{machine.title} has no dimension {name}. {hint}")
    slope = slopes(machine, (seen,), (every[suspect],))
    moved = {
        aim: float(aim.window.whole) / most
        for aim in directions
        if (most := float(abs(slope[aim.name]).max())) > 0
    }
    if not moved:
        name = machine.code.name(seen)
        mend = "Take a dimension of a part that works for it."
        raise ValueError(f"{suspect[0]} {suspect[1]} does not move {name}. {mend}")
    lots = np.random.default_rng(seed)
    one = draw(machine, n, seed + 1)
    off = lots.uniform(-4.0, 4.0, n) * min(moved.values())
    one[suspect] = float(every[suspect].nominal) + off
    all_worn = draw(machine, n, seed + 2, worn=worn)
    found = [_of_clipped(machine, codes, values, seen, list(moved)) for values in (one, all_worn)]
    if min(errors_.shape[-1] for lot in found for errors_ in lot.values()) < 20:
        raise ValueError("hardly any machine clips that character. Make worn or n larger.")
    readings = [
        _reading(code, aim, found[0][aim.name][i], found[1][aim.name][i])
        for aim in directions
        for i, code in enumerate(codes)
    ]
    return tuple(sorted(readings, key=lambda reading: -reading.right))


def _of_clipped(
    machine: Machine,
    codes: Sequence[int],
    values: Mapping[Key, Any],
    seen: int,
    directions: Sequence[Aim],
) -> dict[str, Any]:
    """Errors, without sign, of the machines that clip one character in one of the directions."""
    import numpy as np

    off = {name: np.abs(rows) for name, rows in errors(machine, codes, values).items()}
    at = list(codes).index(seen)
    whole = [off[aim.name][at] <= float(aim.window.whole) + SLACK for aim in directions]
    clipped = ~np.logical_and.reduce(whole)
    return {
        name: np.broadcast_to(rows, (len(codes), len(clipped)))[:, clipped]
        for name, rows in off.items()
    }


def _reading(code: int, aim: Aim, one: Any, worn: Any) -> Reading:
    """The best limit between two lots of errors: the one with the fewest wrong verdicts."""
    import numpy as np

    limits = np.unique(np.quantile(np.concatenate([one, worn]), np.linspace(0, 1, 201)))
    above_one = (one[None, :] > limits[:, None]).mean(axis=1)
    above_worn = (worn[None, :] > limits[:, None]).mean(axis=1)
    gain = above_worn - above_one
    best = int(np.abs(gain).argmax())
    above = "everything worn" if gain[best] >= 0 else "one dimension"
    right = 0.5 + abs(float(gain[best])) / 2
    return Reading(code, aim.name, aim.unit, float(limits[best]), above, right)
