"""Describing a machine of one's own: every reading follows from the description alone."""

from pathlib import Path

import pytest

import mechlogic
from mechlogic.acceptance.coverage import coverage
from mechlogic.acceptance.testcards import smallest_sequence
from mechlogic.bench.diagnosis import classes, diagnose
from mechlogic.bench.search import look_further
from mechlogic.describing.description import parse
from mechlogic.describing.writing import same, write
from mechlogic.drawing import scene, type_sheet
from mechlogic.drawing.sheets import code_sheet
from mechlogic.explaining import proofs
from mechlogic.explaining.words import explain
from mechlogic.helpers.storage import Folder
from mechlogic.machines import own
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.faults import Fault, single_faults
from mechlogic.model.logbook import Entry, Logbook
from mechlogic.model.steps import steps
from mechlogic.widgets import DescribeBox, RolesBox
from mechlogic.widgets.frames import frames
from mechlogic.widgets.web_page import web_page

MACHINES = Path(__file__).parents[1] / "workbooks" / "machines"
FEN_END = mechlogic.load(MACHINES / "tarrow.toml")
FIRST_TRY = (MACHINES / "tarrow_first_try.toml").read_text(encoding="utf-8")


def test_a_machine_that_no_code_was_written_for_takes_fewer_than_120_lines():
    assert len((MACHINES / "tarrow.toml").read_text(encoding="utf-8").splitlines()) < 120
    sources = (Path(mechlogic.__file__).parent).rglob("*.py")
    assert not [path for path in sources if "tarrow" in path.read_text(encoding="utf-8").lower()]


def test_every_reading_of_it_follows():
    machine = FEN_END
    assert machine.printed == tuple("01234567")
    assert all(claim(machine) for claim in proofs.MACHINE_CLAIMS)
    assert same(parse(write(machine)), machine)
    assert "bar of type" in explain(machine, 5)[-2].says.lower()
    assert len(classes(machine)) > 20
    card = smallest_sequence(machine)
    assert not coverage(machine, card.text).missed
    assert scene(machine).svg.startswith("<svg") and type_sheet(machine).startswith("<svg")
    assert code_sheet(machine).html
    assert frames(machine, (Fault("slide", "slow to return"),))["names"] == list("01234567")
    assert "Upper Tarrow flood marker" in web_page(machine, [])


@pytest.mark.parametrize("fault", single_faults(FEN_END.mechanism), ids=str)
def test_each_of_its_faults_is_found_from_its_misprints(fault):
    """All codes after all codes: whatever print can show of the fault is in the log."""
    behaviour = Behaviour(FEN_END, (fault,))
    world = next(iter(behaviour.worlds()))
    table, memory, entries = steps(FEN_END, (fault,)), world.memory, []
    for code in (c for a in range(8) for b in range(8) for c in (a, b)):
        seen, memory = min(table[memory][code])
        entries.append(Entry(code, seen))
    log = Logbook(tuple(entries), FEN_END.code)
    suspects = {faults for s in diagnose(FEN_END, log).suspects for faults in s.members}
    assert (fault,) in suspects
    assert look_further(FEN_END, log).suspects


def test_the_first_try_is_refused_with_line_and_mend_and_mended_step_by_step(tmp_path):
    box = DescribeBox(FIRST_TRY, tmp_path, tmp_path)
    box.check()
    assert box.machine is None
    (drawn,) = box.picture.children
    assert "slide" not in drawn.machine.mechanism.parts, "as far as it is right"
    assert "3 to mend" in box.page.value and "Did you mean third_lever" in box.page.value
    for wrong, right in (("third_lefer", "third_lever"), ('"3"', "3.0"), ("0123456", "01234567")):
        box.text.value = box.text.value.replace(wrong, right, 1)
    box.check()
    assert box.machine is not None and box.picture.children
    assert "Every claim about its codes holds" in box.page.value
    box.save()
    kept, problems = own.kept_machines(Folder(tmp_path))
    assert [one.title for one in kept.values()] == [box.machine.title] and not problems
    assert "in the list of machines" in box.page.value


def test_what_is_written_is_text_and_never_runs(tmp_path):
    box = DescribeBox("<script>alert(1)</script> = 1", tmp_path)
    box.check()
    assert "<script>" not in box.page.value


