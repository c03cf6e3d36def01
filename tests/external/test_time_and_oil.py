"""Springs, oil and start-stop characters against an integrator and against published figures.

Sources, each beside its check.  Vibration: J. P. Den Hartog, Mechanical Vibrations (from memory).
Rates and margins: ITU-T S.3 (from memory); customary rates are common practice, no source.  Oil:
worked examples published with calculators of ASTM D341.
"""

from math import exp, inf, log, pi, sqrt

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from mechlogic.model.motion import Stroke
from mechlogic.time.oil import Oil
from mechlogic.time.startstop import RATES, Rate, Selector

UNDER = Stroke(5.0, 0.06, 0.45, 0.26, 0.12, 5.0)
CRITICAL = Stroke(4.0, 0.25, 0.5, 2.0, 0.1, 5.0)
OVER = Stroke(5.0, 0.06, 0.45, 6.0, 0.12, 5.0)
STICKS = Stroke(2.0, 0.1, 0.0, 0.2, 0.3, 5.0)


# -- the spring, by integration in SI units --------------------------------------------------------


def integrated(s: Stroke, until_s: float = 2.0):
    """The motion in kg, m and s until the part hits the stop or comes to rest on its way."""
    mass, rate, drag = s.mass_g / 1e3, s.spring_n_per_mm * 1e3, s.drag_ns_per_m

    def newton(_, state):
        x, v = state
        return v, (s.friction_n - s.preload_n - rate * x - drag * v) / mass

    def at_the_stop(_, state):
        return state[0]

    def at_rest(t, state):
        return state[1] if t > 0 else -1.0

    at_the_stop.terminal = at_rest.terminal = True
    at_rest.direction = 1
    return solve_ivp(
        newton, (0, until_s), (s.travel_mm / 1e3, 0.0), events=(at_the_stop, at_rest),
        rtol=1e-10, atol=1e-13, dense_output=True, method="DOP853",
    )  # fmt: skip


@pytest.mark.parametrize("s", [UNDER, CRITICAL, OVER], ids=lambda s: s.regime)
def test_the_closed_form_hits_the_stop_when_the_integrator_does(s):
    run = integrated(s)
    assert run.t_events[0][0] * 1e3 == pytest.approx(s.time_ms(), rel=1e-6)
    for t in np.linspace(0, run.t[-1], 50):
        assert s.position_mm(t * 1e3) == pytest.approx(run.sol(t)[0] * 1e3, abs=1e-6)


def test_with_friction_the_integrator_too_comes_to_rest_before_the_stop():
    run = integrated(STICKS)
    assert not len(run.t_events[0])
    came_to_rest = run.sol(run.t_events[1][0])[0] * 1e3
    assert came_to_rest == pytest.approx(STICKS.ends_mm, abs=1e-6)
    assert 0 < came_to_rest < STICKS.sticks_within_mm
    pull = STICKS.preload_n + STICKS.spring_n_per_mm * came_to_rest
    assert pull < STICKS.friction_n  # so it stays there
    assert STICKS.time_ms() == inf


