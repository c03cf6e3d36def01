"""Faulty machines: what the library says may be printed is what can happen, no more and no less."""

import random

import pytest
from brute_force import AT_TIMES, Entry, Printer, read
from hypothesis import given
from hypothesis import strategies as st
from strategies import descriptions, entries, fault_sets, library, machine_of

from mechlogic.behaviour import Behaviour, World
from mechlogic.faults import SLUGGISH, Fault, hypothesis, iter_pairs, rarer_faults, single_faults
from mechlogic.machines import FOLDER, load
from mechlogic.table import Rows, place_in_row, tabulate

SALTMERE = load("saltmere")
PLAIN_SALTMERE = Printer(read(FOLDER / "saltmere.toml"))


def possible_prints(machine, faults, log):
    """What the library says may be printed at each entry, its worlds followed along the log."""
    behaviour = Behaviour(machine, faults)
    rows = Rows(tuple(entry.code for entry in log))
    at_speed = rows.where(entry.driven == "speed" for entry in log)
    base = tabulate(machine.mechanism, rows)
    outcomes = {}
    for world in behaviour.worlds():
        table = behaviour.table(rows, at_speed, world, base)
        prints = machine.prints(table, rows)
        for t in range(len(log)):
            seen = [glyph for glyph, where in prints.items() if where >> t & 1]
            asked = [place_in_row(table.asked[part], t) for part in behaviour.remembering]
            assert len(seen) == 1, "one character prints one thing"
            outcomes[t, world] = tuple(asked), seen[0]
    found, memories = [], set(behaviour.memories)
    for t, entry in enumerate(log):
        if entry.gap:
            memories = set(behaviour.memories)
        now = [
            outcomes[t, World(memory, chance)]
            for memory in memories
            for chance in behaviour.chances
        ]
        found.append({seen for _, seen in now})
        memories = {asked for asked, _ in now}
    return found


def random_log(rng, length, machine=SALTMERE):
    return [
        Entry(
            machine.as_set(rng.randrange(len(machine.code))),
            rng.choice(["speed", "speed", "speed", "hand"]),
            rng.random() < 0.1,
        )
        for _ in range(length)
    ]


def plain(faults):
    return [(fault.part, fault.mode + AT_TIMES * fault.sometimes, fault.input) for fault in faults]


@given(st.data())
def test_a_random_machine_with_random_faults_prints_what_can_happen(data):
    description = data.draw(descriptions())
    machine, printer = machine_of(description), Printer(description)
    faults = data.draw(fault_sets(printer, rarer=True))
    log = data.draw(entries(machine.units))
    found = possible_prints(machine, library(faults), log)
    assert found == printer.possible_prints(log, faults)


@pytest.mark.parametrize("part", SALTMERE.mechanism.parts)
def test_every_single_fault_of_saltmere_prints_what_can_happen(part):
    rng = random.Random(part)
    for fault in (*single_faults(SALTMERE.mechanism), *rarer_faults(SALTMERE.mechanism)):
        if fault.part == part:
            log = random_log(rng, 12)
            found = possible_prints(SALTMERE, (fault,), log)
            assert found == PLAIN_SALTMERE.possible_prints(log, plain([fault])), str(fault)


def test_every_pair_of_faults_of_the_smallest_machine_prints_what_can_happen():
    wind, printer = load("wind"), Printer(read(FOLDER / "wind.toml"))
    rng = random.Random(3)
    for pair in iter_pairs(wind.mechanism):
        log = random_log(rng, 6, wind)
        found = possible_prints(wind, pair, log)
        assert found == printer.possible_prints(log, plain(pair)), str(pair)


def test_a_sample_of_fault_pairs_of_saltmere_prints_what_can_happen():
    rng = random.Random(0)
    for pair in rng.sample(list(iter_pairs(SALTMERE.mechanism)), 150):
        log = random_log(rng, 6)
        found = possible_prints(SALTMERE, pair, log)
        assert found == PLAIN_SALTMERE.possible_prints(log, plain(pair)), str(pair)


