"""Early signs: run lengths against published tables, whitening, drift found, a stuck probe."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bedlore.learn.cusum import calls, drift_of, exact_arl, limit_for, siegmund_arl
from bedlore.learn.drift import LEAST_LIMIT, limit_of, stuck, stuck_log_odds
from bedlore.learn.innovations import (
    Believed,
    Innovation,
    followed,
    innovations,
    normal_quantile,
)
from bedlore.learn.thermometers import Thermometer
from bedlore.learn.unknowns import Unknowns
from bedlore.learn.words import FoodLeft, Smell, SqueezeTest
from tests.warning_trials import quiet, read_by, watch

# Montgomery, Introduction to Statistical Quality Control, 6th ed., table 9.3 (from memory):
# two-sided mean run lengths for k = 1/2; row: shift in standard deviations, h = 4, h = 5.
MONTGOMERY = (
    (0.0, 168.0, 465.0), (0.25, 74.2, 139.0), (0.5, 26.6, 38.0), (0.75, 13.3, 17.0),
    (1.0, 8.38, 10.4), (1.5, 4.75, 5.75), (2.0, 3.34, 4.01), (3.0, 2.19, 2.57),
)  # fmt: skip


def two_sided(arl, shift: float, limit: float) -> float:
    """1/ARL of both sides add up (Montgomery, same chapter)."""
    return 1.0 / (1.0 / arl(shift, limit) + 1.0 / arl(-shift, limit))


@pytest.mark.parametrize(("shift", "at_4", "at_5"), MONTGOMERY)
def test_run_lengths_are_those_of_the_table(shift: float, at_4: float, at_5: float) -> None:
    assert two_sided(exact_arl, shift, 4.0) == pytest.approx(at_4, rel=0.02)
    assert two_sided(exact_arl, shift, 5.0) == pytest.approx(at_5, rel=0.02)
    assert two_sided(siegmund_arl, shift, 5.0) == pytest.approx(at_5, rel=0.08)


def test_siegmund_by_hand() -> None:
    """Montgomery's worked example (from memory): one side 938.2, both 469.1."""
    assert siegmund_arl(0.0, 5.0) == pytest.approx(938.2, abs=0.1)
    assert two_sided(siegmund_arl, 0.0, 5.0) == pytest.approx(469.1, abs=0.1)
    assert siegmund_arl(0.5, 5.0) == pytest.approx(6.166**2)  # no drift left: b squared
    assert limit_for(938.2) == pytest.approx(5.0, abs=1e-3)


def test_calls_come_as_often_as_the_chain_says() -> None:
    rng = np.random.default_rng(3)
    z = rng.standard_normal(60_000)
    found = len(calls(list(z), 3.0))
    expected = len(z) / exact_arl(0.0, 3.0)
    assert abs(found - expected) < 4.0 * math.sqrt(expected)


def test_a_drift_stands_until_it_has_come_right_again() -> None:
    shifted = [0.0, -1.0, 2.0, 2.0, 2.0, 2.0]
    drift = drift_of(shifted, 4.0)
    assert drift is not None
    assert (drift.began, drift.called) == (2, 4)
    assert drift_of([*shifted, -3.0, -3.0], 4.0) is None
    assert drift_of([0.4] * 50, 4.0) is None


def test_normal_quantiles() -> None:
    from statistics import NormalDist

    p = np.array([1e-6, 0.02, 0.5, 0.8, 0.9999])
    assert np.allclose(normal_quantile(p), [NormalDist().inv_cdf(x) for x in p], atol=1e-7)


def _believed(latents: np.ndarray, shown: list[float], every_h: int = 24) -> Believed:
    readings = tuple(
        Thermometer(f"r{i}", (i + 1) * every_h, (0,), t, 0.1, "line", 0.75, 0.1)
        for i, t in enumerate(shown)
    )
    return Believed(readings, latents, Unknowns(()), np.zeros((len(latents), 0)))


