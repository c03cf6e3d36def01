"""The pictures: whole, truthful about travel, and safe with any text."""

import re
import subprocess
import sys
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest

import mechlogic
import mechlogic.drawing
from mechlogic.describing.description import parse
from mechlogic.drawing import cell_of, scene, scene_at, style, type_sheet
from mechlogic.drawing.figure import SCALE
from mechlogic.machines import load
from mechlogic.model.machine import Machine
from mechlogic.model.table import place_in_row

FOLDER = Path(mechlogic.drawing.__file__).parent
SOURCES = [  # of the vector pictures; print-outs on paper have their own ways
    path for path in FOLDER.glob("*.py") if "matplotlib" not in path.read_text(encoding="utf-8")
]

SMALL = """
[machine]
name = "small"
title = "Two bits, four heights"

[efforts_min]

[parts.one]
label = "<script>alert(1)</script>"
joint = "bit"
bit = 1
stroke_mm = 4.0

[parts.two]
label = "second bar & its \\"spring\\""
joint = "bit"
bit = 2
stroke_mm = 4.0
{hint}
[parts.coarse]
joint = "follow"
input = "two"
ratio = 2.5

[parts.lift]
label = "carriage"
joint = "half_step"
base = "coarse"
shoulder = "one"
step_mm = 5.0

[parts.turn]
joint = "follow"
input = "one"

[parts.hammer]
joint = "either_pushes"
inputs = ["one", "two"]

[wheel]
lift = "lift"
turn = "turn"
hammer = "hammer"
rows_mm = [0.0, 5.0, 10.0, 15.0]
columns_deg = [0.0, 4.0]
glyphs = ["  ", " A", "B ", " C"]

[codes]
alphabet = "seven-unit"
parity = "none"
printing = [{{ first = "4/1", last = "4/3" }}]
silent = [{silent}]
folds = [{folds}]
"""
FOURS = [(column, row) for column in range(8) for row in (0, 4, 8, 12)]
SILENT = [f'{{ first = "{c}/{r}", last = "{c}/{r}" }}' for c, r in FOURS]
FOLDS = [f'{{ first = "{c}/{r + 1}", last = "{c}/{r + 3}", onto = "4/1" }}' for c, r in FOURS]


@pytest.fixture(scope="module")
def saltmere() -> Machine:
    return load("saltmere")


def groups(svg: str) -> list[ElementTree.Element]:
    return [g for g in ElementTree.fromstring(svg).iter() if "data-part" in g.attrib]


def key(group: ElementTree.Element) -> str:
    spot = group.get("data-pose")
    return group.get("data-part", "") + (f"#{spot}" if spot else "")


