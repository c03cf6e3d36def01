"""Oil is thicker in the cold, and drags in proportion."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mechlogic.time.oil import FRESH, Oil, shear_drag_ns_per_m, thickness

temperatures = st.floats(-30, 120, allow_nan=False)


def test_it_is_as_thick_as_its_data_sheet_says_at_the_two_points():
    oil = Oil("some oil", 68.0, 8.6)
    assert oil.viscosity_mm2_per_s(40) == pytest.approx(68.0)
    assert oil.viscosity_mm2_per_s(100) == pytest.approx(8.6)


@given(temperatures, temperatures)
def test_the_colder_the_thicker(one, other):
    colder, warmer = sorted((one, other))
    assert FRESH.viscosity_mm2_per_s(colder) >= FRESH.viscosity_mm2_per_s(warmer)


@given(temperatures, st.floats(0.5, 50))
def test_old_oil_is_so_many_times_as_thick_at_every_temperature(temperature, times):
    old = FRESH.aged(times).viscosity_mm2_per_s(temperature)
    assert old == pytest.approx(times * FRESH.viscosity_mm2_per_s(temperature))


def test_drag_is_counted_from_fresh_oil_at_20_degrees():
    assert thickness(FRESH, 20) == pytest.approx(1)
    assert thickness(FRESH.aged(5), 20) == pytest.approx(5)
    assert 3 < thickness(FRESH, 0) < 4


@pytest.mark.parametrize("temperature", [-31, 121, float("nan")])
def test_beyond_its_range_the_law_is_not_used(temperature):
    with pytest.raises(ValueError, match="holds from -30 to 120 degrees C"):
        FRESH.viscosity_mm2_per_s(temperature)


def test_an_oil_that_cannot_be_is_refused():
    with pytest.raises(ValueError, match="thicker at 40 than at 100"):
        Oil("upside down", 5.0, 20.0)
    with pytest.raises(ValueError, match="thickened"):
        FRESH.aged(0)


def test_a_film_of_oil_drags_by_newtons_law():
    # In SI: 80 mm²/s × 870 kg/m³ = 0.0696 Pa·s; × 200e-6 m² / 50e-6 m
    assert shear_drag_ns_per_m(80, 200, 0.05) == pytest.approx(0.0696 * 200e-6 / 50e-6)
    with pytest.raises(ValueError, match="greater than 0"):
        shear_drag_ns_per_m(80, 200, 0)
