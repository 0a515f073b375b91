"""Quantiles over the members, against numpy's."""

from __future__ import annotations

import numpy as np
import pytest

from bedlore.outlook.ahead import QUANTILES
from bedlore.outlook.ranked import quantiles


def test_by_hand() -> None:
    members = np.random.default_rng(1).permutation(21).astype(float)
    assert quantiles(members, QUANTILES) == pytest.approx([1.0, 5.0, 10.0, 15.0, 19.0])


@pytest.mark.parametrize("shape", [(1, 3), (2, 4), (200, 7, 3)])
def test_they_are_numpys(shape: tuple[int, ...]) -> None:
    values = np.random.default_rng(2).normal(size=shape)
    values[-1, 1] = np.nan
    wanted = np.quantile(values, QUANTILES, axis=0)
    assert np.isnan(wanted).any()
    assert np.allclose(quantiles(values, QUANTILES), wanted, rtol=1e-12, atol=1e-12, equal_nan=True)
