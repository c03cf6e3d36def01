"""What a layout hands over: moving groups with their poses, and what stands still."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from mechlogic.helpers import svg
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
        size = f"0 0 {svg.number(self.width)} {svg.number(self.height)}"
        label = svg.attribute(f"{machine.title}: the mechanism")
        if style:  # on its own it has a size of its own; on a page it fills its place
            size += f'" width="{svg.number(self.width)}" height="{svg.number(self.height)}'
        lines = [
            f'<svg xmlns="http://www.w3.org/2000/svg" class="mechlogic mechlogic-scene" '
            f'viewBox="{size}" role="group" aria-label="{label}">',
            f"<style>{style}</style>" if style else "",
            '<defs><pattern id="ml-hatch" width="6" height="6" patternUnits="userSpaceOnUse" '
            'patternTransform="rotate(45)"><rect class="hatch-ground" width="6" height="6"/>'
            '<rect class="hatch-line" width="2.2" height="6"/></pattern></defs>',
            f'<rect class="paper" width="{svg.number(self.width)}" '
            f'height="{svg.number(self.height)}"/>',
            '<g class="behind" aria-hidden="true">',
            *self.behind,
            "</g>",
            *(
                _group(machine, g, places.get(g.part, rest[g.part]), g.part in faulty, not style)
                for g in self.groups
            ),
            '<g class="before" aria-hidden="true">',
            *self.before,
            "</g>",
            "</svg>",
        ]
        return "\n".join(filter(None, lines))


def _group(machine: Machine, group: Group, place: int, faulty: bool, live: bool) -> str:
    x, y = group.origin
    label = machine.label(group.part)
    state = " set" if place != machine.mechanism.rest[group.part] else ""
    state += " faulty" if faulty else ""
    spot = f' data-pose="{group.spot}"' if group.spot > 1 else ""
    # Only the first drawing of a part can be reached with the keyboard: one stop for each part.
    acts = 'tabindex="0" role="button"' if live else 'role="img"'
    named = f'{acts} aria-label="{svg.attribute(label)}"'
    role = named if group.spot == 1 else 'aria-hidden="true"'
    return (
        f'<g class="part {group.kind}{state}" data-part="{svg.attribute(group.part)}"{spot} {role} '
        f'style="transform-origin: {svg.number(x)}px {svg.number(y)}px; '
        f'transform: {group.poses[place]}">'
        f"<title>{svg.attribute(label)}</title>{group.body}</g>"
    )
