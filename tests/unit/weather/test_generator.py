from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from bedlore.errors import FaultList, KeeperError
from bedlore.weather.climatology import climate_from_series
from bedlore.weather.diurnal import daily_low_high
from bedlore.weather.generator import generate
from bedlore.weather.normals import Climate
from bedlore.weather.sun import solar_clock
from bedlore.weather.typed import (
    Known,
    Reading,
    TypedDay,
    forecast_error_sd_k,
    parse_typed_days,
    typed_error_sd_k,
)

START = datetime(2026, 1, 10, 5, tzinfo=UTC)
MONTH = np.arange(12)
MEAN = 7.0 - 10.0 * np.cos(2 * np.pi * (MONTH - 0.2) / 12)
FLAT = np.ones(12)
CLIMATE = Climate(
    46.0, 8.0, 780.0, MEAN - 4, MEAN + 4, 0.78 * FLAT, 2 * FLAT, 4.5 * FLAT, 4.5 * FLAT
)


def day_values(ensemble, day: date) -> tuple[np.ndarray, np.ndarray]:
    clock = solar_clock(ensemble.start, len(ensemble), CLIMATE.longitude_deg)
    index = int(np.flatnonzero(clock.days == np.datetime64(day))[0])
    pairs = [daily_low_high(row, clock) for row in ensemble.temp_c]
    return np.array([low[index] for low, _ in pairs]), np.array([high[index] for _, high in pairs])


def test_same_seed_same_weather_and_longer_only_adds():
    short = generate(CLIMATE, START, 24 * 14, 30, seed=7)
    long = generate(CLIMATE, START, 24 * 90, 30, seed=7)
    for name in ("temp_c", "wind_m_s"):
        assert getattr(short, name).tolist() == getattr(long, name)[:, : 24 * 14].tolist()
    assert not np.array_equal(short.temp_c, generate(CLIMATE, START, 24 * 14, 30, seed=8).temp_c)


def test_values_stay_in_their_ranges():
    made = generate(CLIMATE, START, 24 * 365, 10, seed=1)
    assert made.temp_c.shape == (10, 8760)
    assert made.rh_frac.min() > 0
    assert made.rh_frac.max() <= 1
    assert made.wind_m_s.min() > 0
    assert made.ghi_w_m2.min() == 0
    assert 700 < made.ghi_w_m2.max() < 1200
    assert made.rh_frac.mean() == pytest.approx(0.78, abs=0.03)
    assert made.wind_m_s.mean() == pytest.approx(2.0, rel=0.1)


def test_lows_and_highs_have_the_normals_and_spread_asked_for():
    made = generate(CLIMATE, datetime(2026, 1, 1, tzinfo=UTC), 24 * 31, 600, seed=2)
    low, high = day_values(made, date(2026, 1, 15))
    # The calendar low includes evenings that already fall towards a colder morning.
    assert low.mean() == pytest.approx(CLIMATE.low_curve_c[14], abs=0.9)
    assert high.mean() == pytest.approx(CLIMATE.high_curve_c[14], abs=0.5)
    assert low.std() == pytest.approx(4.5, rel=0.1)
    assert high.std() == pytest.approx(4.5, rel=0.1)


def test_members_start_at_the_last_reading_and_let_go_of_it():
    known = Known(reading=Reading(START - timedelta(hours=2), -18.0, error_k=0.3))
    made = generate(CLIMATE, START, 24 * 20, 500, seed=3, condition_on=known)
    free = generate(CLIMATE, START, 24 * 20, 500, seed=3)
    assert made.temp_c[:, 0].mean() == pytest.approx(-18.0, abs=1.0)
    assert made.temp_c[:, 0].std() < 1.5
    gap = made.temp_c.mean(axis=0) - free.temp_c.mean(axis=0)
    assert gap[24:48].mean() < -3.0
    assert abs(gap[-48:].mean()) < 0.8
    assert made.temp_c[:, -48:].std() == pytest.approx(free.temp_c[:, -48:].std(), rel=0.1)


def test_reading_at_the_start_is_met_within_its_error():
    known = Known(reading=Reading(START, 6.0, error_k=0.5))
    made = generate(CLIMATE, START, 48, 800, seed=3, condition_on=known)
    assert made.temp_c[:, 0].mean() == pytest.approx(6.0, abs=0.06)
    assert made.temp_c[:, 0].std() == pytest.approx(0.5, rel=0.1)


def test_old_reading_is_left_aside():
    known = Known(reading=Reading(START - timedelta(days=30), -40.0))
    made = generate(CLIMATE, START, 48, 20, seed=3, condition_on=known)
    assert made.temp_c.tolist() == generate(CLIMATE, START, 48, 20, seed=3).temp_c.tolist()


def test_typed_days_are_followed_with_a_growing_error():
    days = tuple(
        TypedDay(date(2026, 1, 11) + timedelta(days=n), -14.0, -6.0) for n in range(7)
    )
    made = generate(CLIMATE, START, 24 * 30, 800, seed=5, condition_on=Known(typed=days))
    first_low, first_high = day_values(made, date(2026, 1, 11))
    assert first_high.mean() == pytest.approx(-6.0, abs=0.4)
    assert first_low.mean() == pytest.approx(-14.0, abs=0.8)
    assert first_high.std() == pytest.approx(1.5, rel=0.15)
    _, last_high = day_values(made, date(2026, 1, 17))
    assert last_high.mean() == pytest.approx(-6.0, abs=0.6)
    assert last_high.std() == pytest.approx(4.0, rel=0.15)
    _, later = day_values(made, date(2026, 2, 6))
    assert later.mean() == pytest.approx(CLIMATE.high_curve_c[36], abs=0.8)


