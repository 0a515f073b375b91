"""From log entries to readings, and what a reading says of an ensemble."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest
from scipy import stats

from bedlore.bed.build import bed_geometry
from bedlore.bed.engine import empty_state, simulate
from bedlore.bed.outputs import OUTPUT_NAMES
from bedlore.bed.plan import in_order
from bedlore.facts.parameters import draw
from bedlore.farm import log
from bedlore.learn.counts import (
    CLUMP_GRID,
    Amount,
    CoreCount,
    Measured,
    WormsAtDepth,
    clumping_log_posterior,
    drawn_clumping,
)
from bedlore.learn.densities import (
    log_gamma,
    negative_binomial_logpmf,
    normal_between,
    student_logpdf,
)
from bedlore.learn.discrepancy import fits
from bedlore.learn.moment import Moment
from bedlore.learn.observations import readings_of_log
from bedlore.learn.thermometers import AirThermometer, Thermometer
from bedlore.learn.words import FoodLeft, Smell, SqueezeTest
from tests.unit.bed.beds import feed_rows, start_rows, two_sided, year_air

START = dt.datetime(2024, 9, 1, 12, tzinfo=dt.UTC)
DAYS = 12
MEMBERS = 5


@pytest.fixture(scope="module")
def moment():
    """Five members after twelve days, and the run's own outputs."""
    bed = two_sided()
    hours = DAYS * 24
    air = year_air(hours)
    acts = in_order(start_rows(4) + feed_rows(hours, 4))
    run = simulate(bed_geometry(bed), draw(MEMBERS, 3), empty_state(MEMBERS, 4, 12), air, acts)
    window = np.repeat(air.air_c[:, -24:], MEMBERS, axis=0)
    return Moment(bed_geometry(bed), run.state, hours, window), run


def nothing(name: str) -> np.ndarray:
    return np.zeros(MEMBERS)


def alone(name: str) -> np.ndarray:
    return np.zeros(1)


@pytest.mark.parametrize(
    ("name", "tell", "tolerance"),
    [
        ("temp_probe_c", lambda m, z: m.temp_c([z], 0.10), 0.02),
        ("moisture_frac", lambda m, z: m.moisture_frac([z]), 1e-3),
        ("depth_m", lambda m, z: m.depth_m([z]), 1e-3),
        ("adults_n", lambda m, z: m.number("adults", [z]), 1e-6),
        ("cocoons_n", lambda m, z: m.number("cocoons", [z]), 1e-6),
        ("sour_index", lambda m, z: m.sourness([z]), 1e-6),
    ],
)
def test_a_moment_sees_what_the_run_wrote_down(moment, name, tell, tolerance) -> None:
    here, run = moment
    for zone in range(4):
        wrote = run.values[:, -1, zone, OUTPUT_NAMES.index(name)]
        assert np.allclose(tell(here, zone), wrote, rtol=tolerance, atol=tolerance)


def test_zones_are_added_or_averaged(moment) -> None:
    here, _ = moment
    one, other = here.soft_food_kg([0]), here.soft_food_kg([1])
    assert one.shape == (MEMBERS,)
    assert np.allclose(here.soft_food_kg([0, 1]), one + other)
    assert np.allclose(here.volume_l([0, 1]), here.volume_l([0]) + here.volume_l([1]))
    assert np.allclose(
        here.temp_c([0, 1], 0.1), 0.5 * (here.temp_c([0], 0.1) + here.temp_c([1], 0.1))
    )


def test_worms_at_depth_add_up_to_the_herd(moment) -> None:
    here, _ = moment
    thick = here.thickness_m(0)
    centres = np.cumsum(thick, axis=1) - 0.5 * thick
    depth = float(centres[:, 5].mean())
    density = here.worms_per_l([0], depth)
    assert density.min() >= 0.0
    mean = sum(here.number(s, [0]) for s in ("adults", "juveniles", "hatchlings"))
    assert np.all(density < 60 * mean / here.volume_l([0]))


