"""Continuous travel: where every part stands, in mm or degrees, for bars and parts at any place.

The table knows only parts at rest or operated.  Here the same travel laws are read with floats, or
with NumPy over thousands of places at once:

>>> from mechlogic import load
>>> saltmere = load("saltmere")
>>> at = travel_at(saltmere, saltmere.code.parse("K"), moved={"bar1": 2.2})
>>> at["middle_stop"], at["lift_rack"]  # the stop lets go at 3 mm, and so the rack stays at home
(2.75, 0.0)

A machine that is not quite as described is followed in the same way: give the *dimensions* that
are otherwise, see :mod:`mechlogic.model.dimensions`.
"""

import math
from collections.abc import Mapping, Sequence
from fractions import Fraction
from functools import lru_cache, reduce

from mechlogic.explaining.travel import Numbers, walk
from mechlogic.model.laws import Arithmetic, Number
from mechlogic.model.machine import Machine
from mechlogic.model.mechanism import MechanismError, did_you_mean


@lru_cache(maxsize=1)
def arrays() -> Arithmetic:
    """Arithmetic of NumPy arrays; it has no unit of its own."""
    import numpy as np

    return Arithmetic(
        largest=lambda *x: reduce(np.maximum, map(_float, x)),
        smallest=lambda *x: reduce(np.minimum, map(_float, x)),
        where=lambda condition, a, b: np.where(condition, _float(a), _float(b)),
    )


FLOATS = Arithmetic(
    largest=lambda *x: max(map(_float, x)),
    smallest=lambda *x: min(map(_float, x)),
    where=lambda condition, a, b: _float(a if condition else b),
)
"""Arithmetic of floats; it has no unit of its own."""


def _float(number: Number) -> Number:
    """A fraction as a float; an array would else become one of Python objects."""
    return float(number) if isinstance(number, Fraction) else number


def travel_at(
    machine: Machine,
    code: int | Sequence[int],
    moved: Mapping[str, Number] | None = None,
    dimensions: Numbers | None = None,
) -> dict[str, Number]:
    """Displacement of every part, in mm or degrees, for one code or several.

    Every argument may hold NumPy arrays, which are broadcast against one another; the codes, if
    there are several, lie along the first axis and nothing else does.

    Args:
        machine: The machine.
        code: The code that is sent, without parity, or several.
        moved: For parts that stand elsewhere than their law puts them, where: mm or degrees.
        dimensions: Dimensions that differ from the description, by part and key, each in its unit.

    Raises:
        MechanismError: If there is no such part, or a number given for it is not finite.
    """
    given = given_by(machine, code)
    values = (*(moved or {}).values(), *(dimensions or {}).values(), *given.values())
    plain = all(isinstance(value, int | float | Fraction) for value in values)
    for name, place in (moved or {}).items():
        if name not in machine.mechanism.parts:
            known = machine.mechanism.parts
            raise MechanismError(name, "it is not described", did_you_mean(name, known))
        if not _finite(place):
            raise MechanismError(name, "where it stands is no number", "Give mm or degrees.")
    m = FLOATS if plain else arrays()
    return walk(machine.mechanism, given, m, moved, dimensions)


def given_by(machine: Machine, code: int | Sequence[int]) -> dict[str, Number]:
    """For each code bar and key, 1.0 where a code sets it and 0.0 where not; no unit.

    Of several codes, one row each: arrays with one column.
    """
    if isinstance(code, int):
        found = {
            name: float(machine.as_set(code) >> (bar.bit - 1) & 1)
            for name, bar in machine.mechanism.bars.items()
        }
        return found | {n: float(key.code == code) for n, key in machine.mechanism.keys.items()}
    import numpy as np

    codes = np.array(code, dtype=int)[:, None]
    as_set = np.array([machine.as_set(int(one)) for one in code], dtype=int)[:, None]
    bars = machine.mechanism.bars.items()
    rows = {name: (as_set >> (bar.bit - 1) & 1).astype(float) for name, bar in bars}
    keys = machine.mechanism.keys.items()
    return rows | {name: (codes == key.code).astype(float) for name, key in keys}


def _finite(place: Number) -> bool:
    """Whether a number, or every number of an array, is one."""
    if isinstance(place, int | float | Fraction):
        return math.isfinite(place)
    import numpy as np

    return bool(np.all(np.isfinite(place)))
