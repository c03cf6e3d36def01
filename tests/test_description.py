"""A wrong description is refused: each mistake with its line, table, key and mend, and no echo.

The mistakes are those that a restorer makes who writes one by hand.
"""

import re
from fractions import Fraction as F
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mechlogic.describing.description import LARGEST_FILE, DescriptionError, parse, read
from mechlogic.machines import FOLDER, load, names
from mechlogic.model.laws import HalfStep, OpposedRacks, SteppedStops, SummingLever

SALTMERE = (FOLDER / "saltmere.toml").read_text("utf-8")

# The tide signal: three bits, a hammer, type that is turned and lifted.  Invented.
TIDE = """\
[machine]
name = "tide"
title = "Tide signal"

[efforts_min]
type = 0.2
hand = 2.0
cover = 12.0

[parts.bar1]
joint = "bit"
bit = 1
stroke_mm = 4.0
reach = "cover"

[parts.bar2]
joint = "bit"
bit = 2
stroke_mm = 4.0

[parts.bar3]
joint = "bit"
bit = 3
stroke_mm = 4.0

[parts.both]
joint = "all_clear"
inputs = ["bar1", "bar2"]

[parts.either]
joint = "either_pushes"
inputs = ["bar1", "bar2"]
ratio = 0.5

[parts.rack]
joint = "stepped_stops"
stops = [
    { at_mm = 0.0, lever = "either" },
    { at_mm = 5.0, lever = "both", lets_go_mm = 3.0 },
]
end_mm = 10.0

[parts.shoulder]
joint = "follow"
input = "bar3"

[parts.lift]
joint = "half_step"
base = "rack"
shoulder = "shoulder"
step_mm = 2.5

[parts.spare]
joint = "opposed_racks"
forward = "rack"
backward = "shoulder"
degrees_per_mm = 2.0

[parts.sum]
joint = "summing_lever"
first = "bar1"
second = "bar2"
second_arm_mm = 3.0

[parts.silence]
joint = "pull_bar"
notches = [
    { part = "bar1", when = "at rest" },
    { part = "bar2", when = "at rest" },
]

[parts.hammer]
joint = "withdraw"
input = "silence"

[wheel]
lift = "lift"
turn = "bar3"
hammer = "hammer"
rows_mm = [5.0, 7.5, 10.0, 12.5]
columns_deg = [0.0, 4.0]
glyphs = [
    "L ",
    " l",
    "H ",
    " h",
]
repeated = []

[codes]
alphabet = ["A", "B", "L", "H", "a", "b", "l", "h"]
parity = "none"
printing = [{ first = "L", last = "H" }, { first = "l", last = "h" }]
silent = [
    { first = "A", last = "A" },
    { first = "a", last = "a" },
]
folds = [
    { first = "B", last = "B", onto = "L" },
    { first = "b", last = "b", onto = "l" },
]
no_part_in_selection = []
"""


def problems_of(text):
    with pytest.raises(DescriptionError) as error:
        parse(text, "tide.toml")
    return error.value.problems


def spoilt(old, new, text=TIDE):
    assert text.count(old) == 1, old
    return text.replace(old, new)


def line_with(text, words):
    """The number of the first line that has these words in it."""
    return next(n for n, line in enumerate(text.split("\n"), 1) if words in line)


def changed_line(text, other):
    """The number of the first line that is not the same in both."""
    pairs = zip(text.split("\n"), other.split("\n"), strict=False)
    return next(n for n, (one, two) in enumerate(pairs, 1) if one != two)


# -- what is right ---------------------------------------------------------------------------------


def test_a_right_description_is_read_as_it_was_written():
    tide = parse(TIDE)
    assert (tide.name, tide.title, tide.about) == ("tide", "Tide signal", "")
    assert tide.efforts == {"type": F(1, 5), "hand": 2, "cover": 12}
    assert tide.mechanism["bar1"].reach == "cover" and tide.mechanism["bar2"].reach == ""
    rack = tide.mechanism["rack"].joint
    assert isinstance(rack, SteppedStops) and rack.end == 10
    assert [(s.lever.part, s.at, s.lets_go) for s in rack.stops] == [
        ("either", 0, None),
        ("both", 5, 3),
    ]
    assert tide.mechanism["lift"].joint == HalfStep("rack", "shoulder", F(5, 2))
    assert tide.mechanism["spare"].joint == OpposedRacks("rack", "shoulder", F(2))
    assert tide.mechanism["sum"].joint == SummingLever("bar1", "bar2", F(1), F(3))
    assert [tide.good_print(code) for code in range(8)] == [
        *("nothing", "L", "L", "H"),
        *("nothing", "l", "l", "h"),
    ]


