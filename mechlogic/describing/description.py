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
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property, reduce
from pathlib import Path
from typing import Any

from mechlogic.helpers import safe_file
from mechlogic.helpers.refusal import on_one_line
from mechlogic.helpers.toml_lines import DEEPEST, lines_of, too_deep
from mechlogic.helpers.toml_lines import Path as Keys
from mechlogic.model.codes import (
    FIVE_UNIT,
    SEVEN_UNIT,
    Code,
    CodeError,
    is_function,
    runs_of,
    shown,
)
from mechlogic.model.dimensions import KINDS, OFFSETS, kinds_of
from mechlogic.model.keys import ENDS, FieldKey, keys_of
from mechlogic.model.laws import JOINTS, OTHER_WORDS, Joint, Literal
from mechlogic.model.machine import Declared, Fold, Machine
from mechlogic.model.mechanism import Mechanism, MechanismError, Part, did_you_mean
from mechlogic.model.motion import WEAKEST_N_PER_MM, Cycle, Moves
from mechlogic.model.outputs import (
    OUTPUT,
    Action,
    Actions,
    Both,
    Line,
    Output,
    Type,
    Typebar,
    Typebars,
    Window,
    struck_at,
)
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

ALPHABETS: Mapping[str, Code] = {"seven-unit": SEVEN_UNIT, "five-unit": FIVE_UNIT}


@dataclass(frozen=True)
class Problem:
    """One mistake in a description.

    Attributes:
        source: File name.
        line: Line number from 1; 0 if the mistake has no line of its own.
        table: The table it stands in, for example ``parts.arm``, or ``parts.rack.stops[2]`` for
            the second entry of a list of tables.
        key: The key, or empty; ``glyphs[2]`` for the second item of a list.
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
        return on_one_line(f"{where}, {at or 'whole file'}: {self.what}. {self.mend}")


class DescriptionError(ValueError):
    """A description with mistakes; *problems* lists every one of them."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


def read(path: str | Path) -> Machine:
    """Read a machine from a TOML file.

    Raises:
        DescriptionError: If the file cannot be read, the description is wrong in any way, or is
            not UTF-8 text.
    """
    try:
        raw = safe_file.read_bytes(path, _MOST_BYTES)
    except OSError as error:
        what = f"it cannot be opened ({error.strerror or error})"
        raise _refusal(str(path), 0, what, "Check name and folder.") from error
    return decode(raw, str(path))


def decode(raw: bytes, source: str = "description") -> Machine:
    """Build a machine from the bytes of a description.

    Args:
        raw: The TOML text in UTF-8.
        source: What to call it in messages.

    Raises:
        DescriptionError: If the description is wrong in any way, or is not UTF-8 text.
    """
    if len(raw) > _MOST_BYTES:
        raise _refusal(source, 0, *_TOO_LONG)
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" in raw:
        raise _refusal(source, 0, "it is UTF-16, or no text at all", _SAVE_AS_UTF_8)
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise _refusal(source, line, "it is not UTF-8 text", _SAVE_AS_UTF_8) from None
    return parse(text, source)


def parse(text: str, source: str = "description") -> Machine:
    """Build a machine from the text of a description.

    Args:
        text: The TOML text.
        source: What to call it in messages.

    Raises:
        DescriptionError: If the description is wrong in any way.
    """
    if len(text) > LARGEST_FILE:
        raise _refusal(source, 0, *_TOO_LONG)
    text = text.removeprefix("\ufeff").replace("\r\n", "\n")
    if half := re.search("[\ud800-\udfff]", text):
        line = text.count("\n", 0, half.start()) + 1
        what = "half a character (a lone surrogate) is in it"
        raise _refusal(source, line, what, "Type the line again.")
    if line := too_deep(text):
        what = f"it goes more than {DEEPEST} levels deep"
        raise _refusal(source, line, what, "Close each bracket; a table has one level or two.")
    try:
        data = tomllib.loads(text, parse_float=_exact)
    except (ValueError, RecursionError) as error:  # a ValueError also for endless whole numbers
        told = re.search(r"line (\d+)", str(error))
        line = int(told[1]) if told else text.count("\n") + 1
        raise _refusal(source, *_not_toml(text.split("\n"), line, str(error))) from None
    return _Reader(text, source, data).machine()


