"""The sheet for the wall: every cell, and under it what chooses it.

tests/browser/test_paper.py prints them.
"""

import re
from html import unescape

import pytest
from hostile import texts

from mechlogic import load, machines
from mechlogic.drawing.sheets import bars_for, code_sheet
from mechlogic.model.joining import join


def words(page) -> list[str]:
    """Every text in the cells: a character, what makes it, the next character."""
    cells = re.findall(r"<td><b[^>]*>(.*?)</b><small>(.*?)</small></td>", page.body, re.DOTALL)
    return [unescape(text) for cell in cells for text in cell]


def below(page) -> str:
    """What is written below the cells."""
    return texts(page.body.partition("</table>")[2])


@pytest.mark.parametrize("name", machines.names())
def test_a_sheet_shows_every_glyph(name: str):
    machine = load(name)
    shown = words(code_sheet(machine))
    for glyph in set(machine.output.glyphs) - {" "}:
        assert glyph in shown


def test_the_bars_of_a_character_are_those_of_the_published_code():
    ebbing = load("ebbing")
    # ITU-T S.1: T is b5 alone, FIGS is b1, b2, b4 and b5; b5 stands left, as on the switches.
    assert bars_for(ebbing, ebbing.code.parse("T")) == "●○○○○"
    shown = words(code_sheet(ebbing))
    for row in ("T", "5"):
        assert shown[shown.index(row) + 1] == "●○○○○"
    assert "FIGS ●●○●● to bring the shift latch to figures" in below(code_sheet(ebbing))
    assert "BEL rings the bell (in figures)" in below(code_sheet(ebbing))


def test_a_desk_has_keys_and_no_bars():
    desk = load("desk")
    for machine in (desk, join(desk, load("saltmere"))):
        page = code_sheet(machine)
        shown = words(page)
        assert shown[shown.index("5") + 1] == "key 5"
        assert shown[shown.index("A") + 1] == ""  # this desk has no A
        assert "bar at rest" not in below(page)


def test_a_doing_of_many_codes_names_none_of_them():
    shown = words(code_sheet(load("sluice")))
    assert shown[shown.index("STEP") + 1] == "several codes"
    assert shown[shown.index("CR") + 1] == "○○○●●○●"  # ECMA-6: CR is 0/13
