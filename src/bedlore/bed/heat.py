"""Heat of a whole bed: columns, side walls, neighbours, evaporation, the mat, the ground."""

from __future__ import annotations

import math

import numpy as np

from bedlore.bed.cells import (
    HEAT_BOUNDARY,
    HEAT_CARRIED,
    HEAT_LATENT,
    HEAT_LINK,
    HEAT_MAT,
    MAT_ENERGY,
    WATER_EVAPORATED,
    Cells,
    Geometry,
    Work,
    Zones,
)
from bedlore.bed.conduction import DRY, GUESS, LINK_DOWN, SIDE, SOURCE, TEMP, WATER, solve_column
from bedlore.bed.jit import model
from bedlore.bed.matter import water_heat

HOUR_S = 3600.0
# Vapour diffusion through a dry cover: 2.2e-5 m2/s x porosity 0.9 x tortuosity 0.66 (memory).
COVER_VAPOUR_M2_S = 2.2e-5 * 0.9 * 0.66
AIR_HEAT_J_M3K = 1.29 * 1005.0  # at 0 degC, handbook
# Vapour exchange [m3/s] for each kg of water in the top cell at which, even into dry air at 40 degC
# (0.05 kg/m3), three tenths of it would go in an hour: a bound for the numbers, not for nature.
MOST_DRIED_M3_KG_S = 0.3 / (3600.0 * 0.05)
SURFACE_DRIES_BELOW = 0.55  # moisture at which the top cell no longer wets its surface (assumed)


@model
def saturation_vapour(temp_c: float) -> float:
    """Vapour density over water [kg/m3] (Magnus, WMO form). By hand: 20 degC 0.0173."""
    pressure_pa = 611.2 * math.exp(17.62 * temp_c / (243.12 + temp_c))
    return pressure_pa / (461.5 * (temp_c + 273.15))


@model
def cover_conductivity(p, water_per_m3):  # type: ignore[no-untyped-def]
    """Conductivity of a cover [W/m K]: dry card or straw holds heat, a soaked one does not.

    ``water_per_m3`` [kg/m3]; soaked at 300 kg/m3 (assumed).
    """
    wet = min(1.0, max(0.0, water_per_m3 / 300.0))
    return p["cover_dry_w_mk"] + (p["cover_wet_w_mk"] - p["cover_dry_w_mk"]) * wet


@model
def _fill_column(p, geometry: Geometry, cells: Cells, zones: Zones, work: Work, z, n, above_r):  # type: ignore[no-untyped-def]
    """Write the cells of a zone into the solver's column from row ``n`` on.

    ``above_r`` is the resistance [m2 K/W] from the centre of cell ``n - 1`` to the top of the
    zone. Returns the resistance from the lowest centre to the base. The side wall is felt from
    mid-width (half-width / 3k).
    """
    column = work.column
    area = geometry.area_m2[z]
    outer_r = geometry.side_r[z] * p["wall_r_scale"] + zones.foam_r[z]
    outer_r += geometry.side_film_r * p["film_r_scale"]
    inner_m = geometry.half_width_m[z] / 3.0
    side_m = geometry.side_m[z]
    for c in range(cells.temp_c.shape[1]):
        thickness_m = work.thickness_m[z, c]
        per_k = 1.0 / work.conductivity_w_mk[z, c]
        half_r = 0.5 * thickness_m * per_k
        if n > 0:
            column[LINK_DOWN, n - 1] = area / (above_r + half_r)
        above_r = half_r
        column[TEMP, n] = cells.temp_c[z, c]
        column[DRY, n] = work.dry_kg[z, c]
        column[WATER, n] = cells.water_kg[z, c]
        column[SIDE, n] = side_m * thickness_m / (inner_m * per_k + outer_r)
        column[SOURCE, n] = work.source_w[z, c]
        n += 1
    return above_r


