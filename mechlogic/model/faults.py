"""Faults: what can go wrong with a part, what the bench knows about it, and what it changes.

A fault replaces one term of the algebra.  A *mode* is a kind of fault; it carries the change it
makes, what it looks like at the bench, its usual causes and remedy, the cautions that go with
them, and a weight: how much oftener it is met than others.

The modes are told of in ``modes.toml``.
"""

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import Enum
from itertools import combinations
from pathlib import Path
from typing import Any

from mechlogic.helpers.kept import kept
from mechlogic.model.laws import Joint
from mechlogic.model.mechanism import Mechanism, did_you_mean
from mechlogic.model.outputs import OUTPUT

_TOLD = tomllib.loads((Path(__file__).parent / "modes.toml").read_text(encoding="utf-8"))
_CAUTIONS: Mapping[str, str] = _TOLD.pop("cautions")

SAFE_TO_LOOK, SAFE_TO_OIL, SAFE_TO_WIRE = map(_CAUTIONS.__getitem__, ("look", "oil", "wire"))


class Effect(Enum):
    """What a mode puts in the place of a part's law."""

    AT_REST = "the place it has when nothing is sent"
    FAR_END = "the end away from that"
    LATE_BACK = "at speed, the further of the places asked for now and one character ago"
    LATE_OUT = "at speed, the nearer of the two"
    BY_CHANCE = "each follower finds it at either end"
    BOUNCES = "each follower finds it as it stands, or open"
    UNHOOKED = "the part finds one input at rest"
    FREE = "any of its places"
    OPEN = "open, also if it is closed at rest"
    CLOSED = "closed, also if it is open at rest"
    STAYS = "the place where it stood before"
    SWAPPED = "what follows it finds another part in its place, and it in the other's"
    TYPE = "some of the type shows something else"


@dataclass(frozen=True)
class Mode:
    """A kind of fault.

    Attributes:
        name: Key used in files and calls, for example ``"slow to return"``.
        effect: What it puts in the place of the part's law; in ``modes.toml`` its name.
        says: Completes the sentence "The lever …".
        change: What it does to the part's law, in words.
        looks_like: What it looks like at the bench.
        causes: Usual causes, the commonest first.
        remedy: Usual remedy, the gentlest first.
        cautions: What can hurt while doing it.
        weight: Prior weight, relative to the other modes.
        cured_by_oil: How often oil alone cures it, 0 to 1.
    """

    name: str
    effect: Effect
    says: str
    change: str
    looks_like: str
    causes: str
    remedy: str
    cautions: str
    weight: float
    cured_by_oil: float = 0.0


def _mode(name: str, told: Mapping[str, Any]) -> Mode:
    cautions = " ".join(_CAUTIONS[one] for one in told["cautions"])
    return Mode(name, **{**told, "effect": Effect[told["effect"]], "cautions": cautions})


MODES = {name: _mode(name, told) for name, told in _TOLD.items()}
"""All modes by name, as ``modes.toml`` tells of them."""

STUCK_AT_REST = MODES["stuck at rest"]
STUCK_OPERATED = MODES["stuck operated"]
SLOW_TO_RETURN = MODES["slow to return"]
SLOW_TO_OPERATE = MODES["slow to operate"]
HALF_WAY = MODES["half-way"]
DISCONNECTED = MODES["disconnected"]
UNKNOWN = MODES["unknown"]
BIT_LOST = MODES["bit lost before the bar"]
BIT_ADDED = MODES["bit added before the bar"]
CONTACT_OPEN = MODES["open contact"]
CONTACT_SHORTED = MODES["shorted contact"]
CONTACT_BOUNCES = MODES["bouncing contact"]
MISSES = MODES["misses at times"]
EXCHANGED = MODES["exchanged"]
WORN_TYPE = MODES["worn type"]
WORN_ROW = MODES["worn row of type"]
WORN_COLUMN = MODES["worn column of type"]
TYPE_OFF = MODES["one place off"]

BEFORE_THE_PRINTER = frozenset({BIT_LOST.name, BIT_ADDED.name})
"""Modes of the line, the keyboard or the selector: they come with the code, not with the parts."""

