"""Faults of the type and of reassembly, held against machines that are described so.

A machine with two wires exchanged, or its wheel one place off, is a good machine of another
description. So the independent simulator is given that description, with the text of the TOML
changed, and must print the same.
"""

import random
import re
import tempfile

import pytest
from brute_force import Printer, read

import mechlogic
from mechlogic import NOTHING, UNREADABLE, Behaviour, Entry, Fault, FaultError, Logbook
from mechlogic.bench.advice import next_check, readable_codes
from mechlogic.bench.checks import found_by_look, in_reach, options
from mechlogic.bench.diagnosis import diagnose, usual_hypotheses, worn_together
from mechlogic.bench.evidence import Evidence
from mechlogic.bench.story import how, hypothesis_label
from mechlogic.bench.sweep import sweeps
from mechlogic.explaining.words import fault_sentence
from mechlogic.machines import FOLDER, names
from mechlogic.model.faults import assembly_faults, latch_faults
from mechlogic.model.steps import steps
from mechlogic.model.type_faults import type_faults

SALTMERE = mechlogic.load("saltmere")
EBBING = mechlogic.load("ebbing")


def prints_of(machine, fault):
    """What is printed for each code, from rest, where nothing is left to chance."""
    table = steps(machine, (fault,))
    return [next(iter(outcomes))[0] for outcomes in table[min(table)]]


