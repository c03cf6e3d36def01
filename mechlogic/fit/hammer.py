"""Where the type stands when the hammer strikes, and what is then seen of each character.

Errors are what a part's place differs from what the code asks for: positive where the type stands
too high, or has been turned or pushed too far.

Which side of a character is lost?  The hammer, or the strip of platen that it meets, stands still
and is a little larger than a character.  What of the type lies beyond its edge is not struck.
Seen as the reader of the paper sees it::

    in its place          the wheel too low         the wheel too high
    +-------+             +-------+                 +-#####-+  <- upper edge: the top of the
    | ##### |  hammer     |       |                 | #     |     letter lies beyond it and
    | #     |  face       | ##### |                 | ###   |     is lost
    | ###   |             | #     |                 | #     |
    | ##### |             | ###   |                 | ##### |
    +-------+             +-#####-+  <- lower edge  +-------+

Type is cut as a mirror image, left for right but not top for bottom, so the upper edge of the type
prints the upper edge of the letter.  **A wheel that stands too low loses the bottom of its
characters; one that stands too high loses the top.**  Sideways it is the same: type that stands too
far to the reader's right loses its right side.  Here turn and shift count positive where they carry
the type at the hammer to the reader's right; whoever describes a machine that goes the other way
writes its angles with the other sign.

All this is reasoning from the geometry; there is no source.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from mechlogic.explaining.travel import Numbers, walk
from mechlogic.fit.linkage import FLOATS, arrays, given_by
from mechlogic.helpers.kept import kept
from mechlogic.helpers.refusal import Refusal
from mechlogic.helpers.sentences import listed
from mechlogic.model.logbook import NOTHING, UNREADABLE
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import Type, Window, singles
from mechlogic.model.table import place_in_row

SLACK = 1e-9
"""Rounding of floats that is forgiven at the edge of a window, in mm or degrees."""

WHOLE, CLIPPED = "whole", "clipped"
"""What is seen of a character in its window, and a little outside; otherwise it is unreadable."""


class HammerError(Refusal):
    """A machine about whose printing nothing can be said in mm."""


@dataclass(frozen=True)
class Aim:
    """One direction in which type must stand right.

    Attributes:
        name: ``"lift"``, ``"turn"`` or ``"shift"``.
        part: The part whose place it is.
        unit: ``"mm"`` or ``"degrees"``.
        stations: The places at which there is type, in *unit*.
        window: How far off it may be, in *unit*.
        sides: The side that is lost below the window, and the one above it.
    """

    name: str
    part: str
    unit: str
    stations: tuple[float, ...]
    window: Window
    sides: tuple[str, str]


@dataclass(frozen=True)
class Strike:
    """One character at the hammer.

    Attributes:
        code: The code that is sent, without parity.
        asked: The character that belongs to it.
        errors: For each direction, how far the type is from where the code asks for it: mm or
            degrees.
        seen: What is seen: whole, clipped or unreadable.
        printed: The character that can be made out, or :data:`~mechlogic.model.logbook.UNREADABLE`.
        clipped: The sides that are lost, if any: ``"top"``, ``"bottom"``, ``"left"``, ``"right"``.
        lost: The share of the character that is lost, 0 to 1, the worse of the two directions.
    """

    code: int
    asked: str
    errors: Mapping[str, float]
    seen: str
    printed: str
    clipped: tuple[str, ...]
    lost: float


def type_of(machine: Machine) -> Type:
    """The type of a machine, which has no unit.

    Raises:
        HammerError: If it prints with no wheel, block or bar of type.
    """
    found = next((one for one in singles(machine.output) if isinstance(one, Type)), None)
    if found is None:
        what = f"{machine.title} has no wheel, block or bar of type"
        raise HammerError(what, "Places at the hammer are those of type that is brought there.")
    return found


@kept(64)
def aims(machine: Machine) -> tuple[Aim, ...]:
    """The directions in which a machine's type must stand right, with their windows and units.

    Raises:
        HammerError: If it has no type, or its description says nothing of the windows.
    """
    type_ = type_of(machine)
    found = []
    for way in type_.directions:
        if not way.part:
            continue
        if way.window is None:
            off = f"how far off its {way.name} may be"
            what = f"the description of {machine.title} does not say {off}"
            raise HammerError(what, f"Add {listed(way.window_keys)}.")
        unit, stations = machine.mechanism.unit(way.part), tuple(map(float, way.stations))
        sides = ("bottom", "top") if way.name == "lift" else ("left", "right")
        found.append(Aim(way.name, way.part, unit, stations, way.window, sides))
    return tuple(found)


@kept(64)
def printing(machine: Machine) -> tuple[int, ...]:
    """The codes that print a character of their own, without parity; no unit."""
    return tuple(c for c in machine.printing_codes if machine.good_print(c) != NOTHING)


def targets(machine: Machine, aim: Aim, codes: Sequence[int]) -> tuple[float, ...]:
    """Where the type should stand for each code, in the unit of the direction."""
    law, columns = machine.mechanism.laws[aim.part], machine.healthy.places[aim.part]
    return tuple(float(law.places[place_in_row(columns, machine.as_set(c))]) for c in codes)


def errors(
    machine: Machine,
    codes: Sequence[int],
    dimensions: Numbers | None = None,
) -> dict[str, Any]:
    """For each direction, the error of each code: arrays with a row for each code, mm or degrees.

    Args:
        machine: The machine.
        codes: The codes, without parity.
        dimensions: Dimensions that differ from the description, each in its own unit: numbers, or
            arrays over many machines, which become the columns.
    """
    import numpy as np

    found = {}
    for aim in aims(machine):
        few, row = distinct(machine, aim.part, tuple(codes))
        given = given_by(machine, few)
        x = walk(machine.mechanism, given, arrays(), dimensions=dimensions, parts=(aim.part,))
        want = np.array(targets(machine, aim, few))[:, None]
        off = x[aim.part] - want
        found[aim.name] = np.broadcast_to(off, (len(few), *off.shape[1:]))[list(row)]
    return found


@kept(256)
def distinct(
    machine: Machine, part: str, codes: tuple[int, ...]
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Codes that set the part's own bars differently, and for each code its like; no units."""
    mechanism = machine.mechanism
    above = mechanism.upstream(part)
    if above.intersection(mechanism.keys):
        return codes, tuple(range(len(codes)))
    mask = sum(1 << (bar.bit - 1) for name, bar in mechanism.bars.items() if name in above)
    first: dict[int, int] = {}
    for code in codes:
        first.setdefault(machine.as_set(code) & mask, code)
    numbers = {setting: number for number, setting in enumerate(first)}
    return tuple(first.values()), tuple(numbers[machine.as_set(c) & mask] for c in codes)


