"""What doubt adds to an ensemble's own spread."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from bedlore.bed.cells import TALLY_NAMES
from bedlore.bed.engine import Run, empty_state
from bedlore.bed.outputs import DEPTH, OUTPUT_NAMES, TEMP_COLDEST, TEMP_PROBE
from bedlore.outlook.doubt import NO_DOUBT, TIME_CONSTANT_H, Doubt, wander
from bedlore.outlook.ranked import median

M, HOURS = 400, 14 * 24


def run(every: int = 1) -> Run:
    """A bed of two zones at 8 degC whose members differ by 1 K; the second zone is empty."""
    values = np.zeros((M, HOURS // every, 2, len(OUTPUT_NAMES)))
    members = np.random.default_rng(3).standard_normal((M, 1))
    for i, name in enumerate(OUTPUT_NAMES):
        if name.startswith("temp_"):
            values[:, :, 0, i] = 8.0 + members
    values[:, :, 0, DEPTH] = 0.2
    return Run(values, every, np.zeros((M, 2, len(TALLY_NAMES))), empty_state(M, 2, 4))


def test_no_doubt_changes_nothing() -> None:
    told = run()
    assert NO_DOUBT.dressed(told) is told


def test_the_wander_has_its_size_and_its_pace() -> None:
    drawn = wander(4000, 96, 0.8, 5)
    assert np.allclose(drawn.std(axis=0), 0.8, atol=0.05)
    lag = int(TIME_CONSTANT_H)
    both = [np.corrcoef(drawn[:, i], drawn[:, i + lag])[0, 1] for i in range(0, 48, 8)]
    assert abs(np.mean(both) - np.exp(-1.0)) < 0.03


def test_wander_and_spread_add_up_and_leave_the_middle_and_empty_zones() -> None:
    told = run()
    wide = Doubt(0.6, 1.5).dressed(told).values[..., TEMP_PROBE]
    assert abs(np.median(wide[:, :, 0]) - 8.0) < 0.1
    expected = np.hypot(1.5 * told.values[:, 0, 0, TEMP_PROBE].std(), 0.6)
    assert abs(wide[:, :, 0].std(axis=0).mean() - expected) < 0.06
    assert not wide[:, :, 1].any()
    assert np.array_equal(told.values[..., DEPTH], Doubt(0.6, 1.5).dressed(told).values[..., DEPTH])


def test_hours_told_by_the_day_are_a_run_told_by_the_day() -> None:
    """Candidates are run by the day, what is shown by the hour: the same doubt for both."""
    doubt = Doubt(0.6)
    hourly = doubt.dressed(run()).values[:, :, 0, TEMP_COLDEST]
    daily = doubt.dressed(run(24)).values[:, :, 0, TEMP_COLDEST]
    assert np.allclose(hourly.reshape(M, 14, 24).min(axis=2), daily)


def test_a_member_wanders_alike_among_few_and_among_all() -> None:
    """Else doing nothing, run on all members, would meet another wander than what rivals it."""
    whole, some = run(24), np.array([3, 50, 399])
    few = replace(whole, values=whole.values[some])
    doubt = Doubt(0.6)
    among_all = doubt.dressed(whole).values[some]
    assert np.array_equal(doubt.of(some).dressed(few).values, among_all)
    assert np.array_equal(doubt.of(np.arange(0, M, 3)).of(some // 3).members, some // 3 * 3)
    assert not np.array_equal(doubt.dressed(few).values, among_all)


def test_the_median_is_numpys() -> None:
    for members in (1, 2, 7, 200):
        values = np.random.default_rng(members).normal(size=(members, 5, 3))
        assert np.array_equal(median(values), np.median(values, axis=0)), members
