"""Exercises drawn from a number: the right answer is right, and no other one on offer is."""

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
    practice._next(None)
    assert practice.number.value == 2
    assert [question.prompt for question in practice._questions.children] != first
