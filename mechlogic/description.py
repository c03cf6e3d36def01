"""Reading a machine's description, a TOML file, and refusing one that is wrong.

Every mistake is reported with file, line, table, key and mend, and all of them at once.  Nothing
is built from a description that has one.  See ``machines/saltmere.toml`` for a commented example.
"""

import math
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from mechlogic import laws
from mechlogic.codes import FIVE_UNIT, SEVEN_UNIT, Code, CodeError
from mechlogic.laws import Joint, Literal, Stop
from mechlogic.logbook import NOTHING
from mechlogic.machine import OUTPUT, Declared, Fold, Machine, Wheel
from mechlogic.mechanism import Mechanism, MechanismError, Part, did_you_mean

LARGEST_FILE = 1_000_000
"""The longest description that is read, in characters."""

ALPHABETS: Mapping[str, Code] = {"seven-unit": SEVEN_UNIT, "five-unit": FIVE_UNIT}


@dataclass(frozen=True)
class Problem:
    """One mistake in a description.

    Attributes:
        source: File name.
        line: Line number from 1; 0 if the mistake has no line of its own.
        table: The table it stands in, for example ``parts.arm``.
        key: The key, or empty.
        what: What is wrong.
        mend: What to do about it.
    """

    source: str
    line: int
    table: str
    key: str
    what: str
    mend: str

    def __str__(self) -> str:
        where = f"{self.source}, line {self.line}" if self.line else self.source
        at = ".".join(filter(None, (self.table, self.key)))
        return f"{where}, {at or 'whole file'}: {self.what}. {self.mend}"


