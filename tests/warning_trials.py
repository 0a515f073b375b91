"""How often a bed is called whose twin is right, and how early one is that goes sour unseen.

Truths are members of the ensemble's own prior that the ensemble does not hold, run through the
same model, with readings made by the observation models. A window begins as a keeper's does: the
ensemble has followed the bed, but not its readings.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from bedlore.facts.parameters import draw
from bedlore.farm import log
from bedlore.learn.cusum import calls
from bedlore.learn.discrepancy import SD_START_K, covariance
from bedlore.learn.drift import STREAMS, limit_of, stuck
from bedlore.learn.forward import Forward
from bedlore.learn.innovations import (
    Believed,
    Innovation,
    alternatives,
    followed,
    innovations,
    word_odds,
)
from bedlore.learn.sight import Reading
from bedlore.learn.thermometers import Thermometer
from bedlore.learn.unknowns import draw_z, unknowns_of
from bedlore.learn.words import FoodLeft, Smell
from tests.twin_world import HOUR, World, make_world

MEMBERS = 64
SETTLED_D = 28  # before the first reading that is watched
WATCHED_D = 28
SECRET_D = 5  # day of the watch from which somebody does something and says nothing
# What is laid every second day [kg/m2]: more scraps and bread than any bed clears.
SECRET_KG_M2 = {"food_mixed_kitchen": 3.0, "food_bread": 2.0}
SECRET_WATER_KG_M2 = 2.0
_TINY = 1e-4


@dataclass(frozen=True)
class Watch:
    """One bed followed for ``WATCHED_D`` days by members that are not the truth, and truths."""

    world: World
    readings: tuple[Reading, ...]
    latents: np.ndarray  # [MEMBERS + truths, N]
    model: Forward
    z: np.ndarray
    smelt: np.ndarray  # [MEMBERS + truths, days] sourness over what is smelt, as a logarithm

    @property
    def truths(self) -> range:
        return range(MEMBERS, len(self.latents))


class Unlogged(Forward):
    """Members of the ensemble do not get what nobody wrote down; truths do."""

    def factors(self, z: np.ndarray, params: np.ndarray, origin: np.ndarray) -> np.ndarray:
        found = super().factors(z, params, origin)
        hidden = np.flatnonzero(np.isin(self.acts[:, 0], list(_secret_hours())))
        found[:MEMBERS, hidden] = _TINY
        return found


def watch(seed: int, truths: int, per_fortnight: int = 20, secret: bool = False) -> Watch:
    """Follow one bed; with ``secret`` something happens to the truths that is in nobody's log."""
    world = make_world(seed, days=SETTLED_D + WATCHED_D, per_fortnight=per_fortnight, outliers=0.0)
    if secret:
        world = replace(world, entries=(*world.entries, *_unlogged(world)))
    lesson = world.lesson(1)
    seen = [r for r in lesson.readings if r.hour > SETTLED_D * 24]
    looks = [r for r in seen if isinstance(r, FoodLeft)]
    seen += [Smell(r.entry_id, r.hour, r.zones, "sour", False) for r in looks]
    seen = followed(seen)
    every = tuple(range(len(world.bed.zones)))
    for day in range(WATCHED_D):
        seen.append(Smell("smelt", (SETTLED_D + day) * 24 + 1, every, "sour", False))
    readings = tuple(sorted(seen, key=lambda r: r.hour))
    base = draw(MEMBERS + truths, 31 + seed)
    unknowns = unknowns_of([world.bed.id], [u for r in readings for u in r.nuisances()])
    model = Unlogged(replace(lesson, readings=readings, base=base), unknowns)
    z = draw_z(unknowns, MEMBERS + truths, 77 + seed)
    latents = model.run(z).latents
    ids = np.array([r.entry_id for r in readings])
    kept = tuple(r for r in readings if r.entry_id != "smelt")
    return Watch(world, kept, latents[:, ids != "smelt"], model, z, latents[:, ids == "smelt"])


def _secret_hours() -> range:
    """Hours of night, at which nobody writes anything."""
    return range((SETTLED_D + SECRET_D) * 24 + 3, (SETTLED_D + WATCHED_D) * 24, 48)


def _unlogged(world: World) -> Iterator[log.AnyEntry]:
    for hour in _secret_hours():
        common = {"at": world.start + hour * HOUR, "bed": world.bed.id}
        area = world.bed.area_m2
        parts = tuple(log.Part(material=m, mass_kg=kg * area) for m, kg in SECRET_KG_M2.items())
        yield log.Feed(id=f"secret-f{hour}", parts=parts, **common)
        yield log.Water(id=f"secret-w{hour}", mass_kg=SECRET_WATER_KG_M2 * area, **common)


