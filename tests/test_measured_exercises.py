"""Exercises in millimetres and milliseconds: the answers follow from what the question tells.

The numbers are read off the question as a reader would, and worked out anew by plain arithmetic;
where the machine itself is asked, it is the plain simulator in ``brute_force.py`` that answers.
"""

import re
from dataclasses import replace
from fractions import Fraction

import brute_force
import pytest

import mechlogic
from mechlogic.fit.adjustment import adjustable, dimension_words
from mechlogic.model import laws
from mechlogic.model.mechanism import Mechanism, Part
from mechlogic.teaching.exercises import MOST_OPTIONS
from mechlogic.teaching.measured_exercises import KINDS
from mechlogic.widgets.practice import KINDS as EVERY_KIND
from mechlogic.widgets.practice import Practice

NAMES = mechlogic.machines.names()
MACHINES = {name: mechlogic.load(name) for name in NAMES}
NUMBERS = range(1, 9)
SUITED = {
    "far": tuple(NAMES),
    "side": ("ness", "saltmere", "wind"),
    "moved": ("ness", "saltmere"),
    "first": ("ebbing", "saltmere"),
    "rate": ("desk", "ebbing", "saltmere"),
    "sticks": ("desk", "ebbing", "saltmere"),
    "clock": tuple(NAMES),
}
CASES = [(kind, name) for kind, names in SUITED.items() for name in names if name != "sluice"]


def numbers(text):
    return [float(found) for found in re.findall(r"-?\d+(?:\.\d+)?", text.replace("−", "-"))]


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


@pytest.mark.parametrize(
    ("kind", "name"),
    [("side", "desk"), ("moved", "wind"), ("first", "wind"), ("rate", "ness"), ("sticks", "ness")],
)
def test_a_machine_that_does_not_suit_says_so(kind, name):
    with pytest.raises(ValueError):
        KINDS[kind](MACHINES[name], 1)


def test_a_machine_of_joints_that_no_exercise_asks_about_says_so():
    """A contributor's own machine need have none of the joints in measured_exercises.HOW."""
    bars = [Part(f"bar{n}", laws.Bit(n, Fraction(4))) for n in (1, 2)]
    step = Part("step", laws.HalfStep("bar1", "bar2", Fraction(8)))
    machine = replace(MACHINES["wind"], mechanism=Mechanism([*bars, step]))
    with pytest.raises(ValueError, match="No part of"):
        KINDS["far"](machine, 1)


@pytest.mark.parametrize("name", [name for name in NAMES if name != "sluice"])
def test_a_part_stands_where_the_plain_simulator_puts_it(name):
    plain = brute_force.Printer(brute_force.read(mechlogic.machines.FOLDER / f"{name}.toml"))
    parts = {MACHINES[name].label(part): part for part in plain.order}
    for number in NUMBERS:
        one = KINDS["far"](MACHINES[name], number)
        told, asked = one.prompt.split(" from rest, and nothing else has. ")
        moved = {
            parts[label[:1].lower() + label[1:].removeprefix("he ")]
            if label[:1].lower() + label[1:] not in parts
            else parts[label[:1].lower() + label[1:]]: Fraction(mm)
            for label, mm in re.findall(r"(?:^|and )(.+?) has moved ([\d.]+) mm", told)
        }
        stands = {}
        for part in plain.order:
            if plain.parts[part]["joint"] in ("bit", "key"):
                stands[part] = moved.get(part, Fraction(0))
            else:
                inputs = [stands[other] for other in brute_force.inputs_of(plain.parts[part])]
                stands[part] = plain.law(part, inputs)
        wanted = asked.removeprefix("How far from its zero does ").removesuffix(" stand?")
        part = parts.get(wanted) or parts[wanted.removeprefix("the ")]
        (answer,) = one.right
        assert numbers(answer)[0] == pytest.approx(float(stands[part]), abs=0.005), one


def test_the_side_that_is_lost_is_the_one_away_from_the_hammer():
    """On the wind stamp, where a stop moves its own letter and the rack's end moves the W."""
    served = {"stop 1": "N", "stop 2": "E", "stop 3": "S", "the end": "W"}
    for number in range(1, 40):
        one = KINDS["side"](MACHINES["wind"], number)
        what = re.match(r"(Stop \d|The end)", one.prompt)
        letter = re.search(r"How does (.) come out", one.prompt)[1]
        if what is None:  # the whole rack
            continue
        by = float(re.search(r"stands ([\d.]+) mm", one.prompt)[1])
        low = "too low" in one.prompt
        hit = served[what[1].lower()] == letter and by > 0.6
        side = "clipped at the bottom" if low else "clipped at the top"
        assert one.right == {side if hit else "whole"}, one


