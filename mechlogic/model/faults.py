"""Faults: what can go wrong with a part, what the bench knows about it, and what it changes.

A fault replaces one term of the algebra.  A *mode* is a kind of fault; it carries the change it
makes, what it looks like at the bench, its usual causes and remedy, the cautions that go with
them, and a weight: how much oftener it is met than others.

The weights and the bench knowledge are common practice, no source.  They only order the
suspects; they never rule one out.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import Enum
from itertools import combinations

from mechlogic.helpers.kept import kept
from mechlogic.model.laws import Joint
from mechlogic.model.mechanism import Mechanism, did_you_mean
from mechlogic.model.outputs import OUTPUT

SAFE_TO_LOOK = (
    "Unplug the machine and lock it off before you reach in; capacitors and wound springs keep "
    "their energy. Turn the shaft by hand only with the motor unplugged, and keep fingers clear of "
    "racks, levers and the hammer."
)
SAFE_TO_OIL = (
    "Work with solvents and oils in moving air, away from flame, with gloves; keep them off type, "
    "belts, wiring and old paint. Old grease, felt and insulation may hold harmful matter: do not "
    "scrape or blow it about dry."
)
SAFE_TO_WIRE = (
    "Work on mains wiring is for people licensed to do it; local electrical codes come before "
    "anything written here. The signal line has a supply of its own, often a dangerous direct "
    "voltage: unplugging the machine does not make it dead. Clean and test contacts only with that "
    "supply off, and let solvent dry before you switch on."
)


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
        effect: What it puts in the place of the part's law.
        says: Completes the sentence "The lever …".
        change: What it does to the part's law, in words.
        looks_like: What it looks like at the bench.
        causes: Usual causes, the commonest first.
        remedy: Usual remedy, the gentlest first.
        cautions: What can hurt while doing it.
        weight: Prior weight, relative to the other modes.
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


STUCK_AT_REST = Mode(
    name="stuck at rest",
    effect=Effect.AT_REST,
    says="stays at rest, whatever is sent",
    change="a constant: the place it has when no bit is set",
    looks_like="It does not stir when its bar is set, even when the shaft is turned by hand.",
    causes="hardened oil or rust in its bearing, a bent neighbour that holds it, a lost return pin",
    remedy="Clean the bearing, let penetrating oil work, free it by hand; straighten what rubs.",
    cautions=f"{SAFE_TO_LOOK} {SAFE_TO_OIL}",
    weight=2.0,
)
STUCK_OPERATED = Mode(
    name="stuck operated",
    effect=Effect.FAR_END,
    says="stays operated, whatever is sent",
    change="a constant: the end away from the place it has when no bit is set",
    looks_like="It stands operated when the machine is at rest and does not fall back.",
    causes="hardened oil or rust, a return spring unhooked or broken, a burr that catches",
    remedy="Look for the spring first; then clean, oil and free the bearing.",
    cautions=f"{SAFE_TO_LOOK} {SAFE_TO_OIL}",
    weight=2.0,
)
SLOW_TO_RETURN = Mode(
    name="slow to return",
    effect=Effect.LATE_BACK,
    says="comes back late, so it still stands where the character before had it",
    change="at speed, the further of the places asked for now and one character ago",
    looks_like="Right when the shaft is turned by hand, wrong at speed after some characters.",
    causes="old oil gone thick, a tired return spring, a cold room",
    remedy="Warm the room, clean off the old oil, oil lightly; then test the spring.",
    cautions=f"{SAFE_TO_LOOK} {SAFE_TO_OIL}",
    weight=8.0,
)
SLOW_TO_OPERATE = Mode(
    name="slow to operate",
    effect=Effect.LATE_OUT,
    says="moves late, so it operates only when the character before asked for it too",
    change="at speed, the nearer of the places asked for now and one character ago",
    looks_like="Right when the shaft is turned by hand; at speed right only on a repeat.",
    causes="old oil gone thick, too much friction for the push it gets, a cold room",
    remedy="Warm the room, clean off the old oil, oil lightly; then look for what rubs.",
    cautions=f"{SAFE_TO_LOOK} {SAFE_TO_OIL}",
    weight=6.0,
)
HALF_WAY = Mode(
    name="half-way",
    effect=Effect.BY_CHANCE,
    says="hangs between its two ends, so what follows may find it in either",
    change="a place between the two ends: each follower may see it operated or at rest",
    looks_like="It comes and goes: the same character prints now right, now wrong.",
    causes="thick oil, a worn or bent end, an adjustment that has slipped",
    remedy="Clean and oil; then measure its travel and adjust it.",
    cautions=f"{SAFE_TO_LOOK} {SAFE_TO_OIL}",
    weight=3.0,
)
DISCONNECTED = Mode(
    name="disconnected",
    effect=Effect.UNHOOKED,
    says="no longer feels {input}",
    change="this one input is found at rest for ever",
    looks_like="The input moves and the part does not follow, though it moves freely by finger.",
    causes="a clip, pin or spring lost; a link put back beside its stud",
    remedy="Hook the link up again; replace the clip or the spring.",
    cautions=SAFE_TO_LOOK,
    weight=1.0,
)

UNKNOWN = Mode(
    name="unknown",
    effect=Effect.FREE,
    says="does something that is not on the list",
    change="free: it may stand at any of its places, anew for every character",
    looks_like="No fault on the list explains it: look at the part itself.",
    causes="anything: a foreign body, a broken tooth, a part put together wrongly",
    remedy="Watch the part while the shaft is turned by hand, motor unplugged.",
    cautions=f"{SAFE_TO_LOOK} {SAFE_TO_OIL}",
    weight=0.2,
)

BIT_LOST = Mode(
    name="bit lost before the bar",
    effect=Effect.AT_REST,
    says="is never told of its bit, which is lost before it",
    change="the code bar never receives its bit: the printer itself has no fault",
    looks_like="The same text from another source prints right; the bar moves freely by finger.",
    causes="a keyboard contact that stays open, a broken wire, a selector that misses one unit",
    remedy="Send the same text from another source before you open the printer.",
    cautions=f"{SAFE_TO_WIRE} {SAFE_TO_LOOK}",
    weight=1.5,
)
BIT_ADDED = Mode(
    name="bit added before the bar",
    effect=Effect.FAR_END,
    says="is told of its bit with every character, though nobody sent it",
    change="the code bar always receives its bit: the printer itself has no fault",
    looks_like="The same text from another source prints right; the bar moves freely by finger.",
    causes="a keyboard contact that stays closed, wires that touch, a selector that drags",
    remedy="Send the same text from another source before you open the printer.",
    cautions=f"{SAFE_TO_WIRE} {SAFE_TO_LOOK}",
    weight=1.0,
)

CONTACT_OPEN = Mode(
    name="open contact",
    effect=Effect.OPEN,
    says="never closes, though its lever comes",
    change="a constant: open",
    looks_like="Its lever presses it, and a continuity tester shows nothing.",
    causes="dirt or oxide on the contact, a bent spring, a broken wire or joint",
    remedy="Clean the contact with card, not with a file; set the spring; then look at the wire.",
    cautions=f"{SAFE_TO_LOOK} {SAFE_TO_WIRE}",
    weight=4.0,
)
CONTACT_SHORTED = Mode(
    name="shorted contact",
    effect=Effect.CLOSED,
    says="is closed all the time",
    change="a constant: closed",
    looks_like="A continuity tester shows it closed with every key at rest.",
    causes="a bent spring, a whisker of metal, worn insulation, wires that touch",
    remedy="Look along the contact springs for what touches; set the spring, renew the insulation.",
    cautions=f"{SAFE_TO_LOOK} {SAFE_TO_WIRE}",
    weight=1.5,
)
CONTACT_BOUNCES = Mode(
    name="bouncing contact",
    effect=Effect.BOUNCES,
    says="bounces as it closes, so the line may find it closed or open",
    change="closed, it may be found open at the instant at which it is sampled",
    looks_like="The same key sends now one character and now another.",
    causes="a weak contact spring, a key struck hard, a gap set too wide",
    remedy="Clean the contact; then set its gap and its spring pressure.",
    cautions=f"{SAFE_TO_LOOK} {SAFE_TO_WIRE}",
    weight=3.0,
)

MISSES = Mode(
    name="misses at times",
    effect=Effect.STAYS,
    says="misses now and then, and stays where it stood",
    change="at times, the place where it stood before",
    looks_like="After the shift is sent, the machine now and then goes on in the other case.",
    causes="a worn or dirty corner, a weak spring, a pawl that does not quite reach",
    remedy="Clean and oil it; watch it while it is thrown slowly by hand; then adjust its throw.",
    cautions=f"{SAFE_TO_LOOK} {SAFE_TO_OIL}",
    weight=3.0,
)
EXCHANGED = Mode(
    name="exchanged",
    effect=Effect.SWAPPED,
    says="has changed places with {input}",
    change="each does the other's work",
    looks_like="Wrong since it was put together; whole groups of characters have changed places.",
    causes="two wires, links, levers or bars put back in each other's place",
    remedy="Compare it with a photograph or a drawing; put both back in their places.",
    cautions=SAFE_TO_LOOK,
    weight=0.1,
)
WORN_TYPE = Mode(
    name="worn type",
    effect=Effect.TYPE,
    says="has a broken, worn or filled {input}",
    change="this character prints nothing, or nothing that can be read",
    looks_like="One character is always missing or unreadable; every other one prints well.",
    causes="type filled with ink and dust, a letter broken off or worn flat",
    remedy="Clean the type with a soft brush; look at it with a glass; test the same letter again.",
    cautions=f"{SAFE_TO_LOOK} {SAFE_TO_OIL}",
    weight=0.6,
)
WORN_ROW = replace(
    WORN_TYPE,
    name="worn row of type",
    says="is worn, filled or not struck in row {input}",
    change="a whole row of characters prints nothing, or nothing that can be read",
    looks_like="All characters of one row are missing or unreadable; every other one prints well.",
    weight=0.03,
)
WORN_COLUMN = replace(
    WORN_TYPE,
    name="worn column of type",
    says="is worn, filled or not struck in column {input}",
    change="a whole column of characters prints nothing, or nothing that can be read",
    looks_like="All characters of one column are missing or unreadable; all others print well.",
    weight=0.03,
)
TYPE_OFF = Mode(
    name="one place off",
    effect=Effect.TYPE,
    says="stands one place off: {input}",
    change="every character is the neighbour of the right one",
    looks_like="Every character is wrong, and always by the same step on the type.",
    causes="the wheel put back one tooth off, a slipped set screw or gear",
    remedy="Send one character and see which place faces the hammer; reset the wheel on its shaft.",
    cautions=SAFE_TO_LOOK,
    weight=0.3,
)

MODES = {
    mode.name: mode
    for mode in (
        STUCK_AT_REST,
        STUCK_OPERATED,
        SLOW_TO_RETURN,
        SLOW_TO_OPERATE,
        HALF_WAY,
        DISCONNECTED,
        UNKNOWN,
        BIT_LOST,
        BIT_ADDED,
        CONTACT_OPEN,
        CONTACT_SHORTED,
        CONTACT_BOUNCES,
        MISSES,
        EXCHANGED,
        WORN_TYPE,
        WORN_ROW,
        WORN_COLUMN,
        TYPE_OFF,
    )
}
"""All modes by name."""

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
