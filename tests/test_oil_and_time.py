"""The picture of one part's motion shows what the motion is, and says it in words."""

import re
from dataclasses import replace

import pytest
from traitlets import TraitError

from mechlogic.drawing.curve import BOTTOM, LEFT, RIGHT, TOP, Scale, chart, marks
from mechlogic.machines import load
from mechlogic.model.mechanism import Mechanism
from mechlogic.time.oil import FRESH
from mechlogic.time.timing import Conditions, TimingError, margin, stroke
from mechlogic.widgets import OilAndTime

SALTMERE = load("saltmere")
LATE = Conditions(temperature_degc=5, oil=FRESH.aged(5))


def points(path):
    return [tuple(map(float, pair)) for pair in re.findall(r"[ML]([-\d.]+) ([-\d.]+)", path)]


@pytest.mark.parametrize("part", ["middle_stop", "bar1", "suppression_bar"])
@pytest.mark.parametrize("conditions", [Conditions(), LATE, Conditions(baud=300.0)])
def test_each_point_of_the_curve_is_where_the_part_is(part, conditions):
    motion, in_hand = stroke(SALTMERE, part, conditions), margin(SALTMERE, part, conditions)
    scale = Scale(50.0, motion.travel_mm)
    drawn = marks(scale, motion, in_hand, 0.5)
    found = points(drawn["way"]["d"])
    assert found[0] == (LEFT, TOP)
    for x, y in found:
        time_ms = 50.0 * (x - LEFT) / (RIGHT - LEFT)
        distance_mm = motion.travel_mm * (BOTTOM - y) / (BOTTOM - TOP)
        assert distance_mm == pytest.approx(motion.position_mm(time_ms), abs=0.02)
    (moment, _), _ = points(drawn["moment"]["d"])
    assert 50.0 * (moment - LEFT) / (RIGHT - LEFT) == pytest.approx(in_hand.given_ms, abs=0.01)


def test_lateness_is_told_by_words_and_by_shape():
    scale, early = Scale(50.0, 5.0), Conditions()
    shapes = {}
    for conditions in (early, LATE):
        in_hand = margin(SALTMERE, "middle_stop", conditions)
        shapes[in_hand.late] = marks(
            scale, stroke(SALTMERE, "middle_stop", conditions), in_hand, 0.5
        )
    assert "in time" in shapes[False]["says"]["text"]
    assert "late" in shapes[True]["says"]["text"]
    assert "A" in shapes[False]["there"]["d"]  # a disc
    assert "A" not in shapes[True]["there"]["d"]  # a cross


def test_a_label_cannot_smuggle_in_markup():
    drawn = chart(Scale(50, 5), 0.5, stroke(SALTMERE, "middle_stop"), "<script>x</script>")
    assert "<script>" not in drawn
    assert "&lt;script&gt;" in drawn


def test_every_mark_has_its_element_in_the_chart():
    view = OilAndTime(SALTMERE, "middle_stop")
    assert set(view.marks) == set(re.findall(r'data-mark="([^"]+)"', view.svg))


def test_the_sliders_move_the_marks_and_the_words_and_nothing_else():
    view = OilAndTime(SALTMERE, "middle_stop")
    chart_before, marks_before = view.svg, view.marks
    assert "10.4 ms in hand" in view.says
    view.thickened, view.temperature_degc = 5.0, 10.0
    assert view.svg == chart_before
    assert view.marks != marks_before
    assert "It is 2.5 ms late" in view.says
    assert "it is late below 12 °C" in view.says
    view.baud = 75.0
    assert "in hand" in view.says
    assert view.conditions == Conditions(75.0, 10.0, FRESH.aged(5.0))


@pytest.mark.parametrize(
    ("name", "value"),
    [("thickened", 0.5), ("thickened", 21.0), ("temperature_degc", -11.0), ("baud", 20.0)],
)
def test_a_slider_goes_no_further_than_its_ends(name, value):
    view = OilAndTime(SALTMERE, "middle_stop")
    with pytest.raises(TraitError):
        setattr(view, name, value)


def test_at_every_corner_of_the_sliders_there_is_a_picture():
    for part in ("middle_stop", "suppression_bar"):
        view = OilAndTime(SALTMERE, part)
        for slider in view.sliders:
            for end in (slider["min"], slider["max"]):
                setattr(view, slider["name"], end)
                assert view.says
                assert "nan" not in str(view.marks)


def test_a_part_of_which_nothing_is_said_is_refused():
    with pytest.raises(TimingError, match="nothing is said of the mass and the spring of hammer"):
        OilAndTime(SALTMERE, "hammer")


def test_a_part_that_hangs_half_way_is_drawn_as_hanging():
    parts = [
        replace(p, moves=replace(p.moves, friction_n=p.moves.preload_n + p.moves.preload_n / 4))
        if p.name == "middle_stop"
        else p
        for p in SALTMERE.mechanism
    ]
    sticky = replace(SALTMERE, mechanism=Mechanism(parts))
    view = OilAndTime(sticky, "middle_stop")
    view.thickened = 8.0
    assert "hangs" in view.says
    _, last = points(view.marks["way"]["d"])[-1]
    assert last < BOTTOM - 5
