"""Each joint's travel law, and the theorem that makes a linkage of contacts boolean.

Threshold decomposition: P. Wendt, E. Coyle, N. Gallagher, "Stack filters", IEEE Transactions on
Acoustics, Speech and Signal Processing 34 (1986).  Lever, summing lever and rack and pinion: any
machine-design handbook.
"""

import re
from fractions import Fraction as F
from itertools import product

import pytest
import strategies
from hypothesis import given
from hypothesis import strategies as st

from mechlogic.model import laws
from mechlogic.model.laws import (
    PLAIN,
    AllClear,
    Bit,
    EitherPushes,
    Follow,
    HalfStep,
    Literal,
    OpposedRacks,
    PullBar,
    SpringLink,
    SteppedStops,
    Stop,
    SummingLever,
    Withdraw,
)
from mechlogic.model.mechanism import Mechanism, Part
from mechlogic.model.table import Rows, tabulate

FULL = F(4)

places = st.fractions(0, FULL, max_denominator=16)
cuts = st.fractions(F(1, 16), FULL, max_denominator=16)
ratios = st.fractions(F(1, 8), 8, max_denominator=8)
several = st.lists(places, min_size=1, max_size=5)


def travel(joint, *x, full=None):
    return joint.travel(x, full or [FULL] * len(x), PLAIN)


def names(n):
    return tuple(f"x{i}" for i in range(n))


def operated(joint, *bits):
    """Whether a part behind code bars is operated, by the logic derived from its contacts."""
    bars = [Part(name, Bit(i + 1, FULL)) for i, name in enumerate(names(len(bits)))]
    code = sum(bit << i for i, bit in enumerate(bits))
    table = tabulate(Mechanism([*bars, Part("part", joint)]), Rows((code,)))
    return bool(table.places["part"][-1])


# -- how far ---------------------------------------------------------------------------------------


def test_a_lever_moves_its_follower_by_the_ratio_of_its_arms():
    assert travel(Follow("x", F(5, 4)), F(4)) == F(5)
    assert travel(Follow("x"), F(3)) == F(3)


def test_a_cam_waits_where_its_path_is_level():
    """Two dwells and two rises, read off a drawing of the path at every half mm."""
    path = tuple(laws.Corner(F(at), F(height)) for at, height in ((1, 0), (2, 3), (4, 3), (5, 4)))
    cam = laws.Cam("x", path)
    at = [cam.travel([F(n, 2)], [F(6)], PLAIN) for n in range(13)]
    assert at == [0, 0, 0, F(3, 2), 3, 3, 3, 3, 3, F(7, 2), 4, 4, 4]


def test_behind_a_spring_link_a_part_follows_to_its_stop_and_no_further():
    link = SpringLink("x", F(3), F(3, 2))
    assert [travel(link, x) for x in (F(0), F(1), F(2), F(4))] == [0, F(3, 2), 3, 3]


def test_of_several_pushers_the_furthest_wins():
    assert travel(EitherPushes(names(3)), F(1), F(3), F(2)) == F(3)
    assert travel(EitherPushes(names(2), F(1, 2)), F(1), F(3)) == F(3, 2)


def test_of_several_blockers_the_least_withdrawn_holds():
    assert travel(AllClear(names(3)), F(2), F(1), F(3)) == F(1)


def test_one_pusher_or_one_blocker_alone_is_a_follower():
    assert travel(EitherPushes(("x",)), F(3)) == travel(AllClear(("x",)), F(3)) == F(3)


def test_a_withdrawing_follower_rests_in_the_way_and_is_drawn_back():
    assert [travel(Withdraw("x"), x) for x in (F(0), F(1), F(4))] == [4, 3, 0]


def test_a_pull_bar_drops_as_far_as_the_shallowest_notch():
    bar = PullBar((Literal("a", True), Literal("b", False)))
    assert travel(bar, F(4), F(0)) == 4
    assert travel(bar, F(4), F(3)) == 1
    assert travel(bar, F(2), F(0)) == 2


