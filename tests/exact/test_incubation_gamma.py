"""Incubation at constant temperature against the gamma law it stands for (exact)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import gamma

from bedlore.bed.incubation import advance_cocoons, incubation_warmth
from bedlore.bed.layout import COCOON_STEPS
from bedlore.facts.parameters_worms import WORM_PARAMETERS

P = {parameter.name: parameter.default for parameter in WORM_PARAMETERS}


def hatched_by_hour(temps_c: np.ndarray) -> np.ndarray:
    """Return the share of one day's cocoons hatched after each hour of ``temps_c``."""
    chains = np.zeros((1, COCOON_STEPS))
    chains[0, 0] = 1.0
    done, shares = 0.0, []
    for temp_c in temps_c:
        steps = COCOON_STEPS * incubation_warmth(P, temp_c) / 24.0 / P["worm_incubation_kd"]
        there, due, _ = advance_cocoons(chains, 0, steps, 1.0)
        assert there == pytest.approx(chains.sum() + due, abs=1e-14)
        done += due
        shares.append(done)
    return np.array(shares)


@pytest.mark.parametrize("temp_c", [10.0, 15.0, 20.0, 25.0, 28.0, 33.0])
def test_constant_temperature_gives_the_gamma_law(temp_c: float) -> None:
    """To 1e-6 at every hour; shape 14 has a coefficient of variation of 0.267."""
    warmth = incubation_warmth(P, temp_c)
    mean_d = P["worm_incubation_kd"] / warmth
    hours = int(2.5 * mean_d * 24)
    share = hatched_by_hour(np.full(hours, temp_c))
    days = np.arange(1, hours + 1) / 24.0
    exact = gamma.cdf(days, COCOON_STEPS, scale=mean_d / COCOON_STEPS)
    assert np.max(np.abs(share - exact)) < 1e-6


def test_changing_temperature_gives_the_gamma_law_of_thermal_time() -> None:
    """Days below the base add nothing, however cold; only the sum of warmth counts."""
    hours = np.arange(24 * 150)
    temps_c = 12.0 + 9.0 * np.sin(hours * 2 * np.pi / 24) + 4.0 * np.sin(hours / 500.0)
    warmth = np.cumsum([incubation_warmth(P, temp) for temp in temps_c]) / 24.0
    exact = gamma.cdf(warmth, COCOON_STEPS, scale=P["worm_incubation_kd"] / COCOON_STEPS)
    assert np.max(np.abs(hatched_by_hour(temps_c) - exact)) < 1e-6


def test_no_incubation_below_the_base() -> None:
    assert hatched_by_hour(np.full(24 * 365, 6.0))[-1] == 0.0


def test_the_share_that_lives_is_kept() -> None:
    chains = np.full((1, COCOON_STEPS), 2.0)
    there, due, _ = advance_cocoons(chains, 0, 0.03, 0.9)
    assert there == 28.0
    assert due + chains.sum() == pytest.approx(25.2, rel=1e-14)