def test_a_bed_that_is_always_a_little_warmer_is_new_only_once() -> None:
    """Members differ by an offset of their own: the first reading tells it, the rest add little,
    as in the Kalman filter of a constant."""
    rng = np.random.default_rng(1)
    offset = 2.0 * rng.standard_normal((200, 1))
    latents = 12.0 + offset + np.zeros((200, 12))
    z = [one.z for one in innovations(_believed(latents, [14.0] * 12))]
    assert z[0] > 0.7
    assert max(abs(x) for x in z[4:]) < 0.45
    # No such offset among the members: every reading is news.
    steady = 12.0 + 0.05 * rng.standard_normal((200, 12))
    news = [one.z for one in innovations(_believed(steady, [14.0] * 12))]
    assert drift_of(news, 3.0) is not None


def test_a_stuck_thermometer_is_called_and_one_in_a_quiet_bed_is_not() -> None:
    rng = np.random.default_rng(2)
    days = np.arange(10)
    moving = 8.0 - 0.5 * days + 0.2 * rng.standard_normal((60, 1))
    assert [one.way for one in stuck(_believed(moving, [8.0] * 10))] == ["stuck"]
    quiet_bed = 8.0 + 0.0 * days + 0.01 * rng.standard_normal((60, 1))
    assert stuck(_believed(quiet_bed, [8.0] * 3 + [8.1] + [8.1] * 4)) == []
    assert stuck(_believed(moving, list(8.0 - 0.5 * days))) == []
    # By hand, one step in a bed that moves by 1 K in every member: P(same) is that of a normal of
    # sd 0.354 to lie within 0.05 of -1 K.
    jump = np.repeat([[8.0, 7.0]], 5, axis=0)
    same = (math.erf(1.05 / 0.5) - math.erf(0.95 / 0.5)) / 2.0
    log_odds = stuck_log_odds(_believed(jump, [8.0, 8.0]), [0, 1])
    assert log_odds == pytest.approx(math.log(0.99 / same), rel=1e-3)


def test_what_is_followed() -> None:
    many = [Thermometer(f"t{h}", h, (0,), 8.0, 0.1, "line") for h in range(1, 49)]
    words = [SqueezeTest("s", 5, (0,), "damp"), FoodLeft("f", 6, (0,), "some", 0.1),
             Smell("m", 6, (0,), "sour", False), Smell("n", 6, (0,), "sharp", True)]  # fmt: skip
    kept = followed([*many, *words])
    assert len([r for r in kept if r.about == "temp"]) == 8
    assert [r.entry_id for r in kept if r.about != "temp"] == ["s", "f", "m"]


def test_more_readings_call_for_a_higher_limit() -> None:
    def read(count: int) -> list[Innovation]:
        step = 28 * 24 / count
        return [Innovation(Thermometer("r", round(i * step), (0,), 8.0), 0.0) for i in range(count)]

    assert limit_of([]) == LEAST_LIMIT
    assert LEAST_LIMIT <= limit_of(read(8)) < limit_of(read(40)) < limit_of(read(90)) < 6.0


def test_a_right_twin_is_called_less_than_once_a_year() -> None:
    """A few of the farms of docs/warning.md: 10 entries a fortnight, 6.4 bed-years."""
    found = quiet(range(2), 42, per_fortnight=10)
    assert found.bed_years > 6.0
    assert found.interval()[0] < 1.0
    assert abs(found.z.mean()) < 0.15
    assert 0.85 < found.z.std() < 1.1


def test_a_thermometer_that_drifts_away_is_called() -> None:
    """0.4 K a day on top of what each truth shows, from the tenth day."""
    watched, rng = watch(3, 8), np.random.default_rng(4)
    called = 0
    for truth in watched.truths:
        believed = read_by(watched, truth, rng)
        begins = believed.readings[0].hour + 240
        off = tuple(
            type(r)(**{**vars(r), "temp_c": r.temp_c + 0.4 * max(0, r.hour - begins) / 24})
            if isinstance(r, Thermometer) else r for r in believed.readings
        )
        found = innovations(Believed(off, believed.latents, believed.unknowns, believed.z))
        warm = [one.z for one in found if one.reading.about == "temp"]
        called += drift_of(warm, limit_of(found)) is not None
    assert called >= 6
