"""Moist air: saturation, dew point, vapour density.

Magnus form over water with the coefficients of the WMO guide to instruments (611.2 Pa, 17.62,
243.12 degC; from memory), checked in tests/published against es(20 degC) = 2339 Pa.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from bedlore.weather.series import FloatArray

GAS_CONSTANT_VAPOUR_J_KGK = 461.5
_KELVIN = 273.15


def saturation_pa(temp_c: ArrayLike) -> FloatArray:
    """Saturation vapour pressure over water [Pa] at ``temp_c`` [degC]; any shape."""
    temp = np.asarray(temp_c, dtype=float)
    return np.asarray(611.2 * np.exp(17.62 * temp / (243.12 + temp)))


def dew_point_c(vapour_pa: ArrayLike) -> FloatArray:
    """Dew point [degC] of air with vapour pressure ``vapour_pa`` [Pa, > 0]; any shape."""
    log_ratio = np.log(np.asarray(vapour_pa, dtype=float) / 611.2)
    return np.asarray(243.12 * log_ratio / (17.62 - log_ratio))


def rh_from_dew_point(temp_c: ArrayLike, dew_c: ArrayLike) -> FloatArray:
    """Relative humidity [0..1] from air and dew-point temperature [degC]; any shape."""
    return np.clip(saturation_pa(dew_c) / saturation_pa(temp_c), 0.0, 1.0)


def vapour_density_kg_m3(temp_c: ArrayLike, rh_frac: ArrayLike) -> FloatArray:
    """Mass of vapour in a cubic metre of air [kg/m3]; any shape."""
    kelvin = np.asarray(temp_c, dtype=float) + _KELVIN
    pressure = np.asarray(rh_frac, dtype=float) * saturation_pa(temp_c)
    return np.asarray(pressure / (GAS_CONSTANT_VAPOUR_J_KGK * kelvin))


def rh_from_vapour_density(temp_c: ArrayLike, density_kg_m3: ArrayLike) -> FloatArray:
    """Relative humidity [0..1] of air that holds ``density_kg_m3`` of vapour; capped at 1."""
    kelvin = np.asarray(temp_c, dtype=float) + _KELVIN
    pressure = np.asarray(density_kg_m3, dtype=float) * GAS_CONSTANT_VAPOUR_J_KGK * kelvin
    return np.clip(pressure / saturation_pa(temp_c), 0.0, 1.0)