def _refusal(source: str, line: int, what: str, mend: str) -> DescriptionError:
    """For what cannot be read at all."""
    return DescriptionError([Problem(source, line, "", "", what, mend)])


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
    for wrong, what, mend in (
        (re.search("[\u2018-\u201f\u00ab\u00bb]", written), *_CURLY),
        (re.search(r"=\s*[-+]?[0-9]+,[0-9]", written), *_COMMA),
        ("\r" in written, *_CR),
        (re.search(r"[^\x00-\x7f]", outside), *_STRANGE),
    ):
        if wrong:
            return line, what, mend
    for phrase, what, mend in _SAID:
        if phrase in said:
            if what == _OPEN:  # the parser is further down by now
                opened = [n for n in range(1, line) if re.search(r"=\s*[\[{]", lines[n - 1])]
                line = opened[-1] if opened else line
            return line, what, mend
    return line, f"it is not valid TOML: {said}", _COMPARE


_CURLY = "it has curly quotation marks", 'Write plain quotation marks: "…".'
_COMMA = "it has a number with a comma", "Write a number with a point: 4.5."
_CR = "its lines end in CR alone", "In the editor, save it with LF or CRLF."
_STRANGE = (
    "it has a character that may stand only in quotation marks",
    "Write nothing but plain letters, digits and blanks outside quotation marks.",
)
_COMPARE = "Compare the line with one of its kind in the example machine."
_OPEN = "a list or table that begins here is not closed"
_SAID = (
    ("twice", "a name is there twice", "Give each its own name, or leave one out."),
    ("overwrite", "a name is there twice", "Give each its own name, or leave one out."),
    ("already", "a name is there twice", "Give each its own name, or leave one out."),
    ("Unclosed", _OPEN, "Write the ] or } that belongs to it."),
    ("Expected ']'", "the name of a table is not closed", "Write it as [parts.bar1]."),
    ("Expected '='", "there is no = between key and value", "Write it as stroke_mm = 4.0."),
    (
        "Invalid value",
        "there is no value that can be read",
        'Write a text in quotation marks "…", a number as 4.0, a list in [ ].',
    ),
    (
        "Unterminated string",
        "a text is not closed",
        'Write the quotation mark " at the end of the text.',
    ),
    (
        "Illegal character",
        "a text is not closed on its line",
        'Write the quotation mark " at its end.',
    ),
    (
        "Expected newline",
        "there is something behind the value",
        "Write one key and value on a line; a remark begins with #.",
    ),
)
"""What the parser of TOML says, in plain words: its phrase, the mistake, the mend."""


def _exact(number: str) -> Fraction | float:
    """The decimal as written, to the fifteen or so figures of a float; no size of it takes long."""
    value = float(number)
    return Fraction(repr(value)) if math.isfinite(value) else value