def test_a_driven_member_travels_to_the_first_stop_still_in_its_way():
    rack = SteppedStops(
        (Stop(Literal("a"), F(0), F(3)), Stop(Literal("b"), F(5)), Stop(Literal("c"), F(10))), F(15)
    )
    assert travel(rack, F(0), F(4), F(4)) == 0
    assert travel(rack, F(4), F(0), F(0)) == 5
    assert travel(rack, F(4), F(4), F(0)) == 10
    assert travel(rack, F(4), F(4), F(4)) == 15


def test_a_stop_lets_go_at_its_own_depth_or_else_at_half_travel():
    def at(stop, x):
        return travel(SteppedStops((stop,), F(9)), x)

    deep = Stop(Literal("a"), F(1), F(3))
    assert (at(deep, F(29, 10)), at(deep, F(3))) == (1, 9)
    half = Stop(Literal("a"), F(1))
    assert (at(half, F(19, 10)), at(half, F(2))) == (1, 9)


def test_a_stop_may_be_out_of_the_way_when_its_lever_rests():
    rack = SteppedStops((Stop(Literal("arm", False), F(0)),), F(14))
    assert (travel(rack, F(0)), travel(rack, F(4))) == (14, 0)


def test_a_shoulder_shifts_the_assembly_by_its_step():
    joint = HalfStep("rack", "shoulder", F(5, 2))
    assert travel(joint, F(10), F(0), full=[F(15), F(4)]) == 10
    assert travel(joint, F(10), F(4), full=[F(15), F(4)]) == F(25, 2)


def test_opposed_racks_turn_the_pinion_either_way():
    pinion = OpposedRacks("right", "left", F(45, 4))  # s = r·θ
    assert travel(pinion, F(2), F(0)) == F(45, 2)
    assert travel(pinion, F(0), F(2)) == -F(45, 2)


@given(places, places)
def test_a_summing_lever_with_equal_arms_gives_half_the_sum(x, y):
    # As the output of a differential gear: Bureau of Ordnance OP 1140 (1944), from memory.
    assert travel(SummingLever("x", "y"), x, y) == (x + y) / 2


@given(places, places, ratios, ratios)
def test_the_output_pin_of_a_summing_lever_lies_on_the_line_between_the_inputs(x, y, a, b):
    # Similar triangles: from the first pin to the output is to the whole as a to a + b.
    pin = travel(SummingLever("x", "y", a, b), x, y)
    assert (pin - x) * (a + b) == (y - x) * a


def test_a_code_bar_takes_its_place_from_the_code_alone():
    with pytest.raises(TypeError, match="from the code"):
        travel(Bit(1, F(4)))


def test_only_stepped_stops_are_driven_out_and_home_by_the_cycle():
    assert SteppedStops((), F(1)).driven
    assert not any(
        joint.driven
        for joint in (
            *(Bit(1, F(1)), Follow("x"), EitherPushes(("x",)), AllClear(("x",)), Withdraw("x")),
            *(PullBar(()), HalfStep("x", "y", F(1)), OpposedRacks("x", "y", F(1))),
            *(SummingLever("x", "y"), SpringLink("x", F(1))),
        )
    )


def test_every_joint_names_the_parts_it_touches_in_order():
    assert Follow("x").inputs == Withdraw("x").inputs == ("x",)
    assert SpringLink("x", F(1)).inputs == ("x",)
    assert EitherPushes(("x", "y")).inputs == AllClear(("x", "y")).inputs == ("x", "y")
    assert PullBar((Literal("y"), Literal("x", False))).inputs == ("y", "x")
    assert SteppedStops((Stop(Literal("y"), F(0)), Stop(Literal("x"), F(1))), F(2)).inputs == (
        "y",
        "x",
    )
    assert HalfStep("base", "shoulder", F(1)).inputs == ("base", "shoulder")
    assert OpposedRacks("right", "left", F(1)).inputs == ("right", "left")
    assert SummingLever("x", "y").inputs == ("x", "y")