class DescriptionError(ValueError):
    """A description with mistakes; *problems* lists every one of them."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


def read(path: str | Path) -> Machine:
    """Read a machine from a TOML file.

    Raises:
        DescriptionError: If the description is wrong in any way, or is not UTF-8 text.
        OSError: If the file cannot be read.
    """
    raw = Path(path).read_bytes()
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        problem = Problem(str(path), line, "", "", "it is not UTF-8 text", "Save it as UTF-8.")
        raise DescriptionError([problem]) from None
    return parse(text, str(path))


def parse(text: str, source: str = "description") -> Machine:
    """Build a machine from the text of a description.

    Args:
        text: The TOML text.
        source: What to call it in messages.

    Raises:
        DescriptionError: If the description is wrong in any way.
    """
    if len(text) > LARGEST_FILE:
        what = f"it is longer than {LARGEST_FILE} characters"
        raise DescriptionError([Problem(source, 0, "", "", what, "A machine needs far fewer.")])
    text = text.replace("\r\n", "\n")
    try:
        data = tomllib.loads(text, parse_float=_exact)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        line = re.search(r"line (\d+)", str(error))
        what = f"it is not valid TOML: {error}"
        mend = "Compare the line with one of its kind in the example machine."
        number = int(line[1]) if line else 0
        raise DescriptionError([Problem(source, number, "", "", what, mend)]) from None
    return _Reader(text, source, data).machine()


def _exact(number: str) -> Fraction | float:
    try:
        return Fraction(number)
    except ValueError:
        return math.nan


class _Reader:
    """One reading of one description; collects problems as it goes."""

    def __init__(self, text: str, source: str, data: Mapping[str, Any]) -> None:
        self.lines = text.split("\n")
        self.source, self.data = source, data
        self.problems: list[Problem] = []

    def machine(self) -> Machine:
        known = ("machine", "efforts_min", "parts", "wheel", "codes")
        for name in self.data:
            if name not in known:
                self.report(name, "", f"no table is called {name!r}", did_you_mean(name, known))
        head = self.section("machine")
        name, title = head.text("name"), head.text("title")
        about = head.text("about", "")
        head.close()
        efforts = self._efforts()
        parts, picture = self._parts(efforts)
        wheel = self._wheel(parts)
        code, parity, declared = self._codes(parts)
        self.stop_if_wrong()
        mechanism = self._mechanism(parts)
        machine = Machine(
            name, title, about.strip(), mechanism, code, parity, wheel, declared, efforts, picture
        )
        self._check(machine)
        self.stop_if_wrong()
        return machine

    # -- reporting --------------------------------------------------------------------------------

    def report(self, table: str, key: str, what: str, mend: str) -> None:
        self.problems.append(Problem(self.source, self.line(table, key), table, key, what, mend))

    def stop_if_wrong(self) -> None:
        if self.problems:
            raise DescriptionError(self.problems)

    def line(self, table: str, key: str) -> int:
        """The line of a key in a table, or of the table's head, or 0."""
        head = re.compile(rf"\s*\[+\s*{re.escape(table)}\s*\]+")
        start = next((n for n, line in enumerate(self.lines, 1) if head.match(line)), 0)
        if not (start and key):
            return start
        entry = re.compile(rf"\s*[\"']?{re.escape(key)}[\"']?\s*=")
        for number, line in enumerate(self.lines[start:], start + 1):
            if re.match(r"\s*\[[^=]*\]\s*(#.*)?$", line) and not line.strip().endswith(","):
                break
            if entry.match(line):
                return number
        return start

    def section(self, table: str) -> "_Section":
        values: Any = self.data
        for step in table.split("."):
            values = values.get(step) if isinstance(values, Mapping) else None
        if not isinstance(values, Mapping):
            what = "it is missing" if values is None else "it is not a table"
            self.report(table, "", what, f"Add a table [{table}].")
            values = {}
        return _Section(self, table, values)

    # -- tables -----------------------------------------------------------------------------------

    def _efforts(self) -> dict[str, Fraction]:
        section = self.section("efforts_min")
        minutes = {key: section.number(key) for key in section.values}
        return {key: value for key, value in minutes.items() if value is not None}

    def _parts(
        self, efforts: Mapping[str, Fraction]
    ) -> tuple[list[Part], dict[str, Mapping[str, object]]]:
        parts, picture = [], {}
        for name in self.section("parts").values:
            section = self.section(f"parts.{name}")
            if not re.fullmatch(r"[A-Za-z][A-Za-z0-9_]*", name) or name == OUTPUT:
                mend = f"Use letters, digits and underscores, and not {OUTPUT!r}."
                section.report("", f"{name!r} cannot be the name of a part", mend)
            kind = section.text("joint", choices=JOINTS)
            joint = JOINTS[kind](section) if kind in JOINTS else None
            reach = section.text("reach", "", choices=efforts)
            label, group, note = (section.text(key, "") for key in ("label", "group", "note"))
            if drawn := section.mapping("draw"):
                picture[name] = drawn
            section.close()
            if joint is not None:
                parts.append(Part(name, joint, label or name, group, reach, note))
        return parts, picture

    def _wheel(self, parts: list[Part]) -> Wheel:
        section = self.section("wheel")
        names = {part.name for part in parts}
        lift = section.text("lift", choices=names)
        turn, hammer = (section.text(key, "", choices=names) for key in ("turn", "hammer"))
        rows = section.numbers("rows_mm")
        columns = section.numbers("columns_deg") if turn else [Fraction(0)]
        glyphs = section.texts("glyphs")
        section.close()
        if len(glyphs) != len(rows):
            section.report(
                "glyphs", f"{len(glyphs)} rows of type for {len(rows)} heights", "One for each."
            )
        for line in glyphs:
            if len(line) != len(columns):
                what = f"{line!r} has {len(line)} characters for {len(columns)} angles"
                section.report("glyphs", what, "One for each; write a blank as a space.")
        return Wheel(lift, turn, hammer, tuple(rows), tuple(columns), tuple(glyphs))

    def _codes(self, parts: list[Part]) -> tuple[Code, str, Declared]:
        section = self.section("codes")
        code = self._alphabet(section)
        parity = section.text("parity", "none", choices=("even", "odd", "none"))
        bars = [part.name for part in parts if isinstance(part.joint, laws.Bit)]
        declared = Declared(
            tuple(section.run(code, entry) for entry in section.tables("printing")),
            tuple(
                Fold(*section.run(code, entry), section.code(code, entry, "onto"))
                for entry in section.tables("folds", ())
            ),
            tuple(section.run(code, entry) for entry in section.tables("silent", ())),
            tuple(section.texts("no_part_in_selection", (), choices=bars)),
            tuple(section.texts("no_part_at_all", (), choices=bars)),
        )
        section.close()
        for part in parts:
            if isinstance(part.joint, laws.Bit):
                most = code.units + (parity != "none")
                if not 1 <= part.joint.bit <= most:
                    what = f"the code has no bit {part.joint.bit}"
                    self.report(f"parts.{part.name}", "bit", what, f"Its bits are 1 to {most}.")
        return code, parity, declared

    def _alphabet(self, section: "_Section") -> Code:
        """A published code by its name, or a list of characters in the order of their codes."""
        if not isinstance(section.values.get("alphabet"), list):
            return ALPHABETS.get(section.text("alphabet", choices=ALPHABETS), SEVEN_UNIT)
        characters = section.texts("alphabet")
        units = max(1, (len(characters) - 1).bit_length())
        try:
            return Code("code of its own", units, self.source, tuple(characters))
        except ValueError as error:
            mend = "Write one character for every setting of the code's bits: 2, 4, 8, 16 …"
            section.report("alphabet", str(error), mend)
            return SEVEN_UNIT

    def _mechanism(self, parts: list[Part]) -> Mechanism:
        try:
            return Mechanism(parts)
        except MechanismError as error:
            self.report(f"parts.{error.part}", "", error.what, error.mend)
            raise DescriptionError(self.problems) from None

    # -- claims against parts ----------------------------------------------------------------------

    def _check(self, machine: Machine) -> None:
        wheel, laws_of = machine.wheel, machine.mechanism.laws
        for key, part, stations in (
            ("rows_mm", wheel.lift, wheel.rows),
            ("columns_deg", wheel.turn, wheel.columns),
        ):
            if not part:
                continue
            reached = ", ".join(f"{float(place):g}" for place in laws_of[part].places)
            for station in stations:
                if station not in laws_of[part].places:
                    what = f"{part} never stands at {float(station):g}"
                    self.report("wheel", key, what, f"It reaches {reached}.")
        self._check_bits(machine)
        if not self.problems:
            self._check_prints(machine)

    def _check_bits(self, machine: Machine) -> None:
        seen: dict[int, str] = {}
        for name, bit in machine.mechanism.bars.items():
            if bit.bit in seen:
                what = f"bit {bit.bit} already sets {seen[bit.bit]}"
                self.report(f"parts.{name}", "bit", what, "Give each bar its own bit.")
            seen[bit.bit] = name

    def _check_prints(self, machine: Machine) -> None:
        for code in range(len(machine.code)):
            name = machine.code.name(code)
            try:
                claimed = machine.declared.prints_as(code)
            except KeyError:
                mend = "Add it to printing, folds or silent."
                self.report("codes", "", f"nothing is said about {name}", mend)
                continue
            want = NOTHING if claimed is None else machine.code.character(claimed)
            got = machine.good_print(code)
            if got != (NOTHING if want == " " else want):
                what = f"{name} should print {want!r}, but the parts print {got!r}"
                mend = "Correct the type or the claim, or follow the code through the parts."
                self.report("wheel" if claimed == code else "codes", "", what, mend)