def _dotted(keys: Keys) -> str:
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
        return f"{float(value):g}"
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
        self.stations: list[
            tuple[str, str, str, tuple[Fraction, ...], Window | None]
        ] = []  # table, key and part, and where its rows or columns are said to stand
        self.type_table, self.type_key = "", ""
        self.type_said_to_be: dict[str, list[str]] = {}

    def machine(self) -> Machine:
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
        head = self.section("machine")
        name, title = head.text("name"), head.text("title")
        about = head.text("about", "")
        head.close()
        efforts, cycle = self._efforts(), self._cycle()
        tolerances = self._tolerances()
        self.code, self.parity = self._code()
        parts, picture = self._parts(efforts)
        output = self._output()
        declared = self._declared(parts)
        self.stop_if_wrong()
        assert output is not None and self.code is not None
        mechanism = self._mechanism(parts)
        output = self._standing(output, mechanism)
        machine = Machine(
            name,
            title,
            about.strip(),
            mechanism,
            self.code,
            self.parity,
            output,
            declared,
            efforts,
            picture,
            cycle=cycle,
            tolerances=tolerances,
        )
        self._check(machine)
        self.stop_if_wrong()
        return machine

    # -- reporting --------------------------------------------------------------------------------

    def report(self, keys: Keys, what: str, mend: str, key: Keys = ()) -> None:
        """Note a mistake at a key of a table, or at the table itself."""
        table, line = _dotted(keys), self.line((*keys, *key))
        self.problems.append(Problem(self.source, line, table, _dotted(key), what, mend))
        if len(self.problems) >= MOST_PROBLEMS:
            self.stop_if_wrong()

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
            self.report(keys, what, f"Begin the table with a line [{_dotted(keys)}].")
            return _Section(self, keys, {}, lost=True)
        return _Section(self, keys, values)

    # -- tables -----------------------------------------------------------------------------------

    def _efforts(self) -> dict[str, Fraction]:
        section = self.section("efforts_min")
        minutes = {}
        for key in section.values:
            value = section.number(key)
            if value is not None and value <= 0:
                section.report(key, "every check costs some time", "Give minutes above 0.")
            if not _KIND_OF_ACCESS.fullmatch(key):
                what = f"{shown(key)} cannot be the name of a kind of access"
                section.report(key, what, "Use a word or two: letters, digits, blank, - and _.")
            minutes[key] = value or Fraction(1)
        return minutes

    def _cycle(self) -> Cycle | None:
        """The time for one character, if the description says anything of it."""
        if "cycle" not in self.data:
            return None
        section, found = self.section("cycle"), len(self.problems)
        units, baud, sense, returns = (
            section.above_zero(key) for key in ("units", "baud", "sense_share", "return_share")
        )
        lead = section.not_negative("lead_ms", Fraction(0))
        section.close()
        if sense + returns > 1 and len(self.problems) == found:
            mend = "The shares are parts of one character's time: together at most 1."
            section.report("return_share", "the two shares are together more than 1", mend)
        wrong = len(self.problems) > found
        return None if wrong else Cycle(units, baud, sense, returns, lead)

    def _tolerances(self) -> dict[str, Fraction]:
        """How far each kind of dimension may be off, if the description says anything of it."""
        if "tolerances" not in self.data:
            return {}
        return _amounts(self.section("tolerances"), KINDS)

    def _parts(
        self, efforts: Mapping[str, Fraction]
    ) -> tuple[list[Part], dict[str, Mapping[str, object]]]:
        parts, picture = [], {}
        for name in self.names:
            section = self.section("parts", name)
            if not re.fullmatch(r"[A-Za-z][A-Za-z0-9_]{0,99}", name) or name == OUTPUT:
                mend = f"Use letters, digits and underscores, at most 100, and not {OUTPUT!r}."
                section.report("", f"{shown(name)} cannot be the name of a part", mend)
            kind = section.text("joint", choices=JOINTS)
            if kind not in JOINTS:
                continue  # what its other keys ought to be, nobody knows
            joint = _joint(section, JOINTS[kind])
            reach = section.text("reach", "", choices=efforts)
            label, group, note = (section.text(key, "") for key in ("label", "group", "note"))
            moves, bounce, fit = _moves(section), _bounce(section, joint), _fit(section, joint)
            if drawn := section.mapping("draw"):
                picture[name] = drawn
            section.close()
            if joint is not None:
                if twice := _twice(joint):
                    section.report("", f"it touches {twice} twice", "Name every input once.")
                known = (name, joint, label or name, group, reach, note, moves, bounce)
                parts.append(Part(*known, **fit))
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
        found = [OUTPUTS[key](self.section(key)) for key in described]
        if not found:
            mend = f"Begin one of the tables {', '.join(f'[{key}]' for key in OUTPUTS)}."
            self.report((), "nothing is said of what it prints with", mend)
        return reduce(Both, found) if found else None

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
        output = replace(output, rows=rows, columns=columns)
        if len(output.lines) != len(rows) or any(len(one) != len(columns) for one in output.lines):
            key = "columns_deg" if len(output.lines) == len(rows) else "rows_mm"
            part, at = (output.lift, rows) if key == "rows_mm" else (output.turn, columns)
            what = f"{part} stands at {len(at)} places: {', '.join(map(_written, at[:40]))}"
            mend = f"Write a line of type for each, or say in {key} where the lines stand."
            self.report((self.type_table,), what, mend, (self.type_key,))
            self.stop_if_wrong()
        return output

    def _code(self) -> tuple[Code | None, str]:
        section = self.section("codes")
        code = self._alphabet(section)
        return code, section.text("parity", "none", choices=("even", "odd", "none"))

    def _declared(self, parts: list[Part]) -> Declared:
        section, code = self.section("codes"), self.code
        section.asked.update(("alphabet", "parity"))
        if code is None:  # then no claim about codes can be read
            return Declared()
        declared = Declared(
            tuple(entry.run(code) for entry in section.tables("printing", ())),
            tuple(entry.fold(code) for entry in section.tables("folds", ())),
            tuple((*entry.run(code), entry.text("what")) for entry in section.tables("shows", ())),
            tuple(entry.run(code) for entry in section.tables("silent", ())),
            tuple(section.texts("no_part_in_selection", (), choices=self.names)),
            tuple(section.texts("no_part_at_all", (), choices=self.names)),
            section.part("case") if "case" in section.values else "",
            dict(entry.figure(code) for entry in section.tables("figures", ())),
        )
        section.asked.add("case")
        section.close()
        for part in parts:
            for key, what, mend in part.joint.outside(code.units + (self.parity != "none")):
                self.report(("parts", part.name), what, mend, key)
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
            for keys, what, mend in part.joint.never(part.name, laws[part.name].places[-1], full):
                self.report(("parts", part.name, *keys[:-1]), what, mend, keys[-1:])

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
        for table, key, part, stations, window in self.stations:
            places = machine.mechanism.laws[part].places
            for i, found in enumerate(struck_at(stations, places, window) if stations else ()):
                if not found:
                    what = f"{part} never stands at {_written(stations[i])}"
                    near = sorted(places, key=lambda place: abs(place - stations[i]))[:3]
                    mend = f"The nearest that it reaches: {', '.join(map(_written, near))}."
                    self.report((table,), what, mend, (key, i))

    def _check_claims(self, machine: Machine) -> None:
        """Something is claimed of every code, and only once."""
        code, runs = machine.code, machine.declared.runs
        count = Counter(number for first, last in runs for number in range(first, last + 1))
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
            for part in _seen_in(prints[machine.as_set(code)])
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


