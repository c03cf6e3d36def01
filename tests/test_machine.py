"""A machine as declared: which codes print their own character."""

import pytest

import mechlogic
from mechlogic.model.logbook import NOTHING, look_alike


@pytest.mark.parametrize(("name", "number"), [("saltmere", 56), ("desk", 16), ("wind", 4)])
def test_the_printing_codes_are_those_whose_own_character_is_printed_and_no_others(name, number):
    machine = mechlogic.load(name)
    own = [
        code
        for code in range(len(machine.code))
        if machine.good_print(code) != NOTHING
        and look_alike(machine.good_print(code), machine.code.character(code))
    ]
    assert sorted(machine.printing_codes) == own
    assert len(own) == number


def test_what_is_claimed_of_a_code_is_what_the_good_machine_prints_in_each_case():
    machine = mechlogic.load("ebbing")
    for case, prints in machine.cases.items():
        for code in range(len(machine.code)):
            claimed = machine.claimed(code, in_figures=case == "figures")
            assert claimed == prints[machine.as_set(code)], (case, code)
