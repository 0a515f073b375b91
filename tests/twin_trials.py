"""Twin experiments: learn invented beds whose truth is hidden, and see how well it went."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from bedlore.bed.build import bed_geometry
from bedlore.bed.engine import Run, simulate
from bedlore.bed.layout import Herd
from bedlore.bed.matter import DRY_HEAT_J_KGK, DRY_PER_CARBON, WATER_HEAT_J_KGK
from bedlore.decide.action_rows import FOOD_COVER_W_MK
from bedlore.learn.calibrate import calibrate, farm_of
from bedlore.learn.densities import normal_cdf
from bedlore.learn.discrepancy import ahead_k
from bedlore.learn.misfit import complaints
from bedlore.learn.record import Learnt
from bedlore.learn.references import REFERENCES, Past, Record, refer
from bedlore.learn.scores import crps_ensemble, crps_normal
from bedlore.learn.unknowns import learnt_parameters, z_of
from bedlore.outlook.doubt import wander
from bedlore.weather.series import WeatherEnsemble, WeatherSeries
from tests.twin_world import (
    AHEAD_D,
    NO_CORES,
    Cores,
    World,
    WorldAir,
    forecast_of,
    make_world,
    true_number,
)

LEADS_D = (1, 3, 7, 14)
DEPTH_M = 0.25  # of material, about, for the walls that leak
BED = "sluice"


@dataclass(frozen=True)
class Trial:
    """One farm: ranks of the truth (0..1), scores of the 3-day outlook [K], and words."""

    seed: int
    parameter_ranks: dict[str, float]
    prior_ranks: dict[str, float]  # of the same truths before anything is read
    temp_ranks: dict[int, list[float]]  # by lead, one a zone
    herd_rank: float
    herd_ratio: float  # median over truth, of all worms
    adults_ratio: float
    mass_ratio: float
    crps_3d_k: dict[str, float]  # under known weather and under a forecast
    reference_3d_k: dict[str, dict[str, float]]
    time_constant_h: float
    complaints: int
    method: str
    khat: float


def rank(members: np.ndarray, truth: float) -> float:
    """Share of the members below the truth."""
    return float((np.sum(members < truth) + 0.5) / (len(members) + 1))


def ahead(world: World, learnt: Learnt, members: int,
          outdoor: WeatherEnsemble | None = None) -> Run:  # fmt: skip
    """The fortnight after now by every member in the true weather (or ``outdoor``), hourly."""
    farm = farm_of([world.lesson(members)])
    model = farm.models[0]
    first = (world.now - world.start) // dt.timedelta(hours=1)
    air = WorldAir(world, learnt.params, outdoor).between(first, first + AHEAD_D * 24)
    acts = model.acts
    factors = model.factors(np.zeros((members, len(farm.unknowns))), learnt.params, learnt.origin)
    due = (acts[:, 0] >= first) & (acts[:, 0] < first + AHEAD_D * 24)
    mine = acts[due].copy()
    mine[:, 0] -= first
    return simulate(model.geometry, learnt.params, learnt.state, air, mine,
                    scale=np.ascontiguousarray(factors[:, due]), every=1)  # fmt: skip


def trial(seed: int, *, days: int = 60, per_fortnight: int = 10, cores: Cores = NO_CORES,
          members: int = 200) -> Trial:  # fmt: skip
    """Learn one farm of a hidden truth and look a fortnight ahead."""
    return judge(make_world(seed, days=days, per_fortnight=per_fortnight, cores=cores), members)


def judge(world: World, members: int = 200) -> Trial:
    """Learn the bed of ``world`` and hold what is told of the fortnight ahead to the truth."""
    learnt = calibrate([world.lesson(members)])[BED]
    truth = world.truth.series("temp_probe_c")
    forecast, futures = forecast_of(world, members)
    told = {
        how: _with_wander(ahead(world, learnt, members, outdoor), learnt, world.seed)
        for how, outdoor in (("known", None), ("forecast", futures))
    }
    mine = told["known"]
    zones = range(mine.shape[2])
    temp_ranks = {
        lead: [rank(mine[:, 24 * lead - 1, z], truth[0, 24 * lead - 1, z]) for z in zones]
        for lead in LEADS_D
    }
    herds = told_herd(learnt.state.herd), told_herd(world.truth_state.herd)
    ratios = [
        float(np.median(mine) / max(true[0], 1e-9)) for mine, true in zip(*herds, strict=True)
    ]
    at = 3 * 24 - 1
    crps = {
        how: float(np.mean([crps_ensemble(run[:, at, z], truth[0, at, z]) for z in zones]))
        for how, run in told.items()
    }
    references = {
        how: _references(world, weather, truth[0, at])
        for how, weather in (("known", world.weather), ("forecast", forecast))
    }
    drawn = learnt_parameters() if world.truth_params is not None else ()
    true = {name: float(world.truth_params[name][0]) for name in drawn}
    return Trial(
        world.seed,
        {name: rank(learnt.params[name], value) for name, value in true.items()},
        {name: float(normal_cdf(z_of(name, np.array(value)))) for name, value in true.items()},
        temp_ranks, rank(herds[0][0], true_number(world)), *ratios, crps, references,
        time_constant_h(world),
        len(complaints(learnt, [zone.id for zone in world.bed.zones])), learnt.method,
        learnt.khat,
    )  # fmt: skip


def told_herd(herd: Herd) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Worms of all stages, adults, and mass of all [kg], each ``[M]``."""
    worms = (herd.adult_n + herd.juvenile_n + herd.hatchling_n).sum(axis=1)
    kg = (herd.adult_kg + herd.juvenile_kg + herd.hatchling_kg).sum(axis=1)
    return worms, herd.adult_n.sum(axis=1), kg


