"""How much faster is the loop than SciPy's `solve_ivp` on one member, at equal accuracy?

Heat and the four carbon pools of the standard bed (4 x 12 cells, 240 unknowns) for 14 days without
evaporation, drainage and shortage of nitrogen or oxygen, so that both solve the same equations.
The reference is `solve_ivp` at a tolerance of 1e-9. Then every method of `solve_ivp` is loosened
until its temperature error is as large as that of the loop's hourly steps. The right-hand side is
vectorised over the cells, the implicit methods are told which unknowns meet, and the air is linear
between hours.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import lil_matrix

from bedlore.bed.cells import POOLS, Air, Floats
from bedlore.bed.loop import run_compiled
from bedlore.bed.matter import (
    BULK_PER_CARBON,
    DRY_HEAT_J_KGK,
    DRY_PER_CARBON,
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


@dataclass(frozen=True)
class Bed:
    """The equations of the case as derivatives, for a solver of general systems."""

    case: Case

    def start(self) -> Floats:
        """The unknowns at hour 0: temperatures, then carbon."""
        cells = self.case.state.cells
        return np.concatenate((cells.temp_c.ravel(), cells.carbon_kg.ravel()))

    def derivative(self, second: float, y: Floats) -> Floats:
        """Time derivatives of the unknowns [per second]."""
        case = self.case
        g, p, cells = case.geometry, case.params[0], case.state.cells
        shape = cells.temp_c.shape[1:]
        temp = y[: shape[0] * shape[1]].reshape(shape)
        carbon = y[temp.size :].reshape(*shape, POOLS)
        hour = second / 3600.0 - 0.5  # the loop's air of an hour is that of its middle
        air_c = np.interp(hour, np.arange(case.air.air_c.shape[1]), case.air.air_c[0])

        burnt = cells.carbon_kg[0] - carbon
        ash = cells.ash_kg[0]
        water = cells.water_kg[0] + burnt @ WATER_MADE
        dry = carbon @ DRY + ash
        volume = carbon @ BULK + ash / 600.0
        k = p["conductivity_scale"] * (0.06 + 0.5 / 0.7 * 0.001 * water / volume)
        thickness = volume / g.area_m2[:, None]

        rate = np.exp(np.log(p["decay_q10"]) * (np.clip(temp, 2.0, 40.0) - 20.0) * 0.1)
        rate *= np.clip((temp + 2.0) / 4.0, 0.0, 1.0) * np.clip((65.0 - temp) / 15.0, 0.0, 1.0)
        rate /= 1.0 + np.exp(-17.684 * water / (water + dry) + 7.0622)
        per_day = np.array([p[name] for name in RATES])
        lost = carbon * rate[..., None] * per_day / 86400.0
        heat_w = lost @ OXYGEN * p["heat_per_oxygen_j_kg"]

        half = 0.5 * thickness / k
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
        holds = dry * DRY_HEAT_J_KGK + water * WATER_HEAT_J_KGK
        return np.concatenate(((heat_w / holds).ravel(), -lost.ravel()))

    def pattern(self) -> lil_matrix:
        """Which unknowns each derivative feels, for the implicit methods."""
        zones, cells = self.case.state.cells.temp_c.shape[1:]
        n = zones * cells
        pattern = lil_matrix((n * (1 + POOLS), n * (1 + POOLS)))
        for i in range(n):
            z, c = divmod(i, cells)
            near = [i]
            near += [i - 1] * (c > 0) + [i + 1] * (c < cells - 1)
            near += [i - cells] * (z > 0) + [i + cells] * (z < zones - 1)
            for j in near:
                pattern[i, j] = 1
                pattern[i, n + POOLS * j : n + POOLS * (j + 1)] = 1
            for row in range(n + POOLS * i, n + POOLS * (i + 1)):
                pattern[row, i] = 1
                pattern[row, n + POOLS * i : n + POOLS * (i + 1)] = 1
        return pattern


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
    body = f"One member, 48 cells, {DAYS} days; heat and four carbon pools.\n\n{body}"
    print(body)
    file_section(TITLE, body)


if __name__ == "__main__":
    main()
