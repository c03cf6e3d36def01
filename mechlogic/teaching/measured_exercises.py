"""Exercises in millimetres and milliseconds, each drawn from a number.

How far has a part moved, which side of a letter is lost, which part is late, which bit is read
wrong?  As in :mod:`mechlogic.teaching.exercises` every answer is worked out by the library, and
each question has graded hints and a worked solution.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from math import isfinite
from random import Random

from mechlogic.explaining.travel import positions
from mechlogic.explaining.words import capitalised, listed, the
from mechlogic.fit.adjustment import adjustable, amount, dimension_words
from mechlogic.fit.hammer import (
    CLIPPED,
    WHOLE,
    Aim,
    Strike,
    aims,
    printing,
    says,
    sort_of,
    strikes,
)
from mechlogic.fit.hammer import errors as errors_of
from mechlogic.model import laws
from mechlogic.model.dimensions import Dimension, kind_of
from mechlogic.model.logbook import UNREADABLE
from mechlogic.model.machine import Machine
from mechlogic.teaching.exercises import MOST_OPTIONS, Exercise, attempts, sent
from mechlogic.time.oil import FRESH
from mechlogic.time.startstop import RATES, Selector
from mechlogic.time.timing import Conditions, Margin, cycle_of, margins, stroke, timed_parts

HALF_MM = Fraction(1, 2)

HOW: Mapping[type, str] = {
    laws.Follow: "It goes with its one input, times its lever ratio.",
    laws.Withdraw: "It goes as far as its input has yet to go, times its lever ratio.",
    laws.EitherPushes: "Whichever input has gone further does all the pushing.",
    laws.AllClear: "Whichever input has gone less far holds it back.",
    laws.SummingLever: "Its pin divides the line between its two inputs.",
}
"""How a part moves, for each joint that an exercise asks about."""

CLEAR_MS = 0.25
"""By how much the margins of parts to choose from differ at least, in ms."""

BAUDS = (40, 50, 60, 75, 90, 120, 130, 150, 175, 200, 250, 300)
"""Rates that are offered, in baud."""

SEVERAL = 0.7
"""How often a part is asked about that touches several others, where there is one."""

CLEARLY = 0.04
"""By how much at least a rate that is offered differs from the limit, as a share."""


# -- millimetres -----------------------------------------------------------------------------------


def how_far(machine: Machine, seed: int) -> Exercise:
    """How far a part has moved while its bars or keys stand part-way.

    Args:
        machine: The machine.
        seed: Any number.

    Raises:
        ValueError: If it has no part of a kind that is asked about.
    """
    mechanism = machine.mechanism
    given = {part.name for part in mechanism if part.joint.given}
    known = [part.name for part in mechanism if type(part.joint) in HOW and not part.gap_mm]
    if not known:
        raise ValueError(f"No part of {machine.title} moves in a way that an exercise asks about.")
    asked = [name for name in known if not _says_itself(mechanism[name].joint)] or known
    for rng in attempts("far", machine, seed):
        several = [name for name in asked if len(mechanism[name].joint.inputs) > 1]
        name = rng.choice(several if several and rng.random() < SEVERAL else asked)
        above = sorted(mechanism.upstream(name) & given)
        moved = {
            bar: HALF_MM * rng.randint(0, int(mechanism.laws[bar].full / HALF_MM))
            for bar in rng.sample(above, min(2, len(above)))
        }
        at = positions(mechanism, moved)
        right = at[name]
        touched = mechanism[name].joint.inputs
        near = [*moved.values(), *(at[one] for one in touched), sum(moved.values())]
        near += [mechanism.laws[name].full, Fraction(0), mechanism.laws[name].full - right]
        options = _distinct([_mm(right), *map(_mm, near)])
        if right and all(moved.values()) and len(options) > 2:
            break
    options = options[:MOST_OPTIONS]
    rng.shuffle(options)
    bars = listed(
        f"{the(machine.label(bar))} has moved {_mm(place)}" for bar, place in moved.items()
    )
    inputs = listed(f"{the(machine.label(one))} has moved {_mm(at[one])}" for one in touched[:4])
    joint = mechanism[name].joint
    ratio = Fraction(getattr(joint, "ratio", 1))
    times = f" The lever ratio is {float(ratio):g}." if ratio != 1 else ""
    how = HOW[type(joint)]
    return Exercise(
        f"{capitalised(bars)} from rest, and nothing else has. How far from its zero does "
        f"{the(machine.label(name))} stand?",
        tuple(options),
        frozenset({_mm(right)}),
        (how, f"{capitalised(inputs)}.{times}"),
        f"{capitalised(inputs)}.{times} {how} So it stands at {_mm(right)}.",
    )


def _says_itself(joint: laws.Joint) -> bool:
    """Whether a part simply goes as far as the one part that it touches."""
    return isinstance(joint, laws.Follow) and joint.ratio == 1


def _mm(place: Fraction | float) -> str:
    return f"{float(place):.2f}".rstrip("0").rstrip(".") + " mm"


def _distinct(options: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(options))


def which_side(machine: Machine, seed: int) -> Exercise:
    """How one character comes out when one adjustment is off.

    Args:
        machine: A machine whose description says how far off its type may stand.
        seed: Any number.

    Raises:
        ValueError: If it says nothing of that, or of adjustments.
    """
    directions = aims(machine)
    wanted = Random(f"wanted {machine.name} {seed}").choice((WHOLE, CLIPPED, CLIPPED))
    for rng in attempts("side", machine, seed):
        one, off = _something_off(machine, rng)
        code = rng.choice(printing(machine))
        (strike,) = strikes(machine, {one.name: float(one.nominal) + off}, codes=(code,))
        plain = strike.seen != UNREADABLE and strike.printed == strike.asked
        if plain and strike.seen == wanted and len(strike.clipped) < 2:
            break
    sides = [side for aim in directions for side in aim.sides]
    options = [WHOLE, *(f"clipped at the {side}" for side in sides)]
    right = f"clipped at the {strike.clipped[0]}" if strike.clipped else WHOLE
    letter = sent(machine, code)
    windows = listed(f"{amount(float(a.window.whole), a.unit)} of {a.name}" for a in directions)
    return Exercise(
        f"{_off_words(machine, one, off)} How does {letter} come out?",
        tuple(options),
        frozenset({right}),
        (
            f"Does {letter} stand on that part at all? Look where it stands on the type.",
            f"The hammer's face stays where it is. It forgives {windows}; what of the type lies "
            "further out is not struck.",
            f"{capitalised('; '.join(_loses(aim) for aim in directions))}.",
        ),
        f"{says(strike, {aim.name: aim.unit for aim in directions})}. The hammer forgives "
        f"{windows}.",
    )


def _loses(aim: Aim) -> str:
    """Which side of a letter is lost to which error."""
    less, more = ("too low", "too high") if aim.name == "lift" else ("back", "ahead")
    return f"type that stands {less} loses the {aim.sides[0]}, {more} the {aim.sides[1]}"


def _something_off(machine: Machine, rng: Random) -> tuple[Dimension, float]:
    """A dimension that can be adjusted, and by how much it is off: in mm or degrees.

    Raises:
        ValueError: If nothing can be adjusted.
    """
    found = [one for one in adjustable(machine) if one.unit in ("mm", "degrees")]
    if not found:
        raise ValueError(f"The description of {machine.title} lets nothing be adjusted.")
    one = rng.choice(found)
    step, most = (0.1, 10) if one.unit == "mm" else (1.0, 7)
    return one, round(step * rng.choice([n for n in range(-most, most + 1) if abs(n) > 1]), 1)


def _off_words(machine: Machine, one: Dimension, off: float) -> str:
    """What is off and by how much, as a sentence."""
    by, small = amount(abs(off), one.unit), off < 0
    lifts = {one.part} | _below(machine, one.part)
    if one.unit == "degrees":
        side = "back" if small else "ahead"
    elif kind_of(one.key) == "stroke_mm":
        wrong = "too short" if small else "too long"
        return f"{capitalised(dimension_words(machine, one))} is {by} {wrong}."
    elif any(aim.name == "lift" and aim.part in lifts for aim in aims(machine)):
        side = "too low" if small else "too high"
    else:
        side = "short of its place" if small else "beyond its place"
    return f"{capitalised(dimension_words(machine, one))} stands {by} {side}."


def _below(machine: Machine, name: str) -> set[str]:
    """The parts that a part moves."""
    mechanism = machine.mechanism
    return {other for other in mechanism.parts if name in mechanism.upstream(other)}


def what_has_moved(machine: Machine, seed: int) -> Exercise:
    """Which adjustment has moved, from letters of which some are clipped and some whole.

    Args:
        machine: A machine whose description says how far off its type may stand.
        seed: Any number.

    Raises:
        ValueError: If it says nothing of that, or of adjustments, or has too few of them.
    """
    for rng in attempts("moved", machine, seed):
        one, off = _something_off(machine, rng)
        found = strikes(machine, {one.name: float(one.nominal) + off})
        clipped = [s for s in found if s.seen == CLIPPED and len(s.clipped) == 1]
        whole = [s for s in found if s.seen == WHOLE]
        if len(clipped) < 2 or len(whole) < 2:
            continue
        noted = [*rng.sample(clipped, 2), *rng.sample(whole, 2)]
        others = [other for other in adjustable(machine) if not _explains(machine, other, noted)]
        if len(others) >= 2 and _explains(machine, one, noted):
            break
    others = sorted(rng.sample(others, len(others)), key=lambda each: each.unit != one.unit)
    rivals = others[: MOST_OPTIONS - 2]
    options = [dimension_words(machine, each) for each in (one, *rivals)]
    told = "; ".join(f"{sent(machine, s.code)} {_come_out(s)}" for s in noted)
    side = noted[0].clipped[0]
    aim = next(aim for aim in aims(machine) if side in aim.sides)
    hurt, well = (listed(sent(machine, s.code) for s in some) for some in (noted[:2], noted[2:]))
    return Exercise(
        f"You note: {told}. Which of these, being off, explains all four?",
        tuple(sorted(options)),
        frozenset(options[:1]),
        (
            f"The {side} is lost. That is a matter of the {aim.name}: which of these have to do "
            "with it?",
            f"It must move {hurt} and leave {well} where they are. Set them one after the other in "
            "the picture, and see which of these each of them needs.",
        ),
        f"{capitalised(options[0])}: it moves {hurt}, and leaves {well} where they are. Each of "
        "the others would have spared a clipped one, clipped a whole one, or cut another side.",
    )


def _explains(machine: Machine, one: Dimension, noted: Sequence[Strike]) -> bool:
    """Whether a dimension, off by some amount, makes the noted characters come out just so."""
    import numpy as np

    step, most = (0.05, 30) if one.unit == "mm" else (0.25, 40)
    trials = float(one.nominal) + step * np.arange(-most, most + 1)
    off = errors_of(machine, [s.code for s in noted], {one.name: trials})
    return any(
        all(
            _side(aim, float(np.broadcast_to(off[aim.name][row], trials.shape)[trial]))
            == _noted(aim, strike)
            for row, strike in enumerate(noted)
            for aim in aims(machine)
        )
        for trial in range(len(trials))
    )


def _side(aim: Aim, off: float) -> str:
    """What is lost in one direction, so far off in mm or degrees: a side, nothing, or all."""
    sort = sort_of(aim.window, off)
    return aim.sides[off > 0] if sort == CLIPPED else sort


def _noted(aim: Aim, strike: Strike) -> str:
    return next((side for side in strike.clipped if side in aim.sides), WHOLE)


def _come_out(strike: Strike) -> str:
    return f"clipped at the {strike.clipped[0]}" if strike.clipped else WHOLE


# -- milliseconds ----------------------------------------------------------------------------------


def who_is_late_first(machine: Machine, seed: int) -> Exercise:
    """Which of a few parts has the least time in hand, in some weather.

    Args:
        machine: A machine whose description says how its parts move.
        seed: Any number.

    Raises:
        ValueError: If it says nothing of its cycle, or too little of its parts.
    """
    for rng in attempts("first", machine, seed):
        weather = _weather(rng)
        found = [m for m in margins(machine, weather) if isfinite(m.needed_ms)]
        hurried = [m for m in found if m.given_ms < max(m.given_ms for m in found)]
        if not hurried:
            raise ValueError(f"All parts of {machine.title} are given the same time.")
        others = [m for m in found if m not in hurried]
        some = [rng.choice(hurried), rng.choice(others[:3]), *rng.sample(others[3:], 2)]
        some.sort(key=lambda m: m.margin_ms)
        if all(b.margin_ms - a.margin_ms > CLEAR_MS for a, b in pairwise(some)):
            break
    labels = [machine.label(m.part) for m in some]
    shuffled = rng.sample(some, len(some))
    told = "; ".join(
        f"{machine.label(m.part)}: given {_ms(m.given_ms)}, needs {_ms(m.needed_ms)}"
        for m in shuffled
    )
    left = "; ".join(f"{machine.label(m.part)} {_ms(m.margin_ms)}" for m in some)
    return Exercise(
        f"{_weather_words(weather)} {capitalised(told)}. Which of these has the least time "
        "in hand?",
        tuple(sorted(labels)),
        frozenset(labels[:1]),
        (
            "It need not be the one that takes the longest. What is each given?",
            "Take the time that each needs away from the time that it is given.",
        ),
        f"In hand: {left}. So it is {the(labels[0])}.",
    )


def _weather(rng: Random) -> Conditions:
    return Conditions(None, rng.choice((5, 10, 15, 20)), FRESH.aged(rng.choice((1, 2, 3, 4, 5))))


def _weather_words(weather: Conditions) -> str:
    thick = weather.oil.thickened
    oil = "fresh" if thick == 1 else f"{thick:g} times as thick as fresh"
    return f"The room is at {weather.temperature_degc:g} °C, and the oil is {oil}."


def _ms(time_ms: float) -> str:
    return f"{time_ms:.1f} ms".replace("-", "−")


def how_fast(machine: Machine, seed: int) -> Exercise:
    """At which of a few rates a part is still in time.

    Args:
        machine: A machine whose description says how its parts move.
        seed: Any number.

    Raises:
        ValueError: If it says nothing of its cycle or its parts.
    """
    own = float(cycle_of(machine).baud)
    for rng in attempts("rate", machine, seed):
        weather = _weather(rng)
        m: Margin = rng.choice(margins(machine, weather))
        if not isfinite(m.needed_ms):
            continue
        product = m.given_ms * own
        limit = product / round(m.needed_ms, 1)  # as a reader finds it from what is told
        near = min(abs(limit / baud - 1) for baud in BAUDS)
        below = [baud for baud in BAUDS if baud <= m.fastest_baud]
        if near > CLEARLY and below and len(below) < len(BAUDS):
            break
    at = min(max(len(below) - rng.randint(1, MOST_OPTIONS), 0), len(BAUDS) - MOST_OPTIONS)
    offered = BAUDS[at : at + MOST_OPTIONS]
    return Exercise(
        f"{_weather_words(weather)} At {own:g} baud the cycle gives {_ms(m.given_ms)} to "
        f"{the(machine.label(m.part))}; it needs {_ms(m.needed_ms)}. Which is the highest of "
        "these rates at which it is in time?",
        tuple(f"{baud} baud" for baud in offered),
        frozenset({f"{below[-1]} baud"}),
        (
            "At half the rate everything has twice the time.",
            f"Time times rate stays the same: {m.given_ms:.1f} × {own:g} = {product:.0f}. Which "
            "rate gives it just the time that it needs?",
        ),
        f"{product:.0f} / {m.needed_ms:.1f} = {limit:.0f} baud. Of the rates on offer "
        f"{below[-1]} is the highest that is no higher.",
    )


def where_it_sticks(machine: Machine, seed: int) -> Exercise:
    """How wide the band is in which dry friction holds a part's spring.

    Args:
        machine: A machine whose description says how its parts move.
        seed: Any number.

    Raises:
        ValueError: If it says nothing of that.
    """
    names = timed_parts(machine)
    if not names:
        raise ValueError(f"Nothing is said of the springs of {machine.title}.")
    for rng in attempts("sticks", machine, seed):
        name = rng.choice(names)
        lever = stroke(machine, name)
        extra = rng.choice((-1, 1, 2, 3)) * rng.uniform(0.3, 0.9)
        friction = round(lever.preload_n + lever.spring_n_per_mm * extra, 2)
        lever = replace(lever, friction_n=friction)
        band = lever.sticks_within_mm
        spring, preload = lever.spring_n_per_mm, lever.preload_n
        near = [friction / spring, preload / spring, (friction + preload) / spring, 0.0, band / 2]
        options = _distinct(f"{width:.1f} mm" for width in (band, *near))[:MOST_OPTIONS]
        if friction > 0 and band < lever.travel_mm and len(options) == MOST_OPTIONS:
            break
    rng.shuffle(options)
    missing = friction - preload
    solved = (
        f"At the stop the spring still pulls with {preload:g} N, more than the friction. It never "
        "sticks: 0.0 mm."
        if not band
        else f"At the stop {friction:g} − {preload:g} = {missing:.2f} N are missing. The spring "
        f"gains {spring:g} N with each mm: {missing:.2f} / {spring:g} = {band:.1f} mm."
    )
    return Exercise(
        f"{capitalised(the(machine.label(name)))} has a spring of {spring:g} N/mm, which pulls "
        f"with {preload:g} N at the stop. Rust holds it with {friction:g} N. How wide is the band "
        "before the stop in which it sticks?",
        tuple(options),
        frozenset({f"{band:.1f} mm"}),
        (
            "Which is stronger at the stop, the spring or the rust? By how much?",
            "How far from the stop is the spring stretched so much more that it wins?",
        ),
        solved,
    )


def what_the_clock_leaves(machine: Machine, seed: int) -> Exercise:
    """How much margin a receiver has at one bit when its motor runs fast or slow.

    Args:
        machine: A machine; only for drawing, as the line is the same for all.
        seed: Any number.
    """
    for rng in attempts("clock", machine, seed):
        name = rng.choice(sorted(RATES))
        rate = RATES[name]
        bit, percent = rng.randint(1, rate.bits), rng.choice((-4, -3, -2, 2, 3, 4))
        left = Selector(percent / 100).bit_margin(rate, bit)
        off = 100 * left
        near = [50, 50 - abs(percent), 50 - abs(percent) * (rate.bits + 0.5), 50 - off]
        near += [50 - abs(percent) * bit / 2, 50 - 2 * abs(percent) * (bit + 0.5)]
        others = [one for one in near if one > 0 and abs(one - off) > 2.5]
        options = _distinct(f"{one:.0f} %" for one in (off, *others))[:MOST_OPTIONS]
        if off > 0 and len(options) >= MOST_OPTIONS - 1:
            break
    options.sort(key=lambda option: int(option.split()[0]))
    units = bit + 0.5
    fast = "fast" if percent > 0 else "slow"
    drift = units * abs(percent)
    return Exercise(
        f"A receiver at {name} reads each bit in the middle of its unit. Its motor runs "
        f"{abs(percent)} % {fast}. About how much of a unit is left before bit {bit} is misread?",
        tuple(options),
        frozenset({f"{off:.0f} %"}),
        (
            "A perfect receiver has 50 % of a unit on either side. The error grows until the bit "
            "is read.",
            f"Bit {bit} is read {units:g} units after the start began.",
        ),
        f"{units:g} units × {abs(percent)} % = {drift:g} % of a unit too "
        f"{'early' if percent > 0 else 'late'}. Of 50 % about {50 - drift:g} % are left; "
        f"{off:.0f} % if you count in the motor's own units.",
    )


KINDS: Mapping[str, Callable[[Machine, int], Exercise]] = {
    "far": how_far,
    "side": which_side,
    "moved": what_has_moved,
    "first": who_is_late_first,
    "rate": how_fast,
    "sticks": where_it_sticks,
    "clock": what_the_clock_leaves,
}
"""The kinds of exercise by name."""