_KIND_OF_ACCESS = re.compile(r"\w[\w -]{0,39}")


def _seen_in(print_: str) -> tuple[str, ...]:
    """The pieces of what is seen: ``A+LF`` is an A and a line feed."""
    return (print_,) if len(print_) == 1 else tuple(print_.split("+"))


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

    def report(self, key: str, what: str, mend: str, item: int | None = None) -> None:
        where = (key,) if key else ()
        self.reader.report(self.keys, what, mend, where if item is None else (*where, item))

    def close(self) -> None:
        """Report keys that nothing asked for."""
        for key in self.values:
            if key not in self.asked:
                what = f"no key here is called {shown(key)}"
                self.report(key, what, did_you_mean(key, self.asked))

    def get(self, key: str, default: Any = None) -> Any:
        self.asked.add(key)
        if key in self.values:
            return self.values[key]
        if default is None and not self.lost:
            self.report(key, f"{key} is missing", f"Add a line {key} = …")
        return default

    def text(
        self, key: str, default: str | None = None, choices: Iterable[str] | None = None
    ) -> str:
        value = self.get(key, default)
        if value is None:
            return ""
        if not isinstance(value, str):
            self.report(key, f"{_written(value)} is not text", "Put it in quotation marks.")
            return ""
        if value != default:
            self._known(key, value, choices, f"{shown(value)} is not known here")
        return value

    def texts(
        self, key: str, default: tuple[str, ...] | None = None, choices: Iterable[str] | None = None
    ) -> list[str]:
        value = self.get(key, default)
        if not isinstance(value, list | tuple) or not all(isinstance(v, str) for v in value):
            if value is not None:
                self.report(key, "it is not a list of texts", 'Write it as ["…", "…"].')
            return []
        if self.too_long(key, value):
            return []
        for i, item in enumerate(value):
            self._known(key, item, choices, f"{shown(item)} is not known here", i)
        return list(value)

    def part(self, key: str) -> str:
        """The name of a part, which must be described somewhere."""
        value = self.text(key)
        if value:
            self._known(key, value, self.reader.names, f"no part is called {shown(value)}")
        return value

    def parts(self, key: str) -> tuple[str, ...]:
        """The names of one part or more."""
        values = self.texts(key)
        if self.values.get(key) == []:
            self.report(key, "it names no part", "Name one part or more.")
        for i, value in enumerate(values):
            self._known(key, value, self.reader.names, f"no part is called {shown(value)}", i)
        return tuple(values)

    def _known(
        self,
        key: str,
        value: str,
        choices: Iterable[str] | None,
        what: str,
        item: int | None = None,
    ) -> None:
        if choices is not None and value not in choices:
            meant = OTHER_WORDS.get(value.strip().lower().replace(" ", "_"), "")
            mend = f"Did you mean {meant}?" if meant in choices else did_you_mean(value, choices)
            self.report(key, what, mend, item)

    def number(self, key: str, default: Fraction | None = None) -> Fraction | None:
        value = self.get(key, default)
        return default if value is None else self.exact(key, value)

    def above_zero(self, key: str) -> Fraction:
        """A number that must be there and be greater than 0; 1 once it has been refused."""
        value = self.number(key)
        if value is not None and value <= 0:
            self.report(key, "it is not greater than 0", "Give a number greater than 0.")
        return value if value is not None and value > 0 else Fraction(1)

    def not_negative(self, key: str, default: Fraction) -> Fraction:
        """A number that may be left out and must not be less than 0."""
        value = self.number(key, default)
        if value is not None and value < 0:
            self.report(key, "it is less than 0", "Give 0 or more.")
        return max(value or Fraction(0), Fraction(0))

    def numbers(self, key: str) -> list[Fraction]:
        value = self.get(key)
        if not isinstance(value, list):
            if value is not None:
                self.report(key, "it is not a list of numbers", "Write it as [1.0, 2.0].")
            return []
        if self.too_long(key, value):
            return []
        return [self.exact(key, item, i) or Fraction(0) for i, item in enumerate(value)]

    def too_long(self, key: str, items: Sequence[object]) -> bool:
        """Whether a list is longer than any can be; it is reported then."""
        if len(items) <= MOST_ITEMS:
            return False
        self.report(key, f"it has {len(items)} items", f"Write at most {MOST_ITEMS}.")
        return True

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

    def mapping(self, key: str) -> Mapping[str, object]:
        value = self.get(key, {})
        if not isinstance(value, Mapping):
            self.report(key, "it is not a table", "Write it as { … }.")
            return {}
        return value

    def tables(self, key: str, default: tuple[()] | None = None) -> Iterator["_Section"]:
        """The tables of a list.  Once each has been read, keys that nothing asked for are told."""
        value = self.get(key, default)
        if not isinstance(value, list | tuple) or not all(isinstance(v, Mapping) for v in value):
            if value is not None:
                self.report(key, "it is not a list of tables", "Write it as [{ … }, { … }].")
            return
        if self.too_long(key, value):
            return
        if not value and default is None:
            self.report(key, "it is empty", "Write at least one entry { … }.")
        for i, values in enumerate(value):
            entry = _Section(self.reader, (*self.keys, key, i), values)
            yield entry
            entry.close()

    def code(self, alphabet: Code, key: str) -> int | None:
        """A code, written as a character, a name or a position."""
        written = self.text(key)
        if not written:
            return None
        try:
            return alphabet.parse(written)
        except CodeError as error:
            self.report(key, error.what, f"{error.mend.removesuffix('.')}.")
            return None

    def run(self, alphabet: Code) -> tuple[int, int]:
        """A run of codes, first and last."""
        first, last = self.code(alphabet, "first"), self.code(alphabet, "last")
        if first is None or last is None:
            return 0, 0
        if first > last:
            self.report("first", "it comes after the last", "Exchange the two.")
        return first, last

    def figure(self, alphabet: Code) -> tuple[int, str]:
        """What a code prints in the figures case, where the published code leaves that open."""
        code, prints = self.code(alphabet, "code"), self.text("prints")
        if len(prints) != 1:
            self.report("prints", "it is not one character", "Write the one that is printed.")
        return code or 0, prints or " "

    def fold(self, alphabet: Code) -> Fold:
        """A run of codes, and the code that the first of them prints as."""
        (first, last), onto = self.run(alphabet), self.code(alphabet, "onto")
        if onto is not None and onto + last - first >= len(alphabet):
            self.report("onto", "the run does not fit behind it", "Check first, last and onto.")
        return Fold(first, last, onto or 0)


