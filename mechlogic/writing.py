"""Writing a machine as the TOML description that gives it back.

What is written reads like the machines that come with the library: a section for each group of
parts, a table for each part, nothing that the reader would fill in by itself.  Reading it gives
the :func:`same` machine, and writing that one gives the same text.  Comments and the order of keys
of a file that the machine once came from are not kept: a machine does not know them.

Numbers are written exactly.  One that has no short decimal, such as 1/3, is refused: a decimal
that is only near would be another machine.
"""

import math
import os
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from fractions import Fraction
from itertools import groupby
from typing import Any

from mechlogic import laws, safe_file
from mechlogic.codes import Code, CodeError, shown
from mechlogic.description import ALPHABETS, DescriptionError, parse
from mechlogic.laws import Joint, Literal, Stop
from mechlogic.machine import Machine, Wheel
from mechlogic.mechanism import Mechanism, Part

__all__ = [
    "JOINTS",
    "OUTPUTS",
    "WritingError",
    "joint_keys",
    "joint_name",
    "same",
    "save",
    "write",
]

WIDTH = 100
"""Lists that would make a line longer than this are broken, in characters."""

OWN_NOTATION_ABOVE = 5
"""Codes of more units than this are written by column and row, others by character."""

Keys = Mapping[str, object]
Lines = Iterator[str]


class WritingError(ValueError):
    """A machine that no description can be written for.

    Attributes:
        where: The table and key, such as ``parts.arm.ratio``; empty for the whole machine.
        what: What is wrong.
        mend: What to do about it.
    """

    def __init__(self, where: str, what: str, mend: str) -> None:
        super().__init__(f"{where or 'the machine'}: {what}. {mend}")
        self.where, self.what, self.mend = where, what, mend


def write(machine: Machine) -> str:
    """The description of a machine, as TOML text.

    Args:
        machine: Any machine; one that was read from a description can always be written.

    Raises:
        WritingError: For what TOML, or the reader of descriptions, has no way to write: a number
            without a short decimal, half a surrogate pair, a code of its own with two cases.
    """
    return "\n".join("\n".join(lines) + "\n" for lines in _tables(machine))


def save(machine: Machine, path: str | os.PathLike[str]) -> None:
    """Write a machine's description into a file, whole or not at all.

    Before the file is touched, the text is read back and held against the machine.

    Raises:
        WritingError: As :func:`write`, and if the machine would be refused when it is read again,
            for example because it says nothing about some code.
        OSError: If the file cannot be written; an old one is then as it was.
    """
    text = write(machine)
    try:
        again = parse(text, os.fspath(path))
    except DescriptionError as error:
        what = f"it would be refused when it is read again: {error}"
        raise WritingError("", what, "Mend the machine, then save it.") from None
    if not same(machine, again):
        raise WritingError("", "it would be read back as another machine", "Save nothing of it.")
    safe_file.write_whole(path, text.encode("utf-8"))


def same(a: Machine, b: Machine) -> bool:
    """Whether two machines agree in every field, part by part.

    A code is the same if its table is; what a file calls it does not matter.  A part without a
    label is the same as one labelled with its own name.
    """
    return _fields(a) == _fields(b)


def _fields(machine: Machine) -> tuple[object, ...]:
    parts = [
        (part.name, part.joint, part.label or part.name, part.group, part.reach, part.note)
        for part in machine.mechanism
    ]
    code = machine.code
    return (
        (machine.name, machine.title, machine.about.strip()),
        dict(machine.efforts),
        parts,
        (code.units, code.names, code.figures, machine.parity),
        machine.wheel,
        machine.declared,
        {name: _hint(hints) for name, hints in machine.picture.items() if hints},
    )


def _hint(value: object) -> object:
    """A drawing hint as a description gives it: lists, tables and exact numbers."""
    match value:
        case float():
            return Fraction(repr(value)) if math.isfinite(value) else repr(value)
        case Mapping():
            return {key: _hint(inner) for key, inner in value.items()}
        case list() | tuple():
            return [_hint(item) for item in value]
    return value


