"""The logs beside the workbooks: each was made with one fault, and leads back to it."""

from pathlib import Path

import pytest
from plain_runs import SALTMERE, plain

import mechlogic
from mechlogic.bench.diagnosis import diagnose
from mechlogic.model.faults import Fault
from mechlogic.model.logbook import read_logbook

LOGS = Path(__file__).parents[1] / "workbooks" / "logs"

TRUTH = {
    "ebbing_stays_in_figures": Fault("pull_letters", "stuck at rest"),
    "ebbing_first_frost": Fault("bar3", "slow to return"),
    "ness_short_by_four": Fault("far_lever", "disconnected", "bar3"),
    "ness_cold_hut": Fault("bar4", "slow to return"),
    "desk_wrong_heights": Fault("contact3", "open contact"),
    "desk_now_and_then": Fault("contact5", "bouncing contact"),
    "sluice_walks_off": Fault("reset_pawl", "stuck at rest"),
    "sluice_misses_its_bell": Fault("bar2", "slow to return"),
    # bar 3 gone from the sum, a character prints as the one two columns back: 3 as -, 8 as 0
    "trivet_light_weight": Fault("sum_lever", "disconnected", "bar3"),
    # the back rack, late home after a character with bar 2, turns the next one back four columns
    "trivet_stays_back": Fault("back_rack", "slow to return"),
    "wind_after_frost": Fault("middle_stop", "slow to return"),
    "wind_one_point_out": Fault("right_stop", "stuck operated"),
}

SALTMERE_TRUTH = {
    "cold_morning": Fault("middle_stop", "slow to return"),
    "comes_and_goes": Fault("mid_plate", "half-way"),
    # code bar 7 comes, the half-turn rack is late: P as 0, O as /
    "letters_as_figures": Fault("half_turn", "slow to operate"),
    "three_letters": Fault("left_stop", "slow to operate"),
    # the half-turn stop lever off its slide: letters as figures, and A to G at the open side
    "wrong_way_round": Fault("half_stop", "disconnected", "slide7"),
}
ALL_RIGHT = ("after_oiling", "one_stop_low")
"""Logs of the Saltmere printer without a misprint; in the second a low stop clips characters."""


@pytest.mark.parametrize("name", TRUTH)
def test_the_true_fault_is_among_the_first_two_suspects(name):
    machine = mechlogic.load(name.split("_")[0])
    diagnosis = diagnose(machine, read_logbook(LOGS / f"{name}.csv", machine.code))
    assert diagnosis.evidence.misprints, "the log shows that something is wrong"
    first = [faults for suspect in diagnosis.suspects[:2] for faults in suspect.members]
    assert (TRUTH[name],) in first


def saltmere_log(name):
    machine = mechlogic.load("saltmere")
    return machine, read_logbook(LOGS / f"{name}.csv", machine.code)


@pytest.mark.parametrize("name", SALTMERE_TRUTH)
def test_the_first_suspect_of_a_log_of_the_saltmere_printer_is_the_true_fault(name):
    diagnosis = diagnose(*saltmere_log(name))
    assert diagnosis.evidence.misprints
    assert (SALTMERE_TRUTH[name],) in diagnosis.suspects[0].members


@pytest.mark.parametrize("name", SALTMERE_TRUTH)
def test_a_plain_simulation_with_the_true_fault_prints_the_log_and_the_sound_machine_does_not(name):
    _, log = saltmere_log(name)
    assert SALTMERE.explains(plain((SALTMERE_TRUTH[name],)), log.entries)
    assert not SALTMERE.explains((), log.entries)


@pytest.mark.parametrize("name", ALL_RIGHT)
def test_a_machine_in_order_is_the_likeliest_where_every_entry_printed_right(name):
    machine, log = saltmere_log(name)
    assert [entry.printed for entry in log] == [machine.good_print(entry.sent) for entry in log]
    assert () in diagnose(machine, log).suspects[0].members


def test_the_log_of_three_letters_leaves_several_suspects():
    diagnosis = diagnose(*saltmere_log("three_letters"))
    assert len(diagnosis.evidence.log) == 3
    assert len(diagnosis.suspects) == 6


def test_every_machine_has_two_logs():
    own = {name: 2 for name in mechlogic.machines.names() if name != "saltmere"}
    found = [name.split("_")[0] for name in TRUTH]
    assert {name: found.count(name) for name in found} == own
    named = {f"{name}.csv" for name in (*TRUTH, *SALTMERE_TRUTH, *ALL_RIGHT)}
    assert named == {path.name for path in LOGS.glob("*.csv")}
