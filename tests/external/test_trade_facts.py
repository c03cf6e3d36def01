"""Facts of the trade, rebuilt from loose parts and looked at with the library.

All of them are common practice, no source.  The parts are those that any such printer has: code
bars, levers, stops, plates, racks, a hammer.  The dimensions are invented.
"""

from fractions import Fraction as F
from itertools import product

import pytest

from mechlogic.machines import load
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.faults import Fault
from mechlogic.model.laws import (
    Bit,
    EitherPushes,
    Follow,
    Literal,
    OpposedRacks,
    PullBar,
    SteppedStops,
    Stop,
    Withdraw,
)
from mechlogic.model.logbook import UNREADABLE
from mechlogic.model.mechanism import Mechanism, Part
from mechlogic.model.table import Changes, Rows, place_in_row, tabulate

STROKE = F(4)


def bars(*numbers):
    return [Part(f"bar{n}", Bit(n, STROKE)) for n in numbers]


def stands(parts, name, codes, changes=None):
    """Where a part stands for each of the codes, in mm or degrees."""
    mechanism, rows = Mechanism(parts), Rows(tuple(codes))
    table = tabulate(mechanism, rows, changes or Changes())
    places = mechanism.laws[name].places
    return [places[place_in_row(table.places[name], t)] for t in range(len(rows.codes))]


def stopped(name, levers, step):
    """A member that levers stop, one step after the other; its end is one step further."""
    stops = tuple(Stop(Literal(lever), F(step * n)) for n, lever in enumerate(levers))
    return Part(name, SteppedStops(stops, end=F(step * len(levers))))


# Two bits lift the wheel: three stops, and the middle lever serves the lowest of them.
HEIGHT = [
    *bars(1, 2),
    Part("left_stop", Follow("bar1")),
    Part("middle_stop", EitherPushes(("bar1", "bar2"))),
    Part("right_stop", Follow("bar2")),
    stopped("lift", ("middle_stop", "left_stop", "right_stop"), 5),
]

# Two bits and a command slide set three plates that stop one rack; a third bit lets another rack
# go, on the other side of the pinion.
ANGLE = [
    *bars(3, 4, 5),
    Part("command_slide", EitherPushes(("bar3", "bar4"))),
    Part("near_plate", Follow("command_slide")),
    Part("mid_plate", Follow("bar4")),
    Part("far_plate", Follow("bar3")),
    stopped("forward", ("near_plate", "mid_plate", "far_plate"), 3),
    stopped("backward", ("bar5",), 12),
    Part("turn", OpposedRacks("forward", "backward", F(15))),
]


def codes_with(*bits):
    """Every code in which no bits but these are set."""
    weights = [1 << (bit - 1) for bit in bits]
    choices = product((0, 1), repeat=len(bits))
    return [sum(w for w, on in zip(weights, choice, strict=True) if on) for choice in choices]


# -- height ----------------------------------------------------------------------------------------


def test_two_bits_and_three_stops_give_four_heights():
    # Common practice, no source.
    assert sorted(stands(HEIGHT, "lift", range(4))) == [0, 5, 10, 15]


def test_with_no_height_bit_set_the_wheel_stays_at_its_lowest():
    # Common practice, no source.
    assert stands(HEIGHT, "lift", [0]) == [0]


def test_one_stop_answers_to_either_bit_and_the_others_to_one_each():
    # Common practice, no source.
    assert stands(HEIGHT, "middle_stop", range(4)) == [0, STROKE, STROKE, STROKE]
    assert stands(HEIGHT, "left_stop", range(4)) == [0, STROKE, 0, STROKE]
    assert stands(HEIGHT, "right_stop", range(4)) == [0, 0, STROKE, STROKE]


def test_the_greatest_height_has_no_stop():
    # Common practice, no source.
    lift = HEIGHT[-1].joint
    assert stands(HEIGHT, "lift", [3]) == [lift.end]
    assert lift.end not in {stop.at for stop in lift.stops}


def test_the_lever_of_the_lowest_stop_is_forced_to_answer_to_either_bit():
    """Of sixteen answers two give four heights, and only one of these can be pushed."""
    # Common practice, no source.
    working = []
    for answer in range(16):
        instead = Changes({"middle_stop": lambda _, a=answer: (a,)})
        heights = stands(HEIGHT, "lift", range(4), instead)
        if len(set(heights)) == 4:
            working.append((answer, heights[0]))
    either, other = 0b1110, 0b1011  # bit c: whether it clears for code c
    assert dict(working) == {either: 0, other: 5}  # and the height with no bit set

    def can_be_pushed(answer):
        """Whether one bit more never lets the lever fall back."""
        return all(
            answer >> more & 1
            for code in range(4)
            if answer >> code & 1
            for more in (code | 1, code | 2)
        )

    assert can_be_pushed(either) and not can_be_pushed(other)


# -- angle -----------------------------------------------------------------------------------------


def test_two_bits_and_a_command_slide_set_three_plates_for_four_rack_positions():
    # Common practice, no source.
    assert sorted(stands(ANGLE, "forward", codes_with(3, 4))) == [0, 3, 6, 9]


def test_a_second_rack_across_the_pinion_doubles_them():
    # Common practice, no source.
    turns = stands(ANGLE, "turn", codes_with(3, 4, 5))
    assert sorted(turns) == [F(45) * x for x in range(-4, 4)]


# -- selection -------------------------------------------------------------------------------------