# -- joints ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class JointWriter:
    """How one joint is written.

    Attributes:
        kind: The joint's class.
        keys: The keys of its table, in order, for one joint of that class.
    """

    kind: type[Any]
    keys: Callable[[Any], Keys]


def _ratio(joint: laws.Follow | laws.Withdraw | laws.EitherPushes | laws.AllClear) -> Keys:
    return _unless(1, ratio=joint.ratio)


def _unless(usual: object, **keys: object) -> Keys:
    """The keys whose value is not the usual one, which the reader fills in."""
    return {key: value for key, value in keys.items() if value != usual}


def _end(literal: Literal) -> Keys:
    return {} if literal.operated else {"when": "at rest"}


def _stop(stop: Stop) -> Keys:
    lever = {"lever": stop.lever.part, **_end(stop.lever)}
    return {"at_mm": stop.at, **lever, **_unless(None, lets_go_mm=stop.lets_go)}


JOINTS: Mapping[str, JointWriter] = {
    "bit": JointWriter(laws.Bit, lambda j: {"bit": j.bit, "stroke_mm": j.stroke}),
    "follow": JointWriter(laws.Follow, lambda j: {"input": j.input, **_ratio(j)}),
    "withdraw": JointWriter(laws.Withdraw, lambda j: {"input": j.input, **_ratio(j)}),
    "either_pushes": JointWriter(laws.EitherPushes, lambda j: {"inputs": j.inputs, **_ratio(j)}),
    "all_clear": JointWriter(laws.AllClear, lambda j: {"inputs": j.inputs, **_ratio(j)}),
    "pull_bar": JointWriter(
        laws.PullBar,
        lambda j: {"notches": [{"part": notch.part, **_end(notch)} for notch in j.notches]},
    ),
    "stepped_stops": JointWriter(
        laws.SteppedStops, lambda j: {"stops": [_stop(stop) for stop in j.stops], "end_mm": j.end}
    ),
    "half_step": JointWriter(
        laws.HalfStep, lambda j: {"base": j.base, "shoulder": j.shoulder, "step_mm": j.step}
    ),
    "opposed_racks": JointWriter(
        laws.OpposedRacks,
        lambda j: {"forward": j.forward, "backward": j.backward, "degrees_per_mm": j.ratio},
    ),
    "summing_lever": JointWriter(
        laws.SummingLever,
        lambda j: {
            "first": j.first,
            "second": j.second,
            **_unless(1, first_arm_mm=j.first_arm, second_arm_mm=j.second_arm),
        },
    ),
}
"""The joints by the name they have in a description, as in :data:`description.JOINTS`."""


def joint_name(joint: Joint) -> str:
    """The name of a joint in a description: ``either_pushes``.

    Raises:
        KeyError: If no writer is registered for it.
    """
    return _NAMES[type(joint)]


def joint_keys(joint: Joint) -> Keys:
    """The keys of a joint's table and their values, in the order in which they are written."""
    return JOINTS[joint_name(joint)].keys(joint)


_NAMES = {writer.kind: name for name, writer in JOINTS.items()}


# -- outputs ---------------------------------------------------------------------------------------


def _wheel(machine: Machine) -> Iterator[Lines]:
    wheel: Wheel = machine.wheel
    yield iter([_heading("the type")])
    yield _table(
        "wheel",
        {
            "lift": wheel.lift,
            **_unless("", turn=wheel.turn, hammer=wheel.hammer),
            "rows_mm": wheel.rows,
            **({"columns_deg": wheel.columns} if wheel.turn else {}),
            "glyphs": _OnePerLine(wheel.glyphs, "Lowest row first."),
            **_said_of_type(machine),
        },
    )


