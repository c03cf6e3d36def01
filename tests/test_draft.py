"""A description that is written in a form: field by field, and as text by turns."""

import random
import re
import tomllib
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import writable_machines

import mechlogic
from mechlogic.describing.description import DescriptionError, parse, sketch
from mechlogic.describing.draft import ASSEMBLIES, BLANK, Draft, DraftError, as_toml
from mechlogic.describing.schema import Key
from mechlogic.describing.writing import same, write
from mechlogic.drawing import scene
from mechlogic.machines import FOLDER, names

WIND = (FOLDER / "wind.toml").read_text("utf-8")
LENGTH, RATIO = Key("stroke_mm", "number", ""), Key("ratio", "number", "")
TEXT, NAMES = Key("label", "text", ""), Key("x", "parts", "")
LIFTS, ROWS = Key("rows_mm", "numbers", ""), Key("glyphs", "texts", "")
ALPHABET = Key("alphabet", "text or texts", "", choices=("five-unit",))


@pytest.mark.parametrize(
    ("key", "said", "means"),
    [
        (LENGTH, "4.50", "4.50"),
        (LENGTH, "4,5", "4.5"),
        (LENGTH, " 3 mm ", "3"),
        (LENGTH, "0.5 in", "12.7"),  # 25.4 mm, NIST SP 811 (2008), appendix B.6
        (LENGTH, '1.25"', "31.75"),
        (LIFTS, "0, 2,5, 5", "[0, 2.5, 5]"),
        (LIFTS, "0.0; 2.5 5", "[0.0, 2.5, 5]"),
        (RATIO, "2 in", "2"),  # a ratio has no unit
        (LENGTH, "about 4", '"about 4"'),  # told of by the reader
        (TEXT, 'the "old" lever', "'the \"old\" lever'"),
        (NAMES, "bar1, bar2", '["bar1", "bar2"]'),
        (ROWS, "A B\nCDE", '["A B", "CDE"]'),
        (ALPHABET, "five-unit", '"five-unit"'),
        (ALPHABET, "ABCD", '["A", "B", "C", "D"]'),
        (ALPHABET, "SP\nA", '["SP", "A"]'),
    ],
)
def test_what_a_person_writes_is_turned_into_what_a_description_has(key, said, means):
    assert as_toml(key, said) == means


def test_one_field_is_changed_and_no_comment_is_lost():
    text = '[parts.bar1] # why\njoint = "bit"\nstroke_mm = 4.0 # measured twice\n\n# next\n[x]\n'
    changed = Draft(text).written(("parts", "bar1"), "stroke_mm", "4,2").text
    assert changed == text.replace("4.0", "4.2")
    more = Draft(text).written(("parts", "bar1"), "bit", "1").text
    assert more == text.replace("twice\n", "twice\nbit = 1\n"), "behind the last line of its table"
    assert Draft(more).written(("parts", "bar1"), "bit", " ").text == text


def test_the_problems_of_a_field_stand_at_the_field():
    draft = Draft(WIND).written(("parts", "bar1"), "stroke_mm", "four")
    (field,) = (f for f in draft.fields(("parts", "bar1"), draft.wrong()) if f.wrong)
    assert field.key.name == "stroke_mm" and field.said == "four"
    assert "'four' is not a number" in field.wrong
    stop = ("parts", "lift_rack", "stops", 1)
    draft = Draft(WIND).written(stop, "lever", "bar9")
    (field,) = (f for f in draft.fields(stop, draft.wrong()) if f.wrong)
    assert "no part is called 'bar9'" in field.wrong


def test_bars_are_copied_with_their_numbers_counted_on():
    draft = Draft(WIND).copied("bar2", 3)
    described = tomllib.loads(draft.text)["parts"]
    assert [described[f"bar{n}"]["bit"] for n in (3, 4, 5)] == [3, 4, 5]
    assert described["bar5"]["label"] == "code bar 5"
    assert described["bar4"] == {**described["bar2"], "label": "code bar 4", "bit": 4}


def test_a_renamed_part_keeps_its_followers():
    draft = Draft(WIND).renamed("bar1", "code_bar")
    assert not draft.wrong()
    assert parse(draft.text).printed == parse(WIND).printed


@pytest.mark.parametrize("by", [-9, -1, 1, 2, 9])
def test_a_moved_part_is_another_place_in_the_same_description(by):
    draft = Draft(WIND)
    parts = list(draft.parts)
    moved = draft.moved(parts[1], by)
    if 0 <= 1 + by < len(parts):
        parts.insert(1 + by, parts.pop(1))
    assert list(moved.parts) == parts
    assert sorted(moved.text.split("\n")) == sorted(draft.text.split("\n"))


