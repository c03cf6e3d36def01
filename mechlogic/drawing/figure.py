"""What a layout hands over: moving groups with their poses, and what stands still."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from mechlogic.helpers import svg
from mechlogic.helpers.templates import render
from mechlogic.model.machine import Machine

SCALE = 4.0
"""Pixels for each mm of travel, at 100 %; one scale for every part of a plate."""


class Unplaced(LookupError):
    """A machine that this way of drawing has no place for; another must serve."""


@dataclass(frozen=True)
class Group:
    """One drawing of one moving part.

    Attributes:
        part: Name of the part.
        kind: What it is drawn as, for example ``"slide"``: a class of the group.
        body: Its marks, drawn where the part stands at displacement 0.
        poses: For each place of the part, the CSS transform of the group.
        origin: The point about which the group turns, if it does.
        spot: 1, or 2, 3, … for a further drawing of the same part that moves in its own way.
    """

    part: str
    kind: str
    body: str
    poses: Sequence[str]
    origin: svg.Point = (0.0, 0.0)
    spot: int = 1

    @property
    def key(self) -> str:
        """Under which the poses of this group are found."""
        return self.part if self.spot == 1 else f"{self.part}#{self.spot}"


@dataclass(frozen=True)
class Figure:
    """A whole picture, back to front.

    Attributes:
        width, height: Size in pixels at 100 %.
        behind: What stands still behind the parts.
        groups: The moving parts, the rearmost first.
        before: What stands still in front of the parts: names, captions, the scale.
    """

    width: float
    height: float
    groups: Sequence[Group]
    behind: Sequence[str] = field(default_factory=tuple)
    before: Sequence[str] = field(default_factory=tuple)

    def svg(
        self,
        machine: Machine,
        places: Mapping[str, int],
        style: str = "",
        faulty: Collection[str] = (),
    ) -> str:
        """The picture with every part at the given place, or at rest where none is given.

        Args:
            machine: The machine that is drawn.
            places: For each part, the number of its place.
            style: A style sheet to embed; a page of its own brings it along otherwise.  A picture
                that has its own is for print: nothing in it can be pressed.
            faulty: Parts to mark as faulty.
        """
        rest = machine.mechanism.rest
        groups = []
        for group in self.groups:
            place = places.get(group.part, rest[group.part])
            state = " set" if place != rest[group.part] else ""
            state += " faulty" if group.part in faulty else ""
            x, y = map(svg.number, group.origin)
            groups.append((group, x, y, group.poses[place], state, machine.label(group.part)))
        return render(
            "scene.svg",
            title=machine.title,
            width=svg.number(self.width),
            height=svg.number(self.height),
            style=style,
            behind="\n".join(self.behind),
            groups=groups,
            before="\n".join(self.before),
        )