def _said_of_type(machine: Machine) -> Keys:
    """What must be declared of type: that it is there twice, that no code prints it."""
    count = Counter("".join(machine.wheel.glyphs).replace(" ", ""))
    printed = set(map(machine.good_print, range(len(machine.code))))
    repeated = sorted(glyph for glyph in count if count[glyph] > 1)
    return _unless([], repeated=repeated, unused=sorted(set(count) - printed))


OUTPUTS: Mapping[type[Any], Callable[[Machine], Iterator[Lines]]] = {Wheel: _wheel}
"""For each kind of output, the tables that describe it."""


# -- tables ----------------------------------------------------------------------------------------


def _tables(machine: Machine) -> Iterator[Lines]:
    yield _head(machine)
    yield from _parts(machine)
    yield from OUTPUTS[type(machine.wheel)](machine)
    yield _codes(machine)


def _head(machine: Machine) -> Lines:
    yield f"# {_comment(machine.title)}"
    yield "# Lengths are in mm, angles in degrees, efforts in minutes."
    yield ""
    yield "[machine]"
    yield f"name = {_string(machine.name, 'machine.name')}"
    yield f"title = {_string(machine.title, 'machine.title')}"
    if machine.about:
        yield f'about = """\n{_long_string(machine.about)}"""'
    yield ""
    yield "# What each kind of check costs the restorer, in minutes."
    yield from _table("efforts_min", machine.efforts)


def _parts(machine: Machine) -> Iterator[Lines]:
    for group, parts in groupby(_arranged(machine.mechanism), key=lambda part: part.group):
        yield iter([_heading(group or "parts")])
        for part in parts:
            hints = machine.picture.get(part.name)
            keys = {
                **_unless(part.name, label=part.label or part.name),
                **_unless("", group=part.group),
                "joint": joint_name(part.joint),
                **joint_keys(part.joint),
                **_unless("", reach=part.reach, note=part.note),
                **({"draw": hints} if hints else {}),
            }
            yield _table(f"parts.{_key(part.name)}", keys)


def _arranged(mechanism: Mechanism) -> Sequence[Part]:
    """The parts group by group, or in working order where that would bring them out of it."""
    groups = list(dict.fromkeys(part.group for part in mechanism))
    together = sorted(mechanism, key=lambda part: groups.index(part.group))
    return together if list(Mechanism(together)) == list(mechanism) else list(mechanism)


def _codes(machine: Machine) -> Lines:
    code, declared = machine.code, machine.declared
    yield _heading("what the codes do: claims, held against the parts when this file is read")
    yield ""
    folds = [{**_run(code, f.first, f.last), "onto": _named(code, f.onto)} for f in declared.folds]
    yield from _table(
        "codes",
        {
            "alphabet": _alphabet(code),
            **_unless("none", parity=machine.parity),
            "printing": [_run(code, *run) for run in declared.printing],
            **_unless([], folds=folds, silent=[_run(code, *run) for run in declared.silent]),
            **_unless((), no_part_in_selection=declared.no_part_in_selection),
            **_unless((), no_part_at_all=declared.no_part_at_all),
        },
    )


def _alphabet(code: Code) -> object:
    """The name of a published code, or the characters of one of the machine's own."""
    for name, published in ALPHABETS.items():
        if (code.names, code.figures) == (published.names, published.figures):
            return name
    if code.figures:
        what = f"the {code.title} has two cases, and is none of {', '.join(ALPHABETS)}"
        raise WritingError("codes.alphabet", what, "A code of one's own has one case.")
    return code.names


def _run(code: Code, first: int, last: int) -> Keys:
    return {"first": _named(code, first), "last": _named(code, last)}


def _named(code: Code, number: int) -> str:
    """A code as the reader takes it: its character if that can be read back, or its position."""
    name = code.names[number]
    try:
        if code.units <= OWN_NOTATION_ABOVE and code.parse(name) == number:
            return name
    except CodeError:
        pass
    return code.position(number)


# -- TOML ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _OnePerLine:
    """Texts with a comment above, and one on each line unless all are single characters."""

    texts: tuple[str, ...]
    comment: str


