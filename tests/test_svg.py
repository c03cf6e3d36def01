"""The marks of the pictures, by their geometry: where their corners are, and which way they run."""

import re
from math import dist, hypot, pi

import pytest

from mechlogic.helpers import svg


def corners(path):
    numbers = [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", path)]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def area(points):
    """Signed, by the shoelace formula: above 0 is clockwise where y runs downwards."""
    ends = [*points[1:], points[0]]
    return sum(x * v - u * y for (x, y), (u, v) in zip(points, ends, strict=True)) / 2


def test_an_arm_has_its_width_at_each_end_and_is_wound_clockwise():
    arm = corners(svg.strut((10, 20), (70, 100), 8, 4))
    assert area(arm) == pytest.approx(100 * (8 + 4) / 2, abs=1)
    near, far, far_too, near_too = arm
    assert dist(near, near_too) == pytest.approx(8, abs=0.02)
    assert dist(far, far_too) == pytest.approx(4, abs=0.02)
    middles = [((a + c) / 2, (b + d) / 2) for (a, b), (c, d) in ((near, near_too), (far, far_too))]
    assert middles == [pytest.approx((10, 20), abs=0.02), pytest.approx((70, 100), abs=0.02)]
    assert area(corners(svg.strut((0, 0), (50, 0), 6))) == pytest.approx(300)


def test_a_window_is_a_box_wound_the_other_way_round():
    assert area(corners(svg.box(1, 2, 11, 8))) == 60 == -area(corners(svg.window(1, 2, 11, 8)))


def test_a_disc_and_a_hole_are_one_circle_wound_two_ways():
    """An arc's fifth number is its sweep: 1 is clockwise (SVG 2, 9.3.8)."""
    disc, hole = svg.disc(30, 40, 5), svg.hole(30, 40, 5)
    arcs = re.findall(r"A5 5 0 0 (\d) (\S+) (\S+)", disc)
    assert arcs == [("1", "35", "40"), ("1", "25", "40")] and disc.startswith("M25 40 ")
    assert hole == disc.replace("0 0 1", "0 0 0")


def test_a_gear_has_its_teeth_about_its_pitch_circle_and_one_to_the_right():
    points = corners(svg.gear(100, 50, 40, 12, 6))
    reach = [hypot(x - 100, y - 50) for x, y in points]
    assert len(points) == 4 * 12
    assert sorted({round(r) for r in reach}) == [37, 43]
    tips = [(x, y) for (x, y), r in zip(points, reach, strict=True) if r > 40]
    right = sorted(tips, key=lambda at: -at[0])[:2]
    assert sum(y - 50 for _, y in right) == pytest.approx(0, abs=0.02)
    assert pi * 37**2 < area(points) < pi * 43**2


def test_a_bow_leaves_and_arrives_upright():
    start, leaves, arrives, end = corners(svg.bow((10, 0), (50, 80)))
    assert (start, end) == ((10, 0), (50, 80))
    assert leaves[0] == start[0] and arrives[0] == end[0]
    assert leaves[1] == arrives[1] == 40


def test_what_is_solid_is_drawn_twice_in_one_class_and_plain_metal_in_none():
    assert 'class="edge"' in svg.solid("M0 0") and 'class="metal"' in svg.solid("M0 0")
    assert svg.solid("M0 0", kind="rack").count(' rack"') == 2


def test_words_cannot_become_marks():
    assert svg.text(0, 0, '<g> & "') == (
        '<text class="name" x="0" y="0" text-anchor="start">&lt;g&gt; &amp; &quot;</text>'
    )
