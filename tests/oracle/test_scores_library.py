"""Scores against the package ``scores`` (Australian Bureau of Meteorology)."""

from __future__ import annotations

import numpy as np
import pytest

scores = pytest.importorskip("scores.probability")
xr = pytest.importorskip("xarray")

from bedlore.learn.scores import brier, crps_ensemble, isotonic  # noqa: E402


def arrays() -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(8)
    return rng.gamma(2.0, 1.5, (60, 17)), rng.gamma(2.0, 1.5, 60)


def test_crps_fair() -> None:
    x, y = arrays()
    theirs = scores.crps_for_ensemble(
        xr.DataArray(x, dims=("case", "member")), xr.DataArray(y, dims="case"), "member",
        method="fair", preserve_dims="all",
    )  # fmt: skip
    assert np.allclose(crps_ensemble(x, y), theirs.values, atol=1e-12)


def test_brier_score() -> None:
    rng = np.random.default_rng(9)
    said = rng.random(80)
    happened = (rng.random(80) < said).astype(float)
    both = (xr.DataArray(values, dims="case") for values in (said, happened))
    theirs = scores.brier_score(*both)
    assert brier(said, happened).score == pytest.approx(float(theirs), abs=1e-12)


def test_reliability_curve_is_their_isotonic_fit() -> None:
    from scores.probability import isotonic_fit

    rng = np.random.default_rng(10)
    said = np.round(rng.random(200), 2)
    happened = (rng.random(200) < said**2).astype(float)
    values, rate = isotonic(said, happened)
    theirs = isotonic_fit(said, happened)
    assert np.allclose(values, theirs["fcst_sorted"])
    assert np.allclose(rate, theirs["regression_values"])
