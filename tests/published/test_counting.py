"""How many samples to count, by the sampling theory of clumped counts.

The sample size for counts from a negative binomial, ``n = (100 t / r)^2 (1/mean + 1/k)``, is that
of Krebs, Ecological Methodology, section 7.2.3 (formula from memory; no printed example could be
read, so the examples here are worked by hand). Kuno's line (1969) is checked where counts are
Poisson, and on simulated counts.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from bedlore.learn.herd import Z90, cores_for, count_sd, stop_at


def test_negative_binomial_sample_size() -> None:
    """(1.96/0.15)^2 (1/4 + 1/3) = 170.7 * 0.5833 = 99.6."""
    assert cores_for(4.0, 3.0, 0.15, z=1.96) == 100


@pytest.mark.parametrize(
    ("mean", "clumping", "cores"),
    [(5, 0.5, 149), (5, 4, 31), (10, 1, 75), (10, 2, 41), (20, 0.5, 139), (40, 4, 19)],
)
def test_dozens_of_handfuls_for_twenty_per_cent(mean: float, clumping: float, cores: int) -> None:
    """90 %, +-20 %: 1.645^2 (1/mean + 1/k) / 0.04, to the nearest core."""
    assert cores_for(mean, clumping, 0.2) == pytest.approx(cores, abs=1)


def test_a_small_bed_needs_fewer() -> None:
    """72 cores of an endless bed are 42 of one that makes 100 (n / (1 + n/N))."""
    endless = cores_for(30, 1.03, 0.2)
    assert cores_for(30, 1.03, 0.2, fits=100) == math.ceil(endless / (1 + endless / 100))


def test_five_handfuls_give_plus_minus_57_per_cent() -> None:
    assert Z90 * count_sd(10, 2, 0.0, 5) == pytest.approx(0.57, abs=0.005)


def test_kunos_line_by_hand() -> None:
    """Poisson counts, k without end: 1/D^2 worms, however many cores it took. Clumped ones: below
    1/(k D^2) cores no total is enough; 26 cores, k = 1, D = 0.2: 1/(0.04 - 1/26) = 650."""
    assert stop_at(30, 1e12, 0.1) == stop_at(3, 1e12, 0.1) == 100
    assert stop_at(24, 1.0, 0.2) is None
    assert stop_at(26, 1.0, 0.2) == 650


def test_kuno_line_gives_the_stated_error() -> None:
    """Counts drawn until the line is crossed: the error of the mean is near the one asked for."""
    rng = np.random.default_rng(6)
    mean, k, ask = 8.0, 2.0, 0.15
    ends = []
    for _ in range(400):
        total = cores = 0
        while cores < 2 or (line := stop_at(cores, k, ask)) is None or total < line:
            total += int(rng.poisson(rng.gamma(k, mean / k)))
            cores += 1
        ends.append(total / cores)
    assert np.std(ends) / mean == pytest.approx(ask, rel=0.2)
