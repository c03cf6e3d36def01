"""Faulty machines: what the library says may be printed is what can happen, no more and no less."""

import random
from collections import Counter
from fractions import Fraction as F

import pytest
from brute_force import AT_TIMES, Entry, Printer, read
from hypothesis import given
from hypothesis import strategies as st
from plain_runs import Runs
from strategies import descriptions, entries, fault_sets, few, library, machine_of

from mechlogic.machines import FOLDER, load
from mechlogic.model import behaviour
from mechlogic.model.behaviour import Behaviour, World
from mechlogic.model.faults import (
    SLUGGISH,
    Fault,
    hypothesis,
    iter_pairs,
    rarer_faults,
    single_faults,
)
from mechlogic.model.steps import steps
from mechlogic.model.table import Rows, place_in_row, tabulate

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
        elif entry.rest:
            memories = {home for memory in memories for home in behaviour.home(memory)}
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


@pytest.mark.parametrize("name", ["saltmere", "trivet"])
def test_a_sample_of_fault_pairs_of_two_machines_prints_what_can_happen(name):
    machine, printer = load(name), Printer(read(FOLDER / f"{name}.toml"))
    rng = random.Random(0)
    for pair in rng.sample(list(iter_pairs(machine.mechanism)), 150):
        log = random_log(rng, 6, machine)
        found = possible_prints(machine, pair, log)
        assert found == printer.possible_prints(log, plain(pair)), str(pair)


