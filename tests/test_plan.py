"""A plan of checks: typing first, then what is taken off, in the order that is quickest."""

from itertools import permutations

import pytest

import mechlogic
from mechlogic import Fault, plan
from mechlogic.bench.advice import LONGEST_LINE, MOST_ALIKE, next_check, next_line
from mechlogic.bench.checks import costs_of, found_by_look, in_reach, reaches, shares
from mechlogic.bench.diagnosis import every_single

SALTMERE = mechlogic.load("saltmere")
LOG = mechlogic.from_lines("TIDE 0412", "TYDE 0412", SALTMERE.code)


def looks_of(steps):
    return [step for step in steps if step.kind == "look"]


def minutes_of(diagnosis, order):
    """The mean minutes of looks in an order, worked out one truth after the other."""
    machine, costs = diagnosis.machine, costs_of(diagnosis.machine)
    total = whole = 0.0
    for faults, share in shares(diagnosis):
        spent = 0.0
        for reach in order:
            spent += costs[reach]
            if found_by_look(machine, faults, in_reach(machine, reach, costs)):
                total, whole = total + share * spent, whole + share
                break
    return total / whole


@pytest.mark.parametrize(
    ("sent", "printed"), [("TIDE 0412", "TYDE 0412"), ("CAR", "CAW"), ("ABC", "ABB")]
)
def test_no_other_order_of_looks_is_quicker(sent, printed):
    diagnosis = mechlogic.diagnose(SALTMERE, mechlogic.from_lines(sent, printed, SALTMERE.code))
    order = [step.reach for step in looks_of(plan(diagnosis).steps)]
    costs = costs_of(SALTMERE)
    dearest = max(reaches(SALTMERE), key=costs.get)
    every = [
        minutes_of(diagnosis, some)
        for n in range(1, len(reaches(SALTMERE)) + 1)
        for some in permutations(reaches(SALTMERE), n)
        if dearest in some
    ]
    # Each look of a plan includes five minutes to clean and oil, which every order pays alike.
    assert minutes_of(diagnosis, order) == pytest.approx(min(every))


def test_nothing_is_taken_off_twice_and_oiling_is_no_step_of_its_own():
    steps = plan(mechlogic.diagnose(SALTMERE, LOG)).steps
    reached = [step.reach for step in looks_of(steps)]
    assert len(set(reached)) == len(reached) >= 1
    assert all("clean and oil" in step.what for step in looks_of(steps))
    assert {step.kind for step in steps} <= {"type", "source", "look"}


def test_the_minutes_are_those_of_the_steps_by_the_chance_that_it_comes_to_them():
    found = plan(mechlogic.diagnose(SALTMERE, LOG))
    assert found.minutes == pytest.approx(sum(step.comes * step.minutes for step in found.steps))
    chances = [step.comes for step in looks_of(found.steps)]
    assert chances == sorted(chances, reverse=True)
    for before, after in zip(looks_of(found.steps), looks_of(found.steps)[1:], strict=False):
        assert after.comes == pytest.approx(before.comes * (1 - before.ends))


def test_a_line_to_type_begins_with_the_best_character_and_repeats_none_too_often():
    log = mechlogic.from_lines("CAR", "CAW", SALTMERE.code)
    diagnosis = mechlogic.diagnose(SALTMERE, log)
    line, check = next_line(diagnosis), next_check(diagnosis)
    assert line.codes[: len(check.codes)] == check.codes
    assert len(check.codes) <= len(line.codes) <= LONGEST_LINE
    assert max(map(line.codes.count, line.codes)) <= MOST_ALIKE
    assert line.gain >= check.gain
    assert sum(split.probability for split in line.splits) == pytest.approx(1)


def test_another_source_comes_first_where_the_printer_may_be_sound():
    lost = [(Fault(f"bar{n}", "bit lost before the bar"),) for n in range(1, 8)]
    log = mechlogic.from_lines("AAAA", "@@@@", SALTMERE.code)
    diagnosis = mechlogic.diagnose(SALTMERE, log, [*lost, *every_single(SALTMERE)])
    steps = plan(diagnosis).steps
    kinds = [step.kind for step in steps]
    assert "source" in kinds and kinds.index("source") < kinds.index("look")


def test_a_cost_of_nothing_is_refused():
    with pytest.raises(ValueError, match="Give it more than none"):
        plan(mechlogic.diagnose(SALTMERE, LOG), {"cover": 0})