# -- motion ----------------------------------------------------------------------------------------


def _moves(section: _Section) -> Moves | None:
    """The mass, spring, drag and friction of a part, if anything is said of them."""
    section.asked.add("moves")
    if "moves" not in section.values:
        return None
    values = section.mapping("moves")
    inner = type(section)(section.reader, (*section.keys, "moves"), values, lost=not values)
    if not values and isinstance(section.values["moves"], Mapping):
        section.report("moves", "it is empty", "Give mass_g and spring_n_per_mm, or leave it out.")
    works = inner.text("spring", "returns", choices=SPRINGS)
    needed = {key: inner.above_zero(key) for key in ("mass_g", "spring_n_per_mm")}
    others = {key: inner.not_negative(key, Fraction(0)) for key in MAY_BE_ZERO}
    if needed["spring_n_per_mm"] < WEAKEST_N_PER_MM:
        mend = "Give its rate in N/mm; for a steady force take a soft spring with much preload."
        inner.report("spring_n_per_mm", "no spring is as soft as that", mend)
        return None
    inner.close()
    return Moves(**needed, **others, operates=SPRINGS.get(works, False))


SPRINGS = {"returns": False, "operates": True}
"""What the spring of a part may do, by its name in a description."""

MAY_BE_ZERO = ("preload_n", "drag_ns_per_m", "friction_n", "within_mm")


