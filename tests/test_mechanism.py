"""Parts and laws: put in order, checked, and read as logic that is derived and never stated."""

from fractions import Fraction as F
from itertools import product

import pytest
from brute_force import Printer, inputs_of
from hypothesis import given
from hypothesis import strategies as st
from strategies import few, mechanism_of, parts

from mechlogic.machines import load
from mechlogic.model.laws import (
    PLAIN,
    AllClear,
    Bit,
    EitherPushes,
    Follow,
    HalfStep,
    Literal,
    OpposedRacks,
    SteppedStops,
    Stop,
    SummingLever,
    Withdraw,
)
from mechlogic.model.mechanism import (
    MOST_COMBINATIONS,
    Mechanism,
    MechanismError,
    Part,
    asked_place,
)

SALTMERE = load("saltmere").mechanism


def bars(n, stroke=4):
    return [Part(f"bar{i}", Bit(i, F(stroke))) for i in range(1, n + 1)]


def mechanism(**joints):
    """Three bars and the given parts."""
    return Mechanism([*bars(3), *(Part(name, joint) for name, joint in joints.items())])


# -- places and cuts -------------------------------------------------------------------------------


@few
@given(parts())
def test_a_part_has_the_places_that_its_travel_law_gives(drawn):
    found = mechanism_of({"parts": drawn})
    plain = Printer({"parts": drawn})
    for name in drawn:
        assert list(found.laws[name].places) == plain.places[name]


@few
@given(parts())
def test_the_derived_cuts_are_the_thresholds_of_the_travel(drawn):
    """For every combination of input places, reached by a code or not."""
    found = mechanism_of({"parts": drawn})
    for part in found:
        if part.name in found.bars:
            continue
        law, inputs = found.laws[part.name], [found.laws[i] for i in part.joint.inputs]
        for places in product(*(range(len(i.places)) for i in inputs)):
            x = [i.places[k] for i, k in zip(inputs, places, strict=True)]
            travel = part.travel(x, [i.full for i in inputs], PLAIN)
            assert law.places[asked_place(law, places)] == travel


@few
@given(parts())
def test_the_ways_of_a_cut_ask_no_more_than_they_must(drawn):
    """Leave out any one condition of any way, and the part would seem to pass where it does not."""
    found = mechanism_of({"parts": drawn})
    for part in found:
        inputs = [found.laws[i] for i in part.joint.inputs]
        everywhere = list(product(*(range(len(i.places)) for i in inputs)))
        for ways in found.laws[part.name].cuts:
            if part.name in found.bars:
                continue
            passing = {k for k in everywhere if any(_holds(way, k) for way in ways)}
            assert len(set(ways)) == len(ways)
            for way in ways:
                if _one_sided(ways):
                    for left_out in way:
                        looser = [sense for sense in way if sense != left_out]
                        assert any(_holds(looser, k) for k in everywhere if k not in passing)


def _holds(way, places):
    return all((places[s.input] > s.cut) == s.passed for s in way)


def _one_sided(ways):
    """Whether every input is only ever asked to have moved, or only ever not to have."""
    asked = {(s.input, s.passed) for way in ways for s in way}
    return len({i for i, _ in asked}) == len(asked)


def test_a_contact_law_comes_out_as_its_own_smallest_expression():
    found = mechanism(
        either=EitherPushes(("bar1", "bar2")),
        both=AllClear(("bar1", "bar2")),
        neither=Withdraw("either"),
    )

    def ways(name):
        (cut,) = found.laws[name].cuts
        return {tuple((s.input, s.passed) for s in way) for way in cut}

    assert ways("either") == {((0, True),), ((1, True),)}
    assert ways("both") == {((0, True), (1, True))}
    assert ways("neither") == {((0, False),)}


def test_a_summing_lever_has_a_place_for_every_sum():
    found = mechanism(sum=SummingLever("bar1", "bar2", F(2), F(1)))
    # (b·x + a·y)/(a + b) with a = 2, b = 1 and strokes of 4
    assert found.laws["sum"].places == (0, F(4, 3), F(8, 3), 4)


def test_eight_bits_through_a_whiffletree_reach_256_places():
    parts = bars(8)
    level = [part.name for part in parts]
    for arm in (2, 4, 16):
        pairs = list(zip(level[::2], level[1::2], strict=True))
        level = [f"lever{arm}_{i}" for i in range(len(pairs))]
        parts += [
            Part(n, SummingLever(*p, F(1), F(arm))) for n, p in zip(level, pairs, strict=True)
        ]
    assert len(Mechanism(parts).laws[level[0]].places) == 256


