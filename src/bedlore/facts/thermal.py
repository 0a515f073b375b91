"""How bed material conducts and stores heat, and how much heat it has to give."""

from __future__ import annotations

from bedlore.facts.feedstocks import Feedstock

WATER_HEAT_J_KGK = 4180.0
# 1.3-1.5 kJ/kg K in the mixture rule (Haug 1993, from memory, fairly sure).
DRY_HEAT_J_KGK = 1400.0
WATER_DENSITY_KG_M3 = 1000.0
# Oxygen to burn volatile solids [kg/kg]: C18H26O10N for food and manure (formula from memory),
# cellulose for paper, straw and wood; both derived by stoichiometry, nitrogen left as ammonia.
OXYGEN_FOOD = 1.441
OXYGEN_CELLULOSE = 1.184
# Heat per oxygen used [J/kg], 14.0-14.6 MJ/kg; glucose 14.61 derived, the mean from memory.
HEAT_PER_OXYGEN_J_KG = 14.2e6


def water_by_volume(bulk_density_kg_m3: float, moisture_frac: float) -> float:
    """Water [m3/m3] of material of that bulk density (as is) and moisture."""
    return bulk_density_kg_m3 * moisture_frac / WATER_DENSITY_KG_M3


def bed_conductivity_w_mk(water_m3_m3: float) -> float:
    """Conductivity [W/m K] of unfrozen bed material: ``0.06 + 0.50 theta / 0.7``.

    Our own line through the ranges of Ahn, Sauer, Richard & Glanville 2009, Bioresour. Technol.
    100:3974-3981; give or take 30 %. By hand: theta 0.48 gives 0.40.
    """
    return 0.06 + 0.50 * water_m3_m3 / 0.7


def bed_heat_capacity_j_m3k(bulk_density_kg_m3: float, moisture_frac: float) -> float:
    """Heat capacity [J/m3 K] by the mixture rule. By hand: 600 kg/m3 at 75 % gives 2.09e6."""
    specific = WATER_HEAT_J_KGK * moisture_frac + DRY_HEAT_J_KGK * (1.0 - moisture_frac)
    return bulk_density_kg_m3 * specific


def bed_diffusivity_m2_s(bulk_density_kg_m3: float, moisture_frac: float) -> float:
    """Thermal diffusivity [m2/s] of unfrozen bed material."""
    conductivity = bed_conductivity_w_mk(water_by_volume(bulk_density_kg_m3, moisture_frac))
    return conductivity / bed_heat_capacity_j_m3k(bulk_density_kg_m3, moisture_frac)


def decay_heat_j_per_kg_dry(feedstock: Feedstock) -> float:
    """Heat [J per kg dry matter] when all of a material that can decay has decayed.

    Organic matter x biodegradable share x oxygen x heat per oxygen. By hand: mixed kitchen
    scraps, 0.92 x 0.647 x 1.441 x 14.2 MJ/kg = 12.2e6.
    """
    oxygen = OXYGEN_FOOD if feedstock.group in ("food", "manure", "other") else OXYGEN_CELLULOSE
    decaying = (1.0 - feedstock.ash_frac_dry) * feedstock.biodegradable_frac
    return decaying * oxygen * HEAT_PER_OXYGEN_J_KG
