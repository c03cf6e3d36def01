"""Exercises after a repair and before a description: the answers hold on an independent machine.

What machines print is asked of the plain simulator in ``brute_force.py``, and what joints do of
plain arithmetic on the millimetres that the question tells.
"""

import re
from itertools import product

import brute_force
import pytest

import mechlogic
from mechlogic.bench.story import hypothesis_label
from mechlogic.model.faults import single_faults
from mechlogic.teaching.exercises import MOST_OPTIONS
from mechlogic.teaching.workshop_exercises import BOTH, COLUMN, KINDS, NEITHER, ROW

NAMES = mechlogic.machines.names()
MACHINES = {name: mechlogic.load(name) for name in NAMES}
PLAIN = {
    name: brute_force.Printer(brute_force.read(mechlogic.machines.FOLDER / f"{name}.toml"))
    for name in NAMES
}
WITH_TYPE = ("ness", "saltmere", "wind")
NUMBERS = range(1, 7)


def machines_for(kind):
    return WITH_TYPE if kind == "bit" else NAMES


CASES = [(kind, name) for kind in KINDS for name in machines_for(kind)]


@pytest.mark.parametrize(("kind", "name"), CASES)
def test_every_exercise_has_one_right_answer_hints_and_a_solution(kind, name):
    for number in NUMBERS:
        one = KINDS[kind](MACHINES[name], number)
        assert len(one.right) == 1 and one.right <= set(one.options)
        assert 2 <= len(one.options) <= MOST_OPTIONS
        assert len(set(one.options)) == len(one.options)
        assert len(one.hints) >= 2 and all(one.hints)
        assert one.because.endswith(".")
        assert one == KINDS[kind](MACHINES[name], number), "the same number asks the same"


@pytest.mark.parametrize("kind", KINDS)
def test_another_number_asks_something_else(kind):
    asked = {KINDS[kind](MACHINES["saltmere"], number).prompt for number in NUMBERS}
    assert len(asked) > len(NUMBERS) / 2


def test_a_machine_without_type_gives_no_exercise_on_rows_and_columns():
    with pytest.raises(ValueError, match="no wheel, block or bar of type"):
        KINDS["bit"](MACHINES["ebbing"], 1)


# -- what machines print, by the plain simulator ---------------------------------------------------


def prints(name, fault, text, before=None):
    """What a machine with a fault prints for codes sent at speed; idle before if not told."""
    plain, machine = PLAIN[name], MACHINES[name]
    faults = [fault] if fault else []
    remembered = dict(before or {part: plain.rest[part] for part in plain.remembering(faults)})
    seen = []
    for code in text:
        _, asked, print_ = plain.follow(machine.as_set(code), faults, remembered=remembered)
        remembered = {part: asked[part] for part in remembered}
        seen.append(print_)
    return seen


def whatever_came_before(name, fault):
    """Every place in which the parts that remember may have been left."""
    plain = PLAIN[name]
    parts = plain.remembering([fault])
    for places in product(*(plain.places[part] for part in parts)):
        yield dict(zip(parts, places, strict=True))


def good_before(name, before):
    return {part: before[part] for part in PLAIN[name].latches if part in before}


def faults_by_label(name):
    """The plain fault for each label that an exercise may show."""
    return {
        hypothesis_label(MACHINES[name], (f,)): (f.part, f.mode, f.input)
        for f in single_faults(MACHINES[name].mechanism)
    }


def codes_in(name, words):
    """The codes named in a list such as "K, “!” and SP", or "K and then E"."""
    words = re.findall(r"“.”|[^\s,“”]+", words.replace(" and then ", " ").replace(" and ", " "))
    return [MACHINES[name].code.parse(re.sub("^“(.)”$", r"\1", word)) for word in words]


@pytest.mark.parametrize("name", NAMES)
def test_only_the_fault_that_may_be_left_can_print_the_text_right(name):
    labels = faults_by_label(name)
    for number in NUMBERS:
        one = KINDS["left"](MACHINES[name], number)
        text = codes_in(name, one.prompt.split(" are sent at speed")[0])
        assert len(text) == 3
        for label in one.options:
            fault = labels[label]
            runs = [
                prints(name, fault, text, before)
                == prints(name, None, text, good_before(name, before))
                for before in whatever_came_before(name, fault)
            ]
            assert all(runs) if label in one.right else not any(runs), (one, label)


