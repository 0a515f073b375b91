"""The study of what plans are worth, small: its seasons, its truth and its bookkeeping."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bedlore.decide.plan_search import Effort
from benchmarks import bench_decisions as study
from benchmarks import decision_world as world
from benchmarks.bench_decisions import HARBOUR, Outcome, _site
from benchmarks.decision_world import World, drawn_seasons, seasons_of
from tests.weather_files import Spot


@pytest.fixture
def short(monkeypatch):  # type: ignore[no-untyped-def]
    for module in (world, study):
        for name, days in (("SETTLE_D", 14), ("SEASON_D", 14), ("AFTER_D", 14)):
            if hasattr(module, name):
                monkeypatch.setattr(module, name, days)
    monkeypatch.setattr(world, "MEMBERS", 6)
    monkeypatch.setattr(world, "DRAWS", 30)
    quick = Effort(few=2, some=3, together=2, least=0, kept_some=3, kept_many=1, feeds=4, fresh=6,
                   after=2, foam=False)  # fmt: skip
    monkeypatch.setattr(study, "STUDY", quick)


def cold_place():  # type: ignore[no-untyped-def]
    return _site((-3, -2, 2, 6, 11, 15, 17, 16, 12, 7, 1, -2), 4.0, 5.0, 46)


def test_a_season_is_whole_or_left_out(short) -> None:  # type: ignore[no-untyped-def]
    winter, summer = drawn_seasons(_site(HARBOUR, 3.0, 3.6, 29), "harbour", 1, 3)
    assert (winter.kind, summer.kind) == ("winter", "summer")
    assert len(winter.weather) == 24 * (14 + 14 + 14)
    assert summer.weather.temp_c.mean() > winter.weather.temp_c.mean() + 5
    again = list(seasons_of(winter.weather, winter.climate, "part"))
    assert [s.kind for s in again] == ["winter"]


def test_typical_years_run_over_the_new_year_and_are_marked() -> None:
    from bedlore.weather.tmy3 import read_tmy3
    from tests.weather_files import greensboro_tmy3

    spot = Spot(36.1, -79.95, 273.0, "America/New_York")
    year = read_tmy3(greensboro_tmy3()).series
    found = world.file_seasons(year, spot, "Greensboro", typical=True)
    assert [s.kind for s in found] == ["winter", "summer"]
    assert all(s.spliced for s in found)


def test_every_rule_plays_a_season_in_the_same_weather(short) -> None:  # type: ignore[no-untyped-def]
    winter = drawn_seasons(cold_place(), "cold", 1, 5)[0]
    plain = study.play(winter, "wood", "weekly", study.weekly, 7)
    planned = study.play(winter, "wood", "plan", study.planned, 7)
    heated = study.play(winter, "foamed mat", "thermostat 8", study.thermostat(8.0), 7)
    assert plain.energy_kwh == planned.energy_kwh == 0.0
    assert heated.energy_kwh > 0.0
    assert 0.0 <= planned.stated <= 1.0
    assert plain.hours_out <= 24 * 14
    assert plain.castings_kg > 0.0


def test_leaky_walls_make_the_true_bed_colder_than_the_twin_believes(short) -> None:  # type: ignore[no-untyped-def]
    winter = drawn_seasons(cold_place(), "cold", 1, 5)[0]
    tight, leaky = (World(winter, "foamed", 7, leak) for leak in (1.0, 2.0))
    assert np.array_equal(leaky.truth.cells.temp_c, tight.truth.cells.temp_c)
    for bed in (tight, leaky):
        study.weekly(bed)
    assert leaky.truth.cells.temp_c.mean() < tight.truth.cells.temp_c.mean()
    assert np.allclose(leaky.twin.cells.temp_c, tight.twin.cells.temp_c)


def test_the_twin_learns_before_the_season(short, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    winter = drawn_seasons(cold_place(), "cold", 1, 5)[0]
    monkeypatch.setattr(world, "MEMBERS", 30)
    monkeypatch.setattr(world, "DRAWS", 200)

    def misses_k(seed: int) -> float:
        bed = World(winter, "foamed", seed)
        return float(np.abs(bed.twin.cells.temp_c - bed.truth.cells.temp_c).mean())

    learnt = np.mean([misses_k(seed) for seed in range(4)])
    monkeypatch.setattr(world, "READING_SD_K", 1e6)
    assert learnt < 0.8 * np.mean([misses_k(seed) for seed in range(4)])


def test_a_forecast_errs_as_it_says_and_never_by_more_than_the_climate_varies() -> None:
    rng = np.random.default_rng(3)
    for spread_k in (2.0, 6.0):
        usual = 10.0 + spread_k * rng.standard_normal((4000, 336))
        true = 10.0 + spread_k * rng.standard_normal((600, 336))
        seen = np.array([world.foreseen(one, usual, rng) for one in true])
        error = (true - seen)[:, [0, 24, 7 * 24, 330]].std(axis=0)
        assert error == pytest.approx(np.minimum([0.7, 1.5, 4.0, 7.2], spread_k), rel=0.15)
        late = np.corrcoef(seen[:, 48], true[:, 48] - seen[:, 48])[0, 1]
        assert abs(late) < 0.12, "what it says tells nothing of its error"


def test_what_was_played_is_not_played_again(short, monkeypatch, tmp_path) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.setattr(study, "PLAYED", tmp_path / "played.jsonl")
    jobs = study.jobs_of(drawn_seasons(cold_place(), "cold", 1, 5)[:1], ("wood", "foamed mat"))
    first = study.run(jobs[:1], 1.0)
    monkeypatch.setattr(study, "_one_season", played_at_once)
    again = study.run(jobs, 0.0)
    assert again[: len(first)] == first
    assert [o.season for _, o in again[len(first) :]] == ["new"], "one is begun whatever the time"


def played_at_once(job):  # type: ignore[no-untyped-def]
    return [(job.bed, outcome("new", "plan", 1.0))]


def outcome(season: str, rule: str, hours: float, kwh: float = 0.0) -> Outcome:
    return Outcome(season, "winter", rule, 1.0, hours, 2.0, kwh, hours > 0, 0.2, 0.25, 0.1)


def test_the_thermostat_shown_is_the_lowest_that_passes_the_limit_of_cold_no_oftener() -> None:
    mine = [replace(outcome("a", rule, 5.0), cold_came=came) for rule, came in (
        ("plan", 0.25), ("thermostat 4", 0.5), ("thermostat 6", 0.25), ("thermostat 8", 0.0)
    )]  # fmt: skip
    assert study._rules_shown(mine, {"a": mine[0]}) == ["thermostat 6"]
    assert study._rules_shown(mine[:2], {"a": mine[0]}) == ["thermostat 4"]


def test_paired_differences_keep_their_sign_and_their_band() -> None:
    assert study.band_of(np.full(12, -2.0)) == "-2.00 (-2.00 to -2.00)"
    text = study.tables_of([
        ("wood", outcome(s, rule, h)) for s in "abc" for rule, h in (("plan", 1.0), ("weekly", 4.0))
    ])  # fmt: skip
    assert "| wood | winter | 3 | weekly |" in text
    assert "-3.00 (-3.00 to -3.00)" in text
    assert "| 18 | 0.20 | 0.25 |" in text