def _bounce(section: _Section, joint: Joint | None) -> Fraction | None:
    """How long a contact bounces, in ms, if that is said; nothing else has the key."""
    if joint is None or "bounce_ms" not in joint.more:
        return None
    section.asked.add("bounce_ms")
    if "bounce_ms" not in section.values:
        return None
    return section.not_negative("bounce_ms", Fraction(0))


# -- fit -------------------------------------------------------------------------------------------


def _fit(section: _Section, joint: Joint | None) -> dict[str, Any]:
    """The gap, backlash, tolerances and adjustments of a part, as far as they are said."""
    kinds = kinds_of(joint) if joint else tuple(KINDS)
    found: dict[str, Any] = {}
    for key in ("tolerances", "adjusts"):
        section.asked.add(key)
        if key in section.values:
            values = section.mapping(key)
            inner = type(section)(section.reader, (*section.keys, key), values)
            found[key] = tuple(_amounts(inner, kinds).items())
    lost = ("backlash_deg",) if joint and "backlash_deg" in joint.more else ()
    for key in lost if joint and joint.given else ("gap_mm", *lost):
        section.asked.add(key)
        if key in section.values:
            found[key] = section.not_negative(key, Fraction(0))
    return found


def _amounts(section: _Section, kinds: Iterable[str]) -> dict[str, Fraction]:
    """How far dimensions of these kinds may be off, or be adjusted, either way."""
    found = {key: section.above_zero(key) for key in section.values if key in kinds}
    section.asked.update(kinds)
    section.close()
    return found


# -- joints ----------------------------------------------------------------------------------------


def _joint(section: _Section, kind: type[Joint]) -> Joint | None:
    """A joint of this class, or None if what makes it cannot be read."""
    found = len(section.reader.problems)
    joint: Joint | None = _made(section, kind)
    if joint is not None and len(section.reader.problems) == found:
        for keys, what, mend in joint.wrong():
            section.reader.report((*section.keys, *keys[:-1]), what, mend, keys[-1:])
    return joint


