"""Travel in numbers: bars that stand anywhere between rest and full stroke."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

import mechlogic
from mechlogic.explaining.travel import positions
from mechlogic.model.mechanism import MechanismError
from mechlogic.model.table import place_in_row

MACHINES = {name: mechlogic.load(name) for name in ("wind", "saltmere")}


@pytest.mark.parametrize("name", MACHINES)
def test_at_rest_and_at_full_stroke_travel_agrees_with_the_table(name: str):
    machine = MACHINES[name]
    for code in machine.all_codes.codes:
        bars = {
            bar: machine.mechanism.laws[bar].full * (code >> (joint.bit - 1) & 1)
            for bar, joint in machine.mechanism.bars.items()
        }
        for part, place in positions(machine.mechanism, bars).items():
            number = place_in_row(machine.healthy.places[part], code)
            assert place == machine.mechanism.laws[part].places[number]


@given(st.floats(0, 4), st.floats(0, 4))
def test_the_middle_lever_goes_as_far_as_the_further_bar(one: float, other: float):
    found = positions(MACHINES["wind"].mechanism, {"bar1": one, "bar2": other})
    assert found["middle_stop"] == max(one, other)
    assert found["left_stop"] == other and found["right_stop"] == one


@given(st.floats(0, 4))
def test_a_stop_lets_go_at_its_depth_and_not_before(depth: float):
    # The stops of the wind stamp let go at half of the levers' 4 mm.
    rack = positions(MACHINES["wind"].mechanism, {"bar1": depth})["lift_rack"]
    assert rack == (0 if depth < 2 else 5)


@pytest.mark.parametrize(
    ("bars", "says"),
    [
        ({"bar9": 1.0}, "no code bar"),
        ({"middle_stop": 1.0}, "no code bar"),
        ({"bar1": 4.5}, "stroke is 4 mm"),
        ({"bar1": -0.1}, "stroke is 4 mm"),
    ],
)
def test_what_no_bar_can_do_is_refused(bars: dict[str, float], says: str):
    with pytest.raises(MechanismError, match=says):
        positions(MACHINES["wind"].mechanism, bars)