@model
def exchange_sideways(geometry: Geometry, cells: Cells, zones: Zones, work: Work, tally):  # type: ignore[no-untyped-def]
    """Add to ``source_w`` the heat that neighbouring columns give each other."""
    n_cells = cells.temp_c.shape[1]
    for link in range(geometry.link_zone.shape[0]):
        width = geometry.link_width_m[link]
        a = geometry.link_zone[link, 0]
        b = geometry.link_zone[link, 1]
        if width <= 0.0 or zones.active[a] == 0.0 or zones.active[b] == 0.0:
            continue
        shape = width / geometry.link_gap_m[link]
        total_w = 0.0
        for c in range(n_cells):
            # Harmonic mean of the conductivities over the height where the two touch; a mean
            # thickness would let a nearly empty zone overshoot within the hour.
            k_a = work.conductivity_w_mk[a, c]
            k_b = work.conductivity_w_mk[b, c]
            thickness_m = min(work.thickness_m[a, c], work.thickness_m[b, c])
            conductance = 2.0 * shape * k_a * k_b * thickness_m / (k_a + k_b)
            flow_w = conductance * (cells.temp_c[a, c] - cells.temp_c[b, c])
            work.source_w[a, c] -= flow_w
            work.source_w[b, c] += flow_w
            total_w += flow_w
        tally[a, HEAT_LINK] -= total_w * HOUR_S
        tally[b, HEAT_LINK] += total_w * HOUR_S


@model
def lowest_filled(geometry: Geometry, zones: Zones, k):  # type: ignore[no-untyped-def]
    """The lowest zone of column ``k`` that holds material, or -1."""
    for z in range(geometry.column_end[k] - 1, geometry.column_start[k] - 1, -1):
        if zones.active[z] > 0.0:
            return z
    return -1


