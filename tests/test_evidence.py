"""A log held against one hypothesis: exact chances, fewest misreadings, a run to show for it."""

import random
from dataclasses import replace
from math import exp

import pytest
from brute_force import Entry as Sent
from hypothesis import given
from hypothesis import strategies as st
from plain_runs import (
    AS_PRINTED,
    CAME_HOME,
    LESS_WELL,
    MISREAD,
    PERHAPS,
    SALTMERE,
    Runs,
    logs_of,
    plain,
)
from strategies import descriptions, fault_sets, few, library, machine_of

import mechlogic
from mechlogic import Behaviour, Entry, Fault, Logbook
from mechlogic.bench import evidence
from mechlogic.bench.evidence import Evidence, account, predictions
from mechlogic.model.faults import hypothesis, iter_pairs
from mechlogic.model.logbook import NOTHING, UNREADABLE

MACHINE = mechlogic.load("saltmere")


@st.composite
def machines_faults_and_logs(draw):
    """A log that a machine with one or two faults made, with a lie here and there."""
    description = draw(descriptions())
    machine, runs = machine_of(description), Runs(description)
    faults = draw(fault_sets(runs.printer))
    entries = draw(logs_of(runs, draw(st.sampled_from([(), faults])), machine.units, most=5))
    return machine, runs, faults, Logbook(tuple(entries), machine.code)


def held(machine, log, faults):
    return account(Evidence(machine, log), Behaviour(machine, library(faults)))


def test_the_chances_are_those_that_are_documented():
    assert pytest.approx(AS_PRINTED) == 1 - evidence.MISREADING - evidence.SMUDGE
    assert pytest.approx(LESS_WELL) == evidence.SMUDGE
    assert pytest.approx(MISREAD) == evidence.MISREADING / evidence.OTHER_PRINTS


@few
@given(machines_faults_and_logs())
def test_the_chance_of_a_log_is_that_of_all_runs_that_print_it(drawn):
    machine, runs, faults, log = drawn
    told = held(machine, log, faults)
    assert exp(told.log_likelihood) == pytest.approx(runs.likelihood(faults, log.entries), rel=1e-9)


@few
@given(machines_faults_and_logs())
def test_the_misfits_are_as_few_as_any_run_allows(drawn):
    machine, runs, faults, log = drawn
    told = held(machine, log, faults)
    assert len(told.misfits) == runs.fewest_misreadings(faults, log.entries)
    assert told.cost == runs.least_doubt(faults, log.entries)
    assert told.consistent == runs.explains(faults, log.entries)


@few
@given(machines_faults_and_logs())
def test_the_path_is_a_run_that_the_machine_can_make_and_fits_all_but_the_misfits(drawn):
    machine, runs, faults, log = drawn
    behaviour = Behaviour(machine, library(faults))
    told = account(Evidence(machine, log), behaviour)
    assert len(told.path) == len(log)
    states = [
        tuple(
            runs.printer.places[part][place]
            for part, place in zip(behaviour.remembering, world.memory, strict=True)
        )
        for world in told.path
    ]

    def next_ones(entry, state):
        return [one for one, _ in runs.found_by(faults, entry, state, PERHAPS)]

    for t, entry in enumerate(log):
        settles_next = t + 1 < len(log) and log.entries[t + 1].gap != "yes"
        assert any(
            (runs.chance_of(entry, printed) == MISREAD) == (t in told.misfits)
            and (not settles_next or states[t + 1] in next_ones(log.entries[t + 1], after))
            for after, printed in runs.step(faults, entry.sent, entry.driven == "hand", states[t])
        ), f"no way through entry {t + 1}"


@few
@given(machines_faults_and_logs())
def test_the_predictions_are_everything_that_can_be_printed(drawn):
    machine, runs, faults, log = drawn
    found = predictions(Evidence(machine, log), Behaviour(machine, library(faults)))
    sent = [Sent(e.sent, e.driven, e.gap == "yes", e.gap == "pause") for e in log]
    assert [set(prints) for prints in found] == runs.printer.possible_prints(sent, faults)


@few
@given(machines_faults_and_logs())
def test_the_belief_is_the_chance_of_each_memory_once_the_log_is_known(drawn):
    """Bayes over all runs: one more entry, fitting one memory at a time, would show it."""
    machine, runs, faults, log = drawn
    told = held(machine, log, faults)
    assert sum(told.belief.values()) == pytest.approx(1)
    assert told.belief == pytest.approx(_belief(runs, faults, log.entries), rel=1e-9)


def _belief(runs, faults, entries):
    """Every run of the machine written out, each with its chance."""
    ends = [(None, 1.0, home) for home in CAME_HOME]
    for entry in entries:
        longer = []
        for state, chance, home in ends:
            for one, share in runs.found_by(faults, entry, state, home):
                found = runs.step(faults, entry.sent, entry.driven == "hand", one)
                for after, printed in found:
                    own = chance * share * runs.chance_of(entry, printed) / len(found)
                    longer.append((after, own, home))
        ends = longer
    if not entries:
        ends = [(state, 1.0, None) for state in runs.states(faults)]
    total, belief = sum(chance for _, chance, _ in ends), {}
    remembering = runs.printer.remembering(faults)
    for state, chance, _ in ends:
        places = zip(remembering, state, strict=True)
        memory = tuple(runs.printer.places[part].index(place) for part, place in places)
        belief[memory] = belief.get(memory, 0) + chance / total
    return belief


