"""The travel reading in numbers: how far every part moves when bars or keys stand anywhere.

The table knows only parts at rest or operated.  Here a bar may stand part-way, and the same
travel laws say how far everything else has moved.
"""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from mechlogic.helpers.kept import kept
from mechlogic.model.dimensions import BACKLASH, OFFSETS, Key, in_floats, resized
from mechlogic.model.laws import PLAIN, Arithmetic, Number
from mechlogic.model.mechanism import Mechanism, MechanismError, Part, did_you_mean

Numbers = Mapping[Key, Number]
"""For some dimensions, a value in the dimension's own unit: mm, degrees or a plain ratio."""


def positions(mechanism: Mechanism, bars: Mapping[str, Number]) -> dict[str, Number]:
    """Displacement of every part, in mm or degrees.

    Args:
        mechanism: The mechanism.
        bars: Displacement of each code bar or key in mm; one left out stands at rest.  Latches
            stood at rest before.

    Raises:
        MechanismError: If a name is no code bar and no key, or one is moved beyond its stroke.
    """
    given = [part.name for part in mechanism if part.joint.given]
    for name, place in bars.items():
        if name not in given:
            raise MechanismError(name, "it is no code bar and no key", did_you_mean(name, given))
        if not 0 <= place <= mechanism.laws[name].full:
            stroke = float(mechanism.laws[name].full)
            mend = f"Its stroke is {stroke:g} mm."
            raise MechanismError(name, f"it cannot stand at {float(place):g} mm", mend)
    rest = {n: mechanism.laws[n].places[mechanism.rest[n]] for n in mechanism.latches}
    shares = dict.fromkeys(given, Fraction(0))
    return walk(mechanism, shares, PLAIN, moved=bars, before=rest, exact=True)


def walk(
    mechanism: Mechanism,
    given: Mapping[str, Number],
    m: Arithmetic,
    moved: Mapping[str, Number] | None = None,
    dimensions: Numbers | None = None,
    before: Mapping[str, Number] | None = None,
    parts: Sequence[str] | None = None,
    exact: bool = False,
) -> dict[str, Number]:
    """Go through the parts in working order and ask each law where its part stands.

    Args:
        mechanism: The mechanism.
        given: For each code bar and key, the share of its stroke that it is set to, 0 to 1.
        m: Arithmetic of the numbers.
        moved: For parts that stand elsewhere than their law puts them, where: mm or degrees.
        dimensions: Dimensions that differ from the description, each in its own unit.
        before: Where each latch stood before, in mm; one left out stood at rest.
        parts: The parts that are wanted; all of them if left out.
        exact: Whether dimensions and full travels go in as fractions, not as floats.

    Returns:
        Displacement of every part that is wanted, or is needed for one, in mm or degrees.
    """
    moved, before, built = moved or {}, before or {}, _built(mechanism, dimensions or {}, exact)
    wanted = _needed(mechanism, tuple(parts)) if parts is not None else None
    x: dict[str, Number] = {}
    for name, part in built.items():
        if wanted is not None and name not in wanted:
            continue
        if name in moved:
            x[name] = moved[name]
            continue
        joint: Any = part.joint
        if joint.given:
            place = given[name] * joint.stroke
        else:
            inputs = [x[other] for other in joint.inputs]
            if joint.remembers:
                inputs.append(before.get(name, Fraction(0) if exact else 0.0))
            place = part.travel(inputs, _full(mechanism, name, exact), m)
        for key in (*OFFSETS, BACKLASH):
            if dimensions and (name, key) in dimensions:
                place = place + dimensions[name, key]
        x[name] = place
    return x


def _built(mechanism: Mechanism, dimensions: Numbers, exact: bool) -> Mapping[str, Part]:
    """The parts as built."""
    usual = mechanism.parts if exact else _as_described(mechanism)
    if not dimensions:
        return usual
    changed: dict[str, dict[str, Number]] = {}
    for (part, key), value in dimensions.items():
        changed.setdefault(part, {})[key] = value
    return {name: resized(p, changed[name]) if name in changed else p for name, p in usual.items()}


@kept(64)
def _as_described(mechanism: Mechanism) -> Mapping[str, Part]:
    return {part.name: in_floats(part) for part in mechanism}


@kept(4096)
def _full(mechanism: Mechanism, name: str, exact: bool) -> tuple[Any, ...]:
    full = (mechanism.laws[other].full for other in mechanism[name].joint.inputs)
    return tuple(full) if exact else tuple(map(float, full))


@kept(256)
def _needed(mechanism: Mechanism, parts: tuple[str, ...]) -> frozenset[str]:
    return frozenset().union(*(mechanism.upstream(name) for name in parts))