@pytest.mark.parametrize("name", names())
def test_every_machine_that_comes_with_the_library_is_read(name):
    assert load(name).name == name


def test_decimals_are_exact():
    assert parse(spoilt("second_arm_mm = 3.0", "second_arm_mm = 0.1")).mechanism[
        "sum"
    ].joint.second_arm == F(1, 10)


@pytest.mark.parametrize(
    "change",
    [
        lambda text: "\ufeff" + text,
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text.replace("\n", "   # the harbour's own\n"),
        lambda text: text.replace("[parts.", "  [ parts . ").replace(" = ", "="),
        lambda text: text.removesuffix("\n"),
    ],
    ids=["BOM", "CRLF", "comments", "blanks", "no last newline"],
)
def test_how_an_editor_saves_it_makes_no_difference(change, tmp_path):
    path = tmp_path / "tide.toml"
    path.write_bytes(change(TIDE).encode("utf-8"))
    assert read(path).printed == parse(change(TIDE)).printed == parse(TIDE).printed


def test_lists_of_tables_may_be_written_out_at_length():
    at_length = TIDE[: TIDE.index("silent = [")] + (
        '[[codes.silent]]\nfirst = "A"\nlast = "A"\n[[codes.silent]]\nfirst = "a"\nlast = "a"\n'
        '[[codes.folds]]\nfirst = "B"\nlast = "B"\nonto = "L"\n'
        '[[codes.folds]]\nfirst = "b"\nlast = "b"\nonto = "l"\n'
    )
    assert parse(at_length).printed == parse(TIDE).printed
    (problem,) = problems_of(spoilt('onto = "l"', 'onto = "?"', at_length))
    assert problem.line == line_with(at_length, 'onto = "l"')
    assert (problem.table, problem.key) == ("codes.folds[2]", "onto")


# -- one mistake, one message ----------------------------------------------------------------------


class Mistake(NamedTuple):
    """One slip of the pen: what is written instead of what, and what the message must say.

    The line named must be the line of the slip, or else the first one with the words *line*.
    """

    old: str
    new: str
    at: str
    says: str
    mend: str
    line: str = ""


FOLLOW = 'joint = "follow"\ninput = "bar3"'
SPRUNG = 'joint = "spring_link"\nat_mm = {}  # here\ninput = "bar3"'
BOTH = 'joint = "all_clear"\ninputs = ["bar1", "bar2"]'

