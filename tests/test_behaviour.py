"""Faulty machines: what the library says may be printed is what can happen, no more and no less."""

import random
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brute_force import Entry, Printer, read
from mechlogic.behaviour import Behaviour, World
from mechlogic.faults import hypothesis, iter_pairs, single_faults
from mechlogic.machine import Machine
from mechlogic.machines import FOLDER, load
from mechlogic.table import Rows, place_in_row, tabulate
from strategies import descriptions, entries, fault_sets, library, machine_of

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


def random_log(rng, length):
    return [
        Entry(
            SALTMERE.as_set(rng.randrange(128)),
            rng.choice(["speed", "speed", "speed", "hand"]),
            rng.random() < 0.1,
        )
        for _ in range(length)
    ]


def plain(faults):
    return [(fault.part, fault.mode, fault.input) for fault in faults]


@given(st.data())
def test_a_random_machine_with_random_faults_prints_what_can_happen(data):
    description = data.draw(descriptions())
    machine, printer = machine_of(description), Printer(description)
    faults = data.draw(fault_sets(printer))
    log = data.draw(entries(machine.units))
    found = possible_prints(machine, library(faults), log)
    assert found == printer.possible_prints(log, faults)


@pytest.mark.parametrize("part", SALTMERE.mechanism.parts)
def test_every_single_fault_of_saltmere_prints_what_can_happen(part):
    rng = random.Random(part)
    for fault in single_faults(SALTMERE.mechanism):
        if fault.part == part:
            log = random_log(rng, 12)
            found = possible_prints(SALTMERE, (fault,), log)
            assert found == PLAIN_SALTMERE.possible_prints(log, plain([fault])), str(fault)