def strikes(
    machine: Machine,
    dimensions: Numbers | None = None,
    codes: Sequence[int] | None = None,
) -> tuple[Strike, ...]:
    """What is seen of each character: whole, clipped and where, or unreadable.

    Args:
        machine: The machine.
        dimensions: Dimensions that differ from the description, each in its own unit.
        codes: The codes, without parity; all that print a character if left out.

    Raises:
        HammerError: If nothing is known of the machine's windows.
    """
    codes = printing(machine) if codes is None else tuple(codes)
    directions = aims(machine)
    places: dict[str, list[float]] = {aim.name: [] for aim in directions}
    for aim in directions:
        few, row = distinct(machine, aim.part, codes)
        found = [
            float(
                walk(
                    machine.mechanism,
                    given_by(machine, code),
                    FLOATS,
                    dimensions=dimensions,
                    parts=(aim.part,),
                )[aim.part]
            )
            for code in few
        ]
        places[aim.name] = [found[number] for number in row]
    wanted = {aim.name: targets(machine, aim, codes) for aim in directions}
    return tuple(
        strike_at(
            machine,
            code,
            {name: at[i] for name, at in places.items()},
            {name: want[i] for name, want in wanted.items()},
        )
        for i, code in enumerate(codes)
    )


def strike_at(
    machine: Machine, code: int, places: Mapping[str, float], wanted: Mapping[str, float]
) -> Strike:
    """One character, from where its type stands and where it should, in mm or degrees."""
    seen, clipped, cell = WHOLE, [], []
    lost = 0.0
    for aim in aims(machine):
        at = places[aim.name]
        off, near = min(((at - s, i) for i, s in enumerate(aim.stations)), key=lambda o: abs(o[0]))
        cell.append(near)
        sort = sort_of(aim.window, off)
        lost = max(lost, share_lost(aim.window, off))
        if sort == CLIPPED:
            clipped.append(aim.sides[off > 0])
        if sort == UNREADABLE or seen == UNREADABLE:
            seen = UNREADABLE
        elif sort == CLIPPED:
            seen = CLIPPED
    errors = {name: places[name] - wanted[name] for name in places}
    printed = UNREADABLE if seen == UNREADABLE else _glyph(machine, cell)
    if printed == NOTHING:
        seen, clipped = WHOLE, []
    return Strike(
        code,
        machine.good_print(code),
        errors,
        seen,
        printed,
        () if seen == UNREADABLE else tuple(clipped),
        1.0 if seen == UNREADABLE else lost,
    )


