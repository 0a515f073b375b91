"""The coldest a fed bed becomes in a winter, under recorded and under generated weather.

Thirty generated winters (October to March) of each open station against every whole winter its
file holds: Seattle three, Greensboro and Sand Point one each, spliced from the TMY3 year's own
months. The limit, p > 0.05 in a two-sample Kolmogorov-Smirnov test, was set beforehand; against
so few recorded winters it can only find a gross error, which docs/weather.md says.
"""

from __future__ import annotations

import datetime as dt
from functools import cache

import numpy as np
import pytest
from scipy.stats import ks_2samp

from bedlore.bed import plan
from bedlore.bed.build import bed_geometry, cell_count
from bedlore.bed.cells import Air, Floats
from bedlore.bed.engine import empty_state, simulate
from bedlore.facts.feedstocks import find
from bedlore.facts.parameters import defaults
from bedlore.farm.bed import Bed
from bedlore.weather.air import vapour_density_kg_m3
from bedlore.weather.climatology import climate_from_series
from bedlore.weather.generator import generate
from tests.property.real_weather import BED
from tests.published.test_weather_generator import PLACES, observed_series

WINTER_H = 182 * 24
WINTERS = 30


def lowest_bed_c(temp_c: Floats, rh_frac: Floats) -> Floats:
    """The coldest hour ``[W]`` where worms live, of one fed bed outdoors in each of W winters."""
    bed = Bed.model_validate(BED)
    scraps, card, leaves = (find(n) for n in ("kitchen scraps", "cardboard", "leaf mould"))
    rows = [plan.add_material(0, z, [(leaves, 40.0, 0.7)], feed=False) for z in (0, 1)]
    rows += [plan.stock(1, z, 0.7) for z in (0, 1)] + [plan.set_cover(1, z, 0.05) for z in (0, 1)]
    for week in range(WINTER_H // 168):
        meal = [(scraps, 2.0, None), (card, 0.3, None)]
        rows.append(plan.add_material(week * 168 + 5, week % 2, meal, temp_c=8.0))
    winters = len(temp_c)
    ground = np.repeat(temp_c.mean(axis=1, keepdims=True), temp_c.shape[1], axis=1)
    air = Air(temp_c, temp_c, vapour_density_kg_m3(temp_c, rh_frac), ground)
    run = simulate(
        bed_geometry(bed), np.repeat(defaults(), winters), empty_state(winters, 2, cell_count(bed)),
        air, plan.in_order(rows), every=24,
    )  # fmt: skip
    settled = run.series("temp_coldest_c")[:, 14:]  # the first fortnight still shows the filling
    return np.asarray(settled.min(axis=(1, 2)))


@cache
def lows(place: str) -> tuple[Floats, Floats]:
    """Recorded and generated winters' lows [degC]."""
    series, spot = observed_series(place)
    climate = climate_from_series(series, spot)
    starts = [dt.datetime(year, 10, 1, tzinfo=dt.UTC) for year in range(2012, 2015)]
    if place == "Seattle":
        found = [series.slice(at, at + dt.timedelta(hours=WINTER_H)) for at in starts]
        temps, humid = [s.temp_c for s in found], [s.rh_frac for s in found]
    else:
        october = 273 * 24
        temps = [np.roll(series.temp_c, -october)[:WINTER_H]]
        humid = [np.roll(series.rh_frac, -october)[:WINTER_H]]
    made = generate(climate, starts[0], WINTER_H, WINTERS, 11)
    return (
        lowest_bed_c(np.array(temps), np.array(humid)),
        lowest_bed_c(made.temp_c, made.rh_frac),
    )


@pytest.mark.parametrize("place", PLACES)
def test_the_bed_s_winter_low_has_the_recorded_distribution(place: str) -> None:
    recorded, generated = lows(place)
    assert ks_2samp(recorded, generated).pvalue > 0.05


@pytest.mark.parametrize("place", PLACES)
def test_recorded_lows_lie_among_the_generated(place: str) -> None:
    recorded, generated = lows(place)
    assert generated.min() <= recorded.min()
    assert recorded.max() <= generated.max()
    assert generated.std() > 0.1, "winters differ"


if __name__ == "__main__":  # the figures of docs/weather.md
    for name in PLACES:
        seen, made = lows(name)
        band = np.round(np.quantile(made, (0.05, 0.5, 0.95)), 2)
        print(name, np.round(seen, 2), band, f"{ks_2samp(seen, made).pvalue:.2f}")
