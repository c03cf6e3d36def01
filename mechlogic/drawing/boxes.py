"""One part in a box of its own, with its name above: for parts that no drawing has a place for.

Most parts are sliders in a slot that is as long as their travel, with a tick at each of their
places.  A latch is a lever that leans one way or the other, a contact a pair of springs, a key a
cap on a stem, a pinion a toothed wheel.
"""

from collections.abc import Iterator
from textwrap import wrap

from mechlogic.drawing.figure import Group
from mechlogic.helpers import svg
from mechlogic.model.machine import Machine

WIDTH, HEIGHT = 108.0, 90.0
SLOT = 21.0  # height of a slot above the foot of its box
SLIDER = 14.0
LONGEST_LINE, MOST_LINES = 11, 3
LEAN = 34.0  # how far a latch leans to either side, in degrees
PRESS = 12.0  # how far a key goes down
SPRING, GAP, MEET = 48.0, 8.0, 7.1  # a contact: length of its springs, their distance, its angle


def boxed(machine: Machine, name: str, at: svg.Point) -> tuple[Group, list[str]]:
    """A part in its box, the upper left corner of which is at a point.

    Returns:
        What moves, and what stands still: the box, and the slot or whatever guides the part.
    """
    x, y = at
    joint, law = machine.mechanism[name].joint, machine.mechanism.laws[name]
    middle, foot, level = x + WIDTH / 2, y + HEIGHT, y + HEIGHT - SLOT
    card = svg.drawn("card", svg.card(x, y, x + WIDTH, y + HEIGHT, 6))
    shares = [float((place - law.places[0]) / law.full) for place in law.places]
    match joint.shape:
        case "pinion":
            centre = (middle, level)
            body = svg.solid(svg.gear(*centre, 11, 12, 5), kind="wheel")
            body += svg.drawn("mark", _line(centre, (middle, level - 8)))
            poses = [svg.turn(float(place)) for place in law.places]
            return Group(name, "pinion", body, poses, centre), [card]
        case "latch":
            pivot, tip = (middle, foot - 10), (middle, foot - 36)
            arm = svg.solid(svg.strut(pivot, tip, 9, 6), svg.disc(*pivot, 7))
            body = arm + svg.solid(svg.disc(*tip, 6), kind="roller")
            body += svg.drawn("screw", svg.disc(*pivot, 2.8))
            base = svg.drawn("guide", _line((middle - 26, foot - 10), (middle + 26, foot - 10)))
            poses = [svg.turn(LEAN * (2 * share - 1)) for share in shares]
            return Group(name, "latch", body, poses, pivot), [card, base]
        case "contact":
            held = (middle + SPRING / 2, foot - 26)
            return contact(name, held), [card, contact_ground(held)]
        case "key":
            body = svg.solid(
                svg.box(middle - 3, foot - 30, middle + 3, foot - 12),
                svg.card(middle - 15, foot - 38, middle + 15, foot - 26, 3),
            )
            sides = [_line((middle + u, foot - 18), (middle + u, foot - 6)) for u in (-7, 7)]
            poses = [svg.shift(0, PRESS * share) for share in shares]
            return Group(name, "key", body, poses), [card, svg.drawn("guide", *sides)]
    left, room = x + 10, WIDTH - 20 - SLIDER
    body = svg.solid(svg.box(left, level - 10, left + SLIDER, level + 10))
    slot = _line((left, level), (x + WIDTH - 10, level))
    stands = [left + SLIDER / 2 + room * share for share in shares]
    ticks = [_line((u, level + 11), (u, level + 16)) for u in stands]
    kind = "bar" if joint.shape == "bar" else "slide"
    slider = Group(name, kind, body, [svg.shift(room * share) for share in shares])
    return slider, [card, svg.drawn("guide", slot, *ticks)]


def _line(*points: svg.Point) -> str:
    return svg.outline(points, closed=False)


def contact(name: str, at: svg.Point) -> Group:
    """The moving spring of a contact, held at a point; it is pushed down onto the other one."""
    x, y = at
    body = svg.solid(
        svg.box(x - SPRING, y - 2, x, y + 2), svg.box(x - SPRING + 4, y - 2, x - SPRING + 12, y + 5)
    )
    return Group(name, "contact", body, [svg.turn(0), svg.turn(-MEET)], at)


def contact_ground(at: svg.Point) -> str:
    """What stands still of a contact: its other spring, and the block that holds both."""
    x, y = at
    return svg.drawn(
        "frame",
        svg.box(x - SPRING, y + GAP + 5, x, y + GAP + 8),
        svg.box(x - SPRING + 4, y + GAP + 2, x - SPRING + 12, y + GAP + 6),
        svg.box(x - 2, y - 5, x + 8, y + GAP + 11),
    )


def names(machine: Machine, name: str, at: svg.Point) -> Iterator[str]:
    """The name in the box of a part."""
    x, y = at
    lines = wrap(machine.label(name), LONGEST_LINE, max_lines=MOST_LINES, placeholder=" …")
    for k, line in enumerate(lines):
        yield svg.text(x + WIDTH / 2, y + 19 + 16 * k, line, "name", "middle")
