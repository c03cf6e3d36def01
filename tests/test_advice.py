"""What to type next: worth what it says, for the reason it says, and it leads to the fault."""

import random
from collections import defaultdict
from math import log2

import pytest
from hypothesis import given, settings
from plain_runs import SALTMERE, Runs, chance_of, plain
from strategies import descriptions, machine_of

import mechlogic
from mechlogic import Entry, Fault, Logbook
from mechlogic.bench import diagnosis as library_diagnosis
from mechlogic.bench.advice import ENOUGH, MOST_SUSPECTS, Check, next_check, readable_codes
from mechlogic.bench.diagnosis import classes, every_single
from mechlogic.model.faults import HALF_WAY
from mechlogic.model.logbook import NOTHING

MACHINE = mechlogic.load("saltmere")
LONG = settings().max_examples > 1000
"""Whether this is the night's search: ``--hypothesis-profile=long``."""


def diagnose(machine, log, hypotheses=None):
    """The single faults of the parts, which the plain simulator knows too, and no others."""
    tried = every_single(machine) if hypotheses is None else hypotheses
    return library_diagnosis.diagnose(machine, log, tried)


# -- following it ----------------------------------------------------------------------------------


def follow_advice(true, seed, most=60):
    """Type what is advised into a machine with a fault, until there is no more advice."""
    rng = random.Random(seed)
    state, log = rng.choice(SALTMERE.states(plain(true))), Logbook()
    while (check := next_check(diagnosis := diagnose(MACHINE, log))) is not None:
        for code in check.codes:
            state, printed = rng.choice(SALTMERE.step(plain(true), code, False, state))
            log = log.adding(Entry(code, printed))
        assert len(log) <= most, f"still typing: {true}"
    return diagnosis


CLASSES = classes(MACHINE)
SOME = CLASSES if LONG else random.Random(0).sample(CLASSES, 26)


@pytest.mark.parametrize("members", SOME, ids=lambda members: str(*members[0]) or "healthy")
def test_following_the_advice_ends_in_the_class_of_the_true_fault(members):
    """A part that hangs half-way may happen to print well; then it is still among the suspects."""
    rng = random.Random(str(members))
    diagnosis = follow_advice(rng.choice(members), str(members))
    if any(fault.mode == HALF_WAY.name for faults in members for fault in faults):
        assert diagnosis.find(members[0]).consistent
    else:
        assert set(diagnosis.ranked[0].members) == set(members)
        assert diagnosis.ranked[0].consistent


def test_after_the_advice_has_been_followed_no_typing_would_say_more():
    """Of the suspects that are left, no two that are likely print anything differently."""
    true = (Fault("slide4", "stuck operated"),)
    diagnosis = follow_advice(true, 1)
    assert diagnosis.ranked[0].probability > 0.99
    assert true in diagnosis.ranked[0].members


# -- what it is worth ------------------------------------------------------------------------------


def runs_of(runs: Runs, faults, log, codes):
    """The chance of each run of prints for some codes, after a log: all runs written out."""
    ends = [((), state, 1.0) for state in runs.states(faults)]
    for entry in log:
        longer = defaultdict(float)
        for _, state, chance in ends:
            for one in runs.states(faults) if entry.gap == "yes" else [state]:
                found = runs.step(faults, entry.sent, entry.driven == "hand", one)
                for after, seen in found:
                    longer[after] += chance * chance_of(entry, seen) / len(found)
        ends = [((), state, chance) for state, chance in longer.items()]
    for code in codes:
        longer = []
        for prints, state, chance in ends:
            found = runs.step(faults, code, False, state)
            longer += [((*prints, seen), after, chance / len(found)) for after, seen in found]
        ends = longer
    total, chances = sum(chance for *_, chance in ends), defaultdict(float)
    for prints, _, chance in ends:
        chances[prints] += chance / total
    return chances


def information(runs: Runs, diagnosis, codes):
    """Mutual information of suspect and print, by its definition (Shannon 1948), in bits."""
    suspects = diagnosis.considered[:MOST_SUSPECTS]
    total = sum(suspect.probability for suspect in suspects)
    joint, of_print = {}, defaultdict(float)
    for suspect in suspects:
        weight = suspect.probability / total
        first = plain(suspect.members[0])
        for prints, chance in runs_of(runs, first, diagnosis.evidence.log, codes).items():
            joint[suspect.members[0], prints] = weight, weight * chance
            of_print[prints] += weight * chance
    return sum(
        p * log2(p / weight / of_print[prints]) for (_, prints), (weight, p) in joint.items()
    )


