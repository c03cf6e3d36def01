"""A machine that is written as a description is the same machine when it is read again."""

import tempfile
import tomllib
from dataclasses import replace
from fractions import Fraction as F
from pathlib import Path

import pytest
from hypothesis import given
from strategies import few, machine_of, nasty, wheel_descriptions, writable_machines

import mechlogic
from mechlogic.describing import description, writing
from mechlogic.describing.writing import WritingError, same, save, write
from mechlogic.machines import FOLDER, load, names
from mechlogic.model import laws
from mechlogic.model.codes import FIVE_UNIT, Code
from mechlogic.model.machine import Declared, Machine, Run
from mechlogic.model.mechanism import Mechanism, Part
from mechlogic.model.outputs import Both, TypeWheel

WIND = load("wind")


def with_part(machine: Machine, name: str, **changes: object) -> Machine:
    parts = [replace(p, **changes) if p.name == name else p for p in machine.mechanism]
    return replace(machine, mechanism=Mechanism(parts))


@few
@given(writable_machines())
def test_loaded_saved_and_loaded_again_a_random_machine_is_the_same(machine):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.toml"
        save(machine, path)
        text = path.read_text("utf-8")
        again = load(path)
        assert same(machine, again)
        assert [part.name for part in again.mechanism] == [part.name for part in machine.mechanism]
        save(again, path)
        assert path.read_text("utf-8") == text


@pytest.mark.parametrize("name", names())
def test_machines_of_the_library_are_the_same_after_saving_and_print_the_same(name, tmp_path):
    machine = load(name)
    save(machine, tmp_path / "again.toml")
    again = load(tmp_path / "again.toml")
    assert same(machine, again)
    assert again.printed == machine.printed
    assert write(again) == write(machine)


@pytest.mark.parametrize("name", names())
def test_what_is_written_says_key_for_key_what_the_file_of_the_library_says(name):
    machine = load(name)
    kept, written = (
        in_one_way(tomllib.loads(text), machine.code)
        for text in ((FOLDER / f"{name}.toml").read_text("utf-8"), write(machine))
    )
    assert written == kept


def in_one_way(data: dict, code: Code) -> dict:
    """A description with "operated" left out, as the reader allows, and codes as numbers."""
    for part in data["parts"].values():
        for entry in (*part.get("stops", ()), *part.get("notches", ())):
            if entry.get("when") == "operated":
                del entry["when"]
    for runs in data["codes"].values():
        for run in runs if isinstance(runs, list) else ():
            if isinstance(run, dict):
                ends = run.keys() & {"first", "last", "onto", "code"}
                run.update({key: code.parse(run[key]) for key in ends})
    return data


def test_it_reads_like_the_files_of_the_library():
    lines = write(load("saltmere")).splitlines()
    kept = (FOLDER / "saltmere.toml").read_text("utf-8").splitlines()
    for line in kept:
        if not line.startswith("#"):
            assert line.replace("'", '"') in [found.replace("'", '"') for found in lines]
    headings = [line.strip("# -") for line in lines if line.startswith("# ----")]
    assert headings[:4] == ["code bars", "height", "angle", "print"]
    breakable = [line for line in lines if " = { " not in line]  # TOML breaks no inline table
    assert max(map(len, breakable)) <= 100


def test_groups_that_would_upset_the_working_order_are_left_in_it():
    groups = {"bar1": "a", "bar2": "b", "left_stop": "b", "middle_stop": "a", "right_stop": "b"}
    machine = WIND
    for name, group in groups.items():
        machine = with_part(machine, name, group=group)
    again = description.parse(write(machine))
    assert same(machine, again)


# -- joints ----------------------------------------------------------------------------------------


HEAD = """
[machine]
name = "small"
title = "A small one"

[efforts_min]
type = 0.2
"""

