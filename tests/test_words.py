"""The words reading: for every code every part is spoken of, where it is, and who put it there."""

import random
import re
from fractions import Fraction
from itertools import groupby

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plain_runs import SALTMERE, Runs
from strategies import descriptions, few, machine_of

import mechlogic
from mechlogic.explaining import words
from mechlogic.explaining.words import (
    believed,
    capitalised,
    displacement,
    explain,
    listed,
    measure,
    parts_in_order,
    percent,
    sentence,
    the,
)
from mechlogic.model import laws
from mechlogic.model.codes import Setting
from mechlogic.model.logbook import NOTHING, UNREADABLE
from mechlogic.model.table import place_in_row

MACHINE = mechlogic.load("saltmere")
PRINTER = SALTMERE.printer
EVERY = [Setting(code) for code in range(128)]


def said(code):
    return {step.part: step.says for step in explain(MACHINE, Setting(code))}


@pytest.mark.parametrize("code", random.Random(5).sample(EVERY, 40))
def test_every_part_is_spoken_of_once_in_working_order_and_the_print_last(code):
    steps = explain(MACHINE, code)
    assert [step.part for step in steps] == [*MACHINE.mechanism.parts, "print"]
    for step in steps:
        assert re.fullmatch(r"[A-Z].*\.", step.says), step.says
        assert step.part == "print" or MACHINE.label(step.part).lower() in step.says.lower()
        assert not re.search(r"</?[a-z]|&[a-z]+;|None|Fraction|  ", step.says), "plain text"


@pytest.mark.parametrize("code", random.Random(6).sample(EVERY, 40))
def test_a_moved_part_is_said_to_be_where_the_brute_force_finds_it(code):
    stands, _, printed = PRINTER.follow(code)
    for name, says in list(said(code).items())[:-1]:
        at = measure(stands[name], MACHINE.mechanism.unit(name))
        if stands[name]:
            assert at in says, (name, says)
        else:
            assert re.search(
                r"stays at (rest|0°)|is at rest|held back|held up|holds .* start|0 mm", says
            ), says
    shown = {NOTHING: "nothing is printed"}.get(printed, f"prints {printed}")
    assert shown in said(code)["print"]


@few
@given(descriptions(), st.data())
def test_every_joint_says_where_its_part_stands(description, data):
    machine, runs = machine_of(description), Runs(description)
    code = Setting(data.draw(st.integers(0, (1 << machine.units) - 1)))
    stands, *_ = runs.printer.follow(code)
    for step in explain(machine, code)[:-1]:
        assert re.fullmatch(r"[A-Z].*\.", step.says), step.says
        assert step.part in step.says.lower()
        if stands[step.part]:
            assert measure(stands[step.part], machine.mechanism.unit(step.part)) in step.says


@few
@given(descriptions(), st.data())
def test_the_stop_that_is_blamed_is_the_first_one_in_the_way(description, data):
    machine, runs = machine_of(description), Runs(description)
    stands, *_ = runs.printer.follow(data.draw(st.integers(0, (1 << machine.units) - 1)))
    index = {name: runs.printer.places[name].index(at) for name, at in stands.items()}
    for name, part in description["parts"].items():
        if part["joint"] != "stepped_stops":
            continue
        text = sentence(machine, name, index)
        if stands[name] == part["end_mm"]:
            assert "othing is in the way" in text
            continue
        arresting = [stop["lever"] for stop in part["stops"] if stop["at_mm"] == stands[name]]
        assert any(lever in text.lower() for lever in arresting)
        for lever in {stop["lever"] for stop in part["stops"]} - {*arresting, name}:
            assert f"{lever} " not in text.lower()


# -- each joint in its own words -----------------------------------------------------------------


def test_the_middle_stop_lever_is_pushed_by_either_slide_or_both_or_neither():
    b1, b3 = 1, 4
    assert said(0)["middle_stop"] == (
        "Neither slide 1 nor slide 3 pushes, so the middle stop lever stays at rest."
    )
    assert said(b1)["middle_stop"] == "Slide 1 pushes the middle stop lever: it moves 5 mm."
    assert said(b3)["middle_stop"] == "Slide 3 pushes the middle stop lever: it moves 5 mm."
    assert said(b1 | b3)["middle_stop"] == (
        "Slide 1 and slide 3 both push the middle stop lever: it moves 5 mm."
    )


