"""From log to suspects: what the brute force says explains a log, no more and no less."""

import random
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_runs import ALL_CODES, PRINTING, SALTMERE, Runs, logs_of, plain, transitions, walk
from spare_bar import with_spare_bar
from strategies import descriptions, fault_sets, few, library, machine_of

import mechlogic
from mechlogic import Entry, Fault, FaultError, Logbook
from mechlogic.bench import diagnosis as library_diagnosis
from mechlogic.bench.diagnosis import classes, every_single, prior, signature
from mechlogic.model.codes import FIVE_UNIT
from mechlogic.model.faults import HALF_WAY, MODES, iter_pairs
from mechlogic.model.logbook import UNREADABLE

MACHINE = mechlogic.load("saltmere")


def diagnose(machine, log, hypotheses=None):
    """The single faults of the parts, which the plain simulator knows too, and no others."""
    tried = every_single(machine) if hypotheses is None else hypotheses
    return library_diagnosis.diagnose(machine, log, tried)


def class_of(faults):
    return next(members for members in classes(MACHINE) if faults in members)


@st.composite
def machines_with_logs(draw):
    description = draw(descriptions())
    machine, runs = machine_of(description), Runs(description)
    fault = draw(st.sampled_from([(), *((one,) for one in runs.printer.single_faults())]))
    entries = draw(logs_of(runs, fault, machine.units))
    return machine, runs, Logbook(tuple(entries), machine.code)


# -- what explains a log -----------------------------------------------------------------------


@few
@given(machines_with_logs())
def test_the_suspects_of_a_random_machine_are_exactly_the_faults_that_explain_the_log(drawn):
    machine, runs, log = drawn
    diagnosis = diagnose(machine, log)
    tried = [(), *((fault,) for fault in runs.printer.single_faults())]
    for faults in tried:
        suspect = diagnosis.find(library(faults))
        fewest = runs.fewest_misreadings(faults, log.entries)
        assert len(suspect.misfits) == fewest, faults
        assert (suspect in diagnosis.suspects) == (fewest == 0), faults
    assert sum(len(suspect.members) for suspect in diagnosis.ranked) == len(tried)


@pytest.mark.parametrize("seed", range(6))
def test_the_suspects_of_saltmere_are_exactly_the_faults_that_explain_the_log(seed):
    rng = random.Random(seed)
    true = rng.choice(every_single(MACHINE))
    entries = SALTMERE.type(plain(true), rng.choices(PRINTING, k=6), rng)
    entries[2] = Entry(entries[2].sent, UNREADABLE, gap="yes")
    entries[4] = Entry(entries[4].sent, entries[4].printed, clipped="top")
    diagnosis = diagnose(MACHINE, Logbook(tuple(entries)))
    explaining = {
        faults for faults in every_single(MACHINE) if SALTMERE.explains(plain(faults), entries)
    }
    assert {faults for suspect in diagnosis.suspects for faults in suspect.members} == explaining


@pytest.mark.parametrize("part", MACHINE.mechanism.parts)
def test_a_log_that_covers_the_codes_and_their_changes_leads_to_the_fault_that_made_it(part):
    rng = random.Random(part)
    for fault in (f for (f,) in every_single(MACHINE)[1:] if f.part == part):
        codes = walk(rng)
        assert {(code, code) for code in ALL_CODES} <= transitions(codes)
        log = SALTMERE.type(plain((fault,)), codes, rng)
        diagnosis = diagnose(MACHINE, Logbook(tuple(log)))
        assert any((fault,) in suspect.members for suspect in diagnosis.suspects), str(fault)
        if fault.mode != HALF_WAY.name:
            assert diagnosis.ranked[0].members[0] in class_of((fault,)), str(fault)


def test_a_log_without_a_misprint_speaks_for_a_healthy_printer():
    rng = random.Random(1)
    for codes in ([], [65], walk(rng), rng.sample(PRINTING, 56)):
        log = Logbook(tuple(Entry(code, MACHINE.good_print(code)) for code in codes))
        first = diagnose(MACHINE, log).ranked[0]
        assert () in first.members
        assert first.consistent


