"""Reading a machine's description, a TOML file, and refusing one that is wrong.

Every mistake is reported with file, line, table, key and mend, and all of them at once.  Nothing
is built from a description that has one.  See ``machines/saltmere.toml`` for a commented example.

What a description claims is held against its parts.  Type that stands on the wheel twice, or that
no code prints, is taken for a mistake unless the wheel declares it: ``repeated = ["."]``,
``unused = ["£"]``.
"""

import math
import re
import tomllib
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property, reduce
from pathlib import Path
from typing import Any

from mechlogic.helpers import refusal
from mechlogic.helpers.reading import FileRefused, opened, text_of
from mechlogic.helpers.sentences import figure, listed
from mechlogic.helpers.toml_lines import DEEPEST, lines_of, too_deep
from mechlogic.helpers.toml_lines import Path as Keys
from mechlogic.model.codes import ALPHABETS, PARITIES, Code, CodeError, runs_of, shown
from mechlogic.model.dimensions import KINDS, OFFSETS, kinds_of
from mechlogic.model.keys import NEEDED, Bound, FieldKey, Wrong, above_zero, keys_of
from mechlogic.model.laws import JOINTS, OTHER_WORDS, Joint, Literal
from mechlogic.model.machine import Declared, Machine
from mechlogic.model.mechanism import Mechanism, MechanismError, Part, did_you_mean
from mechlogic.model.motion import Cycle
from mechlogic.model.outputs import (
    DECLARED,
    OUTPUT,
    OUTPUTS,
    Action,
    Actions,
    Both,
    Output,
    Type,
    singles,
    struck_at,
)
from mechlogic.model.seen import pieces
from mechlogic.model.table import place_in_row

LARGEST_FILE = 200_000
"""The longest description that is read, in characters: ten times the longest that ships."""

LARGEST_NUMBER, SMALLEST_NUMBER = 1_000_000, Fraction(1, 10**9)
"""The largest number in a description, and the smallest but 0: a part that moves a kilometre, or
less than an atom, is a slip of the pen."""

MOST_PARTS = 300
"""The most parts of a machine: seven times as many as of the largest that ships."""

MOST_BITS = 8
"""The most bits of a code of one's own."""

MOST_LATCHES = 8
"""The most latches: with each, a machine can be in twice as many states."""

MOST_ITEMS = 1000
"""The most items of any list."""

MOST_PROBLEMS = 100
"""So many mistakes are told at once; the reading stops there."""

MOST_EXAMPLES = 5
"""How many codes that print something else than claimed are reported one by one."""


@dataclass(frozen=True)
class Problem(refusal.Problem):
    """One mistake in a description.

    Attributes:
        table: The table it stands in, for example ``parts.arm``, or ``parts.rack.stops[2]`` for
            the second entry of a list of tables.
        key: The key, or empty; ``glyphs[2]`` for the second item of a list.
    """

    table: str = ""
    key: str = ""


class DescriptionError(FileRefused):
    """A description with mistakes; *problems* lists every one of them."""

    kind = Problem
    problems: tuple[Problem, ...]


def read(path: str | Path) -> Machine:
    """Read a machine from a TOML file.

    Raises:
        DescriptionError: If the file cannot be read, the description is wrong in any way, or is
            not UTF-8 text.
    """
    return decode(opened(path, _MOST_BYTES, DescriptionError), str(path))


def decode(raw: bytes, source: str = "description") -> Machine:
    """Build a machine from the bytes of a description.

    Args:
        raw: The TOML text in UTF-8.
        source: What to call it in messages.

    Raises:
        DescriptionError: If the description is wrong in any way, or is not UTF-8 text.
    """
    if b"\0" in raw:
        raise DescriptionError.of(source, 0, "it is UTF-16, or no text at all", _SAVE_AS_UTF_8)
    text = text_of(raw, source, _MOST_BYTES, _TOO_LONG, _SAVE_AS_UTF_8, DescriptionError)
    return parse(text, source)


def parse(text: str, source: str = "description") -> Machine:
    """Build a machine from the text of a description.

    Args:
        text: The TOML text.
        source: What to call it in messages.

    Raises:
        DescriptionError: If the description is wrong in any way.
    """
    text = text.removeprefix("\ufeff").replace("\r\n", "\n")
    return _Reader(text, source, load_toml(text, source)).machine()


