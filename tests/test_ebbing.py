"""The Ebbing printer, whose shift remembers: logs, suspects, advice and texts against the runs."""

import random
from fractions import Fraction
from itertools import combinations
from math import exp

import pytest
from brute_force import read
from plain_runs import PERHAPS, Runs, plain
from test_testcards import chance_by_trying_every_run

import mechlogic
from mechlogic import Behaviour, Entry, Fault, Logbook
from mechlogic.acceptance.coverage import chance_shown, coverage
from mechlogic.acceptance.testcards import smallest_sequence
from mechlogic.bench.advice import next_check
from mechlogic.bench.diagnosis import diagnose, signature
from mechlogic.bench.evidence import Evidence, account, predictions
from mechlogic.bench.search import minimal_sets
from mechlogic.describing.description import parse
from mechlogic.machines import FOLDER
from mechlogic.model.faults import BY_CHANCE, UNKNOWN, rarer_faults, single_faults

MACHINE = mechlogic.load("ebbing")
RUNS = Runs(read(FOLDER / "ebbing.toml"))
CODE = MACHINE.code
TELLING = [CODE.parse(name) for name in ("FIGS", "LTRS", "SP", "Q", "J", "D", "CR", "E")]

# What follows a half-way code bar is 31 pull bars: too many ways to write out one by one.
FAULTS = [
    fault
    for fault in (*single_faults(MACHINE.mechanism), *rarer_faults(MACHINE.mechanism))
    if not (fault.mode in BY_CHANCE and fault.part in MACHINE.mechanism.bars)
]


def log_of(*entries):
    return Logbook(tuple(entries), CODE)


def sent(name, printed, **how):
    return Entry(CODE.parse(name), printed, **how)


def random_log(rng, faults, length):
    """Gaps, hand turns and lies, from any start: many a log begins in figures."""
    state, entries = rng.choice(RUNS.states(faults)), []
    for _ in range(length):
        gap, driven = (
            rng.choice(("", "pause", "at once", "at once", "yes")),
            rng.choice(("speed", "speed", "speed", "hand")),
        )
        code = rng.choice([*TELLING, rng.randrange(32)])
        state, _ = rng.choice(RUNS.found_by(faults, Entry(code, "A", gap=gap), state, PERHAPS))
        state, printed = rng.choice(RUNS.step(faults, code, driven == "hand", state))
        if rng.random() < 0.1:
            printed = rng.choice(("A", "1", "nothing", "unreadable", "CR"))
        entries.append(Entry(code, printed, driven, gap=gap))
    return entries


def random_faults(rng):
    while True:
        some = tuple(sorted(rng.sample(FAULTS, rng.choice((1, 1, 2)))))
        own = [fault.part for fault in some if fault.mode != "disconnected"]
        by_chance = [f for f in some if f.mode in BY_CHANCE or f.mode == UNKNOWN.name]
        if len(own) == len(set(own)) and len(by_chance) < 2:
            return some


@pytest.mark.parametrize("seed", range(12))
def test_any_fault_is_held_against_a_log_as_all_its_runs_are(seed):
    rng = random.Random(seed)
    for _ in range(5):
        faults = random_faults(rng)
        entries = random_log(rng, plain(faults), 9)
        evidence, behaviour = Evidence(MACHINE, log_of(*entries)), Behaviour(MACHINE, faults)
        told = account(evidence, behaviour)
        chance = RUNS.likelihood(plain(faults), entries)
        assert exp(told.log_likelihood) == pytest.approx(chance, rel=1e-9)
        assert told.cost == RUNS.least_doubt(plain(faults), entries)


@pytest.mark.parametrize("part", ["shift", "unshift", "pull_figures", "bell", "pull_j"])
def test_the_suspects_are_the_faults_that_have_a_run_like_the_log(part):
    rng = random.Random(part)
    true = rng.choice([fault for fault in FAULTS if fault.part == part])
    entries = RUNS.type(plain((true,)), rng.choices(TELLING, k=9), rng)
    singles = [f for f in FAULTS if f in set(single_faults(MACHINE.mechanism)) or f == true]
    some = [true, *rng.sample(singles, 60)]
    diagnosis = diagnose(MACHINE, log_of(*entries), [(fault,) for fault in some])
    found = {fault for suspect in diagnosis.suspects for (fault,) in suspect.members}
    assert found == {f for f in some if RUNS.explains(plain((f,)), entries)}
    assert true in found
    searched = minimal_sets(diagnosis.evidence, 1, some)
    assert searched == ((),) or {fault for (fault,) in searched} == found


def test_a_log_may_begin_in_figures_and_what_was_printed_tells():
    log = log_of(sent("Q", "1"), sent("Q", "1"), sent("SP", "nothing"), sent("Q", "Q"))
    evidence = Evidence(MACHINE, log)
    assert evidence.good == ({"Q", "1"}, {"1"}, {"nothing"}, {"Q"})
    assert account(evidence, Behaviour(MACHINE, ())).consistent
    assert predictions(evidence, Behaviour(MACHINE, ()))[1] == {"Q", "1"}, "by what was sent alone"


