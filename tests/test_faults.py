"""Which faults a part can have, and how a wrong fault is refused."""

import dataclasses

import pytest
from brute_force import AT_TIMES, Printer, read
from hypothesis import given
from strategies import few, mechanism_of, parts

from mechlogic.machines import FOLDER, load
from mechlogic.model.faults import (
    MODES,
    SAFE_TO_LOOK,
    SLUGGISH,
    Fault,
    FaultError,
    check,
    faults_of,
    hypothesis,
    iter_pairs,
    rarer_faults,
    single_faults,
)

SALTMERE = load("saltmere").mechanism
PLAIN_SALTMERE = Printer(read(FOLDER / "saltmere.toml"))


def plain(faults):
    return {(fault.part, fault.mode + AT_TIMES * fault.sometimes, fault.input) for fault in faults}


# -- what there is ---------------------------------------------------------------------------------


@few
@given(parts())
def test_a_random_mechanism_has_the_faults_that_its_parts_can_have(drawn):
    found = single_faults(mechanism_of({"parts": drawn}))
    assert plain(found) == set(Printer({"parts": drawn}).single_faults())
    assert len(found) == len(set(found))


def test_saltmere_has_the_faults_that_its_parts_can_have():
    assert plain(single_faults(SALTMERE)) == set(PLAIN_SALTMERE.single_faults())
    assert plain(rarer_faults(SALTMERE)) == set(PLAIN_SALTMERE.rarer_faults())


@few
@given(parts())
def test_the_other_end_is_the_end_further_from_rest(drawn):
    mechanism, printer = mechanism_of({"parts": drawn}), Printer({"parts": drawn})
    for name in drawn:
        assert mechanism.laws[name].places[mechanism.far_end[name]] == printer.far_end(name)


def test_a_part_of_two_places_may_hang_half_way_and_one_of_more_may_not():
    assert "half-way" in {fault.mode for fault in faults_of(SALTMERE, "slide2")}
    assert "half-way" not in {fault.mode for fault in faults_of(SALTMERE, "lift_rack")}


def test_a_part_that_rests_between_its_ends_is_not_called_slow():
    assert not SLUGGISH & {fault.mode for fault in faults_of(SALTMERE, "turn")}
    assert {fault.mode for fault in faults_of(SALTMERE, "cam_rack")} > SLUGGISH


def test_a_part_can_come_loose_from_each_part_that_it_touches_and_from_no_other():
    loose = {f.input for f in faults_of(SALTMERE, "middle_stop") if f.mode == "disconnected"}
    assert loose == {"slide1", "slide3"}
    assert not any(fault.mode == "disconnected" for fault in faults_of(SALTMERE, "bar1"))


def test_every_mode_tells_the_bench_all_it_needs_and_what_can_hurt():
    for name, mode in MODES.items():
        assert mode.name == name
        for field in dataclasses.fields(mode):
            if field.name != "cured_by_oil":
                assert getattr(mode, field.name), (name, field.name)
        assert 0 <= mode.cured_by_oil < 1
        assert SAFE_TO_LOOK in mode.cautions


def test_sluggishness_is_commoner_than_anything_broken():
    # Common practice, no source.
    slow = [MODES[name].weight for name in SLUGGISH]
    others = [mode.weight for name, mode in MODES.items() if name not in SLUGGISH]
    assert min(slow) > max(others)


# -- pairs and hypotheses --------------------------------------------------------------------------


def test_pairs_are_all_sets_of_two_faults_but_for_two_places_of_one_part():
    singles = single_faults(SALTMERE)
    together = {
        frozenset((one, other))
        for one in singles
        for other in singles
        if one != other and (one.part != other.part or "disconnected" in (one.mode, other.mode))
    }
    pairs = list(iter_pairs(SALTMERE))
    assert {frozenset(pair) for pair in pairs} == together
    assert len(pairs) == len(together)


def test_every_pair_is_a_hypothesis_in_standard_order():
    for pair in iter_pairs(SALTMERE):
        assert hypothesis(SALTMERE, reversed(pair)) == pair


def test_a_hypothesis_says_each_fault_once():
    fault = Fault("slide2", "half-way")
    assert hypothesis(SALTMERE, [fault, fault]) == (fault,)
    assert hypothesis(SALTMERE, []) == ()


def test_a_part_may_be_stuck_and_have_come_loose_but_not_be_stuck_twice():
    loose = Fault("left_stop", "disconnected", "slide3")
    stuck = Fault("left_stop", "stuck at rest")
    assert hypothesis(SALTMERE, [stuck, loose]) == (loose, stuck)
    with pytest.raises(FaultError, match="left_stop is given two places"):
        hypothesis(SALTMERE, [stuck, Fault("left_stop", "slow to return")])


# -- what is refused -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fault", "says"),
    [
        (Fault("slyde2", "half-way"), "no part is called 'slyde2'. Did you mean slide2"),
        (Fault("slide2", "halfway"), "no mode is called 'halfway'. Did you mean half-way"),
        (Fault("lift_rack", "half-way"), "lift_rack cannot be 'half-way'. It can be: "),
        (Fault("turn", "slow to return"), "turn cannot be 'slow to return'"),
        (Fault("left_stop", "disconnected", "slide5"), "left_stop does not feel 'slide5'"),
        (Fault("left_stop", "disconnected", "slid3"), "does not feel 'slid3'. Did you mean slide3"),
        (Fault("left_stop", "disconnected"), "left_stop does not feel ''"),
        (Fault("bar1", "disconnected", "bar2"), "It follows no other part"),
        (Fault("slide2", "stuck at rest", "bar2"), "Leave 'bar2' out"),
    ],
)
def test_a_fault_that_the_machine_cannot_have_is_refused_with_what_it_can(fault, says):
    with pytest.raises(FaultError) as error:
        check(SALTMERE, fault)
    assert says in str(error.value)


def test_a_fault_that_the_machine_can_have_is_returned():
    for fault in single_faults(SALTMERE):
        assert check(SALTMERE, fault) is fault


def test_a_fault_is_said_in_words():
    assert str(Fault("slide2", "slow to return")) == "slide2 slow to return"
    assert str(Fault("left_stop", "disconnected", "slide2")) == "left_stop disconnected from slide2"