# -- Saltmere, entry by entry --------------------------------------------------------------------


def told_by(faults, *entries):
    return account(Evidence(MACHINE, Logbook(entries)), Behaviour(MACHINE, faults))


def test_pairs_of_sluggish_parts_in_series_are_followed_exactly():
    rng = random.Random(4)
    pairs = [pair for pair in iter_pairs(MACHINE.mechanism) if not Behaviour(MACHINE, pair).settled]
    for pair in rng.sample(pairs, 12):
        entries = SALTMERE.type(plain(pair), rng.choices(range(128), k=5), rng)
        told = told_by(pair, *entries)
        assert told.consistent
        chance = SALTMERE.likelihood(plain(pair), entries)
        assert exp(told.log_likelihood) == pytest.approx(chance, rel=1e-9)


def test_the_code_before_settles_what_is_remembered_unless_something_behind_it_is_unsure():
    def settled(*faults):
        return Behaviour(MACHINE, hypothesis(MACHINE.mechanism, faults)).settled

    late = Fault("middle_stop", "slow to return")
    assert settled()
    assert settled(late)
    assert settled(late, Fault("slide4", "slow to operate"))  # in another chain
    assert settled(late, Fault("slide3", "stuck at rest"))
    assert settled(late, Fault("left_stop", "half-way"))  # beside it, not behind it
    assert not settled(late, Fault("slide3", "slow to return"))
    assert not settled(late, Fault("bar1", "half-way"))


def test_an_unreadable_entry_fits_any_character_but_not_a_blank():
    assert told_by((), Entry(ord("A"), UNREADABLE)).consistent
    assert not told_by((), Entry(ord(" "), UNREADABLE)).consistent
    assert not told_by((), Entry(13, UNREADABLE)).consistent


def test_a_clipped_entry_fits_a_wheel_between_two_characters():
    between = (Fault("half_turn", "stuck at rest"),)
    code = ord("A")  # half a turn back; held, the wheel stays between two columns
    assert SALTMERE.step(plain(between), code, False, ()) == [((), UNREADABLE)]
    assert told_by(between, Entry(code, "A", clipped="left")).consistent
    assert not told_by(between, Entry(code, "A")).consistent


def test_a_printed_blank_and_nothing_printed_are_the_same_to_the_eye():
    blank, nothing = (told_by((), Entry(ord(" "), printed)) for printed in (" ", NOTHING))
    assert blank == nothing
    assert blank.consistent


def test_an_empty_log_says_nothing():
    late = (Fault("slide1", "slow to return"),)
    told = told_by(late)
    assert (told.misfits, told.log_likelihood, told.path) == ((), 0, ())
    assert told.belief == {(0,): 0.5, (1,): 0.5}


# -- the time between two entries ------------------------------------------------------------------

LATE = (Fault("slide1", "slow to return"),)


def typed(gaps):
    """A log of a late part, which comes home in every pause; what is noted of them is not said."""
    rng, entries, state = random.Random(3), [], SALTMERE.states(plain(LATE))[0]
    for code, paused in zip(rng.choices(range(0x28, 0x60), k=len(gaps)), gaps, strict=True):
        if paused:
            _, state = max(SALTMERE.printer.rested(plain(LATE), state))
        state, printed = rng.choice(SALTMERE.step(plain(LATE), code, False, state))
        entries.append(Entry(code, printed))
    return entries


def noted(entries, *gaps):
    return told_by(LATE, *(replace(e, gap=gap) for e, gap in zip(entries, gaps, strict=True)))


def test_a_pause_lets_a_late_part_come_home_and_no_log_of_it_contradicts_it():
    pauses = [False, True, False, False, True, True, False, False, True, False] * 4
    entries = typed(pauses)
    said = ["pause" if paused else "at once" for paused in pauses]
    assert not noted(entries, *["at once"] * len(pauses)).consistent
    assert noted(entries, *said).consistent


def test_typed_at_once_a_late_part_is_still_out():
    entries = typed([False] * 40)
    at_once, not_noted, pauses = (noted(entries, *[gap] * 40) for gap in ("at once", "", "pause"))
    assert at_once.consistent
    assert at_once.log_likelihood > pauses.log_likelihood
    assert at_once == not_noted, "what nobody noted counts as typed at once"


def test_nothing_but_a_sluggish_part_minds_a_pause():
    entries = typed([False, True] * 10)
    for faults in ((), (Fault("slide1", "stuck operated"),), (Fault("slide1", "half-way"),)):
        told = [
            told_by(faults, *(replace(e, gap=gap) for e in entries)) for gap in ("at once", "pause")
        ]
        assert told[0] == told[1]
