"""A sprung part comes home as a plain step-by-step simulation says, and by its nature must."""

from fractions import Fraction as F
from math import exp, inf, isclose, isinf, pi, sqrt

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from mechlogic.model.motion import Cycle, Moves, Stroke, reduced_mass_g


def between(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


strokes = st.builds(
    Stroke,
    mass_g=between(1, 50),
    spring_n_per_mm=between(0.01, 1),
    preload_n=between(0, 2),
    drag_ns_per_m=between(0, 10),
    friction_n=between(0, 3),
    travel_mm=between(0.5, 20),
)
UNDER = Stroke(5.0, 0.06, 0.45, 0.26, 0.12, 5.0)
CRITICAL = Stroke(4.0, 0.25, 0.5, 2.0, 0.1, 5.0)  # 2·√(0.25·4) = 2
OVER = Stroke(5.0, 0.06, 0.45, 6.0, 0.12, 5.0)
HALF_WAY = Stroke(5.0, 0.1, 0.1, 3.0, 0.3, 5.0)  # friction holds the last 2 mm


def simulated(s: Stroke, until_ms: float, steps: int = 20_000) -> list[tuple[float, float]]:
    """Times and places by plain steps: push, drag, and friction that only ever holds against it."""
    x, v, dt = s.travel_mm, 0.0, until_ms / steps
    found = [(0.0, x)]
    for step in range(1, steps + 1):
        push = -(s.preload_n + s.spring_n_per_mm * x)
        if v == 0 and abs(push) <= s.friction_n:
            rubs = -push
        else:
            way = v if v else push
            rubs = -s.friction_n if way > 0 else s.friction_n
        new = v + dt * (push + rubs - s.drag_ns_per_m * v) / s.mass_g
        v = 0.0 if v * new < 0 else new  # it has come to rest; friction may hold it now
        x += dt * v
        if x <= 0:
            x, v = 0.0, 0.0
        found.append((step * dt, x))
        if x == 0:
            break
    return found


@pytest.mark.parametrize("s", [UNDER, CRITICAL, OVER, HALF_WAY], ids=lambda s: s.regime)
def test_it_moves_as_in_a_simulation_by_small_steps(s):
    for time, place in simulated(s, 150.0)[::100]:
        assert s.position_mm(time) == pytest.approx(place, abs=0.01)


@given(strokes)
def test_any_part_moves_as_in_a_simulation_by_small_steps(s):
    until = 60.0
    coarse = simulated(s, until, 4_000)
    for time, place in coarse[::400]:
        assert s.position_mm(time) == pytest.approx(place, abs=0.03 * s.travel_mm)


def test_the_three_regimes_are_told_apart_by_the_damping_ratio():
    found = [(s.regime, round(s.damping_ratio, 3)) for s in (UNDER, CRITICAL, OVER)]
    assert found == [("under-damped", 0.237), ("critically damped", 1.0), ("over-damped", 5.477)]


@given(strokes, between(0, 1))
def test_it_is_where_it_says_it_is_when_it_says_it_is_there(s, share):
    within = share * s.travel_mm
    time = s.time_ms(within)
    if isinf(time):
        assert s.ends_mm >= within - 1e-9
    else:
        assert s.position_mm(time) == pytest.approx(within, abs=1e-6 * s.travel_mm)


@given(strokes, between(0, 200), between(0, 200))
def test_it_never_turns_back_and_never_passes_its_stop(s, first, second):
    earlier, later = sorted((first, second))
    assert s.travel_mm >= s.position_mm(earlier) - 1e-9
    assert s.position_mm(earlier) >= s.position_mm(later) - 1e-9 * s.travel_mm
    assert s.position_mm(later) >= s.ends_mm - 1e-9 * s.travel_mm
    assert s.ends_mm >= 0


@given(strokes, between(1, 3))
def test_more_mass_drag_or_friction_and_less_spring_never_make_it_faster(s, more):
    base = s.time_ms()
    for slower in (
        Stroke(s.mass_g, s.spring_n_per_mm, s.preload_n, s.drag_ns_per_m * more, s.friction_n,
               s.travel_mm),
        Stroke(s.mass_g, s.spring_n_per_mm, s.preload_n, s.drag_ns_per_m, s.friction_n * more,
               s.travel_mm),
        Stroke(s.mass_g, s.spring_n_per_mm, s.preload_n / more, s.drag_ns_per_m, s.friction_n,
               s.travel_mm),
    ):  # fmt: skip
        assert slower.time_ms() >= base * (1 - 1e-9)


@given(strokes, between(0.2, 5))
def test_twice_the_time_scale_is_twice_every_time(s, scale):
    """By dimensions alone: mass × scale² and drag × scale, and every time is scaled."""
    scaled = Stroke(
        s.mass_g * scale**2, s.spring_n_per_mm, s.preload_n, s.drag_ns_per_m * scale,
        s.friction_n, s.travel_mm,
    )  # fmt: skip
    assume(abs(s.damping_ratio - 1) > 1e-6)
    assert isclose(scaled.time_ms(), scale * s.time_ms(), rel_tol=1e-6)


@given(strokes, between(0.2, 5))
def test_twice_every_force_and_mass_changes_no_time(s, scale):
    heavier = Stroke(
        s.mass_g * scale, s.spring_n_per_mm * scale, s.preload_n * scale,
        s.drag_ns_per_m * scale, s.friction_n * scale, s.travel_mm,
    )  # fmt: skip
    near = abs(s.preload_n + s.spring_n_per_mm * s.travel_mm - s.friction_n) < 1e-9
    assume(not near and abs(s.damping_ratio - 1) > 1e-6)
    assume(abs(s.preload_n - s.friction_n) > 1e-6)
    assert isclose(heavier.time_ms(), s.time_ms(), rel_tol=1e-6)


@given(strokes)
def test_the_regimes_meet_at_critical_damping(s):
    critical = 2 * sqrt(s.spring_n_per_mm * s.mass_g)
    places = []
    for drag in (critical * (1 - 1e-7), critical, critical * (1 + 1e-7)):
        near = Stroke(s.mass_g, s.spring_n_per_mm, s.preload_n, drag, s.friction_n, s.travel_mm)
        places.append([near.position_mm(t) for t in (1.0, 5.0, 20.0, 80.0)])
    assert places[0] == pytest.approx(places[1], abs=1e-4)
    assert places[2] == pytest.approx(places[1], abs=1e-4)


def test_with_hardly_any_spring_rate_it_falls_as_under_a_steady_force():
    s = Stroke(5.0, 1e-9, 0.5, 0.0, 0.0, 4.0)
    assert s.time_ms() == pytest.approx(sqrt(2 * 4.0 * 5.0 / 0.5))  # s = ½·(F/m)·t²


def test_in_very_thick_oil_it_creeps_at_the_speed_at_which_drag_balances_the_spring():
    s = Stroke(1.0, 1e-9, 0.5, 100.0, 0.0, 4.0)
    assert s.time_ms() == pytest.approx(4.0 * 100.0 / 0.5, rel=1e-3)  # v = F/c


def test_a_lever_stops_half_way_where_friction_holds_its_spring():
    assert HALF_WAY.sticks_within_mm == pytest.approx((0.3 - 0.1) / 0.1)
    assert HALF_WAY.ends_mm == pytest.approx(2.0)
    assert HALF_WAY.time_ms(1.9) == inf
    assert HALF_WAY.time_ms(2.1) < inf


@given(strokes)
def test_a_part_that_ends_before_its_stop_ends_in_the_band_in_which_friction_holds(s):
    if s.ends_mm > 0:
        pull = s.preload_n + s.spring_n_per_mm * s.ends_mm
        assert pull <= s.friction_n * (1 + 1e-9)
        assert s.ends_mm <= s.sticks_within_mm * (1 + 1e-9)


@given(strokes)
def test_a_part_whose_preload_overcomes_the_friction_always_arrives(s):
    if s.preload_n > s.friction_n:
        assert s.sticks_within_mm == 0
        assert s.time_ms() < inf


def test_a_part_that_friction_holds_from_the_first_does_not_stir():
    s = Stroke(5.0, 0.05, 0.2, 0.5, 1.0, 4.0)
    assert not s.starts
    assert (s.position_mm(1000.0), s.ends_mm, s.time_ms(1.0)) == (4.0, 4.0, inf)
    assert s.time_ms(4.0) == 0


def test_a_light_part_may_coast_through_the_band_to_its_stop():
    s = Stroke(20.0, 0.2, 0.0, 0.01, 0.3, 5.0)
    assert s.sticks_within_mm == pytest.approx(1.5)
    assert s.ends_mm == 0
    assert s.time_ms() < inf


def test_mass_reduced_to_the_end_of_an_arm_has_the_same_energy():
    # ½·J·ω² = ½·m·v² with v = ω·r
    inertia, arm, omega = 900.0, 30.0, 0.7
    mass = reduced_mass_g(inertia, arm)
    assert mass * (omega * arm) ** 2 == pytest.approx(inertia * omega**2)
    with pytest.raises(ValueError, match="greater than 0"):
        reduced_mass_g(900.0, 0.0)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"mass_g": F(0)}, "mass_g: it is not greater than 0"),
        ({"spring_n_per_mm": F(-1)}, "spring_n_per_mm: no spring is as soft"),
        ({"friction_n": F(-1)}, "friction_n: it is less than 0"),
        ({"within_mm": F(-1)}, "within_mm: it is less than 0"),
    ],
)
def test_motion_that_cannot_be_is_refused(changes, message):
    with pytest.raises(ValueError, match=message):
        Moves(**{"mass_g": F(5), "spring_n_per_mm": F(1), **changes})


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"baud": F(0)}, "baud: it is not greater than 0"),
        ({"sense_share": F(9, 10)}, "together more than 1"),
        ({"lead_ms": F(-1)}, "lead_ms: it is less than 0"),
    ],
)
def test_a_cycle_that_cannot_be_is_refused(changes, message):
    good = {"units": F(10), "baud": F(100), "sense_share": F(1, 4), "return_share": F(1, 4)}
    with pytest.raises(ValueError, match=message):
        Cycle(**{**good, **changes})


