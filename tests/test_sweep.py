"""Many hypotheses in one table: each block is what its own machine prints in its own world."""

import random
from functools import reduce
from itertools import pairwise
from operator import or_

import pytest
from brute_force import Entry, Printer
from hypothesis import given
from hypothesis import strategies as st
from plain_runs import PRINTING, plain
from strategies import descriptions, entries, fault_sets, few, library, machine_of

import mechlogic
from mechlogic.bench.sweep import Run, sweep
from mechlogic.model.faults import rarer_faults, single_faults
from mechlogic.model.machine import spread

MACHINE = mechlogic.load("saltmere")


def run_of(machine, log):
    rows = machine.rows(entry.code for entry in log)
    return Run(
        rows,
        rows.where(entry.driven == "speed" for entry in log),
        rows.where(t == 0 or entry.gap for t, entry in enumerate(log)),
    )


def blocks_of(swept):
    """For each hypothesis and each of its blocks, what is printed in each row, and idle rows."""
    lines = spread(swept.prints, swept.rows.distance * sum(swept.blocks))
    place = 0
    for behaviour, n_blocks in zip(swept.behaviours, swept.blocks, strict=True):
        ends = [place + number * swept.rows.distance for number in range(n_blocks + 1)]
        yield behaviour, [lines[a:b] for a, b in pairwise(ends)]
        place = ends[-1]


@st.composite
def machines_hypotheses_and_logs(draw):
    description = draw(descriptions())
    machine = machine_of(description)
    printer = Printer(description)
    several = draw(st.lists(fault_sets(printer), min_size=1, max_size=5))
    log = draw(entries(machine.units, most=10))
    return machine, printer, [(), *several], log


@few
@given(machines_hypotheses_and_logs())
def test_each_block_prints_what_its_hypothesis_prints_in_its_world(drawn):
    """Character by character: a world is luck, the same all along, and a memory at the start.

    At a start, and throughout where chance has a say in it, the memory is the world's; else it is
    what the parts that remember were asked for one character ago.
    """
    machine, printer, several, log = drawn
    swept = sweep(machine, run_of(machine, log), [library(faults) for faults in several])
    for (behaviour, blocks), faults in zip(blocks_of(swept), several, strict=True):
        faults = plain(behaviour.faults)  # in the library's order
        seen = {tuple(block[: len(log)]) for block in blocks}
        assert seen == worlds_of(printer, faults, log, behaviour.determined), faults
        assert len(blocks) == behaviour.n_worlds


def worlds_of(printer, faults, log, determined):
    """What is printed in each world, one character at a time."""
    remembering = printer.remembering(faults)
    found = set()
    for memory in printer.unknown(faults):
        for wrong, finds_operated, free in printer.luck(faults):
            prints, state = [], memory
            for t, entry in enumerate(log):
                if t == 0 or entry.gap or not determined:
                    state = memory
                remembered = dict(zip(remembering, state, strict=True))
                _, asked, printed = printer.follow(
                    entry.code, wrong, entry.driven == "hand", remembered, finds_operated, free
                )
                prints.append(printed)
                state = tuple(asked[part] for part in remembering)
            found.add(tuple(prints))
    return found


def saltmere_log(rng, length):
    return [
        Entry(rng.choice(PRINTING), rng.choice(["speed"] * 3 + ["hand"]), rng.random() < 0.2)
        for _ in range(length)
    ]


def random_hypotheses(rng, number):
    faults = [*single_faults(MACHINE.mechanism), *rarer_faults(MACHINE.mechanism)]
    found = []
    while len(found) < number:
        some = tuple(sorted(rng.sample(faults, rng.choice((1, 2, 2)))))
        own = [fault.part for fault in some if fault.mode != "disconnected"]
        if len(own) == len(set(own)):
            found.append(some)
    return found


@pytest.mark.parametrize("length", [1, 7, 8, 9, 20])
def test_each_block_of_saltmere_is_the_table_of_one_world(length):
    """Held against the table of the world itself, row by row; also where blocks meet."""
    rng = random.Random(length)
    log, several = saltmere_log(rng, length), random_hypotheses(rng, 60)
    run = run_of(MACHINE, log)
    for behaviour, blocks in blocks_of(sweep(MACHINE, run, several)):
        worlds = list(behaviour.worlds())
        assert len(worlds) == len(blocks)
        for world, block in zip(worlds, blocks, strict=True):
            table = behaviour.table(run.rows, run.at_speed, world)
            by_world = spread(MACHINE.prints(table, run.rows), length)
            for t in range(length):
                if run.starts >> t & 1 or not behaviour.settled or not behaviour.remembering:
                    assert block[t] == by_world[t], (behaviour.faults, world, t)
                elif run.at_speed >> t & 1:
                    before, now = (MACHINE.rows([log[row].code]) for row in (t - 1, t))
                    after = behaviour.table_after(before, now, world)
                    assert block[t] == spread(MACHINE.prints(after, now), 1)[0]


def test_a_run_without_a_start_has_no_block_for_what_cannot_matter():
    """All after the first row is what a run with a start prints there, in any of its worlds."""
    rng = random.Random(2)
    log = [entry._replace(gap=False) for entry in saltmere_log(rng, 16)]
    several = random_hypotheses(rng, 40)
    run = run_of(MACHINE, log)
    whole = blocks_of(sweep(MACHINE, run, several))
    fewer = blocks_of(sweep(MACHINE, Run(run.rows, run.at_speed, 0), several))
    for (behaviour, all_blocks), (_, some) in zip(whole, fewer, strict=True):
        own = {block[1:16] for block in some}
        assert own == {block[1:16] for block in all_blocks}
        if behaviour.settled:
            assert len(some) == len(behaviour.chances)


def test_the_rows_in_any_world_are_those_of_all_blocks_together():
    rng = random.Random(3)
    several = random_hypotheses(rng, 30)
    swept = sweep(MACHINE, run_of(MACHINE, saltmere_log(rng, 11)), several)
    for print_, column in swept.prints.items():
        found = {b.faults: reduce(or_, runs) for b, runs in swept.any_chance(column)}
        for behaviour, blocks in blocks_of(swept):
            rows = {t for block in blocks for t, seen in enumerate(block) if seen == print_}
            assert found[behaviour.faults] == sum(1 << t for t in rows)


def test_one_hypothesis_is_untouched_by_its_neighbours():
    rng = random.Random(4)
    several = random_hypotheses(rng, 25)
    run = run_of(MACHINE, saltmere_log(rng, 10))
    together = {b.faults: blocks for b, blocks in blocks_of(sweep(MACHINE, run, several))}
    for faults in several:
        ((_, alone),) = blocks_of(sweep(MACHINE, run, [faults]))
        assert [block[:10] for block in alone] == [block[:10] for block in together[faults]]