MISTAKES = [
    # tables and keys
    Mistake('name = "tide"\n', "", "machine.name", "name is missing", "name = …", "[machine]"),
    Mistake('"Tide signal"', "7", "machine.title", "7 is not text", "quotation marks"),
    Mistake('"Tide signal"', "1.50", "machine.title", "1.5 is not text", "quotation marks"),
    Mistake('"Tide signal"', '["Tide"]', "machine.title", "a list is not text", "quotation marks"),
    Mistake("hand = 2.0", 'hand = "2"', "efforts_min.hand", "'2' is not a number", "4.0"),
    Mistake("hand = 2.0", "hand = true", "efforts_min.hand", "true is not a number", "4.0"),
    Mistake("hand = 2.0", "hand = nan", "efforts_min.hand", "nan is not a number", "4.0"),
    Mistake("hand = 2.0", "hand = 1e999999999", "efforts_min.hand", "inf is not", "4.0"),
    Mistake("hand = 2.0", "hand = -2.0", "efforts_min.hand", "costs some time", "above 0"),
    Mistake('reach = "cover"', 'reach = "lid"', "parts.bar1.reach", "'lid' is not known", "cover"),
    Mistake('reach = "cover"', 'raech = "cover"', "parts.bar1.raech", "no key", "mean reach"),
    # code bars
    Mistake("bit = 3", "bit = 9", "parts.bar3.bit", "no bit 9", "1 to 3"),
    Mistake("bit = 3", "bit = 0", "parts.bar3.bit", "no bit 0", "1 to 3"),
    Mistake("bit = 3", "bit = 2.5", "parts.bar3.bit", "not a whole number", "from 1"),
    Mistake("bit = 3", "bit = 2", "parts.bar3.bit", "bit 2 already sets bar2", "its own bit"),
    Mistake(
        "bit = 3\nstroke_mm = 4.0",
        "bit = 3",
        "parts.bar3.stroke_mm",
        "missing",
        "=",
        "[parts.bar3]",
    ),
    Mistake(
        "bit = 3\nstroke_mm = 4",
        "bit = 3\nstroke_mm = -4",
        "parts.bar3.stroke_mm",
        "must move",
        "0",
    ),
    Mistake(
        "bit = 3\nstroke_mm = 4",
        "bit = 3\nstroke_mm = 4_000_000",
        "parts.bar3.stroke_mm",
        "large",
        "mm",
    ),
    # joints
    Mistake(
        '"withdraw"', '"withdrawn"', "parts.hammer.joint", "'withdrawn' is not known", "withdraw?"
    ),
    Mistake('joint = "withdraw"\n', "", "parts.hammer.joint", "missing", "=", "[parts.hammer]"),
    Mistake(
        BOTH, BOTH.replace("bar2", "bra2"), "parts.both.inputs[2]", "called 'bra2'", "mean bar2"
    ),
    Mistake(
        BOTH, BOTH.replace('"bar1", "bar2"', ""), "parts.both.inputs", "no part", "one part or more"
    ),
    Mistake(
        BOTH,
        BOTH.replace("[", "").replace("]", "").replace(', "bar2"', ""),
        "parts.both.inputs",
        "not a list",
        '["…"',
    ),
    Mistake(
        BOTH,
        BOTH.replace("bar2", "bar1"),
        "parts.both",
        "touches bar1 twice",
        "once",
        "[parts.both]",
    ),
    Mistake(
        'input = "bar3"', 'input = "bar 3"', "parts.shoulder.input", "called 'bar 3'", "mean bar3"
    ),
    Mistake(
        FOLLOW,
        SPRUNG.format("0.0"),
        "parts.shoulder.at_mm",
        "go nowhere",
        "greater than 0",
        "# here",
    ),
    Mistake(
        FOLLOW,
        SPRUNG.format("4.5"),
        "parts.shoulder.at_mm",
        "no further than 4",
        "follow",
        "# here",
    ),
    Mistake(
        "ratio = 0.5", "ratio = 0", "parts.either.ratio", "not greater than 0", "greater than 0"
    ),
    Mistake(
        'lever = "both"', 'lever = "bath"', "parts.rack.stops[2].lever", "called 'bath'", "both"
    ),
    Mistake(
        "at_mm = 5.0", "at_mm = 10.0", "parts.rack.stops[2].at_mm", "behind the end", "before 10"
    ),
    Mistake(
        "at_mm = 5.0", "at_mm = -5.0", "parts.rack.stops[2].at_mm", "behind the member's home", "0"
    ),
    Mistake("at_mm = 5.0, ", "", "parts.rack.stops[2].at_mm", "missing", "at_mm = …"),
    Mistake(
        "lets_go_mm = 3.0",
        "lets_go_mm = 5.0",
        "parts.rack.stops[2].lets_go_mm",
        "both moves only 4",
        "less",
    ),
    Mistake(
        "lets_go_mm = 3.0",
        "lets_go_mm = 0.0",
        "parts.rack.stops[2].lets_go_mm",
        "at once",
        "above 0",
    ),
    Mistake(
        "lets_go_mm = 3.0",
        "let_go_mm = 3.0",
        "parts.rack.stops[2].let_go_mm",
        "no key",
        "lets_go_mm",
    ),
    Mistake("end_mm = 10.0", "", "parts.rack.end_mm", "missing", "end_mm = …", "[parts.rack]"),
    Mistake(
        "step_mm = 2.5", "step_mm = 0.0", "parts.lift.step_mm", "shifts nothing", "other than 0"
    ),
    Mistake(
        "degrees_per_mm = 2.0", "degrees_per_mm = -2", "parts.spare.degrees_per_mm", "greater", "0"
    ),
    Mistake("second_arm_mm = 3.0", "second_arm_mm = 0", "parts.sum.second_arm_mm", "greater", "0"),
    Mistake(
        '"bar2", when = "at rest"',
        '"bar2", when = "rest"',
        "parts.silence.notches[2].when",
        "'rest'",
        "at rest",
    ),
    Mistake(
        '"bar2", when = "at rest"',
        '"bar1"',
        "parts.silence",
        "bar1 twice",
        "once",
        "[parts.silence]",
    ),
    # the wheel
    Mistake('lift = "lift"', 'lift = "lefft"', "wheel.lift", "called 'lefft'", "lift"),
    Mistake('hammer = "hammer"', "hammer = 1", "wheel.hammer", "1 is not text", "quotation marks"),
    Mistake(
        'turn = "bar3"',
        "",
        "wheel.columns_deg",
        "nothing turns the type",
        "Leave it out",
        "columns_deg",
    ),
    Mistake("7.5, 10.0", "7.25, 10.0", "wheel.rows_mm[2]", "lift never stands at 7.25", "7.5"),
    Mistake("7.5, 10.0", "5.0, 10.0", "wheel.rows_mm[2]", "5 is listed twice", "its own place"),
    Mistake("7.5, 10.0", '"7,5", 10.0', "wheel.rows_mm[2]", "'7,5' is not a number", "4.0"),
    Mistake(
        "[5.0, 7.5",
        "[2.5, 5.0, 7.5",
        "wheel.glyphs",
        "4 rows of type for 5 heights",
        "rows_mm",
        "glyphs =",
    ),
    Mistake(
        '    "H ",\n',
        "",
        "wheel.glyphs",
        "3 rows of type for 4 heights",
        "One for each",
        "glyphs =",
    ),
    Mistake('lift = "', 'lift = "" # "', "wheel.lift", "no part is called ''", ""),
    Mistake('"H "', '"H"', "wheel.glyphs[3]", "'H' has 1 characters for 2 angles", "as a space"),
    Mistake('"H "', "5", "wheel.glyphs", "not a list of texts", '["…"', "glyphs ="),
    Mistake(
        '"H "', '"H?"', "wheel.glyphs", "'?' is printed by no code", "unused = ['?']", "glyphs ="
    ),
    Mistake(
        "repeated = []", 'repeated = ["L"]', "wheel.repeated", "'L' is not repeated", "Leave it out"
    ),
    Mistake("repeated = []", 'unused = ["L"]', "wheel.unused", "'L' is not unused", "Leave it out"),
    # claims about codes
    Mistake('parity = "none"', 'parity = "evn"', "codes.parity", "'evn' is not known", "even"),
    Mistake('["A", "B",', '["B", "B",', "codes.alphabet", "same name stands for two", "2, 4, 8"),
    Mistake('first = "L"', 'first = "X"', "codes.printing[1].first", "'X' is not in", "Write"),
    Mistake(
        'first = "L"', "first = 2", "codes.printing[1].first", "2 is not text", "quotation marks"
    ),
    Mistake(
        '"L", last = "H"',
        '"H", last = "L"',
        "codes.printing[1].first",
        "after the last",
        "Exchange",
    ),
    Mistake(
        '    { first = "a", last = "a" },\n',
        "",
        "codes",
        "nothing is said about a",
        "silent",
        "[codes]",
    ),
    Mistake(
        '"b", onto', '"l", onto', "codes", "more than one claim is made about l", "Keep", "[codes]"
    ),
    Mistake(
        'onto = "l"',
        'onto = "h"',
        "wheel.glyphs",
        "b should print 'h', but prints 'l'",
        "claim",
        "glyphs =",
    ),
    Mistake(
        'first = "b", last = "b", onto = "l"',
        'first = "b", last = "h", onto = "l"',
        "codes.folds[2].onto",
        "does not fit",
        "Check",
    ),
    Mistake(
        "selection = []",
        'selection = ["bar2"]',
        "codes.no_part_in_selection",
        "bar2 does change what is chosen",
        "out",
    ),
    Mistake(
        "no_part_in_selection = []",
        'no_part_at_all = ["bar3"]',
        "codes.no_part_at_all",
        "bar3 does change what is printed",
        "out",
    ),
    Mistake(
        "selection = []",
        'selection = ["lift"]',
        "codes.no_part_in_selection",
        "lift is no code bar",
        "out",
    ),
    # TOML itself
    Mistake("ratio = 0.5", "ratio = 0,5", "", "number with a comma", "with a point"),
    Mistake("[parts.sum]", "[parts.bar1]", "", "there twice", "its own name"),
    Mistake('"Tide signal"', '"Tide signal', "", "is not closed on its line", "quotation mark"),
    Mistake('"cover"\n', '"cover"\nreach = "cover"\n', "", "there twice", "own name"),
]


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda mistake: mistake.says)
def test_a_mistake_is_told_once_with_line_table_key_and_mend(mistake):
    text = spoilt(mistake.old, mistake.new)
    problems = problems_of(text)
    problem = problems[0]
    where = line_with(text, mistake.line) if mistake.line else changed_line(TIDE, text)
    assert str(problem).startswith(
        ", ".join(filter(None, ("tide.toml", f"line {where}", mistake.at))) + ": "
    ), str(problem)
    assert mistake.says in problem.what
    assert mistake.mend in problem.mend
    echoes = [str(other) for other in problems[1:]]
    assert not echoes


