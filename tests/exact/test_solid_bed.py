"""The bed of three dimensions that other models' logs are made with: heat equation by hand."""

from __future__ import annotations

import numpy as np
import pytest

from bedlore.bed.heat import HOUR_S
from tests.solid_bed import Body

X, Y, C = 8, 16, 10
SIDE_M, K_W_MK, J_M3K = 0.05, 0.4, 3.0e6


def body(sunny: float = 0.0, shady: float = 0.0, ends: float = 0.0) -> Body:
    """Cubes of 5 cm, each face that meets the outside with these conductances [W/K]."""
    between = K_W_MK * SIDE_M
    walls = {name: np.zeros((X, Y, C)) for name in ("sunny", "shady", "ends")}
    walls["sunny"][:, 0], walls["shady"][:, -1], walls["ends"][..., 0] = sunny, shady, ends
    return Body(
        capacity=np.full((X, Y, C), J_M3K * SIDE_M**3), along=np.full((X - 1, Y, C), between),
        across=np.full((X, Y - 1, C), between), down=np.full((X, Y, C - 1), between), **walls,
    )  # fmt: skip


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_cosine_between_insulated_walls_fades_as_the_heat_equation_says(axis: int) -> None:
    """``exp(-D (pi/L)^2 t)`` (Carslaw & Jaeger 1959, separable solution); the blocks are coarse."""
    count = (X, Y, C)[axis]
    shape = [1, 1, 1]
    shape[axis] = count
    wave = np.cos(np.pi * (np.arange(count) + 0.5) / count).reshape(shape) * np.ones((X, Y, C))
    mean_c, apart_k, here = np.full((X, 1, C), 20.0), wave, body()
    for _ in range(24):
        apart_k = here.after_an_hour(mean_c, apart_k, 0.0, 0.0) - mean_c
    rate = K_W_MK / J_M3K * (np.pi / (count * SIDE_M)) ** 2
    left = float((apart_k * wave).sum() / (wave * wave).sum())
    assert np.log(left) == pytest.approx(-rate * 24.0 * HOUR_S, rel=0.05)


def test_heat_is_kept_and_what_the_walls_give_is_what_the_bed_gains() -> None:
    rng = np.random.default_rng(3)
    apart_k, mean_c = rng.normal(size=(X, Y, C)), np.full((X, 1, C), 12.0)
    here = body(sunny=0.02, shady=0.01)
    after = here.after_an_hour(mean_c, apart_k, 4.0, 9.0)
    gained_j = float((here.capacity * (after - mean_c - apart_k)).sum())
    given_w = float((here.sunny * (9.0 - after) + here.shady * (4.0 - after)).sum())
    assert gained_j == pytest.approx(given_w * HOUR_S, rel=1e-4)


def test_up_and_down_only_what_is_apart_from_the_mean_flows() -> None:
    """The columns have carried their means up and down themselves."""
    layers = np.linspace(10.0, 20.0, C)[None, None, :] * np.ones((X, 1, 1))
    after = body(ends=0.05).after_an_hour(layers, np.zeros((X, Y, C)), 0.0, 0.0)
    assert np.allclose(after, layers, atol=1e-4)