def _made(section: _Section, kind: type[Any]) -> Any:
    """An object whose fields are told by the keys of a table; None if one has no value at all."""
    values = {name: _value(section, key) for name, key in keys_of(kind).items()}
    needed = (name for name, key in keys_of(kind).items() if key.default is not None)
    return None if any(values[name] is None for name in needed) else kind(**values)


def _value(section: _Section, key: FieldKey) -> Any:
    match key.kind:
        case "part":
            return section.part(key.key)
        case "parts":
            return section.parts(key.key)
        case "code":
            section.asked.add(key.key)
            alphabet = section.reader.code
            return section.code(alphabet, key.key) if alphabet else None
        case "end":
            return ENDS.get(section.text(key.key, "operated", choices=ENDS), True)
        case "sensed":
            return Literal(section.part(key.key), _value(section, END))
        case "entries":
            return tuple(_made(entry, key.entry or object) for entry in section.tables(key.key))
    return _number(section, key)


END = FieldKey("when", "end", "", True)


def _number(section: _Section, key: FieldKey) -> Fraction | int | None:
    """The number under a key; once it has been refused, 1 stands for it."""
    section.asked.add(key.key)
    if key.default is None and key.key not in section.values:
        return None
    value = section.number(key.key, key.default if isinstance(key.default, Fraction) else None)
    if value is None:
        return Fraction(1)
    if key.bound and not key.bound.holds(value):
        section.report(key.key, key.bound.what, key.bound.mend)
    return int(value) if key.whole else value


# -- what it prints with ---------------------------------------------------------------------------


def _wheel(section: _Section) -> Output:
    lift = section.part("lift")
    turn, hammer = (
        section.part(key) if key in section.values else "" for key in ("turn", "hammer")
    )
    section.asked.update(("turn", "hammer", "rows_mm", "columns_deg"))
    rows = _stations(section, "rows_mm")
    columns = _stations(section, "columns_deg") if turn else [Fraction(0)]
    if "columns_deg" in section.values and "turn" not in section.values:
        mend = "Leave it out, or say with turn = … which part turns the type."
        section.report("columns_deg", "nothing turns the type", mend)
    kind = "type wheel" if turn else "type block"
    windows = (
        _window(section, "window_mm", "unreadable_mm", "type_height_mm"),
        _window(section, "window_deg", "unreadable_deg", "type_width_deg") if turn else None,
    )
    stations = (("rows_mm", lift, rows), ("columns_deg", turn, columns))
    return _type(section, lift, turn, hammer, rows, columns, kind, stations, windows)


def _stations(section: _Section, key: str) -> list[Fraction]:
    """Where rows or columns are said to stand; none if that is left out."""
    return section.numbers(key) if key in section.values else []


def _window(section: _Section, whole: str, unreadable: str, size: str) -> Window | None:
    """How far type may stand from its place in one direction, if that is said."""
    keys = (whole, unreadable, size)
    section.asked.update(keys)
    if not any(key in section.values for key in keys):
        return None
    window = Window(*(section.above_zero(key) for key in keys))
    if window.readable <= window.whole and all(key in section.values for key in keys):
        mend = f"Make it more than {whole}: in between, a character is clipped."
        section.report(unreadable, "it leaves no room for a clipped character", mend)
    return window


def _type_bar(section: _Section) -> Output:
    shift = section.part("shift")
    hammer = section.part("hammer") if "hammer" in section.values else ""
    section.asked.add("hammer")
    section.asked.add("places_mm")
    columns = _stations(section, "places_mm")
    none: list[Fraction] = []
    stations = (("", "", none), ("places_mm", shift, columns))
    windows = None, _window(section, "window_mm", "unreadable_mm", "type_width_mm")
    return _type(section, "", shift, hammer, [Fraction(0)], columns, "type bar", stations, windows)