def test_a_cycle_gives_each_part_its_share_of_the_character():
    cycle = Cycle(F(10), F(100), F(1, 4), F(1, 5))
    assert cycle.character_ms() == pytest.approx(100)
    assert cycle.character_ms(50) == pytest.approx(200)
    assert cycle.characters_per_s() == pytest.approx(10)
    assert (cycle.given_ms(True), cycle.given_ms(False)) == pytest.approx((25, 20))
    assert cycle.fastest_baud(False, 40.0) == pytest.approx(50)
    assert cycle.fastest_baud(False, 0.0) == inf
    with pytest.raises(ValueError, match="greater than 0 baud"):
        cycle.character_ms(0)


@given(between(1, 400), st.booleans())
def test_at_its_fastest_rate_a_part_is_given_just_what_it_needs(needed, operates):
    cycle = Cycle(F(15, 2), F(50), F(1, 8), F(1, 6))
    fastest = cycle.fastest_baud(operates, needed)
    assert cycle.given_ms(operates, fastest) == pytest.approx(needed)


def test_an_undamped_part_takes_a_quarter_of_its_period_without_preload():
    s = Stroke(4.0, 0.25, 0.0, 0.0, 0.0, 5.0)
    assert s.time_ms() == pytest.approx(pi / 2 * sqrt(4.0 / 0.25))


def test_critical_damping_follows_its_own_law():
    s = Stroke(4.0, 0.25, 0.5, 2.0, 0.0, 5.0)
    behind, turn = 0.5 / 0.25, sqrt(0.25 / 4.0)
    wanted = (5 + behind) * (1 + turn * 7) * exp(-turn * 7) - behind
    assert s.position_mm(7.0) == pytest.approx(wanted)


def test_where_friction_just_holds_the_preload_a_damped_part_nears_its_stop_and_never_comes_there():
    s = Stroke(5.0, 0.06, 0.3, 6.0, 0.3, 5.0)
    assert s.time_ms() == inf
    assert s.time_ms(1e-6) < inf
