"""Recorded weather, gaps and futures joined around a bed."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from bedlore.facts.parameters import draw
from bedlore.farm.site import Site
from bedlore.service.surroundings import BedAir, Recorded, surroundings_of
from bedlore.weather.series import WeatherSeries
from bedlore.weather.typed import Known, TypedDay
from tests.unit.bed.beds import two_sided

NOW = dt.datetime(2025, 1, 20, 6, tzinfo=dt.UTC)
FIRST = NOW - dt.timedelta(days=60)
MEMBERS = 20
SITE = Site.model_validate(
    {
        "name": "mill", "latitude_deg": 46.0, "longitude_deg": 9.5, "altitude_m": 780,
        "time_zone": "Europe/Zurich",
        "normals": {
            "daily_low_c": [-9, -8, -4, 0, 5, 9, 11, 10, 7, 2, -3, -8],
            "daily_high_c": [0, 3, 7, 13, 18, 22, 24, 23, 18, 12, 5, 1],
        },
        "building": {"kind": "masonry", "time_constant": "30 h", "offset": "2.5 K"},
    }
)  # fmt: skip


def record(start: dt.datetime, end: dt.datetime, temp_c: float = 3.0) -> WeatherSeries:
    hours = int((end - start) / dt.timedelta(hours=1))
    flat = np.ones(hours)
    return WeatherSeries(start, temp_c * flat, 0.8 * flat, flat, 0 * flat, "station")


def around(recorded: Recorded):
    return surroundings_of(SITE, recorded, draw(MEMBERS, 1), FIRST, NOW, 14 * 24, seed=3)


def test_recorded_hours_are_taken_as_they_are() -> None:
    both = around(Recorded(record(FIRST - dt.timedelta(days=30), NOW)))
    assert np.all(both.past.slice(FIRST, NOW).temp_c == 3.0)
    assert both.future.temp_c.shape == (MEMBERS, 14 * 24)
    assert abs(both.future.temp_c[:, 0] - 3.0).max() < 3.0, "the future starts from the reading"


def test_gaps_are_drawn_from_the_normals_and_said() -> None:
    part = around(Recorded(record(FIRST + dt.timedelta(days=10), NOW - dt.timedelta(days=5))))
    assert len(part.past.slice(FIRST, NOW)) == 60 * 24
    said = " ".join(part.notes)
    assert "first 10 days" in said
    assert "last 5 days" in said


def test_without_any_record_the_normals_stand_in() -> None:
    none = around(Recorded())
    assert none.notes == ()  # the morning says so beside the age of the record
    assert -25.0 < none.past.temp_c.mean() < 10.0


def test_typed_days_hold_the_future() -> None:
    day = (NOW + dt.timedelta(days=2)).date()
    typed = Recorded(record(FIRST, NOW), Known(typed=(TypedDay(day, -22.0, -15.0),)))
    cold = around(typed).future.slice(
        dt.datetime.combine(day, dt.time(0), dt.UTC), dt.datetime.combine(day, dt.time(23), dt.UTC)
    )
    assert np.median(cold.temp_c.min(axis=1)) == pytest.approx(-22.0, abs=2.5)


def test_the_room_is_warmer_and_steadier_than_outdoors() -> None:
    both = around(Recorded())
    inside = both.air(two_sided(), FIRST, NOW)
    outside = both.past.slice(FIRST, NOW).temp_c
    assert inside.air_c.shape == (MEMBERS, 60 * 24)
    assert inside.air_c.mean() > outside.mean() + 1.0
    assert inside.air_c.std(axis=1).mean() < outside.std()


def test_an_open_door_brings_the_outdoors_in() -> None:
    both = around(Recorded())
    window = (NOW, NOW + dt.timedelta(days=5))
    closed = both.air(two_sided(), *window).air_c
    opened = both.opened().air(two_sided(), *window).air_c
    outdoors = both.future.slice(*window).temp_c
    assert np.abs(opened[:, 24:] - outdoors[:, 24:]).mean() < 1.0
    assert np.abs(closed[:, 24:] - outdoors[:, 24:]).mean() > 2.0


def test_pieces_of_the_past_fit_together() -> None:
    air = BedAir(around(Recorded(record(FIRST, NOW))), two_sided(), FIRST)
    whole = air.between(0, 40 * 24).air_c
    ground = air.between(0, 40 * 24).ground_c
    assert np.allclose(ground[:, 30 * 24:], air.between(30 * 24, 40 * 24).ground_c, atol=1e-9)
    piece = air.between(30 * 24, 40 * 24).air_c
    assert np.abs(whole[:, 30 * 24 :] - piece).max() < 0.05


def test_the_key_tells_of_changes_before_an_hour_only() -> None:
    a = BedAir(around(Recorded(record(FIRST, NOW))), two_sided(), FIRST)
    cooler = record(FIRST, NOW - dt.timedelta(days=10)).then(
        record(NOW - dt.timedelta(days=10), NOW, 1.0)
    )
    b = BedAir(around(Recorded(cooler)), two_sided(), FIRST)
    assert a.key(40 * 24) == b.key(40 * 24)
    assert a.key(55 * 24) != b.key(55 * 24)
