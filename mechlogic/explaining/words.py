"""The words reading: say to a newcomer what each part does, and why, for one code."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from mechlogic.helpers.sentences import listed as listed
from mechlogic.model.codes import Setting
from mechlogic.model.faults import MODES, Fault
from mechlogic.model.laws import Scene, Touched
from mechlogic.model.logbook import NOTHING, UNREADABLE
from mechlogic.model.machine import Machine
from mechlogic.model.mechanism import asked_place
from mechlogic.model.outputs import OUTPUT, Output, singles
from mechlogic.model.seen import pieces

Places = Mapping[str, int]
"""For each part, the number of the place at which it stands."""


@dataclass(frozen=True)
class Step:
    """One step of an explanation.

    Attributes:
        part: The part it speaks of, or :data:`~mechlogic.model.outputs.OUTPUT` for what is shown.
        says: The sentence.
    """

    part: str
    says: str


def explain(
    machine: Machine, code: int | str, latched: Mapping[str, int] | None = None
) -> tuple[Step, ...]:
    """Explain one code, step by step from the code bars to the character.

    Args:
        machine: A healthy machine.
        code: The code, without parity; or a character or its name, such as ``"A"`` or ``"CR"``;
            or a :class:`.Setting` of the code bars.
        latched: The number of the place at which each latch stood before; those left out stood at
            rest.

    Raises:
        CodeError: If the text names no code.
    """
    setting = machine.as_set(code)
    table = machine.table_with(latched or {})
    places = table.in_row(setting)
    steps = [Step(name, sentence(machine, name, places, setting)) for name in places]
    printed = machine.printed_with(latched or {})[setting]
    return (*steps, Step(OUTPUT, printed_sentence(machine, setting, printed, printed)))


def sentence(machine: Machine, name: str, places: Places, setting: Setting | None = None) -> str:
    """Say where one part stands, and which of the parts it touches put it there.

    Args:
        machine: The machine.
        name: The part.
        places: Where every part stands, for one code.
        setting: How the code bars stand, for sentences about them.
    """
    mechanism = machine.mechanism
    joint = mechanism[name].joint
    if key := mechanism.keys.get(name):
        return _key_sentence(machine, name, places[name], key.code)
    if bar := mechanism.bars.get(name):
        return _bar_sentence(machine, name, places[name], bar.bit, setting)
    inputs = [places[other] for other in joint.inputs]
    if joint.remembers:
        inputs.append(places[name])
    asked = asked_place(mechanism.laws[name], inputs)
    said = capitalised(joint.sentence(_scene(machine, name, asked, places)))
    if asked == places[name]:
        return said
    stands = displacement(machine, name, places[name])
    return f"{said} So it should, but it stands at {stands}."


def fault_sentence(machine: Machine, fault: Fault) -> str:
    """Say what one fault is: "The middle stop lever comes back late, …"."""
    which = fault.input if fault.part == OUTPUT else the(machine.label(fault.input))
    says = MODES[fault.mode].says.replace("{input}", which)
    label = the(machine.label(fault.part))
    return f"At times {label} {says}." if fault.sometimes else f"{capitalised(label)} {says}."


def printed_sentence(
    machine: Machine, setting: Setting, printed: str, good: str | None = None
) -> str:
    """Say what is printed for a setting of the code bars, and how it differs from a good print.

    Args:
        machine: The machine.
        setting: How the code bars stand.
        printed: What is printed.
        good: What a good machine prints; with every latch at rest if left out.
    """
    good = machine.printed[setting] if good is None else good
    says = shown_sentence(machine, setting, printed)
    return says if printed == good else f"{says[:-1]}; {good_sentence(machine, good)}"


def shown_sentence(machine: Machine, setting: Setting, printed: str) -> str:
    """Say what a machine shows for a setting of the code bars: "For A it prints Q."."""
    sent, does = machine.code.name(setting % len(machine.code)), verb(machine.output)
    if printed == UNREADABLE:
        result = "it" if does == "sends" else "the print"
        return f"For {sent} {machine.output.muddle}: {result} is unreadable."
    if printed == NOTHING and does == "prints":
        return f"For {sent} nothing is printed."
    return f"For {sent} it {shown(machine, printed)}."


def good_sentence(machine: Machine, good: str) -> str:
    """Say what a good machine shows instead: "a good machine prints A."."""
    return f"a good machine {shown(machine, good)}."


def shown(machine: Machine, seen: str) -> str:
    """What a machine does where this is seen: "prints A and feeds a line"."""
    doings, does = _doings(machine.output), verb(machine.output)
    if seen == NOTHING:
        return {"prints": "prints nothing", "sends": "sends a blank"}.get(does, "does nothing")
    if seen == UNREADABLE:
        return f"{does} something unreadable"
    return listed(doings.get(piece, f"{does} {piece}") for piece in pieces(seen))


def _doings(output: Output) -> Mapping[str, str]:
    """For each name of an action, what is done."""
    layout, glyphs = output.layout(), output.glyphs
    return {glyphs[cell]: does for cell, does in layout.does.items()}


def verb(output: Output) -> str:
    """What a machine does with a character; empty if it shows none."""
    return next((one.verb for one in singles(output) if one.verb), "")


def displacement(machine: Machine, name: str, place: int) -> str:
    """The displacement of a part at one of its places, with its unit."""
    value = machine.mechanism.laws[name].places[place]
    return measure(value, machine.mechanism.unit(name))


def stand(machine: Machine, name: str, place: int) -> str:
    """One of a part's places in words: letters or figures, where it decides between these."""
    if name == machine.declared.case:
        return "figures" if place else "letters"
    return displacement(machine, name, place)


