"""What somebody who scripts meets: plain strings go in, and what comes out is short to read."""

import json
import subprocess
import sys

import pytest

import mechlogic
from mechlogic.machines import names
from mechlogic.model.codes import CodeError
from mechlogic.notebook import diagnosis_html, machine_html

LOG = ("TIDE 0412", "TYDE 0412")


@pytest.fixture(scope="module")
def machine():
    return mechlogic.load("saltmere")


def test_a_character_or_its_name_may_stand_for_its_code(machine):
    for text in ("A", "5", " ", "CR"):
        code = machine.code.parse(text)
        assert machine.good_print(text) == machine.good_print(code)
        told = mechlogic.explain(machine, text)
        assert told == mechlogic.explain(machine, code)
        assert told == mechlogic.explain(machine, machine.as_set(code))
    with pytest.raises(CodeError, match="½"):
        machine.good_print("½")


def test_two_lines_may_stand_for_a_log(machine):
    log = mechlogic.from_lines(*LOG, machine.code)
    one, other = mechlogic.diagnose(machine, *LOG), mechlogic.diagnose(machine, log)
    assert one.suspects == other.suspects
    with pytest.raises(mechlogic.LogbookError, match="4 characters sent, but 3 printed"):
        mechlogic.diagnose(machine, "TIDE", "TYD")


def test_what_a_faulty_machine_prints_is_one_call(machine):
    assert mechlogic.prints(machine, "TIDE") == tuple({c} for c in "TIDE")
    (suspect, *_) = mechlogic.diagnose(machine, *LOG).suspects
    for seen, printed in zip(
        mechlogic.prints(machine, LOG[0], suspect.members[0]), LOG[1], strict=True
    ):
        assert {printed, "nothing" if printed == " " else printed} & seen


def test_by_hand_a_slow_part_prints_right(machine):
    for fault in mechlogic.single_faults(machine.mechanism):
        if fault.mode.startswith("slow"):
            by_hand = mechlogic.prints(machine, "TIDE", (fault,), at_speed=False)
            assert by_hand == mechlogic.prints(machine, "TIDE")


def test_a_log_is_a_table_for_any_library_of_data_frames(machine):
    rows = mechlogic.from_lines("A,", "A ", machine.code).rows
    assert [(row["sent"], row["printed"]) for row in rows] == [("A", "A"), ("COMMA", "SP")]
    assert json.loads(json.dumps(rows)) == rows


@pytest.mark.parametrize("name", names())
def test_what_is_shown_at_a_prompt_is_short(name):
    machine = mechlogic.load(name)
    codes = machine.printing_codes[:3] or (0, 1)
    entries = tuple(mechlogic.Entry(c, machine.good_print(c)) for c in codes)
    log = mechlogic.Logbook(entries, machine.code)
    found = mechlogic.diagnose(machine, log)
    for thing in (machine, machine.mechanism, machine.code, log, found, *found.ranked[:5]):
        assert len(repr(thing)) < 1_000, repr(thing)[:200]
        assert " at 0x" not in repr(thing)


def test_a_notebook_shows_the_picture_and_the_list(machine):
    assert "<svg" in machine_html(machine)
    page = diagnosis_html(mechlogic.diagnose(machine, "A", "B"))
    assert "ml-suspects" in page and "<style>" in page


def test_a_plain_python_does_not_pay_for_the_notebook():
    code = "import mechlogic, sys; print('IPython' in sys.modules, 'sympy' in sys.modules)"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.split() == ["False", "False"]
