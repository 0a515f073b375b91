from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedlore.errors import FaultList
from bedlore.farm.site import Site
from bedlore.weather.daily import persistence_matrices, skewed, unskewed
from bedlore.weather.normals import (
    Climate,
    Persistence,
    climate_of,
    daily_curve,
    month_means,
    solar_longitude_deg,
)

LOW = [-8.0, -7, -4, 0, 4, 8, 10, 10, 6, 2, -3, -7]
HIGH = [0.0, 2, 7, 11, 16, 20, 23, 22, 18, 12, 5, 1]


@dataclass(frozen=True)
class Normals:
    daily_low_c: list[float]
    daily_high_c: list[float]
    rh_frac: list[float]
    wind_m_s: list[float] | None = None
    sd_low_k: list[float] | None = None
    sd_high_k: list[float] | None = None


@dataclass(frozen=True)
class Place:
    normals: Normals
    latitude_deg: float = 46.0
    longitude_deg: float = 8.0
    altitude_m: float = 780.0
    time_zone: str = "Europe/Vienna"


def climate() -> Climate:
    return climate_of(Place(Normals(LOW, HIGH, [0.8] * 12)))


@given(st.lists(st.floats(-40, 40), min_size=12, max_size=12))
def test_curve_keeps_every_month_mean(monthly):
    assert month_means(daily_curve(np.array(monthly))) == pytest.approx(monthly, abs=0.05)


def test_curve_is_smooth_and_joins_over_new_year():
    curve = daily_curve(np.array(LOW))
    assert np.abs(np.diff(np.append(curve, curve[0]))).max() < 0.3
    assert daily_curve(np.full(12, 3.0)) == pytest.approx(3.0)


def test_a_farm_file_site_is_a_place():
    site = Site.model_validate({
        "latitude_deg": 46, "longitude_deg": 8, "altitude_m": 780, "time_zone": "Europe/Vienna",
        "normals": {"daily_low_c": LOW, "daily_high_c": HIGH, "rh_frac": [0.8] * 12},
    })
    made = climate_of(site)
    assert made.low_c.tolist() == LOW
    assert made.wind_m_s.tolist() == [2.0] * 12
    assert made.sd_low_k.argmax() == 0
    assert made.sd_low_k.max() == pytest.approx(0.25 * 20.5)


def test_all_faults_of_the_normals_at_once():
    with pytest.raises(FaultList) as caught:
        climate_of(Place(Normals(LOW[:11], HIGH, [0.8] * 12, sd_low_k=[1.0])))
    assert [fault.path for fault in caught.value.faults] == [
        "site.normals.daily_low_c", "site.normals.sd_low_k"]
    with pytest.raises(FaultList, match="month 1: the high -8 lies below the low 0"):
        climate_of(Place(Normals(HIGH, LOW, [0.8] * 12)))


@pytest.mark.parametrize(
    ("longitude", "zone", "expected"),
    [(8.0, "Europe/Vienna", 8.0), (0.0, "America/Los_Angeles", -120.0),
     (0.0, "Europe/London", 0.0), (179.0, "Pacific/Auckland", 179.0),
     (-179.0, "Pacific/Auckland", -179.0), (0.0, "Australia/Sydney", 150.0)],
)
def test_a_longitude_left_out_follows_the_clock(longitude, zone, expected):
    assert solar_longitude_deg(longitude, zone) == expected


@pytest.mark.parametrize("low_high", [0.3, 0.53, 0.8, 0.97])
def test_persistence_is_a_stationary_process(low_high):
    made = replace(climate(), persistence=Persistence(low_high=low_high))
    a, b, m0 = persistence_matrices(made)
    assert np.abs(np.linalg.eigvals(a)).max() < 1.0
    assert a @ m0 @ a.T + b @ b.T == pytest.approx(m0, abs=1e-9)


def test_default_persistence_is_that_of_seattle():
    # Richardson matrices of the Seattle record 2012-2015, written (high, low); worked out apart
    # from this code: A = [[.64, .05], [.21, .61]], BB' = [[.55, .15], [.15, .45]].
    a, b, _ = persistence_matrices(replace(climate(), persistence=Persistence(low_high=0.53)))
    swap = np.array([[0, 1], [1, 0]])
    assert swap @ a @ swap == pytest.approx(np.array([[0.64, 0.05], [0.21, 0.61]]), abs=0.05)
    assert swap @ b @ b.T @ swap == pytest.approx(
        np.array([[0.55, 0.15], [0.15, 0.45]]), abs=0.06)


@pytest.mark.parametrize("skew", [-0.8, -0.3, 0.0, 0.5])
def test_skewed_values_have_the_moments_and_an_inverse(skew):
    normal = np.random.default_rng(4).standard_normal(400_000)
    values = skewed(normal, skew)
    assert values.mean() == pytest.approx(0.0, abs=0.01)
    assert values.std() == pytest.approx(1.0, abs=0.01)
    assert np.mean(values**3) / values.std() ** 3 == pytest.approx(skew, abs=0.05)
    assert np.abs(unskewed(values, skew) - normal).max() < 1e-6
