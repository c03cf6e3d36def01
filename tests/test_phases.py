"""In which order the parts move within a cycle, and what stands where once it is over."""

import pytest
from brute_force import Printer
from hypothesis import given
from hypothesis import strategies as st
from strategies import descriptions, few, library, machine_of

from mechlogic import Fault, load, machines
from mechlogic.explaining.phases import DRIVE, SET, SETTLE, STRIKE, home, phases
from mechlogic.model import laws
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.joining import join

EVERY_MACHINE = [*map(load, machines.names()), join(load("desk"), load("saltmere"))]
every_machine = pytest.mark.parametrize("machine", EVERY_MACHINE, ids=lambda m: m.name)


def assert_in_order(machine):
    """What any machine must do, said from its joints alone."""
    phase, mechanism = phases(machine), machine.mechanism
    assert list(phase) == list(mechanism.parts)
    for part in mechanism:
        mine, inputs = phase[part.name], part.joint.inputs
        assert SET <= mine <= STRIKE
        assert all(phase[name] <= mine for name in inputs)
        assert not inputs or mine > SET
        if part.joint.driven:
            assert mine >= DRIVE


@every_machine
def test_each_part_moves_with_or_after_what_moves_it(machine):
    assert_in_order(machine)


@few
@given(descriptions())
def test_each_part_of_a_random_machine_moves_with_or_after_what_moves_it(description):
    assert_in_order(machine_of(description))


@every_machine
def test_a_driven_member_runs_once_its_stops_are_set(machine):
    phase, mechanism = phases(machine), machine.mechanism
    for part in mechanism:
        if part.joint.driven:
            assert all(phase[lever] < phase[part.name] for lever in part.joint.inputs)


@every_machine
def test_what_is_sent_is_set_first(machine):
    given_ = {part.name for part in machine.mechanism if part.joint.given}
    assert given_ == {name for name, phase in phases(machine).items() if phase == SET}


@pytest.mark.parametrize(
    ("name", "last"),
    [
        ("saltmere", {"hammer"}),
        ("desk", {f"contact{n}" for n in range(1, 9)}),
        ("sluice", {"feed_lever", "bell_lever", "answer_lever", "step_pawl", "reset_pawl"}),
        ("wind", set()),  # it stamps every code and has nothing that could stay still
    ],
)
def test_printing_comes_last(name, last):
    assert {part for part, phase in phases(load(name)).items() if phase == STRIKE} == last


def test_typebars_and_what_they_work_come_last_and_the_shift_before_them():
    phase = phases(load("ebbing"))
    assert {phase[f"pull_{letter}"] for letter in "abcdefghijklmnopqrstuvwxyz"} == {STRIKE}
    assert phase["bell"] == phase["pull_cr"] == STRIKE
    assert phase["pull_figures"] == phase["unshift"] == SETTLE
    assert phase["shift"] == DRIVE


def test_type_that_no_rack_moves_is_still_brought_to_its_place_before_it_prints():
    phase = phases(load("ness"))
    assert phase["main_lever"] == SETTLE and phase["slide"] == DRIVE


def test_a_joined_printer_drives_after_the_keyboard_has_sent():
    phase = phases(join(load("desk"), load("saltmere")))
    assert phase["key_h"] == SET
    assert phase["contact1"] == phase["bar1"] == phase["left_stop"] == SETTLE
    assert phase["lift_rack"] == DRIVE and phase["hammer"] == STRIKE


# -- where they go home to -------------------------------------------------------------------------


@every_machine
def test_a_good_machine_goes_home_to_rest_and_its_latches_stay(machine):
    behaviour = Behaviour(machine, ())
    for memory in behaviour.memories:
        stays = dict(zip(behaviour.remembering, memory, strict=True))
        away = {
            name: place
            for name, place in home(behaviour, memory, ()).items()
            if place != machine.mechanism.rest[name]
        }
        assert away == {name: place for name, place in stays.items() if place}


@few
@given(st.data())
def test_a_late_part_stays_behind_with_what_follows_it(data):
    """The brute force, with nothing sent, says the same of all that only follows.

    A driven member goes home, whatever its stops say, and a latch stays where it was put; a key
    has no place with nothing sent, in the brute force, but one with the first character.
    """
    description = data.draw(descriptions())
    machine, printer = machine_of(description), Printer(description)
    late = [part for part, mode, _ in printer.single_faults() if mode == "slow to return"]
    part = data.draw(st.sampled_from(late))
    faults = [(part, "slow to return", "")]
    behaviour = Behaviour(machine, library(faults))
    driven = {p.name for p in machine.mechanism if p.joint.driven}
    keys = {p.name for p in machine.mechanism if isinstance(p.joint, laws.Key)}
    apart = driven.union(machine.mechanism.latches, keys)
    for memory in behaviour.memories:
        places = [
            printer.places[name][place]
            for name, place in zip(behaviour.remembering, memory, strict=True)
        ]
        remembered = dict(zip(behaviour.remembering, places, strict=True))
        for by_hand in (False, True):
            stands = printer.follow(0, faults, by_hand, remembered)[0]
            found = home(behaviour, memory, behaviour.chances[0], not by_hand)
            for name, place in found.items():
                if not apart & machine.mechanism.upstream(name):
                    assert printer.places[name][place] == stands[name]
                elif name in driven and name != part:
                    assert place == 0


def test_a_part_that_operates_late_has_come_when_the_others_go():
    machine = load("saltmere")
    behaviour = Behaviour(machine, (Fault("half_turn", "slow to operate"),))
    (chance,) = behaviour.chances
    assert home(behaviour, (1,), chance)["half_turn"] == 1
    assert home(behaviour, (1,), chance)["slide7"] == 0
    assert home(behaviour, (0,), chance)["half_turn"] == 0
    assert home(behaviour, (1,), chance, at_speed=False)["half_turn"] == 0


def test_a_stuck_part_does_not_go_home():
    behaviour = Behaviour(load("saltmere"), (Fault("lift_rack", "stuck operated"),))
    found = home(behaviour, (), behaviour.chances[0])
    assert found["lift_rack"] == 3 and found["lift"] > 0 and found["hammer"] == 0
