"""What a student has done is kept in a file beside the workbooks, and nothing of it is lost."""

import json
import re
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mechlogic import load
from mechlogic.teaching.progress import (
    FILE,
    LARGEST_FILE,
    REWORDED,
    Kept,
    ProgressError,
    beside,
    exercise_key,
    key_of,
    workbooks,
)
from mechlogic.widgets import Practice, Progress, choice, short_answer
from mechlogic.widgets.buttons import AskFirst

WORKBOOKS = Path(__file__).parents[1] / "workbooks"


@pytest.fixture
def kept(tmp_path):
    return Kept(tmp_path / FILE)


def notebook(folder, name, *cells):
    made = [{"cell_type": kind, "source": text.splitlines(True)} for kind, text in cells]
    (folder / name).write_text(json.dumps({"cells": made}), encoding="utf-8")


@pytest.fixture
def course(tmp_path, monkeypatch):
    """A folder with two workbooks, and a notebook running in it."""
    notebook(
        tmp_path,
        "01_first.ipynb",
        ("markdown", "# 01 · First <b>"),
        ("code", '%matplotlib inline\nchoice("Which?", ["a", "b"], right="a")'),
        ("code", 'q.short_answer(f"How many of {n}?", ok, key="01/many")'),
        ("code", 'short_answer(f"no key {n}", ok)'),
        ("code", "not python at all ((("),
    )
    notebook(tmp_path, "02_second.ipynb", ("code", 'choice("Why?", ["a", "b"], right="b")'))
    (tmp_path / "03_broken.ipynb").write_text("{")
    monkeypatch.chdir(tmp_path)
    return tmp_path


# -- the file --------------------------------------------------------------------------------------


def test_what_was_done_is_kept_once_with_its_day(kept):
    assert kept.read() == (frozenset(), ())
    kept.note("01/cut", date(2031, 2, 3))
    kept.note("01/cut", date(2031, 2, 4))
    kept.note("Größe\n«»", date(2031, 2, 5))
    lines = [json.loads(line) for line in kept.path.read_text().splitlines()]
    assert lines == [
        {"done": "01/cut", "on": "2031-02-03"},
        {"done": "Größe\n«»", "on": "2031-02-05"},
    ]
    assert kept.done == {"01/cut", "Größe\n«»"}


def test_a_reset_forgets_everything_and_can_be_done_twice(kept):
    kept.note("a")
    kept.reset()
    kept.reset()
    assert kept.done == frozenset()
    kept.note("b")
    assert kept.done == {"b"}


@pytest.mark.parametrize("key", ["", "x" * 201])
def test_a_key_has_a_length_that_can_be_kept(kept, key):
    with pytest.raises(ValueError, match="give it 1 to 200"):
        kept.note(key)


def test_a_line_that_was_cut_short_costs_itself_alone(kept):
    kept.note("a")
    kept.note("b")
    kept.path.write_bytes(kept.path.read_bytes()[:-9])
    kept.note("c")
    done, problems = kept.read()
    assert done == {"a", "c"}
    assert len(problems) == 1 and "line 2: this is no line of JSON" in problems[0]


@given(st.binary(max_size=200))
def test_whatever_stands_in_the_file_nothing_that_is_added_is_lost(tmp_path_factory, data):
    kept = Kept(tmp_path_factory.mktemp("kept") / FILE)
    kept.path.write_bytes(data)
    kept.note("01/cut")
    assert "01/cut" in kept.done
    assert kept.path.read_bytes().startswith(data)


@pytest.mark.parametrize(
    "line", ["[]", "3", '{"done": 3}', '{"done": ""}', '{"on": "x"}', "[" * 100_000]
)
def test_a_line_of_something_else_is_named_and_passed_over(kept, line):
    kept.path.write_text(f'{{"done": "a"}}\n{line}\n{{"done": "b", "more": 1}}\n')
    done, problems = kept.read()
    assert done == {"a", "b"}
    assert "line 2" in problems[0] and "passed over" in problems[0]


def test_a_file_that_cannot_be_read_or_written_is_told_in_words(kept, tmp_path):
    kept.path.mkdir()
    for do in (kept.read, kept.reset, lambda: kept.note("a")):
        with pytest.raises(ProgressError, match=r"You can go on without it\."):
            do()
    assert kept.done == frozenset()
    with pytest.raises(ProgressError, match="no such folder"):
        Kept(tmp_path / "gone" / FILE).note("a")


def test_a_file_that_is_far_too_long_is_left_alone(kept):
    kept.path.write_bytes(b" " * (LARGEST_FILE + 1))
    with pytest.raises(ProgressError, match="Move it elsewhere"):
        kept.note("a")


def test_a_file_never_grows_too_long_to_be_read_again(kept):
    kept.path.write_bytes(b"\n" * LARGEST_FILE)
    with pytest.raises(ProgressError, match="Move it elsewhere"):
        kept.note("a")
    assert kept.read() == (frozenset(), ())


# -- which questions there are ---------------------------------------------------------------------


def test_questions_are_read_off_the_cells_without_running_them(course):
    first, second = workbooks(course)
    assert (first.title, second.title) == ("01 · First <b>", "02_second")
    assert first.questions == (key_of("Which?"), "01/many")
    assert first.answered(frozenset({"01/many", "elsewhere"})) == 1


def test_a_key_is_the_same_for_the_same_words_however_they_are_broken():
    assert key_of("One  two\n three") == key_of("One two three") != key_of("One two four")


