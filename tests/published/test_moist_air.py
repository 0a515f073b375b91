"""Psychrometrics against handbook values (ASHRAE Fundamentals tables; from memory)."""

from __future__ import annotations

import numpy as np
import pytest

from bedlore.facts import psychrometrics
from bedlore.weather.air import (
    dew_point_c,
    rh_from_vapour_density,
    saturation_pa,
    vapour_density_kg_m3,
)


def test_saturation_at_20_c():
    assert saturation_pa(20.0) == pytest.approx(2339.0, rel=0.005)


def test_humidity_ratio_at_20_c_half_saturated():
    vapour = 0.5 * float(saturation_pa(20.0))
    assert 0.622 * vapour / (101325.0 - vapour) == pytest.approx(0.0073, rel=0.01)


@pytest.mark.parametrize("temp_c", [-20.0, 0.0, 15.0, 40.0])
def test_arrays_agree_with_the_table_of_facts(temp_c):
    assert saturation_pa(temp_c) == pytest.approx(psychrometrics.saturation_pressure_pa(temp_c))
    assert vapour_density_kg_m3(temp_c, 0.7) == pytest.approx(
        psychrometrics.vapour_density_kg_m3(temp_c, 0.7))


def test_dew_point_and_density_are_inverses():
    temp = np.linspace(-25, 40, 14)
    assert dew_point_c(saturation_pa(temp)) == pytest.approx(temp, abs=1e-9)
    density = vapour_density_kg_m3(temp, 0.6)
    assert rh_from_vapour_density(temp, density) == pytest.approx(0.6)
