"""The type at the hammer: which side is lost, when it is clipped, and when nobody can read it."""

import pytest

import mechlogic
from mechlogic.fit.hammer import CLIPPED, WHOLE, HammerError, aims, errors, printing, says, strikes
from mechlogic.model.logbook import UNREADABLE

SALTMERE, WIND, NESS = (mechlogic.load(name) for name in ("saltmere", "wind", "ness"))
LIFT, TURN = ("lift", "offset_mm"), ("turn", "offset_deg")


def strike(machine, character, dimensions):
    code = machine.code.parse(character)
    (found,) = strikes(machine, dimensions, codes=[code])
    return found


@pytest.mark.parametrize("machine", [SALTMERE, WIND, NESS], ids=lambda machine: machine.name)
def test_a_machine_in_order_prints_every_character_whole_and_in_its_place(machine):
    for found in strikes(machine):
        assert (found.seen, found.clipped, found.printed) == (WHOLE, (), found.asked)
        assert found.lost == 0 and max(map(abs, found.errors.values())) < 1e-9


def ink(low_mm: float, face_mm: float = 2.7, height_mm: float = 1.9) -> tuple[float, float]:
    """How much of a letter's top and bottom is lost, in mm, by laying face and letter on one rule.

    The letter stands *low_mm* below the middle of the hammer's face.
    """
    top, bottom = -low_mm + height_mm / 2, -low_mm - height_mm / 2
    return max(0.0, top - face_mm / 2), max(0.0, -face_mm / 2 - bottom)


@pytest.mark.parametrize("off_mm", [-1.0, -0.6, -0.41, -0.39, 0.0, 0.39, 0.41, 0.6, 1.0])
def test_the_side_that_is_lost_is_the_one_that_lies_beyond_the_edge_of_the_hammer(off_mm: float):
    # A hammer's face that leaves 0.4 mm of room above and below a letter 1.9 mm high.
    top, bottom = ink(low_mm=-off_mm, face_mm=1.9 + 2 * 0.4)
    found = strike(SALTMERE, "E", {LIFT: off_mm})
    assert ("top" in found.clipped) == (top > 0)
    assert ("bottom" in found.clipped) == (bottom > 0)
    assert found.lost == pytest.approx(max(top, bottom) / 1.9)


def test_a_wheel_too_low_loses_the_bottom_and_one_too_high_the_top():
    assert strike(SALTMERE, "E", {LIFT: -0.6}).clipped == ("bottom",)
    assert strike(SALTMERE, "E", {LIFT: 0.6}).clipped == ("top",)


def test_type_too_far_to_the_right_loses_its_right_side():
    assert strike(SALTMERE, "E", {TURN: 4.0}).clipped == ("right",)
    assert strike(SALTMERE, "E", {TURN: -4.0}).clipped == ("left",)
    assert strike(NESS, "A", {("slide", "offset_mm"): 0.7}).clipped == ("right",)


def test_both_directions_at_once_lose_a_corner():
    assert strike(SALTMERE, "E", {LIFT: -0.6, TURN: 4.0}).clipped == ("bottom", "right")


@pytest.mark.parametrize(
    ("off_mm", "seen"),
    [(0.4, WHOLE), (0.41, CLIPPED), (1.1, CLIPPED), (1.11, UNREADABLE), (1.25, UNREADABLE)],
)
def test_the_limits_of_the_window_are_those_of_the_description(off_mm: float, seen: str):
    for sign in (-1, 1):
        assert strike(SALTMERE, "0", {LIFT: sign * off_mm}).seen == seen


def test_beyond_half_a_pitch_the_next_character_comes_into_view():
    # Rows stand 2.5 mm apart: 2.2 mm too high is 0.3 mm short of the next row.
    found = strike(SALTMERE, "E", {LIFT: 2.2})
    assert found.seen == WHOLE and found.printed != "E"
    assert found.errors["lift"] == pytest.approx(2.2), "the error is from what was asked for"


def test_a_stop_that_is_low_clips_its_own_rows_and_no_others():
    found = strikes(SALTMERE, {("lift_rack", "stops[2].at_mm"): 4.4})
    clipped = {one.asked for one in found if one.clipped}
    rows = (
        SALTMERE.output.lines
    )  # the second stop serves the third row and, half a step up, the fourth
    assert clipped == set(rows[2]) | set(rows[3])
    assert {one.clipped for one in found if one.clipped} == {("bottom",)}


def test_one_character_at_a_time_and_all_at_once_agree():
    off = {LIFT: 0.3, TURN: -1.5, ("bar7", "stroke_mm"): 3.7}
    at_once = errors(SALTMERE, printing(SALTMERE), off)
    for i, found in enumerate(strikes(SALTMERE, off)):
        assert found.errors == pytest.approx({name: at_once[name][i][0] for name in at_once})


def test_it_is_said_in_words():
    units = {aim.name: aim.unit for aim in aims(SALTMERE)}
    low = strike(SALTMERE, "E", {LIFT: -0.6})
    assert says(low, units) == "E: lift −0.60 mm, turn right; clipped at the bottom"
    assert says(strike(SALTMERE, "E", {}), units) == "E: lift right, turn right; whole"


def test_a_machine_without_type_or_without_windows_says_so():
    with pytest.raises(HammerError, match="no wheel, block or bar"):
        strikes(mechlogic.load("sluice"))
    from mechlogic.describing import description
    from mechlogic.machines import FOLDER

    text = (FOLDER / "wind.toml").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if "window_mm" not in line]
    bare = "\n".join(li for li in lines if not li.startswith(("unreadable", "type_height")))
    with pytest.raises(HammerError, match="Add window_mm, unreadable_mm and type_height_mm"):
        strikes(description.parse(bare))
