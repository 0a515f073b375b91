"""Past outlooks against later readings: cases, references, cards, words, spread."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from bedlore.learn.references import Past, Record, refer
from bedlore.learn.scores import Bin
from bedlore.learn.verify import (
    LEVELS,
    Case,
    SeenTemp,
    card_of,
    cases_of,
    lead_name,
    members_of,
    past_outlook,
    season_of,
    sentences,
    spread_factor,
)
from bedlore.weather.series import WeatherSeries

START = dt.datetime(2025, 1, 1, tzinfo=dt.UTC)
DAY = dt.timedelta(days=1)
HOURS = 24 * 120


def air() -> WeatherSeries:
    t = np.arange(HOURS)
    temp = 5.0 + 4.0 * np.sin(2 * np.pi * t / (24 * 17)) + 3.0 * np.sin(2 * np.pi * t / 24)
    flat = np.zeros(HOURS)
    return WeatherSeries(START, temp, flat + 0.8, flat, flat, "made up")


def record(values: list[float], every_d: float = 2.0) -> Record:
    at = tuple(START + every_d * (i + 1) * DAY for i in range(len(values)))
    return Record({("b", "z"): Past(at, tuple(values))}, air())


def case(said: float, sd: float, seen: float, day: int, rng: np.random.Generator) -> Case:
    quantiles = np.quantile(said + sd * rng.standard_normal(4000), LEVELS)
    made = START + day * DAY
    return Case("b", "z", made, made + 3 * DAY, tuple(map(float, quantiles)), seen, 0.2)


def many(count: int, spread: float) -> list[Case]:
    """Truth scatters by 1 K about what was said; the outlook owns up to ``spread`` of it."""
    rng = np.random.default_rng(4)
    return [case(8.0, spread, 8.0 + float(rng.standard_normal()), 2 * i % 100, rng)
            for i in range(count)]  # fmt: skip


def test_a_kept_outlook_is_read_between_its_hours() -> None:
    hours = np.arange(1.0, 14 * 24 + 1)
    temp = np.repeat((0.1 * hours)[None], 5, axis=0)
    kept = past_outlook("b", "z", START, temp)
    assert len(kept.temp_c) == 14 * 4
    there = kept.at(START + dt.timedelta(hours=9))
    assert there is not None
    assert np.allclose(there, 0.9)
    assert kept.at(START) is None
    assert kept.at(START + 15 * DAY) is None


def test_each_reading_meets_the_outlook_of_its_lead() -> None:
    temp = np.random.default_rng(1).normal(8.0, 1.0, (50, 14 * 24))
    outlooks = [past_outlook("b", "z", START + i * DAY, temp) for i in range(20)]
    seen = [SeenTemp("b", "z", START + 15 * DAY, 8.4, 0.5), SeenTemp("b", "y", START + DAY, 8, 1)]
    cases = cases_of(outlooks, seen, (1, 3, 7))
    assert [lead_name(c) for c in cases] == ["1 d ahead", "3 d ahead", "7 d ahead"]
    assert all(c.made_at < c.seen_at for c in cases)


def test_members_have_the_error_of_reading_and_the_spread() -> None:
    got = members_of(many(5, 1.0))
    assert got.shape == (5, 200)
    assert got.std() == pytest.approx(np.hypot(1.0, 0.2), rel=0.15)


def test_a_band_too_narrow_is_found_out() -> None:
    honest, narrow = many(80, 1.0), many(80, 0.3)
    assert spread_factor(honest) == pytest.approx(1.0, abs=0.15)
    assert spread_factor(narrow) > 1.6
    assert spread_factor(narrow[:4]) == 1.0
    good, bad = (card_of("all", cases, record([8.0] * 30), 7.0, 9.0) for cases in (honest, narrow))
    assert good.coverage_band[0] <= good.covered_90 <= good.coverage_band[1]
    assert bad.covered_90 < bad.coverage_band[0]
    assert bad.crps_k > good.crps_k
    assert sum(good.pit_counts) == 80
    assert any("too narrow" in line for line in sentences(bad))


def test_words_count_what_happened() -> None:
    card = card_of("all", many(60, 1.0), record([8.0] * 30), 7.0, 9.0)
    words = " ".join(sentences(card))
    assert "When we said" in words
    assert "times in" in words
    once = replace(card, odds=(Bin(0.1, 1, 19),), hot_odds=(Bin(0.2, 0, 5),))
    words = " ".join(sentences(once))
    assert "When we said 1 in 10 for colder than the limit, it happened once in 19." in words
    assert "When we said 2 in 10 for warmer than the limit, it happened 0 times in 5." in words
    few = card_of("all", many(6, 1.0), record([8.0] * 30), 7.0, 9.0)
    assert not few.enough
    assert any("cannot prove" in line for line in sentences(few))
    assert card.limit.score == pytest.approx(
        card.limit.reliability - card.limit.resolution + card.limit.uncertainty, abs=1e-9
    )


def test_odds_of_the_hot_limit_are_judged_by_what_was_hotter() -> None:
    """The truth scatters by 1 K about 8: above 9 lie 16 in 100, which is about what was said; of
    outlooks that are sure of the contrary none holds."""
    card = card_of("all", many(200, 1.0), record([8.0] * 30), 7.0, 9.0)
    said = sum(b.said * b.count for b in card.hot_odds) / 200
    happened = sum(b.happened for b in card.hot_odds) / 200
    assert said == pytest.approx(0.16, abs=0.03)
    assert happened == pytest.approx(0.16, abs=0.08)
    assert card.hot_limit.score == pytest.approx(happened * (1 - happened), abs=0.03)
    mild = [replace(one, said_c=tuple(t - 6.0 for t in one.said_c)) for one in many(200, 1.0)]
    assert card_of("all", mild, record([8.0] * 30), 7.0, 9.0).hot_limit.score == pytest.approx(
        happened, abs=0.01
    )
    words = sentences(card)
    assert any("for warmer than the limit" in line for line in words)
    assert any("fortnight" in line and "not checked" in line for line in words)


def test_where_no_odds_are_told_none_are_excused() -> None:
    card = card_of("all", many(60, 1.0), record([8.0] * 30), -20.0, 60.0)
    assert not any("limit" in line or "fortnight" in line for line in sentences(card))


def test_references_by_hand() -> None:
    """A bed that is always 2 K above the day's air: air plus a constant knows it."""
    weather = air()
    at = [START + (2 + i) * DAY for i in range(20)]
    whole = Record({}, weather)
    values = [whole.air_c(t, 24) + 2.0 for t in at]  # type: ignore[operator]
    known = Record({("b", "z"): Past(tuple(at), tuple(values))}, weather)
    when = START + 40 * DAY
    told = refer("air", known, "b", "z", START + 30 * DAY, when)
    assert told is not None
    assert told[0] == pytest.approx(whole.air_c(when, 24) + 2.0, abs=1e-6)  # type: ignore[operator]
    assert told[1] < 0.4
    last = refer("persistence", known, "b", "z", START + 30 * DAY, when)
    assert last is not None
    assert last[0] == values[-1]
    assert last[1] > told[1]
    lag = refer("shed_lag", known, "b", "z", START + 30 * DAY, when)
    assert lag is not None
    assert lag[0] == pytest.approx(told[0], abs=0.01)
    season = refer("climatology", known, "b", "z", START + 30 * DAY, when)
    assert season is not None
    assert season[0] == pytest.approx(np.mean(values))


def test_references_know_nothing_of_the_future() -> None:
    known = record([8.0, 9.0, 10.0, 11.0, 30.0], 1.0)
    told = refer("persistence", known, "b", "z", START + 4.5 * DAY, START + 8 * DAY)
    assert told is not None
    assert told[0] == 11.0
    assert refer("persistence", known, "b", "z", START + 2 * DAY, START + 8 * DAY) is None
    assert refer("air", known, "b", "z", START + 5 * DAY, START + 500 * DAY) is None
    with pytest.raises(ValueError, match="no reference"):
        refer("magic", known, "b", "z", START + 5 * DAY, START + 6 * DAY)


def test_seasons() -> None:
    assert season_of(dt.datetime(2025, 12, 3)) == "Dec-Feb"
    assert season_of(dt.datetime(2025, 7, 3)) == "Jun-Aug"
