"""The words reading: say to a newcomer what each part does, and why, for one code."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import singledispatch

from mechlogic import laws
from mechlogic.laws import Joint, Literal
from mechlogic.logbook import NOTHING, UNREADABLE
from mechlogic.machine import Machine
from mechlogic.mechanism import asked_place
from mechlogic.table import place_in_row

Places = Mapping[str, int]
"""For each part, the number of the place at which it stands."""


@dataclass(frozen=True)
class Step:
    """One step of an explanation.

    Attributes:
        part: The part it speaks of, or ``"print"`` for the printing itself.
        says: The sentence.
    """

    part: str
    says: str


@dataclass(frozen=True)
class Scene:
    """What a sentence about one part needs to know.

    Attributes:
        part: Its label with its article, as in "the arm" or "slide 5".
        at: Its displacement with its unit.
        moved: Whether it stands away from zero.
        inputs: For each input (label, displacement with unit, share of its full travel).
    """

    part: str
    at: str
    moved: bool
    inputs: tuple[tuple[str, str, Fraction], ...]


def explain(machine: Machine, code: int) -> tuple[Step, ...]:
    """Explain one code, step by step from the code bars to the character.

    Args:
        machine: A healthy machine.
        code: The setting of the code bars, parity bit included.
    """
    places = {name: place_in_row(columns, code) for name, columns in machine.healthy.places.items()}
    steps = [Step(name, sentence(machine, name, places, code)) for name in places]
    return (*steps, Step("print", printed_sentence(machine, code, machine.printed[code])))


def sentence(machine: Machine, name: str, places: Places, code: int | None = None) -> str:
    """Say where one part stands, and which of the parts it touches put it there.

    Args:
        machine: The machine.
        name: The part.
        places: Where every part stands, for one code.
        code: The setting of the code bars, for sentences about them.
    """
    mechanism = machine.mechanism
    joint = mechanism[name].joint
    if isinstance(joint, laws.Bit):
        return _bar_sentence(machine, name, places[name], joint.bit, code)
    asked = asked_place(mechanism.laws[name], [places[other] for other in joint.inputs])
    said = capitalised(_says(joint, _scene(machine, name, asked, places)))
    if asked == places[name]:
        return said
    stands = displacement(machine, name, places[name])
    return f"{said} So it should, but it stands at {stands}."


def printed_sentence(machine: Machine, code: int, printed: str) -> str:
    """Say what is printed for a setting of the code bars, and how it differs from a good print."""
    good = machine.printed[code]
    sent = machine.code.name(code % len(machine.code))
    match printed:
        case _ if printed == NOTHING:
            says = f"For {sent} nothing is printed"
        case _ if printed == UNREADABLE:
            says = f"For {sent} the wheel stands between two characters: the print is unreadable"
        case _:
            says = f"For {sent} the hammer prints {printed}"
    return f"{says}." if printed == good else f"{says}; a good machine prints {good}."


def displacement(machine: Machine, name: str, place: int) -> str:
    """The displacement of a part at one of its places, with its unit."""
    value = machine.mechanism.laws[name].places[place]
    return measure(value, machine.mechanism.unit(name))


def measure(value: Fraction, unit: str) -> str:
    """A displacement in words: ``2.5 mm`` or ``-67.5°``."""
    number = f"{float(value):.4g}".replace("-", "−")
    return f"{number}°" if unit == "degrees" else f"{number} mm"


def the(label: str) -> str:
    """A label with its article; a numbered label is a name and takes none."""
    return label if label[-1:].isdigit() else f"the {label}"


def listed(items: Iterable[str], last: str = "and") -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    words = list(items)
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def capitalised(text: str) -> str:
    """The text with a capital first letter and the rest as it was."""
    return text[:1].upper() + text[1:]


def _bar_sentence(machine: Machine, name: str, place: int, bit: int, code: int | None) -> str:
    label, moved = the(machine.label(name)), place > 0
    where = f"moves {displacement(machine, name, place)}" if moved else "stays at rest"
    if code is None:
        return capitalised(f"{label} {where}.")
    is_set = bool(code >> (bit - 1) & 1)
    said = f"Bit b{bit} is {'set' if is_set else 'not set'}"
    return f"{said}: {label} {where}." if is_set == moved else f"{said}, but {label} {where}."


def _scene(machine: Machine, name: str, place: int, places: Places) -> Scene:
    law = machine.mechanism.laws
    inputs = []
    for other in machine.mechanism[name].joint.inputs:
        value, full = law[other].places[places[other]], law[other].full
        shown = displacement(machine, other, places[other])
        inputs.append((the(machine.label(other)), shown, abs(value) / full))
    at = law[name].places[place]
    return Scene(
        the(machine.label(name)), displacement(machine, name, place), at != 0, tuple(inputs)
    )


@singledispatch
def _says(joint: Joint, scene: Scene) -> str:
    raise NotImplementedError(f"no words for {type(joint).__name__}")


@_says.register
def _(joint: laws.Follow, scene: Scene) -> str:
    input_ = scene.inputs[0][0]
    if scene.moved:
        return f"{scene.part} follows {input_} and moves {scene.at}."
    return f"{scene.part} stays at rest with {input_}."


@_says.register
def _(joint: laws.EitherPushes, scene: Scene) -> str:
    pushing = [label for label, _, share in scene.inputs if share > 0]
    if not pushing:
        idle = listed((label for label, _, _ in scene.inputs), "nor")
        return f"neither {idle} pushes, so {scene.part} stays at rest."
    both = "both push" if len(pushing) == 2 else "push" if len(pushing) > 1 else "pushes"
    return f"{listed(pushing)} {both} {scene.part}: it moves {scene.at}."


@_says.register
def _(joint: laws.AllClear, scene: Scene) -> str:
    blocking = [label for label, _, share in scene.inputs if share < 1]
    if not blocking:
        clear = listed(label for label, _, _ in scene.inputs)
        return f"{clear} are clear: {scene.part} moves {scene.at}."
    return f"{scene.part} is held back by {listed(blocking)}."


@_says.register
def _(joint: laws.Withdraw, scene: Scene) -> str:
    input_ = scene.inputs[0][0]
    if scene.moved:
        return f"{input_} is at rest, so {scene.part} goes its full {scene.at}."
    return f"{scene.part} is held back by {input_}."


@_says.register
def _(joint: laws.PullBar, scene: Scene) -> str:
    holding = [
        label
        for (label, _, share), notch in zip(scene.inputs, joint.notches, strict=True)
        if not _satisfied(notch, share)
    ]
    if holding:
        show = "shows" if len(holding) == 1 else "show"
        return f"{listed(holding)} {show} no notch: {scene.part} is held up."
    return f"every bar under {scene.part} shows it a notch: it drops {scene.at}."


@_says.register
def _(joint: laws.SteppedStops, scene: Scene) -> str:
    in_the_way = sorted(
        (stop.at, label)
        for stop, (label, _, share) in zip(joint.stops, scene.inputs, strict=True)
        if not _satisfied(stop.lever, share)
    )
    if not in_the_way:
        return f"nothing is in the way of {scene.part}: it runs to its end, {scene.at}."
    if not scene.moved:
        return f"{in_the_way[0][1]} holds {scene.part} at the start of its way."
    return f"{scene.part} runs to {scene.at}, where {in_the_way[0][1]} is in its way."


@_says.register
def _(joint: laws.HalfStep, scene: Scene) -> str:
    (base, base_at, _), (shoulder, _, share) = scene.inputs
    if share > 0:
        return f"{base} brings {scene.part} to {base_at}, and {shoulder} shifts it to {scene.at}."
    return f"{base} brings {scene.part} to {scene.at}; {shoulder} adds nothing."


@_says.register
def _(joint: laws.OpposedRacks, scene: Scene) -> str:
    pulling = [f"{label} by {at}" for label, at, share in scene.inputs if share > 0]
    if not scene.moved:
        return f"{scene.part} stands at {scene.at}, between two columns."
    return f"{listed(pulling)} turns {scene.part} to {scene.at}."


@_says.register
def _(joint: laws.SummingLever, scene: Scene) -> str:
    shares = listed(f"{at} of {label}" for label, at, _ in scene.inputs)
    return f"{scene.part} divides the way between {shares}: it stands at {scene.at}."


def _satisfied(literal: Literal, share: Fraction) -> bool:
    """Whether a literal finds its part at the end it wants; half-way counts as operated."""
    return (share >= Fraction(1, 2)) == literal.operated


def codes_in_words(machine: Machine, codes: Sequence[int]) -> str:
    """Names of codes as a list, in the standard's words."""
    return listed(machine.code.name(code) for code in codes)
