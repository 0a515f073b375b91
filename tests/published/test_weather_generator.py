"""Generated weather against the open years it was given the normals of.

Greensboro and Sand Point are TMY3 years (hourly, spliced from several years), Seattle four years
of daily lows and highs made hourly. The limits are those set for the generator beforehand; where
it misses one, the test holds the figure that docs/weather.md states.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from datetime import timedelta
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import ks_2samp

from bedlore.weather.climatology import climate_from_series
from bedlore.weather.generator import generate
from bedlore.weather.normals import Climate, Persistence, default_sd_k
from bedlore.weather.skill import SPELL_QUANTILES, YearFigures, year_figures
from bedlore.weather.sun import solar_clock
from bedlore.weather.tables import read_table
from bedlore.weather.tmy3 import read_tmy3
from tests.weather_files import SEATTLE, greensboro_tmy3, sand_point_tmy3, seattle_daily

PLACES = ("Greensboro", "Sand Point", "Seattle")
YEAR_H = 8760


@dataclass(frozen=True)
class Comparison:
    """Observed years, generated years, and the climate in between."""

    observed: YearFigures
    generated: YearFigures
    climate: Climate


def observed_series(place: str):
    if place == "Seattle":
        return read_table(seattle_daily(), SEATTLE, "degC"), SEATTLE
    station = read_tmy3({"Greensboro": greensboro_tmy3, "Sand Point": sand_point_tmy3}[place]())
    return station.series, station


def stacked(parts: list[YearFigures]) -> YearFigures:
    return YearFigures(*(
        np.concatenate([getattr(part, field.name) for part in parts])
        for field in fields(YearFigures)
    ))


@cache
def comparison(place: str, members: int = 400, learnt: bool = True) -> Comparison:
    series, spot = observed_series(place)
    climate = climate_from_series(series, spot)
    if not learnt:
        spread = default_sd_k((climate.low_c + climate.high_c) / 2)
        climate = replace(climate, persistence=Persistence(), skew=0.0, slimness=np.ones(12),
                          sd_low_k=spread, sd_high_k=spread)
    observed = []
    for first in range(0, len(series) - YEAR_H + 1, YEAR_H):
        start = series.start + timedelta(hours=first)
        clock = solar_clock(start, YEAR_H, climate.longitude_deg)
        observed.append(year_figures(series.temp_c[None, first:first + YEAR_H], clock))
    clock = solar_clock(series.start, YEAR_H, climate.longitude_deg)
    generated = [
        year_figures(generate(climate, series.start, YEAR_H, 100, seed).temp_c, clock)
        for seed in range(members // 100)
    ]
    return Comparison(stacked(observed), stacked(generated), climate)


def rms(values: np.ndarray) -> float:
    return float(np.sqrt(np.mean(values**2)))


@pytest.mark.parametrize("place", PLACES)
def test_month_means(place):
    made = comparison(place)
    miss = made.generated.month_mean_c.mean(axis=0) - made.observed.month_mean_c.mean(axis=0)
    assert np.abs(miss).max() <= 0.3


@pytest.mark.parametrize("place", PLACES)
def test_daily_spread(place):
    made = comparison(place)
    assert rms(made.generated.daily_sd_k) / rms(made.observed.daily_sd_k) == pytest.approx(
        1.0, abs=0.15)
    winter = np.argsort(made.observed.month_mean_c.mean(axis=0))[:3]
    assert rms(made.generated.daily_sd_k[:, winter]) / rms(
        made.observed.daily_sd_k[:, winter]) == pytest.approx(1.0, abs=0.15)


# What docs/weather.md states of the three warmest months; Sand Point's misses the limit of 1.15.
WARM_SPREAD = {"Greensboro": 0.98, "Sand Point": 1.22, "Seattle": 1.08}
STATED = Path(__file__).parents[2] / "docs" / "weather.md"


@pytest.mark.parametrize("place", PLACES)
def test_summer_spread_is_as_stated_where_it_misses_too(place):
    made = comparison(place)
    summer = np.argsort(made.observed.month_mean_c.mean(axis=0))[-3:]
    ratio = rms(made.generated.daily_sd_k[:, summer]) / rms(made.observed.daily_sd_k[:, summer])
    assert ratio == pytest.approx(WARM_SPREAD[place], abs=0.015)
    assert (abs(ratio - 1.0) > 0.15) is (place == "Sand Point")


def test_the_page_states_the_summer_spread_and_the_miss():
    row = next(line for line in STATED.read_text("utf-8").splitlines()
               if "three warmest months |" in line)  # fmt: skip
    told = [cell.strip().strip("*") for cell in row.split("|")[3:6]]
    assert [float(cell) for cell in told] == [WARM_SPREAD[place] for place in PLACES]
    assert "**1.22**" in row


@pytest.mark.parametrize("place", PLACES)
def test_lag_one(place):
    made = comparison(place)
    assert made.generated.lag_one.mean() == pytest.approx(made.observed.lag_one.mean(), abs=0.07)


@pytest.mark.parametrize("place", PLACES)
def test_hours_below_freezing(place):
    made = comparison(place)
    observed = made.observed.freezing_h.mean()
    assert made.generated.freezing_h.mean() == pytest.approx(observed, rel=0.15)


@pytest.mark.parametrize("place", PLACES)
def test_cold_spells_lie_inside_the_ensemble(place):
    made = comparison(place)
    cold = np.array(SPELL_QUANTILES) <= 0.05
    low, high = np.quantile(made.generated.cold_spell_c[:, cold], (0.05, 0.95), axis=0)
    observed = made.observed.cold_spell_c[:, cold]
    assert np.mean((observed >= low) & (observed <= high)) >= 0.9


@pytest.mark.parametrize("place", PLACES)
def test_winter_low_of_a_slow_body_has_the_observed_distribution(place):
    """A body with a time constant of 48 h stands in for the bed; so few winters prove little."""
    made = comparison(place)
    assert ks_2samp(made.observed.bed_low_c, made.generated.bed_low_c).pvalue > 0.05


@pytest.mark.parametrize("place", PLACES)
def test_normals_alone_still_give_the_means(place):
    made = comparison(place, members=200, learnt=False)
    miss = made.generated.month_mean_c.mean(axis=0) - made.observed.month_mean_c.mean(axis=0)
    assert np.abs(miss).max() <= 0.8
    assert rms(made.generated.daily_sd_k) / rms(made.observed.daily_sd_k) == pytest.approx(
        1.0, abs=0.30)


@pytest.mark.parametrize("place", PLACES[:2])  # the Seattle table has no sunshine
def test_sunshine_from_the_range(place):
    series, spot = observed_series(place)
    climate = climate_from_series(series, spot)
    made = generate(climate, series.start, YEAR_H, 20, 3)
    assert made.ghi_w_m2.mean() == pytest.approx(series.ghi_w_m2.mean(), rel=0.20)
    assert made.rh_frac.mean() == pytest.approx(series.rh_frac.mean(), abs=0.03)
