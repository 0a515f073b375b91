"""Building air and ground against exact waves (Carslaw & Jaeger 1959; Kusuda & Achenbach 1965)."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from bedlore.weather.building import (
    BuildingMembers,
    building_air,
    first_order,
    ground_temp_c,
)
from bedlore.weather.normals import Climate
from bedlore.weather.series import WeatherSeries
from bedlore.weather.sun import solar_clock

DAY_RAD_PER_H = 2 * np.pi / 24


def amplitude_and_lag_h(values: np.ndarray, reference: np.ndarray) -> tuple[float, float]:
    """Daily harmonic of ``values`` against that of ``reference``, both whole days long."""
    wave = np.exp(-1j * DAY_RAD_PER_H * np.arange(len(values)))
    ratio = (values @ wave) / (reference @ wave)
    return abs(ratio), -np.angle(ratio) / DAY_RAD_PER_H


# Amplitude 1/sqrt(1+(w tau)^2), lag atan(w tau)/w.
@pytest.mark.parametrize(
    ("tau_h", "amplitude", "lag_h"),
    [(6, 0.537, 3.84), (12, 0.303, 4.82), (24, 0.157, 5.40), (48, 0.079, 5.70)],
)
def test_daily_wave_is_damped_and_delayed(tau_h, amplitude, lag_h):
    hours = np.arange(24 * 40)
    drive = np.cos(DAY_RAD_PER_H * hours)[None]
    inside = first_order(drive, np.array([float(tau_h)]), 0.0)[0]
    found = amplitude_and_lag_h(inside[-240:], drive[0, -240:])
    assert found[0] == pytest.approx(amplitude, rel=0.01)
    assert found[1] == pytest.approx(lag_h, rel=0.01)


def test_step_is_exact_for_every_member():
    tau = np.array([0.5, 6.0, 48.0])
    inside = first_order(np.full((3, 25), 10.0), tau, 0.0)
    assert inside == pytest.approx(10 * (1 - np.exp(-np.arange(25) / tau[:, None])), abs=1e-12)


def test_ramp_is_exact():
    # dy/dt = (t - y)/tau has y = t - tau + tau exp(-t/tau).
    hours, tau = np.arange(50.0), 7.0
    inside = first_order(hours[None], np.array([tau]), 0.0)[0]
    assert inside == pytest.approx(hours - tau + tau * np.exp(-hours / tau), abs=1e-10)


def steady_outdoors(temp_c: float, rh_frac: float, hours: int = 400) -> WeatherSeries:
    ones = np.ones(hours)
    return WeatherSeries(
        datetime(2026, 1, 1, tzinfo=UTC), temp_c * ones, rh_frac * ones, 3 * ones, 200 * ones, "t"
    )


def test_offset_and_sun_add_up_and_vapour_stays():
    building = BuildingMembers(
        np.array([6.0]), np.array([2.0]), np.array([0.01]), np.array([1.0])
    )
    inside = building_air(steady_outdoors(0.0, 0.9).as_ensemble(), building)
    assert inside.temp_c[0, -1] == pytest.approx(0.0 + 2.0 + 2.0)
    # Vapour density is kept: 0.9 * es(0)/es(4) * (277.15/273.15); es by Magnus.
    expected = 0.9 * np.exp(-17.62 * 4 / (243.12 + 4)) * 277.15 / 273.15
    assert inside.rh_frac[0, -1] == pytest.approx(expected, rel=1e-9)
    assert inside.ghi_w_m2.max() == 0.0


def test_open_air_is_left_alone():
    outdoor = steady_outdoors(0.0, 0.9).as_ensemble(2)
    zero = np.zeros(2)
    assert building_air(outdoor, BuildingMembers(zero, zero, zero, zero)) is outdoor


# Annual wave in soil of 5e-7 m2/s: share of the amplitude left and days of lag.
@pytest.mark.parametrize(
    ("depth_m", "share", "lag_d"),
    [(0.5, 0.79997, 13.0), (1.0, 0.63995, 25.9), (2.0, 0.40954, 51.9)],
)
def test_ground_wave(depth_m, share, lag_d):
    month = (np.arange(12) + 0.5) / 12
    mean = 10 - 9 * np.cos(2 * np.pi * month)
    flat = np.ones(12)
    climate = Climate(46.0, 0.0, 0.0, mean - 4, mean + 4, 0.7 * flat, 2 * flat, 3 * flat, 3 * flat)
    clock = solar_clock(datetime(2025, 1, 1, tzinfo=UTC), 8760, 0.0)
    wave = np.exp(-2j * np.pi * np.arange(8760) / 8760)
    surface = ground_temp_c(climate, clock, 0.0) @ wave
    deep = ground_temp_c(climate, clock, depth_m) @ wave
    assert abs(deep / surface) == pytest.approx(share, rel=1e-4)
    assert -np.angle(deep / surface) * 365 / (2 * np.pi) == pytest.approx(lag_d, abs=0.1)
