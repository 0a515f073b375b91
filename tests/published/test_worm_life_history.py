"""The worms against published life histories, all with one parameter set.

Aims: mass within 15 % of the series' mean (25 % for Venter & Reinecke, whose refeeding masses are
not stated), cocoons within 20 %. Each error is also held to the figure docs/worms.md reports, so
that a change shows. These experiments were fitted to: they show that one set can carry them all,
not that it predicts others.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from tests.published import worm_experiments as published

REPORTED_BAND = 0.005


@pytest.mark.parametrize(
    ("food", "reported"),
    [("activated sludge", 0.081), ("cow manure", 0.064), ("horse manure", 0.038)],
)
def test_neuhauser_three_foods(food: str, reported: float) -> None:
    """Neuhauser, Hartenstein & Kaplan 1980 Oikos 35:93-98, single worms at 25 degC."""
    error = published.NEUHAUSER[food].error(published.neuhauser(food))
    assert error < 0.15
    assert error == pytest.approx(reported, abs=REPORTED_BAND)


def test_gunadi_one_feeding() -> None:
    """Gunadi, Blount & Edwards 2002: growth, plateau and slow loss on one feeding at 20 degC."""
    run = published.gunadi()
    error = published.GUNADI.error(run)
    assert error < 0.15
    assert error == pytest.approx(0.107, abs=REPORTED_BAND)
    assert 9 * 7 <= int(np.argmax(run.mean_mass_g)) <= 16 * 7  # measured peak: week 13


@cache
def reinecke():  # type: ignore[no-untyped-def]
    return published.reinecke()


def test_reinecke_mass() -> None:
    """Reinecke & Viljoen 1990 Biol.Fertil.Soils 10:184-187, control, ten worms at 25 degC."""
    error = published.REINECKE.error(reinecke())
    assert error < 0.15
    assert error == pytest.approx(0.073, abs=REPORTED_BAND)


def test_reinecke_cocoons() -> None:
    laid = np.diff(reinecke().cocoons[::10])
    blocks = np.abs(laid - published.REINECKE_COCOONS).mean() / published.REINECKE_COCOONS.mean()
    total = laid.sum() / published.REINECKE_COCOONS.sum() - 1.0
    assert abs(total) < 0.20
    assert blocks < 0.20
    assert total == pytest.approx(-0.003, abs=REPORTED_BAND)
    assert blocks == pytest.approx(0.138, abs=REPORTED_BAND)


@cache
def venter():  # type: ignore[no-untyped-def]
    return published.venter()


def test_venter_mass() -> None:
    """Venter & Reinecke 1988 S.Afr.J.Zool. 23:161-165: underfed, then fed, 600 d at 25 degC."""
    error = published.VENTER.error(venter())
    assert error < 0.25
    assert error == pytest.approx(0.209, abs=REPORTED_BAND)


@pytest.mark.parametrize(("day", "reported"), [(365, -0.051), (600, 0.016)])
def test_venter_cocoons(day: int, reported: float) -> None:
    error = venter().cocoons[day] / 10.0 / published.VENTER_COCOONS[day] - 1.0
    assert abs(error) < 0.20
    assert error == pytest.approx(reported, abs=REPORTED_BAND)


def test_oecd_222_control() -> None:
    """OECD Test Guideline 222 validity: at least 30 juveniles from 10 adults in 56 d at 20 degC."""
    run = published.oecd()
    juveniles = run.n_hatchling[56] + run.n_juvenile[56]
    assert juveniles >= 30.0
    assert juveniles < 250.0  # upper end of what is usual, from memory
