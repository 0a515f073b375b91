"""Moist air: vapour pressure, vapour density, humidity ratio and heat of evaporation.

Plain functions of scalars, so that the model of the bed can compile them as they are. Magnus
constants of the WMO form (from memory, sure), checked against the ASHRAE tables.
"""

from __future__ import annotations

import math

VAPOUR_GAS_CONSTANT_J_KGK = 461.5
RATIO_OF_MOLAR_MASSES = 0.62198
STANDARD_PRESSURE_PA = 101325.0
KELVIN_AT_0_C = 273.15


def saturation_pressure_pa(temp_c: float) -> float:
    """Vapour pressure [Pa] over water at ``temp_c``: ``611.2 exp(17.62 T / (243.12 + T))``.

    By hand: 20 degC gives 2332.6 (ASHRAE table 2339).
    """
    return 611.2 * math.exp(17.62 * temp_c / (243.12 + temp_c))


def saturation_pressure_over_ice_pa(temp_c: float) -> float:
    """Vapour pressure [Pa] over ice at ``temp_c`` below 0; -10 degC gives 259.9."""
    return 611.2 * math.exp(22.46 * temp_c / (272.62 + temp_c))


def vapour_density_kg_m3(temp_c: float, rh_frac: float) -> float:
    """Water vapour [kg/m3] in air of ``rh_frac`` (0 to 1) over water, by the ideal gas law.

    By hand: saturated at 20 degC, 2332.6 / (461.5 x 293.15) = 0.01724.
    """
    pressure_pa = rh_frac * saturation_pressure_pa(temp_c)
    return pressure_pa / (VAPOUR_GAS_CONSTANT_J_KGK * (temp_c + KELVIN_AT_0_C))


def humidity_ratio(
    temp_c: float, rh_frac: float, pressure_pa: float = STANDARD_PRESSURE_PA
) -> float:
    """Water vapour per dry air [kg/kg]: ``0.62198 e / (P - e)``.

    By hand: 20 degC and 50 % give 0.00724 (ASHRAE).
    """
    vapour_pa = rh_frac * saturation_pressure_pa(temp_c)
    return RATIO_OF_MOLAR_MASSES * vapour_pa / (pressure_pa - vapour_pa)


def relative_humidity(temp_c: float, dew_point_c: float) -> float:
    """Relative humidity (0 to 1) of air at ``temp_c`` whose dew point is ``dew_point_c``."""
    return min(1.0, saturation_pressure_pa(dew_point_c) / saturation_pressure_pa(temp_c))


def dew_point_c(temp_c: float, rh_frac: float) -> float:
    """Dew point [degC] over water; the inverse of :func:`saturation_pressure_pa`.

    Air without any vapour has no dew point; humidity is held at 0.01 % so that the answer stays
    finite. By hand: 20 degC and 50 % give 9.3.
    """
    logarithm = math.log(max(rh_frac, 1e-4) * saturation_pressure_pa(temp_c) / 611.2)
    return 243.12 * logarithm / (17.62 - logarithm)


def heat_of_evaporation_j_kg(temp_c: float) -> float:
    """Latent heat of evaporation [J/kg]: ``2501 - 2.36 T`` kJ/kg (handbook, from memory)."""
    return 1000.0 * (2501.0 - 2.36 * temp_c)


def air_pressure_pa(altitude_m: float) -> float:
    """Mean air pressure [Pa] at ``altitude_m`` (standard atmosphere, from memory, sure).

    ``P = 101325 (1 - 2.25577e-5 h)^5.2559``; 780 m gives about 92 300.
    """
    return STANDARD_PRESSURE_PA * math.pow(1.0 - 2.25577e-5 * altitude_m, 5.2559)