def test_height_and_angle_together_select_one_place_for_each_combination():
    # Common practice, no source.
    parts = [*HEIGHT, *ANGLE]
    aimed = zip(stands(parts, "lift", range(32)), stands(parts, "turn", range(32)), strict=True)
    assert len(set(aimed)) == 4 * 8


def test_a_bar_that_only_suppresses_or_checks_plays_no_part_in_the_selection():
    # Common practice, no source.
    parts = [*HEIGHT, *ANGLE, *bars(6)]
    for name in ("lift", "turn"):
        found = stands(parts, name, range(64))
        assert all(found[code] == found[code ^ 32] for code in range(64))
        assert "bar6" not in Mechanism(parts).upstream(name)


def test_in_saltmere_too_one_bit_plays_no_part_and_each_of_the_others_does():
    # Common practice, no source; which bit it is is Saltmere's own.
    saltmere = load("saltmere")
    parts = list(saltmere.mechanism)
    lifts, turns = (stands(parts, name, range(128)) for name in ("lift", "turn"))
    aimed = list(zip(lifts, turns, strict=True))
    idle = [b for b in range(7) if all(aimed[c] == aimed[c ^ 1 << b] for c in range(128))]
    assert [b + 1 for b in idle] == [6]
    assert len(set(aimed)) == 64


# -- printing --------------------------------------------------------------------------------------


def test_a_bar_of_its_own_suppresses_printing():
    # Common practice, no source.
    parts = [
        *bars(6, 7),
        Part("suppression", PullBar((Literal("bar6", False), Literal("bar7", False)))),
        Part("hammer", Withdraw("suppression")),
    ]
    assert stands(parts, "hammer", codes_with(7, 6)) == [0, STROKE, STROKE, STROKE]


def test_saltmere_prints_no_control_character():
    # Common practice, no source.
    saltmere = load("saltmere")
    assert {saltmere.good_print(code) for code in range(32)} == {"nothing"}
    suppressed = Behaviour(saltmere, (Fault("suppression_bar", "stuck at rest"),))
    assert suppressed.mechanism.rest["suppression_bar"] == 1  # with no bit set it has dropped
    assert prints(saltmere, suppressed.faults, ord("A")) == {"nothing"}


# -- faults ----------------------------------------------------------------------------------------


def prints(machine, faults, code):
    """Everything that a faulty machine may print, turned by hand."""
    behaviour, rows = Behaviour(machine, faults), machine.rows([code])
    found = set()
    for world in behaviour.worlds():
        found |= set(machine.prints(behaviour.table(rows, 0, world), rows))
    return found


LOWEST_ROW = "@HPX(08"
"""What Saltmere prints with its wheel down: the type of the lowest row."""


@pytest.mark.parametrize("character", LOWEST_ROW)
def test_a_lever_that_hangs_between_in_and_out_lets_the_member_pass_or_not(character):
    """Nobody can be sure of the lowest row any more: the rack may run on to the next stop."""
    # Common practice, no source.
    saltmere = load("saltmere")
    found = prints(saltmere, (Fault("middle_stop", "half-way"),), ord(character))
    wheel = saltmere.output.lines
    above = wheel[2][wheel[0].index(character)]
    assert found == {character, above}


@pytest.mark.parametrize("character", LOWEST_ROW)
def test_a_lever_that_hangs_so_far_out_that_it_never_holds_makes_the_lowest_row_unprintable(
    character,
):
    # Common practice, no source.
    saltmere = load("saltmere")
    faults = (Fault("middle_stop", "stuck operated"),)
    assert all(character not in prints(saltmere, faults, code) for code in range(128))


def test_no_other_row_minds_a_lowest_stop_that_is_out_of_the_way():
    # Common practice, no source.
    saltmere = load("saltmere")
    for character in "".join(saltmere.output.lines[2:]):
        faults = (Fault("middle_stop", "stuck operated"),)
        assert prints(saltmere, faults, ord(character)) == {character}


def test_a_lever_that_hangs_between_in_and_out_may_also_catch_a_member_bound_for_another_row():
    # Common practice, no source.
    saltmere = load("saltmere")
    rows = saltmere.output.lines
    for height, row in enumerate(rows[2:], 2):
        for caught, character in zip(rows[height % 2], row, strict=True):  # the half step stays
            found = prints(saltmere, (Fault("middle_stop", "half-way"),), ord(character))
            assert found == {character, "nothing" if caught == " " else caught}


def test_a_fault_of_the_rack_that_reverses_prints_the_character_across_the_wheel():
    # Common practice, no source.
    saltmere = load("saltmere")
    wheel = saltmere.output
    for code in saltmere.printing_codes:
        for mode, reverses in (("stuck at rest", False), ("stuck operated", True)):
            (found,) = prints(saltmere, (Fault("half_turn", mode),), code)
            if bool(code & 64) == reverses:
                assert found == saltmere.good_print(code)
                continue
            row = next(row for row in wheel.lines if chr(code) in row)
            across = wheel.columns[row.index(chr(code))] + (-180 if reverses else 180)
            at = dict(zip(wheel.columns, row, strict=True))
            assert found == at.get(across, UNREADABLE)


def test_a_sluggish_lever_is_right_when_the_shaft_is_turned_by_hand():
    # Common practice, no source: it has all the time it needs, as if it had been oiled.
    saltmere = load("saltmere")
    for code in saltmere.printing_codes:
        for mode in ("slow to return", "slow to operate"):
            good = saltmere.good_print(code)
            assert prints(saltmere, (Fault("middle_stop", mode),), code) == {good}
