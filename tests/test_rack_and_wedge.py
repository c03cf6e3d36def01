"""A larger printer without parity: one rack through a return cam, and a wedge for half a turn."""

from pathlib import Path

import pytest
from brute_force import NOTHING, Printer, read

import mechlogic
from mechlogic.bench.diagnosis import diagnose
from mechlogic.model.faults import Fault
from mechlogic.model.logbook import Entry, Logbook

FILE = Path(__file__).parent / "machines" / "rack_and_wedge.toml"
MACHINE = mechlogic.load(FILE)
PLAIN = Printer(read(FILE))


def test_it_prints_what_a_plain_simulation_prints():
    assert MACHINE.printed == tuple(PLAIN.follow(code)[2] for code in range(128))


def test_it_prints_56_characters_and_no_more():
    """Columns 2 to 5 of the code table from 2/8 on, and 6 and 7 as 4 and 5 do."""
    own = [code for code in range(128) if MACHINE.printed[code] == MACHINE.code.name(code)]
    assert own == list(range(0x28, 0x60))
    assert {MACHINE.printed[code] for code in range(0x28)} == {NOTHING}


def test_the_middle_lever_is_an_or_of_bits_1_and_3():
    (lever,) = (part for part in MACHINE.mechanism if "middle" in part.label and part.joint.inputs)
    stands = [PLAIN.follow(code)[0][lever.name] > PLAIN.rest[lever.name] for code in range(128)]
    assert stands == [bool(code & 1 or code & 4) for code in range(128)]


@pytest.mark.parametrize("mode", ["stuck at rest", "stuck operated"])
@pytest.mark.parametrize("bar", ["bar1", "bar4", "bar7"])
def test_a_stuck_bar_is_found_from_its_misprints(bar, mode):
    faults = (Fault(bar, mode),)
    codes = [0x28 + 23 * i % 56 for i in range(56)]  # so that every bit goes back and forth
    prints = [PLAIN.follow(code, [(bar, mode, "")])[2] for code in codes]
    log = Logbook(tuple(map(Entry, codes, prints)), MACHINE.code)
    likeliest = diagnose(MACHINE, log).suspects[:3]
    assert faults in {one for suspect in likeliest for one in suspect.members}
