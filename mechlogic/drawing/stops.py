"""A rack at its stop, lying on its side, and all 4,096 triples of levers at once."""

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

from mechlogic.drawing.scene import style
from mechlogic.explaining.stops import Rack, Triple
from mechlogic.helpers.svg import attribute, box, drawn, number, solid, text

HOME, STEP = 70.0, 14.0
"""Where the tip of a rack at 0 mm is drawn, and pixels for each mm of its way."""

CELL, GAP = 5.0, 24.0
"""The side of one triple, and the room between two blocks of them, in pixels."""


def _picture(width: float, height: float, says: str, marks: Iterable[str]) -> str:
    """Marks as a picture that says in words what it shows."""
    return (
        f'<svg class="mechlogic" viewBox="0 0 {number(width)} {number(height)}" role="img" '
        f'aria-label="{attribute(says)}" width="100%" style="max-width: {number(width)}px">'
        f"{''.join(marks)}</svg>"
    )


def at_its_stop(rack: Rack, setting: str, clear: Sequence[bool]) -> str:
    """The rack where it comes to rest; only a lever that is in the way crosses its line."""
    marks = [text(12, 34, setting, "letter")]
    marks.append(solid(box(8, 46, HOME + STEP * float(rack.rests(clear)), 62)))
    for stop, out in zip(rack.stops, clear, strict=True):
        x, top = HOME + STEP * float(stop.at), 4 if out else 34
        marks.append(f'<g class="part{" set" * out}">{solid(box(x, top, x + 12, top + 34))}</g>')
    for at in rack.machine.mechanism.laws[rack.member].places:
        marks.append(text(HOME + STEP * float(at), 84, f"{float(at):g}", "quiet", "middle"))
    return _picture(320, 90, rack.row_says(setting, clear), marks)


def all_triples(found: Mapping[Triple, Sequence[Fraction]], says: str) -> str:
    """All 4,096 triples of levers: a block for each lever of the lowest stop, a cell for a triple.

    In a block, each row of cells has one lever for the second stop and each column one for the
    third.  A triple that gives four heights is a square: full if the rack stands lowest with no
    bit set, empty if not.

    Args:
        found: The triples that give four heights, with the heights.
        says: What the picture shows, in words.
    """
    side, marks = 16 * CELL, [f"<style>{style()}</style>"]
    corners = [(n % 4 * (side + 10) + 1, n // 4 * (side + GAP) + GAP) for n in range(16)]
    for lever, (x, y) in enumerate(corners):
        name = "".join("-x"[lever >> row & 1] for row in range(4))
        marks += [text(x, y - 6, name, "slug"), drawn("rule", box(x, y, x + side, y + side))]
    for (lever, second, third), heights in found.items():
        x, y = corners[lever][0] + third * CELL, corners[lever][1] + second * CELL
        kind = "sheet" if heights[0] == min(heights) else "lead"
        marks.append(drawn(kind, box(x + 0.5, y + 0.5, x + CELL - 0.5, y + CELL - 0.5)))
    return _picture(4 * side + 32, 4 * (side + GAP) + 2, says, marks)
