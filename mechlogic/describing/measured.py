"""What a description's own lengths say of its type: how far each row and column is struck off."""

from collections.abc import Iterator

from mechlogic.model.machine import Machine
from mechlogic.model.outputs import Type, singles, struck_at


def struck_off(machine: Machine) -> tuple[str, ...]:
    """A sentence for each row and column of type that is not struck in its middle.

    Lengths that were measured seldom agree to the last hundredth.  What lies within the window
    prints whole and is no mistake, but it is worth knowing which way it is off.
    """
    types = (one for one in singles(machine.output) if isinstance(one, Type))
    return tuple(says for one in types for says in _off(machine, one))


def _off(machine: Machine, output: Type) -> Iterator[str]:
    for what, part, stations, window in (
        ("row", output.lift, output.rows, output.up),
        ("column", output.turn, output.columns, output.across),
    ):
        places = machine.mechanism.laws[part].places if part else ()
        unit = "°" if part and machine.mechanism.unit(part) == "degrees" else " mm"
        for number, found in enumerate(struck_at(stations, places, window) if part else (), 1):
            for place in found:
                off = places[place] - stations[number - 1]
                if off:
                    yield (
                        f"{what.capitalize()} {number} of the type stands at "
                        f"{float(stations[number - 1]):g}{unit} and is struck at "
                        f"{float(places[place]):g}{unit}, {abs(float(off)):.2g}{unit} "
                        f"{'above' if off > 0 else 'below'} it: within the window."
                    )