def load_toml(
    text: str, source: str = "description", number: Callable[[str], Any] | None = None
) -> dict[str, Any]:
    """What a TOML text holds; one that nobody can have written by hand is refused at once.

    Args:
        text: The text, with LF at the end of each line.
        source: What to call it in messages.
        number: What to make of a decimal; exact numbers if left out.

    Raises:
        DescriptionError: If it is no TOML, far too long, or nested without end.
    """
    if len(text) > LARGEST_FILE:
        raise DescriptionError.of(source, 0, *_TOO_LONG)
    if half := re.search("[\ud800-\udfff]", text):
        line = text.count("\n", 0, half.start()) + 1
        what = "half a character (a lone surrogate) is in it"
        raise DescriptionError.of(source, line, what, "Type the line again.")
    if line := too_deep(text):
        what = f"it goes more than {DEEPEST} levels deep"
        raise DescriptionError.of(
            source, line, what, "Close each bracket; a table has one level or two."
        )
    try:
        return tomllib.loads(text, parse_float=number or _exact)
    except (ValueError, RecursionError) as error:  # a ValueError also for endless whole numbers
        told = re.search(r"line (\d+)", str(error))
        line = int(told[1]) if told else text.count("\n") + 1
        raise DescriptionError.of(source, *_not_toml(text.split("\n"), line, str(error))) from None


def sketch(text: str) -> Machine | None:
    """As much of a machine as a text describes rightly, to be looked at while it is written.

    Parts of which something is wrong, or that touch such parts, are left out; nothing is claimed of
    what it prints.  None if no part is right yet.
    """
    try:
        return _Reader(text, "description", load_toml(text)).sketch()
    except DescriptionError:
        return None


def _ends(mechanism: Mechanism) -> Output:
    """The parts that nothing follows, in the place of what is not described yet."""
    ends = [name for name in mechanism.parts if not mechanism.followers[name]]
    return Actions(tuple(Action(name, name, f"{name} moves") for name in ends))


def _of_bits(mechanism: Mechanism) -> Code:
    """A code with as many bits as the code bars have, and no characters that anybody uses."""
    units = max((bar.bit for bar in mechanism.bars.values()), default=1)
    return Code("code to be", units, "", tuple(chr(0x100 + i) for i in range(1 << units)))


_MOST_BYTES = 4 * LARGEST_FILE + 3  # UTF-8 has at most four bytes a character, a mark three
_TOO_LONG = (
    f"it is longer than {LARGEST_FILE} characters",
    "Check that it is the right file; a machine needs far fewer.",
)
_SAVE_AS_UTF_8 = "In the editor, save it again as UTF-8."


def _not_toml(lines: list[str], line: int, said: str) -> tuple[int, str, str]:
    """Line, mistake and mend of a text that is not TOML, by what is commonly wrong with one."""
    written = "".join(lines[line - 1 : line])
    outside = re.sub("\"[^\"]*\"|'[^']*'|#.*", "", written)
    known = tomllib.loads((Path(__file__).parent / "mistakes.toml").read_text(encoding="utf-8"))
    for one in known["line"]:
        if re.search(one["pattern"], outside if "outside" in one else written):
            return line, one["what"], one["mend"]
    for one in known["said"]:
        if one["phrase"] in said:
            opened = [n for n in range(1, line) if re.search(r"=\s*[\[{]", lines[n - 1])]
            at = opened[-1] if "opened" in one and opened else line
            return at, one["what"], one["mend"]
    mend = "Compare the line with one of its kind in the example machine."
    return line, f"it is not valid TOML: {said}", mend


def _exact(number: str) -> Fraction | float:
    """The decimal as written, to the fifteen or so figures of a float; no size of it takes long."""
    value = float(number)
    return Fraction(repr(value)) if math.isfinite(value) else value


def dotted(keys: Keys) -> str:
    """Keys as a restorer reads them, list items counted from 1: ``parts.rack.stops[2]``."""
    steps = (f"[{key + 1}]" if isinstance(key, int) else f".{key}" for key in keys)
    return "".join(steps).removeprefix(".")


def _written(value: object) -> str:
    """A value much as it was written, for a message."""
    if isinstance(value, str):
        return shown(value)
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, Fraction):
        return figure(value)
    if isinstance(value, list | dict):
        return "a list" if isinstance(value, list) else "a table"
    if isinstance(value, int) and abs(value) > LARGEST_NUMBER:
        return "an enormous number"
    return shown(str(value)).strip("'")