SENDER = (
    HEAD
    + "".join(
        f"""
[parts.bar{n}]
joint = "bit"
bit = {n}
stroke_mm = 4.0

[parts.contact{n}]
joint = "contact"
input = "bar{n}"
{"closes_mm = 3.5" if n == 2 else ""}
"""
        for n in range(1, 7)
    )
    + """
[line]
contacts = ["contact1", "contact2", "contact3", "contact4", "contact5", "contact6"]
alphabet = "five-unit"
parity = "odd"

[codes]
alphabet = "five-unit"
parity = "odd"
printing = [{ first = "0/0", last = "1/15" }]
"""
)

KEYED = (
    HEAD
    + """
[parts.lever]
joint = "key"
key = "'"
stroke_mm = 6.5

[type_bar]
shift = "lever"
places_mm = [0.0, 6.5]
glyphs = "\\"'"

[codes]
alphabet = ['"', "'"]
printing = [{ first = '"', last = "'" }]
"""
)


@pytest.mark.parametrize("text", [SENDER, KEYED])
def test_senders_keys_and_bars_of_type_come_back_as_they_were(text):
    machine = description.parse(text)
    written = write(machine)
    assert same(machine, description.parse(written))
    assert tomllib.loads(written) == tomllib.loads(text)


def test_two_outputs_of_one_kind_are_refused():
    twice = replace(WIND, output=Both(WIND.output, WIND.output))
    with pytest.raises(WritingError, match=r"wheel: the machine has two of them"):
        write(twice)


@given(wheel_descriptions())
def test_what_the_reader_fills_in_is_not_written(described):
    for part in machine_of(described).mechanism:
        keys = writing.joint_keys(part.joint, FIVE_UNIT)
        assert None not in keys.values()
        assert keys.get("ratio") != 1 and keys.get("first_arm_mm") != 1


# -- texts and numbers -----------------------------------------------------------------------------


@given(nasty, nasty, nasty)
def test_any_text_comes_back_as_it_was(title, about, label):
    machine = replace(with_part(WIND, "bar1", label=label), title=title, about=about)
    data = tomllib.loads(write(machine))
    assert data["machine"]["title"] == title
    assert data["machine"].get("about", "") == about
    assert data["parts"]["bar1"].get("label", "bar1") == (label or "bar1")


@pytest.mark.parametrize("about", ['"', '""', '"""', '""""', 'a "b" c', '\\"', '\n"\n""\\', "'''"])
def test_quotation_marks_in_a_long_text(about):
    text = write(replace(WIND, about=about))
    assert tomllib.loads(text)["machine"]["about"] == about


def test_quotation_marks_within_a_long_text_need_no_escape():
    assert 'they called it "the wind"\n' in write(
        replace(WIND, about='they called it "the wind"\n')
    )


@pytest.mark.parametrize("character", ["\u202e", "\u200b", "\x85", "\ufeff", "\U000e0041"])
def test_what_an_editor_does_not_show_is_written_as_an_escape(character):
    machine = replace(with_part(WIND, "bar1", group=f"a{character}"), title=f"x{character}")
    text = write(machine)
    assert character not in text
    assert tomllib.loads(text)["machine"]["title"] == f"x{character}"


@pytest.mark.parametrize(
    ("number", "written"),
    [(F(4), "4.0"), (F(5, 8), "0.625"), (F("0.1"), "0.1"), (F(-45, 2), "-22.5")],
)
def test_numbers_are_written_exactly(number, written):
    hints = {"bar1": {"y": number}}
    text = write(replace(WIND, picture=hints))
    assert f"draw = {{ y = {written} }}" in text
    assert description.parse(text).picture == hints


@pytest.mark.parametrize("number", [F(1, 3), F(10**20 + 1, 10**20), F(10) ** 400])
def test_a_number_without_a_short_decimal_is_refused_by_part_and_key(number):
    machine = replace(WIND, mechanism=Mechanism([
        Part("bar1", laws.Bit(1, F(4))), Part("bar2", laws.Bit(2, F(4))),
        Part("lift_rack", laws.Follow("bar1", number)),
    ]))  # fmt: skip
    with pytest.raises(WritingError, match=r"parts\.lift_rack\.ratio: .*cannot be written exactly"):
        write(machine)


