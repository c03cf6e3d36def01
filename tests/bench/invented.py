"""Invented machines of any size, to see how the library's work grows.

Nobody built them.  A wheel is lifted by half of the bits and turned by the other half, each bit
shifting it by twice as much as the one before.  Between the bars and what they shift lie rods and
pairs of withdrawing levers, as many as are asked for.
"""

import random
from fractions import Fraction
from itertools import chain, islice

from mechlogic.model.codes import Code
from mechlogic.model.laws import Bit, Follow, HalfStep, Joint, Withdraw
from mechlogic.model.machine import Declared, Machine, Run
from mechlogic.model.mechanism import Mechanism, Part
from mechlogic.model.outputs import TypeWheel

STROKE = Fraction(4)
SCRIPTS = "AZ", "az", "09", "가힣"
"""First and last of runs of characters that print; four thousand take more than one alphabet."""


def fewest_parts(units: int) -> int:
    """A bar for each bit, and what each of them shifts."""
    return 2 * units


def wheel_machine(units: int, n_parts: int = 0, seed: int = 1) -> Machine:
    """A machine with a code of so many bits and, if it is more than it takes, so many parts."""
    rng = random.Random(seed)
    bars = [f"bar{bit}" for bit in range(1, units + 1)]
    joints: dict[str, Joint] = {bar: Bit(number, STROKE) for number, bar in enumerate(bars, 1)}
    ends = _lengthened(joints, bars, n_parts - fewest_parts(units), rng)
    half = (units + 1) // 2
    lift, rows = _shifted(joints, "lift", ends[:half])
    turn, columns = _shifted(joints, "turn", ends[half:])
    glyphs = characters(1 << units)
    width = len(columns)
    lines = ["".join(glyphs[row + len(rows) * column] for column in range(width)) for row in rows]
    return Machine(
        name="invented",
        title=f"invented machine of {units} bits",
        about="Nobody built it.",
        mechanism=Mechanism(Part(name, joint) for name, joint in joints.items()),
        code=Code("code of its own", units, "invented", glyphs),
        parity="none",
        output=TypeWheel(
            lift=lift,
            turn=turn,
            rows=tuple(map(Fraction, rows)),
            columns=tuple(map(Fraction, columns)),
            lines=lines,
        ),
        declared=Declared(printing=(Run(0, (1 << units) - 1),)),
    )


def _lengthened(
    joints: dict[str, Joint], bars: list[str], n_more: int, rng: random.Random
) -> list[str]:
    """Rods and pairs of levers put behind bars drawn by lot; the last part behind each bar."""
    ends = list(bars)
    while n_more > 0:
        at, two = rng.randrange(len(ends)), n_more > 1 and rng.random() < 0.3
        for kind in (Withdraw, Withdraw) if two else (Follow,):
            name = f"rod{len(joints)}"
            joints[name] = kind(ends[at])
            ends[at] = name
            n_more -= 1
    return ends


def _shifted(joints: dict[str, Joint], name: str, ends: list[str]) -> tuple[str, range]:
    """Shoulders one on the other, each twice the step of the one before; the places they make."""
    last = name + "1"
    joints[last] = Follow(ends[0], 1 / STROKE)
    for number, end in enumerate(ends[1:], 1):
        base, last = last, f"{name}{number + 1}"
        joints[last] = HalfStep(base, end, Fraction(1 << number))
    return last, range(1 << len(ends))


def characters(n: int) -> tuple[str, ...]:
    """So many different characters, each of which prints."""
    runs = (range(ord(first), ord(last) + 1) for first, last in SCRIPTS)
    return tuple(map(chr, islice(chain.from_iterable(runs), n)))
