"""Slips of the pen are told from other outliers."""

from __future__ import annotations

import pytest

from bedlore.learn.mixups import slipped
from bedlore.learn.record import Fit


def fit(seen: float, expected: float, about: str = "temp", outlier: bool = True) -> Fit:
    away = (seen - expected) / 1.0
    return Fit("e", 0, (0,), about, "s", seen, expected, 1.0, away, away, outlier)


@pytest.mark.parametrize(
    ("seen", "slip"),
    [(59.0, "degF as degC"), (61.0, "degF as degC"), (-9.4, "degC as degF")],
)  # 15 degC is 59 degF; 15 degF is -9.4 degC
def test_the_other_unit_is_named(seen: float, slip: str) -> None:
    mine = fit(seen, 15.0)
    assert slipped([mine]) == {slip: [mine]}


def test_other_outliers_and_other_readings_are_left_alone() -> None:
    others = [fit(21.0, 15.0), fit(6.0, 15.0), fit(40.0, 15.0), fit(0.59, 0.15, about="moisture"),
              fit(59.0, 15.0, outlier=False)]  # fmt: skip
    assert slipped(others) == {}
