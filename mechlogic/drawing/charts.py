"""Charts with Matplotlib, on request: how chances went with the log, how machines as built stand.

The pictures of machines do not need Matplotlib; it is loaded when a chart is asked for.
"""

from typing import TYPE_CHECKING

from mechlogic.bench.diagnosis import diagnose
from mechlogic.bench.story import suspect_label
from mechlogic.fit.hammer import aims, printing
from mechlogic.fit.tolerance import distinct_errors, draw
from mechlogic.model.logbook import Logbook
from mechlogic.model.machine import Machine

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["at_the_hammer", "chance_by_entry"]

MARKS = "osD^v"
"""Marks of the curves, so that they can be told apart without colour."""


def chance_by_entry(machine: Machine, log: Logbook, most: int = 4) -> "Figure":
    """How the chance of each suspect went with every entry of a log.

    Args:
        machine: The machine.
        log: What was sent and printed; one entry at least.
        most: How many of the suspects that are likeliest in the end are shown, a count up to 5.
    """
    from matplotlib.figure import Figure

    steps = [
        diagnose(machine, Logbook(log.entries[: n + 1], log.code)) for n in range(len(log.entries))
    ]
    figure = Figure(figsize=(8, 4.5), layout="constrained")
    axes = figure.add_subplot()
    for suspect, mark in zip(steps[-1].suspects[:most], MARKS, strict=False):
        chances = [
            sum(one.probability for one in step.suspects if suspect.members[0] in one.members)
            for step in steps
        ]
        label = suspect_label(machine, suspect.members)
        axes.plot(range(1, len(steps) + 1), chances, marker=mark, label=label)
    axes.set(xlabel="entries of the log", ylabel="chance", ylim=(0, 1.02), title=machine.title)
    axes.legend()
    return figure


def at_the_hammer(machine: Machine, n: int = 20_000, seed: int = 0) -> "Figure":
    """How far off its place each character stands at the hammer, in machines built by lot.

    Args:
        machine: A machine whose description gives tolerances and windows.
        n: How many machines, a count.
        seed: Where the lots begin; the same seed builds the same machines.

    Raises:
        HammerError: If it has no type, or its description says nothing of the windows.
    """
    from matplotlib.figure import Figure

    ways, built = aims(machine), draw(machine, n, seed)
    figure = Figure(figsize=(8, 3.2 * len(ways)), layout="constrained")
    for number, way in enumerate(ways, 1):
        axes = figure.add_subplot(len(ways), 1, number)
        _, _, off = distinct_errors(machine, way, printing(machine), built)
        axes.hist(off.ravel(), bins=80, color="0.6")
        for edge in (-float(way.window.whole), float(way.window.whole)):
            axes.axvline(edge, color="black", linestyle="--")
        axes.set(xlabel=f"{way.name}: off its place, {way.unit}", ylabel="prints")
        axes.set_title(f"{machine.title}: between the dashed lines a character prints whole")
    return figure