def test_half_a_character_is_refused():
    with pytest.raises(WritingError, match=r"machine\.title: .*half a character"):
        write(replace(WIND, title="\ud800"))


# -- codes and type --------------------------------------------------------------------------------


def test_type_that_is_repeated_or_unused_is_declared():
    bar, slide = Part("bar", laws.Bit(1, F(4))), Part("slide", laws.Follow("bar"))
    wheel = TypeWheel(
        lift="bar", turn="slide", rows=(F(0), F(4)), columns=(F(0), F(4)), lines=("NX", "NE")
    )
    machine = replace(
        WIND,
        mechanism=Mechanism([bar, slide]),
        output=wheel,
        code=Code("two letters", 1, "drawn", ("N", "E")),
        declared=Declared(printing=(Run(0, 1),)),
        picture={},
    )
    written = write(machine)
    assert 'repeated = ["N"]\nunused = ["X"]\n' in written
    assert same(machine, description.parse(written))


def test_a_published_code_is_written_by_name_and_its_runs_by_position():
    assert 'alphabet = "seven-unit"' in write(load("saltmere"))
    bars = [Part(f"bar{n}", laws.Bit(n, F(4))) for n in range(1, 6)]
    wheel = TypeWheel(lift="bar1", rows=(F(0), F(4)), columns=(F(0),), lines=("A", "B"))
    five = replace(WIND, mechanism=Mechanism(bars), output=wheel, code=FIVE_UNIT, picture={})
    written = write(replace(five, declared=Declared(printing=(Run(0, 4),), silent=(Run(5, 31),))))
    assert 'alphabet = "five-unit"' in written
    assert 'printing = [{ first = "0/0", last = "0/4" }]' in written


def test_a_code_with_two_cases_that_is_not_published_is_refused():
    code = replace(FIVE_UNIT, names=tuple(reversed(FIVE_UNIT.names)))
    with pytest.raises(WritingError, match=r"codes\.alphabet"):
        write(replace(WIND, code=code))


# -- saving ----------------------------------------------------------------------------------------


def test_a_machine_that_would_be_refused_is_not_saved(tmp_path):
    path = tmp_path / "wind.toml"
    path.write_text("as it was")
    silent_about_a_code = replace(WIND, declared=Declared(printing=(Run(0, 2),)))
    with pytest.raises(WritingError, match="nothing is said about W"):
        save(silent_about_a_code, path)
    assert path.read_text() == "as it was"
    assert list(tmp_path.iterdir()) == [path]


def test_a_machine_of_which_a_description_cannot_say_all_is_not_saved(tmp_path):
    joined = replace(WIND, source=frozenset(["bar1"]))  # as if a keyboard were joined to it
    with pytest.raises(WritingError, match="cannot say all of its source"):
        save(joined, tmp_path / "joined.toml")
    assert list(tmp_path.iterdir()) == []


def test_machines_that_differ_anywhere_are_not_the_same():
    assert same(WIND, load("wind"))
    for other in (
        replace(WIND, name="x"),
        replace(WIND, about="x"),
        replace(WIND, parity="odd"),
        replace(WIND, efforts={}),
        replace(WIND, picture={}),
        replace(WIND, declared=Declared()),
        replace(WIND, output=replace(WIND.output, hammer="bar1")),
        with_part(WIND, "bar1", label="x"),
        with_part(WIND, "bar1", note="x"),
        with_part(WIND, "bar1", reach="hand"),
        with_part(WIND, "bar1", group="x"),
        with_part(WIND, "bar1", joint=laws.Bit(1, F(5))),
        mechlogic.load("saltmere"),
    ):
        assert not same(WIND, other)