# -- rest, order and reach -------------------------------------------------------------------------


@few
@given(parts())
def test_rest_is_where_a_part_stands_with_no_bit_set_and_no_member_driven_out(drawn):
    found, plain = mechanism_of({"parts": drawn}), Printer({"parts": drawn})
    for name in drawn:
        assert found.laws[name].places[found.rest[name]] == plain.rest[name]


def test_a_driven_member_rests_at_home_though_no_bit_holds_it_there():
    found = mechanism(rack=SteppedStops((Stop(Literal("bar1", False), F(0)),), F(9)))
    assert found.laws["rack"].places[found.rest["rack"]] == 0


@few
@given(parts())
def test_every_part_stands_after_the_parts_it_touches(drawn):
    seen = set()
    for part in mechanism_of({"parts": drawn}):
        assert seen.issuperset(part.joint.inputs)
        seen.add(part.name)
    assert seen == set(drawn)


@few
@given(parts())
def test_what_a_part_can_reach_is_found_from_either_end(drawn):
    found = mechanism_of({"parts": drawn})
    for name in drawn:
        for other in drawn:
            assert (other in found.downstream(name)) == (name in found.upstream(other))
            assert (other in found.followers[name]) == (name in inputs_of(drawn[other]))


@few
@given(parts(), st.data())
def test_a_cone_is_everything_behind_its_parts_in_working_order(drawn, data):
    found = mechanism_of({"parts": drawn})
    names = data.draw(st.frozensets(st.sampled_from(sorted(drawn)), max_size=3))
    cone = found.cone(names)
    assert set(cone) == {other for name in names for other in found.downstream(name)}
    assert list(cone) == [name for name in found.parts if name in cone]


def test_what_does_not_exist_has_no_cone():
    assert SALTMERE.cone(frozenset({"print"})) == ()


def test_turning_parts_are_in_degrees_and_the_rest_in_millimetres():
    assert SALTMERE.unit("turn") == "degrees"
    assert {SALTMERE.unit(part.name) for part in SALTMERE if part.name != "turn"} == {"mm"}
    indexed = mechanism(
        rack=Follow("bar1"),
        pinion=OpposedRacks("rack", "bar2", F(3)),
        indexed=HalfStep("pinion", "bar3", F(5)),
    )
    assert indexed.unit("indexed") == "degrees"


# -- what is refused -------------------------------------------------------------------------------


def refusal(*parts):
    with pytest.raises(MechanismError) as error:
        Mechanism(parts)
    return error.value


def test_a_name_used_twice_is_refused():
    error = refusal(*bars(2), Part("lever", Follow("bar1")), Part("lever", Follow("bar2")))
    assert error.part == "lever" and "twice" in error.what


def test_an_input_that_is_not_described_is_refused_and_the_nearest_offered():
    error = refusal(*bars(2), Part("lever", Follow("bra1")))
    assert error.part == "lever" and "'bra1'" in error.what and "bar1" in error.mend


def test_a_loop_is_refused_and_named_without_the_parts_behind_it():
    error = refusal(
        *bars(1),
        Part("behind", Follow("a")),
        Part("a", EitherPushes(("bar1", "c"))),
        Part("b", Follow("a")),
        Part("c", Follow("b")),
    )
    assert error.part in ("a", "b", "c")
    assert "loop" in error.what
    rings = ("a > b > c > a", "b > c > a > b", "c > a > b > c")
    assert any(ring in error.mend for ring in rings) and "behind" not in error.mend


def test_a_part_that_touches_itself_is_a_loop():
    assert refusal(Part("lever", Follow("lever"))).part == "lever"


def test_a_part_that_never_moves_is_refused():
    never_lets_go = Stop(Literal("bar1"), F(0), lets_go=F(5))
    error = refusal(*bars(1, stroke=4), Part("rack", SteppedStops((never_lets_go,), F(9))))
    assert error.part == "rack" and "never moves" in error.what


def test_a_joint_with_too_many_inputs_is_refused():
    many = bars(MOST_COMBINATIONS.bit_length())
    error = refusal(*many, Part("or", EitherPushes(tuple(bar.name for bar in many))))
    assert error.part == "or" and "too many" in error.what


def test_the_message_names_the_part_what_is_wrong_and_how_to_mend_it():
    error = MechanismError("lever", "it is bent", "Straighten it.")
    assert str(error) == "part 'lever': it is bent. Straighten it."
