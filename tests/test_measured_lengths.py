"""Lengths as calipers give them: a machine loads with them, and says where it then prints wrong."""

import os
import random
import re
import tomllib
from collections import defaultdict
from dataclasses import replace
from fractions import Fraction

import pytest
from brute_force import Printer

from mechlogic.describing.description import DescriptionError, parse
from mechlogic.describing.measured import struck_off
from mechlogic.describing.writing import write
from mechlogic.machines import FOLDER, load, names
from mechlogic.model.dimensions import dimensions, resized
from mechlogic.model.mechanism import Mechanism
from mechlogic.model.outputs import Type

WIND = (FOLDER / "wind.toml").read_text("utf-8")


def measured(text: str, rng: random.Random, most: Fraction) -> str:
    """Every length and ratio of the parts off by up to *most* of itself, to a hundredth."""
    head, tail = re.split(r"(?m)^(?=\[(?:wheel|type_bar|typebars)\])", text, maxsplit=1)

    def drawn(found: re.Match[str]) -> str:
        key, number = found.groups()
        off = 1 + float(most) * rng.uniform(-1, 1)
        return f"{key} = {float(number) * off:.2f}"

    keys = "stroke_mm|at_mm|end_mm|step_mm|degrees_per_mm|first_arm_mm|second_arm_mm|throw_mm"
    return re.sub(rf"\b({keys}) = ([0-9.]+)", drawn, head) + tail


def loads(text: str) -> bool:
    try:
        parse(text)
    except DescriptionError:
        return False
    return True


def test_a_stop_that_is_a_little_off_is_no_mistake():
    """The wind stamp's rows are 5 mm apart; a tenth of that is what calipers may be out by."""
    machine = parse(re.sub(r"at_mm = 5\.0", "at_mm = 4.72", WIND))
    assert machine.printed == load("wind").printed
    assert "rows_mm" in WIND and machine.output.rows == load("wind").output.rows
    assert struck_off(machine) == (
        "Row 2 of the type stands at 5 mm and is struck at 4.72 mm, 0.28 mm below it: "
        "within the window.",
    )
    assert struck_off(load("wind")) == ()


def test_a_stop_that_is_far_off_is_refused_with_the_places_that_are_there():
    window = re.search(r"window_mm = ([0-9.]+)", WIND)
    off = 5 + 2 * (float(window[1]) if window else 0.5)
    with pytest.raises(DescriptionError, match=r"never stands at 5\. The nearest that it reaches"):
        parse(re.sub(r"at_mm = 5\.0", f"at_mm = {off}", WIND))


def test_rows_that_are_left_out_stand_where_the_parts_put_them():
    text = re.sub(r"(?m)^rows_mm.*\n", "", re.sub(r"at_mm = 5\.0", "at_mm = 4.31", WIND))
    machine = parse(text)
    assert machine.printed == load("wind").printed
    assert isinstance(machine.output, Type)
    assert machine.output.rows == machine.mechanism.laws[machine.output.lift].places


def test_a_line_of_type_too_few_is_told_with_the_places():
    text = re.sub(r"(?m)^rows_mm.*\n", "", WIND)
    text = re.sub(r'(glyphs = \["."), "."', r"\1", text)
    with pytest.raises(DescriptionError, match="stands at 4 places: 0, 5, 10, 15"):
        parse(text)


@pytest.mark.parametrize("name", [n for n in names() if isinstance(load(n).output, Type)])
def test_with_lengths_out_by_little_a_machine_loads_and_prints_as_before(name):
    """Where many lengths add up some draws go beyond the windows; those are refused, not wrong."""
    rng, text = random.Random(name), (FOLDER / f"{name}.toml").read_text("utf-8")
    good, others = load(name).printed, []
    for _ in range(20):
        machine = parse(measured(text, rng, Fraction(1, 1000)))
        assert machine.printed == good
        others.append(dimensions(machine))
    assert len(set(map(str, others))) > 1  # the draws differ
    assert sum(loads(measured(text, rng, Fraction(1, 100))) for _ in range(20)) > 0


DRAWS = int(os.environ.get("MECHLOGIC_DRAWS", "8"))
"""Machines drawn of each kind; 143 make a thousand."""


def as_built(name: str, rng: random.Random) -> str:
    """A machine's description with every length drawn within its tolerance, to 0.1 µm."""
    machine, drawn = load(name), defaultdict(dict)
    for one in dimensions(machine):
        if one.tolerance and one.nominal:  # home, 0, is where lengths are measured from
            off = float(one.tolerance) * rng.uniform(-1, 1)
            drawn[one.part][one.key] = Fraction(f"{float(one.nominal) + off:.4f}")
    parts = [resized(part, drawn[part.name]) for part in machine.mechanism]
    return write(replace(machine, mechanism=Mechanism(parts)))


@pytest.mark.parametrize("name", names())
def test_a_machine_as_built_prints_as_before_or_says_where_it_does_not(name):
    """Held against a plain simulation, which shares no code with the library."""
    rng, good = random.Random(name), load(name).printed
    for _ in range(DRAWS):
        text = as_built(name, rng)
        plain = Printer(tomllib.loads(text, parse_float=Fraction))
        start = {part: plain.rest[part] for part in plain.latches}
        prints = tuple(plain.follow(code, remembered=start)[2] for code in range(len(good)))
        try:
            assert parse(text).printed == prints == good
        except DescriptionError as error:
            assert prints != good, "what is refused is wrong"
            said = " ".join(problem.what for problem in error.problems)
            assert "never stands at" in said or "should print" in said