def measure(value: Fraction, unit: str) -> str:
    """A displacement in words: ``2.5 mm``, ``-67.5°``, or ``closed`` for a contact."""
    if unit == "contact":
        return "closed" if value else "open"
    number = f"{float(value):.4g}".replace("-", "−")
    return f"{number}°" if unit == "degrees" else f"{number} mm"


def the(label: str) -> str:
    """A label with its article; one that ends in a number or a letter is a name and takes none."""
    last = label.split()[-1:] or [""]
    return label if label[-1:].isdigit() or len(last[0]) == 1 else f"the {label}"


def parts_in_order(machine: Machine) -> tuple[str, ...]:
    """The parts as a person would list them: by assembly, then by name, slide 2 before slide 10."""
    parts = tuple(machine.mechanism)
    assemblies = list(dict.fromkeys(part.group for part in parts))

    def place(name: str) -> tuple[int, list[tuple[bool, int, str]]]:
        pieces = re.findall(r"[0-9]+|[^0-9]+", machine.label(name).lower())
        numbered = [(p.isdigit(), int(p) if p.isdigit() else 0, p) for p in pieces]
        return assemblies.index(machine.mechanism[name].group), numbered

    return tuple(sorted((part.name for part in parts), key=place))


def uncapitalised(text: str) -> str:
    """The text with a small first letter, to go on with after a colon."""
    return text[:1].lower() + text[1:]


def percent(chance: float | Fraction) -> str:
    """A chance as a person would say it, never rounded to certainty: ``25 %``, ``under 1 %``."""
    value = 100 * chance
    if value in (0, 100):
        return f"{int(value)} %"
    if value < 1 or value > 99:
        return "under 1 %" if value < 1 else "over 99 %"
    return f"{float(value):.0f} %"


def believed(probability: float) -> str:
    """A belief as a person would say it: never certain, however many figures are nines."""
    return percent(min(max(probability, 1e-9), 1 - 1e-9))


def capitalised(text: str) -> str:
    """The text with a capital first letter and the rest as it was."""
    return text[:1].upper() + text[1:]


def _bar_sentence(
    machine: Machine, name: str, place: int, bit: int, setting: Setting | None
) -> str:
    label, moved = the(machine.label(name)), place > 0
    where = f"moves {displacement(machine, name, place)}" if moved else "stays at rest"
    if setting is None:
        return capitalised(f"{label} {where}.")
    is_set = bool(setting >> (bit - 1) & 1)
    said = f"Bit b{bit} is {'set' if is_set else 'not set'}"
    return f"{said}: {label} {where}." if is_set == moved else f"{said}, but {label} {where}."


def _key_sentence(machine: Machine, name: str, place: int, code: int) -> str:
    label, key = capitalised(the(machine.label(name))), machine.code.name(code)
    if place:
        return f"{label} is pressed for {key}: it moves {displacement(machine, name, place)}."
    return f"{label} stays at rest."


def _scene(machine: Machine, name: str, place: int, places: Places) -> Scene:
    law, part = machine.mechanism.laws, machine.mechanism[name]
    # Where a part is let go or thrown at a depth, lost motion is taken up before that depth counts.
    lost = part.gap_mm if part.joint.takes_up else Fraction(0)
    inputs = []
    for other in part.joint.inputs:
        value, full = law[other].places[places[other]], law[other].full
        value = max(Fraction(0), value - lost) if lost else value
        shown = displacement(machine, other, places[other])
        inputs.append(Touched(the(machine.label(other)), shown, value, full))
    at = law[name].places[place]
    return Scene(
        the(machine.label(name)), displacement(machine, name, place), at != 0, tuple(inputs)
    )
