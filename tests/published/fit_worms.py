"""Fit the worm parameters to the published experiments: least squares with the priors' pull.

Run by hand (`python -m tests.published.fit_worms`); prints the fitted values and errors, which
then stand in `facts/parameters_worms.py`, `facts/parameters_bed.py` and `facts/feedstocks.csv`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from scipy.optimize import least_squares

from bedlore.facts.feedstocks import Feedstock, find
from bedlore.lab import cultures
from tests.published import worm_experiments as published

# What was held likely before the fit (the literature review's hand values, JOH14's stated starting
# values, or a guess) with 5 % and 95 % points. Not the table's defaults, which come out of the fit.
PRIORS = {
    "worm_growth_rate": (0.034, 0.028, 0.042),
    "worm_upkeep_rate": (0.026, 0.018, 0.035),
    "worm_rest_share": (0.15, 0.06, 0.35),
    "worm_half_food_g": (2.5, 1.0, 6.0),
    "worm_crowd_kg_m2": (0.65, 0.5, 0.85),
    "worm_intake_rate": (0.6, 0.35, 1.1),
    "worm_young_pace": (0.35, 0.15, 0.6),
    "worm_lay_rate": (0.42, 0.3, 0.56),
    "food_medium_share": (0.3, 0.1, 0.7),
    "casts_lost_share": (0.25, 0.08, 0.6),
    "gut_burns": (0.06, 0.02, 0.15),
    "quality of man_cattle": (0.8, 0.6, 1.0),
    "quality of man_horse_aged": (0.6, 0.4, 0.9),
    "refeed_g": (25.0, 12.0, 50.0),
}
PULL = 0.35  # weight of a prior against an experiment
CENTRE = 10.0  # steps of the solver are relative, so its variables must not be near 0


def unpack(u: np.ndarray) -> tuple[dict[str, float], dict[str, float], float]:
    """Return parameters, food qualities by material, and the refeeding mass."""
    values: dict[str, float] = {}
    for x, (name, (middle, low, high)) in zip(u, PRIORS.items(), strict=True):
        values[name] = float(middle * np.exp(np.log(high / low) / 3.29 * (x - CENTRE)))
    refeed_g = values.pop("refeed_g")
    values["casts_fresh_share"] = 1.0 - min(values.pop("casts_lost_share"), 0.97)
    qualities = {
        name.removeprefix("quality of "): min(values.pop(name), 1.0)
        for name in list(values)
        if name.startswith("quality of ")
    }
    return values, qualities, refeed_g


def compare(u: np.ndarray) -> tuple[np.ndarray, dict[str, float]]:
    """Return the residuals, each series of equal weight against its aim, and the errors."""
    params, qualities, refeed_g = unpack(u)

    def with_quality(name: str) -> Feedstock:
        stock = find(name)
        return replace(stock, food_quality=qualities.get(stock.id, stock.food_quality))

    vars(cultures)["find"] = with_quality
    rows: list[float] = []
    report: dict[str, float] = {}

    def mass(name: str, series: published.Series, run: Any, aim: float) -> None:
        gap = (np.nan_to_num(run.mean_mass_g[series.day]) - series.mass_g) / series.mass_g.mean()
        rows.extend(gap / aim / np.sqrt(len(gap)))
        report[name] = series.error(run)

    for food, series in published.NEUHAUSER.items():
        mass(f"Neuhauser {food}", series, published.neuhauser(food, params), 0.15)
    mass("Gunadi", published.GUNADI, published.gunadi(params), 0.15)
    run = published.reinecke(params)
    mass("Reinecke", published.REINECKE, run, 0.15)
    laid, measured = np.diff(run.cocoons[::10]), published.REINECKE_COCOONS
    report["Reinecke cocoons"] = laid.sum() / measured.sum() - 1
    rows.append(report["Reinecke cocoons"] / 0.2)
    rows.extend((laid - measured) / measured.mean() / 0.2 / np.sqrt(len(laid)))
    run = published.venter(params, refeed_g)
    mass("Venter", published.VENTER, run, 0.25)
    for day, laid_by in published.VENTER_COCOONS.items():
        report[f"Venter cocoons {day}"] = run.cocoons[day] / 10 / laid_by - 1
        rows.append(report[f"Venter cocoons {day}"] / 0.25)
    return np.array(rows), report


def residuals(u: np.ndarray) -> np.ndarray:
    """Return the residuals of the experiments and of the priors."""
    return np.nan_to_num(np.concatenate([compare(u)[0], PULL * (u - CENTRE)]), nan=10.0)


def main() -> None:
    """Fit and print."""
    start = np.full(len(PRIORS), CENTRE)
    fit = least_squares(residuals, start, bounds=(6, 14), diff_step=5e-3, max_nfev=10)
    params, qualities, refeed_g = unpack(fit.x)
    print(fit.cost, fit.nfev)
    for name, value in (params | qualities | {"refeed_g": refeed_g}).items():
        print(f"{name} {value:.4g}")
    for name, value in compare(fit.x)[1].items():
        print(f"{name} {value:.3f}")


if __name__ == "__main__":
    main()
