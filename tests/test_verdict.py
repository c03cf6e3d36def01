"""Is my hypothesis right?  What contradicts it, who else explains the log, and what decides."""

import random

import pytest
from brute_force import Entry as Sent
from plain_runs import SALTMERE, plain, walk

import mechlogic
from mechlogic import Entry, Fault, FaultError, Logbook, judge
from mechlogic.bench.diagnosis import classes, every_single
from mechlogic.model.faults import single_faults
from mechlogic.model.logbook import NOTHING

MACHINE = mechlogic.load("saltmere")
LATE = (Fault("middle_stop", "slow to return"),)


def log_of(true, length=60, seed=0):
    rng = random.Random(seed)
    return Logbook(tuple(SALTMERE.type(plain(true), walk(rng)[:length], rng)))


@pytest.mark.parametrize("seed", range(8))
def test_a_true_hypothesis_is_not_contradicted_and_a_wrong_one_where_it_cannot_print_so(seed):
    rng = random.Random(seed)
    true, other = rng.sample(every_single(MACHINE), 2)
    log = log_of(true, 40, seed)
    assert judge(MACHINE, log, true).contradictions == ()
    verdict = judge(MACHINE, log, other)
    fewest = SALTMERE.fewest_misreadings(plain(other), log.entries)
    assert len(verdict.contradictions) == fewest
    without = [entry for t, entry in enumerate(log) if t not in verdict.contradictions]
    assert all(0 <= t < len(log) for t in verdict.contradictions)
    assert len(without) == len(log) - fewest


@pytest.mark.parametrize("faults", [(), LATE, (Fault("slide2", "half-way"),)], ids=str)
def test_the_predictions_are_what_can_be_printed(faults):
    log = log_of(LATE, 30)
    sent = [Sent(MACHINE.as_set(entry.sent)) for entry in log]
    found = [set(prints) for prints in judge(MACHINE, log, faults).predictions]
    assert found == SALTMERE.printer.possible_prints(sent, plain(faults))


def test_the_rivals_are_the_other_suspects_that_explain_every_entry():
    log = Logbook((Entry(ord("C"), "B"),))
    mine = (Fault("bar1", "stuck at rest"),)
    verdict = judge(MACHINE, log, mine)
    explaining = {
        members
        for members in map(frozenset, classes(MACHINE))
        if SALTMERE.explains(plain(next(iter(members))), log.entries) and mine not in members
    }
    parts = set(single_faults(MACHINE.mechanism))  # the rivals of the type are tested by themselves
    rivals = [frozenset(m for m in rival.members if set(m) <= parts) for rival in verdict.rivals]
    assert set(filter(None, rivals)) == explaining
    assert explaining


def test_what_no_print_can_tell_from_the_hypothesis_is_listed_with_it():
    mine = (Fault("shoulder", "stuck at rest"),)
    verdict = judge(MACHINE, log_of(mine), mine)
    own = next(members for members in classes(MACHINE) if mine in members)
    before_the_printer = {(Fault("bar2", "bit lost before the bar"),)}
    assert set(verdict.alike) == (set(own) | before_the_printer) - {mine}


def test_the_decider_tells_the_hypothesis_from_every_rival_likely_or_not():
    mine = (Fault("bar1", "stuck at rest"),)
    verdict = judge(MACHINE, Logbook((Entry(ord("C"), "B"),)), mine)
    assert verdict.decider is not None
    numbers = {number for split in verdict.decider.splits for number in split.suspects}
    assert numbers == set(range(1, len(verdict.rivals) + 2)), "the hypothesis is number 1"
    assert len(verdict.decider.splits) > 1


def test_there_is_nothing_to_decide_without_a_rival_or_for_a_contradicted_hypothesis():
    right = judge(MACHINE, log_of((Fault("bar1", "stuck at rest"),), 384), LATE)
    assert right.contradictions
    assert right.decider is None
    pair = (Fault("bar1", "stuck at rest"), Fault("bar3", "stuck operated"))
    alone = judge(MACHINE, log_of(pair, 384), pair)
    assert alone.contradictions == ()
    assert alone.rivals == ()
    assert alone.decider is None


def test_two_faults_at_once_can_be_judged():
    pair = (Fault("slide2", "slow to return"), Fault("left_stop", "slow to return"))
    log = log_of(pair, 24)
    verdict = judge(MACHINE, log, reversed(pair))  # in any order
    assert verdict.contradictions == ()
    assert set(verdict.account.faults) == set(pair)
    sent = [Sent(MACHINE.as_set(entry.sent)) for entry in log]
    sorted_pair = plain(verdict.account.faults)
    found = [set(prints) for prints in verdict.predictions]
    assert found == SALTMERE.printer.possible_prints(sent, sorted_pair)


def test_no_fault_at_all_is_a_hypothesis_too():
    healthy = Logbook((Entry(ord("A"), "A"), Entry(13, NOTHING)))
    verdict = judge(MACHINE, healthy, ())
    assert verdict.contradictions == ()
    assert verdict.predictions == (frozenset("A"), frozenset([NOTHING]))
    assert verdict.story.startswith("Nothing is wrong with the machine.")
    assert judge(MACHINE, Logbook((Entry(ord("A"), "Q"),)), ()).contradictions == (0,)


def test_the_story_is_that_of_the_hypothesis():
    verdict = judge(MACHINE, log_of(LATE), LATE)
    assert verdict.story.startswith("The middle stop lever comes back late")
    assert verdict.story.endswith("and no entry speaks against it.")


@pytest.mark.parametrize(
    ("fault", "says"),
    [
        (Fault("midle_stop", "half-way"), "Did you mean middle_stop"),
        (Fault("slide2", "slow to retrn"), "Did you mean slow to return"),
        (Fault("left_stop", "disconnected", "slide4"), "Did you mean slide3"),
        (Fault("bar1", "disconnected", "slide1"), "It follows no other part"),
        (Fault("turn", "half-way"), "turn cannot be 'half-way'. It can be: "),
    ],
    ids=str,
)
def test_a_hypothesis_that_this_machine_cannot_have_is_refused_with_near_names(fault, says):
    with pytest.raises(FaultError, match=says):
        judge(MACHINE, Logbook(), [fault])


def test_one_part_cannot_stand_at_two_places_at_once():
    fighting = [Fault("bail", "stuck at rest"), Fault("bail", "stuck operated")]
    with pytest.raises(FaultError, match="bail is given two places at once"):
        judge(MACHINE, Logbook(), fighting)
