"""Two machines end to end: a keyboard that sends, and a printer that prints what it is sent.

The joined machine is a machine like any other.  Its code is that of the keys; the contacts of the
keyboard set the printer's code bars, so that one log is diagnosed over both.
"""

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

from mechlogic.model.laws import Follow
from mechlogic.model.machine import Declared, Machine, as_it_prints
from mechlogic.model.mechanism import Mechanism
from mechlogic.model.outputs import Line


def join(keyboard: Machine, printer: Machine) -> Machine:
    """Join a keyboard to a printer.

    Parts keep their names.  The efforts are those of both; where both name one, the printer's
    holds, as its cover is not the keyboard's.

    Args:
        keyboard: A machine whose output is a line.
        printer: A machine that receives the code which the keyboard sends. One without a parity bar
            takes no notice of the parity bit.

    Raises:
        ValueError: If the two do not fit together, or if a name stands for a part of each.
    """
    contacts = _contacts(keyboard, printer)
    parts = [*keyboard.mechanism]
    for part in printer.mechanism:
        if part.name in keyboard.mechanism.parts:
            raise ValueError(f"both machines have a part {part.name!r}. Rename it in one of them.")
        bar = printer.mechanism.bars.get(part.name)
        # a code bar follows its contact, by way of the line and a magnet
        joint = Follow(contacts[bar.bit - 1], bar.stroke) if bar else part.joint
        parts.append(replace(part, joint=joint))
    efforts: Mapping[str, Fraction] = {**keyboard.efforts, **printer.efforts}
    joined = Machine(
        name=f"{keyboard.name}_{printer.name}",
        title=f"{keyboard.title} and {printer.title}",
        about=f"{keyboard.about}\n\n{printer.about}",
        mechanism=Mechanism(parts),
        code=keyboard.code,
        parity=keyboard.parity,
        output=printer.output,
        declared=Declared(),
        efforts=efforts,
        source=frozenset(keyboard.mechanism.parts),
        cycle=printer.cycle,
        tolerances={**keyboard.tolerances, **printer.tolerances},
    )
    return replace(joined, declared=as_it_prints(joined))


def _contacts(keyboard: Machine, printer: Machine) -> tuple[str, ...]:
    line = keyboard.output
    if not isinstance(line, Line):
        raise ValueError(f"{keyboard.title} sends nothing on a line. Join a keyboard to a printer.")
    if line.code != printer.code or printer.parity not in (line.parity, "none"):
        raise ValueError(
            f"{keyboard.title} sends the {line.code.title}, parity {line.parity}; "
            f"{printer.title} receives the {printer.code.title}, parity {printer.parity}."
        )
    return line.contacts
