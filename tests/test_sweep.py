"""Many hypotheses in one table: each row is what one hypothesis prints in one world."""

import random

import pytest
from brute_force import Entry, Printer, read
from hypothesis import given
from hypothesis import strategies as st
from plain_runs import plain
from strategies import descriptions, fault_sets, few, library, machine_of

import mechlogic
from mechlogic.bench.sweep import sweeps
from mechlogic.machines import FOLDER
from mechlogic.model.faults import rarer_faults, single_faults


def outcomes_of(sweep, number, code, at_speed):
    """For each memory before, every print of one hypothesis with the memory afterwards."""
    told, found = sweep.told(code, at_speed), []
    settled = [memory for memory, column in enumerate(told.after) if column >> number & 1]
    assert len(settled) == (not told.loose >> number & 1)
    for before in range(sweep.n_memories):
        row = before * sweep.width + number
        seen = {print_ for print_, column in told.prints.items() if column >> row & 1}
        if settled:
            found.append({(print_, settled[0]) for print_ in seen})
        else:
            several = enumerate(told.joint)
            pairs = {(p, m) for m, prints in several for p, c in prints.items() if c >> row & 1}
            assert {print_ for print_, _ in pairs} == seen
            found.append(pairs)
    return found


def plain_outcomes(printer, faults, code, at_speed):
    """The same, one world after the other; a latch is remembered after all that is sluggish."""
    names = printer.remembering(faults)
    order = sorted(range(len(names)), key=lambda i: names[i] in printer.latches)
    order[len(order) - len(printer.latches) :] = [names.index(name) for name in printer.latches]
    states = sorted(printer.unknown(faults), key=lambda state: [state[i] for i in order])
    number = {state: n for n, state in enumerate(states)}
    entry = Entry(code, "speed" if at_speed else "hand")
    return [
        {(seen, number[after]) for after, seen in printer.outcomes(entry, faults, [state])}
        for state in states
    ]


def held_against_the_plain_way(machine, printer, hypotheses, codes):
    laid = sweeps(machine, hypotheses)
    assert sorted(faults for one in laid for faults in one.hypotheses) == sorted(hypotheses)
    for sweep in laid:
        for number, faults in enumerate(sweep.hypotheses):
            for code in codes:
                for at_speed in (True, False):
                    assert outcomes_of(sweep, number, code, at_speed) == plain_outcomes(
                        printer, plain(faults), machine.as_set(code), at_speed
                    ), (faults, code, at_speed)


@few
@given(st.data())
def test_each_row_is_what_its_hypothesis_prints_and_then_remembers(data):
    description = data.draw(descriptions())
    machine, printer = machine_of(description), Printer(description)
    drawn = data.draw(st.lists(fault_sets(printer), min_size=1, max_size=5))
    hypotheses = list(dict.fromkeys([(), *map(library, drawn)]))
    codes = data.draw(st.lists(st.integers(0, (1 << machine.units) - 1), min_size=1, max_size=3))
    held_against_the_plain_way(machine, printer, hypotheses, codes)


@pytest.mark.parametrize("name", ["saltmere", "wind", "sluice"])
def test_hypotheses_of_a_whole_machine_do_not_touch_each_other(name):
    machine, rng = mechlogic.load(name), random.Random(name)
    faults = [*single_faults(machine.mechanism), *rarer_faults(machine.mechanism)]
    found = {()}
    while len(found) < 40:
        some = tuple(sorted(rng.sample(faults, rng.choice((1, 2, 2)))))
        own = [fault.part for fault in some if fault.mode != "disconnected"]
        if len(own) == len(set(own)):
            found.add(some)
    codes = rng.sample(range(len(machine.code)), 2)
    printer = Printer(read(FOLDER / f"{name}.toml"))
    held_against_the_plain_way(machine, printer, sorted(found), codes)
