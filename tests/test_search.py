"""Every smallest set of faults that explains a log: none missed, none too many."""

import random
from dataclasses import replace
from fractions import Fraction
from itertools import combinations

import pytest
from brute_force import AT_TIMES, read
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_runs import PRINTING, SALTMERE, Runs, logs_of, plain
from strategies import (
    descriptions,
    fault_sets,
    library,
    machine_of,
    renamed,
    renamed_fault,
)

import mechlogic
from mechlogic import Entry, Fault, Logbook
from mechlogic.bench.evidence import Evidence, account
from mechlogic.bench.search import candidates, look_further, minimal_sets
from mechlogic.machines import FOLDER
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.faults import BIT_LOST, UNKNOWN, hypothesis, iter_pairs
from mechlogic.model.logbook import NOTHING, UNREADABLE

fewer = settings(max_examples=settings().max_examples // 4)

MACHINE, WIND = mechlogic.load("saltmere"), mechlogic.load("wind")
WIND_RUNS = Runs(read(FOLDER / "wind.toml"))


# -- the slow and plain way ------------------------------------------------------------------------


def can_be_together(faults):
    """No part has two places of its own; it may have come loose besides."""
    own = [part for part, mode, _ in faults if not mode.startswith("disconnected")]
    return len(own) == len(set(own))


def plain_sets(singles, most):
    return [
        faults
        for size in range(most + 1)
        for faults in combinations(sorted(singles), size)
        if can_be_together(faults)
    ]


def plain_minimal(runs, entries, singles, most, misreadings=0):
    """Every set is tried, whatever was found before; then each is held against its own parts."""
    doubt = {
        frozenset(faults): runs.least_doubt(faults, entries) for faults in plain_sets(singles, most)
    }
    return {
        faults
        for faults, own in doubt.items()
        if own[0] <= misreadings and all(doubt[part] > own for part in doubt if part < faults)
    }


def found_by_search(machine, entries, singles, most, misreadings=0):
    log = Logbook(tuple(entries), machine.code)
    known = [fault for one in singles for fault in library([one])]
    found = minimal_sets(Evidence(machine, log), most, known, misreadings)
    assert list(found) == sorted(set(found), key=lambda faults: (len(faults), faults))
    return {frozenset(plain(faults)) for faults in found}


# -- found exactly ---------------------------------------------------------------------------------


def wind_log(rng, true, length, lies=0):
    """By hand, after gaps, smudged, clipped; and some entries that were not printed at all."""
    entries = []
    for entry in WIND_RUNS.type(true, rng.choices(range(4), k=length), rng):
        match rng.randrange(10):
            case 0:
                entry = replace(entry, driven="hand")
            case 1:
                entry = replace(entry, gap=rng.choice(("yes", "pause", "at once")))
            case 2:
                entry = replace(entry, printed=UNREADABLE)
            case 3:
                entry = replace(entry, clipped="left")
        entries.append(entry)
    for lie in rng.sample(range(length), min(lies, length)):
        entries[lie] = replace(entries[lie], printed=rng.choice(["N", "E", "S", "W", NOTHING]))
    return entries


@pytest.mark.parametrize("seed", range(12))
def test_on_the_wind_stamp_the_search_finds_every_minimal_set_and_no_other(seed):
    rng = random.Random(seed)
    singles = WIND_RUNS.printer.single_faults()
    true = rng.choice(plain_sets(singles, 2))
    entries = wind_log(rng, true, rng.choice((1, 3, 8, 20)), seed % 3)
    for misreadings in (0, 1, 2):
        found = found_by_search(WIND, entries, singles, 2, misreadings)
        assert found == plain_minimal(WIND_RUNS, entries, singles, 2, misreadings)


def test_left_to_itself_the_search_combines_all_the_steady_faults():
    entries = wind_log(random.Random(0), (("bar1", "stuck at rest", ""),), 6)
    log = Logbook(tuple(entries), WIND.code)
    assert {frozenset(plain(faults)) for faults in minimal_sets(Evidence(WIND, log))} == (
        plain_minimal(WIND_RUNS, entries, WIND_RUNS.printer.single_faults(), 2)
    )


def bars(number):
    return {
        f"bar{bit}": {"joint": "bit", "bit": bit, "stroke_mm": Fraction(4)}
        for bit in range(1, number + 1)
    }


def lever(joint, *inputs):
    touched = {"input": inputs[0]} if joint in ("follow", "withdraw") else {"inputs": list(inputs)}
    return {"joint": joint, **touched, "ratio": Fraction(1)}


def rack(base, shoulder):
    return {"joint": "half_step", "base": base, "shoulder": shoulder, "step_mm": Fraction(2)}


TINY = {
    "parts": {
        **bars(2),
        "lever": lever("either_pushes", "bar1", "bar2"),
        "rack": rack("lever", "bar2"),
    },
    "wheel": {"lift": "rack", "rows_mm": [0, 4, 6], "glyphs": ["A", "B", "C"]},
}


@pytest.mark.parametrize("seed", range(4))
def test_three_faults_at_once_on_a_tiny_machine(seed):
    rng, machine, runs = random.Random(seed), machine_of(TINY), Runs(TINY)
    singles = runs.printer.single_faults()
    true = rng.choice([faults for faults in plain_sets(singles, 3) if len(faults) == 3])
    entries = runs.type(true, rng.choices(range(4), k=7), rng)
    entries[4] = replace(entries[4], printed="A", gap="yes")
    for misreadings in (0, 1):
        found = found_by_search(machine, entries, singles, 3, misreadings)
        assert found == plain_minimal(runs, entries, singles, 3, misreadings)


@st.composite
def machines_faults_and_logs(draw):
    description = draw(descriptions())
    machine, runs = machine_of(description), Runs(description)
    every = [*runs.printer.single_faults(), *runs.printer.rarer_faults()]
    singles = draw(st.lists(st.sampled_from(every), min_size=1, max_size=7, unique=True))
    true = draw(st.sampled_from(plain_sets(singles, 2)))
    return machine, runs, singles, draw(logs_of(runs, true, machine.units))


@fewer
@given(machines_faults_and_logs(), st.integers(0, 2))
def test_on_a_random_machine_the_search_finds_every_minimal_set_and_no_other(drawn, misreadings):
    machine, runs, singles, entries = drawn
    found = found_by_search(machine, entries, singles, 2, misreadings)
    assert found == plain_minimal(runs, entries, singles, 2, misreadings)


@pytest.mark.parametrize("seed", range(6))
def test_on_saltmere_the_true_pair_is_found_or_a_part_that_explains_the_log_as_well(seed):
    rng = random.Random(seed)
    true = rng.choice(list(iter_pairs(MACHINE.mechanism)))
    entries = SALTMERE.type(plain(true), rng.choices(PRINTING, k=30), rng)
    lies = rng.sample(range(30), seed % 3)
    for lie in lies:
        entries[lie] = replace(entries[lie], printed=rng.choice("ABC"))
    evidence = Evidence(MACHINE, Logbook(tuple(entries)))
    found = minimal_sets(evidence, misreadings=len(lies))
    assert any(set(faults) <= set(true) for faults in found)
    for faults in rng.sample(found, min(10, len(found))):
        assert SALTMERE.fewest_misreadings(plain(faults), entries) <= len(lies)


# -- candidates ------------------------------------------------------------------------------------


@fewer
@given(st.data())
def test_candidates_are_all_that_explain_the_log_and_exact_where_the_code_settles_it(data):
    description = data.draw(descriptions())
    machine, runs = machine_of(description), Runs(description)
    several = data.draw(st.lists(fault_sets(runs.printer), min_size=1, max_size=6))
    entries = data.draw(logs_of(runs, data.draw(st.sampled_from(several)), machine.units))
    held_against_runs(machine, runs, several, entries)


def held_against_runs(machine, runs, several, entries):
    evidence = Evidence(machine, Logbook(tuple(entries), machine.code))
    for misreadings in range(3):
        kept = set(candidates(evidence, [library(faults) for faults in several], misreadings))
        for faults in map(library, several):
            fewest = runs.fewest_misreadings(plain(faults), entries)
            if Behaviour(machine, faults).settled:
                assert (faults in kept) == (fewest <= misreadings), faults
            elif fewest <= misreadings:
                assert faults in kept, faults


# Parts side by side and in series, one that two others touch, one that withdraws.
CHAINS = {
    "parts": {
        **bars(3),
        "first": lever("follow", "bar1"),
        "second": lever("either_pushes", "first", "bar2"),
        "third": lever("withdraw", "bar3"),
        "fourth": lever("all_clear", "third", "bar2"),
        "rack": rack("second", "fourth"),
        "hammer": lever("either_pushes", "bar1", "bar2", "bar3"),
    },
    "wheel": {
        "lift": "rack",
        "hammer": "hammer",
        "rows_mm": [0, 2, 4, 6],
        "glyphs": ["A", "B", "C", "D"],
    },
}
SLOW, LATE, LOOSE = "slow to return", "slow to operate", "disconnected"
SETTLED = {
    "side by side": (("second", SLOW, ""), ("fourth", LATE, "")),
    "side by side, one at times": (("second", SLOW + AT_TIMES, ""), ("fourth", LATE, "")),
    "both at times": (("second", SLOW + AT_TIMES, ""), ("fourth", LATE + AT_TIMES, "")),
    "half-way beside": (("fourth", "half-way", ""), ("second", SLOW, "")),
    "half-way behind": (("second", SLOW, ""), ("hammer", "half-way", "")),
    "free behind": (("rack", "unknown", ""), ("second", SLOW, "")),
    "loose": (("second", LOOSE, "first"), ("second", SLOW, "")),
    "loose beside, at times": (("fourth", LATE, ""), ("first", LOOSE + AT_TIMES, "bar1")),
    "bit lost before": (("bar2", "bit lost before the bar", ""), ("fourth", SLOW, "")),
}
UNSETTLED = {
    "in series": (("first", SLOW, ""), ("second", LATE, "")),
    "in series, the first at times": (("first", SLOW + AT_TIMES, ""), ("second", SLOW, "")),
    "half-way before": (("first", "half-way", ""), ("second", SLOW, "")),
    "half-way two before": (("bar1", "half-way", ""), ("second", LATE, "")),
    "bar of both half-way": (("bar2", "half-way", ""), ("second", LATE, "")),
    "free before": (("first", "unknown", ""), ("second", SLOW, "")),
    "loose at times": (("second", LOOSE + AT_TIMES, "first"), ("second", SLOW, "")),
    "both at times, on one part": (
        ("second", LOOSE + AT_TIMES, "bar2"),
        ("second", LATE + AT_TIMES, ""),
    ),
    "stuck before, at times": (("first", "stuck operated" + AT_TIMES, ""), ("second", SLOW, "")),
    "a slow bar of both": (("bar2", SLOW, ""), ("hammer", LATE, "")),
    "three": (("first", LATE, ""), ("second", SLOW, ""), ("fourth", "half-way", "")),
}


@pytest.mark.parametrize("name", [*SETTLED, *UNSETTLED])
def test_the_trust_in_the_code_before_is_never_misplaced(name):
    """Logs of the machine itself, and of chance; a start may be followed by many entries."""
    faults = {**SETTLED, **UNSETTLED}[name]
    machine, runs, rng = machine_of(CHAINS), Runs(CHAINS), random.Random(name)
    assert Behaviour(machine, library(faults)).settled == (name in SETTLED)
    for _ in range(40):
        gaps = rng.choice((0.0, 0.15, 0.5))
        entries = runs.type(faults, rng.choices(range(8), k=rng.choice((1, 2, 4, 8))), rng)
        for t, entry in enumerate(entries):
            if rng.random() < 0.2:
                entry = replace(entry, printed=rng.choice(["A", "B", "C", "D", NOTHING]))
            driven = "hand" if rng.random() < 0.2 else "speed"
            entries[t] = replace(
                entry,
                gap="yes" if rng.random() < gaps else rng.choice(("", "at once")),
                driven=driven,
            )
        held_against_runs(machine, runs, [faults], entries)
        found = found_by_search(machine, entries, faults, len(faults), 1)
        assert found == plain_minimal(runs, entries, faults, len(faults), 1)


# -- what must not matter --------------------------------------------------------------------------


def explaining(machine, entries, sets):
    evidence = Evidence(machine, Logbook(tuple(entries), machine.code))
    return {f for f in sets if account(evidence, Behaviour(machine, f)).consistent}


@pytest.mark.parametrize("seed", range(4))
def test_evidence_never_brings_back_a_set_that_it_has_ruled_out(seed):
    rng = random.Random(seed)
    true = rng.choice(plain_sets(WIND_RUNS.printer.single_faults(), 2))
    entries = wind_log(rng, true, 6, lies=seed % 2)
    sets = [library(f) for f in plain_sets(WIND_RUNS.printer.single_faults(), 2)]
    left = set(sets)
    for length in range(len(entries) + 1):
        now = explaining(WIND, entries[:length], sets)
        assert now <= left
        left = now


def test_a_set_can_be_minimal_that_was_not_so_before():
    """A stuck bar explains the first entry by itself, but not the second."""
    first = Entry(0b01, "N")  # bar 1 does not show
    second = Entry(0b10, "N")  # nor does bar 2
    stuck = [Fault("bar1", "stuck at rest"), Fault("bar2", "stuck at rest")]
    pair = hypothesis(WIND.mechanism, stuck)
    before, after = (
        minimal_sets(Evidence(WIND, Logbook(entries, WIND.code)))
        for entries in ((first,), (first, second))
    )
    assert pair[:1] in before
    assert pair not in before
    assert pair[:1] not in after
    assert pair in after


def test_a_log_without_a_misprint_needs_no_fault():
    for machine in (WIND, MACHINE):
        codes = [*machine.printing_codes, *machine.printing_codes][:40]
        entries = tuple(Entry(code, machine.good_print(code)) for code in codes)
        for misreadings in (0, 3):
            evidence = Evidence(machine, Logbook(entries, machine.code))
            assert minimal_sets(evidence, 2, misreadings=misreadings) == ((),)


def test_an_empty_log_needs_no_fault():
    found = minimal_sets(Evidence(MACHINE, Logbook()))
    assert found == ((),)
    several = [(), (Fault("slide1", "slow to return"),)]
    assert list(candidates(Evidence(MACHINE, Logbook()), several)) == several


@pytest.mark.parametrize("seed", range(4))
def test_the_names_of_the_parts_do_not_matter(seed):
    rng = random.Random(seed)
    names = list(CHAINS["parts"])
    others = rng.sample([f"p{number}" for number in range(len(names))], len(names))
    new = dict(zip(names, others, strict=True))
    runs = Runs(CHAINS)
    singles = runs.printer.single_faults()
    true = rng.choice(plain_sets(singles, 2))
    entries = runs.type(true, rng.choices(range(8), k=9), rng)
    found = found_by_search(machine_of(CHAINS), entries, singles, 2)
    singles = [renamed_fault(fault, new) for fault in singles]
    as_renamed = found_by_search(machine_of(renamed(CHAINS, new)), entries, singles, 2)
    assert as_renamed == {frozenset(renamed_fault(f, new) for f in faults) for faults in found}


@pytest.mark.parametrize("seed", range(4))
def test_the_order_of_stretches_between_gaps_does_not_matter(seed):
    rng = random.Random(seed)
    true = rng.choice(plain_sets(WIND_RUNS.printer.single_faults(), 2))
    stretches = []
    for _ in range(4):
        first, *others = WIND_RUNS.type(true, rng.choices(range(4), k=rng.choice((1, 3))), rng)
        stretches.append([replace(first, gap="yes"), *others])
    found = set()
    for _ in range(3):
        rng.shuffle(stretches)
        entries = tuple(entry for stretch in stretches for entry in stretch)
        evidence = Evidence(WIND, Logbook(entries, WIND.code))
        found.add(minimal_sets(evidence, 2, misreadings=1))
    assert len(found) == 1


# -- looking further -------------------------------------------------------------------------------


def consistent(diagnosis):
    return {faults for suspect in diagnosis.suspects for faults in suspect.members}


def test_looking_further_finds_a_pair_that_no_single_fault_explains():
    rng = random.Random(7)
    true = hypothesis(
        MACHINE.mechanism, [Fault("slide2", "slow to return"), Fault("left_stop", "stuck at rest")]
    )
    entries = SALTMERE.type(plain(true), rng.choices(PRINTING, k=50), rng)
    diagnosis = look_further(MACHINE, Logbook(tuple(entries)))
    left = consistent(diagnosis)
    assert true in left
    assert not any(len(faults) == 1 for faults in left)
    assert true in diagnosis.ranked[0].members


@pytest.mark.parametrize(
    "true",
    [
        Fault("near_plate", "stuck at rest", sometimes=True),
        Fault("bar4", BIT_LOST.name),
    ],
    ids=str,
)
def test_looking_further_finds_the_rarer_faults(true):
    rng = random.Random(8)
    entries = SALTMERE.type(plain((true,)), rng.choices(PRINTING, k=40), rng)
    assert (true,) in consistent(look_further(MACHINE, Logbook(tuple(entries)), most=1))


def test_looking_further_leaves_a_part_that_stands_anywhere_to_what_is_not_on_the_list():
    rng, true = random.Random(8), Fault("lift", UNKNOWN.name)
    entries = SALTMERE.type(plain((true,)), rng.choices(PRINTING, k=40), rng)
    diagnosis = look_further(MACHINE, Logbook(tuple(entries)))
    assert diagnosis.off_list > 0.5
    assert not any(fault.mode == UNKNOWN.name for s in diagnosis.ranked for fault in s.members[0])


def test_looking_further_with_misreadings_keeps_the_truth_that_one_wrong_entry_would_hide():
    rng = random.Random(9)
    true = hypothesis(
        MACHINE.mechanism, [Fault("slide1", "stuck at rest"), Fault("shoulder", "stuck operated")]
    )
    entries = SALTMERE.type(plain(true), rng.choices(PRINTING, k=30), rng)
    entries[5] = replace(entries[5], printed="N")  # misread
    assert look_further(MACHINE, Logbook(tuple(entries))).find(true) is None
    kinder = look_further(MACHINE, Logbook(tuple(entries)), misreadings=1)
    assert kinder.find(true) is kinder.ranked[0]
    assert kinder.ranked[0].misfits == (5,)