@settings(max_examples=settings().max_examples // 5)
@given(machines_with_logs(), st.data())
def test_more_entries_never_bring_a_suspect_back(drawn, data):
    machine, _, log = drawn
    length = data.draw(st.integers(0, len(log)))
    shorter = Logbook(log.entries[:length], machine.code)
    fewer, more = (
        {faults for suspect in diagnose(machine, one).suspects for faults in suspect.members}
        for one in (log, shorter)
    )
    assert fewer <= more


def test_a_log_that_no_single_fault_explains_ranks_all_with_the_fewest_misreadings():
    entries = [Entry(ord("A"), "Z"), Entry(ord("A"), "Q"), Entry(ord("B"), "?"), Entry(67, "C")]
    diagnosis = diagnose(MACHINE, Logbook(tuple(entries)))
    assert diagnosis.suspects == ()
    assert len(diagnosis.ranked) == len(classes(MACHINE))
    for suspect in diagnosis.ranked:
        for faults in suspect.members:
            fewest = SALTMERE.fewest_misreadings(plain(faults), entries)
            assert len(suspect.misfits) == fewest > 0, faults


def test_a_misreading_here_and_there_leaves_the_true_fault_likeliest():
    rng = random.Random(3)
    true = (Fault("slide5", "slow to return"),)
    log = SALTMERE.type(plain(true), walk(rng), rng)
    for lie in rng.sample(range(len(log)), 3):
        log[lie] = Entry(log[lie].sent, "?" if log[lie].printed != "?" else "=")
    first = diagnose(MACHINE, Logbook(tuple(log))).ranked[0]
    assert true in first.members
    assert len(first.misfits) == 3


# -- ranking -----------------------------------------------------------------------------------


def test_probabilities_add_up_and_fall():
    log = Logbook((Entry(ord("R"), "W"),))
    ranked = diagnose(MACHINE, log).ranked
    chances = [suspect.probability for suspect in ranked]
    assert sum(chances) == pytest.approx(1)
    assert chances == sorted(chances, reverse=True)


def test_without_a_log_the_commoner_modes_come_first():
    """Healthy before all, then by the weights of the modes; a class has its members' weights."""
    for suspect in diagnose(MACHINE, Logbook()).ranked:
        assert [prior(faults) for faults in suspect.members] == sorted(
            map(prior, suspect.members), reverse=True
        )
    assert prior(()) > max(mode.weight for mode in MODES.values())


def test_a_fault_that_comes_and_goes_is_believed_a_quarter_as_soon_as_one_that_stays():
    stays, comes = (Fault("slide1", "stuck at rest", sometimes=often) for often in (False, True))
    diagnosis = diagnose(MACHINE, Logbook(), [(stays,), (comes,)])
    one, other = (diagnosis.find((fault,)).probability for fault in (stays, comes))
    assert one == pytest.approx(4 * other)


def test_two_faults_at_once_are_met_about_a_sixth_as_often_as_one():
    singles = sum(map(prior, every_single(MACHINE)[1:]))
    pairs = sum(map(prior, iter_pairs(MACHINE.mechanism)))
    assert 1 / 7 < pairs / singles < 1 / 5


def test_only_the_hypotheses_asked_for_are_tried():
    pair = (Fault("bar1", "stuck at rest"), Fault("bar3", "stuck operated"))
    diagnosis = diagnose(MACHINE, Logbook((Entry(65, "A"),)), [(), pair])
    assert {faults for s in diagnosis.ranked for faults in s.members} == {(), pair}
    assert diagnosis.find((Fault("bar2", "stuck at rest"),)) is None


# -- classes -----------------------------------------------------------------------------------

# No bit, one bit, that one and bit 6, or all but those: enough to tell all of its classes apart.
FEW_BITS = {0, *(1 << bit for bit in range(7)), *(1 << bit | 1 << 5 for bit in range(7))}
TELLING = [code ^ other for code in FEW_BITS for other in (0, 0x7F)]


def test_classes_are_what_prints_can_tell_apart():
    """One class: no pair of the sampled codes tells its members apart, by hand or at speed.

    Two classes: some pair of codes does, or turning by hand.
    """
    by_look = {}
    for faults in every_single(MACHINE):
        by_look.setdefault(SALTMERE.look(plain(faults), TELLING), set()).add(faults)
    assert {frozenset(members) for members in by_look.values()} == {
        frozenset(members) for members in classes(MACHINE)
    }


def classes_by_trying_texts(machine, runs, hypotheses):
    """Sets of faults in one class show the same in every text of eight characters, and by hand."""
    found = {}
    for faults in hypotheses:
        shown = runs.can_show(faults, range(len(machine.code)), 8)
        found.setdefault(shown, set()).add(library(faults))
    return {frozenset(members) for members in found.values()}


@few
@given(descriptions(bits=(2, 3), most=6))
def test_classes_of_a_random_machine_are_what_texts_can_tell_apart(description):
    """Latches and all: the machine may stand anywhere before, so the first character tells too."""
    machine, runs = machine_of(description), Runs(description)
    singles = [(), *((fault,) for fault in runs.printer.single_faults())]
    assert classes_by_trying_texts(machine, runs, singles) == {
        frozenset(members) for members in classes(machine)
    }


@few
@given(st.data())
def test_two_faults_and_rarer_ones_have_one_signature_just_when_no_text_tells_them_apart(data):
    description = data.draw(descriptions(bits=(2, 3), most=6))
    machine, runs = machine_of(description), Runs(description)
    several = data.draw(st.lists(fault_sets(runs.printer, rarer=True), min_size=8, max_size=8))
    singles = [(), *((fault,) for fault in runs.printer.single_faults())]
    by_signature = {}
    for faults in (*singles, *several):
        known = library(faults)
        by_signature.setdefault(signature(machine, known), set()).add(known)
    assert classes_by_trying_texts(machine, runs, (*singles, *several)) == {
        frozenset(members) for members in by_signature.values()
    }


def test_what_only_the_first_character_can_show_sets_a_class_apart():
    """No code ever draws the lift out, but nobody knows where it stood before the first entry."""
    four, one = Fraction(4), Fraction(1)
    description = {
        "parts": {
            "bar1": {"joint": "bit", "bit": 1, "stroke_mm": four},
            "bar2": {"joint": "bit", "bit": 2, "stroke_mm": four},
            "back": {"joint": "withdraw", "input": "bar1", "ratio": one},
            "lift": {"joint": "all_clear", "inputs": ["bar1", "back"], "ratio": one},
        },
        "wheel": {"lift": "lift", "rows_mm": [Fraction(0), four], "glyphs": ["A", "B"]},
    }
    machine, late = machine_of(description), (Fault("lift", "slow to return"),)
    log = Logbook((Entry(0, "B"),), machine.code)
    assert Runs(description).explains(plain(late), log.entries)
    assert not any(() in suspect.members for suspect in diagnose(machine, log).suspects)
    assert diagnose(machine, log).find(late).consistent


def test_what_no_part_touches_is_in_one_class_with_the_healthy_machine():
    alike = next(members for members in classes(with_spare_bar(MACHINE)) if () in members)
    assert {fault.part for faults in alike for fault in faults} == {"bar8"}
    assert class_of(()) == ((),)


def test_a_dead_link_a_stuck_part_and_a_stuck_follower_print_alike():
    dead = class_of((Fault("half_turn", "stuck at rest"),))
    assert (Fault("slide7", "disconnected", "bar7"),) in dead
    assert (Fault("slide7", "stuck at rest"),) in dead


# -- what is refused -----------------------------------------------------------------------------


def test_a_part_that_is_not_there_is_refused_with_near_names():
    with pytest.raises(FaultError, match="Did you mean slide5"):
        diagnose(MACHINE, Logbook(), [(Fault("slide55", "half-way"),)])


def test_a_log_in_another_code_is_refused():
    log = Logbook((Entry(1, "E"),), FIVE_UNIT)
    with pytest.raises(ValueError, match=r"five-unit code.*seven-unit code.*machine\.code"):
        diagnose(MACHINE, log)


# -- who is considered ---------------------------------------------------------------------------


def test_what_is_likely_is_considered_though_an_entry_is_misread():
    """A wheel that stands anywhere at all explains every log, and explains none well."""
    true = (Fault("slide5", "stuck at rest"),)
    anything = (Fault("lift", "unknown"), Fault("turn", "unknown"))
    log = SALTMERE.type(plain(true), PRINTING, random.Random(3))
    log[7] = Entry(log[7].sent, "A")
    diagnosis = diagnose(MACHINE, Logbook(tuple(log)), [*every_single(MACHINE), anything])
    assert [suspect.members for suspect in diagnosis.suspects] == [(anything,)]
    first, second = diagnosis.considered
    assert true in first.members and first.misfits == (7,)
    assert second is diagnosis.suspects[0]


def test_where_nothing_explains_every_entry_all_are_considered():
    entries = (Entry(ord("A"), "Z"), Entry(ord("A"), "Q"), Entry(ord("B"), "?"))
    diagnosis = diagnose(MACHINE, Logbook(entries))
    assert diagnosis.considered == diagnosis.ranked