@settings(max_examples=settings().max_examples // 4)
@given(descriptions())
def test_the_gain_is_the_information_of_the_print_and_no_single_character_has_more(description):
    machine, runs = machine_of(description), Runs(description)
    rng = random.Random(str(description))
    codes = range(1 << machine.units)
    fault = rng.choice([(), *((one,) for one in runs.printer.single_faults())])
    log = Logbook(
        tuple(runs.type(fault, rng.choices(codes, k=rng.randrange(4)), rng)), machine.code
    )
    diagnosis = diagnose(machine, log)
    best = max(information(runs, diagnosis, [code]) for code in codes)
    check = next_check(diagnosis)
    if check is None:
        assert best < ENOUGH
    else:
        assert check.gain == pytest.approx(information(runs, diagnosis, check.codes), abs=1e-9)
        assert check.gain / len(check.codes) >= best - 1e-8


@pytest.mark.parametrize("seed", range(3))
def test_the_gain_on_saltmere_is_the_information_of_the_print(seed):
    rng = random.Random(seed)
    true = rng.choice(every_single(MACHINE))
    log = SALTMERE.type(plain(true), rng.choices(range(32, 96), k=seed + 1), rng)
    diagnosis = diagnose(MACHINE, Logbook(tuple(log)))
    check = next_check(diagnosis)
    assert check.gain == pytest.approx(information(SALTMERE, diagnosis, check.codes), abs=1e-9)


def of_two(one, other, *entries):
    return diagnose(MACHINE, Logbook(entries), [one, other])


def test_a_fair_split_of_two_suspects_is_worth_one_bit():
    # Two modes of one weight, and no entry yet; one print is right and the other wrong.
    one, other = (Fault("bar1", "stuck at rest"),), (Fault("bar1", "stuck operated"),)
    check = next_check(of_two(one, other))
    assert check.gain == pytest.approx(1)
    assert [split.probability for split in check.splits] == pytest.approx([0.5, 0.5])


def test_a_sluggish_part_takes_two_characters_to_show():
    """First one that operates it, then one that does not: no single character tells."""
    late, healthy = (Fault("middle_stop", "slow to return"),), ()
    b1, b3 = 1, 4
    start = Entry(ord("@"), "@")  # the last character left the lever at rest
    check = next_check(of_two(late, healthy, Entry(ord("@"), "@"), start))
    first, second = check.codes
    assert first & (b1 | b3)
    assert not second & (b1 | b3)
    assert {split.suspects for split in check.splits} == {(1,), (2,)}
    late_print = runs_of(SALTMERE, plain(late), [start], check.codes)
    assert set(late_print) <= {split.prints for split in check.splits}


# -- when there is none ------------------------------------------------------------------------


def test_there_is_no_advice_where_nothing_can_be_separated():
    slide, bar = (Fault("slide3", "stuck at rest"),), (Fault("bar3", "stuck at rest"),)
    assert next_check(of_two(slide, bar)) is None
    assert next_check(diagnose(MACHINE, Logbook(), [()])) is None
    assert next_check(diagnose(MACHINE, Logbook(), [])) is None


def test_where_no_suspect_is_left_the_doubtful_ones_are_weighed():
    entries = (Entry(ord("A"), "Z"), Entry(ord("A"), "Q"), Entry(ord("B"), "?"))
    diagnosis = diagnose(MACHINE, Logbook(entries))
    assert not diagnosis.suspects
    check = next_check(diagnosis)
    assert check.gain == pytest.approx(information(SALTMERE, diagnosis, check.codes), abs=1e-9)


# -- how it is said ----------------------------------------------------------------------------


def advice_on(*entries) -> tuple[Check, int]:
    diagnosis = diagnose(MACHINE, Logbook(entries))
    return next_check(diagnosis), len(diagnosis.suspects)


def test_the_reason_names_the_prints_and_the_suspects_that_they_point_to():
    check, n_suspects = advice_on(Entry(ord("C"), "B"), Entry(ord("M"), "L"))
    assert check.reason.startswith(f"It splits {n_suspects} suspects ")
    for split in check.splits[:4]:
        assert f"{' '.join(split.prints)} points to suspect" in check.reason
        assert str(split.suspects[0]) in check.reason


def test_the_splits_name_every_suspect_and_their_chances_add_up():
    check, n_suspects = advice_on(Entry(ord("C"), "B"))
    chances = [split.probability for split in check.splits]
    assert {number for split in check.splits for number in split.suspects} == set(
        range(1, n_suspects + 1)
    )
    assert sum(chances) == pytest.approx(1)
    assert chances == sorted(chances, reverse=True)


def test_each_split_is_what_its_suspects_would_print():
    diagnosis = diagnose(MACHINE, Logbook((Entry(ord("C"), "B"),)))
    check = next_check(diagnosis)
    for number, suspect in enumerate(diagnosis.suspects, 1):
        for faults in suspect.members:
            found = runs_of(SALTMERE, plain(faults), diagnosis.evidence.log, check.codes)
            assert set(found) == {s.prints for s in check.splits if number in s.suspects}


def test_letters_and_digits_are_advised_before_signs_and_no_code_that_prints_nothing():
    codes = readable_codes(MACHINE)
    prints = [MACHINE.good_print(code) for code in codes]
    assert len(prints) == len(set(prints)) == 56
    assert NOTHING not in prints
    assert all(print_.isalnum() for print_ in prints[:36])
    assert not any(print_.isalnum() for print_ in prints[36:])


def test_the_same_log_brings_the_same_advice():
    one, other = (advice_on(Entry(ord("R"), "V")) for _ in range(2))
    assert one == other