def test_only_a_low_typed_moves_the_high_too():
    typed = (TypedDay(date(2026, 1, 11), -20.0, None),)
    made = generate(CLIMATE, START, 72, 400, seed=5, condition_on=Known(typed=typed))
    free = generate(CLIMATE, START, 72, 400, seed=5)
    high, free_high = day_values(made, date(2026, 1, 11))[1], day_values(free, date(2026, 1, 11))[1]
    assert high.mean() < free_high.mean() - 3.0
    assert high.std() > 2.0


def test_typed_error_is_never_wider_than_the_climate():
    calm = replace(CLIMATE, sd_low_k=1.6 * FLAT, sd_high_k=1.6 * FLAT)
    typed = (TypedDay(date(2026, 1, 17), 0.0, 8.0),)
    made = generate(calm, START, 24 * 9, 600, seed=5, condition_on=Known(typed=typed))
    assert day_values(made, date(2026, 1, 17))[1].std() == pytest.approx(1.6, rel=0.15)


def forecast(hours: int = 200):
    return generate(CLIMATE, START, hours, 1, seed=77).member(0)


def test_members_follow_a_forecast_then_return_to_climate():
    told = forecast()
    made = generate(CLIMATE, START, 24 * 30, 500, seed=6, condition_on=Known(forecast=told))
    miss = made.temp_c[:, :200] - told.temp_c
    assert np.abs(miss.mean(axis=0)).max() < 0.6
    assert miss[:, 0].std() == pytest.approx(0.7, rel=0.15)
    assert miss[:, 24].std() == pytest.approx(1.5, rel=0.15)
    assert miss[:, 168].std() == pytest.approx(4.0, rel=0.15)
    # No jump of the members where the forecast ends.
    steps = np.abs(np.diff(made.temp_c, axis=1))
    assert steps[:, 199].mean() < 2.5
    free = generate(CLIMATE, START, 24 * 30, 500, seed=6)
    assert made.temp_c[:, -24:].mean() == pytest.approx(free.temp_c[:, -24:].mean(), abs=0.8)
    assert made.wind_m_s[0, 10:190] == pytest.approx(told.wind_m_s[10:190])


def test_a_typed_day_wins_over_the_forecast():
    typed = (TypedDay(date(2026, 1, 13), -25.0, -20.0),)
    known = Known(forecast=forecast(), typed=typed)
    made = generate(CLIMATE, START, 24 * 8, 200, seed=6, condition_on=known)
    assert day_values(made, date(2026, 1, 13))[0].mean() < -20.0


def test_impossible_typed_days_are_refused():
    with pytest.raises(FaultList, match="is it degF"):
        generate(CLIMATE, START, 24, 2, 1, Known(typed=(TypedDay(date(2026, 1, 11), 70, 80),)))
    with pytest.raises(ValueError, match="at least one"):
        generate(CLIMATE, START, 0, 2, 1)


def test_southern_and_polar_places_work():
    for latitude in (-35.0, 0.0, 71.0, -80.0):
        made = generate(replace(CLIMATE, latitude_deg=latitude), START, 24 * 60, 5, seed=1)
        assert np.isfinite(made.temp_c).all()


def test_warming_and_skew():
    warm = generate(replace(CLIMATE, warming_k=2.0), START, 24 * 30, 50, seed=1)
    base = generate(CLIMATE, START, 24 * 30, 50, seed=1)
    assert (warm.temp_c - base.temp_c).mean() == pytest.approx(2.0, abs=0.05)
    tail = generate(replace(CLIMATE, skew=-0.8), START, 24 * 30, 200, seed=1).temp_c
    assert np.quantile(tail, 0.005) < np.quantile(
        generate(CLIMATE, START, 24 * 30, 200, seed=1).temp_c, 0.005)


def test_climate_comes_back_from_generated_years():
    made = generate(CLIMATE, datetime(2016, 1, 1, tzinfo=UTC), 24 * 365 * 8, 1, seed=9).member(0)
    found = climate_from_series(made, CLIMATE)
    assert (found.low_c + found.high_c) / 2 == pytest.approx(MEAN, abs=1.5)
    assert found.sd_high_k.mean() == pytest.approx(4.5, rel=0.12)
    assert found.persistence.lag_mean == pytest.approx(CLIMATE.persistence.lag_mean, abs=0.07)
    with pytest.raises(KeeperError, match="month 4 has only"):
        climate_from_series(made.slice(made.start, made.start + timedelta(days=70)), CLIMATE)


def test_error_growth():
    assert [typed_error_sd_k(day) for day in (0, 1, 7, 10)] == [1.5, 1.5, 4.0, 5.25]
    assert forecast_error_sd_k(np.array([0.0, 24.0, 168.0])) == pytest.approx([0.7, 1.5, 4.0])


def test_typed_lines():
    days = parse_typed_days(["2026-01-12: 19 degF to 35 degF", "", "2026-01-11, -7 / 2",
                             "2026-01-13: - to 4 degC"])
    assert [day.day.day for day in days] == [11, 12, 13]
    assert days[0] == TypedDay(date(2026, 1, 11), -7.0, 2.0)
    assert days[1].low_c == pytest.approx(-7.22, abs=0.01)
    assert days[2] == TypedDay(date(2026, 1, 13), None, 4.0)


def test_every_bad_typed_line_is_named():
    with pytest.raises(FaultList) as caught:
        parse_typed_days(["soon", "2026-02-30: 1 to 2", "2026-01-12: 9 to 2", "2026-01-13: x to 2",
                          "2026-01-14: 1 to 2", "2026-01-14: 1 to 3"])
    assert [fault.path for fault in caught.value.faults] == [
        f"typed day {n}" for n in (1, 2, 3, 4, 6)]
