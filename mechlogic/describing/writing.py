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
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import fields, replace
from datetime import date, datetime, time
from fractions import Fraction
from itertools import groupby
from typing import Any

from mechlogic.describing.description import DescriptionError, parse
from mechlogic.helpers import safe_file
from mechlogic.helpers.sentences import listed
from mechlogic.model.codes import ALPHABETS, SEVEN_UNIT, Code, CodeError, shown
from mechlogic.model.keys import NEEDED, keys_of
from mechlogic.model.laws import Joint
from mechlogic.model.machine import Declared, Machine, Run
from mechlogic.model.mechanism import Mechanism, Part
from mechlogic.model.motion import Cycle
from mechlogic.model.outputs import OUTPUTS, Line, Output, Type, singles

__all__ = [
    "WritingError",
    "claims",
    "cycle_keys",
    "inline",
    "joint_keys",
    "output_tables",
    "part_keys",
    "same",
    "save",
    "write",
]

WIDTH = 100
"""Lists that would make a line longer than this are broken, in characters."""

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
            for example because it says nothing about some code, or would be another one.
        OSError: If the file cannot be written; an old one is then as it was.
    """
    text = write(machine)
    try:
        again = parse(text, os.fspath(path))
    except DescriptionError as error:
        what = f"it would be refused when it is read again: {error}"
        raise WritingError("", what, "Mend the machine, then save it.") from None
    lost = [name for name, value in _fields(machine).items() if value != _fields(again)[name]]
    if lost:
        what = f"a description cannot say all of its {listed(lost)}"
        raise WritingError("", what, "Save the machines that it was made of.")
    safe_file.write_whole(path, text.encode("utf-8"))


def same(a: Machine, b: Machine) -> bool:
    """Whether two machines agree in every field, part by part.

    A code is the same if its table is; what a file calls it does not matter.  A part without a
    label is the same as one labelled with its own name.
    """
    return _fields(a) == _fields(b)


def _fields(machine: Machine) -> dict[str, object]:
    """Every field of a machine, in a form that can be compared."""
    found = {field.name: getattr(machine, field.name) for field in fields(machine)}
    code = machine.code
    return found | {
        "about": machine.about.strip(),
        "mechanism": [replace(part, label=part.label or part.name) for part in machine.mechanism],
        "code": (code.units, code.names, code.figures),
        "efforts": dict(machine.efforts),
        "tolerances": dict(machine.tolerances),
        "picture": {name: _hint(hints) for name, hints in machine.picture.items() if hints},
    }


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


def _unless(usual: object, **keys: object) -> Keys:
    """The keys whose value is not the usual one, which the reader fills in."""
    return {key: value for key, value in keys.items() if value != usual}


def joint_keys(joint: Joint, code: Code) -> Keys:
    """The keys of a joint in a part's table, its name first, in the order of writing."""
    return {"joint": joint.name, **_keys(joint, code)}


def _keys(of: Any, code: Code, but: Iterable[str] = ()) -> Keys:
    """The keys of whatever declares its fields, but for values that the reader fills in.

    A place that must be given stands before the part that is sensed there.
    """
    found: dict[str, object] = {}
    keys = keys_of(type(of))
    late = [name for name, key in keys.items() if key.kind == "sensed"]
    late += [name for name, key in keys.items() if late and key.default is not NEEDED]
    for name, key in sorted(keys.items(), key=lambda one: one[0] in late):
        value = getattr(of, name)
        if name in but or (key.default is not NEEDED and value == key.default):
            continue
        match key.kind:
            case "sensed":
                found[key.key] = value.part
                found |= _keys(value, code, but={"part"})
            case "together":
                for one, inner in zip(key.together, vars(value).values(), strict=True):
                    found[one.key] = inner
            case "table":
                found[key.key] = _keys(value, code)
            case "tables":
                found[key.key] = [_keys(one, code) for one in value]
            case "dimensions":
                found[key.key] = dict(value)
            case "line":
                found[key.key] = value[0]
            case "code":
                found[key.key] = _named(code, value)
            case _:
                found[key.key] = key.written(value) if key.choices else value
    return found


def part_keys(part: Part, code: Code) -> Keys:
    """The keys that say how a part moves: its joint and dimensions, its mass and spring."""
    told = {"label", "group", "reach", "note"}
    return {**joint_keys(part.joint, code), **_keys(part, code, but=told)}


def cycle_keys(cycle: Cycle) -> Keys:
    """The keys of the table ``cycle``."""
    return _keys(cycle, SEVEN_UNIT)


# -- outputs ---------------------------------------------------------------------------------------


def output_tables(output: Output) -> Mapping[str, Keys]:
    """The tables that describe what a machine shows, by name.

    Raises:
        WritingError: If it shows two things of one kind, for which there is but one table.
    """
    tables: dict[str, Keys] = {}
    for single in singles(output):
        name = single.name
        if name in tables:
            raise WritingError(name, "the machine has two of them", "Describe two machines.")
        if isinstance(single, Line) and single.code not in ALPHABETS.values():
            mend = f"Send one of {', '.join(ALPHABETS)}."
            raise WritingError("line.alphabet", f"the {single.code.title} is not published", mend)
        still = isinstance(single, Type) and not single.turn
        tables[name] = _keys(single, SEVEN_UNIT, but={"columns"} if still else ())
    return tables


