"""The twin: resuming from a snapshot is replaying from the start."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from bedlore.bed.cells import Air
from bedlore.bed.outputs import OUTPUT_NAMES
from bedlore.facts.parameters import draw
from bedlore.farm import log
from bedlore.farm.bed import Limits
from bedlore.outlook.ahead import cells_ahead, crossings, look_ahead, odds_of, summary
from bedlore.outlook.doubt import Doubt
from bedlore.outlook.twin import Past, bring_up, load_snapshot, save_snapshot
from bedlore.service.views import behind_of
from tests.unit.bed.beds import two_sided, year_air

START = dt.datetime(2024, 9, 1, 12, tzinfo=dt.UTC)
NOW = START + dt.timedelta(days=60)
MEMBERS = 6


class SameAir:
    """One weather for all, as long as asked."""

    def __init__(self, mean_c: float = 9.0) -> None:
        self.whole = year_air(24 * 90, mean_c)

    def between(self, first: int, last: int) -> Air:
        return Air(*(array[:, first:last] for array in self.whole))

    def room_c(self, hour: int) -> float:
        return float(self.whole.air_c[0, hour])

    def key(self, hour: int) -> str:
        return str(float(self.whole.air_c[0, :hour].sum()))


def bed():
    zones = [{"id": z, "side": z.split("-")[0], "worms_kg": 0.4}
             for z in ("race-1", "race-2", "bank-1", "bank-2")]  # fmt: skip
    return two_sided(zones=zones)


def feeds(count: int = 19):
    part = log.Part(material="food_mixed_kitchen", mass_kg=1.5)
    return [
        log.Feed(id=f"f{i}", at=START + dt.timedelta(days=3 * i + 1), bed="sluice",
                 zone=("race-1", "race-2")[i % 2], parts=(part,))
        for i in range(count)
    ]  # fmt: skip


@pytest.fixture(scope="module")
def twin():
    return bring_up(Past(bed(), START, SameAir(), feeds()), draw(MEMBERS, 4), NOW)


def same_state(a, b) -> bool:
    other = b.state.arrays()
    return all(np.array_equal(array, other[name]) for name, array in a.state.arrays().items())


def test_resuming_is_replaying(twin, tmp_path: Path) -> None:
    save_snapshot(tmp_path / "sluice.npz", twin.snapshot)
    stored = load_snapshot(tmp_path / "sluice.npz")
    again = bring_up(Past(bed(), START, SameAir(), feeds()), draw(MEMBERS, 4), NOW, stored)
    assert stored is not None
    assert stored.at == twin.snapshot.at
    assert same_state(twin, again)


def test_recent_days_lie_at_their_own_time(twin) -> None:
    """A replay knows more days back than one that resumes, and both say of each day the same."""
    again = bring_up(
        Past(bed(), START, SameAir(), feeds()), draw(MEMBERS, 4), NOW, twin.snapshot
    )
    days = again.recent.values.shape[1]
    more = twin.recent.values.shape[1] - days
    assert more > 0
    assert np.array_equal(twin.recent.values[:, more:], again.recent.values)
    assert twin.recent_start + more * dt.timedelta(days=1) == again.recent_start


def test_a_late_entry_before_the_snapshot_starts_afresh(twin) -> None:
    late = feeds()[0].model_copy(update={"id": "late", "at": START + dt.timedelta(days=2)})
    entries = [*feeds(), late]
    fresh = bring_up(Past(bed(), START, SameAir(), entries), draw(MEMBERS, 4), NOW)
    resumed = bring_up(
        Past(bed(), START, SameAir(), entries), draw(MEMBERS, 4), NOW, twin.snapshot
    )
    assert same_state(fresh, resumed)
    assert not same_state(fresh, twin)


def test_other_weather_before_the_snapshot_starts_afresh(twin) -> None:
    warmer = bring_up(
        Past(bed(), START, SameAir(12.0), feeds()), draw(MEMBERS, 4), NOW, twin.snapshot
    )
    assert warmer.state.cells.temp_c.mean() > twin.state.cells.temp_c.mean() + 1.0


def test_a_reading_costs_no_replay(twin) -> None:
    probe = log.Probe(id="p", at=START + dt.timedelta(days=5), bed="sluice", temp_c=8.0)
    again = bring_up(
        Past(bed(), START, SameAir(), [*feeds(), probe]), draw(MEMBERS, 4), NOW, twin.snapshot
    )
    assert again.snapshot.at == twin.snapshot.at
    assert same_state(again, twin)


def test_a_spoilt_snapshot_is_no_snapshot(tmp_path: Path) -> None:
    (tmp_path / "x.npz").write_bytes(b"PK\x03\x04 not a state")
    assert load_snapshot(tmp_path / "x.npz") is None
    assert load_snapshot(tmp_path / "none.npz") is None


def test_odds_count_members_that_cross_at_any_time_in_any_lived_in_zone(twin) -> None:
    ahead = look_ahead(twin, SameAir().between(60 * 24, 62 * 24), hours=48)
    cold = ahead.run.series("temp_coldest_c").min(axis=(1, 2))
    limit = float(np.median(cold)) + 1e-6
    odds = odds_of(ahead, Limits(cold_c=limit))
    assert odds.members == MEMBERS
    assert odds.cold == pytest.approx((cold < limit).mean())
    assert crossings(ahead, Limits(cold_c=-5.0))["cold"].sum() == 0


def test_quantiles_are_in_order(twin) -> None:
    ahead = look_ahead(twin, SameAir().between(60 * 24, 61 * 24), hours=24)
    for zone in summary(ahead).values():
        for name, bands in zone.items():
            assert (np.diff(bands, axis=0) >= -1e-12).all(), name


def test_a_lost_herd_does_not_read_as_a_bed_within_its_limits(twin) -> None:
    ahead = look_ahead(twin, SameAir().between(60 * 24, 62 * 24), hours=48)
    ahead.run.values[..., OUTPUT_NAMES.index("worms_kg")] = 0.0
    assert odds_of(ahead, Limits(cold_c=19.0, hot_c=25.0)).cold == 1.0


def test_cells_ahead_are_the_cells_of_the_whole_run(twin):
    first = 60 * 24
    air = SameAir().between(first, first + 14 * 24)
    ahead = look_ahead(twin, air)
    cells = cells_ahead(twin, air, ahead)
    assert cells.shape == (28, *twin.state.cells.temp_c.shape[1:])
    for days in (1, 7):  # the whole run merges and splits cells; within a day it changes none
        whole = look_ahead(twin, air, hours=24 * days, every=24).run.state
        middle = np.median(whole.cells.temp_c, axis=0)
        assert np.abs(cells[2 * days - 1] - middle).max() < 0.3
    half = look_ahead(twin, air, hours=12, every=12).run.state
    assert np.abs(cells[0] - np.median(half.cells.temp_c, axis=0)).max() < 0.1


def test_what_the_twin_says_of_the_last_days_is_its_own_replay(twin):
    behind = behind_of(twin)
    assert behind is not None
    assert behind.every_h == 24
    told = np.array(behind.series("temp_probe_c", "race-1"))
    assert told.shape == (5, 14)
    # The last day ends now: it is what the state says now.
    last = twin.recent.series("temp_probe_c")[:, -1, 0]
    assert told[2, -1] == pytest.approx(np.median(last), abs=1e-3)
    assert behind.start + dt.timedelta(days=14) == NOW
    assert (np.diff(told, axis=0) >= 0).all()


def test_what_is_told_of_the_last_days_is_as_doubtful_as_what_is_told_ahead(twin):
    sure = np.array(behind_of(twin).series("temp_probe_c"))
    wide = np.array(behind_of(replace(twin, doubt=Doubt(2.0, 1.5))).series("temp_probe_c"))
    assert ((wide[-1] - wide[0]) > (sure[-1] - sure[0])).all()


def test_a_bed_begun_today_has_no_days_behind_it():
    young = bring_up(Past(bed(), START, SameAir(), ()), draw(2, 4), START + dt.timedelta(hours=5))
    assert behind_of(young) is None