def _table(name: str, keys: Keys) -> Lines:
    yield f"[{name}]"
    for key, value in keys.items():
        yield from _entry(key, value, f"{name}.{key}")


def _entry(key: str, value: object, where: str) -> Lines:
    """One key with its value; a list of tables, or one that is too long, takes several lines."""
    tall = isinstance(value, list) and len(value) > 1 and isinstance(value[0], Mapping)
    if isinstance(value, _OnePerLine):
        yield f"# {value.comment}"
        tall = any(len(text) > 1 for text in value.texts)
        value = value.texts
    line = f"{_key(key)} = {_value(value, where)}"
    if not isinstance(value, list | tuple) or not (tall or len(line) > WIDTH):
        yield line
        return
    items = [_value(item, where) for item in value]
    yield f"{_key(key)} = ["
    yield from (f"    {line}," for line in (items if tall else _packed(items)))
    yield "]"


def _packed(items: Sequence[str]) -> Iterator[str]:
    """Items side by side, as many as a line takes."""
    line = ""
    for item in items:
        longer = f"{line}, {item}" if line else item
        if len(longer) > WIDTH - 5 and line:
            yield line
            longer = item
        line = longer
    if line:
        yield line


def _value(value: object, where: str) -> str:
    """A value on one line."""
    match value:
        case str():
            return _string(value, where)
        case bool():
            return str(value).lower()
        case int():
            return str(value)
        case Fraction() | float():
            return _number(value, where)
        case datetime() | date() | time():
            return value.isoformat()
        case Mapping():
            inside = ", ".join(
                f"{_key(str(k))} = {_value(v, f'{where}.{k}')}" for k, v in value.items()
            )
            return f"{{ {inside} }}" if inside else "{}"
        case Sequence():
            return f"[{', '.join(_value(item, where) for item in value)}]"
    mend = "Use texts, numbers, lists and tables."
    raise WritingError(where, f"TOML cannot write {shown(repr(value))}", mend)


def _number(value: Fraction | float, where: str) -> str:
    """The shortest decimal that is read back as exactly this number."""
    try:
        text = repr(float(value))
    except OverflowError:
        text = "inf"
    if isinstance(value, Fraction) and (text == "inf" or Fraction(text) != value):
        near = f"{float(value):.4f}" if text != "inf" else "1000.0"
        what = f"{shown(str(value))} has no short decimal, so it cannot be written exactly"
        raise WritingError(where, what, f"Give a decimal, such as {near}.")
    return text


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else _quoted(key, key)


def _string(text: str, where: str) -> str:
    """A text in quotation marks; in plain ones where that saves escapes."""
    awkward = "\\" in text or '"' in text
    if awkward and "'" not in text and text.isprintable():
        return f"'{text}'"
    return _quoted(text, where)


def _quoted(text: str, where: str) -> str:
    return f'"{_escaped(text, where)}"'


def _long_string(text: str) -> str:
    """The inside of a text over several lines, between three quotation marks."""
    lines = (_escaped(line, "machine.about") for line in text.split("\n"))
    return re.sub(r'\\"(?!\\"|\Z)', '"', "\n".join(lines))


def _escaped(text: str, where: str) -> str:
    """A text with everything escaped that TOML forbids or that an editor would not show."""
    return "".join(c if c.isprintable() and c not in '"\\' else _escape(c, where) for c in text)


def _escape(character: str, where: str) -> str:
    number = ord(character)
    if 0xD800 <= number <= 0xDFFF:
        what = f"{shown(character)} is half a character"
        raise WritingError(where, what, "Leave it out, or type it anew.")
    short = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r"}
    return short.get(character) or (f"\\u{number:04X}" if number < 0x10000 else f"\\U{number:08X}")


def _heading(text: str) -> str:
    return f"# ---- {_comment(text)} ".ljust(WIDTH, "-")


def _comment(text: str) -> str:
    """A text for a comment: on one line, and only what an editor shows."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