def test_a_description_is_saved_and_nothing_is_overwritten(tmp_path):
    box = DescribeBox(FIRST_TRY, tmp_path, tmp_path)
    box.name.value = "../elsewhere/mine"
    box.save()
    saved = tmp_path / "mine.toml"
    assert saved.read_text(encoding="utf-8") == FIRST_TRY, "in the folder, and nowhere else"
    other = DescribeBox("something else", tmp_path, tmp_path)
    other.name.value = "mine.toml"
    other.save()
    assert "left alone" in other.page.value
    assert saved.read_text(encoding="utf-8") == FIRST_TRY


def test_a_correction_is_saved_under_the_same_name_and_the_version_before_is_kept(tmp_path):
    box = DescribeBox(FIRST_TRY, tmp_path, tmp_path)
    box.name.value = "mine"
    box.save()
    corrected = FIRST_TRY.replace("third_lefer", "third_lever")
    box.text.value = corrected
    box.save()
    assert (tmp_path / "mine.toml").read_text("utf-8") == corrected
    assert (tmp_path / "mine.before.toml").read_text("utf-8") == FIRST_TRY
    (tmp_path / "mine.toml").write_text("changed by somebody else")
    box.text.value = corrected + "# more"
    box.save()
    assert "left alone" in box.page.value


def test_a_description_is_opened_and_what_stood_there_can_be_had_back(tmp_path):
    (tmp_path / "mine.toml").write_text(FIRST_TRY, "utf-8")
    box = DescribeBox("# half a thought\n", tmp_path, tmp_path)
    box.opened.value = tmp_path / "mine.toml"
    assert box.text.value == FIRST_TRY and box.name.value == "mine.toml"
    box.opened.value = "before"
    assert box.text.value == "# half a thought\n"
    wind = next(value for label, value in box.opened.options if label.startswith("wind"))
    box.opened.value = wind
    assert box.machine is not None and box.machine.name == "wind"


def test_a_file_that_is_no_text_is_left_alone_too(tmp_path):
    (tmp_path / "mine.toml").write_bytes(b"\xff\xfe")
    box = DescribeBox(FIRST_TRY, tmp_path, tmp_path)
    box.name.value = "mine"
    box.save()
    assert "left alone" in box.page.value
    assert (tmp_path / "mine.toml").read_bytes() == b"\xff\xfe"


def test_the_roles_of_the_bits_are_read_off_prints():
    machine = mechlogic.load("saltmere")
    text = "".join(map(chr, range(40, 96)))
    box = RolesBox(reversed(machine.output.lines), text, text)
    box.read()
    assert "There are 2 equally small explanations" in box.page.value, "b6 or b7: one is set"
    box.sent.value, box.printed.value = text + "h", text + "H"
    box.read()
    assert "b1, b2 and b3 as height bits and b4, b5 and b7 as turning bits" in box.page.value
    assert "b4, b5 and b6" not in box.page.value
    box.printed.value = text[:-1]
    box.read()
    assert "characters sent" in box.page.value, "the lines differ in length, and it says so"


def field_of(box, name):
    return next(control for field, control, _ in box.form._said if field.key.name == name)


def test_a_machine_is_described_in_the_form_and_the_text_says_the_same(tmp_path):
    box = DescribeBox(folder=tmp_path, storage=tmp_path)
    form = box.form
    form.assembly.value = "Two bits and three stops: a rack with four heights"
    form._add_assembly()
    (drawn,) = box.picture.children
    assert set(drawn.machine.mechanism.parts) == {"bar1", "bar2", "low_stop", "rack"}
    form.prints.value = "wheel"
    form._add_output()
    field_of(box, "lift").value = "rack"
    field_of(box, "glyphs").value = "N\nE\nS\nW"
    form.table.value = ("codes",)
    field_of(box, "alphabet").value = "NESW"
    form._claim()
    assert box.machine is not None and box.machine.printed == ("N", "E", "S", "W")
    assert same(parse(box.text.value), box.machine)


def test_what_is_typed_in_the_text_stands_in_the_form_and_a_mistake_at_its_field(tmp_path):
    box = DescribeBox(FIRST_TRY.replace("third_lefer", "third_lever"), tmp_path, tmp_path)
    box.form.table.value = ("parts", "bar1")
    box.text.value = box.text.value.replace('label = "code bar 1"', 'label = "first bar"')
    assert field_of(box, "label").value == "first bar"
    field_of(box, "stroke_mm").value = "three"
    told = next(told for field, _, told in box.form._said if field.key.name == "stroke_mm")
    assert "is not a number" in told.value and "stroke_mm = " in box.text.value
    field_of(box, "stroke_mm").value = "3,0"
    assert "stroke_mm = 3.0" in box.text.value and "alert" not in told.value
