"""A keyboard and a printer end to end: one log, diagnosed over both."""

import random
from dataclasses import replace

import pytest
from spare_bar import with_spare_bar

import mechlogic
from mechlogic.bench.checks import options
from mechlogic.bench.diagnosis import classes, diagnose
from mechlogic.explaining import proofs
from mechlogic.model.faults import Fault, single_faults
from mechlogic.model.joining import join
from mechlogic.model.logbook import Entry, Logbook
from mechlogic.model.steps import steps

DESK, SALTMERE = mechlogic.load("desk"), mechlogic.load("saltmere")
JOINED = join(DESK, SALTMERE)


def log_with(fault, text, seed=1):
    """A log of the joined machine with one fault."""
    rng, table = random.Random(seed), steps(JOINED, (fault,))
    memory, entries = rng.choice(list(table)), []
    for character in text:
        code = JOINED.code.code(character)
        outcomes = table[memory][code]
        seen, memory = rng.choices(list(outcomes), list(outcomes.values()))[0]
        entries.append(Entry(code, seen))
    return Logbook(tuple(entries), JOINED.code)


def test_every_key_prints_its_own_character():
    assert JOINED.printed == tuple("0123456789EHLNSW")
    assert all(proof(JOINED) for proof in proofs.MACHINE_CLAIMS)


def test_a_printer_without_a_parity_bar_joins_a_line_with_parity():
    assert (DESK.output.parity, SALTMERE.parity) == ("even", "none")
    # nothing hangs on the parity contact, so a fault there prints as a good machine does
    unseen = next(group for group in classes(JOINED) if () in group)
    assert (Fault("contact8", "open contact"),) in unseen


def test_a_printer_with_a_parity_bar_needs_the_bit_on_its_line():
    silent = replace(DESK.output, contacts=DESK.output.contacts[:-1], parity="none")
    printer = with_spare_bar(SALTMERE)
    assert join(DESK, printer).printed == JOINED.printed
    with pytest.raises(ValueError, match=r"parity none; .* parity even"):
        join(replace(DESK, output=silent, parity="none"), printer)
    with pytest.raises(ValueError, match=r"parity even; .* parity odd"):
        join(DESK, with_spare_bar(SALTMERE, parity="odd"))


def test_lengths_are_lengths_behind_the_contacts_too():
    for name in ("bar1", "lift", "turn"):
        assert JOINED.mechanism.unit(name) == SALTMERE.mechanism.unit(name)
    assert JOINED.mechanism.unit("contact1") == "contact"


def test_it_can_have_every_fault_of_both_and_a_broken_wire_to_each_bar():
    faults = set(single_faults(JOINED.mechanism))
    assert faults >= {*single_faults(DESK.mechanism), *single_faults(SALTMERE.mechanism)}
    wires = {Fault(f"bar{bit}", "disconnected", f"contact{bit}") for bit in range(1, 8)}
    more = faults.difference(single_faults(DESK.mechanism), single_faults(SALTMERE.mechanism))
    assert more == wires


@pytest.mark.parametrize(
    "fault", [Fault("contact3", "open contact"), Fault("slide3", "stuck at rest")], ids=str
)
def test_what_no_print_can_tell_apart_another_source_can(fault):
    """A contact that stays open and a slide that stays at rest lose the same bit."""
    diagnosis = diagnose(JOINED, log_with(fault, "0123456789EHLNSW"))
    first = diagnosis.suspects[0].members
    assert {(Fault("contact3", "open contact"),), (Fault("slide3", "stuck at rest"),)} <= {*first}
    best = options(diagnosis)[0]
    assert best.kind == "source"


def test_a_key_that_sticks_is_told_from_a_fault_of_the_printer():
    """A key that does not come back adds its bits to every other character's."""
    fault = Fault("key_9", "stuck operated")
    diagnosis = diagnose(JOINED, log_with(fault, "0123456789EHLNSW"))
    parts = {fault.part for faults in diagnosis.suspects[0].members for fault in faults}
    assert parts <= {"key_9"}


def test_machines_that_do_not_fit_are_refused():
    with pytest.raises(ValueError, match="sends nothing on a line"):
        join(SALTMERE, SALTMERE)
    with pytest.raises(ValueError, match="receives the five-unit code, parity none"):
        join(DESK, mechlogic.load("ebbing"))
