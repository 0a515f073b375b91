"""The herd: how many worms, how sure, and how many more cores are worth counting.

Sampling theory of clumped counts: with negative binomial counts of mean ``mu`` and size ``k`` the
relative standard error of the mean of n cores is ``sqrt((1/mu + 1/k)/n)``. Kuno 1969, Res. Popul.
Ecol. 11:127-136 (from memory), turns it into a rule for stopping.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedlore.facts.practice import HANDFUL_L
from bedlore.learn.counts import catch_of, clumping_of
from bedlore.learn.densities import normal_quantile
from bedlore.learn.record import Learnt
from bedlore.learn.scores import Z90
from bedlore.outlook.ahead import LOST_HERD_KG

Floats = NDArray[np.float64]
QUANTILES = (0.05, 0.25, 0.50, 0.75, 0.95)
SIX = 6  # handfuls that a keeper is asked to count
TRIES = (3, SIX, 12, 24, 48)
STOP_TRIES = (8, 12, 16, 24, 36)
STOP_SE = 0.3  # relative standard error at which a count is good enough: by half, 9 in 10 (assumed)
LOST_IN_MOST = 0.5  # of the members without a herd: then there is nothing to count


@dataclass(frozen=True)
class Band:
    """5, 25, 50, 75 and 95 % points."""

    low: float
    lower: float
    middle: float
    upper: float
    high: float

    @property
    def width(self) -> float:
        """Half the 90 % range, as a share of the middle."""
        return 0.5 * (self.high - self.low) / max(self.middle, 1e-9)


def band_of(values: Floats) -> Band:
    """Quantiles of a sample ``[M]``."""
    return Band(*(float(q) for q in np.quantile(values, QUANTILES)))


@dataclass(frozen=True)
class Herd:
    """Worms of a bed: numbers by stage, worms of all stages, live mass [kg], and mass by zone.

    ``feed_kg_day`` is what the worms take in a day at 20 degC with food at hand (fresh);
    ``lost_share`` of the ``members`` have no worms left, or next to none.
    """

    number: dict[str, Band]
    worms: Band
    mass_kg: Band
    by_zone_kg: dict[str, Band]
    clumping: Band
    feed_kg_day: Band
    lost_share: float
    members: int

    @property
    def lost(self) -> bool:
        """Whether most members have no worms left."""
        return self.lost_share > LOST_IN_MOST


def herd_of(learnt: Learnt, zone_ids: Sequence[str]) -> Herd:
    """The herd as the log shows it."""
    herd = learnt.state.herd
    stages = {
        "adults": herd.adult_n.sum(axis=1), "juveniles": herd.juvenile_n.sum(axis=1),
        "hatchlings": herd.hatchling_n.sum(axis=1), "cocoons": herd.cocoon_n.sum(axis=(1, 2)),
    }  # fmt: skip
    worms = stages["adults"] + stages["juveniles"] + stages["hatchlings"]
    by_zone = _by_zone_kg(learnt)
    whole_kg = by_zone.sum(axis=1)
    size = clumping_of(learnt.unknowns.column(learnt.z, "clumping"))
    return Herd(
        {stage: band_of(n) for stage, n in stages.items()}, band_of(worms), band_of(whole_kg),
        {zone: band_of(by_zone[:, i]) for i, zone in enumerate(zone_ids)},
        band_of(size), band_of(_feed_kg_day(learnt, worms, whole_kg)),
        float(_lost(learnt).mean()), len(worms),
    )  # fmt: skip


def _lost(learnt: Learnt) -> NDArray[np.bool_]:
    """Members ``[M]`` whose herd has died out but for a worm here and there."""
    return np.asarray(_by_zone_kg(learnt).sum(axis=1) < LOST_HERD_KG)


def _stage_kg(learnt: Learnt) -> dict[str, Floats]:
    """Live mass ``[M, Z]`` of each stage that moves; cocoons are not weighed."""
    herd = learnt.state.herd
    return {"adults": herd.adult_kg, "juveniles": herd.juvenile_kg,
            "hatchlings": herd.hatchling_kg}  # fmt: skip


def _by_zone_kg(learnt: Learnt) -> Floats:
    """Live mass ``[M, Z]`` of all worms."""
    return np.asarray(sum(_stage_kg(learnt).values()))


def _feed_kg_day(learnt: Learnt, worms: Floats, mass_kg: Floats) -> Floats:
    """Wet feed a day: intake of a 1 g worm goes with the two-thirds power of mass (JOH14)."""
    mean_g = 1000.0 * mass_kg / np.maximum(worms, 1.0)
    intake_g = learnt.params["worm_intake_rate"] * mean_g ** (2.0 / 3.0)
    return np.asarray(0.001 * worms * intake_g)


def cores_for(mean: float, clumping: float, half_width: float, *, z: float = Z90,
              fits: float = math.inf) -> int:  # fmt: skip
    """Cores needed for a relative ``half_width`` (0.2 is +-20 %) at a normal quantile ``z``.

    ``mean`` worms a core; ``fits`` how many cores the whole bed would make (finite bed).
    """
    n = z * z * (1.0 / max(mean, 1e-6) + 1.0 / clumping) / half_width**2
    return max(1, math.ceil((n if math.isinf(fits) else n / (1.0 + n / fits)) - 1e-9))


def count_sd(mean: float, clumping: float, catch_sd: float, cores: int) -> float:
    """What a count of ``cores`` leaves unsure, as a standard deviation of the logarithm of the
    number of worms: ``sqrt((1/mean + 1/k)/n + catch_sd^2)``, where the catch is known to
    ``catch_sd``. Six cores of ten worms, k = 2, the catch known: 0.316."""
    return math.sqrt((1.0 / max(mean, 1e-6) + 1.0 / clumping) / max(cores, 1) + catch_sd**2)


def usual_catch() -> tuple[float, float]:
    """Mean share of the worms that is found in a core, and the spread of its logarithm, before
    any log has told of it."""
    share = catch_of("juveniles", normal_quantile((np.arange(200) + 0.5) / 200))
    return float(share.mean()), float(np.log(share).std())


def stop_at(cores: int, clumping: float, precision: float) -> int | None:
    """Worms found in all at which counting can stop after ``cores``: the mean is then known to a
    relative standard error of ``precision``, ``T = 1 / (D^2 - 1/(k n))``. None where no total is
    enough. Kuno's line for ``variance = mean + mean^2/k``. 30 cores, k without end, D = 0.1: 100.
    """
    below = precision**2 - 1.0 / (clumping * cores)
    return math.ceil(1.0 / below - 1e-6) if below > 0.0 else None


@dataclass(frozen=True)
class Worth:
    """What more cores would do to the 90 % half-width of the number of worms, and where.

    ``dozens`` is how many cores alone would give +-20 %; ``stop`` after how many worms found in so
    many cores counting can stop.
    """

    now: float
    after: dict[int, float]
    zone_id: str
    mean_a_core: float
    dozens: int
    stop: dict[int, int]


def worth_counting(learnt: Learnt, zone_ids: Sequence[str],
                   litres: Sequence[float]) -> Worth | None:  # fmt: skip
    """How much 3 to 48 more handfuls (``HANDFUL_L``) would narrow the herd, taken where most is
    unsure; ``litres`` is the volume of each zone. None where most members have no worms left.

    The counts join what is known as independent pieces of information on the logarithm of the
    number; what is not known of the catch stays. Members whose herd has died out have no
    logarithm worth the name: the figures are those of a bed in which worms live.
    """
    herd, lives = learnt.state.herd, ~_lost(learnt)
    if lives.mean() < 1.0 - LOST_IN_MOST or not any(volume > 0.0 for volume in litres):
        return None
    by_zone = (herd.adult_n + herd.juvenile_n + herd.hatchling_n)[lives]
    worms = by_zone.sum(axis=1)
    unsure = np.where(np.asarray(litres) > 0.0, by_zone.std(axis=0), 0.0)
    best = int(np.argmax(unsure))
    size = float(np.median(clumping_of(learnt.unknowns.column(learnt.z, "clumping"))))
    catch = catch_of("juveniles", learnt.unknowns.column(learnt.z, "catch:juveniles"))[lives]
    # The mean over the members: worms that have moved on in most of them leave a median of none.
    mean = float(np.mean(catch * by_zone[:, best])) * HANDFUL_L / max(litres[best], 1e-3)
    now_sd = float(np.log(np.maximum(worms, 1.0)).std())
    catch_sd = float(np.log(catch).std())
    after = {}
    for cores in TRIES:
        told = count_sd(mean, size, catch_sd, cores)
        joint = math.sqrt(1.0 / (1.0 / max(now_sd, 1e-3) ** 2 + 1.0 / told**2))
        after[cores] = math.sinh(Z90 * joint)
    now = math.sinh(Z90 * now_sd)
    fits = sum(litres) / HANDFUL_L
    stop = {n: found for n in STOP_TRIES if (found := stop_at(n, size, STOP_SE)) is not None}
    return Worth(now, after, zone_ids[best], mean, cores_for(mean, size, 0.2, fits=fits), stop)


def stage_mass_kg(learnt: Learnt) -> dict[str, Band]:
    """Live mass of each stage that moves [kg]."""
    return {stage: band_of(kg.sum(axis=1)) for stage, kg in _stage_kg(learnt).items()}
