"""What the thermometers lie off the model goes with something, or it does not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bedlore.learn.calibrate import calibrate
from bedlore.learn.discrepancy import SD_START_K, ahead_k
from bedlore.learn.misfit import complaints
from bedlore.learn.record import BY_CHANCE, Fit, Learnt, from_bytes, to_bytes
from bedlore.learn.traces import trace
from tests.twin_trials import BED
from tests.twin_world import World, make_world


@pytest.fixture(scope="module")
def world() -> World:
    return make_world(7, days=40, per_fortnight=4)


@pytest.fixture(scope="module")
def learnt(world: World) -> Learnt:
    return replace(calibrate([world.lesson(12)])[BED], model_error_k=0.2)


def with_rest(learnt: Learnt, about: str, rest_k: np.ndarray, hours: np.ndarray) -> Learnt:
    """As if so much had been left over at these hours."""
    fits = tuple(
        Fit(entry_id=f"r{i}", hour=int(hour), zones=(i % 2,), about=about, series=f"{about}:stick",
            seen=12.0 + off, expected=12.0, sd=1.0, away=off, prior_away=off, outlier=False)
        for i, (hour, off) in enumerate(zip(hours, rest_k, strict=True))
    )  # fmt: skip
    return replace(learnt, fits=fits, trace=None)


HOURS = np.sort(np.random.default_rng(1).integers(24, 24 * 40, 40))
NOISE = np.random.default_rng(2).normal(0.0, 0.6, 40)


def test_what_chance_leaves_over_is_rarely_called_a_fault(world, learnt) -> None:
    lesson = world.lesson(12)
    chances = [
        trace(with_rest(learnt, "temp", np.random.default_rng(seed).normal(0, 0.6, 40), HOURS),
              lesson).chance
        for seed in range(100)
    ]  # fmt: skip
    # Uniform: 5 of 100 below 0.05 and half below one half, within binomial 99.9 % bands.
    assert sum(c < BY_CHANCE for c in chances) <= 13
    assert 33 <= sum(c < 0.5 for c in chances) <= 67


def test_sun_in_the_evening_is_seen_and_said(world, learnt) -> None:
    """The bed begins at noon: six hours later it is warmest."""
    sunny = NOISE + 0.8 * np.sin(2 * np.pi * HOURS / 24)
    seen = with_rest(learnt, "temp", sunny, HOURS)
    found = trace(seen, world.lesson(12))
    assert found.chance < 0.01
    assert (found.direction, found.strength > 0) == ("evening", True)
    known = replace(seen, trace=found)
    said = [c for c in complaints(known, ["z0", "z1"]) if "hardly chance" in c.sentence]
    assert len(said) == 1
    assert "they lie above it in the evening" in said[0].sentence
    assert set(said[0].entries) == {f"r{i}" for i in range(40)}
    assert ahead_k(known) == SD_START_K  # as of a bed that was not learnt, not the log's 0.2 K
    assert ahead_k(seen) == seen.model_error_k
    assert from_bytes(to_bytes(known)).trace == found


def test_a_room_that_holds_its_heat_is_seen_by_its_own_thermometer(world, learnt) -> None:
    """What is left over follows a day's mean of the air against the week's, the other way."""
    air_c = world.lesson(12).air_of(learnt.params).between(0, 24 * 40).air_c.mean(axis=0)
    slow = np.array([air_c[h - 23 : h + 1].mean() - air_c[max(h - 167, 0) : h + 1].mean()
                     for h in HOURS])  # fmt: skip
    found = trace(with_rest(learnt, "air", 0.3 * NOISE - 0.5 * slow, HOURS), world.lesson(12))
    assert found.about == "air"
    assert found.chance < 0.01
    assert (found.direction, found.strength > 0) == ("slow", False)


def test_a_wander_that_the_log_tells_of_is_no_trace_by_itself(world, learnt) -> None:
    """Errors that last for days go with the weather by chance; that is in the null."""
    rng, fade = np.random.default_rng(5), np.exp(-1.0 / 48.0)
    low = 0
    for _ in range(40):
        away = np.zeros(24 * 40)
        for hour in range(1, len(away)):
            away[hour] = fade * away[hour - 1] + np.sqrt(1 - fade**2) * rng.standard_normal()
        rest = away[HOURS] + rng.normal(0.0, 0.3, 40)
        mine = with_rest(replace(learnt, model_error_k=1.0), "temp", rest, HOURS)
        mine = replace(mine, fits=tuple(replace(fit, zones=(0,)) for fit in mine.fits))
        low += trace(mine, world.lesson(12)).chance < BY_CHANCE
    assert low <= 7  # 2 of 40 asked; binomial 99.9 %


def test_few_readings_tell_nothing(world, learnt) -> None:
    assert trace(with_rest(learnt, "temp", NOISE[:7], HOURS[:7]), world.lesson(12)) is None
    assert trace(with_rest(learnt, "temp", np.zeros(40), HOURS), world.lesson(12)) is None