def sentence_faults(name):
    from mechlogic.explaining.words import fault_sentence

    machine = MACHINES[name]
    return {
        fault_sentence(machine, f): (f.part, f.mode, f.input)
        for f in single_faults(machine.mechanism)
    }


@pytest.mark.parametrize("name", NAMES)
def test_only_the_right_character_tells_of_the_fault(name):
    sentences = {
        said[:1].lower() + said[1:]: fault for said, fault in sentence_faults(name).items()
    }
    for number in NUMBERS:
        one = KINDS["shows"](MACHINES[name], number)
        fault = sentences[one.prompt.split("only: that ")[1].split(" Which of these")[0]]
        for option in one.options:
            code = MACHINES[name].code.parse(option)
            befores = [good_before(name, one) for one in whatever_came_before(name, fault)] or [{}]
            wrong = [
                prints(name, fault, [code], before) != prints(name, None, [code], before)
                for before in befores
            ]
            assert all(wrong) if option in one.right else not any(wrong), (one, option)


@pytest.mark.parametrize("name", NAMES)
def test_only_the_right_order_shows_the_part_that_is_late(name):
    for number in NUMBERS:
        one = KINDS["order"](MACHINES[name], number)
        fault = sentence_faults(name)[one.prompt.split(" The machine has stood idle")[0]]
        for option in one.options:
            pair = codes_in(name, option)
            shows = prints(name, fault, pair) != prints(name, None, pair)
            assert shows == (option in one.right), (one, option)


# -- joints and bits, by the millimetres that are told ---------------------------------------------

FULL = r"(-?[\d.]+) mm"


def described(joint, moved):
    """How far a joint should stand, for inputs of which each has moved so far out of 4 or 5."""
    full, x = moved
    match joint, x:
        case "follow", [a]:
            return a
        case "withdraw", [a]:
            return full[0] - a
        case "either_pushes", [a, b]:
            return max(a, b)
        case "all_clear", [a, b]:
            return min(a, b)
        case "pull_bar", [a, b]:
            return min(a, full[1] - b)
        case "summing_lever", [a, b]:
            return (a + b) / 2
    return None


@pytest.mark.parametrize("name", NAMES)
def test_only_the_right_joint_stands_where_it_was_measured(name):
    strokes = {
        MACHINES[name].label(part): float(described_["stroke_mm"])
        for part, described_ in PLAIN[name].parts.items()
        if described_["joint"] in ("bit", "key")
    }
    for number in NUMBERS:
        one = KINDS["joint"](MACHINES[name], number)
        places = [float(mm) for mm in re.findall(FULL, one.prompt)]
        touched = one.prompt.split("touches ")[1].split(". You move")[0]
        touched = touched.removesuffix(" and nothing else").split(" and ")
        full = [strokes[label.removeprefix("the ")] for label in touched]
        for option in one.options:
            joint = option.split(":")[0]
            ways = product((0, 1), repeat=len(full))
            stands = [
                described(joint, (full, [f * m for f, m in zip(full, way, strict=True)]))
                for way in ways
            ]
            assert (stands == places) == (option in one.right), (one, option)


@pytest.mark.parametrize("name", WITH_TYPE)
def test_a_bit_chooses_what_changes_with_it_anywhere_on_the_type(name):
    plain, machine = PLAIN[name], MACHINES[name]
    output = next(iter(plain.outputs.values()))
    roles = {(True, False): ROW, (False, True): COLUMN, (True, True): BOTH, (False, False): NEITHER}
    for number in NUMBERS:
        one = KINDS["bit"](machine, number)
        bit = int(re.search(r"What does bit (\d+) do", one.prompt)[1])
        changed = set()
        for code in set(machine.printing_codes):
            other = code ^ 1 << (bit - 1)
            if other in machine.printing_codes:
                here, there = (plain.follow(machine.as_set(c))[0] for c in (code, other))
                changed |= {part for part in here if here[part] != there[part]}
        lift, across = output.get("lift"), output.get("turn", output.get("shift"))
        assert one.right == {roles[lift in changed, across in changed]}, one