class _Reader:
    """One reading of one description; collects problems as it goes."""

    def __init__(self, text: str, source: str, data: Mapping[str, Any]) -> None:
        self.text, self.source, self.data = text, source, data
        self.problems: list[Problem] = []
        self.code: Code | None = None
        self.parity = "none"
        self.efforts: Mapping[str, Fraction] = {}
        self.type_table, self.type_key = "", ""
        self.type_said_to_be: dict[str, tuple[str, ...]] = {}

    def machine(self) -> Machine:
        """The machine, if nothing is wrong with it."""
        told, parts, output = self._all()
        self.stop_if_wrong()
        assert output is not None and self.code is not None
        mechanism = self._mechanism(parts)
        output = self._standing(output, mechanism)
        machine = Machine(**told, mechanism=mechanism, code=self.code, output=output)
        self._check(machine)
        self.stop_if_wrong()
        return machine

    def sketch(self) -> Machine | None:
        """As much of a machine as can be built from what is right; nothing is claimed of it."""
        try:
            told, parts, output = self._all()
            units = self.code.units + (self.parity != "none") if self.code else MOST_BITS
            parts = [part for part in parts if not any(part.joint.outside(units))]
            mechanism = self._as_far_as(parts)
            code = self.code or _of_bits(mechanism)
            wrong = any(problem.table.split(".")[0] in OUTPUTS for problem in self.problems)
            if output is None or wrong or not {*output.parts} <= {*mechanism.parts}:
                output = _ends(mechanism)
            output = self._standing(output, mechanism)
        except DescriptionError:
            return None
        told |= {"declared": Declared(), "cycle": None}
        machine = Machine(**told, mechanism=mechanism, code=code, output=output)
        return machine if mechanism.parts else None

    def _as_far_as(self, parts: list[Part]) -> Mechanism:
        """A mechanism of those parts that are right and hang together."""
        while True:
            there, before = {part.name for part in parts}, len(parts)
            parts = [part for part in parts if there.issuperset(part.joint.inputs)]
            if len(parts) == before:
                try:
                    return Mechanism(parts)
                except MechanismError as error:
                    parts = [part for part in parts if part.name != error.part]
                    if len(parts) == before:
                        return Mechanism([])

    def _all(self) -> tuple[dict[str, Any], list[Part], Output | None]:
        """What is said of the machine, its parts, and what it shows."""
        known = ("machine", "efforts_min", "cycle", "tolerances", "parts", *OUTPUTS, "codes")
        for name in self.data:
            if name not in known:
                what = f"no table is called {shown(name)}"
                self.report((name,), what, did_you_mean(name, known))
        self.names = tuple(self.section("parts").values)
        if len(self.names) > MOST_PARTS:
            what = f"there are {len(self.names)} parts, more than {MOST_PARTS}"
            self.report(("parts",), what, "Describe a part of the machine at a time.")
            self.stop_if_wrong()
        told = self._told(self.section("machine"), Machine)
        told["about"] = told["about"].strip()
        self.efforts, told["cycle"] = self._efforts(), self._cycle()
        told |= {"efforts": self.efforts, "tolerances": self._tolerances()}
        codes = self.section("codes")
        self.code, self.parity = self._alphabet(codes), str(codes.value(PARITY))
        parts, told["picture"] = self._parts()
        output = self._output()
        return (
            told | {"declared": self._declared(codes, parts), "parity": self.parity},
            parts,
            output,
        )

    def _told(self, section: "_Section", kind: type[Any]) -> dict[str, Any]:
        """What a table says of the fields of a class; it has no other key."""
        told = section.values_of(keys_of(kind))
        section.close()
        return told

    # -- reporting --------------------------------------------------------------------------------

    def report(self, keys: Keys, what: str, mend: str, key: Keys = ()) -> None:
        """Note a mistake at a key of a table, or at the table itself."""
        table, name, line = dotted(keys), dotted(key), self.line((*keys, *key))
        at = ".".join(filter(None, (table, name)))
        self.problems.append(Problem(self.source, line, at, what, mend, table, name))
        if len(self.problems) >= MOST_PROBLEMS:
            self.stop_if_wrong()

    def report_all(self, keys: Keys, found: Iterable[Wrong]) -> None:
        """Note mistakes at keys below a table; an item of a list of texts goes with its key."""
        for path, what, mend in found:
            n = 2 if path and isinstance(path[-1], int) else 1
            self.report((*keys, *path[:-n]), what, mend, path[-n:])

    def stop_if_wrong(self) -> None:
        if self.problems:
            raise DescriptionError(self.problems)

    def line(self, keys: Keys) -> int:
        """The line of the innermost of these keys that the text has, or 0."""
        while keys and keys not in self.lines:
            keys = keys[:-1]
        return self.lines.get(keys, 0)

    @cached_property
    def lines(self) -> Mapping[Keys, int]:
        return lines_of(self.text)

    def section(self, *keys: str) -> "_Section":
        values: Any = self.data
        for key in keys:
            values = values.get(key) if isinstance(values, Mapping) else None
        if not isinstance(values, Mapping):
            what = "it is missing" if values is None else "it is not a table"
            self.report(keys, what, f"Begin the table with a line [{dotted(keys)}].")
            return _Section(self, keys, {}, lost=True)
        return _Section(self, keys, values)

    # -- tables -----------------------------------------------------------------------------------

    def _efforts(self) -> dict[str, Fraction]:
        section = self.section("efforts_min")
        minutes = {}
        for key in section.values:
            if not _KIND_OF_ACCESS.fullmatch(key):
                what = f"{shown(key)} cannot be the name of a kind of access"
                section.report(key, what, "Use a word or two: letters, digits, blank, - and _.")
            minutes[key] = section.number(key, _A_COST)
        return minutes

    def _cycle(self) -> Cycle | None:
        """The time for one character, if the description says anything of it."""
        if "cycle" not in self.data:
            return None
        section, found = self.section("cycle"), len(self.problems)
        told = self._told(section, Cycle)
        if len(self.problems) == found and told["sense_share"] + told["return_share"] > 1:
            mend = "The shares are parts of one character's time: together at most 1."
            section.report("return_share", "the two shares are together more than 1", mend)
        return None if len(self.problems) > found else Cycle(**told)

    def _tolerances(self) -> dict[str, Fraction]:
        """How far each kind of dimension may be off, if the description says anything of it."""
        if "tolerances" not in self.data:
            return {}
        return self.section("tolerances").amounts(KINDS)

    def _parts(self) -> tuple[list[Part], dict[str, Mapping[str, object]]]:
        parts, picture = [], {}
        for name in self.names:
            section, found = self.section("parts", name), len(self.problems)
            if not re.fullmatch(r"[A-Za-z][A-Za-z0-9_]{0,99}", name) or name == OUTPUT:
                mend = f"Use letters, digits and underscores, at most 100, and not {OUTPUT!r}."
                section.report("", f"{shown(name)} cannot be the name of a part", mend)
            kind = JOINTS.get(section.text("joint", choices=JOINTS))
            if kind is None:
                continue  # what its other keys ought to be, nobody knows
            section.dimensions = kinds_of(kind)
            joint = section.made(kind)
            told = section.values_of(Part.keys(kind))
            if told["reach"]:
                section.known("reach", told["reach"], self.efforts)
            if drawn := section.mapping("draw"):
                picture[name] = drawn
            section.close()
            if joint is not None:
                if len(self.problems) == found:
                    self.report_all(section.keys, joint.wrong())
                if twice := _twice(joint):
                    section.report("", f"it touches {twice} twice", "Name every input once.")
                parts.append(Part(name, joint, **told | {"label": told["label"] or name}))
        self._check_labels(parts)
        latches = [part.name for part in parts if part.joint.remembers]
        if len(latches) > MOST_LATCHES:
            what = f"it is latch number {MOST_LATCHES + 1} of {len(latches)}"
            mend = f"A machine has at most {MOST_LATCHES}; describe it without the others."
            self.report(("parts", latches[MOST_LATCHES]), what, mend)
        return parts, picture

    def _check_labels(self, parts: Iterable[Part]) -> None:
        """No two parts are called the same: nobody could tell them apart in a menu or in words."""
        called: dict[str, str] = {}
        for part in parts:
            other = called.setdefault(part.label, part.name)
            if other != part.name:
                what = f"{other} is called {shown(part.label)} too"
                self.report(("parts", part.name), what, "Give each its own label.", ("label",))

    def _output(self) -> Output | None:
        """What the machine shows: one of the tables of :data:`OUTPUTS`, or two of them."""
        described = [key for key in self.data if key in OUTPUTS]
        described.sort(key=lambda key: key == "actions")  # a log has what is printed first: A+LF
        found = [self._shown_by(self.section(key), OUTPUTS[key]) for key in described]
        if not found:
            mend = f"Begin one of the tables {', '.join(f'[{key}]' for key in OUTPUTS)}."
            self.report((), "nothing is said of what it prints with", mend)
        read = [output for output in found if output is not None]
        return reduce(Both, read) if read else None

    def _shown_by(self, section: "_Section", kind: type[Output]) -> Output | None:
        """One output, and what its table says of type that is there twice or is not used."""
        found = len(self.problems)
        if kind.type_key:
            self.type_table, self.type_key = kind.name, kind.type_key
            self.type_said_to_be = section.values_of({key.key: key for key in DECLARED})
        output: Output | None = section.made(kind)
        section.close()
        if output is not None and len(self.problems) == found:
            self.report_all(section.keys, output.wrong())
        return output

    def _standing(self, output: Output, mechanism: Mechanism) -> Output:
        """The output with the rows and columns that are left out where the parts put them."""
        if isinstance(output, Both):
            parts = (self._standing(one, mechanism) for one in (output.first, output.second))
            return Both(*parts)
        if not isinstance(output, Type):
            return output
        laws, one = mechanism.laws, (Fraction(0),)
        rows = output.rows or (laws[output.lift].places if output.lift else one)
        columns = output.columns or (laws[output.turn].places if output.turn else one)
        found = {"columns": columns, **({"rows": rows} if output.lift else {})}
        output = replace(output, **found)  # type: ignore[type-var]
        if len(output.lines) != len(rows) or any(len(one) != len(columns) for one in output.lines):
            key = "columns_deg" if len(output.lines) == len(rows) else "rows_mm"
            part, at = (output.lift, rows) if key == "rows_mm" else (output.turn, columns)
            what = f"{part} stands at {len(at)} places: {', '.join(map(_written, at[:40]))}"
            mend = f"Write a line of type for each, or say in {key} where the lines stand."
            self.report((self.type_table,), what, mend, (self.type_key,))
            self.stop_if_wrong()
        return output

    def _declared(self, section: "_Section", parts: list[Part]) -> Declared:
        code = self.code
        if code is None:  # then no claim about codes can be read
            return Declared()
        found = len(self.problems)
        declared = Declared(**self._told(section, Declared))
        if len(self.problems) == found:
            self.report_all(section.keys, declared.wrong(code))
        for part in parts:
            outside = part.joint.outside(code.units + (self.parity != "none"))
            self.report_all(("parts", part.name), outside)
        return declared

    def _alphabet(self, section: "_Section") -> Code | None:
        """A published code by its name, or a list of characters in the order of their codes."""
        if not isinstance(section.values.get("alphabet"), list):
            return ALPHABETS.get(section.text("alphabet", choices=ALPHABETS))
        units = max(1, (len(section.values["alphabet"]) - 1).bit_length())
        if units > MOST_BITS:
            what = f"a code of {units} bits, more than {MOST_BITS}"
            section.report("alphabet", what, f"Write at most {1 << MOST_BITS} characters.")
            return None
        characters = section.texts("alphabet")
        try:
            return Code("code of its own", units, self.source, tuple(characters))
        except ValueError as error:
            mend = "Write one character for every setting of the code's bits: 2, 4, 8, 16 …"
            section.report("alphabet", str(error), mend)
            return None

    def _mechanism(self, parts: list[Part]) -> Mechanism:
        try:
            return Mechanism(parts)
        except MechanismError as error:
            self.report(("parts", error.part), error.what, error.mend)
            raise DescriptionError(self.problems) from None

    # -- claims against parts ----------------------------------------------------------------------

    def _check(self, machine: Machine) -> None:
        self._check_bits(machine)
        self._check_rests(machine)
        self._check_stops(machine)
        self._check_moves(machine)
        self._check_offsets(machine)
        self.stop_if_wrong()
        self._check_stations(machine)
        self._check_claims(machine)
        self.stop_if_wrong()
        self._check_prints(machine)
        self._check_type(machine)
        self._check_bystanders(machine)

    def _check_bits(self, machine: Machine) -> None:
        seen: dict[int, str] = {}
        for name, bit in machine.mechanism.bars.items():
            if bit.bit in seen:
                what = f"bit {bit.bit} already sets {seen[bit.bit]}"
                self.report(("parts", name), what, "Give each bar its own bit.", ("bit",))
            seen[bit.bit] = name

    def _check_rests(self, machine: Machine) -> None:
        """What is measured from rest must not be able to stand on its other side."""
        for part in machine.mechanism:
            from_rest = part.joint.from_rest or part.gap_mm
            for name in part.joint.inputs if from_rest else ():
                lowest = machine.mechanism.laws[name].places[0]
                if lowest:
                    what = f"{name} goes down to {_written(lowest)}, and is measured from 0 here"
                    mend = "Put a part between them that does not go below 0."
                    self.report(("parts", part.name), what, mend)

    def _check_stops(self, machine: Machine) -> None:
        """What a joint asks for can happen, as far as its parts go."""
        laws = machine.mechanism.laws
        for part in machine.mechanism:
            full = [laws[name].full for name in part.joint.inputs]
            never = part.joint.never(part.name, laws[part.name].places[-1], full)
            self.report_all(("parts", part.name), never)

    def _check_moves(self, machine: Machine) -> None:
        """A good machine, freshly oiled and at 20 degrees C, keeps up with its own cycle."""
        for part in machine.mechanism:
            if part.moves is None:
                continue
            keys = ("parts", part.name, "moves")
            unit, full = machine.mechanism.unit(part.name), machine.mechanism.laws[part.name].full
            if unit != "mm":
                turns = "it turns, and its travel is in degrees"
                what = turns if unit == "degrees" else "a contact is open or closed"
                self.report(keys, what, "Say it of the part that moves this one.")
            elif part.moves.within_mm >= full:
                what = f"{part.name} moves only {_written(full)} mm"
                self.report(keys, what, "Make within_mm smaller than that.", ("within_mm",))
            elif machine.cycle:
                needs = part.moves.stroke(full).time_ms(float(part.moves.within_mm))
                given = machine.cycle.given_ms(part.moves.operates)
                if needs > given:
                    what = f"it needs {needs:.3g} ms and the cycle gives it {given:.3g} ms"
                    if math.isinf(needs):
                        what = "friction holds it before it is there"
                    mend = "Describe it in good order: fresh oil, 20 degrees C. Check [cycle] too."
                    self.report(keys, what, mend)

    def _check_offsets(self, machine: Machine) -> None:
        """A part that turns is off by degrees, any other by mm."""
        for part in machine.mechanism:
            unit = machine.mechanism.unit(part.name)
            wrong = "offset_mm" if unit == "degrees" else "offset_deg"
            for key in ("tolerances", "adjusts"):
                if wrong in dict(getattr(part, key)):
                    what = f"the travel of {part.name} is in {unit}"
                    mend = f"Write {OFFSETS[wrong == 'offset_mm']}."
                    self.report(("parts", part.name), what, mend, (key, wrong))

    def _check_stations(self, machine: Machine) -> None:
        """Each row and column is struck at some place, within its window."""
        for output in singles(machine.output):
            if not isinstance(output, Type):
                continue
            for way in output.directions:
                places = machine.mechanism.laws[way.part].places if way.part else ()
                struck = struck_at(way.stations, places, way.window) if way.part else ()
                for i, (station, found) in enumerate(zip(way.stations, struck, strict=False)):
                    if not found:
                        what = f"{way.part} never stands at {_written(station)}"
                        near = sorted(places, key=lambda place: abs(place - station))[:3]
                        mend = f"The nearest that it reaches: {', '.join(map(_written, near))}."
                        self.report((output.name,), what, mend, (way.key, i))

    def _check_claims(self, machine: Machine) -> None:
        """Something is claimed of every code, and only once."""
        code, runs = machine.code, machine.declared.runs
        count = Counter(number for run in runs for number in run.codes)
        unsaid = [number for number in range(len(code)) if count[number] == 0]
        said_twice = [number for number in range(len(code)) if count[number] > 1]
        for numbers, what, mend in (
            (unsaid, "nothing is said about", "Add it to printing, folds, shows or silent."),
            (said_twice, "more than one claim is made about", "Keep one of them."),
        ):
            for first, last in runs_of(numbers):
                names = " to ".join(dict.fromkeys((code.name(first), code.name(last))))
                self.report(("codes",), f"{what} {names}", mend)

    def _check_prints(self, machine: Machine) -> None:
        """Every code prints what is claimed of it, in each case that the code has."""
        wrong = []
        if (case := machine.declared.case) and not machine.thrown:
            mend = "Name a latch, or a part that follows one."
            self.report(("codes",), f"{case} stays in no case", mend, ("case",))
        for case, printed in machine.cases.items():
            for number in range(len(machine.code)):
                try:
                    want = machine.claimed(number, bool(case))
                except CodeError as error:
                    mend = "Add it to figures = [{ code = …, prints = … }]."
                    self.report(("codes",), error.what, mend)
                    continue
                got = printed[machine.as_set(number)]
                if got != want:
                    name = f"{machine.code.name(number)}{f' in {case}' if case else ''}"
                    wrong.append(f"{name} should print {shown(want)}, but prints {shown(got)}")
        if len(wrong) > MOST_EXAMPLES:
            wrong[MOST_EXAMPLES:] = [f"{len(wrong) - MOST_EXAMPLES} more codes print wrong"]
        mend = "Correct the type or the claim, or follow the code through the parts."
        for what in wrong:
            self.report((self.type_table,), what, mend, (self.type_key,))

    def _check_type(self, machine: Machine) -> None:
        """Every piece of type is there once and is printed by some code, or said not to be."""
        printed = {
            part
            for prints in machine.cases.values()
            for code in range(len(machine.code))
            for part in pieces(prints[machine.as_set(code)])
        }
        count = Counter(glyph for glyph in machine.output.glyphs if glyph != " ")
        for key, found, what, mend in (
            ("repeated", {g for g in count if count[g] > 1}, "is there twice", "Leave one"),
            ("unused", set(count) - printed, "is printed by no code", "Write a space for it"),
        ):
            said = set(self.type_said_to_be.get(key, ()))
            for glyph in sorted(found - said if self.type_said_to_be else ()):
                or_declare = f"{mend}, or declare it: {key} = [{glyph!r}]."
                what_of = f"{shown(glyph)} {what}"
                self.report((self.type_table,), what_of, or_declare, (self.type_key,))
            for glyph in sorted(said - found):
                what = f"{shown(glyph)} is not {key}"
                self.report((self.type_table,), what, "Leave it out.", (key,))

    def _check_bystanders(self, machine: Machine) -> None:
        """Bars that are said to do nothing do nothing."""
        declared, codes = machine.declared, machine.all_codes.codes
        aim = [machine.healthy.places[part] for part in machine.output.selects]
        aimed = [[place_in_row(columns, code) for columns in aim] for code in codes]
        for key, names, found, done in (
            ("no_part_in_selection", declared.no_part_in_selection, aimed, "chosen"),
            ("no_part_at_all", declared.no_part_at_all, machine.printed, "printed"),
        ):
            for name in names:
                if name not in machine.mechanism.bars:
                    self.report(("codes",), f"{name} is no code bar", "Leave it out.", (key,))
                    continue
                bit = 1 << (machine.mechanism.bars[name].bit - 1)
                if any(found[code] != found[code ^ bit] for code in codes):
                    what = f"{name} does change what is {done}"
                    self.report(("codes",), what, "Leave it out.", (key,))


