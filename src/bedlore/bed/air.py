"""Oxygen in the pore air: diffusion down from the top against what decay asks for."""

from __future__ import annotations

from bedlore.bed.jit import model

# O2 diffuses in wet porous matter as 2e-5 m2/s x air space squared (physics of composting,
# derived form); 0.28 kg/m3 is air's 20.9 % at 10 degC (handbook).
OXYGEN_M2_S = 2e-5
AIR_OXYGEN_KG_M3 = 0.28
# Haug's O2/(O2 + 2 vol %), scaled to 1 in open air (from memory).
HALF_OXYGEN_KG_M3 = AIR_OXYGEN_KG_M3 * 2.0 / 20.9
_OPEN_AIR = AIR_OXYGEN_KG_M3 / (AIR_OXYGEN_KG_M3 + HALF_OXYGEN_KG_M3)
_LEAST_AIR_SPACE = 0.02


@model
def oxygen_response(oxygen_kg_m3):  # type: ignore[no-untyped-def]
    """Rate of decay against that in open air, 0..1, at ``oxygen_kg_m3`` in the pores."""
    return oxygen_kg_m3 * (1.0 / _OPEN_AIR) / (oxygen_kg_m3 + HALF_OXYGEN_KG_M3)


@model
def pore_space(air_space):  # type: ignore[no-untyped-def]
    """Air space that oxygen passes: even soaked material lets a little through."""
    return max(air_space, _LEAST_AIR_SPACE)


@model
def air_resistance(area_m2, thickness_m, space):  # type: ignore[no-untyped-def]
    """Resistance [s/m3] to diffusion through the half of a cell: ``half / (A De)``.

    ``De = 2e-5 space^2``.
    """
    return thickness_m / (2.0 * OXYGEN_M2_S * area_m2 * space * space)


@model
def oxygen_sink(demand_kg, oxygen_kg_m3):  # type: ignore[no-untyped-def]
    """Sink [m3/s] that an hour's demand in open air makes at the last known oxygen.

    Linearised as demand / (O2 + half) x O2, which keeps the profile positive and settles within
    a few hours.
    """
    return demand_kg * (1.0 / (3600.0 * _OPEN_AIR)) / (oxygen_kg_m3 + HALF_OXYGEN_KG_M3)


@model
def lump_supply(lump_m, demand_kg_m3s):  # type: ignore[no-untyped-def]
    """Share of a lump's oxygen demand that diffusion meets, 0..1.

    One-sided supply ``2 De C0 / D^2`` at an air space of 0.2 in wet feed. By hand: a 0.12 m
    lump is served 3.1e-5 kg/m3 s.
    """
    if lump_m <= 0.0 or demand_kg_m3s <= 0.0:
        return 1.0
    supply = 2.0 * OXYGEN_M2_S * 0.04 * AIR_OXYGEN_KG_M3 / (lump_m * lump_m)
    return min(1.0, supply / demand_kg_m3s)