def _with_declarations(machine: Machine) -> Mapping[str, Keys]:
    """The tables of the output with what must be declared of its type.

    That is type which is there twice, and type that no code prints.
    """
    tables = dict(output_tables(machine.output))
    declaring = [name for name in tables if OUTPUTS[name].type_key]
    if declaring:
        glyphs = Counter(glyph for glyph in machine.output.glyphs if glyph != " ")
        repeated = sorted(glyph for glyph in glyphs if glyphs[glyph] > 1)
        unused = sorted(set(glyphs) - _shown_by_some_code(machine))
        tables[declaring[-1]] = {
            **tables[declaring[-1]],
            **_unless([], repeated=repeated, unused=unused),
        }
    return tables


def _shown_by_some_code(machine: Machine) -> set[str]:
    """Everything that some code shows, in either case if the code has two."""
    cases, codes = machine.cases.values(), range(len(machine.code))
    prints = {printed[machine.as_set(code)] for printed in cases for code in codes}
    return {piece for print_ in prints for piece in (print_, *print_.split("+"))}


# -- tables ----------------------------------------------------------------------------------------


def _tables(machine: Machine) -> Iterator[Lines]:
    yield _head(machine)
    yield from _parts(machine)
    yield iter([_heading("what it prints with")])
    for name, keys in _with_declarations(machine).items():
        yield _table(name, keys)
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
    if machine.cycle:
        yield ""
        yield "# The time for one character: start-stop units, baud, and shares of that time."
        yield from _table("cycle", cycle_keys(machine.cycle))
    if machine.tolerances:
        yield ""
        yield "# How far each kind of dimension may be off, either way, in its own unit."
        yield from _table("tolerances", machine.tolerances)


def _parts(machine: Machine) -> Iterator[Lines]:
    for group, parts in groupby(_arranged(machine.mechanism), key=lambda part: part.group):
        yield iter([_heading(group or "parts")])
        for part in parts:
            hints = machine.picture.get(part.name)
            keys = {
                **_unless(part.name, label=part.label or part.name),
                **_unless("", group=part.group),
                **part_keys(part, machine.code),
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
    yield from _table(
        "codes",
        {
            "alphabet": _alphabet(code),
            **_unless("none", parity=machine.parity),
            **_keys(declared, code),
            **_unless([], **claims(declared, code)),
        },
    )


def claims(declared: Declared, code: Code) -> Mapping[str, list[Keys]]:
    """What is claimed of the codes, as the lists of the table ``codes``."""
    names = ("printing", "folds", "shows", "silent")
    return {name: [_run(run, code) for run in getattr(declared, name)] for name in names}


def _alphabet(code: Code) -> object:
    """The name of a published code, or the characters of one of the machine's own."""
    for name, published in ALPHABETS.items():
        if (code.names, code.figures) == (published.names, published.figures):
            return name
    if code.figures:
        what = f"the {code.title} has two cases, and is none of {', '.join(ALPHABETS)}"
        raise WritingError("codes.alphabet", what, "A code of one's own has one case.")
    return code.names


def _run(run: Run, code: Code) -> Keys:
    """A run of codes; in a published code, one of several goes by column and row of its table."""
    keys = _keys(run, code)
    if run.first == run.last or code not in ALPHABETS.values():
        return keys
    numbers = {
        name: getattr(run, name) for name, key in keys_of(type(run)).items() if key.kind == "code"
    }
    return {**keys, **{name: code.position(number) for name, number in numbers.items()}}


def _named(code: Code, number: int) -> str:
    """A code as the reader takes it: its character if that can be read back, or its position."""
    name = code.names[number]
    try:
        return name if code.parse(name) == number else code.position(number)
    except CodeError:
        return code.position(number)


# -- TOML ------------------------------------------------------------------------------------------


def _table(name: str, keys: Keys) -> Lines:
    yield f"[{name}]"
    for key, value in keys.items():
        yield from _entry(key, value, f"{name}.{key}")


def _entry(key: str, value: object, where: str) -> Lines:
    """One key with its value; a list of tables, or one that is too long, takes several lines."""
    tall = isinstance(value, list) and len(value) > 1 and isinstance(value[0], Mapping)
    if isinstance(value, tuple) and key == "glyphs":
        yield "# Lowest row first."
        tall = any(len(row) > 1 for row in value)
    line = f"{_key(key)} = {inline(value, where)}"
    if not isinstance(value, list | tuple) or not (tall or len(line) > WIDTH):
        yield line
        return
    items = [inline(item, where) for item in value]
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


def inline(value: object, where: str) -> str:
    """A value as TOML on one line.

    Raises:
        WritingError: If TOML has no way to write it.
    """
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
                f"{_key(str(k))} = {inline(v, f'{where}.{k}')}" for k, v in value.items()
            )
            return f"{{ {inside} }}" if inside else "{}"
        case Sequence():
            return f"[{', '.join(inline(item, where) for item in value)}]"
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
