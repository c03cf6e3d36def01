"""The travel reading in numbers: how far every part moves when bars or keys stand anywhere.

The table knows only parts at rest or operated.  Here a bar may stand part-way, and the same
travel laws say how far everything else has moved.
"""

from collections.abc import Mapping
from fractions import Fraction

from mechlogic.model.laws import PLAIN, Number
from mechlogic.model.mechanism import Mechanism, MechanismError, did_you_mean


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
    x: dict[str, Number] = {}
    for part in mechanism:
        if part.joint.given:
            x[part.name] = bars.get(part.name, Fraction(0))
        else:
            inputs = part.joint.inputs
            full = [mechanism.laws[name].full for name in inputs]
            found = [x[name] for name in inputs]
            if part.joint.remembers:
                found.append(mechanism.laws[part.name].places[mechanism.rest[part.name]])
            x[part.name] = part.travel(found, full, PLAIN)
    return x