@model
def sensed_temp(geometry: Geometry, cells: Cells, zones: Zones):  # type: ignore[no-untyped-def]
    """What the thermostat reads [degC]: mid-depth of its zone, or of the next that is filled."""
    n_zones, n_cells = cells.temp_c.shape
    for step in range(n_zones):
        z = (geometry.mat_zone + step) % n_zones
        if zones.active[z] > 0.0:
            return cells.temp_c[z, n_cells // 2]
    return np.inf


@model
def run_mat(geometry: Geometry, cells: Cells, zones: Zones, work: Work, tally):  # type: ignore[no-untyped-def]
    """Heat the lowest cells under thermostat control; a band of 1 K below the set point.

    A mat is laid under what is filled (assumed): what would lie under empty columns is shared
    among the others.
    """
    whole_w = 0.0
    filled_w = 0.0
    for k in range(geometry.mat_w.shape[0]):
        whole_w += geometry.mat_w[k]
        if lowest_filled(geometry, zones, k) >= 0:
            filled_w += geometry.mat_w[k]
    if filled_w <= 0.0:
        return
    sensed_c = sensed_temp(geometry, cells, zones)
    for k in range(geometry.mat_w.shape[0]):
        z = lowest_filled(geometry, zones, k)
        if z < 0 or zones.mat_on[z] == 0.0:
            continue
        duty = min(1.0, max(0.0, zones.mat_set_c[z] + 0.5 - sensed_c))
        heat_w = geometry.mat_w[k] * (whole_w / filled_w) * duty
        work.source_w[z, cells.temp_c.shape[1] - 1] += heat_w
        tally[z, HEAT_MAT] += heat_w * HOUR_S
        tally[z, MAT_ENERGY] += heat_w * HOUR_S


@model
def evaporation_terms(p, geometry: Geometry, cells: Cells, zones: Zones, work: Work, z,
                      vapour_kg_m3):  # type: ignore[no-untyped-def]  # fmt: skip
    """Vapour leaving the bed at its present surface temperature [kg/s] and its slope [kg/s K].

    ``E = (rho_v(surface) - rho_v(air)) / (1/h_m + cover)`` with the Lewis relation for h_m.
    """
    surface_c = zones.surface_c[z]
    area = geometry.area_m2[z]
    film_s_m = AIR_HEAT_J_M3K / p["evaporation_h_w_m2k"]
    resistance_s_m = film_s_m + zones.cover_m[z] / COVER_VAPOUR_M2_S
    leak = geometry.lid_leak[z] if zones.lid_on[z] > 0.0 else geometry.open_leak
    if zones.foam_top_r[z] > 0.0:
        leak *= 0.1
    wet = min(1.0, work.moisture_frac[z, 0] / SURFACE_DRIES_BELOW)
    conductance = area * leak * wet * wet / resistance_s_m
    # A thin top cell cannot give off more than it holds within the hour.
    conductance = min(conductance, MOST_DRIED_M3_KG_S * cells.water_kg[z, 0])
    density = saturation_vapour(surface_c)
    slope = density * (17.62 * 243.12 / (243.12 + surface_c) ** 2 - 1.0 / (surface_c + 273.15))
    return conductance * (density - vapour_kg_m3), conductance * slope


@model
def top_resistance(p, geometry: Geometry, zones: Zones, z):  # type: ignore[no-untyped-def]
    """Resistance [m2 K/W] from the surface of the bed through cover and lid to the air."""
    cover_m = zones.cover_m[z]
    resistance = geometry.top_film_r * p["film_r_scale"] + zones.foam_top_r[z]
    resistance += zones.lid_on[z] * geometry.lid_r[z] * p["wall_r_scale"]
    if cover_m > 0.0:
        water_per_m3 = zones.cover_water_kg[z] / (cover_m * geometry.area_m2[z])
        resistance += cover_m / cover_conductivity(p, water_per_m3)
    return resistance


@model
def heat_column(p, geometry: Geometry, cells: Cells, zones: Zones, work: Work, tally, k,
                air_c, outer_c, vapour_kg_m3, ground_c):  # type: ignore[no-untyped-def]  # fmt: skip
    """Advance one thermal column by an hour, with evaporation from its top zone."""
    n_cells = cells.temp_c.shape[1]
    column = work.column
    n = 0
    top_zone = -1
    last_zone = -1
    last_half = 0.0
    for z in range(geometry.column_start[k], geometry.column_end[k]):
        if zones.active[z] == 0.0:
            continue
        if top_zone < 0:
            top_zone = z
        gap_r = last_half + geometry.tray_gap_r
        last_half = _fill_column(p, geometry, cells, zones, work, z, n, gap_r)
        n += n_cells
        last_zone = z
    if n == 0:
        return
    z = top_zone
    half = 0.5 * work.thickness_m[z, 0] / work.conductivity_w_mk[z, 0]
    to_surface = geometry.area_m2[z] / max(half, 1e-6)
    to_air = geometry.area_m2[z] / top_resistance(p, geometry, zones, z)
    vapour_kg_s, slope_kg_sk = evaporation_terms(
        p, geometry, cells, zones, work, z, vapour_kg_m3
    )
    guess_c = zones.surface_c[z]
    latent_j_kg = 2.501e6 - 2360.0 * guess_c
    latent_w = latent_j_kg * vapour_kg_s
    latent_w_k = latent_j_kg * slope_kg_sk
    outside = to_air + latent_w_k
    sink_c = (to_air * outer_c - latent_w + latent_w_k * guess_c) / outside
    top_w_k = to_surface * outside / (to_surface + outside)

    base_area = geometry.area_m2[last_zone]
    base_r = geometry.base_r[last_zone] * p["wall_r_scale"] + zones.foam_r[last_zone] + last_half
    base_r += 0.0 if geometry.on_ground > 0.0 else geometry.base_film_r * p["film_r_scale"]
    base_c = ground_c if geometry.on_ground > 0.0 else air_c

    gained_j = solve_column(column, n, HOUR_S, top_w_k, sink_c, base_area / base_r, base_c,
                            outer_c, p["freezing_range_k"])  # fmt: skip
    n = 0
    for each in range(geometry.column_start[k], geometry.column_end[k]):
        if zones.active[each] == 0.0:
            continue
        for c in range(n_cells):
            cells.temp_c[each, c] = column[TEMP, n]
            n += 1
    _book_surface(cells, zones, work, tally, z, column[GUESS, 0], to_surface, outside, sink_c,
                  guess_c, vapour_kg_s, slope_kg_sk, latent_j_kg, gained_j,
                  p["freezing_range_k"])  # fmt: skip


@model
def _book_surface(cells: Cells, zones: Zones, work: Work, tally, z, top_cell_c, to_surface,
                  outside, sink_c, guess_c, vapour_kg_s, slope_kg_sk, latent_j_kg, gained_j,
                  freezing_range_k):  # type: ignore[no-untyped-def]  # fmt: skip
    """New surface temperature, and the vapour that left with its heat."""
    surface_c = (to_surface * top_cell_c + outside * sink_c) / (to_surface + outside)
    zones.surface_c[z] = surface_c
    leaving_kg = (vapour_kg_s + slope_kg_sk * (surface_c - guess_c)) * HOUR_S
    tally[z, HEAT_LATENT] -= latent_j_kg * leaving_kg
    tally[z, HEAT_BOUNDARY] += gained_j + latent_j_kg * leaving_kg
    tally[z, WATER_EVAPORATED] += leaving_kg
    temp_c = cells.temp_c[z, 0]
    tally[z, HEAT_CARRIED] -= leaving_kg * water_heat(temp_c, freezing_range_k)
    cells.water_kg[z, 0] -= leaving_kg
    work.evaporated_kg[z] = leaving_kg