# -- several mistakes ------------------------------------------------------------------------------


def told(text):
    return {f"{'.'.join(filter(None, (p.table, p.key)))}: {p.what}" for p in problems_of(text)}


def test_every_mistake_is_told_at_once_in_the_order_of_their_lines():
    text = TIDE.replace("hand = 2.0", "hand = 0").replace("bit = 3", "bit = 7")
    text = text.replace('lift = "lift"', 'lift = "left"').replace("ratio = 0.5", "ratio = 0")
    assert [problem.table for problem in problems_of(text)] == [
        *("efforts_min", "parts.bar3", "parts.either", "wheel")
    ]
    assert str(DescriptionError(problems_of(text))).count("\n") == 3


def test_a_misspelt_table_is_both_unknown_and_missing_but_its_keys_are_not_missed():
    assert told(spoilt("[wheel]", "[whell]")) == {
        "whell: no table is called 'whell'",
        ": nothing is said of what it prints with",
    }


def test_a_misspelt_key_is_both_unknown_and_missing():
    assert told(spoilt('input = "bar3"', 'inputs = ["bar3"]')) == {
        "parts.shoulder.input: input is missing",
        "parts.shoulder.inputs: no key here is called 'inputs'",
    }


def test_a_table_written_as_a_list_or_a_number_is_no_table():
    assert told(spoilt("[wheel]", "[[wheel]]")) == {"wheel: it is not a table"}
    without = TIDE[: TIDE.index("[parts.bar1]")] + TIDE[TIDE.index("[wheel]") :]
    assert "parts: it is not a table" in told("parts = 3\n" + without)
    assert told(spoilt("[parts.spare]", "[parts]\nlever = 4\n[parts.spare]")) == {
        "parts.lever: it is not a table"
    }


