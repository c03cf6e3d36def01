"""The sheet for the wall: every cell, and under it what chooses it."""

import pytest

from mechlogic import load, machines
from mechlogic.drawing.sheets import A4, bars_for, code_sheet
from mechlogic.model.joining import join


def words(figure) -> list[str]:
    """Every text in the cells."""
    return [text.get_text() for text in figure.axes[0].texts]


def below(figure) -> str:
    """What is written below the cells."""
    return figure.axes[0].get_xlabel()


@pytest.mark.parametrize("name", machines.names())
def test_a_sheet_shows_every_glyph_and_fits_on_a_page(name: str):
    machine = load(name)
    figure = code_sheet(machine)
    for glyph in set(machine.output.glyphs) - {" "}:
        assert glyph in words(figure)
    width, height = sorted(figure.get_size_inches())
    assert width <= A4[0] and height <= A4[1]


def test_the_bars_of_a_character_are_those_of_the_published_code():
    ebbing = load("ebbing")
    # ITU-T S.1: T is b5 alone, FIGS is b1, b2, b4 and b5; b5 stands left, as on the switches.
    assert bars_for(ebbing, ebbing.code.parse("T")) == "●○○○○"
    shown = words(code_sheet(ebbing))
    for row in ("T", "5"):
        assert shown[shown.index(row) + 1] == "●○○○○"
    assert "FIGS ●●○●● to bring the shift latch to figures" in below(code_sheet(ebbing))
    assert "BEL rings the bell (in figures)" in below(code_sheet(ebbing)).replace("\n", " ")


def test_a_desk_has_keys_and_no_bars():
    desk = load("desk")
    for machine in (desk, join(desk, load("saltmere"))):
        figure = code_sheet(machine)
        shown = words(figure)
        assert shown[shown.index("5") + 1] == "key 5"
        assert shown[shown.index("A") + 1] == ""  # this desk has no A
        assert "bar at rest" not in below(figure)


def test_a_doing_of_many_codes_names_none_of_them():
    shown = words(code_sheet(load("sluice")))
    assert shown[shown.index("STEP") + 1] == "several codes"
    assert shown[shown.index("CR") + 1] == "○○○●●○●"  # ECMA-6: CR is 0/13