def test_a_thermometer_has_offset_lag_and_rounding(moment) -> None:
    here, _ = moment
    reading = Thermometer("r", here.hour, (0,), 9.0, 0.1, "stick", 0.6, 1.0)
    bed, air = here.temp_c([0], 0.1), here.air_c[:, -1]

    def pulled(name: str) -> np.ndarray:
        return np.full(MEMBERS, 2.0 if name.startswith("offset") else -50.0)

    assert np.allclose(reading.predict(here, pulled), bed + 1.0)  # two sd of 0.5 K, no lag

    def hasty(name: str) -> np.ndarray:
        return np.full(MEMBERS, 50.0 if name.startswith("lag") else 0.0)

    assert np.allclose(reading.predict(here, hasty), 0.5 * (bed + air))
    assert reading.sd_k == pytest.approx(math.sqrt(0.36 + 1 / 12))


def test_an_air_extreme_is_that_of_the_day(moment) -> None:
    here, _ = moment
    for which, expected in (("min", here.air_c.min(axis=1)), ("max", here.air_c.max(axis=1))):
        reading = AirThermometer("r", here.hour, (0,), 5.0, which)
        assert np.allclose(reading.predict(here, nothing), expected)


def test_an_outlier_costs_a_student_t_little(moment) -> None:
    reading = Thermometer("r", 5, (0,), 10.0, error_k=0.75)
    far, near = reading.log_likelihood(np.array([25.0, 10.5]), nothing)
    assert near - far < 16  # a normal would take 200
    expected = stats.t.logpdf(15 / (0.85 * 0.75), 4) - math.log(0.85 * 0.75)
    assert far == pytest.approx(expected)


def test_words_share_out_all_of_the_odds(moment) -> None:
    latent = np.linspace(0.4, 0.95, MEMBERS)
    words = [SqueezeTest("r", 5, (0,), word) for word in ("crumbly", "damp", "drops", "runs")]
    total = sum(np.exp(word.log_likelihood(latent, nothing)) for word in words)
    assert np.allclose(total, 1.0)
    food = [FoodLeft("r", 5, (0,), word, 0.1) for word in ("none", "some", "lots")]
    assert np.allclose(sum(np.exp(w.log_likelihood(latent * 0, nothing)) for w in food), 1.0)
    smells = [Smell("r", 5, (0,), "sour", seen) for seen in (True, False)]
    assert np.allclose(sum(np.exp(s.log_likelihood(latent, nothing)) for s in smells), 1.0)


def test_a_keeper_who_says_damp_early_is_understood() -> None:
    """By hand: at 65 % with cut points 60 and 70 and an eye of 4 points, "damp" has
    0.92 (2 Phi(1.25) - 1) + 0.02 = 0.746."""
    reading = SqueezeTest("r", 5, (0,), "damp")
    got = float(np.exp(reading.log_likelihood(np.array([0.65]), alone)[0]))
    assert got == pytest.approx(0.92 * (2 * stats.norm.cdf(1.25) - 1) + 0.02)


def test_counts_are_negative_binomial_of_catch_and_volume(moment) -> None:
    here, _ = moment
    reading = CoreCount("r", here.hour, (0,), 7, 2.0, ("adults",))
    latent = reading.predict(here, nothing)
    catch = 1 / (1 + math.exp(-2.3))
    mean = catch * here.number("adults", [0]) * 2.0 / here.volume_l([0])
    assert np.allclose(np.exp(latent), mean + 1e-3)
    k = 1.5
    expected = stats.nbinom.logpmf(7, k, k / (k + np.exp(latent)))
    assert np.allclose(reading.log_likelihood(latent, nothing), expected)
    none = CoreCount("r", here.hour, (0,), 0, 2.0, ("adults",))
    few, many = (none.log_likelihood(np.log([mean]), alone) for mean in (0.1, 10.0))
    assert few > many