def description_of(text):
    """The description as the plain simulator reads it."""
    with tempfile.NamedTemporaryFile("w", suffix=".toml", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        return read(file.name)


def good_prints_of(text, machine):
    """What the plain simulator prints for a good machine of this description."""
    plain = Printer(description_of(text))
    return [plain.follow(machine.as_set(code))[2] for code in range(len(machine.code))]


def described(name):
    return (FOLDER / f"{name}.toml").read_text(encoding="utf-8")


def with_bits_exchanged(text, one, other):
    """The description with the bits of two bars exchanged."""

    def line_of(name):
        return re.search(rf"\[parts\.{name}\].*?^bit = (\d+)$", text, re.S | re.M)

    first, second = sorted((line_of(one), line_of(other)), key=lambda found: found.start(1))
    between = text[first.end(1) : second.start(1)]
    return text[: first.start(1)] + second[1] + between + first[1] + text[second.end(1) :]


def with_levers_exchanged(text, one, other):
    """The description with two levers in each other's place at every stop."""
    names = {one: other, other: one}
    return re.sub(
        r'(lever = ")(\w+)(")', lambda found: found[1] + names.get(found[2], found[2]) + '"', text
    )


@pytest.mark.parametrize("name", ["saltmere", "ness", "wind"])
def test_exchanged_bits_print_what_a_machine_with_those_bits_prints(name):
    machine = mechlogic.load(name)
    bars = [f for f in assembly_faults(machine.mechanism) if f.part in machine.mechanism.bars]
    assert bars
    for fault in random.Random(1).sample(bars, min(6, len(bars))):
        wanted = good_prints_of(
            with_bits_exchanged(described(name), fault.part, fault.input), machine
        )
        assert prints_of(machine, fault) == wanted, fault


def test_exchanged_levers_print_what_a_machine_with_those_levers_prints():
    joints = [part.joint for part in SALTMERE.mechanism if hasattr(part.joint, "stops")]
    levers = [stop.lever.part for joint in joints for stop in joint.stops]
    faults = [f for f in assembly_faults(SALTMERE.mechanism) if {f.part, f.input} <= set(levers)]
    assert faults
    for fault in faults:
        text = with_levers_exchanged(described("saltmere"), fault.part, fault.input)
        assert text != described("saltmere")
        assert prints_of(SALTMERE, fault) == good_prints_of(text, SALTMERE), fault


def test_a_wheel_one_place_off_prints_the_neighbour_of_every_character():
    """The neighbour is looked up on the type laid flat, as the description draws it."""
    lines, places = SALTMERE.output.lines, {}
    for row, line in enumerate(lines):
        places |= {glyph: (row, column) for column, glyph in enumerate(line) if glyph != " "}
    for side, up, right in (("up", 1, 0), ("down", -1, 0), ("left", 0, -1), ("right", 0, 1)):
        printed = prints_of(SALTMERE, Fault("print", "one place off", side))
        for code in SALTMERE.printing_codes:
            if (good := SALTMERE.good_print(code)) not in places:
                continue
            row, column = places[good]
            there, across = row + up, column + right
            if 0 <= there < len(lines) and 0 <= across < len(lines[0]):
                wanted = lines[there][across]
                assert printed[code] == (NOTHING if wanted == " " else wanted), (side, good)


@pytest.mark.parametrize("name", names())
def test_worn_type_is_missing_or_unreadable_and_spoils_nothing_else(name):
    machine = mechlogic.load(name)
    good = steps(machine, ())
    for fault in type_faults(machine):
        if fault.mode != "worn type":
            continue
        table = steps(machine, (fault,))
        for memory, row in table.items():
            for code, outcomes in enumerate(row):
                ((right, after),) = good[memory][code]
                glyph, *done = right.split("+") if right[1:2] == "+" else [right]
                seen = {seen for seen, _ in outcomes}
                assert {then for _, then in outcomes} == {after}
                if glyph != fault.input:
                    assert seen == {right}
                elif done:  # the function is seen all the same
                    assert seen == {"+".join(done), "+".join((UNREADABLE, *done))}
                else:
                    assert seen == {NOTHING, UNREADABLE}


def test_type_that_the_machine_does_not_have_is_refused_with_the_nearest():
    with pytest.raises(FaultError, match="row of type"):
        steps(SALTMERE, (Fault("print", "worn row of type", "99"),))


def test_a_latch_that_misses_stays_where_it_stood():
    (fault,) = latch_faults(EBBING.mechanism)
    good, table = steps(EBBING, ()), steps(EBBING, (fault,))
    moved = 0
    for memory, row in table.items():
        for code, outcomes in enumerate(row):
            ((_, after),) = good[memory][code]
            assert {then for _, then in outcomes} == {after, memory}
            moved += after != memory
    assert moved


def test_a_shift_stuck_at_times_does_not_become_figures_by_itself():
    """FIGS was missed: the letters go on until the next shift."""
    (latch,) = EBBING.mechanism.latches
    fault = Fault(latch, "stuck at rest", sometimes=True)
    table = steps(EBBING, (fault,))
    rest = min(table)
    figs, letter = EBBING.code.parse("FIGS"), EBBING.code.parse("A")
    missed = {then for _, then in table[rest][figs]}
    assert rest in missed
    assert all(seen == "A" for seen, then in table[rest][letter])


def test_a_sweep_says_of_the_new_faults_what_each_world_says():
    rng = random.Random(2)
    for machine in (SALTMERE, EBBING):
        parts = machine.mechanism
        faults = (*type_faults(machine), *assembly_faults(parts), *latch_faults(parts))
        some = [(fault,) for fault in rng.sample(faults, min(30, len(faults)))]
        for sweep in sweeps(machine, some):
            for code in rng.sample(range(len(machine.code)), 8):
                prints = sweep.told(code, at_speed=True).prints
                for number, each in enumerate(sweep.hypotheses):
                    for place, row in enumerate(steps(machine, each).values()):
                        at = place * sweep.width + number
                        together = {seen for seen, there in prints.items() if there >> at & 1}
                        assert together == {seen for seen, _ in row[code]}, (each, code)


# -- what the bench makes of them ------------------------------------------------------------------


def test_the_plainest_case_a_character_that_is_missing_twice():
    log = mechlogic.from_lines("TIDE 0412 BERTH 4", "TIDE 0 12 BERTH  ")
    found = diagnose(SALTMERE, log, usual_hypotheses(SALTMERE, log))
    worn = (Fault("print", "worn type", "4"),)
    assert found.considered[0].members == (worn,)
    four = SALTMERE.code.parse("4")
    assert next_check(found).codes == (four,)  # typing it again is the first check
    sentence = fault_sentence(SALTMERE, worn[0])
    assert sentence == "The type wheel has a broken, worn or filled 4."
    assert how(
        found.evidence, Behaviour(SALTMERE, worn), found.considered[0].accounts[0]
    ).startswith(sentence)
    assert hypothesis_label(SALTMERE, worn) == "type wheel: worn type: 4"
    assert options(found)


def test_the_type_is_looked_at_with_the_parts_that_bring_it_to_the_hammer():
    worn = (Fault("print", "worn type", "4"),)
    costs = {kind: float(cost) for kind, cost in SALTMERE.efforts.items()}
    assert found_by_look(SALTMERE, worn, in_reach(SALTMERE, "head", costs)) == ("print",)


def test_several_missing_characters_are_thought_of_together():
    lines = SALTMERE.output.lines
    x, y = lines[1][2], lines[4][5]  # of different rows and columns of the type
    sent = f"A{x}AB{y}B" * 3 + "CDGHIJKL"
    log = mechlogic.from_lines(sent, sent.replace(x, " ").replace(y, " "))
    wanted = tuple(sorted(Fault("print", "worn type", glyph) for glyph in (x, y)))
    assert worn_together(Evidence(SALTMERE, log)) == (wanted,)
    found = diagnose(SALTMERE, log, usual_hypotheses(SALTMERE, log))
    assert wanted in found.considered[0].members


@pytest.mark.parametrize("name", ["saltmere", "ness"])
def test_worn_type_is_named_after_the_advised_checks(name):
    """A few repairs; tests/bench/measure_worn_type.py counts them in hundreds."""
    machine, rng = mechlogic.load(name), random.Random(7)
    codes = readable_codes(machine)
    for code in rng.sample(codes, 3):
        fault = (Fault("print", "worn type", machine.good_print(code)),)
        table, memory = steps(machine, fault), None
        memory, log = min(table), Logbook((), machine.code)
        waiting = [*rng.sample(codes, 8), code, code]
        for _ in range(12):
            for sent in waiting:
                outcomes = table[memory][sent]
                ((seen, memory),) = rng.choices(list(outcomes), list(outcomes.values()))
                log = log.adding(Entry(sent, seen))
            found = diagnose(machine, log, usual_hypotheses(machine, log))
            check = next_check(found)
            if found.considered[0].probability > 0.95 or check is None:
                break
            waiting = list(check.codes)
        assert fault in found.considered[0].members


@pytest.mark.parametrize("kind", ["all unreadable", "all alike", "all nothing"])
def test_numbers_never_run_out(kind):
    codes = [SALTMERE.code.parse(c) for c in "U*"] * 1500
    printed = {"all unreadable": UNREADABLE, "all alike": "Q", "all nothing": NOTHING}[kind]
    for n in (108, 3000):
        log = Logbook(tuple(Entry(code, printed) for code in codes[:n]))
        found = diagnose(SALTMERE, log, usual_hypotheses(SALTMERE, log))
        next_check(found)
        assert all(suspect.probability > 0 for suspect in found.considered)
        assert found.considered or not found.ranked
        left_out = found.enough - sum(suspect.probability for suspect in found.considered)
        unlikely = sum(s.probability for s in found.ranked if not s.consistent)
        assert -1e-9 < left_out < unlikely + 1e-9