def test_what_no_good_machine_prints_after_what_it_printed_is_a_misprint():
    evidence = Evidence(MACHINE, log_of(sent("Q", "1"), sent("Q", "Q")))
    assert evidence.misprints == 0b10
    assert not account(evidence, Behaviour(MACHINE, ())).consistent
    gap = Evidence(MACHINE, log_of(sent("Q", "1"), sent("Q", "Q", gap="yes")))
    assert gap.misprints == 0
    assert account(gap, Behaviour(MACHINE, ())).consistent


def test_a_half_way_shift_prints_either_case_and_the_bell_hangs_on_its_own_find():
    """The paper and the bell lever each find the latch anew: a J with the bell, or neither."""
    faults = (Fault("shift", "half-way"),)
    for case in ("LTRS", "FIGS"):
        log = log_of(sent(case, "nothing"), sent("J", "nothing"))
        found = predictions(Evidence(MACHINE, log), Behaviour(MACHINE, faults))[1]
        assert found == {"J", "nothing", "BEL", "J+BEL"}


def test_the_bell_rings_in_figures_only():
    log = log_of(*(sent(name, "nothing") for name in ("LTRS", "J", "FIGS", "J", "SP", "J")))
    good = predictions(Evidence(MACHINE, log), Behaviour(MACHINE, ()))
    assert good[1::2] == ({"J"}, {"BEL"}, {"J"})


@pytest.mark.parametrize("seed", range(6))
def test_what_a_text_shows_is_what_every_run_shows(seed):
    rng = random.Random(seed)
    for fault in rng.sample(single_faults(MACHINE.mechanism), 12):
        if fault in FAULTS:
            text = rng.choices(TELLING, k=4)
            chance = chance_shown(MACHINE, (fault,), text)
            assert chance == chance_by_trying_every_run(RUNS, plain((fault,)), text), fault


def test_a_half_way_code_bar_is_shown_as_often_as_two_pull_bars_make_it():
    """With any code only the pull bar of the code and that of its neighbour can drop.

    Each finds the bar right half of the time, so the right one alone drops in one of four.
    """
    half_way = (Fault("bar1", "half-way"),)
    letters, e = CODE.parse("LTRS"), CODE.parse("E")
    assert chance_shown(MACHINE, half_way, [e]) == 1 - Fraction(1, 2), "NUL has no pull bar"
    assert chance_shown(MACHINE, half_way, [CODE.parse("A")]) == 1 - Fraction(1, 4)
    assert Behaviour(MACHINE, half_way).n_worlds == 2 * 2**2
    assert chance_shown(MACHINE, half_way, [letters]) < 1


NEAR_THE_SHIFT = ("shift", "unshift", "bell", "pull_figures", "pull_letters", "pull_space", "bar3")


@pytest.mark.parametrize(
    "true",
    [
        Fault("unshift", "disconnected", "pull_space"),  # figures, space, a letter
        Fault("pull_figures", "slow to operate"),  # figures twice, and a letter
        Fault("bell", "disconnected", "shift"),
    ],
    ids=str,
)
def test_following_the_advice_ends_in_the_class_of_the_true_fault(true):
    """Three characters and more, where nothing shorter shows what became of the shift."""
    tried = [(), *((f,) for f in single_faults(MACHINE.mechanism) if f.part in NEAR_THE_SHIFT)]
    rng = random.Random(str(true))
    state, log = rng.choice(RUNS.states(plain((true,)))), log_of()
    while (check := next_check(diagnosis := diagnose(MACHINE, log, tried))) is not None:
        for code in check.codes:
            state, printed = rng.choice(RUNS.step(plain((true,)), code, False, state))
            log = log.adding(Entry(code, printed))
        assert len(log) <= 60, "still typing"
    own = signature(MACHINE, (true,))
    alike = {faults for faults in tried if signature(MACHINE, faults) == own}
    assert set(diagnosis.ranked[0].members) == alike
    assert diagnosis.ranked[0].consistent


def test_what_is_printed_is_noted_before_what_is_done_wherever_the_tables_stand():
    text = (FOLDER / "ebbing.toml").read_text(encoding="utf-8")
    start, end = text.index("[actions]"), text.index("# ---- what the codes do")
    without = text[:start] + text[end:]
    first = without.replace("[typebars]", f"{text[start:end]}[typebars]")
    log = log_of(sent("J", "J+BEL"))
    for described in (text, first):
        machine = parse(described)
        stuck = Behaviour(machine, (Fault("bell", "disconnected", "shift"),))
        seen = predictions(Evidence(machine, log), stuck)
        assert seen == predictions(Evidence(MACHINE, log), stuck)
    half_way = Behaviour(parse(first), (Fault("shift", "half-way"),))
    assert "J+BEL" in predictions(Evidence(half_way.machine, log), half_way)[0]


def test_of_the_short_text_no_character_and_no_two_can_be_left_out():
    def shown(codes):
        return {f for finding in coverage(MACHINE, codes).certain for f in finding.members}

    text = smallest_sequence(MACHINE).text
    full = shown(text)
    assert len(text) <= 34 and len(full) == 318
    pairs = random.Random(7).sample(list(combinations(range(len(text)), 2)), 20)
    for out in (*combinations(range(len(text)), 1), *pairs):
        left = [code for place, code in enumerate(text) if place not in out]
        assert not full <= shown(left), [CODE.name(text[place]) for place in out]