def test_the_lift_rack_stops_at_the_first_stop_that_is_still_in_its_way():
    assert said(0)["lift_rack"] == (
        "The middle stop lever holds the lift rack at the start of its way."
    )
    assert said(1)["lift_rack"] == (
        "The lift rack runs to 5 mm, where the left stop lever is in its way."
    )
    assert said(4)["lift_rack"] == (
        "The lift rack runs to 10 mm, where the right stop lever is in its way."
    )
    assert said(5)["lift_rack"] == (
        "Nothing is in the way of the lift rack: it runs to its end, 15 mm."
    )


def test_the_print_suppression_bar_and_the_hammer():
    control = said(13)
    assert control["suppression_bar"] == (
        "Every bar under the print suppression bar shows it a notch: it drops 4 mm."
    )
    assert control["hammer"] == "The print hammer is held back by the suppression bail."
    assert control["print"] == "For CR nothing is printed."
    letter = said(65)
    assert letter["suppression_bar"] == (
        "Code bar 7 shows no notch: the print suppression bar is held up."
    )
    assert letter["hammer"] == (
        "The suppression bail is at rest, so the print hammer goes its full 4 mm."
    )
    assert said(96)["suppression_bar"].startswith("Code bar 6 and code bar 7 show no notch")


def test_the_pinion_turns_either_way_in_degrees():
    assert said(8)["turn"] == "The cam rack by 4 mm turns the type-wheel pinion to 45°."
    assert said(64)["turn"] == "The half-turn rack by 16 mm turns the type-wheel pinion to −180°."


def test_the_shoulder_shifts_the_carriage_by_half_a_step():
    assert said(2)["lift"].endswith("shifts it to 2.5 mm.")
    assert "adds nothing" in said(0)["lift"]


def test_bars_speak_of_their_bits():
    assert said(1)["bar1"] == "Bit b1 is set: code bar 1 moves 4 mm."
    assert said(0)["bar1"] == "Bit b1 is not set: code bar 1 stays at rest."


# -- parts that are not where they should be -----------------------------------------------------


def places(code):
    return {name: place_in_row(c, code) for name, c in MACHINE.healthy.places.items()}


def test_a_bar_that_does_not_obey_its_bit_is_said_to():
    stuck = {**places(1), "bar1": 0}
    assert sentence(MACHINE, "bar1", stuck, 1) == "Bit b1 is set, but code bar 1 stays at rest."
    pushed = {**places(0), "bar1": 1}
    assert sentence(MACHINE, "bar1", pushed, 0) == "Bit b1 is not set, but code bar 1 moves 4 mm."
    assert sentence(MACHINE, "bar1", pushed) == "Code bar 1 moves 4 mm."


def test_a_part_that_does_not_obey_its_inputs_is_said_to():
    stuck = {**places(4), "middle_stop": 0}
    assert sentence(MACHINE, "middle_stop", stuck) == (
        "Slide 3 pushes the middle stop lever: it moves 5 mm. So it should, but it stands at 0 mm."
    )


def test_a_bad_print_is_said_beside_the_good_one():
    speak = words.printed_sentence
    assert speak(MACHINE, 65, "A") == "For A it prints A."
    assert speak(MACHINE, 65, "Q") == "For A it prints Q; a good machine prints A."
    assert speak(MACHINE, 65, NOTHING) == "For A nothing is printed; a good machine prints A."
    between = "For A the type wheel stands between two characters: the print is unreadable; "
    assert speak(MACHINE, 65, UNREADABLE).startswith(between)


def test_a_print_is_said_as_the_machine_makes_it():
    ebbing, desk, sluice = map(mechlogic.load, ("ebbing", "desk", "sluice"))
    speak = words.printed_sentence
    bell = ebbing.code.parse("J")
    assert speak(ebbing, bell, "BEL", "BEL") == "For J it rings the bell."
    assert speak(ebbing, bell, "A+LF", "J") == (
        "For J it prints A and feeds a line; a good machine prints J."
    )
    assert speak(ebbing, bell, UNREADABLE).startswith("For J two typebars meet: the print is")
    assert speak(sluice, 0, NOTHING) == "For NUL it does nothing."
    assert speak(sluice, 13, "CR+BEL") == (
        "For CR it returns the carriage and rings the bell; a good machine returns the carriage."
    )
    assert speak(desk, 5, "5") == "For 5 it sends 5."
    assert speak(desk, 5, UNREADABLE).startswith("For 5 the parity on the line is wrong")