def test_a_part_with_a_name_that_cannot_be_is_told_so_on_its_line():
    for name in ("print", "2nd", '"two words"', '"a.b"', '""'):
        text = spoilt("[parts.spare]", f"[parts.{name}]")
        (problem,) = problems_of(text)
        assert problem.line == changed_line(TIDE, text)
        assert "cannot be the name of a part" in problem.what


def test_a_loop_is_told_at_one_of_its_parts():
    text = spoilt('base = "rack"', 'base = "after"')
    text = text.replace("[wheel]", '[parts.after]\njoint = "follow"\ninput = "lift"\n\n[wheel]')
    (problem,) = problems_of(text)
    assert problem.table in ("parts.lift", "parts.after")
    assert problem.line == line_with(text, f"[{problem.table}]")
    assert "loop" in problem.what
    assert "after > lift > after" in problem.mend or "lift > after > lift" in problem.mend


def test_type_that_stands_twice_on_the_wheel_must_be_declared():
    text = spoilt('"H ",', '"Hl",')
    assert told(text) == {"wheel.glyphs: 'l' is there twice"}
    parse(text.replace("repeated = []", 'repeated = ["l"]'))


def test_type_that_no_code_prints_must_be_declared():
    parse(spoilt('"H ",', '"H?",').replace("repeated = []", 'unused = ["?"]'))


def test_a_wrong_part_shows_in_what_the_codes_print_with_a_few_examples():
    problems = problems_of(spoilt('hammer = "hammer"', 'hammer = "silence"'))
    assert 3 <= len(problems) <= 12
    assert any("should print 'L', but prints 'nothing'" in problem.what for problem in problems)


def test_saltmere_with_two_bars_exchanged_is_refused_by_what_it_prints():
    text = SALTMERE.replace('input = "bar3"', 'input = "?"').replace(
        'input = "bar1"', 'input = "bar3"'
    )
    problems = problems_of(text.replace('input = "?"', 'input = "bar1"'))
    assert [problem.table for problem in problems] == ["wheel"] * 6
    assert "more codes print wrong" in problems[-1].what


