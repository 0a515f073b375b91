"""Twin experiments: learn invented beds whose truth is hidden, and see how well it went."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from bedlore.bed.engine import Run, simulate
from bedlore.learn.calibrate import calibrate, farm_of
from bedlore.learn.misfit import complaints
from bedlore.learn.record import Learnt
from bedlore.learn.references import REFERENCES, Past, Record, refer
from bedlore.learn.scores import crps_ensemble, crps_normal
from bedlore.learn.unknowns import learnt_parameters
from bedlore.outlook.doubt import wander
from tests.twin_world import AHEAD_D, World, make_world, true_number

LEADS_D = (1, 3, 7, 14)
BED = "sluice"


@dataclass(frozen=True)
class Trial:
    """One farm: ranks of the truth (0..1), scores of the 3-day outlook [K], and words."""

    seed: int
    parameter_ranks: dict[str, float]
    temp_ranks: dict[int, list[float]]  # by lead, one a zone
    herd_rank: float
    herd_ratio: float
    crps_3d_k: float
    reference_3d_k: dict[str, float]
    complaints: int
    method: str
    khat: float


def rank(members: np.ndarray, truth: float) -> float:
    """Share of the members below the truth."""
    return float((np.sum(members < truth) + 0.5) / (len(members) + 1))


def ahead(world: World, learnt: Learnt, members: int) -> Run:
    """The fortnight after now by every member in the true weather, hourly."""
    farm = farm_of([world.lesson(members)])
    model = farm.models[0]
    first = (world.now - world.start) // dt.timedelta(hours=1)
    air = model.lesson.air_of(learnt.params).between(first, first + AHEAD_D * 24)
    acts = model.acts
    factors = model.factors(np.zeros((members, len(farm.unknowns))), learnt.params, learnt.origin)
    due = (acts[:, 0] >= first) & (acts[:, 0] < first + AHEAD_D * 24)
    mine = acts[due].copy()
    mine[:, 0] -= first
    return simulate(model.geometry, learnt.params, learnt.state, air, mine,
                    scale=np.ascontiguousarray(factors[:, due]), every=1)  # fmt: skip


def trial(seed: int, *, days: int = 60, per_fortnight: int = 10, cores: int = 0,
          members: int = 200) -> Trial:  # fmt: skip
    """Learn one farm and look a fortnight ahead."""
    world = make_world(seed, days=days, per_fortnight=per_fortnight, cores=cores)
    learnt = calibrate([world.lesson(members)])[BED]
    run = ahead(world, learnt, members)
    mine, true = run.series("temp_probe_c"), world.truth.series("temp_probe_c")
    mine = mine + wander(members, mine.shape[1], learnt.model_error_k, seed)[:, :, None]
    zones = range(mine.shape[2])
    temp_ranks = {
        lead: [rank(mine[:, 24 * lead - 1, z], true[0, 24 * lead - 1, z]) for z in zones]
        for lead in LEADS_D
    }
    herd = learnt.state.herd
    worms = (herd.adult_n + herd.juvenile_n + herd.hatchling_n).sum(axis=1)
    at = 3 * 24 - 1
    crps = float(np.mean([crps_ensemble(mine[:, at, z], true[0, at, z]) for z in zones]))
    return Trial(
        seed,
        {name: rank(learnt.params[name], float(world.truth_params[name][0]))
         for name in learnt_parameters()},
        temp_ranks, rank(worms, true_number(world)),
        float(np.median(worms) / true_number(world)), crps, _references(world, true[0, at]),
        len(complaints(learnt, [zone.id for zone in world.bed.zones])), learnt.method,
        learnt.khat,
    )  # fmt: skip


def _references(world: World, truth: np.ndarray) -> dict[str, float]:
    """Mean CRPS [K] of the references against the noise-free truth in three days."""
    probes = sorted(
        (e for e in world.entries if e.kind == "probe" and e.device != "air"), key=lambda e: e.at
    )
    past = Past(tuple(e.at for e in probes), tuple(e.temp_c for e in probes))
    record = Record({(BED, "any"): past}, world.weather)
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
        "herd_median_ratio": [round(t.herd_ratio, 2) for t in trials],
        "crps_3d_k": float(np.mean([t.crps_3d_k for t in trials])),
        "complaining": sum(t.complaints > 0 for t in trials),
        "methods": [t.method for t in trials],
    }
    for lead in LEADS_D:
        ranks = [t.temp_ranks[lead] for t in trials]
        told[f"temp_{lead}d_covered_90"] = covered([r for farm in ranks for r in farm])
        told[f"temp_{lead}d_interval"] = bootstrap_interval(ranks)
    for name in REFERENCES:
        known = [t for t in trials if name in t.reference_3d_k]
        if known:
            reference = np.mean([t.reference_3d_k[name] for t in known])
            told[f"skill_over_{name}"] = 1.0 - np.mean([t.crps_3d_k for t in known]) / reference
    return told
