"""The decoder of every machine once more, as decision diagrams and as clauses.

Neither engine shares anything with the library.  A machine is written out from its TOML file by its
parts' *places*: one proposition for "this part stands at this displacement", joined by the travel
law of the brute force.  What is given from outside are propositions of their own: the code bits,
the keys, and for a latch whether it stood thrown over before.
"""

from functools import cache
from itertools import count, product

import pytest
from brute_force import Printer, inputs_of, read
from dd.autoref import BDD
from diagrams import diagram_of
from pysat.solvers import Solver
from sympy import Symbol

import mechlogic
from mechlogic import machines
from mechlogic.explaining import formulas
from mechlogic.model.table import place_in_row


@cache
def printer_of(name):
    return Printer(read(machines.FOLDER / f"{name}.toml"))


def given(printer, name):
    """The proposition that says from outside where a part goes, if there is one."""
    part = printer.parts[name]
    return f"b{part['bit']}" if part["joint"] == "bit" else name


def is_given(printer, name):
    return printer.parts[name]["joint"] in ("bit", "key")


def laws_written_out(printer, name):
    """Every combination of places of the inputs, and for a latch of its own, and where it leads."""
    inputs = inputs_of(printer.parts[name])
    befores = printer.places[name] if name in printer.latches else [printer.rest[name]]
    for *x, before in product(*(printer.places[other] for other in inputs), befores):
        yield list(zip(inputs, x, strict=True)), before, printer.law(name, x, before)


def settings_of(machine, printer):
    """Every code that can be sent with every way the latches can have stood, as propositions."""
    numbers = [range(len(printer.places[name])) for name in printer.latches]
    for *latched, code in product(*numbers, range(len(machine.code))):
        sent = machine.as_set(code)
        setting = {}
        for name in printer.order:
            if printer.parts[name]["joint"] == "bit":
                bit = printer.parts[name]["bit"]
                setting[f"b{bit}"] = bool(sent >> (bit - 1) & 1)
            if printer.parts[name]["joint"] == "key":
                setting[name] = printer.alphabet.index(printer.parts[name]["key"]) == code
        before = dict(zip(printer.latches, latched, strict=True))
        setting.update({f"{name}_before": bool(place) for name, place in before.items()})
        yield sent, before, setting


# -- decision diagrams -----------------------------------------------------------------------------


@cache
def diagrams_of(name):
    """The manager, and the diagram of every part at every place."""
    printer, bdd = printer_of(name), BDD()
    outside = [given(printer, part) for part in printer.order if is_given(printer, part)]
    bdd.declare(*outside, *(f"{latch}_before" for latch in printer.latches))
    at = {(part, place): bdd.false for part in printer.order for place in printer.places[part]}
    for part in printer.order:
        low, high = printer.places[part][0], printer.places[part][-1]
        if is_given(printer, part):
            at[part, low], at[part, high] = (
                ~bdd.var(given(printer, part)),
                bdd.var(given(printer, part)),
            )
            continue
        for inputs, before, place in laws_written_out(printer, part):
            together = bdd.true
            for pair in inputs:
                together &= at[pair]
            if part in printer.latches:
                stood = bdd.var(f"{part}_before")
                together &= stood if before == high else ~stood
            at[part, place] |= together
    return bdd, at


def beyond(name, part, cut):
    bdd, at = diagrams_of(name)
    found = bdd.false
    for place in printer_of(name).places[part][cut + 1 :]:
        found |= at[part, place]
    return found


@pytest.mark.parametrize("name", machines.names())
def test_every_part_of_the_table_stands_where_the_diagrams_put_it(name):
    machine, printer = mechlogic.load(name), printer_of(name)
    bdd, at = diagrams_of(name)
    tables = {}
    for sent, before, setting in settings_of(machine, printer):
        table = tables.setdefault(tuple(before.items()), machine.table_with(before))
        for part in printer.order:
            number = place_in_row(table.places[part], sent)
            place = printer.places[part][number]
            support = bdd.support(at[part, place])
            known = {one: value for one, value in setting.items() if one in support}
            assert bdd.let(known, at[part, place]) == bdd.true, (part, sent, before)


@pytest.mark.parametrize("name", machines.names())
def test_the_formula_of_every_part_is_its_diagram(name):
    mechanism, printer = mechlogic.load(name).mechanism, printer_of(name)
    bdd, _ = diagrams_of(name)
    for part in printer.order:
        for cut in range(len(printer.places[part]) - 1):
            formula = formulas.logic(mechanism, part, cut, simplest=False)
            assert diagram_of(bdd, formula) == beyond(name, part, cut), (part, cut)


@pytest.mark.parametrize("name", machines.names())
def test_the_travel_of_every_part_is_where_it_is_moved_from_wherever_it_stood(name):
    """The formula in the parts touched, worked out at the places of a few codes."""
    machine, printer = mechlogic.load(name), printer_of(name)
    settings = list(settings_of(machine, printer))
    for sent, before, _ in settings[:: max(1, len(settings) // 4)]:
        remembered = {one: printer.places[one][number] for one, number in before.items()}
        _, asked, _ = printer.follow(sent, remembered=remembered)
        at = {formulas.displacement(machine.mechanism, p): x for p, x in asked.items()}
        at.update({Symbol(f"{p}_before", nonnegative=True): x for p, x in remembered.items()})
        exactly = {symbol: formulas.exact(x) for symbol, x in at.items()}
        for part in printer.order:
            found = formulas.travel(machine.mechanism, part).subs(exactly)
            assert found == formulas.exact(asked[part]), (part, sent, before)


# -- satisfiability --------------------------------------------------------------------------------


@pytest.mark.parametrize("name", machines.names())
def test_a_solver_has_one_model_for_each_code_and_the_table_is_it(name):
    """The clauses leave no part a choice, once the code and the latches' past are assumed."""
    machine, printer, new = mechlogic.load(name), printer_of(name), count(1)
    outside, at = {}, {}
    with Solver(name="cadical153") as solver:
        for part in printer.order:
            places = printer.places[part]
            at.update({(part, place): next(new) for place in places})
            solver.add_clause([at[part, place] for place in places])
            for number, one in enumerate(places):
                for other in places[number + 1 :]:
                    solver.add_clause([-at[part, one], -at[part, other]])
            if is_given(printer, part):
                outside[given(printer, part)] = at[part, places[-1]]
                continue
            if part in printer.latches:
                outside[f"{part}_before"] = next(new)
            for inputs, before, place in laws_written_out(printer, part):
                clause = [at[part, place], *(-at[pair] for pair in inputs)]
                if part in printer.latches:
                    stood = outside[f"{part}_before"]
                    clause.append(-stood if before == places[-1] else stood)
                solver.add_clause(clause)
        for sent, before, setting in settings_of(machine, printer):
            assumed = [outside[one] if value else -outside[one] for one, value in setting.items()]
            found, literals = solver.propagate(assumptions=assumed)
            assert found
            stands = {printer_place for printer_place, literal in at.items() if literal in literals}
            table = machine.table_with(before)
            assert stands == {
                (part, printer.places[part][place_in_row(table.places[part], sent)])
                for part in printer.order
            }