def test_a_code_with_parity_needs_no_parity_bar():
    with_parity = SALTMERE.replace(
        'alphabet = "seven-unit"', 'alphabet = "seven-unit"\nparity = "even"'
    )
    assert with_parity != SALTMERE
    machine, whole = parse(with_parity), parse(SALTMERE)
    assert "bar8" not in machine.mechanism.parts
    for code in range(128):
        assert machine.good_print(code) == whole.good_print(code)


def test_a_machine_need_not_have_a_bar_for_every_bit():
    text = SALTMERE.replace('alphabet = "seven-unit"', 'alphabet = "five-unit"')
    problems = problems_of(text)
    assert {(p.table, p.what) for p in problems if p.key == "bit"} == {
        ("parts.bar6", "the code has no bit 6"),
        ("parts.bar7", "the code has no bit 7"),
    }


# -- text that is no description -------------------------------------------------------------------


@pytest.mark.parametrize("text", ["", "\n", "# a description", "machine = {}"])
def test_a_text_without_tables_is_refused_with_the_tables_that_it_needs(text):
    missed = {problem.table for problem in problems_of(text)}
    assert {"parts", "", "codes", "efforts_min", "machine"} >= missed >= {"parts", ""}


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("[machine\n", 1),
        ("\n\nname = tide\n", 3),
        ("a = [\n1,\n", 3),
        ('about = """\n\n', 3),
        ("a = " + "[" * 20, 1),
        ("a = " + "9" * 5_000, 1),
        ("a = 1\rb = 2", 1),
    ],
)
def test_what_is_not_toml_is_refused_with_its_line(text, line):
    (problem,) = problems_of(text)
    assert problem.line == line and problem.mend and not re.search("column|Expected", problem.what)


def test_a_file_in_another_encoding_is_refused_with_the_line_of_its_first_strange_letter(tmp_path):
    path = tmp_path / "tide.toml"
    path.write_bytes(TIDE.replace("Tide signal", "Gezeitenanzeige für Saltmere").encode("latin-1"))
    with pytest.raises(DescriptionError) as error:
        read(path)
    (problem,) = error.value.problems
    assert problem.line == 3 and "UTF-8" in problem.mend and problem.source == str(path)


def test_a_file_of_enormous_length_is_refused():
    (problem,) = problems_of(TIDE + "#" * LARGEST_FILE)
    assert "longer than" in problem.what


def test_a_file_that_is_not_there_is_refused_by_its_name(tmp_path):
    with pytest.raises(DescriptionError, match=r"none\.toml.*cannot be opened.*Check name"):
        read(tmp_path / "none.toml")


@given(st.data())
def test_whatever_line_is_lost_doubled_or_garbled_nothing_but_a_description_error_comes(data):
    lines = TIDE.split("\n")
    at = data.draw(st.integers(0, len(lines) - 1))
    other = st.sampled_from(lines) | st.text("[]{}=\"'.,#ab1 \\\x00\ud800", max_size=12)
    lines[at : at + data.draw(st.integers(0, 2))] = data.draw(st.lists(other, max_size=2))
    try:
        parse("\n".join(lines))
    except DescriptionError as error:
        assert error.problems
        assert all(0 <= problem.line <= len(lines) for problem in error.problems)
        assert all(problem.what and problem.mend for problem in error.problems)


values = st.recursive(
    st.sampled_from(
        [
            *("1", "0", "-1", "2.5", "true", "nan", "inf", "9999999999", '"bar1"', '"lift"', '""'),
            "1979-05-27",
            '"at rest"',
            '"\\u0000"',
        ]
    ),
    lambda inner: (
        st.lists(inner, max_size=3).map(lambda items: f"[{', '.join(items)}]")
        | st.lists(inner, max_size=2).map(
            lambda items: f"{{{', '.join(f'k{i} = {v}' for i, v in enumerate(items))}}}"
        )
    ),
    max_leaves=4,
)


@given(st.data())
def test_whatever_value_a_key_is_given_nothing_but_a_description_error_comes(data):
    lines = TIDE.split("\n")
    keys = [n for n, line in enumerate(lines) if "=" in line and not line.endswith("[")]
    at = data.draw(st.sampled_from(keys))
    before, _, after = lines[at].partition("= ")
    rest = after[after.index(",") :] if before.startswith("    {") and "," in after else ""
    if before.startswith("    {") and not rest:
        return
    lines[at] = f"{before}= {data.draw(values)}{rest}"
    try:
        parse("\n".join(lines))
    except DescriptionError as error:
        assert {problem.source for problem in error.problems} == {"description"}
        assert all(problem.what and problem.mend for problem in error.problems)