@pytest.mark.parametrize("what", ASSEMBLIES)
def test_every_assembly_can_be_drawn_and_sent_to_as_soon_as_it_is_there(what):
    draft = Draft().with_assembly(what)
    machine = draft.machine
    assert set(machine.mechanism.parts) == set(draft.parts)
    assert scene(machine).svg.startswith("<svg")
    assert not [p for p in draft.wrong() if p.table.startswith("parts")]


def test_an_assembly_takes_the_bars_that_are_there_and_new_names_for_the_rest():
    rack = next(iter(ASSEMBLIES))
    draft = Draft().with_assembly(rack)
    draft = draft.copied("bar2", 1).with_assembly(rack, ("bar3", "bar4"))
    bars = [name for name in draft.parts if name.startswith("bar")]
    assert bars == ["bar1", "bar2", "bar3", "bar4"]
    described = tomllib.loads(draft.text)["parts"]
    assert [described[bar]["bit"] for bar in bars] == [1, 2, 3, 4]
    assert described["low_stop_2"]["inputs"] == ["bar3", "bar4"]
    levers = [stop["lever"] for stop in described["rack_2"]["stops"]]
    assert levers == ["low_stop_2", "bar4", "bar3"]


def test_a_machine_from_a_blank_form_to_one_that_prints():
    draft = Draft(BLANK).with_assembly(next(iter(ASSEMBLIES)))
    draft = draft.with_table("wheel").written(("wheel",), "lift", "rack")
    draft = draft.written(("wheel",), "glyphs", "W\nX\nY\nZ")
    draft = draft.written(("codes",), "alphabet", "WXYZ").claiming()
    assert draft.wrong() == ()
    machine = parse(draft.text)
    # bar 1 draws the low and the last stop and leaves the middle one, which is the second height
    assert machine.printed == ("W", "X", "Y", "Z")
    assert mechlogic.prints(machine, "XYZ") == ({"X"}, {"Y"}, {"Z"})


def test_a_half_described_machine_is_drawn_as_far_as_it_goes():
    wrong = WIND.replace('lever = "left_stop"', 'lever = "nothing"')
    with pytest.raises(DescriptionError):
        parse(wrong)
    machine = sketch(wrong)
    assert set(parse(WIND).mechanism.parts) - set(machine.mechanism.parts) == {"lift_rack"}
    assert scene(machine).svg.startswith("<svg")
    bars = Draft(BLANK).with_assembly("Pull bars over two notched bars: one drops for each setting")
    bars = bars.with_table("typebars").with_entry(("typebars",), "bars")
    assert scene(bars.machine).svg.startswith("<svg")  # an entry that is still empty
    assert sketch("") is None and sketch("not = [toml") is None


def test_a_text_that_is_no_toml_has_no_fields():
    with pytest.raises(DraftError):
        Draft("a = [1")


@pytest.mark.parametrize("name", names())
def test_every_field_of_every_machine_can_be_written_as_it_stands_and_nothing_changes(name):
    draft = Draft((FOLDER / f"{name}.toml").read_text("utf-8"))
    machine = parse(draft.text)
    rng = random.Random(name)
    for where in rng.sample(draft.tables, min(12, len(draft.tables))):
        for field in draft.fields(where):
            if field.said and field.key.name != "about":
                draft = draft.written(where, field.key.name, field.said)
    assert same(parse(draft.text), machine)


COMMENT = re.compile(r"#.*")


@settings(max_examples=60, deadline=None)
@given(writable_machines(), st.randoms(use_true_random=False))
def test_edits_in_form_and_text_by_turns_lose_no_comment_and_no_key(machine, rng):
    """An independent book is kept of what each field ought to say."""
    lines = write(machine).split("\n")
    noted = [
        f"{line} # note {number}" if re.fullmatch(r"\w+ = [\d.]+", line) else line
        for number, line in enumerate(lines)
    ]
    draft = Draft("\n".join(noted))
    notes = {note for note in COMMENT.findall(draft.text) if "note" in note}
    book: dict[tuple, str] = {}
    numbers = [
        (where, field)
        for where in draft.tables
        for field in draft.fields(where)
        if field.key.kind == "number" and field.said and where[0] == "parts"
    ]
    for turn in range(17):
        if not numbers:
            break
        where, field = rng.choice(numbers)
        said = f"{rng.randrange(1, 99)}.{rng.randrange(10)}"
        book[where, field.key.name] = said
        draft = draft.written(where, field.key.name, said)
        if turn % 3 == 2:  # by turns a line of text is typed
            note = f"# note typed {turn}"
            notes.add(note)
            draft = Draft(f"{note}\n{draft.text}")
    for (where, name), said in book.items():
        (field,) = (field for field in draft.fields(where) if field.key.name == name)
        assert Fraction(field.said) == Fraction(said)
    assert notes <= set(COMMENT.findall(draft.text))
    assert set(draft.parts) == set(machine.mechanism.parts)
