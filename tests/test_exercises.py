"""Exercises drawn from a number: the right answer is right, and no other one on offer is."""

from collections import Counter
from math import sqrt

import pytest

import mechlogic
from mechlogic.model.faults import single_faults
from mechlogic.model.steps import steps
from mechlogic.teaching.exercises import KINDS, MOST_OPTIONS
from mechlogic.widgets.practice import Practice

MACHINES = {name: mechlogic.load(name) for name in mechlogic.machines.names()}
NUMBERS = range(1, 9)


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize("kind", KINDS)
def test_every_exercise_has_one_right_answer_hints_and_a_solution(name, kind):
    for number in NUMBERS:
        one = KINDS[kind](MACHINES[name], number)
        assert len(one.right) == 1 and one.right <= set(one.options)
        assert 2 <= len(one.options) <= MOST_OPTIONS
        assert len(set(one.options)) == len(one.options)
        assert len(one.hints) >= 2
        assert one.because.endswith(".")
        assert one == KINDS[kind](MACHINES[name], number), "the same number asks the same"


@pytest.mark.parametrize("kind", KINDS)
def test_another_number_asks_something_else(kind):
    asked = {KINDS[kind](MACHINES["saltmere"], number).prompt for number in NUMBERS}
    assert len(asked) > len(NUMBERS) / 2


@pytest.mark.parametrize("name", MACHINES)
def test_the_right_part_can_have_done_it_and_no_other_on_offer_can(name):
    """By trying every steady fault of every part on offer on the text that is asked about."""
    machine = MACHINES[name]
    labels = {machine.label(part): part for part in machine.mechanism.parts}
    for number in NUMBERS:
        one = KINDS["who"](machine, number)
        told = one.prompt.removeprefix("This was sent, and this was seen: ").split(". Which")[0]
        pairs = [[one.strip("“”") for one in pair.split(": ", 1)] for pair in told.split(", ")]
        for label in one.options:
            part = labels[label]
            can = any(
                fits(machine, fault, pairs)
                for fault in single_faults(machine.mechanism)
                if fault.part == part
                and fault.mode in ("stuck at rest", "stuck operated", "disconnected")
            )
            assert can == (label in one.right), (one, label)


def fits(machine, fault, pairs):
    """Whether a fault, from rest, shows what was seen."""
    table = steps(machine, (fault,))
    latches = machine.mechanism.latches
    memory = tuple(machine.mechanism.rest[name] for name in latches)
    for sent, seen in pairs:
        ((shown, memory),) = table[memory][machine.code.parse(sent)]
        if shown != {"something unreadable": "unreadable"}.get(seen, seen):
            return False
    return True


def test_a_button_gives_other_exercises_in_the_place_of_these():
    practice = Practice(MACHINES["wind"], ("shown", "late"))
    first = [question.prompt for question in practice._questions.children]
    assert len(first) == 2
    practice._next()
    assert practice.number.value == 2
    assert [question.prompt for question in practice._questions.children] != first


SEVERAL = range(1, 1001)


def told_by(one):
    """What might give an answer away without thinking, for each answer on offer."""
    longest = max(map(len, one.options))
    for place, option in enumerate(one.options):
        yield f"place {place}", option
        yield ("longest" if len(option) == longest else "shorter"), option
        yield ("a word" if len(option) > 1 else "a sign"), option
        yield option, option


@pytest.mark.parametrize(("kind", "name"), [(k, n) for k in KINDS for n in ("wind", "ness")])
def test_nothing_but_thinking_finds_the_answer(kind, name):
    """Each answer on offer is right as often as chance has it: binomial, 1 % over all tells.

    With some forty tells a kind, 1 % in all is 1 in 4,000 for each: 3.7 standard deviations.
    """
    hits, expected, spread = Counter(), Counter(), Counter()
    for number in SEVERAL:
        one = KINDS[kind](MACHINES[name], number)
        chance = 1 / len(one.options)
        for tell, option in told_by(one):
            hits[tell] += option in one.right
            expected[tell] += chance
            spread[tell] += chance * (1 - chance)
    for tell, sd in spread.items():
        off = abs(hits[tell] - expected[tell])
        assert off <= 3.7 * sqrt(sd) + 1, (tell, hits[tell], expected[tell])


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize("kind", KINDS)
def test_each_wrong_answer_says_what_it_would_take(kind, name):
    for number in NUMBERS:
        one = KINDS[kind](MACHINES[name], number)
        assert set(one.takes) == set(one.options) - one.right
        assert all(said.endswith(".") for said in one.takes.values())


def test_two_workbooks_ask_differently_under_one_number():
    pages = [Practice(MACHINES["saltmere"], ("shown",), 7, page) for page in (1, 2, 3, 5, 10)]
    prompts = [p._questions.children[0].prompt for p in pages]
    assert len(set(prompts)) == len(prompts)


def test_a_wrong_answer_is_told_why():
    question = Practice(MACHINES["wind"], ("shown",))._questions.children[0]
    wrong = [option for option in question.options if not question.answer(option)]
    assert len(wrong) == len(question.options) - 1
    question.answer(wrong[0])
    assert question.verdict.startswith("Not yet. That is shown otherwise:")
