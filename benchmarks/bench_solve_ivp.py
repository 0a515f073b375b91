"""How much faster is the loop than SciPy's `solve_ivp` on one member, at equal accuracy?

Heat, air and decay of the standard bed (4 x 12 cells: temperature, four pools of carbon and of
nitrogen, water, ammonia, nitrate, starch, quality of the food, oxygen, and the sourness of each
zone; 724 unknowns) for 14 days without worms and with the water at rest (no evaporation, no
drainage), so that both solve the same equations. The reference is `solve_ivp` at a tolerance of
1e-9. Then every method of `solve_ivp` is loosened until its temperature error is as large as that
of the loop's hourly steps. The right-hand side is vectorised over the cells, the implicit methods
are told which unknowns meet, and the air is linear between hours.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from scipy.integrate import solve_ivp
from scipy.linalg import solveh_banded
from scipy.sparse import lil_matrix

from bedlore.bed.air import (
    AIR_OXYGEN_KG_M3,
    air_resistance,
    oxygen_response,
    oxygen_sink,
)
from bedlore.bed.cells import POOLS, Air, Floats
from bedlore.bed.decay import SOUR_MEMORY_D
from bedlore.bed.loop import run_compiled
from bedlore.bed.matter import (
    ASH_SOLID_KG_M3,
    BULK_PER_CARBON,
    DRY_HEAT_J_KGK,
    DRY_PER_CARBON,
    ORGANIC_SOLID_KG_M3,
    OXYGEN_PER_CARBON,
    WATER_HEAT_J_KGK,
    WATER_PER_CARBON,
)
from benchmarks.filing import file_section, table
from benchmarks.standard_bed import Case, run_case, standard_case, thread_seconds

DAYS = 14
DRY = np.array(DRY_PER_CARBON)
BULK = np.array(BULK_PER_CARBON)
OXYGEN = np.array(OXYGEN_PER_CARBON)
WATER_MADE = np.array(WATER_PER_CARBON)
HOUR_S, DAY_S = 3600.0, 86400.0
# Unknowns of each cell beside the pools, which come after the first.
OF_CELLS = ("temp_c", "water_kg", "ammonia_kg", "nitrate_kg", "starch_kg", "quality_kg",
            "oxygen_kg_m3")  # fmt: skip
RATES = ("fast_rate_per_day", "medium_rate_per_day", "slow_rate_per_day", "humus_rate_per_day")
TITLE = "The loop against solve_ivp"
METHODS = ("RK23", "RK45", "LSODA", "BDF", "Radau")
TOLERANCES = (1e-1, 3e-2, 1e-2, 3e-3, 1e-3, 3e-4, 1e-4, 1e-5, 1e-6)


def dry_case() -> Case:
    """The standard bed, laid a day before, with the lid sealed and the water at rest."""
    case = standard_case(1, hours=24, mean_c=15.0, worms=False)
    _, _, state = run_case(case, run_compiled)
    params = case.params.copy()
    params["capillary_per_day"] = 0.0
    params["drain_share_per_hour"] = 0.0
    params["residue_yield"] = 0.0
    state.cells.ammonia_kg[:] = 0.1
    geometry = case.geometry._replace(lid_leak=np.zeros(4), open_leak=0.0, drains=0.0)
    weather = standard_case(1, hours=24 * DAYS + 1, mean_c=12.0).air
    state.zones.lid_on[:] = 1.0
    return Case(geometry, params, state, weather, case.acts[:0], 24 * DAYS)


class Stuff(NamedTuple):
    """What the cells ``[Z, C]`` are made of."""

    dry: Floats  # kg
    moisture: Floats
    thickness_m: Floats
    k_w_mk: Floats
    space: Floats  # share of air


@dataclass(frozen=True)
class Bed:
    """The equations of the case as derivatives, for a solver of general systems."""

    case: Case

    def start(self) -> Floats:
        """The unknowns at hour 0: those of cells by :data:`OF_CELLS`, then sourness by zone."""
        cells = self.case.state.cells
        pools = (np.moveaxis(cells.carbon_kg[0], -1, 0), np.moveaxis(cells.nitrogen_kg[0], -1, 0))
        single = [getattr(cells, name)[0][None] for name in OF_CELLS]
        found = np.concatenate((single[0], *pools, *single[1:]))
        return np.concatenate((found.ravel(), self.case.state.zones.sour[0]))

    def derivative(self, second: float, y: Floats) -> Floats:
        """Time derivatives of the unknowns [per second]."""
        zones, cells = self.case.state.cells.temp_c.shape[1:]
        parts = y[:-zones].reshape(-1, zones, cells)
        temp, carbon, nitrogen = parts[0], parts[1 : 1 + POOLS], parts[1 + POOLS : 1 + 2 * POOLS]
        water, ammonia, _, starch, quality, oxygen = parts[1 + 2 * POOLS :]
        stuff = self._stuff(carbon, water)
        factor = self._factor(temp, stuff)
        aerobic = oxygen_response(oxygen)
        p = self.case.params[0]
        rate = np.array([p[name] for name in RATES])[:, None, None] * factor / DAY_S
        asked_kg_s = weighed(OXYGEN, rate * carbon)
        rate = rate * aerobic
        lost, freed = rate * carbon, rate * nitrogen
        nitrified = p["nitrify_rate_per_day"] / DAY_S * factor * aerobic * ammonia
        gone = p["ammonia_loss_per_day"] / DAY_S * factor * ammonia
        heat_w = weighed(OXYGEN, lost) * p["heat_per_oxygen_j_kg"]
        warms_w = heat_w + self._conducted_w(second, temp, stuff)
        eaten = lost[:3].sum(axis=0) / carbon[:3].sum(axis=0)
        sourest = (1000.0 * (1.0 - aerobic) * starch / (stuff.dry + water)).max(axis=1)
        return np.concatenate((
            (warms_w / (stuff.dry * DRY_HEAT_J_KGK + water * WATER_HEAT_J_KGK)).ravel(),
            -lost.ravel(), -freed.ravel(), weighed(WATER_MADE, lost).ravel(),
            (freed.sum(axis=0) - nitrified - gone).ravel(), nitrified.ravel(),
            (-rate[0] * starch).ravel(), (-eaten * quality).ravel(),
            self._breathed(oxygen, asked_kg_s, stuff).ravel(),
            (sourest - y[-zones:]) / (SOUR_MEMORY_D * DAY_S),
        ))  # fmt: skip

    def _stuff(self, carbon: Floats, water: Floats) -> Stuff:
        """What a cell is made of, as far as heat and air ask."""
        g, p, ash = self.case.geometry, self.case.params[0], self.case.state.cells.ash_kg[0]
        dry = weighed(DRY, carbon) + ash
        volume = weighed(BULK, carbon) + ash / 600.0
        solid = (dry - ash) / ORGANIC_SOLID_KG_M3 + ash / ASH_SOLID_KG_M3
        k = p["conductivity_scale"] * (0.06 + 0.5 / 0.7 * 0.001 * water / volume)
        space = (volume - solid - 0.001 * water) / volume
        return Stuff(dry, water / (water + dry), volume / g.area_m2[:, None], k, space)

    def _factor(self, temp: Floats, stuff: Stuff) -> Floats:
        """How warmth and moisture speed decay."""
        log_q10 = np.log(self.case.params[0]["decay_q10"])
        rate = np.exp(log_q10 * (np.clip(temp, 2.0, 40.0) - 20.0) * 0.1)
        rate *= np.clip((temp + 2.0) / 4.0, 0.0, 1.0) * np.clip((65.0 - temp) / 15.0, 0.0, 1.0)
        return np.asarray(rate / (1.0 + np.exp(-17.684 * stuff.moisture + 7.0622)))

    def _breathed(self, oxygen: Floats, asked_kg_s: Floats, stuff: Stuff) -> Floats:
        """Oxygen goes toward its steady profile, half of the way in an hour."""
        area = self.case.geometry.area_m2[:, None]
        sink = oxygen_sink(HOUR_S * asked_kg_s, oxygen)
        half = air_resistance(area, stuff.thickness_m, np.maximum(stuff.space, 0.02))
        half[:, 1:] += half[:, :-1].copy()
        passes = 1.0 / half  # from the cell above, or from the air
        bands = np.zeros((2, *oxygen.shape))
        bands[0, :, 1:] = -passes[:, 1:]
        bands[1] = passes + sink
        bands[1, :, :-1] += passes[:, 1:]
        given = np.zeros_like(oxygen)
        given[:, 0] = passes[:, 0] * AIR_OXYGEN_KG_M3
        steady = solveh_banded(bands.reshape(2, -1), given.ravel(), check_finite=False)
        return np.asarray((steady.reshape(oxygen.shape) - oxygen) * np.log(2.0) / HOUR_S)

    def _conducted_w(self, second: float, temp: Floats, stuff: Stuff) -> Floats:
        """Heat that reaches each cell from its neighbours, the walls, the floor and the air [W]."""
        case, k, thickness = self.case, stuff.k_w_mk, stuff.thickness_m
        g, p = case.geometry, case.params[0]
        hour = second / HOUR_S - 0.5  # the loop's air of an hour is that of its middle
        air_c = np.interp(hour, np.arange(case.air.air_c.shape[1]), case.air.air_c[0])
        half = 0.5 * thickness / k
        heat_w = np.zeros_like(temp)
        flow = g.area_m2[:, None] * np.diff(temp, axis=1) / (half[:, :-1] + half[:, 1:])
        heat_w[:, :-1] += flow
        heat_w[:, 1:] -= flow
        wall = g.side_r * p["wall_r_scale"] + g.side_film_r * p["film_r_scale"]
        inner = g.half_width_m[:, None] / (3.0 * k)
        heat_w += g.side_m[:, None] * thickness / (inner + wall[:, None]) * (air_c - temp)
        top_r = half[:, 0] + g.top_film_r * p["film_r_scale"]
        heat_w[:, 0] += g.area_m2 / top_r * (air_c - temp[:, 0])
        base_r = half[:, -1] + g.base_r * p["wall_r_scale"] + g.base_film_r * p["film_r_scale"]
        heat_w[:, -1] += g.area_m2 / base_r * (air_c - temp[:, -1])
        mean_k = 2.0 * k[:-1] * k[1:] / (k[:-1] + k[1:])
        contact = mean_k * 0.5 * (thickness[:-1] + thickness[1:])
        contact *= (g.link_width_m / g.link_gap_m)[:, None]
        sideways = contact * np.diff(temp, axis=0)
        heat_w[:-1] += sideways
        heat_w[1:] -= sideways
        return heat_w

    def pattern(self) -> lil_matrix:
        """Which unknowns each derivative feels, for the implicit methods: all of its own cell, heat
        also its neighbours', oxygen and sourness all of their zone's."""
        zones, cells = self.case.state.cells.temp_c.shape[1:]
        n, kinds = zones * cells, 5 + 2 * POOLS + 2
        pattern = lil_matrix((kinds * n + zones, kinds * n + zones))
        of_cell = [np.arange(i, kinds * n, n) for i in range(n)]
        of_zone = [np.concatenate(of_cell[z * cells : (z + 1) * cells]) for z in range(zones)]
        for i in range(n):
            z, c = divmod(i, cells)
            near = [i]
            near += [i - 1] * (c > 0) + [i + 1] * (c < cells - 1)
            near += [i - cells] * (z > 0) + [i + cells] * (z < zones - 1)
            pattern[np.ix_(of_cell[i], of_cell[i])] = 1
            pattern[i, np.concatenate([of_cell[j] for j in near])] = 1
            pattern[(kinds - 1) * n + i, of_zone[z]] = 1
        for z in range(zones):
            pattern[kinds * n + z, [*of_zone[z], kinds * n + z]] = 1
        return pattern


def weighed(weights: Floats, pools: Floats) -> Floats:
    """Sum over the leading axis of ``pools`` times ``weights``."""
    return np.asarray((weights @ pools.reshape(POOLS, -1)).reshape(pools.shape[1:]))


def solve(bed: Bed, method: str, tolerance: float) -> tuple[Floats, float]:
    """Hourly temperatures ``[hours, Z x C]`` and processor time [s]."""
    hours = bed.case.hours
    extra = {"jac_sparsity": bed.pattern()} if method in ("BDF", "Radau") else {}
    start = time.thread_time()
    answer = solve_ivp(
        bed.derivative, (0.0, 3600.0 * hours), bed.start(), method=method, rtol=tolerance,
        atol=tolerance, t_eval=3600.0 * np.arange(1, hours + 1), max_step=3600.0, **extra,
    )  # fmt: skip
    seconds = time.thread_time() - start
    return answer.y[: bed.case.state.cells.temp_c.size].T, seconds


def hourly_temperatures(case: Case) -> Floats:
    """What the loop gives after each hour ``[hours, Z x C]``."""
    state = case.state
    rows = []
    for hour in range(case.hours):
        air = Air(*(series[:, hour : hour + 1] for series in case.air))
        _, _, state = run_case(replace(case, state=state, air=air, hours=1), run_compiled)
        rows.append(state.cells.temp_c[0].ravel())
    return np.array(rows)


def mean_error(temps: Floats, exact: Floats) -> float:
    """Root mean square over cells and hours [K]."""
    return float(np.sqrt(np.mean((temps - exact) ** 2)))


def main() -> None:
    """Measure, print and file."""
    case = dry_case()
    bed = Bed(case)
    exact, _ = solve(bed, "LSODA", 1e-9)
    loop_error = mean_error(hourly_temperatures(case), exact)
    loop_s = thread_seconds(lambda: run_case(case, run_compiled), 20)
    rows = [["the loop, hourly steps", "", f"{loop_error:.3f}", f"{1000 * loop_s:.2f}", "1"]]
    for method in METHODS:
        for tolerance in TOLERANCES:
            temps, seconds = solve(bed, method, tolerance)
            error = mean_error(temps, exact)
            if error <= loop_error:
                rows.append([method, f"{tolerance:.0e}", f"{error:.3f}", f"{1000 * seconds:.0f}",
                             f"{seconds / loop_s:,.0f}"])  # fmt: skip
                break
    body = table(("solver", "tolerance", "error K (rms)", "ms", "times the loop"), rows)
    body = f"One member, 48 cells, {DAYS} days; heat, air and decay, 724 unknowns.\n\n{body}"
    print(body)
    file_section(TITLE, body)


if __name__ == "__main__":
    main()
