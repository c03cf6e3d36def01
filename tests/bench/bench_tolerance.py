"""What is gained by following many built machines at once.  Run it by hand; nothing is asserted.

    python tests/bench/bench_tolerance.py

A hundred thousand machines, built by lot within their tolerances, print every character.  They are
followed all at once in NumPy; one by one, every character in plain Python; and one by one, but only
the parts and the settings that matter, which is the best that a loop over machines can do.  All
three go by the very same travel laws.  Then the widgets: how long the kernel takes to answer one
slider.  Ratios travel between computers; times do not.
"""

from figures import Figure, lines, seconds

from mechlogic.fit.hammer import aims, strikes
from mechlogic.fit.linkage import travel_at
from mechlogic.fit.tolerance import MACHINES, build, draw, sensitivities, spreads
from mechlogic.machines import load
from mechlogic.widgets import ErrorMap, WhereLogicBreaks

LOOPED = 5


def one_by_one(machine):
    """Machines one after another, part by part and code by code, as one would at first."""
    codes = build(machine, 10).codes
    right = {code: travel_at(machine, code) for code in codes}
    whole = 0
    for dimensions in _drawn(machine):
        for code in codes:
            at = travel_at(machine, code, dimensions=dimensions)
            for aim in aims(machine):
                off = abs(at[aim.part] - right[code][aim.part])
                whole += off <= float(aim.window.whole)
    return whole


def sparingly(machine):
    """Machines one after another, codes that are set alike only once, and no part in vain."""
    return sum(one.seen == "whole" for drawn in _drawn(machine) for one in strikes(machine, drawn))


def _drawn(machine):
    values = draw(machine, LOOPED)
    for number in range(LOOPED):
        yield {key: float(value[number]) for key, value in values.items()}


def figures():
    for name in ("wind", "saltmere", "ness"):
        machine = load(name)
        at_once = seconds(lambda machine=machine: build(machine), 3)
        for way, loop in (
            ("one by one, every part and code", one_by_one),
            ("the same, sparingly", sparingly),
        ):
            took = seconds(lambda loop=loop, machine=machine: loop(machine), 1) * MACHINES / LOOPED
            yield Figure(f"{MACHINES:,} built machines, {name}", at_once, way, took / at_once)


def main():
    print(f"of those followed one by one, {LOOPED}, the rest reckoned")
    print("\n".join(lines(figures())))

    saltmere = load("saltmere")
    took = seconds(lambda: spreads(saltmere), 1)
    print(f"\nworst case and root sum of squares of every character: {took:.2f} s")
    code = saltmere.code.parse("A")
    print(f"exact sensitivities of one: {seconds(lambda: sensitivities(saltmere, code), 1):.2f} s")

    errors = ErrorMap(saltmere)
    slider = next(iter(errors.sliders.values()))

    def slide():
        slider.value = slider.max if slider.value != slider.max else slider.min

    print(f"one slider of the map of errors: {seconds(slide, 7) * 1e3:.0f} ms in the kernel")
    breaks = WhereLogicBreaks(saltmere)

    def push():
        breaks.depth.value = 1.1 if breaks.depth.value != 1.1 else 2.9

    print(f"the slider of the part-way bar: {seconds(push, 7) * 1e3:.0f} ms in the kernel")


if __name__ == "__main__":
    main()