@pytest.mark.parametrize("name", SUITED["moved"])
def test_no_other_adjustment_on_offer_can_have_clipped_just_these(name):
    """By trying amounts one by one with the travel laws as plain numbers, for the one direction."""
    from mechlogic.fit.hammer import strikes

    machine = MACHINES[name]
    words = {dimension_words(machine, one): one for one in adjustable(machine)}
    for number in NUMBERS[:4]:
        one = KINDS["moved"](machine, number)
        told = one.prompt.removeprefix("You note: ").split(". Which of these")[0]
        noted = {}
        for each in told.split("; "):
            letter, seen = re.fullmatch(r"(“.”|\S+) (.+)", each).groups()
            noted[machine.code.parse(re.sub("^“(.)”$", r"\1", letter))] = seen
        for option in one.options:
            dimension = words[option]
            can = False
            for step in range(-30, 31):
                by = step * (0.05 if dimension.unit == "mm" else 0.25)
                found = strikes(
                    machine, {dimension.name: float(dimension.nominal) + by}, codes=tuple(noted)
                )
                come_out = [
                    f"clipped at the {s.clipped[0]}" if len(s.clipped) == 1 else s.seen
                    for s in found
                ]
                can |= come_out == list(noted.values())
            assert can == (option in one.right), (one, option)


@pytest.mark.parametrize("name", SUITED["first"])
def test_the_part_with_the_least_time_in_hand_is_found_by_subtraction(name):
    for number in NUMBERS:
        one = KINDS["first"](MACHINES[name], number)
        told = re.findall(r"([^.;]+): given ([\d.]+) ms, needs ([\d.]+) ms", one.prompt)
        assert len(told) == len(one.options)
        in_hand = {
            label.strip().lower(): float(given) - float(needs) for label, given, needs in told
        }
        (answer,) = one.right
        assert min(in_hand, key=in_hand.get) == answer.lower(), one


@pytest.mark.parametrize("name", SUITED["rate"])
def test_the_highest_rate_leaves_just_time_enough(name):
    for number in NUMBERS:
        one = KINDS["rate"](MACHINES[name], number)
        baud, given, needs = re.search(
            r"At ([\d.]+) baud the cycle gives ([\d.]+) ms to .+; it needs ([\d.]+) ms", one.prompt
        ).groups()
        in_time = [
            option
            for option in one.options
            if float(given) * float(baud) / numbers(option)[0] >= float(needs)
        ]
        assert one.right == {max(in_time, key=lambda option: numbers(option)[0])}, one


@pytest.mark.parametrize("name", SUITED["sticks"])
def test_the_band_is_where_the_spring_is_weaker_than_the_rust(name):
    """Found by walking away from the stop in hundredths of a millimetre."""
    for number in NUMBERS:
        one = KINDS["sticks"](MACHINES[name], number)
        spring, preload, rust = re.search(
            r"spring of ([\d.]+) N/mm, which pulls with ([\d.]+) N .+ with ([\d.]+) N", one.prompt
        ).groups()
        hundredths = 0
        while float(preload) + float(spring) * hundredths / 100 < float(rust) - 1e-9:
            hundredths += 1
        (answer,) = one.right
        assert numbers(answer)[0] == pytest.approx(hundredths / 100, abs=0.06), one


def test_the_clock_error_grows_with_the_time_to_the_bit():
    """By counting when the motor reads the bit, in thousandths of a unit of the line."""
    for number in range(1, 30):
        one = KINDS["clock"](MACHINES["wind"], number)
        percent, fast, bit = re.search(
            r"runs (\d) % (fast|slow).+before bit (\d)", one.prompt
        ).groups()
        speed = 1 + (1 if fast == "fast" else -1) * int(percent) / 100
        thousandths = 0
        while thousandths / 1000 * speed < int(bit) + 0.5:  # the motor's own units
            thousandths += 1
        read = thousandths / 1000
        left = 100 * min(read - int(bit), int(bit) + 1 - read)
        (answer,) = one.right
        assert numbers(answer)[0] == pytest.approx(left, abs=0.7), one
        others = [numbers(option)[0] for option in one.options if option not in one.right]
        assert all(abs(other - left) > 2 for other in others), one


def test_practice_knows_every_kind_under_a_name_of_its_own():
    from mechlogic.teaching import exercises, sealed_exercises, workshop_exercises

    all_kinds = [*exercises.KINDS, *workshop_exercises.KINDS, *KINDS, *sealed_exercises.KINDS]
    assert len(set(all_kinds)) == len(all_kinds) == len(EVERY_KIND)
    practice = Practice(MACHINES["saltmere"], ("left", "far", "clock"))
    assert len(practice._questions.children) == 3