PARITY = FieldKey(
    "parity", "text", "How the bar after the code's bits is set.", "none", choices=PARITIES
)
_A_COST = above_zero("every check costs some time", "Give minutes above 0.")
_KIND_OF_ACCESS = re.compile(r"\w[\w -]{0,39}")


def _twice(joint: Joint) -> str:
    """A part that a joint touches twice; a lever may well carry two stops."""
    named = () if joint.twice else Counter(joint.inputs).items()
    return next((name for name, n in named if n > 1), "")


class _Section:
    """One table of a description, read key by key.

    Of a table that is lost, the keys are not missed one by one.
    """

    def __init__(
        self, reader: _Reader, keys: Keys, values: Mapping[str, Any], lost: bool = False
    ) -> None:
        self.reader, self.keys, self.values, self.lost = reader, keys, values, lost
        self.asked: set[str] = set()
        self.dimensions: Iterable[str] = ()

    # -- whole classes -----------------------------------------------------------------------------

    def made(self, kind: type[Any]) -> Any:
        """An object whose fields are told by the table; None if one of them has no value at all."""
        keys = keys_of(kind)
        values = self.values_of(keys)
        needed = (name for name, key in keys.items() if key.default is not None)
        return None if any(values[name] is None for name in needed) else kind(**values)

    def values_of(self, keys: Mapping[str, FieldKey]) -> dict[str, Any]:
        """What the table says, by the names of the fields."""
        return {name: self.value(key) for name, key in keys.items()}

    def value(self, key: FieldKey) -> Any:
        """The value of one key, or what holds if it is left out."""
        name = key.key
        if key.kind == "together":
            return self._together(key)
        self.asked.add(name)
        if key.default is not NEEDED and name not in self.values:
            return key.default
        match key.kind:
            case "text":
                written = self.text(name, choices=key.choices or None)
                some = next(iter(key.choices.values()), "")
                return key.choices.get(written, some) if key.choices else written
            case "line":
                return (self.text(name),)
            case "texts":
                return tuple(self.texts(name))
            case "part":
                return self.part(name, key.default is NEEDED)
            case "parts":
                return self.parts(name, key.default is NEEDED)
            case "code":
                return self.code(name)
            case "numbers":
                return tuple(self.numbers(name))
            case "sensed":
                return Literal(self.part(name), self.value(keys_of(Literal)["operated"]))
            case "table":
                return self._table(key)
            case "tables":
                entry = key.entry or object
                made = [one.made(entry) for one in self.tables(name, key.default is NEEDED)]
                return tuple(one for one in made if one is not None)
            case "dimensions":
                inner = _Section(self.reader, (*self.keys, name), self.mapping(name))
                return tuple(inner.amounts(self.dimensions).items())
        number = self.number(name, key.bound)
        return int(number) if key.whole else number

    def _together(self, key: FieldKey) -> Any:
        """An object for several keys of this table; None if none of them is there."""
        names = [one.key for one in key.together]
        self.asked.update(names)
        if not any(name in self.values for name in names) or key.entry is None:
            return None
        return key.entry(*(self.value(one) for one in key.together))

    def _table(self, key: FieldKey) -> Any:
        """An object for a table within this one; None for one that holds nothing."""
        values, entry = self.mapping(key.key), key.entry or object
        inner = _Section(self.reader, (*self.keys, key.key), values, lost=not values)
        if self.values[key.key] == {}:
            needed = [one.key for one in keys_of(entry).values() if one.default is NEEDED]
            mend = f"Give {listed(needed)}, or leave it out."
            self.report(key.key, "it is empty", mend)
            return None
        made = inner.made(entry) if values else None
        inner.close()
        return made

    def amounts(self, kinds: Iterable[str]) -> dict[str, Fraction]:
        """How far dimensions of these kinds may be off, or be adjusted, either way."""
        kinds = tuple(kinds)
        found = {key: self.number(key, above_zero()) for key in self.values if key in kinds}
        self.asked.update(kinds)
        self.close()
        return found

    # -- single keys -------------------------------------------------------------------------------

    def report(self, key: str, what: str, mend: str, item: int | None = None) -> None:
        where = (key,) if key else ()
        self.reader.report(self.keys, what, mend, where if item is None else (*where, item))

    def close(self) -> None:
        """Report keys that nothing asked for."""
        for key in self.values:
            if key not in self.asked:
                what = f"no key here is called {shown(key)}"
                self.report(key, what, did_you_mean(key, self.asked))

    def get(self, key: str) -> Any:
        self.asked.add(key)
        if key not in self.values and not self.lost:
            self.report(key, f"{key} is missing", f"Add a line {key} = …")
        return self.values.get(key)

    def text(self, key: str, choices: Iterable[str] | None = None) -> str:
        value = self.get(key)
        if value is None:
            return ""
        if not isinstance(value, str):
            self.report(key, f"{_written(value)} is not text", "Put it in quotation marks.")
            return ""
        if choices is not None:
            self.known(key, value, choices)
        return value

    def items(self, key: str, kind: type, of: str, example: str) -> list[Any]:
        """The items of a list that must be there; none if they are not all of a kind."""
        value = self.get(key)
        if not isinstance(value, list) or not all(isinstance(one, kind) for one in value):
            if value is not None:
                self.report(key, f"it is not a list of {of}", f"Write it as [{example}].")
            return []
        if len(value) > MOST_ITEMS:
            self.report(key, f"it has {len(value)} items", f"Write at most {MOST_ITEMS}.")
            return []
        return value

    def texts(self, key: str) -> list[str]:
        return self.items(key, str, "texts", '"…", "…"')

    def part(self, key: str, needed: bool = True) -> str:
        """The name of a part, which must be described somewhere; empty if none is *needed*."""
        value = self.text(key)
        if value or (needed and self.values.get(key) == ""):
            self.known(key, value, self.reader.names, "no part is called {}")
        return value

    def parts(self, key: str, some: bool) -> tuple[str, ...]:
        """The names of parts; of one or more if there must be *some*."""
        values = self.texts(key)
        if some and self.values.get(key) == []:
            self.report(key, "it names no part", "Name one part or more.")
        for i, value in enumerate(values):
            self.known(key, value, self.reader.names, "no part is called {}", i)
        return tuple(values)

    def known(
        self,
        key: str,
        value: str,
        choices: Iterable[str],
        what: str = "{} is not known here",
        item: int | None = None,
    ) -> None:
        """Report a value that is none of the choices."""
        if value not in choices:
            meant = OTHER_WORDS.get(value.strip().lower().replace(" ", "_"), "")
            mend = f"Did you mean {meant}?" if meant in choices else did_you_mean(value, choices)
            self.report(key, what.format(shown(value)), mend, item)

    def number(self, key: str, bound: Bound | None = None) -> Fraction:
        """A number that must be there; 1 once it has been refused."""
        value = self.get(key)
        number = None if value is None else self.exact(key, value)
        if number is not None and bound and not bound.holds(number):
            self.report(key, bound.what, bound.mend)
            number = None
        return Fraction(1) if number is None else number

    def numbers(self, key: str) -> list[Fraction]:
        items = self.items(key, object, "numbers", "1.0, 2.0")
        return [self.exact(key, item, i) or Fraction(0) for i, item in enumerate(items)]

    def exact(self, key: str, value: Any, item: int | None = None) -> Fraction | None:
        if isinstance(value, bool) or not isinstance(value, int | Fraction):
            what = f"{_written(value)} is not a number"
            self.report(key, what, "Write a plain number such as 4.0.", item)
            return None
        number, mend = Fraction(value), "Lengths are in mm, angles in degrees, efforts in minutes."
        if abs(number) > LARGEST_NUMBER:
            self.report(key, "it is far too large a number", mend, item)
            return None
        if 0 < abs(number) < SMALLEST_NUMBER:
            self.report(key, "it is far too small a number", f"{mend} Or write 0.", item)
            return None
        return number

    def mapping(self, key: str) -> Mapping[str, Any]:
        self.asked.add(key)
        value: Any = self.values.get(key, {})
        if not isinstance(value, Mapping):
            self.report(key, "it is not a table", "Write it as { … }.")
            return {}
        return value

    def tables(self, key: str, some: bool) -> Iterator["_Section"]:
        """The tables of a list, one or more if there must be *some*.

        Once each has been read, keys that nothing asked for are told.
        """
        if some and self.values.get(key) == []:
            self.report(key, "it is empty", "Write at least one entry { … }.")
        for i, values in enumerate(self.items(key, dict, "tables", "{ … }, { … }")):
            entry = _Section(self.reader, (*self.keys, key, i), values)
            yield entry
            entry.close()

    def code(self, key: str) -> int | None:
        """A code, written as a character, a name or a position."""
        written, alphabet = self.text(key), self.reader.code
        if not written or alphabet is None:
            return None
        try:
            return alphabet.parse(written)
        except CodeError as error:
            self.report(key, error.what, f"{error.mend.removesuffix('.')}.")
            return None