class _Section:
    """One table of a description, read key by key."""

    def __init__(self, reader: _Reader, table: str, values: Mapping[str, Any]) -> None:
        self.reader, self.table, self.values = reader, table, values
        self.asked: set[str] = set()

    def report(self, key: str, what: str, mend: str) -> None:
        self.reader.report(self.table, key, what, mend)

    def close(self) -> None:
        """Report keys that nothing asked for."""
        for key in self.values:
            if key not in self.asked:
                self.report(key, f"no key here is called {key!r}", did_you_mean(key, self.asked))

    def get(self, key: str, default: Any = None) -> Any:
        self.asked.add(key)
        if key in self.values:
            return self.values[key]
        if default is None:
            self.report(key, f"{key} is missing", f"Add a line {key} = …")
        return default

    def text(self, key: str, default: str | None = None, choices: Iterable[str] = ()) -> str:
        value = self.get(key, default)
        if value is None:
            return ""
        if not isinstance(value, str):
            self.report(key, f"{value!r} is not text", "Put it in quotation marks.")
            return ""
        if choices and value not in choices and value != default:
            self.report(key, f"{value!r} is not known here", did_you_mean(value, choices))
        return value

    def texts(
        self, key: str, default: tuple[str, ...] | None = None, choices: Iterable[str] = ()
    ) -> list[str]:
        value = self.get(key, default)
        if not isinstance(value, list | tuple) or not all(isinstance(v, str) for v in value):
            if value is not None:
                self.report(key, "it is not a list of texts", 'Write it as ["…", "…"].')
            return []
        for item in value:
            if choices and item not in choices:
                self.report(key, f"{item!r} is not known here", did_you_mean(item, choices))
        return list(value)

    def number(self, key: str, default: Fraction | None = None) -> Fraction | None:
        value = self.get(key, default)
        return default if value is None else self.exact(key, value)

    def numbers(self, key: str) -> list[Fraction]:
        value = self.get(key)
        if not isinstance(value, list):
            if value is not None:
                self.report(key, "it is not a list of numbers", "Write it as [1.0, 2.0].")
            return []
        return [n for n in (self.exact(key, item) for item in value) if n is not None]

    def exact(self, key: str, value: Any) -> Fraction | None:
        if isinstance(value, bool) or not isinstance(value, int | Fraction):
            self.report(key, f"{value!r} is not a number", "Write a plain number such as 4.0.")
            return None
        return Fraction(value)

    def mapping(self, key: str) -> Mapping[str, object]:
        value = self.get(key, {})
        if not isinstance(value, Mapping):
            self.report(key, "it is not a table", "Write it as { … }.")
            return {}
        return value

    def tables(self, key: str, default: tuple[()] | None = None) -> list[Mapping[str, Any]]:
        value = self.get(key, default)
        if not isinstance(value, list | tuple) or not all(isinstance(v, Mapping) for v in value):
            if value is not None:
                self.report(key, "it is not a list of tables", "Write it as [{ … }, { … }].")
            return []
        return list(value)

    def entry(self, key: str, values: Mapping[str, Any]) -> "_Section":
        """A table inside a list, whose mistakes are reported at the list's key."""
        return _Entry(self.reader, self.table, values, key)

    def code(self, alphabet: Code, entry: Mapping[str, Any], key: str) -> int:
        try:
            return alphabet.parse(str(entry[key]))
        except (KeyError, CodeError) as error:
            what = f"{key} is missing" if isinstance(error, KeyError) else str(error)
            self.report("", what, 'Write a code by its place in the table, such as "2/0".')
            return 0

    def run(self, alphabet: Code, entry: Mapping[str, Any]) -> tuple[int, int]:
        return self.code(alphabet, entry, "first"), self.code(alphabet, entry, "last")


