"""Adjustment: a machine is put out of order, its prints are measured, and it is set right."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import few

import mechlogic
from mechlogic.fit.adjustment import AdjustmentError, adjust, adjustable, causes
from mechlogic.fit.hammer import aims, errors, printing, strikes
from mechlogic.model.dimensions import dimensions
from mechlogic.model.faults import SAFE_TO_LOOK
from mechlogic.model.logbook import UNREADABLE, Entry, read_logbook

SALTMERE, WIND, NESS = (mechlogic.load(name) for name in ("saltmere", "wind", "ness"))
LOGS = Path(__file__).parents[1] / "workbooks" / "logs"
STOP_1, STOP_2, STOP_3 = (("lift_rack", f"stops[{n}].at_mm") for n in (1, 2, 3))
END = ("lift_rack", "end_mm")


def measured(machine, off, characters):
    """The errors of some characters of a machine whose dimensions are *off* by so much."""
    codes = [machine.code.parse(c) for c in characters]
    found = errors(machine, codes, built(machine, off))
    return {c: {a: float(found[a][i][0]) for a in found} for i, c in enumerate(codes)}


def built(machine, off):
    nominal = {d.name: float(d.nominal) for d in dimensions(machine)}
    return {name: nominal[name] + by for name, by in off.items()}


def log_of(machine, off, characters):
    """What a machine that is off prints, as a restorer would note it."""
    codes = [machine.code.parse(c) for c in characters]
    return [
        Entry(one.code, one.printed, clipped=one.clipped[0] if one.clipped else "")
        for one in strikes(machine, built(machine, off), codes=codes)
    ]


# -- measured errors -------------------------------------------------------------------------------

amounts = st.integers(-10, 10).map(lambda tenths: tenths / 10)


@few
@given(st.fixed_dictionaries({STOP_1: amounts, STOP_2: amounts, STOP_3: amounts, END: amounts}))
def test_four_letters_set_the_four_stops_of_the_wind_stamp_right(off):
    """As many readings as screws: the answer is the only one, and undoes what was put in."""
    found = adjust(WIND, measured(WIND, off, "NESW"))
    assert found.unique and not found.alike and not found.unspoken
    by = {step.dimension.name: step.by for step in found.steps}
    for name, amount in off.items():
        # A screw that is off by next to nothing in the window may be left alone.
        assert by.get(name, 0.0) == pytest.approx(-amount, abs=0.1 * 0.6 + 1e-6)
    assert found.left <= 0.1 + 1e-6 and all(effect.whole for effect in found.effects)


def test_what_is_promised_is_what_the_laws_then_do():
    off = {STOP_2: -0.6, ("turn", "offset_deg"): 4.0}
    readings = measured(SALTMERE, off, "HQSTU3R")
    found = adjust(SALTMERE, readings)
    set_right = dict(off)
    for step in found.steps:
        set_right[step.dimension.name] = set_right.get(step.dimension.name, 0.0) + step.by
    codes = printing(SALTMERE)
    after = errors(SALTMERE, codes, built(SALTMERE, set_right))
    before = errors(SALTMERE, codes, built(SALTMERE, off))
    for effect in found.effects:
        row = codes.index(effect.code)
        real = float(after[effect.aim][row][0])
        assert effect.change == pytest.approx(real - float(before[effect.aim][row][0]), abs=1e-6)
        if effect.after is not None:
            assert effect.after == pytest.approx(real, abs=1e-6)
            assert effect.whole


def test_what_moves_every_character_is_set_before_what_moves_a_few():
    off = {STOP_2: -0.6, ("turn", "offset_deg"): 4.0}
    found = adjust(SALTMERE, measured(SALTMERE, off, "HQSTU3R"))
    assert [step.dimension.name for step in found.steps] == [("turn", "offset_deg"), STOP_2]
    assert found.steps[0].characters > found.steps[1].characters


def test_carriage_or_stops_raise_all_rows_alike_and_the_answer_says_so():
    off = {("lift", "offset_mm"): 0.6}
    found = adjust(SALTMERE, measured(SALTMERE, off, "PRQSTVUW08/5"))
    assert [(s.dimension.name, round(s.by, 6)) for s in found.steps] == [
        (("lift", "offset_mm"), -0.6)
    ], "one screw, not four"
    assert not found.unique
    alike = {frozenset(d.name for d in group) for group in found.alike}
    assert frozenset([STOP_1, STOP_2, STOP_3, END, ("lift", "offset_mm")]) in alike
    assert "not the only one" in " ".join(found.says)


def test_one_reading_cannot_tell_the_carriage_from_the_stop():
    found = adjust(SALTMERE, {SALTMERE.code.parse("Q"): {"lift": -0.6}})
    assert not found.unique and len(found.steps) == 1
    either = {found.steps[0].dimension.name, *(d.name for rival in found.rivals for d in rival)}
    assert either == {STOP_2, ("lift", "offset_mm")}
    assert "cannot tell apart" in " ".join(found.says)
    spoken = {d.name for d in adjustable(SALTMERE)} - {d.name for d in found.unspoken}
    assert spoken == either


def test_an_adjustment_goes_no_further_than_its_range():
    found = adjust(WIND, {WIND.code.parse("E"): {"lift": -2.2}})
    (step,) = found.steps
    assert step.by == pytest.approx(1.5) and step.at_limit
    assert "as far as it goes" in step.says
    assert "Even so E will not print whole." in found.says


def test_on_ness_five_strokes_and_the_slide_are_told_apart_by_enough_readings():
    off = {("bar3", "stroke_mm"): -0.2, ("slide", "offset_mm"): 0.9}
    found = adjust(NESS, measured(NESS, off, "ABDHFGIMU12348"))
    by = {step.dimension.name: step.by for step in found.steps}
    assert by == pytest.approx({name: -amount for name, amount in off.items()}, abs=1e-4)
    assert found.unique
    few_ = adjust(NESS, measured(NESS, off, "A1"))
    assert not few_.unique


def test_a_machine_in_its_place_needs_nothing():
    found = adjust(SALTMERE, measured(SALTMERE, {}, "E0T"))
    assert found.steps == () and found.left == 0


def test_whoever_adjusts_is_warned():
    assert adjust(WIND, {WIND.code.parse("E"): {"lift": -0.9}}).caution == SAFE_TO_LOOK
    assert causes(WIND, log_of(WIND, {STOP_2: -0.9}, "NESW"))[0].caution == SAFE_TO_LOOK


@pytest.mark.parametrize(
    ("readings", "says"),
    [
        ({}, "No reading"),
        ({69: {"height": 1.0}}, "'height' is no direction"),
        ({69: {"lift": float("nan")}}, "no number"),
        ({7: {"lift": 1.0}}, "prints no character"),
    ],
)
def test_readings_that_mean_nothing_are_refused(readings, says):
    with pytest.raises(AdjustmentError, match=says):
        adjust(SALTMERE, readings)


# -- clipped sides ---------------------------------------------------------------------------------

TEXT = "THE QUICK BROWN FOX JUMPS OVER A LAZY DOG 0123456789".replace(" ", "")


@pytest.mark.parametrize(
    ("dimension", "off", "side"),
    [
        (STOP_1, -0.6, "bottom"),
        (STOP_2, -0.7, "bottom"),
        (STOP_2, 0.7, "top"),
        (STOP_3, 0.5, "top"),
        (("lift", "offset_mm"), -0.6, "bottom"),
        (("turn", "offset_deg"), 5.0, "right"),
        (("cam_rack", "corners[6].output_mm"), 0.5, "right"),
        (("half_turn", "end_mm"), 0.5, "left"),
    ],
)
def test_the_dimension_that_is_off_explains_the_clipped_characters_and_comes_first(
    dimension, off, side
):
    log = log_of(SALTMERE, {dimension: off}, TEXT)
    assert {entry.clipped for entry in log} <= {"", side}
    first = causes(SALTMERE, log)[0]
    assert first.complete and not first.unexplained and not first.contradicted
    (member,) = [m for m in first.members if m.dimension.name == dimension]
    assert member.least - 0.02 <= off <= member.most + 0.02
    assert set(first.explained) == {entry.sent for entry in log if entry.clipped}


def test_every_complete_cause_would_print_the_log_and_no_other_dimension_would():
    """Held against a plain search: every dimension, by 25 amounts either way."""
    log = log_of(SALTMERE, {STOP_2: -0.7}, "E0TI5KMAZ")
    complete = {m.dimension.name for c in causes(SALTMERE, log) if c.complete for m in c.members}
    noted = {entry.sent: (entry.printed, entry.clipped) for entry in log}
    would = set()
    for one in dimensions(SALTMERE):
        if one.key == "backlash_deg":
            continue
        far = 10.0 if one.unit == "degrees" else 2.0
        if "corners" in one.key:
            far = 0.9  # no corner passes its neighbour
        for step in range(-25, 26):
            off = {one.name: float(one.nominal) + far * step / 25}
            prints = strikes(SALTMERE, off, codes=list(noted))
            if all((p.printed, p.clipped[0] if p.clipped else "") == noted[p.code] for p in prints):
                would.add(one.name)
                break
    assert complete == would == {STOP_2}


def test_dimensions_that_no_print_tells_apart_are_one_cause():
    log = log_of(SALTMERE, {("bar2", "stroke_mm"): -0.9}, TEXT)
    first = causes(SALTMERE, log)[0]
    assert first.complete
    assert {m.dimension.name for m in first.members} == {
        ("bar2", "stroke_mm"),
        ("slide2", "ratio"),
        ("shoulder", "ratio"),
        ("lift", "step_mm"),
    }
    assert " or " in first.says


def test_a_whole_character_speaks_against_a_cause():
    log = log_of(SALTMERE, {STOP_2: -0.7}, "QS")
    carriage = next(c for c in causes(SALTMERE, log) if c.members[0].dimension.part == "lift")
    assert carriage.complete, "two clipped characters may as well be the whole carriage"
    log += log_of(SALTMERE, {STOP_2: -0.7}, "E")  # whole
    carriage = next(c for c in causes(SALTMERE, log) if c.members[0].dimension.part == "lift")
    assert carriage.contradicted == (SALTMERE.code.parse("E"),)
    assert "It would clip E too" in carriage.says


def test_an_unreadable_character_is_one_that_is_further_off():
    log = log_of(SALTMERE, {("turn", "degrees_per_mm"): 0.65}, TEXT)
    assert {entry.printed for entry in log} & {UNREADABLE}
    assert any(entry.clipped for entry in log)
    first = causes(SALTMERE, log)[0]
    assert first.complete
    assert first.members[0].dimension.name == ("turn", "degrees_per_mm")


def test_the_sample_log_leads_to_the_stop_that_was_low():
    log = read_logbook(LOGS / "one_stop_low.csv", SALTMERE.code)
    assert any(entry.clipped for entry in log)
    first, *others = causes(SALTMERE, log)
    assert [m.dimension.name for m in first.members] == [STOP_2] and first.members[0].most < 0
    assert first.complete and not any(cause.complete for cause in others)
    assert "Clipped at the bottom: every character seen at lift 5 and 7.5 mm" in first.says
    assert " low." in first.says


def test_a_log_without_a_clipped_character_is_refused():
    with pytest.raises(AdjustmentError, match="No character of the log is clipped"):
        causes(SALTMERE, log_of(SALTMERE, {}, "E0T"))


def test_directions_are_weighed_in_windows():
    windows = {aim.name: float(aim.window.whole) for aim in aims(SALTMERE)}
    found = adjust(SALTMERE, {SALTMERE.code.parse("Q"): {"lift": 3.0}})  # beyond any screw
    assert found.left == pytest.approx((3.0 - 2 * 1.2) / windows["lift"], rel=1e-3)
