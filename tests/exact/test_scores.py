"""Scores against closed forms and sums done by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bedlore.learn.scores import (
    binomial_band,
    brier,
    coverage,
    crps_ensemble,
    crps_normal,
    isotonic,
    pit,
    ranked_probability,
    reliability_bins,
    skill,
)


def test_crps_of_two_members_by_hand() -> None:
    """Members 0 and 2, seen 1: mean distance 1, half the fair mean difference 1; score 0."""
    assert crps_ensemble([0.0, 2.0], 1.0) == pytest.approx(0.0)
    assert crps_ensemble([0.0, 2.0], 3.0) == pytest.approx(1.0)


def test_a_perfect_normal_forecast_scores_sd_over_root_pi() -> None:
    rng = np.random.default_rng(1)
    y = rng.standard_normal(200_000) * 2.0
    assert crps_normal(0.0, 2.0, y).mean() == pytest.approx(2.0 / math.sqrt(math.pi), rel=0.01)
    assert np.abs(y).mean() == pytest.approx(2.0 * 0.798, rel=0.01)  # a point forecast


def test_small_ensembles_are_scored_as_fairly_as_large() -> None:
    rng = np.random.default_rng(2)
    y = rng.standard_normal(20000)
    for members in (3, 30):
        x = rng.standard_normal((20000, members))
        assert crps_ensemble(x, y).mean() == pytest.approx(1 / math.sqrt(math.pi), rel=0.03)


def test_pit_is_even_when_truth_is_a_member() -> None:
    rng = np.random.default_rng(3)
    x = rng.standard_normal((4000, 21))
    p = pit(x[:, 1:], x[:, 0], rng)
    counts = np.histogram(p, bins=10, range=(0, 1))[0]
    assert np.sum((counts - 400) ** 2 / 400) < 27.9  # chi-squared, 9 degrees of freedom, 0.1 %
    assert coverage(p, 0.9) == pytest.approx(0.9, abs=0.02)


def test_pit_of_ties_is_drawn() -> None:
    rng = np.random.default_rng(4)
    p = pit(np.zeros((3000, 9)), np.zeros(3000), rng)
    assert p.mean() == pytest.approx(0.5, abs=0.02)
    assert p.std() == pytest.approx(1 / math.sqrt(12), abs=0.02)


@pytest.mark.parametrize(
    ("count", "low", "high"), [(20, 0.75, 1.0), (50, 0.82, 0.98), (100, 0.84, 0.95)]
)
def test_what_a_number_of_cases_can_prove(count: int, low: float, high: float) -> None:
    """90 % bands, binomial 95 %, to the nearest case (calculated by hand with tables)."""
    got = binomial_band(0.9, count)
    assert got == pytest.approx((low, high), abs=0.021)


def test_parts_of_the_brier_score_add_up() -> None:
    rng = np.random.default_rng(5)
    said = rng.integers(0, 11, 500) / 10
    happened = rng.random(500) < said**1.5
    parts = brier(said, happened)
    assert parts.reliability - parts.resolution + parts.uncertainty == pytest.approx(parts.score)
    assert parts.reliability > 0.0


def test_brier_by_hand() -> None:
    parts = brier([0.5, 0.5, 1.0, 0.0], [True, False, True, False])
    assert (parts.score, parts.reliability) == (0.125, 0.0)
    assert (parts.resolution, parts.uncertainty) == (0.125, 0.25)


def test_bins_count_what_happened() -> None:
    bins = reliability_bins([0.2] * 5 + [1.0], [True, False, False, False, False, True])
    assert [(b.happened, b.count) for b in bins] == [(1, 5), (1, 1)]


def test_ranked_probability_by_hand() -> None:
    assert ranked_probability([[0.2, 0.5, 0.3]], [1])[0] == pytest.approx(0.04 + 0.09)


def test_isotonic_pools_what_is_out_of_order() -> None:
    said, rate = isotonic([0.1, 0.2, 0.3, 0.4], [0, 1, 0, 1])
    assert said.tolist() == [0.1, 0.2, 0.3, 0.4]
    assert rate.tolist() == [0.0, 0.5, 0.5, 1.0]


def test_skill() -> None:
    assert skill(0.5, 1.0) == 0.5
    assert skill(0.5, 0.0) == 0.0