def between(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


def none_or(most):
    return between(0, most).map(lambda newtons: newtons if newtons > 1e-6 else 0.0)


# A preload or a friction of less than a millionth of a newton is none: no integrator can tell.
strokes = st.builds(
    Stroke, between(1, 50), between(0.02, 1), none_or(2), between(0, 8), none_or(3),
    between(0.5, 20),
)  # fmt: skip


@settings(max_examples=50)
@given(strokes)
def test_any_part_ends_where_and_when_the_integrator_says(s):
    assume(s.preload_n + s.spring_n_per_mm * s.travel_mm > s.friction_n + 1e-3)
    assume(abs(s.ends_mm) > 1e-3 or s.time_ms() < inf)  # it does not just graze its stop
    run = integrated(s, 1.0)
    arrived, rested = run.t_events
    if len(arrived):
        assert s.time_ms() == pytest.approx(arrived[0] * 1e3, rel=1e-4)
    elif len(rested):
        assert s.time_ms() == inf
        assert s.ends_mm == pytest.approx(run.sol(rested[0])[0] * 1e3, abs=1e-4)
    else:
        assert s.position_mm(1000.0) == pytest.approx(run.y[0][-1] * 1e3, abs=1e-4)


# -- the spring, by the textbook -------------------------------------------------------------------


def test_dry_friction_alone_takes_two_f_over_k_off_each_half_swing():
    # Den Hartog, Coulomb damping: the amplitude falls by 4F/k a cycle (from memory).
    s = Stroke(2.0, 0.1, 0.0, 0.0, 0.3, 5.0)
    other_side = s.travel_mm - 2 * s.friction_n / s.spring_n_per_mm
    assert other_side < 0  # it does not even reach the place at which the spring is slack
    assert s.ends_mm == pytest.approx(-other_side)


def test_viscous_drag_takes_the_logarithmic_decrement_off_each_swing():
    # Den Hartog: δ = 2πζ/√(1 − ζ²) a cycle (from memory), so half of it each half swing.
    s = Stroke(2.0, 0.1, 0.0, 0.2, 0.4, 5.0)
    centre = s.friction_n / s.spring_n_per_mm  # spring and friction balance here
    ratio = 0.2 / (2 * sqrt(0.1 * 2.0))
    decrement = log((s.travel_mm - centre) / (centre - s.ends_mm))
    assert decrement == pytest.approx(pi * ratio / sqrt(1 - ratio**2))


def test_the_critical_drag_is_twice_the_root_of_spring_rate_times_mass():
    # In SI: 2·√(250 N/m · 0.004 kg) = 2 N·s/m.
    assert CRITICAL.drag_ns_per_m == pytest.approx(2 * sqrt(250 * 0.004))
    assert CRITICAL.regime == "critically damped"


def test_strong_drag_leaves_the_slow_exponential_k_over_c():
    s = Stroke(1.0, 0.05, 0.0, 40.0, 0.0, 10.0)
    fallen = s.position_mm(2000.0) / s.position_mm(1000.0)
    assert fallen == pytest.approx(exp(-1000.0 * 0.05 / 40.0), rel=1e-3)


# -- oil -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("at_40", "at_100", "temperature", "published", "within"),
    [
        (404.0, 28.0, 60.0, 132.126, 0.0005),  # a gear oil: worked example of a D341 calculator
        (68.0, 8.8, 80.0, 14.85, 0.05),  # an oil of grade 68: worked the other way round there
    ],
)
def test_walthers_law_gives_the_published_worked_examples(
    at_40, at_100, temperature, published, within
):
    oil = Oil("published", at_40, at_100)
    assert oil.viscosity_mm2_per_s(temperature) == pytest.approx(published, abs=within)


@pytest.mark.parametrize(
    ("at_40", "at_100", "at_60"),
    [(30, 4.24, 13.1064), (30, 5.23, 14.525), (70, 11.1, 32.9198), (68, 8.6, 28.6455)],
)
def test_a_second_library_that_adds_a_little_more_than_0_7_agrees_within_two_per_cent(
    at_40, at_100, at_60
):
    # Figures printed by an open viscosity library; its constant lies between 0.8 and 0.9.
    oil = Oil("published", at_40, at_100)
    assert oil.viscosity_mm2_per_s(60.0) == pytest.approx(at_60, rel=0.02)


# -- start-stop characters -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "character_ms", "exactly"),
    [
        ("50 baud", 150.0, True),  # ITU-T S.3: 7.5 units (from memory)
        ("100 baud", 100.0, True),  # ISO 1177: 10 units (from memory)
        ("45.45 baud", 163.0, False),  # 7.42 units: about 163 ms; common practice, no source
    ],
)
def test_characters_last_as_long_as_published(name, character_ms, exactly):
    found = RATES[name].character_ms
    assert found == pytest.approx(character_ms, abs=1e-9 if exactly else 0.5)


def test_at_50_baud_a_unit_lasts_20_ms_and_400_characters_go_out_in_a_minute():
    # ITU-T S.3 and common practice (from memory)
    rate = RATES["50 baud"]
    assert (rate.unit_ms, rate.stop_units) == pytest.approx((20, 1.5))
    assert rate.characters_per_s * 60 == pytest.approx(400)


def test_a_healthy_receiver_keeps_the_net_margin_that_s3_asks_for():
    # ITU-T S.3: a net margin of 35 % or more, speed within 0.75 % (both from memory).
    rate = RATES["50 baud"]
    for error in (-0.0075, 0.0075):
        assert Selector(error).margin(rate) > 0.35


@pytest.mark.parametrize("bits", [5, 7, 8])
@pytest.mark.parametrize("error", [0.001, 0.005, 0.01, 0.02])
def test_the_margin_is_that_of_the_handbooks_of_serial_receivers(bits, error):
    """M = 0.5 − 1/2N − (L − 0.5)·F, with very many samples N in each unit.

    Published in handbooks of asynchronous receivers.  L counts the elements up to the last one
    that is read, F is the error of the receiver's clock; both books drop what is of second order.
    """
    rate = Rate(100.0, bits + 2.0, bits)
    last = bits + 1  # start and bits; the stop itself is not read here
    published = 0.5 - (last - 0.5) * error
    for signed in (error, -error):
        assert Selector(signed).margin(rate) == pytest.approx(published, abs=last * error**2)