def test_every_question_of_the_course_can_be_counted():
    for workbook in workbooks(WORKBOOKS):
        cells = json.loads((WORKBOOKS / workbook.name).read_text(encoding="utf-8"))["cells"]
        code = "\n".join("".join(c["source"]) for c in cells if c["cell_type"] == "code")
        asked = re.findall(r"\b(?:choice|short_answer)\(", code)
        assert len(workbook.questions) == len(asked), f"{workbook.name}: give it a key"


# -- questions and the list ------------------------------------------------------------------------


def which():
    return choice("Which?", ["a", "b"], right="a")


def test_a_question_has_a_tick_at_the_next_sitting(course):
    question = which()
    assert not question.answered_before
    question.answer("b")
    assert not which().answered_before, "a wrong answer is none"
    question.answer("a")
    assert which().answered_before
    assert not question.trouble
    kept = short_answer("How many of 3?", lambda answer: answer == "3", key="01/many")
    kept.answer("3")
    assert beside().done == {key_of("Which?"), "01/many"}


OLD_FILE = b"""\
{"done": "practice/wind/shown/1", "on": "2031-02-03"}
{"done": "practice/saltmere/late/7", "on": "2031-02-03"}
{"done": "practice/saltmere/who/300002", "on": "2031-02-04"}
{"done": "question 17d7bb24e88ea62b", "on": "2031-02-05"}
{"done": "question f5fa0eb28213710c", "on": "2031-02-05"}
"""
"""As it was written when all workbooks shared the keys of exercises (lines 1, 2), when the number
held the workbook's (line 3), and before a question had its words of today (lines 4, 5)."""


def ticks(machine, kinds, number, page):
    asked = Practice(load(machine), kinds, number=number, page=page)._questions.children
    return [question.answered_before for question in asked]


def test_an_old_file_keeps_its_ticks(course):
    (course / FILE).write_bytes(OLD_FILE)
    assert ticks("wind", ("shown", "wrong"), 1, page=0) == [True, False]
    assert ticks("wind", ("shown", "wrong", "who"), 1, page=1) == [True, False, False]
    assert ticks("saltmere", ("shown", "late"), 7, page=2) == [False, True]
    assert ticks("saltmere", ("shown", "late"), 7, page=10) == [False, True]
    assert ticks("saltmere", ("shown", "late"), 1, page=2) == [False, False]
    assert ticks("saltmere", ("who",), 2, page=3) == [True]
    assert ticks("saltmere", ("who",), 2, page=2) == [False]
    done = beside().done
    assert {w.name[:2]: w.answered(done) for w in workbooks(WORKBOOKS) if w.answered(done)} == {
        "07": 1
    }
    beside().note(exercise_key(1, "wind", "shown", 1))
    assert (course / FILE).read_bytes() == OLD_FILE, "what is ticked is not noted twice"


def test_an_exercise_answered_in_one_workbook_has_no_tick_in_another(course):
    one = Practice(load("wind"), ("shown",))._questions.children[0]
    for answer in one.options:
        one.answer(answer)
    assert ticks("wind", ("shown",), 1, page=0) == [True]
    assert ticks("wind", ("shown",), 1, page=1) == [False]


def test_every_question_that_has_other_words_today_is_asked_today():
    asked = {key for workbook in workbooks(WORKBOOKS) for key in workbook.questions}
    assert set(REWORDED) <= asked, "a question has new words: add its old key to reworded.json"


def test_an_answer_that_cannot_be_kept_is_right_all_the_same(course):
    (course / FILE).mkdir()
    question = which()
    assert question.answer("a")
    assert question.state == "right"
    assert question.trouble.startswith("This answer is not kept: ")


def test_nothing_is_kept_where_no_workbooks_lie(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    which().answer("a")
    assert list(tmp_path.iterdir()) == []


def text(progress):
    return re.sub("<[^>]*>", " ", progress._page.value)


def test_the_list_counts_what_is_answered_and_escapes_titles(course):
    progress = Progress(course)
    assert "0 of 2" in text(progress) and "0 of 1" in text(progress)
    which().answer("a")
    progress.show()
    assert "1 of 2" in text(progress)
    choice("Why?", ["a", "b"], right="b").answer("b")
    progress.show()
    assert "1 of 1 ✓" in text(progress)
    assert "First &lt;b&gt;" in progress._page.value and "First <b>" not in progress._page.value


def test_the_list_asks_before_it_forgets(course):
    which().answer("a")
    progress = Progress(course)
    progress._forget.click()
    assert beside().done, "it has only asked"
    progress.show()
    progress._forget.click()
    assert beside().done, "it asks anew after something else was done"
    progress._forget.click()
    assert not beside().done and "0 of 2" in text(progress)


def test_the_list_says_what_is_wrong_with_the_file_and_goes_on(course):
    (course / FILE).write_text("scribble\n")
    assert "line 1: this is no line of JSON" in text(Progress(course))
    (course / FILE).unlink()
    (course / FILE).mkdir()
    progress = Progress(course)
    assert "cannot be read" in text(progress) and "0 of 2" in text(progress)
    progress.reset()
    assert "cannot be removed" in text(progress)


def test_a_button_that_need_not_ask_does_not(course):
    done = []
    button = AskFirst("Go", "Sure?", lambda: done.append(1), lambda: bool(done))
    button.click()
    assert done == [1]
    button.click()
    assert done == [1] and button.asks
    button.click()
    assert done == [1, 1] and not button.asks
