"""Handbook and published figures: moist air, resistances, bed heat, sanitation.

The tolerance is the rounding of the source, or the one that stands beside the check.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from bedlore.facts import building, psychrometrics, sanitation, thermal
from bedlore.facts.feedstocks import find, load


@pytest.mark.parametrize(
    ("temp_c", "pressure_pa"), [(10.0, 1228.0), (20.0, 2339.0), (30.0, 4246.0)]
)
def test_vapour_pressure_of_the_ashrae_tables(temp_c: float, pressure_pa: float) -> None:
    """ASHRAE Fundamentals, psychrometric tables (from memory); within 0.5 %."""
    assert psychrometrics.saturation_pressure_pa(temp_c) == pytest.approx(pressure_pa, rel=0.005)


def test_vapour_pressure_over_ice() -> None:
    """WMO Magnus form over ice, -10 degC: 259.9 Pa; the ASHRAE table has 259.9 (from memory)."""
    assert psychrometrics.saturation_pressure_over_ice_pa(-10.0) == pytest.approx(259.9, rel=0.002)


def test_humidity_ratio_of_the_ashrae_chart() -> None:
    """ASHRAE chart, 20 degC and 50 %: 0.0073 kg/kg (from memory); within 1 %."""
    assert psychrometrics.humidity_ratio(20.0, 0.5) == pytest.approx(0.0073, rel=0.01)


def test_resistance_of_50_mm_extruded_polystyrene() -> None:
    """Building-science lecture notes (read): k 0.029, R 1.724 m2 K/W, C 0.58 W/m2 K, and
    R 9.8 in ft2 h degF/Btu (1 m2 K/W is 5.678)."""
    resistance = building.material("extruded_polystyrene").resistance_m2k_w(0.05)
    assert resistance == pytest.approx(1.724, rel=0.001)
    assert 1 / resistance == pytest.approx(0.58, abs=0.005)
    assert resistance * 5.678 == pytest.approx(9.8, abs=0.05)


@pytest.mark.parametrize("wood", ["softwood", "pine", "larch"])
def test_softwood_of_the_wood_handbook(wood: str) -> None:
    """Wood Handbook, USDA Forest Products Laboratory (as quoted, read): structural softwood at
    12 % moisture 0.7-1.0 Btu in/h ft2 degF, of 0.1442 W/m K each."""
    assert 0.7 * 0.1442 <= building.material(wood).k_w_mk <= 1.0 * 0.1442


@pytest.mark.parametrize("moisture", [0.75, 0.80])
@pytest.mark.parametrize("bulk_density_kg_m3", [500.0, 600.0, 800.0])
def test_bed_lies_in_the_thermal_ranges_of_ahn_2009(
    moisture: float, bulk_density_kg_m3: float
) -> None:
    """Ahn, Sauer, Richard & Glanville 2009, Bioresour. Technol. 100:3974-3981 (read): compost
    materials 0.12-0.81 W/m K and 1.36-4.08 MJ/m3 K; finished beds are 500-800 kg/m3."""
    water = thermal.water_by_volume(bulk_density_kg_m3, moisture)
    assert 0.12 <= thermal.bed_conductivity_w_mk(water) <= 0.81
    assert 1.36e6 <= thermal.bed_heat_capacity_j_m3k(bulk_density_kg_m3, moisture) <= 4.08e6


@pytest.mark.parametrize("moisture", [0.20, 0.30, 0.40, 0.50, 0.60, 0.70, 0.82])
def test_diffusivity_of_dairy_manure(moisture: float) -> None:
    """Published range 0.904-2.94e-7 m2/s over 20-82 % moisture: Int. Agrophys. 2009,
    23(4):359-366 and University of Tehran (read). Dry bulk density 155 kg/m3, which is 865
    kg/m3 as is at 82 %."""
    bulk = 155.0 / (1.0 - moisture)
    assert 0.904e-7 <= thermal.bed_diffusivity_m2_s(bulk, moisture) <= 2.94e-7


def test_decay_gives_more_heat_than_plants_recover_and_less_than_there_is() -> None:
    """Smith, Aber & Rynk 2015 (read): commercial systems recover 7,084 kJ/kg dry matter on
    average, so complete decay of food must give more; 18,000 is the bound of the heat of
    combustion of dry plant matter (handbook, from memory)."""
    heat = thermal.decay_heat_j_per_kg_dry(find("kitchen scraps"))
    assert 7_084e3 < heat <= 18_000e3
    assert all(thermal.decay_heat_j_per_kg_dry(stock) <= 18_000e3 for stock in load().values())


def test_time_at_temperature_of_40_cfr_503() -> None:
    """US 40 CFR 503: 131,700,000 / 10^(0.14 t), formula read in 15A NCAC 02T .1106; 55 degC
    gives 2.63 d, within 0.5 %."""
    assert sanitation.time_at_temperature_d(55.0) == pytest.approx(2.63, rel=0.005)


def test_biodegradable_share_of_chandler_1980() -> None:
    """Chandler et al. 1980 (from memory), BF = 0.83 - 0.028 LC as printed for LC 5, 9, 14:
    0.690, 0.578, 0.438; here by way of materials of the table with that lignin."""
    for lignin_pct, share in ((0.4, 0.819), (5.0, 0.690), (9.0, 0.578), (14.0, 0.438)):
        stock = replace(find("cardboard"), ash_frac_dry=0.0, lignin_frac_dry=lignin_pct / 100)
        assert stock.biodegradable_frac == pytest.approx(share, abs=0.0005)
