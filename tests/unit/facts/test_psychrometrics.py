from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedlore.facts import psychrometrics as air

temps = st.floats(-30, 50)


@given(temp_c=temps, rh=st.floats(0.01, 1.0))
def test_dew_point_and_humidity_are_inverse(temp_c: float, rh: float) -> None:
    assert air.relative_humidity(temp_c, air.dew_point_c(temp_c, rh)) == pytest.approx(rh, rel=1e-9)


@given(temp_c=temps)
def test_saturated_air_has_its_own_dew_point(temp_c: float) -> None:
    assert air.dew_point_c(temp_c, 1.0) == pytest.approx(temp_c, abs=1e-9)
    assert air.relative_humidity(temp_c, temp_c + 5.0) == 1.0


def test_bone_dry_air_stays_finite() -> None:
    assert math.isfinite(air.dew_point_c(20.0, 0.0))


def test_ice_and_water_meet_at_freezing() -> None:
    over_ice = air.saturation_pressure_over_ice_pa(0.0)
    assert over_ice == pytest.approx(air.saturation_pressure_pa(0.0))
    assert air.saturation_pressure_over_ice_pa(-10.0) < air.saturation_pressure_pa(-10.0)


def test_figures_to_check_by_hand() -> None:
    assert air.vapour_density_kg_m3(20.0, 1.0) == pytest.approx(0.01724, rel=5e-4)
    assert air.heat_of_evaporation_j_kg(20.0) == pytest.approx(2453.8e3)
    assert air.air_pressure_pa(0.0) == 101325.0
    assert air.air_pressure_pa(780.0) == pytest.approx(92300, rel=1e-3)
    assert air.humidity_ratio(20.0, 0.5, 92300.0) > air.humidity_ratio(20.0, 0.5)
