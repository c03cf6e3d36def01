"""Which setting chooses each cell of the output, held against the brute force."""

from itertools import product

import pytest
from brute_force import NOTHING, Printer, read

from mechlogic import load, machines
from mechlogic.explaining.cells import chosen, chosen_from

NAMES = machines.names()


@pytest.mark.parametrize("name", NAMES)
def test_the_setting_of_a_cell_shows_that_cell(name: str):
    machine = load(name)
    printer = Printer(read(machines.FOLDER / f"{name}.toml"))
    numbers = [range(len(printer.places[latch])) for latch in printer.latches]
    found = 0
    for memory in product(*numbers):
        stood = zip(printer.latches, memory, strict=True)
        remembered = {latch: printer.places[latch][number] for latch, number in stood}
        ways = chosen_from(machine, memory)
        for glyph, way in zip(machine.output.glyphs, ways, strict=True):
            if way is None:
                continue
            *_, printed = printer.follow(way.setting, remembered=remembered)
            assert (NOTHING if glyph == " " else glyph) in (printed, *printed.split("+"))
            found += 1
    assert found


@pytest.mark.parametrize("name", NAMES)
def test_whatever_a_good_machine_shows_has_a_cell_that_something_chooses(name: str):
    machine = load(name)
    printer = Printer(read(machines.FOLDER / f"{name}.toml"))
    ways = chosen(machine)
    reached = {g for g, way in zip(machine.output.glyphs, ways, strict=True) if way}
    for memory in product(*(printer.places[latch] for latch in printer.latches)):
        remembered = dict(zip(printer.latches, memory, strict=True))
        for code in range(len(machine.code)):
            *_, printed = printer.follow(machine.as_set(code), remembered=remembered)
            pieces = {printed} if len(printed) == 1 else set(printed.split("+"))
            assert pieces - {NOTHING} <= reached


def test_a_cell_is_chosen_by_its_own_code_and_a_doing_of_many_codes_is_marked_so():
    saltmere, sluice = load("saltmere"), load("sluice")
    for glyph, way in zip(saltmere.output.glyphs, chosen(saltmere), strict=True):
        assert way and way.setting == saltmere.as_set(saltmere.code.code(glyph)) and way.alone
    alone = dict(zip(sluice.output.glyphs, chosen(sluice), strict=True))
    assert not alone["STEP"].alone and alone["CR"].alone


def test_figures_need_the_latch_thrown_and_letters_do_not():
    ebbing = load("ebbing")
    ways = dict(zip(ebbing.output.glyphs, chosen(ebbing), strict=True))
    assert ways["T"].setting == ways["5"].setting == ebbing.code.parse("T")
    assert (ways["T"].memory, ways["5"].memory) == ((0,), (1,))
    assert ways["BEL"].setting == ebbing.code.parse("J")