def test_two_sluggish_parts_in_series_reach_back_two_characters():
    # Slide 2 is asked for two characters ago, is late one ago, and the lever behind it is late now.
    faults = hypothesis(
        SALTMERE.mechanism,
        [Fault("slide2", "slow to return"), Fault("left_stop", "slow to return")],
    )
    b2, b5 = 2, 16
    height = [
        [Entry(SALTMERE.as_set(code)) for code in (first, b5 | 64, b5 | 64)]
        for first in (b2 | b5 | 64, b5 | 64)
    ]
    late, healthy = (possible_prints(SALTMERE, faults, log)[-1] for log in height)
    assert late != healthy
    for log in height:
        assert possible_prints(SALTMERE, faults, log) == PLAIN_SALTMERE.possible_prints(
            log, plain(faults)
        )


def test_after_a_known_character_one_sluggish_part_is_settled():
    """Also when another part is stuck before it, so that it is asked for the wrong thing."""
    rng = random.Random(1)
    for pair in rng.sample(list(iter_pairs(SALTMERE.mechanism)), 400):
        behaviour = Behaviour(SALTMERE, pair)
        if len(behaviour.remembering) != 1 or behaviour.dice:
            continue
        before, now = random_log(rng, 1)[0].code, random_log(rng, 1)[0].code
        table = behaviour.table_after(Rows((before,)), Rows((now,)), World(behaviour.memories[0]))
        seen = set(SALTMERE.prints(table, Rows((now,))))
        possible = PLAIN_SALTMERE.possible_prints([Entry(before), Entry(now)], plain(pair))
        assert seen == possible[-1], str(pair)


def test_a_sluggish_part_is_healthy_when_the_shaft_is_turned_by_hand():
    faults = (Fault("slide1", "slow to return"),)
    at_speed = [Entry(SALTMERE.as_set(code)) for code in (65, 64)]
    by_hand = [at_speed[0], at_speed[1]._replace(driven="hand")]
    assert possible_prints(SALTMERE, faults, at_speed)[1] != {SALTMERE.good_print(64)}
    assert possible_prints(SALTMERE, faults, by_hand)[1] == {SALTMERE.good_print(64)}


def test_a_sluggish_part_may_stand_anywhere_after_a_gap():
    faults = (Fault("slide1", "slow to return"),)
    late = SALTMERE.good_print(65)
    log = [Entry(SALTMERE.as_set(64)), Entry(SALTMERE.as_set(64), gap=True)]
    assert possible_prints(SALTMERE, faults, log) == [{"@", late}, {"@", late}]
    log[1] = log[1]._replace(gap=False)
    assert possible_prints(SALTMERE, faults, log) == [{"@", late}, {"@"}]


def test_each_follower_of_a_half_way_part_finds_it_anew():
    # Both the middle and the left stop lever follow slide 2: four prints, not two.
    faults = (Fault("slide2", "half-way"),)
    log = [Entry(SALTMERE.as_set(ord("B")))]
    found = possible_prints(SALTMERE, faults, log)
    assert len(found[0]) == 3  # with the middle lever in the way the left one is not asked
    assert found == PLAIN_SALTMERE.possible_prints(log, plain(faults))


def test_only_sluggish_parts_remember_and_only_half_way_parts_leave_it_to_chance():
    for fault in single_faults(SALTMERE.mechanism):
        behaviour = Behaviour(SALTMERE, (fault,))
        assert bool(behaviour.remembering) == (fault.mode in SLUGGISH)
        if fault.mode != "half-way":
            assert behaviour.chances == ((),)


def test_a_made_log_is_explained_by_the_faults_that_made_it_and_is_possible_for_the_library():
    rng = random.Random(2)
    for pair in rng.sample(list(iter_pairs(SALTMERE.mechanism)), 60):
        log = PLAIN_SALTMERE.make_log(plain(pair), random_log(rng, 8), rng)
        assert PLAIN_SALTMERE.explains(log, plain(pair))
        possible = possible_prints(SALTMERE, pair, [line.entry for line in log])
        assert all(line.printed in prints for line, prints in zip(log, possible, strict=True))