def _type(
    section: _Section,
    lift: str,
    turn: str,
    hammer: str,
    rows: list[Fraction],
    columns: list[Fraction],
    kind: str,
    stations: Iterable[tuple[str, str, list[Fraction]]],
    windows: tuple[Window | None, Window | None],
) -> Output:
    """The grid of type that a wheel, a block or a bar carries."""
    reader, (table,) = section.reader, section.keys
    glyphs = section.texts("glyphs") if kind != "type bar" else [section.text("glyphs")]
    _said_of_type(section, "glyphs")
    section.close()
    for (key, part, places), window in zip(stations, windows, strict=True):
        for i, place in enumerate(places):
            if place in places[:i]:
                what = f"{_written(place)} is listed twice"
                section.report(key, what, "Give each its own place.", i)
        if part:
            reader.stations.append((str(table), key, part, tuple(places), window))
    if not any(problem.table == table for problem in reader.problems):
        _check_grid(section, rows, columns, glyphs, kind)
    return Type(lift, turn, hammer, tuple(rows), tuple(columns), tuple(glyphs), kind, *windows)


def _said_of_type(section: _Section, key: str) -> None:
    """What the table says of type that is there twice or is not used."""
    reader = section.reader
    reader.type_table, reader.type_key = str(section.keys[0]), key
    reader.type_said_to_be = {name: section.texts(name, ()) for name in ("unused", "repeated")}


def _check_grid(
    section: _Section, rows: list[Fraction], columns: list[Fraction], glyphs: list[str], kind: str
) -> None:
    """There is one piece of type, or a space, for each place."""
    if rows and len(glyphs) != len(rows):
        what = f"{len(glyphs)} rows of type for {len(rows)} heights"
        section.report("glyphs", what, "One for each height in rows_mm.")
    places = "places" if kind == "type bar" else "angles"
    for i, line in enumerate(glyphs):
        if columns and len(line) != len(columns):
            what = f"{shown(line)} has {len(line)} characters for {len(columns)} {places}"
            section.report("glyphs", what, "One for each; write a blank as a space.", i)


def _typebars(section: _Section) -> Output:
    shift = section.part("shift") if "shift" in section.values else ""
    section.asked.add("shift")
    bars = tuple(_typebar(entry, shift) for entry in section.tables("bars"))
    _said_of_type(section, "bars")
    section.close()
    return Typebars(bars, shift)


def _typebar(entry: _Section, shift: str) -> Typebar:
    pull, type_ = entry.part("pull"), entry.text("type")
    wanted = 2 if shift else 1
    if type_ and len(type_) != wanted:
        what = f"{shown(type_)} has {len(type_)} characters for {wanted} places of the shift"
        entry.report("type", what, "One for each; write a blank as a space.")
    return Typebar(pull, type_.ljust(wanted)[:wanted])


def _actions(section: _Section) -> Output:
    found = tuple(_action(entry) for entry in section.tables("levers"))
    section.close()
    return Actions(found)


def _action(entry: _Section) -> Action:
    lever, shows, does = entry.part("lever"), entry.text("shows"), entry.text("does")
    if shows and not is_function(shows):
        mend = "Write the code's own name for it, such as CR, LF or BEL."
        entry.report("shows", f"{shown(shows)} is the name of no function", mend)
    return Action(lever, shows, does)


def _line(section: _Section) -> Output:
    contacts = section.parts("contacts")
    code = ALPHABETS.get(section.text("alphabet", choices=ALPHABETS), SEVEN_UNIT)
    parity = section.text("parity", "none", choices=("even", "odd", "none"))
    section.close()
    wanted = code.units + (parity != "none")
    if contacts and len(contacts) != wanted:
        what = f"{len(contacts)} contacts for {wanted} bits"
        section.report("contacts", what, "Name one for each bit, b1 first, the parity bit last.")
    return Line(contacts, code, parity)


OUTPUTS: Mapping[str, Callable[[_Section], Output]] = {
    "wheel": _wheel,
    "type_bar": _type_bar,
    "typebars": _typebars,
    "actions": _actions,
    "line": _line,
}
"""What a machine can show, by the name of the table that describes it."""