def test_clumping_is_drawn_from_its_posterior() -> None:
    """Counts that differ wildly around one mean call for clumps; even ones do not."""
    rng = np.random.default_rng(1)

    def middle(counts: list[int]) -> float:
        cores = [CoreCount(f"c{i}", 1, (0,), n, 1.0, ("adults",)) for i, n in enumerate(counts)]
        latents = np.full((400, len(counts)), math.log(10.0))
        return float(np.median(drawn_clumping(clumping_log_posterior(cores, latents), rng)))

    assert middle([0, 0, 45, 1, 0, 60, 2, 0]) < -0.8
    assert middle([9, 11, 10, 8, 12, 10, 9, 11]) > 0.8
    assert abs(middle([])) < 0.25
    assert CLUMP_GRID[0] == -3.0


def test_other_amounts(moment) -> None:
    here, _ = moment
    harvest = Amount("r", here.hour, (0,), 5.0, 0.2, "harvest", 0.5)
    assert np.allclose(np.exp(harvest.predict(here, nothing)), 0.5 * here.wet_mass_kg([0]))
    weighed = Measured("r", here.hour, (0,), 0.7, 0.02, "moisture")
    assert np.allclose(weighed.predict(here, nothing), here.moisture_frac([0]))
    depth = Measured("r", here.hour, (0,), 0.2, 0.02, "depth")
    exact = depth.log_likelihood(np.array([0.2]), nothing)
    assert exact == pytest.approx(stats.norm.logpdf(0, 0, 0.02))
    seen, unseen = (WormsAtDepth("r", here.hour, (0,), s, 0.1) for s in (True, False))
    latent = seen.predict(here, nothing)
    odds = np.exp(seen.log_likelihood(latent, nothing)) + np.exp(
        unseen.log_likelihood(latent, nothing)
    )
    assert np.allclose(odds, 1.0)


def test_densities_against_scipy() -> None:
    x = np.linspace(0.1, 50, 40)
    assert np.allclose(log_gamma(x), [math.lgamma(v) for v in x])
    assert np.allclose(student_logpdf(x, 2.0, 4.0), stats.t.logpdf(x / 2, 4) - math.log(2))
    assert np.allclose(negative_binomial_logpmf(3, x, 2.0), stats.nbinom.logpmf(3, 2, 2 / (2 + x)))
    assert normal_between(-1.0, 2.0) == pytest.approx(stats.norm.cdf(2) - stats.norm.cdf(-1))


# --- from the log --------------------------------------------------------------------------------


def at(day: float) -> dt.datetime:
    return START + dt.timedelta(days=day)


def readings(*entries: log.AnyEntry):
    return readings_of_log(two_sided(), entries, START, at(30))


def test_every_kind_of_reading_is_understood() -> None:
    common = {"bed": "sluice", "zone": "race-1"}
    found = readings(
        log.Feed(id="f", at=at(1), **common,
                 parts=(log.Part(material="food_mixed_kitchen", mass_kg=2.0),)),
        log.Probe(id="p", at=at(2), **common, temp_c=8.0, depth_m=0.2, device="Stick"),
        log.Probe(id="a", at=at(2), **common, temp_c=3.0, device="air min"),
        log.Squeeze(id="s", at=at(3), **common, word="drops", who="Ana"),
        log.Look(id="l", at=at(4), **common, food_left="some", smell="earthy"),
        log.Core(id="c", at=at(5), **common, volume_l=1.0, adults=3, juveniles=8, cocoons=0),
        log.Core(id="w", at=at(5), **common, volume_l=1.0, worms=12),
        log.Harvest(id="h", at=at(6), **common, mass_kg=4.0, share=0.5, moisture_frac=0.72),
        log.Note(id="n", at=at(7), **common),
    )  # fmt: skip
    kinds = [(r.entry_id, type(r).__name__) for r in found]
    assert kinds == [
        ("a", "AirThermometer"), ("p", "Thermometer"), ("s", "SqueezeTest"), ("l", "FoodLeft"),
        ("l", "Smell"), ("l", "Smell"), ("c", "CoreCount"), ("c", "CoreCount"),
        ("c", "CoreCount"), ("w", "CoreCount"), ("h", "Amount"), ("h", "Measured"),
    ]  # fmt: skip
    by_id = {r.entry_id: r for r in found}
    assert by_id["p"].zones == (0,)
    assert by_id["a"].which == "min"
    assert by_id["w"].stages == ("adults", "juveniles", "hatchlings")
    food = next(r for r in found if isinstance(r, FoodLeft))
    assert 0.0 < food.last_feed_kg < 2.0