def test_the_table_at_the_top_names_every_joint():
    named = set(re.findall(r":class:`(\w+)` {2,}", laws.__doc__))
    assert named == {kind.__name__ for kind in laws.JOINTS.values()}


def test_random_machines_have_every_joint():
    """Whatever is not drawn there is tested by no property: see DEVELOPERS.md, Add a joint."""
    given = {"bit", "key"}
    assert set(strategies.EVERY_JOINT) == set(laws.JOINTS) - given


# -- which logic -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("joint", "logic"),
    [
        (Follow("x0", F(3, 2)), lambda a: a),
        (Withdraw("x0", F(3, 2)), lambda a: not a),
        (SpringLink("x0", F(1)), lambda a: a),
        (EitherPushes(names(3), F(1, 2)), lambda a, b, c: a or b or c),
        (AllClear(names(3), F(1, 2)), lambda a, b, c: a and b and c),
        (
            PullBar((Literal("x0"), Literal("x1", False), Literal("x2"))),
            lambda a, b, c: a and not b and c,
        ),
    ],
    ids=lambda value: type(value).__name__,
)
def test_a_contact_joint_is_the_logic_of_its_kind(joint, logic):
    for bits in product((False, True), repeat=len(joint.inputs)):
        assert operated(joint, *bits) == bool(logic(*bits)), bits


# -- the theorem -----------------------------------------------------------------------------------


@given(several, cuts)
def test_the_furthest_has_passed_a_cut_if_any_has(x, cut):
    assert (travel(EitherPushes(names(len(x))), *x) >= cut) == any(place >= cut for place in x)


@given(several, cuts)
def test_the_nearest_has_passed_a_cut_if_all_have(x, cut):
    assert (travel(AllClear(names(len(x))), *x) >= cut) == all(place >= cut for place in x)


@given(places, cuts, ratios)
def test_a_ratio_divides_a_cut(x, cut, ratio):
    assert (travel(Follow("x", ratio), x) >= cut) == (x >= cut / ratio)


@given(places, cuts, cuts, ratios)
def test_a_stop_behind_a_spring_link_takes_away_the_cuts_beyond_it(x, cut, stop, ratio):
    passed = x >= cut / ratio and stop >= cut
    assert (travel(SpringLink("x", stop, ratio), x) >= cut) == passed


@given(places, cuts)
def test_a_withdrawal_takes_a_cut_from_the_full_travel_and_turns_it_round(x, cut):
    assert (travel(Withdraw("x"), x) >= cut) == (x <= FULL - cut)


@given(several, st.data())
def test_any_linkage_of_contacts_commutes_with_thresholds(x, data):
    """Cut the end of the linkage, or cut every input and do boolean logic: it is the same.

    Only each literal carries its own cut, and a withdrawal carries the complementary one.
    """
    wanted = [data.draw(st.booleans()) for _ in x]
    pull_bar = PullBar(tuple(map(Literal, names(len(x)), wanted)))
    cut = data.draw(cuts)
    passed = [
        place >= cut if want else place <= FULL - cut for place, want in zip(x, wanted, strict=True)
    ]
    assert (travel(pull_bar, *x) >= cut) == all(passed)


def test_part_way_one_cut_may_find_a_part_and_its_withdrawal_both_operated():
    x, cut = FULL / 2, FULL / 4
    assert travel(Follow("x"), x) >= cut and travel(Withdraw("x"), x) >= cut


def test_a_summing_lever_commutes_with_no_boolean_function():
    """Two pairs of inputs on the same sides of the cut leave the output on different sides."""
    lever, cut = SummingLever("x", "y"), F(2)
    near, far = (F(0), F(2)), (F(0), F(4))
    assert [x >= cut for x in near] == [x >= cut for x in far]
    assert (travel(lever, *near) >= cut) != (travel(lever, *far) >= cut)


@given(several, cuts)
def test_a_law_reads_floats_as_it_reads_fractions(x, cut):
    floats = [float(place) for place in x]  # sixteenths are exact
    for joint in (EitherPushes(names(len(x))), AllClear(names(len(x)))):
        assert travel(joint, *floats) == float(travel(joint, *x))
