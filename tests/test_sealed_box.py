"""The screen of the sealed fault, as far as Python sees it, and its pages."""

import re

import ipywidgets as w
import pytest
from screens import inside

import mechlogic
from mechlogic import machines
from mechlogic.bench.checks import costs_of
from mechlogic.describing.description import parse
from mechlogic.model.codes import CodeError
from mechlogic.teaching import hunt_pages
from mechlogic.teaching.sealed import HINTS, Hunt, Sealed, replay
from mechlogic.widgets import SealedBox

WIND, SALTMERE = mechlogic.load("wind"), mechlogic.load("saltmere")


def find(box, kind, said):
    return next(
        one
        for one in inside(box)
        if isinstance(one, kind)
        and (one.description.startswith(said) or getattr(one, "placeholder", None) == said)
    )


def press(box, said):
    find(box, w.Button, said).click()


def text(page):
    return re.sub(" +", " ", re.sub("<[^>]*>", " ", page.value))


def everything(box):
    pages = (one.value for one in inside(box) if isinstance(one, w.HTML))
    return " ".join(page for page in pages if not page.startswith("<style>"))


@pytest.fixture
def box():
    return SealedBox(WIND, level=1, seed=1)


def type_(box, characters):
    find(box, w.Text, "Send").value = characters
    press(box, "At speed")


# -- what is typed ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "names"),
    [
        ("AB", "A B"),
        ("a1".upper() + " B", "A 1 B"),
        ("A CR B", "A CR B"),
        ("4/1 SP", "A SP"),
        ("cr", "CR"),
        ("A/B", "A / B"),
    ],
)
def test_characters_are_typed_together_and_names_apart(typed, names):
    if typed == "A/B":  # a stroke alone is a character; within a word it looks like a position
        with pytest.raises(CodeError):
            hunt_pages.typed_codes(typed, SALTMERE.code)
        typed = "A / B"
    codes = hunt_pages.typed_codes(typed, SALTMERE.code)
    assert [SALTMERE.code.name(code) for code in codes] == names.split()


@pytest.mark.parametrize("typed", ["", "   ", "AÄ", "A" * 201])
def test_what_cannot_be_typed_is_refused(typed):
    with pytest.raises((CodeError, ValueError)):
        hunt_pages.typed_codes(typed, SALTMERE.code)


# -- the hunt --------------------------------------------------------------------------------------


def test_what_is_done_costs_what_it_says_and_is_listed(box):
    costs = costs_of(WIND)
    type_(box, "NESW")
    press(box, "Try another source")
    press(box, "Look")
    spent = 4 * costs["type"] + costs["source"] + costs["cover"]
    assert box.hunt.minutes == pytest.approx(spent)
    assert f"{spent:g} of {box.hunt.sealed.minutes:g} minutes spent" in text(box._budget)
    assert f'value="{spent:.3f}"' in box._budget.value
    for done in ("Typed N E S W", "Sent the same text from another source", "Looked, cover off"):
        assert done in text(box._list)


def test_overspending_is_said_in_words(box):
    for _ in range(20):
        press(box, "Look")
    over = 20 * costs_of(WIND)["cover"] - box.hunt.sealed.minutes
    assert f"overspent by {over:g} minutes" in text(box._budget)


def test_no_possible_cause_is_named_before_a_hint_is_asked_for(box):
    type_(box, "NESW")
    shown = everything(box).lower().replace("how many possible causes are left", "")
    assert "possible cause" not in shown
    find(box, w.Dropdown, "Hint").value = "how many possible causes are left"
    press(box, "Ask")
    assert "possible causes are left" in text(box._said)
    assert box.hunt.findings[-1].minutes == HINTS["how many possible causes are left"]


def test_by_hand_one_character_is_sent(box):
    find(box, w.Text, "Send").value = "NE"
    press(box, "Turning by hand")
    assert "Write only one" in text(box._said) and not box.hunt.findings
    find(box, w.Text, "Send").value = "N"
    press(box, "Turning by hand")
    assert box.hunt.findings[-1].did == "Turned by hand N"


def test_what_cannot_be_sent_is_told_and_escaped(box):
    type_(box, "<b>x")
    assert "&lt;b&gt;" in box._said.value and "<b>" not in box._said.value
    assert not box.hunt.findings


def test_a_machine_with_strange_names_is_escaped():
    plain = (machines.FOLDER / "wind.toml").read_text(encoding="utf-8")
    strange = parse(re.sub('label = "', 'label = "<i>x', plain))
    sealed = Sealed(strange, 1, 1)
    hunt = Hunt(sealed).typed([0, 1]).looked("cover").mend(sealed.faults[0].part)
    made = hunt_pages.findings(hunt) + hunt_pages.said(hunt.findings[-1])
    made += hunt_pages.truth(hunt.declare()) + hunt_pages.score(hunt.declare(), hunt.declare())
    made += hunt_pages.replayed(replay(hunt))
    assert "&lt;i&gt;x" in made and "<i>" not in made


# -- the end ---------------------------------------------------------------------------------------


def declare(box):
    press(box, "I have repaired it")
    assert box.ended is None, "it asks first"
    press(box, "Show the fault?")
    box.thinking.join(timeout=120)


def test_after_the_declaration_stand_truth_points_and_replay(box):
    (fault,) = box.hunt.sealed.faults
    type_(box, "NESW")
    press(box, "Look")
    press(box, "Look")
    find(box, w.Dropdown, "Repair").value = fault.part
    press(box, "Repair it")
    declare(box)
    assert f"✓ repaired: {WIND.label(fault.part)}" in text(box._end).replace("  ", " ")
    assert f"{box.ended.points} of 100 points" in text(box._points)
    rows = re.findall("<tr><td>.*?</tr>", box._replay.value)
    assert len(rows) == 4
    assert ["✗ wasted" in row for row in rows] == [move.wasted for move in replay(box.hunt)]
    assert "✗ wasted" in rows[2], "looking again at the same parts tells nothing"
    assert not re.search(r"\bbits?\b", text(box._replay))
    assert box._thinks.value == ""


def test_nothing_put_right_is_said_so_and_a_new_hunt_begins_anew(box):
    declare(box)
    assert "✗ still there" in text(box._end)
    assert "0 of 100 points" in text(box._points)
    type_(box, "N")
    assert not box.hunt.findings, "the fault is shown"
    find(box, w.BoundedIntText, "Number").value = 7
    press(box, "Hide this fault")
    assert box.hunt.sealed.seed == 7 and box.ended is None
    assert text(box._end).strip() == text(box._points).strip() == ""


def test_a_hunt_is_not_given_up_by_one_slip(box):
    type_(box, "N")
    press(box, "Hide this fault")
    assert box.hunt.findings
    press(box, "Stop this search?")
    assert not box.hunt.findings


def test_another_machine_and_level_are_sealed(box):
    find(box, w.Dropdown, "Machine").value = "ness"
    find(box, w.Dropdown, "Level").value = 4
    press(box, "Hide this fault")
    assert box.hunt.machine.name == "ness" and box.hunt.sealed.level == 4
    assert "carriage off" in str(find(box, w.Dropdown, "Look").options)
    assert len(box.hunt.sealed.faults) == 2