def test_a_latch_stands_at_letters_or_figures_where_it_decides_between_these():
    ebbing = mechlogic.load("ebbing")
    assert [words.stand(ebbing, "shift", place) for place in (0, 1)] == ["letters", "figures"]
    assert words.stand(ebbing, "bar1", 1) == "3 mm"


def test_sentences_are_plain_text_and_escape_nothing():
    assert said(ord("<"))["print"] == "For < it prints <."
    assert said(ord(">"))["print"] == "For > it prints >."


# -- small words ---------------------------------------------------------------------------------


def test_a_list_has_commas_and_one_and():
    assert listed([]) == ""
    assert listed(["a"]) == "a"
    assert listed(["a", "b"]) == "a and b"
    assert listed(["a", "b", "c"], "or") == "a, b or c"


def test_behind_a_spring_link_a_part_is_held_by_its_stop_once_its_input_goes_further():
    """Lost motion counts first: of the 2 mm that one bar gives the beam, 1.8 mm act."""
    bars = {f"bar{n}": {"joint": "bit", "bit": n, "stroke_mm": Fraction(4)} for n in (1, 2)}
    arms = {"first_arm_mm": Fraction(1), "second_arm_mm": Fraction(1)}
    beam = {"joint": "summing_lever", "first": "bar1", "second": "bar2", **arms}
    horn = {"joint": "spring_link", "input": "beam", "ratio": Fraction(1), "at_mm": Fraction(9, 5)}
    horn["gap_mm"] = Fraction(1, 5)
    wheel = {"lift": "horn", "rows_mm": [Fraction(0), Fraction(9, 5)], "glyphs": ["A", "B"]}
    machine = machine_of({"parts": {**bars, "beam": beam, "horn": horn}, "wheel": wheel})
    assert [explain(machine, code)[-2].says for code in (0, 1, 3)] == [
        "The horn stays at rest with the beam.",
        "The horn follows the beam and moves 1.8 mm.",
        "The horn follows the beam to its stop at 1.8 mm; there the spring gives way.",
    ]


def test_numbered_labels_are_names_and_take_no_article():
    assert the("slide 5") == "slide 5"
    assert the("arm") == "the arm"
    assert capitalised("the print of CR") == "The print of CR"
    assert capitalised("") == ""


def test_measures_have_a_unit_and_a_true_minus():
    assert measure(Fraction(5, 2), "mm") == "2.5 mm"
    assert measure(Fraction(-135, 2), "degrees") == "−67.5°"
    assert measure(Fraction(1, 3), "mm") == "0.3333 mm"
    assert displacement(MACHINE, "turn", 0) == "−180°"


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        (0, "0 %"),
        (0.001, "under 1 %"),
        (0.29, "29 %"),
        (Fraction(1, 4), "25 %"),
        (0.999, "over 99 %"),
        (Fraction(1), "100 %"),
    ],
)
def test_a_chance_is_said_as_a_person_would_and_never_rounded_to_certainty(chance, said):
    assert percent(chance) == said


def test_parts_are_listed_by_assembly_and_then_by_number():
    names = [MACHINE.label(name) for name in parts_in_order(MACHINE)]
    assert len(names) == len(MACHINE.mechanism.parts)
    slides = [name for name in names if name.startswith("slide ")]
    assert slides == [f"slide {n}" for n in (1, 2, 3, 4, 5, 7)]  # of the height, then of the turn
    assemblies = [MACHINE.mechanism[name].group for name in parts_in_order(MACHINE)]
    runs = [group for group, _ in groupby(assemblies)]
    assert len(runs) == len(set(runs))  # no assembly is torn apart


def test_a_joint_without_words_is_refused_and_not_passed_over():
    with pytest.raises(NotImplementedError, match="no words for Bit"):
        laws.Bit(1, Fraction(4)).sentence(None)


def test_no_belief_is_certain():
    """A probability of so many nines that a float calls it 1 is a strong belief, and no more."""
    assert believed(1.0) == "over 99 %"
    assert believed(0.0) == "under 1 %"
    assert believed(0.4) == "40 %"
