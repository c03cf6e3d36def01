"""The travel reading in numbers: how far every part moves when the code bars stand anywhere.

The table knows only parts at rest or operated.  Here a bar may stand part-way, and the same
travel laws say how far everything else has moved.
"""

from collections.abc import Mapping
from fractions import Fraction

from mechlogic.laws import PLAIN, Number
from mechlogic.mechanism import Mechanism, MechanismError, did_you_mean


def positions(mechanism: Mechanism, bars: Mapping[str, Number]) -> dict[str, Number]:
    """Displacement of every part, in mm or degrees.

    Args:
        mechanism: The mechanism.
        bars: Displacement of each code bar in mm; a bar left out stands at rest.

    Raises:
        MechanismError: If a name is no code bar, or a bar is moved beyond its stroke.
    """
    for name, place in bars.items():
        if name not in mechanism.bars:
            raise MechanismError(name, "it is no code bar", did_you_mean(name, mechanism.bars))
        if not 0 <= place <= mechanism.laws[name].full:
            stroke = float(mechanism.laws[name].full)
            mend = f"Its stroke is {stroke:g} mm."
            raise MechanismError(name, f"it cannot stand at {float(place):g} mm", mend)
    x: dict[str, Number] = {}
    for part in mechanism:
        if part.name in mechanism.bars:
            x[part.name] = bars.get(part.name, Fraction(0))
        else:
            inputs = part.joint.inputs
            full = [mechanism.laws[name].full for name in inputs]
            x[part.name] = part.joint.travel([x[name] for name in inputs], full, PLAIN)
    return x