OF_TYPE = frozenset({WORN_TYPE.name, WORN_ROW.name, WORN_COLUMN.name, TYPE_OFF.name})
"""Modes of the type; their part is the output itself, and their input says which type."""

NAMES_ANOTHER = frozenset({DISCONNECTED.name, EXCHANGED.name})
"""Modes whose input is the name of another part."""

SLUGGISH = frozenset({SLOW_TO_RETURN.name, SLOW_TO_OPERATE.name})
"""Modes whose outcome depends on the character before."""

BY_CHANCE = frozenset({HALF_WAY.name, CONTACT_BOUNCES.name})
"""Modes that leave it to chance, anew for every character, what each follower finds."""


@dataclass(frozen=True, order=True)
class Fault:
    """One part that misbehaves in one way.

    Attributes:
        part: Name of the part.
        mode: Name of the mode.
        input: For a disconnected part, the input that it no longer feels; for one that is
            exchanged, the other part; for the type, which of it: a character, the number of a row
            or column from 1, or the side to which it is off. Otherwise empty.
        sometimes: Whether it comes and goes, from one character to the next.
    """

    part: str
    mode: str
    input: str = ""
    sometimes: bool = False

    def __str__(self) -> str:
        joined = {DISCONNECTED.name: " from ", EXCHANGED.name: " with "}.get(self.mode, " ")
        felt = f"{joined}{self.input}" if self.input else ""
        return f"{self.part} {self.mode}{felt}{' at times' if self.sometimes else ''}"


Hypothesis = tuple[Fault, ...]
"""A set of faults that are all present at once, in sorted order; ``()`` is a healthy machine."""


class FaultError(ValueError):
    """A fault that this machine cannot have; the message offers the nearest names."""


def check(mechanism: Mechanism, fault: Fault) -> Fault:
    """Return the fault if the mechanism can have it.

    Raises:
        FaultError: For an unknown part, mode or input, or a mode that does not fit the part.
    """
    if fault.part == OUTPUT and fault.mode in OF_TYPE:
        return fault  # which type there is only the machine knows
    if fault.part not in mechanism.parts:
        raise FaultError(
            f"no part is called {fault.part!r}. {did_you_mean(fault.part, mechanism.parts)}"
        )
    if fault.mode not in MODES:
        raise FaultError(f"no mode is called {fault.mode!r}. {did_you_mean(fault.mode, MODES)}")
    inputs = mechanism[fault.part].joint.inputs
    if fault.mode == DISCONNECTED.name and fault.input not in inputs:
        hint = did_you_mean(fault.input, inputs) if inputs else "It follows no other part."
        raise FaultError(f"{fault.part} does not feel {fault.input!r}. {hint}")
    if fault.mode not in NAMES_ANOTHER and fault.input:
        raise FaultError(
            f"a part that is {fault.mode!r} is so for every input. Leave {fault.input!r} out."
        )
    known_faults = (
        *faults_of(mechanism, fault.part),
        *rarer_faults_of(mechanism, fault.part),
        *(other for other in assembly_faults(mechanism) if other.part == fault.part),
        *(other for other in latch_faults(mechanism) if other.part == fault.part),
    )
    if fault not in known_faults:
        fitting = sorted({known.mode for known in known_faults})
        raise FaultError(f"{fault.part} cannot be {fault.mode!r}. It can be: {', '.join(fitting)}.")
    return fault


@kept(10_000)
def faults_of(mechanism: Mechanism, name: str) -> tuple[Fault, ...]:
    """Every single fault that one part can have.

    A part that can stand at more than two places has no half-way mode (it has places half-way
    of its own), and one whose rest lies between its ends has no sluggish ones.
    """
    law, rest, joint = mechanism.laws[name], mechanism.rest[name], mechanism[name].joint
    modes = list(_constant_modes(joint))
    if rest in (0, len(law.cuts)) and not joint.electric:
        modes += [SLOW_TO_RETURN, SLOW_TO_OPERATE]
    if len(law.cuts) == 1:
        modes.append(CONTACT_BOUNCES if joint.electric else HALF_WAY)
    links = dict.fromkeys(joint.inputs)
    return (
        *(Fault(name, mode.name) for mode in modes),
        *(Fault(name, DISCONNECTED.name, other) for other in links),
    )


