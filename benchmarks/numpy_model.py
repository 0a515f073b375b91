"""The bed model once more, vectorised with NumPy over members and zones, as a rival and a check.

It solves the same equations as :mod:`bedlore.bed` for beds of single columns without ice, stacks,
lumps, acts or a heat mat, on arrays ``[cells, members x zones]``, so that every line works
on long contiguous rows. Written apart from the loop, line by line from the equations; the
benchmark prints how far the two are apart.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.air import AIR_OXYGEN_KG_M3, HALF_OXYGEN_KG_M3, OXYGEN_M2_S
from bedlore.bed.cells import Air, Floats, Geometry
from bedlore.bed.engine import State
from bedlore.bed.heat import (
    AIR_HEAT_J_M3K,
    MOST_DRIED_M3_KG_S,
    SURFACE_DRIES_BELOW,
)
from bedlore.bed.matter import (
    ASH_HOLDS_WATER,
    ASH_SOLID_KG_M3,
    BULK_PER_CARBON,
    DRY_HEAT_J_KGK,
    DRY_PER_CARBON,
    HELD_PER_CARBON,
    ORGANIC_SOLID_KG_M3,
    OXYGEN_PER_CARBON,
    WATER_HEAT_J_KGK,
    WATER_PER_CARBON,
)
from bedlore.bed.water import PERCHED_M
from benchmarks.numpy_worms import VectorHerd

HOUR_S = 3600.0
OPEN_AIR = AIR_OXYGEN_KG_M3 / (AIR_OXYGEN_KG_M3 + HALF_OXYGEN_KG_M3)
ASH_BULK_KG_M3 = 600.0


def weighted(pools: Floats, weights: tuple[float, ...]) -> Floats:
    """Sum over the leading axis of ``pools`` times ``weights``."""
    return np.asarray(np.einsum("pcn,p->cn", pools, np.array(weights)))


def share_lost(rate: Floats) -> Floats:
    """``1 - exp(-rate)`` to third order."""
    return rate / (1.0 + 0.5 * rate)


class VectorBed:
    """Every member and zone of an ensemble at once; arrays ``[C, N]`` with N = members x zones."""

    def __init__(self, geometry: Geometry, params: NDArray[np.void], state: State, air: Air,
                 *, worms: bool = True) -> None:  # fmt: skip
        members, zones, _ = state.cells.temp_c.shape
        self.shape = (members, zones)
        self.geometry = geometry
        self.air = air
        self.p = {name: np.repeat(params[name], zones) for name in params.dtype.names or ()}
        self.area = np.tile(geometry.area_m2, members)
        cells = state.cells
        self.temp_c = _cells_first(cells.temp_c)
        self.carbon_kg = _pools_first(cells.carbon_kg)
        self.nitrogen_kg = _pools_first(cells.nitrogen_kg)
        self.ash_kg = _cells_first(cells.ash_kg)
        self.water_kg = _cells_first(cells.water_kg)
        self.ammonia_kg = _cells_first(cells.ammonia_kg)
        self.nitrate_kg = _cells_first(cells.nitrate_kg)
        self.starch_kg = _cells_first(cells.starch_kg)
        self.quality_kg = _cells_first(cells.quality_kg)
        self.oxygen_kg_m3 = _cells_first(cells.oxygen_kg_m3)
        self.surface_c = state.zones.surface_c.reshape(-1).copy()
        self.sour = state.zones.sour.reshape(-1).copy()
        rates = ("fast_rate_per_day", "medium_rate_per_day", "slow_rate_per_day",
                 "humus_rate_per_day")  # fmt: skip
        self.rate_per_hour = np.stack([self.p[name] for name in rates])[:, None, :] / 24.0
        self.log_q10 = np.log(self.p["decay_q10"])
        self.herd = VectorHerd(self, state.herd)
        self.worms = worms

    def run(self, hours: int) -> None:
        """Advance by ``hours``."""
        for hour in range(hours):
            self.step(hour)

    def step(self, hour: int) -> None:
        """One hour, in the order of the loop."""
        self.describe()
        self.respond_and_breathe()
        self.respire()
        self.turn_over_nitrogen()
        if self.worms:
            self.herd.live()
            self.herd.wander()
        self.dry_kg = weighted(self.carbon_kg, DRY_PER_CARBON) + self.ash_kg
        self.held_kg = weighted(self.carbon_kg, HELD_PER_CARBON) + self.ash_kg * ASH_HOLDS_WATER
        self.drain()
        self.even_out()
        self.exchange_sideways()
        self.conduct(hour)

    def describe(self) -> None:
        """Properties of every cell for this hour."""
        dry = weighted(self.carbon_kg, DRY_PER_CARBON) + self.ash_kg
        volume = weighted(self.carbon_kg, BULK_PER_CARBON) + self.ash_kg / ASH_BULK_KG_M3
        pores = volume - (dry - self.ash_kg) / ORGANIC_SOLID_KG_M3 - self.ash_kg / ASH_SOLID_KG_M3
        water_m3 = 0.001 * self.water_kg
        afloat = np.maximum(water_m3 - pores, 0.0)
        volume += afloat
        pores += afloat
        wet = self.water_kg + dry
        self.dry_kg = dry
        self.moisture = self.water_kg / wet
        self.thickness_m = volume / self.area
        self.air_space = (pores - water_m3) / volume
        self.k_w_mk = self.p["conductivity_scale"] * (0.06 + (0.5 / 0.7) * water_m3 / volume)
        self.ammonia_mg_g = 1000.0 * self.ammonia_kg / wet
        self.source_w = np.zeros_like(dry)

    def respond_and_breathe(self) -> None:
        """Potential decay, and how much of it the oxygen serves."""
        temp = self.temp_c
        self.factor = np.exp(self.log_q10 * (np.clip(temp, 2.0, 40.0) * 0.1 - 2.0))
        self.factor *= np.clip((temp + 2.0) * 0.25, 0.0, 1.0)
        self.factor *= np.clip((65.0 - temp) / 15.0, 0.0, 1.0)
        self.factor /= np.exp(-17.684 * self.moisture + 7.0622) + 1.0
        self.share = share_lost(self.rate_per_hour * self.factor)
        lost = self.carbon_kg * self.share
        spent = 1.0 - self.p["residue_yield"]
        demand = spent * weighted(lost[:3], OXYGEN_PER_CARBON[:3]) + lost[3] * OXYGEN_PER_CARBON[3]
        sink = demand / (HOUR_S * OPEN_AIR) / (self.oxygen_kg_m3 + HALF_OXYGEN_KG_M3)
        space = np.maximum(self.air_space, 0.02)
        half = 0.5 * self.thickness_m / (OXYGEN_M2_S * space * space)
        path = half.copy()
        path[1:] += half[:-1]
        conductance = self.area / path
        passed = np.empty_like(sink)
        below = np.zeros_like(self.area)
        for c in range(len(sink) - 1, -1, -1):
            below = below + sink[c]
            passed[c] = conductance[c] / (conductance[c] + below)
            below = below * passed[c]
        steady = AIR_OXYGEN_KG_M3 * np.cumprod(passed, axis=0)
        self.oxygen_kg_m3 = 0.5 * (steady + self.oxygen_kg_m3)
        self.aerobic = self.oxygen_kg_m3 / (self.oxygen_kg_m3 + HALF_OXYGEN_KG_M3) / OPEN_AIR
        wet = self.dry_kg + self.water_kg
        sourest = (1000.0 * (1.0 - self.aerobic) * self.starch_kg / wet).max(axis=0)
        self.sour += (sourest - self.sour) / 24.0

    def respire(self) -> None:
        """Carbon to air and humus, with heat, water and nitrogen."""
        held = self.p["residue_yield"]
        n_per_residue = 1.0 / self.p["residue_c_to_n"]
        share = self.share * self.aerobic
        freed = (share * self.nitrogen_kg).sum(axis=0)
        edible_lost = (share[:3] * self.carbon_kg[:3]).sum(axis=0)
        need = held * n_per_residue * edible_lost - freed
        mineral = self.ammonia_kg + self.nitrate_kg
        short = need > mineral
        allowed = np.where(short, np.maximum(0.2, mineral / np.where(short, need, 1.0)), 1.0)
        share *= allowed
        edible_lost *= allowed
        lost = share * self.carbon_kg
        freed_n = share * self.nitrogen_kg
        edible = self.carbon_kg[:3].sum(axis=0)
        self.quality_kg *= 1.0 - edible_lost / edible
        self.starch_kg *= 1.0 - share[0]
        residue = held * edible_lost
        burnt = lost.copy()
        burnt[:3] *= 1.0 - held
        made = weighted(burnt, WATER_PER_CARBON)
        self.dry_kg -= weighted(lost, DRY_PER_CARBON) - residue * DRY_PER_CARBON[3]
        self.carbon_kg -= lost
        self.nitrogen_kg -= freed_n
        wanted = residue * n_per_residue
        self.ammonia_kg += freed_n.sum(axis=0)
        from_ammonia = np.minimum(wanted, self.ammonia_kg)
        from_nitrate = np.minimum(wanted - from_ammonia, self.nitrate_kg)
        self.ammonia_kg -= from_ammonia
        self.nitrate_kg -= from_nitrate
        self.carbon_kg[3] += residue
        self.nitrogen_kg[3] += from_ammonia + from_nitrate
        self.water_kg += made
        heat_j = weighted(burnt, OXYGEN_PER_CARBON) * self.p["heat_per_oxygen_j_kg"]
        self.source_w += heat_j / HOUR_S

    def turn_over_nitrogen(self) -> None:
        """Ammonia to nitrate and to the air."""
        hourly = self.factor / 24.0
        nitrified = share_lost(self.p["nitrify_rate_per_day"] * hourly * self.aerobic)
        gone = share_lost(self.p["ammonia_loss_per_day"] * hourly)
        self.nitrate_kg += self.ammonia_kg * nitrified
        self.ammonia_kg *= 1.0 - nitrified - gone

    def drain(self) -> None:
        """Water above what the material holds runs down, cell by cell, and out."""
        litres = 1000.0 * self.area * self.thickness_m
        pores = litres * self.air_space + self.water_kg
        depth_below = np.cumsum(self.thickness_m[::-1], axis=0)[::-1]
        middle = depth_below - 0.5 * self.thickness_m
        held = self.held_kg * self.p["water_held_scale"]
        limit = held + np.maximum(pores - held, 0.0) * np.exp(-middle / PERCHED_M)
        last = len(held) - 1
        for c in range(last + 1):
            excess = np.maximum(self.water_kg[c] - limit[c], 0.0)
            moving = excess * self.p["drain_share_per_hour"]
            moving = np.maximum(moving, np.minimum(excess, self.water_kg[c] - pores[c]))
            if c < last:
                self.pass_water(c, c + 1, moving)
            elif self.geometry.drains > 0.0:
                self.nitrate_kg[c] *= 1.0 - moving / self.water_kg[c]
                self.water_kg[c] -= moving
        for c in range(last, 0, -1):
            surplus = self.water_kg[c] - pores[c]
            self.pass_water(c, c - 1, np.where(surplus > 1e-9, surplus, 0.0))

    def pass_water(self, c: int, to_c: int, moving: Floats) -> None:
        """Move water with its heat and nitrate from one layer of cells to another."""
        if not moving.any():
            return
        nitrate = self.nitrate_kg[c] * (moving / self.water_kg[c])
        self.water_kg[c] -= moving
        dry_j_k = self.dry_kg[to_c] * DRY_HEAT_J_KGK
        heat = (dry_j_k + self.water_kg[to_c] * WATER_HEAT_J_KGK) * self.temp_c[to_c]
        heat += moving * WATER_HEAT_J_KGK * self.temp_c[c]
        self.water_kg[to_c] += moving
        self.temp_c[to_c] = heat / (dry_j_k + self.water_kg[to_c] * WATER_HEAT_J_KGK)
        self.nitrate_kg[c] -= nitrate
        self.nitrate_kg[to_c] += nitrate

    def even_out(self) -> None:
        """Capillary flow between neighbours, down or up."""
        share = self.p["capillary_per_day"] / 24.0
        for c in range(len(self.held_kg) - 1):
            held_a, held_b = self.held_kg[c], self.held_kg[c + 1]
            gap = self.water_kg[c] * held_b - self.water_kg[c + 1] * held_a
            moving = share * gap / (held_a + held_b)
            up = (gap <= 0.0) & (self.water_kg[c] < held_a)
            self.pass_water(c, c + 1, np.maximum(moving, 0.0))
            self.pass_water(c + 1, c, np.where(up, -moving, 0.0))

    def exchange_sideways(self) -> None:
        """Heat between neighbouring columns."""
        members, zones = self.shape
        k = self.k_w_mk.reshape(-1, members, zones)
        thickness = self.thickness_m.reshape(-1, members, zones)
        temp = self.temp_c.reshape(-1, members, zones)
        source = self.source_w.reshape(-1, members, zones)
        links = zip(self.geometry.link_zone, self.geometry.link_width_m, self.geometry.link_gap_m,
                    strict=True)  # fmt: skip
        for (a, b), width, gap in links:
            k_a, k_b = k[..., a], k[..., b]
            height = np.minimum(thickness[..., a], thickness[..., b])
            conductance = width / gap * height * 2.0 * k_a * k_b / (k_a + k_b)
            flow_w = conductance * (temp[..., a] - temp[..., b])
            source[..., a] -= flow_w
            source[..., b] += flow_w

    def conduct(self, hour: int) -> None:
        """Heat down the columns, to the air and the floor, and evaporation."""
        g, p = self.geometry, self.p
        members = self.shape[0]
        air_c, outer_c = self.air.air_c[0, hour], self.air.outer_c[0, hour]
        outer_r = np.tile(g.side_r, members) * p["wall_r_scale"] + g.side_film_r * p["film_r_scale"]
        half = 0.5 * self.thickness_m / self.k_w_mk
        inner = np.tile(g.half_width_m, members) / (3.0 * self.k_w_mk)
        side = np.tile(g.side_m, members) * self.thickness_m / (inner + outer_r)
        down = np.empty_like(half)
        down[:-1] = self.area / (half[:-1] + half[1:])
        base_r = np.tile(g.base_r, members) * p["wall_r_scale"] + g.base_film_r * p["film_r_scale"]
        down[-1] = self.area / (base_r + half[-1])

        surface = self.surface_c
        film = AIR_HEAT_J_M3K / p["evaporation_h_w_m2k"]
        wet = np.minimum(1.0, self.moisture[0] / SURFACE_DRIES_BELOW)
        conductance = self.area * np.tile(g.lid_leak, members) * wet * wet / film
        conductance = np.minimum(conductance, MOST_DRIED_M3_KG_S * self.water_kg[0])
        pressure = 611.2 * np.exp(17.62 * surface / (243.12 + surface))
        density = pressure / (461.5 * (surface + 273.15))
        slope = density * (17.62 * 243.12 / (243.12 + surface) ** 2 - 1.0 / (surface + 273.15))
        vapour = conductance * (density - self.air.vapour_kg_m3[0, hour])
        vapour_slope = conductance * slope
        latent = 2.501e6 - 2360.0 * surface
        to_surface = self.area / np.maximum(half[0], 1e-6)
        top_r = g.top_film_r * p["film_r_scale"] + np.tile(g.lid_r, members) * p["wall_r_scale"]
        to_air = self.area / top_r
        outside = to_air + latent * vapour_slope
        sink_c = (to_air * outer_c - latent * vapour + latent * vapour_slope * surface) / outside
        top = to_surface * outside / (to_surface + outside)

        holds = (self.dry_kg * DRY_HEAT_J_KGK + self.water_kg * WATER_HEAT_J_KGK) / HOUR_S
        self.solve(holds, down, side, top, sink_c, air_c, outer_c)
        self.surface_c = (to_surface * self.temp_c[0] + outside * sink_c) / (to_surface + outside)
        self.water_kg[0] -= (vapour + vapour_slope * (self.surface_c - surface)) * HOUR_S

    def solve(self, holds: Floats, down: Floats, side: Floats, top: Floats, sink_c: Floats,
              base_c: float, side_c: float) -> None:  # fmt: skip
        """One backward Euler hour: elimination down the columns, all of them at once."""
        pivot = holds + down + side
        pivot[0] += top
        pivot[1:] += down[:-1]
        rhs = holds * self.temp_c + self.source_w + side * side_c
        rhs[0] += top * sink_c
        rhs[-1] += down[-1] * base_c
        for c in range(1, len(pivot)):
            weight = down[c - 1] / pivot[c - 1]
            pivot[c] -= weight * down[c - 1]
            rhs[c] += weight * rhs[c - 1]
        rhs[-1] /= pivot[-1]
        for c in range(len(pivot) - 2, -1, -1):
            rhs[c] += down[c] * rhs[c + 1]
            rhs[c] /= pivot[c]
        self.temp_c = rhs


def _cells_first(array: Floats) -> Floats:
    """``[M, Z, C]`` as ``[C, M x Z]``."""
    return np.ascontiguousarray(array.reshape(-1, array.shape[-1]).T)


def _pools_first(array: Floats) -> Floats:
    """``[M, Z, C, POOLS]`` as ``[POOLS, C, M x Z]``."""
    flat = array.reshape(-1, *array.shape[2:])
    return np.ascontiguousarray(flat.transpose(2, 1, 0))