class _Entry(_Section):
    """A table inside a list."""

    def __init__(
        self, reader: _Reader, table: str, values: Mapping[str, Any], list_key: str
    ) -> None:
        super().__init__(reader, table, values)
        self.list_key = list_key

    def report(self, key: str, what: str, mend: str) -> None:
        super().report(self.list_key, what, mend)


# -- joints ----------------------------------------------------------------------------------------


def _bit(section: _Section) -> Joint | None:
    bit, stroke = section.number("bit"), section.number("stroke_mm")
    if bit is None or stroke is None:
        return None
    if bit.denominator != 1:
        section.report("bit", "it is not a whole number", "Bits count from 1.")
    if stroke <= 0:
        section.report("stroke_mm", "a bar must move", "Give a stroke greater than 0.")
    return laws.Bit(int(bit), stroke)


def _ratio(section: _Section, key: str = "ratio", default: int | None = 1) -> Fraction:
    ratio = section.number(key, None if default is None else Fraction(default))
    if ratio is not None and ratio <= 0:
        section.report(key, "it is not greater than 0", "Give a ratio greater than 0.")
    return ratio or Fraction(1)


def _one(kind: Callable[[str, Fraction], Joint]) -> Callable[[_Section], Joint]:
    return lambda section: kind(section.text("input"), _ratio(section))


def _many(kind: Callable[[tuple[str, ...], Fraction], Joint]) -> Callable[[_Section], Joint]:
    return lambda section: kind(tuple(section.texts("inputs")), _ratio(section))


ENDS = {"operated": True, "at rest": False}


def _pull_bar(section: _Section) -> Joint:
    notches = []
    for values in section.tables("notches"):
        inner = section.entry("notches", values)
        end = inner.text("when", "operated", choices=ENDS)
        notches.append(Literal(inner.text("part"), ENDS.get(end, True)))
        inner.close()
    return laws.PullBar(tuple(notches))


def _stepped_stops(section: _Section) -> Joint:
    end = section.number("end_mm") or Fraction(0)
    stops = []
    for values in section.tables("stops"):
        inner = section.entry("stops", values)
        at = inner.number("at_mm") or Fraction(0)
        when = inner.text("when", "operated", choices=ENDS)
        lets_go = inner.number("lets_go_mm") if "lets_go_mm" in values else None
        lever = inner.text("lever")
        inner.asked.add("lets_go_mm")
        inner.close()
        if at >= end:
            section.report("stops", f"the stop of {lever} lies behind the end", "Check at_mm.")
        if lets_go is not None and lets_go <= 0:
            inner.report("", f"the stop of {lever} lets go at once", "Give a depth above 0.")
        stops.append(Stop(Literal(lever, ENDS.get(when, True)), at, lets_go))
    return laws.SteppedStops(tuple(stops), end)


def _half_step(section: _Section) -> Joint:
    step = section.number("step_mm") or Fraction(0)
    return laws.HalfStep(section.text("base"), section.text("shoulder"), step)


def _opposed_racks(section: _Section) -> Joint:
    ratio = _ratio(section, "degrees_per_mm", None)
    return laws.OpposedRacks(section.text("forward"), section.text("backward"), ratio)


def _summing_lever(section: _Section) -> Joint:
    first_arm, second_arm = _ratio(section, "first_arm_mm"), _ratio(section, "second_arm_mm")
    return laws.SummingLever(section.text("first"), section.text("second"), first_arm, second_arm)


JOINTS: Mapping[str, Callable[[_Section], Joint | None]] = {
    "bit": _bit,
    "follow": _one(laws.Follow),
    "withdraw": _one(laws.Withdraw),
    "either_pushes": _many(laws.EitherPushes),
    "all_clear": _many(laws.AllClear),
    "pull_bar": _pull_bar,
    "stepped_stops": _stepped_stops,
    "half_step": _half_step,
    "opposed_racks": _opposed_racks,
    "summing_lever": _summing_lever,
}
"""The joints by the name they have in a description."""
