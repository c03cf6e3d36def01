"""The exercises are right for every number, by a simulation that is not the library."""

import re
from itertools import count

import pytest
from brute_force import Printer, read

import mechlogic
from mechlogic import machines
from mechlogic.teaching.sealed import ANYTHING_BEFORE, Sealed
from mechlogic.teaching.sealed_exercises import most_worth, who_could_it_be, who_was_it
from mechlogic.widgets import choice

WIND = mechlogic.load("wind")
PLAIN = Printer(read(machines.FOLDER / "wind.toml"))
NUMBERS = range(12)
STEADY = ("stuck at rest", "stuck operated", "disconnected")


def printed(faults, name):
    return PLAIN.follow(WIND.as_set(WIND.code.parse(name)), faults)[2]


@pytest.mark.parametrize("number", NUMBERS)
def test_the_parts_that_could_have_done_it_are_those_that_plain_loops_find(number):
    exercise = who_could_it_be(WIND, number)
    sent, prints = re.match(
        r"([A-Z ]+) was sent and ([A-Z ]+) was printed", exercise.prompt
    ).groups()
    log = list(zip(sent.split(), prints.split(), strict=True))
    guilty = {
        WIND.label(fault[0])
        for fault in PLAIN.single_faults()
        if fault[1] in STEADY and all(printed([fault], name) == seen for name, seen in log)
    }
    assert exercise.right == guilty
    assert set(exercise.options) == {WIND.label(name) for name in WIND.mechanism.parts}
    assert 0 < len(guilty) < len(exercise.options)


@pytest.mark.parametrize("number", NUMBERS)
def test_the_check_most_worth_its_minutes_is_so_by_the_numbers_that_are_shown(number):
    exercise = most_worth(WIND, number)
    worth = {}
    for option in exercise.options:
        minutes, percent = re.search(r"([\d.]+) min, .* (\d+) %", option).groups()
        worth[option] = float(percent) / float(minutes)
    assert exercise.right == {max(worth, key=worth.get)}
    assert len(worth) >= 3


def test_the_best_check_is_not_always_of_one_kind():
    starts = {next(iter(most_worth(WIND, number).right))[:4] for number in range(12)}
    assert len(starts) == 3


def test_a_fault_that_no_printing_code_shows_makes_no_question():
    sluice = mechlogic.load("sluice")  # some of its faults show with control characters alone
    for number in range(3):
        prompt = who_could_it_be(sluice, number).prompt
        sent, prints = re.match(r"(.+) was sent and (.+) was printed", prompt).groups()
        codes = map(sluice.code.parse, sent.split())
        log = zip(codes, prints.split(), strict=True)
        assert any(seen != sluice.good_print(code) for code, seen in log)


@pytest.mark.parametrize("level", [1, 2, 3])
@pytest.mark.parametrize("number", [1, 2, 3])
def test_what_had_to_be_mended_is_what_was_sealed(level, number):
    exercise = who_was_it(WIND, level, number)
    (fault,) = Sealed(WIND, level, number).faults
    before = fault.mode in ("bit lost", "bit added")
    label = "what comes before the printer" if before else WIND.label(fault.part)
    assert exercise.right == {label}
    assert label in exercise.because


def test_a_fault_before_the_printer_is_an_answer_too():
    number = next(n for n in count() if "bit" in Sealed(WIND, 3, n).faults[0].mode.split())
    assert who_was_it(WIND, 3, number).right == {"what comes before the printer"}
    assert ANYTHING_BEFORE not in who_was_it(WIND, 3, number).options


@pytest.mark.parametrize("make", [who_could_it_be, most_worth])
def test_an_exercise_is_asked_as_a_question(make):
    exercise = make(WIND, 1)
    question = choice(**exercise.asked, key="x")
    wrong = next(option for option in exercise.options if option not in exercise.right)
    assert not question.answer(wrong)
    assert question.answer(next(iter(exercise.right)))
    assert question.because == exercise.because
    assert make(WIND, 1) == exercise
    assert any(make(WIND, number) != exercise for number in range(2, 6))