def cell_of(machine: Machine, code: int) -> int:
    """The number of the type's cell that a code asks for, as in the output's layout; no unit."""
    type_, row, column = type_of(machine), 0, 0
    for aim in aims(machine):
        (want,) = targets(machine, aim, (code,))
        nearest = min(range(len(aim.stations)), key=lambda i: abs(aim.stations[i] - want))
        row, column = (nearest, column) if aim.name == "lift" else (row, nearest)
    return row * len(type_.columns) + column


def _glyph(machine: Machine, cell: Sequence[int]) -> str:
    type_, steps = type_of(machine), iter(cell)
    row = next(steps) if type_.lift else 0
    column = next(steps) if type_.turn else 0
    glyph = type_.lines[row][column]
    return NOTHING if glyph == " " else glyph


def sort_of(window: Window, off: float) -> str:
    """Whether type is seen whole, clipped or not to be read, so far off in mm or degrees."""
    if abs(off) <= float(window.whole) + SLACK:
        return WHOLE
    return CLIPPED if abs(off) <= float(window.readable) + SLACK else UNREADABLE


def share_lost(window: Window, off: float) -> float:
    """The share of a character that is lost, 0 to 1, so far off in mm or degrees."""
    return min(1.0, max(0.0, (abs(off) - float(window.whole)) / float(window.size)))


def says(strike: Strike, unit_of: Mapping[str, str]) -> str:
    """One character in words: "E: lift −0.60 mm; clipped at the bottom".

    Args:
        strike: The character.
        unit_of: For each direction its unit, mm or degrees.
    """
    off = ", ".join(_off(name, e, unit_of[name]) for name, e in strike.errors.items())
    what = UNREADABLE if strike.seen == UNREADABLE else " and ".join(_seen(strike))
    return f"{strike.asked}: {off}; {what}"


def _seen(strike: Strike) -> Iterator[str]:
    if strike.printed != strike.asked:
        yield f"prints {strike.printed}"
    if strike.clipped:
        yield f"clipped at the {' and the '.join(strike.clipped)}"
    elif strike.printed == strike.asked:
        yield "whole"


def _off(name: str, error: float, unit: str) -> str:
    sign = "°" if unit == "degrees" else f" {unit}"
    value = 0.0 if abs(error) < 0.005 else error
    return f"{name} {value:+.2f}{sign}".replace("-", "−") if value else f"{name} right"