def _constant_modes(joint: Joint) -> tuple[Mode, ...]:
    """The modes in which a part stays at one of its ends; a contact has words of its own."""
    if joint.electric:
        return CONTACT_OPEN, CONTACT_SHORTED
    return STUCK_AT_REST, STUCK_OPERATED


@kept(10_000)
def rarer_faults_of(mechanism: Mechanism, name: str) -> tuple[Fault, ...]:
    """Faults of one part to think of when no steady one explains a log.

    Each steady fault may come and go (a half-way part does so anyway), and the part may do
    something that is not on the list.  A code bar may be told the wrong thing.
    """
    steady = (f for f in faults_of(mechanism, name) if f.mode not in BY_CHANCE)
    line = line_faults(mechanism) if name in mechanism.bars else ()
    return (
        *(replace(f, sometimes=True) for f in steady),
        Fault(name, UNKNOWN.name),
        *(fault for fault in line if fault.part == name),
    )


def line_faults(mechanism: Mechanism) -> tuple[Fault, ...]:
    """Faults before the printer: a bit lost or added on its way to a code bar."""
    return tuple(Fault(bar, mode) for bar in mechanism.bars for mode in sorted(BEFORE_THE_PRINTER))


@kept(1)
def assembly_faults(mechanism: Mechanism) -> tuple[Fault, ...]:
    """Two parts put back in each other's place: bars, or levers that one part senses."""
    bars = tuple(mechanism.bars)
    pairs = dict.fromkeys(combinations(bars, 2))
    for part in mechanism:
        own = [n for n in dict.fromkeys(part.joint.inputs) if not mechanism[n].joint.given]
        pairs |= dict.fromkeys(combinations(own, 2))
    laws = mechanism.laws
    return tuple(
        Fault(one, EXCHANGED.name, other)
        for one, other in pairs
        if len(laws[one].places) == len(laws[other].places)
        and mechanism.unit(one) == mechanism.unit(other)
        and one not in mechanism.upstream(other)
        and other not in mechanism.upstream(one)
    )


def latch_faults(mechanism: Mechanism) -> tuple[Fault, ...]:
    """Latches that now and then are not moved, and stay where they stood."""
    return tuple(Fault(latch, MISSES.name) for latch in mechanism.latches)


def rarer_faults(mechanism: Mechanism) -> tuple[Fault, ...]:
    """The rarer single faults of a mechanism, part by part in working order."""
    return tuple(fault for name in mechanism.parts for fault in rarer_faults_of(mechanism, name))


def single_faults(mechanism: Mechanism) -> tuple[Fault, ...]:
    """Every single fault of a mechanism, part by part in working order.

    Args:
        mechanism: The parts; of a machine, ``machine.mechanism``.
    """
    return tuple(fault for name in mechanism.parts for fault in faults_of(mechanism, name))


def hypothesis(mechanism: Mechanism, faults: Iterable[Fault]) -> Hypothesis:
    """A hypothesis in standard order, every fault checked.

    Raises:
        FaultError: As :func:`check`, or if one part is given two faults that fight.
    """
    sorted_faults = tuple(sorted({check(mechanism, fault) for fault in faults}))
    own = [f.part for f in sorted_faults if f.mode != DISCONNECTED.name and f.part != OUTPUT]
    for name in own:
        if own.count(name) > 1:
            raise FaultError(f"{name} is given two places at once. Keep one fault of its own.")
    return sorted_faults


def iter_pairs(mechanism: Mechanism) -> Iterator[Hypothesis]:
    """Every pair of single faults that one machine can have at once."""
    singles = single_faults(mechanism)
    for i, first in enumerate(singles):
        for second in singles[i + 1 :]:
            if first.part != second.part or DISCONNECTED.name in (first.mode, second.mode):
                yield tuple(sorted((first, second)))