def read_by(watched: Watch, truth: int, rng: np.random.Generator) -> Believed:
    """What the ensemble believes, with readings as this truth would have given them."""
    view = lambda name: watched.model.unknowns.column(watched.z, name)[[truth]]  # noqa: E731
    wander = covariance(watched.readings, [""] * len(watched.readings), SD_START_K)
    off = rng.multivariate_normal(np.zeros(len(wander)), wander, method="eigh")
    made = []
    for i, reading in enumerate(watched.readings):
        latent = watched.latents[[truth], i]
        words = alternatives(reading)
        if words:
            odds = word_odds(words, latent, view)[:, 0]
            made.append(words[int(rng.choice(len(words), p=odds / odds.sum()))])
        elif isinstance(reading, Thermometer):
            shown = latent[0] + off[i] + reading.error_k * rng.standard_normal()
            made.append(replace(reading, temp_c=float(np.round(shown * 2) / 2)))
    return Believed(tuple(made), watched.latents[:MEMBERS], watched.model.unknowns,
                    watched.z[:MEMBERS])  # fmt: skip


@dataclass(frozen=True)
class Quiet:
    """What came of beds whose twin is right."""

    bed_years: float
    false_alarms: int
    stuck_alarms: int
    z: np.ndarray

    @property
    def rate(self) -> float:
        """False alarms a bed-year."""
        return self.false_alarms / self.bed_years

    def interval(self) -> tuple[float, float]:
        """90 % interval of the rate (Poisson, by the chi-squared quantiles)."""
        from scipy.stats import chi2

        low = chi2.ppf(0.05, 2 * self.false_alarms) / 2 if self.false_alarms else 0.0
        return low / self.bed_years, chi2.ppf(0.95, 2 * self.false_alarms + 2) / 2 / self.bed_years


def quiet(seeds: Sequence[int], truths: int, per_fortnight: int = 20) -> Quiet:
    """False alarms over ``seeds`` beds with ``truths`` truths each, windows put end to end."""
    alarms = stuck_alarms = 0
    z_all: list[float] = []
    for seed in seeds:
        watched, rng = watch(seed, truths, per_fortnight), np.random.default_rng([seed, 5])
        for truth in watched.truths:
            believed = read_by(watched, truth, rng)
            found = innovations(believed)
            z_all += [one.z for one in found]
            limit = limit_of(found)
            for stream in STREAMS:
                alarms += len(calls([stream.sign * o.z for o in found if stream.counts(o)], limit))
            stuck_alarms += len(stuck(believed))
    years = len(seeds) * truths * WATCHED_D / 365.25
    return Quiet(years, alarms, stuck_alarms, np.array(z_all))


@dataclass(frozen=True)
class Early:
    """Of beds soured by what nobody wrote down: days of warning before it would be smelt, None
    where there was none before."""

    days: tuple[float | None, ...]

    def share(self, ahead_d: float) -> float:
        """Share called at least ``ahead_d`` days before."""
        return sum(d is not None and d >= ahead_d for d in self.days) / max(len(self.days), 1)


def early(seeds: Sequence[int], truths: int, per_fortnight: int = 20) -> Early:
    """How early beds that somebody overfeeds are called, by any way."""
    days: list[float | None] = []
    for seed in seeds:
        watched, rng = watch(seed, truths, per_fortnight, True), np.random.default_rng(seed)
        for truth in watched.truths:
            when = np.flatnonzero(watched.smelt[truth] > 0.0)
            if not len(when) or when[0] <= SECRET_D + 1:
                continue  # never, or before anything could be told
            at = (SETTLED_D + when[0]) * 24
            found = innovations(read_by(watched, truth, rng))
            days.append(_first_call(found, limit_of(found), at))
    return Early(tuple(days))


def _first_call(found: Sequence[Innovation], limit: float, harm_at: int) -> float | None:
    """Days from the first call after the secret began to the harm."""
    began, when = min(_secret_hours()), []
    for stream in STREAMS:
        mine = [o for o in found if stream.counts(o) and o.reading.hour < harm_at]
        called = calls([stream.sign * o.z for o in mine], limit)
        when += [mine[place].reading.hour for place in called if mine[place].reading.hour > began]
    return (harm_at - min(when)) / 24.0 if when else None
