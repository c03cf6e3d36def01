"""The picture of a machine with its cover off."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from mechlogic.drawing import crossing, layered, plate
from mechlogic.drawing.figure import Figure, Unplaced
from mechlogic.model.machine import Machine
from mechlogic.model.mechanism import did_you_mean


@dataclass(frozen=True)
class Scene:
    """A picture and how its parts move.

    Attributes:
        svg: One ``<svg>`` element with every part at rest.  A moving part is a group of class
            ``part`` with its name in ``data-part``; a part drawn in several spots has further
            groups with the same name and ``data-pose="2"``, ``"3"``, …
        poses: For each part, and for each further spot as ``"part#2"``, the CSS transform of its
            group at each of the part's places.
    """

    svg: str
    poses: dict[str, list[str]]


def scene(machine: Machine) -> Scene:
    """Draw a machine: after its own hints, or else as it is built, or in layers."""
    figure = _figure(machine)
    return Scene(figure.svg(machine, {}), {g.key: list(g.poses) for g in figure.groups})


def scene_at(machine: Machine, places: Mapping[str, int], faulty: Collection[str] = ()) -> str:
    """A picture for print, with its style inside.

    Args:
        machine: The machine.
        places: For each part, the number of its place; parts left out stand at rest.
        faulty: Parts to mark as faulty: they are hatched.

    Raises:
        KeyError: If a part is not known.
        IndexError: If a part has no place of that number.
    """
    for name, place in places.items():
        if name not in machine.mechanism.parts:
            hint = did_you_mean(name, machine.mechanism.parts)
            raise KeyError(f"no part is called {name!r}. {hint}")
        if not 0 <= place < len(machine.mechanism.laws[name].places):
            raise IndexError(f"{name} has no place of number {place}")
    return _figure(machine).svg(machine, places, style(), faulty)


@cache
def style() -> str:
    """The style sheet of every picture."""
    return (Path(__file__).parent / "style.css").read_text(encoding="utf-8")


def _figure(machine: Machine) -> Figure:
    for draw in (plate.figure, crossing.figure):
        try:
            return draw(machine)
        except Unplaced:
            continue
    return layered.figure(machine)