def test_two_sluggish_parts_in_series_reach_back_two_characters():
    # Slide 3 is asked for two characters ago, is late one ago, and the lever behind it is late now.
    faults = hypothesis(
        SALTMERE.mechanism,
        [Fault("slide3", "slow to return"), Fault("left_stop", "slow to return")],
    )
    b1, b3 = 1, 4
    height = [
        [Entry(SALTMERE.as_set(code)) for code in (first, b1 | 64, b1 | 64)]
        for first in (b1 | b3 | 64, b1 | 64)
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
    # Both the middle and the left stop lever follow slide 3: four prints, not two.
    faults = (Fault("slide3", "half-way"),)
    log = [Entry(SALTMERE.as_set(ord("D")))]
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


# -- latches, contacts and keys --------------------------------------------------------------------


def described(outputs, **parts):
    """Two code bars and what is behind them; the code has letters, by their numbers."""
    bars = {f"bar{bit}": {"joint": "bit", "bit": bit, "stroke_mm": 4} for bit in (1, 2)}
    return {"parts": {**bars, **parts}, **outputs, "codes": {"alphabet": list("ABCD")}}


LATCH = {"joint": "latch", "set": "bar1", "reset": "bar2", "throw_mm": F(6)}
SHOWN = {"actions": {"levers": [{"lever": "latch", "shows": "BEL"}]}}
SET, RESET, NEITHER, BOTH = 1, 2, 0, 3


def shown_by(description, faults, *codes, driven="speed"):
    """What the library and the brute force say may be seen of codes; they must agree."""
    machine, log = machine_of(description), [Entry(code, driven) for code in codes]
    found = possible_prints(machine, library(faults), log)
    assert found == Printer(description).possible_prints(log, faults)
    return found


def test_a_latch_stays_where_it_was_put_and_set_wins():
    seen = shown_by(described(SHOWN, latch=LATCH), (), NEITHER, SET, NEITHER, RESET, NEITHER, BOTH)
    bell, nothing = {"BEL"}, {"nothing"}
    assert seen == [{"BEL", "nothing"}, bell, bell, nothing, nothing, bell]


def test_a_latch_is_thrown_at_half_of_its_inputs_travel():
    rests = [{"part": "bar1", "when": "at rest"}, {"part": "bar2", "when": "at rest"}]
    clear = {"joint": "pull_bar", "notches": rests}
    for arm, thrown in ((1, True), (3, False)):  # bar 1 moves the lever 2 mm of 4, or 1 mm
        lever = {"joint": "summing_lever", "first": "bar1", "second": "bar2"}
        lever.update(first_arm_mm=F(arm), second_arm_mm=F(1))
        latch = {**LATCH, "set": "lever", "reset": "clear"}
        machine = described(SHOWN, lever=lever, clear=clear, latch=latch)
        assert shown_by(machine, (), NEITHER, SET)[-1] == ({"BEL"} if thrown else {"nothing"})


def test_a_sluggish_latch_stands_late_but_remembers_what_it_was_asked():
    late = (("latch", "slow to return", ""),)
    bell, nothing = {"BEL"}, {"nothing"}
    machine = described(SHOWN, latch=LATCH)
    assert shown_by(machine, late, SET, RESET, NEITHER) == [bell, bell, nothing]
    assert shown_by(machine, late, SET, RESET, driven="hand") == [bell, nothing]
    late = (("latch", "slow to operate", ""),)
    assert shown_by(machine, late, RESET, SET, NEITHER)[1:] == [nothing, bell]


def test_a_latch_that_sticks_at_times_remembers_what_it_was_asked():
    stuck = (("latch", "stuck at rest at times", ""),)
    seen = shown_by(described(SHOWN, latch=LATCH), stuck, SET, NEITHER, RESET)
    assert seen == [{"BEL", "nothing"}, {"BEL", "nothing"}, {"nothing"}]


def test_a_contact_that_is_closed_at_rest_is_open_if_it_never_closes():
    parts = {
        "back": {"joint": "withdraw", "input": "bar1", "ratio": F(1)},
        "contact": {"joint": "contact", "input": "back"},
    }
    machine = described({"actions": {"levers": [{"lever": "contact", "shows": "BEL"}]}}, **parts)
    assert shown_by(machine, (), 0, 1) == [{"BEL"}, {"nothing"}]
    assert shown_by(machine, (("contact", "open contact", ""),), 0, 1) == [{"nothing"}] * 2
    assert shown_by(machine, (("contact", "shorted contact", ""),), 0, 1) == [{"BEL"}] * 2


# -- many followers --------------------------------------------------------------------------------


def chances(machine, faults):
    """For each memory and code, the chance of each print and memory afterwards."""
    behaviour, places = Behaviour(machine, faults), machine.mechanism.laws

    def asked(memory):
        return tuple(
            places[p].places[n] for p, n in zip(behaviour.remembering, memory, strict=True)
        )

    return {
        (asked(memory), code): {
            (asked(after), seen): F(n, sum(outcomes.values()))
            for (seen, after), n in outcomes.items()
        }
        for memory, row in steps(machine, faults).items()
        for code, outcomes in enumerate(row)
    }


def chances_by_enumeration(runs, faults, n_codes):
    found = {}
    for state in runs.states(faults):
        for code in range(n_codes):
            outcomes = runs.step(faults, code, False, state)
            counted = Counter(outcomes)
            found[state, code] = {one: F(n, len(outcomes)) for one, n in counted.items()}
    return found


def cut_down():
    """A five-unit printer cut down to three code bars and eight pull bars, with its shift."""
    parts = {f"bar{bit}": {"joint": "bit", "bit": bit, "stroke_mm": F(3)} for bit in (1, 2, 3)}
    for code in range(8):
        ends = ["operated" if code >> bit & 1 else "at rest" for bit in range(3)]
        notches = [{"part": f"bar{bit + 1}", "when": end} for bit, end in enumerate(ends)]
        parts[f"pull{code}"] = {"joint": "pull_bar", "notches": notches}
    parts["shift"] = {"joint": "latch", "set": "pull7", "reset": "pull6", "throw_mm": F(6)}
    parts["bell"] = {"joint": "all_clear", "inputs": ["pull0", "shift"], "ratio": F(1)}
    bars = [{"pull": f"pull{code}", "type": "ABCDEF"[code] + " 12345"[code]} for code in range(6)]
    return {
        "parts": parts,
        "typebars": {"shift": "shift", "bars": bars},
        "actions": {"levers": [{"lever": "bell", "shows": "BEL"}]},
        "codes": {"alphabet": list("ABCDEFGH")},
    }


@pytest.mark.parametrize(
    "others",
    [
        (),
        (("pull0", "disconnected", "bar2"),),  # it then drops beside a bar that it never met
        (("pull5", "disconnected at times", "bar2"),),
        (("bar2", "unknown", ""),),
        (("pull3", "half-way", ""),),
        (("shift", "slow to return", ""),),
    ],
    ids=str,
)
def test_followers_that_share_a_die_print_as_if_each_had_its_own(others):
    """Eight followers of a half-way bar, everything that they may find written out."""
    description = cut_down()
    machine, runs = machine_of(description), Runs(description)
    faults = library([("bar1", "half-way", ""), *others])
    shared = [die for die in Behaviour(machine, faults).dice if die.fault.part == "bar1"]
    assert len(shared) < len(runs.printer.followers("bar1")) == 8
    assert chances(machine, faults) == chances_by_enumeration(runs, tuple(plain(faults)), 8)


@few
@given(st.data())
def test_on_a_random_machine_too_it_makes_no_difference_who_shares_a_die(data):
    description = data.draw(descriptions(bits=(2, 3), most=6))
    machine, runs = machine_of(description), Runs(description)
    faults = library(data.draw(fault_sets(runs.printer, rarer=True)))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(behaviour, "FEW_FOLLOWERS", 1)
        patch.setattr(behaviour, "MOST_DICE", 12)
        found = chances(machine, faults)
    assert found == chances_by_enumeration(runs, tuple(plain(faults)), len(machine.code))