def numbers(pose: str) -> tuple[float, ...]:
    return tuple(float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", pose))


def size(pose: str) -> float:
    return sum(n * n for n in numbers(pose)) ** 0.5


def both(saltmere: Machine) -> list[Machine]:
    from dataclasses import replace

    return [saltmere, replace(saltmere, picture={})]


def test_every_part_has_a_group_and_every_group_its_poses(saltmere: Machine) -> None:
    for machine in both(saltmere):
        drawn = scene(machine)
        keys = [key(group) for group in groups(drawn.svg)]
        assert len(keys) == len(set(keys))
        assert set(keys) == set(drawn.poses)
        assert {k.partition("#")[0] for k in keys} == set(machine.mechanism.parts)
        for k, poses in drawn.poses.items():
            assert len(poses) == len(machine.mechanism.laws[k.partition("#")[0]].places), k


def test_each_part_can_be_reached_once_with_the_keyboard_and_says_its_name(
    saltmere: Machine,
) -> None:
    stops = [g for g in groups(scene(saltmere).svg) if g.get("tabindex") == "0"]
    assert sorted(g.get("data-part", "") for g in stops) == sorted(saltmere.mechanism.parts)
    for group in stops:
        assert group.get("role") == "button"
        assert group.get("aria-label") == saltmere.label(group.get("data-part", ""))


def test_a_part_further_from_its_rest_is_drawn_further_from_its_rest(saltmere: Machine) -> None:
    for machine in both(saltmere):
        for k, poses in scene(machine).poses.items():
            seen = [numbers(pose) for pose in poses]
            for before, after, last in zip(seen, seen[1:], seen[2:], strict=False):
                steps = [
                    (b - a, c - b) for a, b, c in zip(before, after, last, strict=True) if c != a
                ]
                assert steps, k
                assert all(one * two > 0 for one, two in steps), k


def test_no_two_places_of_a_part_look_alike(saltmere: Machine) -> None:
    """At least eight pixels, or eight degrees, lie between neighbouring places."""
    for machine in both(saltmere):
        for k, poses in scene(machine).poses.items():
            for one, two in pairwise(map(numbers, poses)):
                apart = max(abs(a - b) for a, b in zip(one, two, strict=True))
                assert apart >= 8 - 0.01, (k, apart)


def test_a_plate_draws_every_sliding_part_to_one_scale(saltmere: Machine) -> None:
    sliding = 0
    for k, poses in scene(saltmere).poses.items():
        if poses[0].startswith("translate"):
            law = saltmere.mechanism.laws[k.partition("#")[0]]
            drawn = [size(pose) for pose in poses]
            assert drawn == [pytest.approx(SCALE * float(place)) for place in law.places], k
            sliding += 1
    assert sliding >= 20


def test_the_smallest_machine_is_drawn_as_a_compact_plate_with_its_letters_on_a_block() -> None:
    wind = load("wind")
    drawn = ElementTree.fromstring(scene(wind).svg)
    width, height = map(float, drawn.get("viewBox", "").split()[2:])
    assert width <= 640 and height <= 400
    letters = [node for node in drawn.iter() if node.get("class") == "letter"]
    ordered = sorted(letters, key=lambda node: -float(node.get("y", "")))
    # The block rises: what prints at the greatest height stands lowest on it.
    assert [node.text for node in ordered] == list(reversed(wind.output.lines))


@pytest.mark.parametrize(
    ("good", "bad"),
    [
        ("right = 586", "right = 100"),  # a bar too short for its slots
        ("y = 327", "y = 310"),  # a bar that stands in the way of the levers' feet
        ("foot = 317", "foot = 1e9"),
        ('shape = "lever", x = 180', 'shape = "lever", x = 900'),  # beyond the rack it stops
        ("top = 96", "tip = 96"),
    ],
)
def test_a_plate_that_cannot_be_drawn_is_left_to_the_layers(good: str, bad: str) -> None:
    source = (Path(mechlogic.__file__).parent / "machines/wind.toml").read_text(encoding="utf-8")
    assert good in source
    drawn = scene(parse(source.replace(good, bad)))
    assert "card" in {node.get("class") for node in ElementTree.fromstring(drawn.svg).iter()}


def test_the_pinion_turns_by_the_angle_it_really_turns(saltmere: Machine) -> None:
    law = saltmere.mechanism.laws["turn"]
    assert [numbers(p)[0] for p in scene(saltmere).poses["turn"]] == [float(a) for a in law.places]


@pytest.mark.parametrize("character", "A?-[")
def test_a_picture_for_print_stands_where_the_table_says(saltmere: Machine, character: str) -> None:
    row = saltmere.as_set(ord(character))
    places = {name: place_in_row(c, row) for name, c in saltmere.healthy.places.items()}
    poses = scene(saltmere).poses
    printed = scene_at(saltmere, places)
    for group in groups(printed):
        place = places[group.get("data-part", "")]
        assert f"transform: {poses[key(group)][place]}" in group.get("style", "")
        away = place != saltmere.mechanism.rest[group.get("data-part", "")]
        assert ("set" in group.get("class", "").split()) == away
    assert style() in printed


def test_a_picture_for_print_refuses_parts_and_places_that_do_not_exist(saltmere: Machine) -> None:
    with pytest.raises(KeyError, match="lift_rack"):
        scene_at(saltmere, {"lift_rck": 0})
    with pytest.raises(IndexError, match="bail"):
        scene_at(saltmere, {"bail": 2})
    with pytest.raises(IndexError, match="bail"):
        scene_at(saltmere, {"bail": -1})


def small(hint: str = "") -> Machine:
    """Its bars 3 to 7 do not exist, so only the last two bits of a code matter."""
    folds = [fold for fold in FOLDS if '"4/1", last' not in fold]
    return parse(SMALL.format(hint=hint, silent=", ".join(SILENT), folds=", ".join(folds)))


def test_a_machine_without_hints_is_drawn_in_layers() -> None:
    machine = small()
    drawn = scene(machine)
    assert {key(g) for g in groups(drawn.svg)} == set(machine.mechanism.parts)
    assert len(drawn.poses["lift"]) == 4


@pytest.mark.parametrize(
    "hint",
    [
        "draw = { x = 100 }",
        'draw = { shape = "rack", x = "far left" }',
        'draw = { shape = "no such shape", x = nan, name_at = [1, 2, 3] }',
        'draw = { x = 1e300, name = 7, name_anchor = "\\" onload=\\"alert(1)" }',
    ],
)
def test_hints_that_are_not_enough_or_make_no_sense_leave_the_picture_in_layers(hint: str) -> None:
    assert scene(small(hint)) == scene(small())


def test_text_of_the_description_stays_text() -> None:
    machine = small()
    for svg in (scene(machine).svg, scene_at(machine, {}), type_sheet(machine)):
        tree = ElementTree.fromstring(svg)
        assert not [node for node in tree.iter() if node.tag.endswith("script")]
    labels = {g.get("data-part"): g.get("aria-label") for g in groups(scene(machine).svg)}
    assert labels["one"] == "<script>alert(1)</script>"
    assert labels["two"] == 'second bar & its "spring"'


def test_names_written_on_a_plate_stay_text(saltmere: Machine) -> None:
    from dataclasses import replace

    evil = '"><script>alert(1)</script>'
    hints = {
        name: dict(hint) | {"name": evil, "name_at": [9, 9], "name_anchor": evil}
        for name, hint in saltmere.picture.items()
    }
    tree = ElementTree.fromstring(scene(replace(saltmere, picture=hints)).svg)
    assert not [node for node in tree.iter() if node.tag.endswith("script")]
    assert [node for node in tree.iter() if node.text == evil]
    assert {node.get("text-anchor") for node in tree.iter()} <= {None, "start", "middle", "end"}


def test_the_type_lies_flat_with_the_lowest_row_at_the_bottom(saltmere: Machine) -> None:
    tree = ElementTree.fromstring(type_sheet(saltmere))
    cells = [node for node in tree.iter() if node.get("class") == "cell"]
    at = {}
    for cell in cells:
        face = next(node for node in cell if node.get("class") == "face")
        row, column = int(cell.get("data-row", "")), int(cell.get("data-column", ""))
        glyph = cell.get("data-glyph", "")
        assert glyph == saltmere.output.lines[row][column]
        assert next(node for node in cell if node.get("class") == "glyph").text == glyph
        assert cell_of(saltmere)[glyph] == (row, column)
        at[row, column] = float(face.get("x", "")), float(face.get("y", ""))
    assert len(at) == 56
    for (row, column), (x, y) in at.items():
        if (row + 1, column) in at:
            assert at[row + 1, column][1] < y
        if (row, column + 1) in at:
            assert at[row, column + 1][0] > x


def test_the_sources_of_the_pictures_are_the_ones_looked_at() -> None:
    assert {"plate.py", "layered.py", "wheel.py"} <= {path.name for path in SOURCES}


def test_colours_stand_in_the_style_sheet_and_nowhere_else(saltmere: Machine) -> None:
    colour = re.compile(r"#[0-9a-fA-F]{3,8}\b|rgb\(|hsl\(|\b(?:fill|stroke)=")
    for path in SOURCES:
        assert not colour.search(path.read_text(encoding="utf-8")), path.name
    for svg in (scene(saltmere).svg, type_sheet(saltmere)):
        assert not colour.search(svg.replace("&#x27;", "").replace('data-glyph="#"', ""))
    assert colour.search(style())


def test_no_picture_knows_a_machine_by_name(saltmere: Machine) -> None:
    names = {saltmere.name, *saltmere.mechanism.parts} - {"bail", "hammer", "shoulder", "turn"}
    for path in SOURCES:
        words = set(re.findall(r"\w+", path.read_text(encoding="utf-8")))
        assert not words & (names - {"lift"}), path.name


def contrast(one: str, two: str) -> float:
    """Contrast ratio of two sRGB colours; WCAG 2.2, "contrast ratio" and "relative luminance"."""

    def luminance(colour: str) -> float:
        channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
        return sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))

    dark, light = sorted((luminance(one), luminance(two)))
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
def test_text_and_outlines_stand_out_from_the_paper(theme: int) -> None:
    """WCAG 2.2: 4.5 for text (1.4.3), 3 for what must be told apart in a picture (1.4.11)."""
    pairs = re.findall(r"(--ml-[\w-]+): light-dark\((#\w{6}), (#\w{6})\)", style())
    palette = {name: values[theme] for name, *values in pairs}
    for name in ("--ml-ink", "--ml-quiet"):
        assert contrast(palette[name], palette["--ml-paper"]) >= 4.5, name
    for name in ("steel-edge", "brass-edge", "set", "fault", "ghost"):
        assert contrast(palette[f"--ml-{name}"], palette["--ml-paper"]) >= 3, name
    for name in ("steel", "brass"):
        assert contrast(palette[f"--ml-{name}-edge"], palette[f"--ml-{name}"]) >= 3, name
    assert contrast(palette["--ml-set"], palette["--ml-set-fill"]) >= 3
    assert contrast(palette["--ml-fault"], palette["--ml-fault-fill"]) >= 3


def test_pictures_need_no_third_party_library() -> None:
    ask = "import sys, mechlogic.drawing; print(*sorted({m.split('.')[0] for m in sys.modules}))"
    loaded = subprocess.run(
        [sys.executable, "-c", ask], capture_output=True, text=True, check=True
    ).stdout.split()
    assert not {"numpy", "sympy", "matplotlib", "scipy", "ipywidgets", "anywidget"} & set(loaded)