def test_air_depth_water_and_a_dig_are_understood(moment) -> None:
    here, _ = moment
    common = {"bed": "sluice", "zone": "race-1"}
    found = readings(
        log.AirReading(id="a", at=at(2), **common, temp_c=4.0, low_c=-2.0, high_c=9.0),
        log.BeddingDepth(id="d", at=at(3), **common, depth_m=0.25),
        log.Moisture(id="m", at=at(4), **common, wet_kg=0.100, dry_kg=0.027, depth_m=0.2),
        log.Dig(id="w", at=at(5), **common, found="no", depth_m=0.3),
    )  # fmt: skip
    low, high = (next(r for r in found if getattr(r, "which", "") == w) for w in ("min", "max"))
    assert (low.temp_c, high.temp_c) == (-2.0, 9.0)
    depth, water, dig = found[3:]
    assert (depth.what, depth.value) == ("depth", 0.25)
    assert water.value == pytest.approx(0.73)
    assert np.allclose(water.predict(here, nothing), here.moisture_frac([0], 0.2))
    assert (dig.seen, dig.depth_m) == (False, 0.3)


def test_readings_outside_the_time_or_of_other_beds_are_passed_over() -> None:
    assert not readings(
        log.Probe(id="a", at=START, bed="sluice", temp_c=8.0),
        log.Probe(id="b", at=at(31), bed="sluice", temp_c=8.0),
        log.Probe(id="c", at=at(3), bed="other", temp_c=8.0),
    )


def test_a_reading_without_a_place_is_of_the_side_being_fed() -> None:
    probe = log.Probe(id="p", at=at(5), bed="sluice", temp_c=8.0)
    switched = readings(log.Switch(id="x", at=at(4), bed="sluice", side="bank"), probe)
    assert switched[0].zones == (2, 3)
    later = readings(log.Switch(id="x", at=at(6), bed="sluice", side="bank"), probe)
    assert later[0].zones != (2, 3)


def test_rounding_is_seen_after_some_readings() -> None:
    def of(values: list[float]):
        return readings(*(log.Probe(id=f"p{i}", at=at(1 + i), bed="sluice", temp_c=v, device="d")
                          for i, v in enumerate(values)))  # fmt: skip

    assert of([8, 10, 12, 14, 10, 8])[0].step_k == 2.0
    assert of([8, 9, 12, 14, 10, 8])[0].step_k == 1.0
    assert of([8.1, 9, 12, 14, 10, 8])[0].step_k == 0.0
    assert of([8, 10])[0].step_k == 0.0


def test_no_worm_found_is_no_more_worms_than_the_model_gives() -> None:
    """A count of none beside a mean of a hundredth is what is to be expected."""
    core = CoreCount("none", 30, (0,), 0, 1.0, ("hatchlings",))
    view = lambda _: np.zeros(20)  # noqa: E731
    few = core.sight(np.full(20, np.log(0.01)), view)
    many = core.sight(np.full(20, np.log(50.0)), view)
    assert [fit.away for fit in fits([core], [few], [few], 0.0)] == [0.0]
    assert fits([core], [many], [many], 0.0)[0].away < -2.0
