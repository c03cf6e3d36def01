"""A rack tried with any levers: every count is held against plain loops over its stops."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from screens import inside

import mechlogic
from mechlogic.drawing.stops import all_triples
from mechlogic.explaining.stops import SETTINGS, Rack
from mechlogic.widgets import RackTrial

RACKS = {
    "wind": Rack(mechlogic.load("wind"), "lift_rack", (2, 1)),
    "saltmere": Rack(mechlogic.load("saltmere"), "lift_rack", (3, 1)),
}
STOPS, END = (0, 5, 10), 15  # mm, as both descriptions have them


def height(clear):
    """The first stop whose lever is in the way, or the end."""
    return next((at for at, out in zip(STOPS, clear, strict=True) if not out), END)


def brute_force():
    """Each triple of truth tables, a tuple for each lever, and its four heights."""
    tables = list(product((False, True), repeat=4))
    for levers in product(tables, repeat=3):
        yield levers, [height([lever[row] for lever in levers]) for row in range(4)]


def number(table):
    return sum(1 << row for row, out in enumerate(table) if out)


@pytest.mark.parametrize("rack", RACKS.values(), ids=RACKS)
def test_of_4096_triples_192_give_four_heights_and_the_or_is_forced_in_the_48_lowest(rack):
    expected = {
        tuple(map(number, levers)): tuple(heights)
        for levers, heights in brute_force()
        if len(set(heights)) == 4
    }
    found = rack.four_heights()
    assert found == expected and len(found) == 192
    lowest = [triple for triple, heights in found.items() if heights[0] == 0]
    assert len(lowest) == 48
    middle, second, third = (set(levers) for levers in zip(*lowest, strict=True))
    assert middle == {number((False, True, True, True))}
    assert (len(second), len(third)) == (6, 12), "the outer two are not forced"
    assert rack.triples_say(found) == (
        "Of 4,096 triples of levers, 192 give four heights. In 48 of them the rack is lowest with "
        "no bit set. Different levers in these: middle stop lever: 1, left stop lever: 6, "
        "right stop lever: 12."
    )


def test_the_picture_has_a_square_for_each_triple_in_the_frame_of_its_lowest_lever():
    rack = RACKS["wind"]
    picture = all_triples(rack.four_heights(), "says <so>")
    marks = [picture.count(f'<path class="{kind}"') for kind in ("rule", "sheet", "lead")]
    assert marks == [16, 48, 192 - 48]
    assert 'aria-label="says &lt;so&gt;"' in picture


@given(st.lists(st.tuples(*[st.booleans()] * 3), min_size=4, max_size=4))
def test_any_trial_is_said_as_its_stops_have_it(trial):
    rack = RACKS["wind"]
    heights = [height(clear) for clear in trial]
    assert [rack.rests(clear) for clear in trial] == heights
    says = rack.says(trial)
    assert ("Four different heights" in says) == (len(set(heights)) == 4)
    assert ("rack is at the lowest" in says) == (len(set(heights)) == 4 and heights[0] == 0)
    if len(set(heights)) == 4 and heights[0] == 0:
        assert "Out of the way: middle stop lever: b1 | b2;" in says


def test_the_reader_sets_levers_and_reads_where_the_rack_stops():
    box = RackTrial(mechlogic.load("wind"), "lift_rack", (2, 1))
    assert "1 height, and four are wanted" in box._told.value
    for row in range(1, 4):
        box.out[row][0].value = True
    box.out[2][1].value = box.out[3][1].value = box.out[3][2].value = True
    assert "Four different heights. With no bit set the rack is at the lowest." in box._told.value
    for setting, at in zip(SETTINGS, (0, 5, 10, 15), strict=True):
        told = [one.value for one in inside(box) if isinstance(getattr(one, "value", 0), str)]
        (row,) = [one for one in told if f"{setting}: the rack" in one]
        assert row.count(f"stops at {at} mm") == 2, "seen and heard"