def _with_wander(run: Run, learnt: Learnt, seed: int) -> np.ndarray:
    """Probe temperatures ``[M, T, Z]`` with what the model cannot follow."""
    mine = run.series("temp_probe_c")
    away = wander(len(mine), mine.shape[1], ahead_k(learnt), seed)
    return np.asarray(mine + away[:, :, None])


def time_constant_h(world: World) -> float:
    """Heat capacity of what the true bed holds over what leaks from it [h]."""
    bed, cells = bed_geometry(world.bed), world.truth_state.cells
    dry_kg = (cells.carbon_kg * np.array(DRY_PER_CARBON)).sum() + cells.ash_kg.sum()
    capacity_j_k = WATER_HEAT_J_KGK * cells.water_kg.sum() + DRY_HEAT_J_KGK * dry_kg
    cover_r = world.truth_state.zones.cover_m[0] / FOOD_COVER_W_MK
    leak = bed.area_m2 / (cover_r + bed.lid_r + bed.top_film_r)
    leak = leak + bed.area_m2 / (bed.base_r + bed.base_film_r)
    leak = leak + bed.side_m * DEPTH_M / (bed.side_r + bed.side_film_r)
    return float(capacity_j_k / leak.sum() / 3600.0)


def _references(world: World, weather: WeatherSeries, truth: np.ndarray) -> dict[str, float]:
    """Mean CRPS [K] of the references, told ``weather``, against the noise-free truth in three
    days."""
    probes = sorted(
        (e for e in world.entries if e.kind == "probe" and e.device != "air"), key=lambda e: e.at
    )
    past = Past(tuple(e.at for e in probes), tuple(e.temp_c for e in probes))
    record = Record({(BED, "any"): past}, weather)
    seen_at = world.now + dt.timedelta(days=3)
    scores = {}
    for name in REFERENCES:
        told = refer(name, record, BED, "any", world.now, seen_at)
        if told is not None:
            scores[name] = float(np.mean([crps_normal(*told, t) for t in truth]))
    return scores


def covered(ranks: list[float], share: float = 0.9) -> float:
    """Share of ranks in the central band."""
    edge = 0.5 * (1.0 - share)
    return float(np.mean([edge <= r <= 1.0 - edge for r in ranks]))


def bootstrap_interval(by_farm: list[list[float]], seed: int = 1) -> tuple[float, float]:
    """95 % interval of the 90 % coverage, farms drawn anew."""
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(1000):
        pick = rng.integers(0, len(by_farm), len(by_farm))
        found.append(covered([r for i in pick for r in by_farm[i]]))
    return float(np.quantile(found, 0.025)), float(np.quantile(found, 0.975))


def summary(trials: list[Trial]) -> dict[str, object]:
    """Figures of record of a set of trials."""
    names = learnt_parameters()
    params = [[t.parameter_ranks[n] for n in names] for t in trials]
    told: dict[str, object] = {
        "farms": len(trials),
        "parameters_covered_90": covered([r for farm in params for r in farm]),
        "parameters_interval": bootstrap_interval(params),
        "herd_covered_90": covered([t.herd_rank for t in trials]),
        "herd_interval": bootstrap_interval([[t.herd_rank] for t in trials]),
        "herd_median_ratio": [round(t.herd_ratio, 2) for t in trials],
        "crps_3d_k": float(np.mean([t.crps_3d_k["known"] for t in trials])),
        "complaining": sum(t.complaints > 0 for t in trials),
        "methods": [t.method for t in trials],
    }
    for lead in LEADS_D:
        ranks = [t.temp_ranks[lead] for t in trials]
        told[f"temp_{lead}d_covered_90"] = covered([r for farm in ranks for r in farm])
        told[f"temp_{lead}d_interval"] = bootstrap_interval(ranks)
    told |= skills(trials)
    return told


def skills(trials: list[Trial]) -> dict[str, object]:
    """By how much the 3-day outlook beats each reference, with known weather and a forecast."""
    found: dict[str, object] = {}
    for how, said in (("known", ""), ("forecast", "_with_forecast")):
        for name in REFERENCES:
            can = [t for t in trials if name in t.reference_3d_k[how]]
            if can:
                theirs = np.mean([t.reference_3d_k[how][name] for t in can])
                mine = np.mean([t.crps_3d_k[how] for t in can])
                found[f"skill_over_{name}{said}"] = float(1.0 - mine / theirs)
    return found
