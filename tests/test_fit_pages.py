"""The map of errors and the bar moved part-way: every character there, told without colour too."""

import re
import xml.etree.ElementTree as ElementTree
from itertools import pairwise

import pytest

import mechlogic
from mechlogic.describing import description
from mechlogic.fit.fit_pages import LIMITS, SHADES, bars_that_aim, break_page, error_map, shade
from mechlogic.fit.hammer import printing, strikes
from mechlogic.machines import FOLDER
from mechlogic.widgets import ErrorMap, WhereLogicBreaks

SALTMERE, WIND, NESS = (mechlogic.load(name) for name in ("saltmere", "wind", "ness"))
STOP_2 = ("lift_rack", "stops[2].at_mm")
SVG = "{http://www.w3.org/2000/svg}"


def picture(page: str) -> ElementTree.Element:
    """The picture of a page; it must be well-formed XML."""
    return ElementTree.fromstring(page[: page.index("</svg>") + 6])


def words(page: str) -> list[str]:
    texts = picture(page).iter(f"{SVG}text")
    return [text.text for text in texts if text.get("class") != "heading"]


@pytest.mark.parametrize("machine", [SALTMERE, WIND, NESS], ids=lambda machine: machine.name)
def test_every_character_is_in_the_map_once(machine):
    shown = words(error_map(machine))
    assert sorted(shown) == sorted(machine.good_print(code) for code in printing(machine))


def test_each_error_is_written_and_each_lost_side_has_its_bar():
    page = error_map(SALTMERE, {STOP_2: 4.4})
    clipped = [one for one in strikes(SALTMERE, {STOP_2: 4.4}) if one.clipped]
    assert words(page).count("−0.60") == len(clipped) == 14
    bars = [r for r in picture(page).iter(f"{SVG}rect") if r.get("height") == "5"]
    assert len(bars) == len(clipped)
    assert "42 whole and 14 clipped at the bottom" in page


def test_what_nobody_can_read_is_crossed_out():
    page = error_map(WIND, {STOP_2: 5.0 - 1.7})
    assert len(list(picture(page).iter(f"{SVG}path"))) == 1
    assert "1 unreadable" in page


def luminance(colour: str) -> float:
    """Relative luminance of a colour, by the definition of WCAG 2 (from memory)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_shades_darken_step_by_step_so_that_they_hold_in_black_and_white():
    levels = [luminance(one) for one in SHADES]
    assert all(a - b > 0.1 for a, b in pairwise(levels))
    for colour, ink in zip(SHADES, ["#1a1a1a"] * 4 + ["#ffffff"], strict=True):
        light, dark = sorted((luminance(colour), luminance(ink)), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= 4.5, "letters stand out enough (WCAG AA)"
    assert len(LIMITS) == len(SHADES) - 2


def test_the_shade_follows_the_error():
    shades = []
    for off in (0.0, 0.15, 0.35, 0.8, 1.15):
        (one,) = strikes(SALTMERE, {("lift", "offset_mm"): off}, codes=[SALTMERE.code.parse("E")])
        shades.append(shade(SALTMERE, one))
    assert shades == list(SHADES)


def test_a_label_from_a_description_is_escaped():
    text = (FOLDER / "wind.toml").read_text(encoding="utf-8")
    odd = description.parse(text.replace('"lift rack"', "'<b>\"rack\" & co'"))
    for page in (break_page(odd, 1, "bar1", 2.0), error_map(odd)):
        assert "<b>" not in page
        picture(page)
    box = ErrorMap(odd)
    assert all("<b>" not in box_.value for box_ in (box._page,))


# -- a bar part-way --------------------------------------------------------------------------------


def test_a_logic_decoder_prints_one_character_or_the_other_and_an_adder_glides():
    code = SALTMERE.code.parse("P")
    page = break_page(SALTMERE, code, "bar3", 2.0)
    assert len(list(picture(page).iter(f"{SVG}rect"))) == 2, "two characters, sharply parted"
    page = break_page(NESS, NESS.code.parse("A"), "bar3", 2.0)
    assert len(list(picture(page).iter(f"{SVG}rect"))) > 10


def test_the_character_changes_where_the_stop_lets_go():
    """The left stop lever must move 3 mm, which takes bar 3 2.4 mm; P has bars 1 and 3 at rest."""
    code = SALTMERE.code.parse("P")
    for depth, printed in ((2.3, "P"), (2.45, SALTMERE.good_print(code ^ 0b100))):
        assert f"{printed} is printed, whole" in break_page(SALTMERE, code, "bar3", depth)


def test_only_bars_that_bring_type_are_offered():
    assert bars_that_aim(SALTMERE) == ("bar1", "bar2", "bar3", "bar4", "bar5", "bar7")


# -- widgets ---------------------------------------------------------------------------------------


def test_a_slider_puts_a_dimension_off_and_the_button_puts_all_right():
    box = ErrorMap(SALTMERE, [STOP_2])
    right = box._page.value
    box.sliders[STOP_2].value = -0.6
    assert "14 clipped at the bottom" in box._page.value
    box.reset.click()
    assert box._page.value == right and "56 whole" in right


def test_the_part_way_slider_goes_as_far_as_its_bar():
    box = WhereLogicBreaks(SALTMERE, "P", "bar3")
    assert (box.depth.max, box.code.value) == (4.0, SALTMERE.code.parse("P"))
    box.depth.value = 4.0
    other = SALTMERE.good_print(SALTMERE.code.parse("P") ^ 0b100)
    assert re.search(f"stands at 4.00 of 4 mm: {re.escape(other)} is printed", box._page.value)
    box.bar.value = "bar7"
    assert "Code bar 7 stands at" in box._page.value
