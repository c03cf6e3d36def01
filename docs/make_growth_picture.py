"""Make docs/growth.png: how the work grows, and where each method ends.

    .venv/bin/python tests/bench/growth.py docs/growth.json   # measures anew, a few minutes
    .venv/bin/python docs/make_growth_picture.py              # draws what was measured

Every line has a mark and a dash of its own, and its name at its end, so the picture can be read in
black and white.  A cross stands at the first size that a method is refused for, as high as the line
before it points: there is nothing to measure.
"""

import json
from math import log10
from pathlib import Path
from typing import Any

from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure

DOCS = Path(__file__).parent
INK, QUIET, LINE, SET, FAULT = "#23262b", "#5a5f66", "#d9dbdd", "#0f6199", "#b54a00"
"""The colours of mechlogic/drawing/style.css."""

LOOKS = {
    "table of all codes": ("o", "-", INK),
    "all transitions": ("s", (0, (5, 2)), INK),
    "classes of single faults": ("^", (0, (1, 1.5)), INK),
    "every pair of faults, log of 16": ("D", (0, (6, 2, 1, 2)), INK),
    "smallest acceptance text": ("v", "-", SET),
    "tables of the live picture": ("P", (0, (3, 1.5)), SET),
    "page without Python": ("X", (0, (1, 1)), SET),
}
"""For each method its mark, its dash and its colour."""

AXES = {
    "bits of the code": (8, "a description has at most 8", "all bars and what they shift"),
    "parts": (300, "a description has at most 300", "a code of 6 bits"),
}
"""For each axis, the largest size that a description may have, and what is said of it."""

TIMES = {1e-5: "10 µs", 1e-4: "0.1 ms", 1e-3: "1 ms", 1e-2: "10 ms", 0.1: "0.1 s"}
TIMES |= {1: "1 s", 10: "10 s", 60: "1 min"}
"""What stands beside the axis of seconds."""

APART = 0.35
"""How far apart two names are kept at least, in powers of ten."""


def draw(axes: Axes, title: str, points: list[Any]) -> None:
    """One panel: a line for each method, from its first size to its last or to its end."""
    most, says, of = AXES[title]
    axes.set_yscale("log")
    axes.set_ylim(5e-6, 500)
    axes.set_xlabel(f"{title} ({of})")
    sizes = sorted({size for _, size, _, _ in points})
    axes.set_xlim(sizes[0], sizes[-1] + 0.62 * (sizes[-1] - sizes[0]))
    axes.set_xticks([size for size in sizes if title != "parts" or size not in (12, 20, 30, 75)])
    axes.set_yticks(list(TIMES), TIMES.values())
    axes.minorticks_off()
    axes.grid(axis="y", color=LINE, linewidth=0.6)
    if most <= sizes[-1]:
        axes.axvline(most, color=QUIET, linewidth=0.8, linestyle=(0, (2, 2)), zorder=0)
        axes.text(most, 6.5e-6, f" {says}", color=QUIET, fontsize=8, va="bottom")
    ends = [_line(axes, method, points) for method in LOOKS]
    lowest = -6.0
    for y, x, text, colour in sorted(ends):
        lowest = max(y, lowest + APART)
        axes.annotate(
            text,
            (x, 10**y),
            (sizes[-1] + 0.05 * (sizes[-1] - sizes[0]), 10**lowest),
            color=colour,
            fontsize=8.5,
            va="center",
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1},
            arrowprops={"arrowstyle": "-", "color": LINE, "linewidth": 0.8, "shrinkB": 5},
        )


def _line(axes: Axes, method: str, points: list[Any]) -> tuple[float, float, str, str]:
    """Draw one method; where its name belongs: power of ten, size, words, colour."""
    mark, dash, colour = LOOKS[method]
    done = [(size, seconds) for name, size, seconds, _ in points if name == method and seconds]
    refused = [size for name, size, seconds, _ in points if name == method and seconds is None]
    axes.plot(*zip(*done, strict=True), color=colour, marker=mark, markersize=4.5, linestyle=dash)
    x, y = done[-1]
    if refused:
        (at,) = refused
        axes.plot([x, at], [y, y * (y / done[-2][1])], color=FAULT, linewidth=0.8, linestyle=":")
        x, y = at, y * (y / done[-2][1])
        axes.plot([x], [y], color=FAULT, marker="x", markersize=8, markeredgewidth=2)
    words = f"{method}: refused at {refused[0]}" if refused else method
    return log10(y), x, words, colour


def main() -> None:
    """Draw docs/growth.json."""
    kept = json.loads((DOCS / "growth.json").read_text(encoding="utf-8"))
    style = {"font.family": "DejaVu Serif", "font.size": 9, "axes.edgecolor": QUIET}
    with rc_context(style | {"axes.spines.top": False, "axes.spines.right": False}):
        figure = Figure(figsize=(12.5, 4.6), layout="constrained", facecolor="white")
        for axes, (title, points) in zip(
            figure.subplots(1, 2, sharey=True), kept.items(), strict=True
        ):
            draw(axes, title, points)
            axes.tick_params(colors=QUIET, labelcolor=INK)
        figure.axes[0].set_ylabel("computing time")
        figure.savefig(DOCS / "growth.png", dpi=130)


if __name__ == "__main__":
    main()
