"""Learning beds from their log: smoother, correction, warm update.

All beds of a farm are learnt at once, so that what they share (scoops, shed, thermometers, the
keeper's hand) is learnt from all of them. Everything is seeded: the same log gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.engine import State
from bedlore.errors import KeeperError
from bedlore.learn import discrepancy
from bedlore.learn.correct import (
    Gaussian,
    Weights,
    resample,
    smoothed_weights,
    tempered_smoother,
    trusted_part,
)
from bedlore.learn.counts import CoreCount, clumping_log_posterior, drawn_clumping
from bedlore.learn.densities import normal_between, normal_logpdf
from bedlore.learn.esmda import ALPHAS, evidence_of, moves, update
from bedlore.learn.features import features_of, with_features_moved
from bedlore.learn.forward import (
    Forward,
    Lesson,
    Told,
    finite_members,
    start_unknowns,
)
from bedlore.learn.moment import Moment
from bedlore.learn.record import Learnt, Method, bed_key
from bedlore.learn.sight import THERMOMETERS, Reading, Sight
from bedlore.learn.traces import trace
from bedlore.learn.unknowns import Unknowns, draw_z, unknowns_of
from bedlore.outlook.twin import history_key
from bedlore.say import say

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
SEED = 4091
KEEP_H = 14 * 24  # a state is kept this far back, for warm updates
# A member whose thermometers are this much less likely than the middle one's (log) is lost: in a
# linear case the loss is half a chi-squared of as many degrees as unknowns matter, 10 or so.
LOST = 30.0
SOUND_SHARE = 0.5  # of the members whose run must come to numbers, or learning is refused
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Farm:
    """The lessons of a farm with one vector of unknowns and a forward model for each bed."""

    lessons: tuple[Lesson, ...]
    unknowns: Unknowns
    models: tuple[Forward, ...]

    @property
    def readings(self) -> tuple[Reading, ...]:
        """All readings, bed after bed."""
        return tuple(reading for lesson in self.lessons for reading in lesson.readings)

    def owners(self) -> list[str]:
        """Bed of each reading."""
        return [lesson.bed_id for lesson in self.lessons for _ in lesson.readings]


def farm_of(lessons: Sequence[Lesson]) -> Farm:
    """Lessons of one farm; each must have as many members as the others."""
    nuisances = [
        *(u for lesson in lessons for u in start_unknowns(lesson.past)),
        *(u for lesson in lessons for reading in lesson.readings for u in reading.nuisances()),
    ]
    unknowns = unknowns_of([lesson.bed_id for lesson in lessons], nuisances)
    return Farm(tuple(lessons), unknowns, tuple(Forward(each, unknowns) for each in lessons))


def calibrate(lessons: Sequence[Lesson], *, seed: int = SEED, thorough: bool = False,
              progress: Progress | None = None) -> dict[str, Learnt]:  # fmt: skip
    """Learn every bed of a farm from all its readings; by bed id.

    ``thorough`` adds the tempered particle smoother where the correction's weights cannot be
    trusted (a job of minutes). ``progress`` is told (runs done, of how many).
    """
    farm = farm_of(lessons)
    rng = np.random.default_rng([seed, 1])
    z = draw_z(farm.unknowns, len(lessons[0].base), seed)
    steps = len(ALPHAS) if farm.readings else 0
    prior: list[Told] = []
    model_error_k = discrepancy.SD_START_K
    behind: list[tuple[float, float]] = []  # alpha and wander of the steps taken
    dropped = 0
    for number, alpha in enumerate(ALPHAS[:steps]):
        z, told, _, lost = _sound(z, _run(farm, z), rng)
        prior, dropped = prior or told, max(dropped, lost)
        z = _with_clumping(farm, z, told, rng)
        sights = _sights(farm, z, told)
        if behind:  # the first ensemble is too wide to tell
            model_error_k = discrepancy.estimated_k(farm.readings, farm.owners(), sights, behind)
        behind.append((alpha, model_error_k))
        z = _assimilate(farm, z, sights, alpha, model_error_k, rng)
        if progress:
            progress(number + 1, steps + 1)
    z, told, origin, lost = _sound(z, _run(farm, z), rng)
    prior, dropped = prior or told, max(dropped, lost)
    z = _with_clumping(farm, z, told, rng)
    log_weight = _correction(farm, z, told, model_error_k)
    weights = smoothed_weights(log_weight)
    method: Method = "smoother" if farm.readings else "prior"
    if farm.readings and (weights.trusted or not thorough):
        part = trusted_part(log_weight)
        picks = resample(part.share, rng)
        z, origin, told = z[picks], origin[picks], _picked(told, picks)
        method = "corrected" if weights.trusted else "partly" if part.power > 0.0 else "smoother"
    elif farm.readings:
        z, origin = _tempered(farm, z, model_error_k, rng)
        z, told, picks, lost = _sound(z, _run(farm, z, origin), rng)
        origin, dropped = origin[picks], max(dropped, lost)
        method = "particles"
    if progress:
        progress(steps + 1, steps + 1)
    done = _Done(z, origin, told, prior, weights, model_error_k, method, dropped)
    return {each.bed_id: _learnt(farm, i, done) for i, each in enumerate(farm.lessons)}


@dataclass(frozen=True)
class _Done:
    z: Floats
    origin: Ints
    told: list[Told]
    prior: list[Told]
    weights: Weights
    model_error_k: float
    method: Method
    dropped: int


def _keep_at(lesson: Lesson) -> int:
    """Hour of the state to keep: a fortnight back, or half of a shorter history; a whole day."""
    return max(lesson.end - KEEP_H, lesson.end // 2) // 24 * 24


def _run(farm: Farm, z: Floats, origin: Ints | None = None) -> list[Told]:
    return [model.run(z, origin, keep_at=_keep_at(model.lesson)) for model in farm.models]


def _sound(z: Floats, told: Sequence[Told],
           rng: np.random.Generator) -> tuple[Floats, list[Told], Ints, int]:  # fmt: skip
    """Unknowns and runs with copies of other members where a run came to no number; which member
    each is now ``[M]``, and how many gave way. Refuses when most did."""
    sound = np.all([finite_members(each) for each in told], axis=0)
    picks, lost = np.arange(len(z)), int((~sound).sum())
    if not lost:
        return z, list(told), picks, 0
    if sound.mean() < SOUND_SHARE:
        raise KeeperError(
            say("Nothing can be learnt: for most of what the log and the description allow, the"
                " model comes to no numbers."),
            fix=say("Look for an amount, a depth or a temperature that cannot be."),
        )
    picks[~sound] = rng.choice(np.flatnonzero(sound), lost)
    return z[picks], _picked(told, picks), picks, lost


def _sights(farm: Farm, z: Floats, told: Sequence[Told]) -> list[Sight]:
    return [
        reading.sight(each.latents[:, i], model.view(z))
        for model, each in zip(farm.models, told, strict=True)
        for i, reading in enumerate(model.lesson.readings)
    ]


def _assimilate(farm: Farm, z: Floats, sights: Sequence[Sight], alpha: float,
                model_error_k: float, rng: np.random.Generator) -> Floats:  # fmt: skip
    readings, owners = farm.readings, farm.owners()
    extra = discrepancy.covariance(readings, owners, model_error_k)
    may_move = moves(
        [unknown.group for unknown in farm.unknowns.all], [reading.about for reading in readings]
    )
    beds = np.array([unknown.bed for unknown in farm.unknowns.all])
    may_move &= (beds[:, None] == "") | (beds[:, None] == np.array(owners)[None, :])
    return update(z, evidence_of(sights, extra, may_move), alpha, rng)


def _with_clumping(farm: Farm, z: Floats, told: Sequence[Told],
                   rng: np.random.Generator) -> Floats:  # fmt: skip
    """``z`` with how clumped the worms lie, drawn anew given what each member expects of cores."""
    column = farm.unknowns.index.get("clumping")
    if column is None:
        return z
    log_posterior = clumping_log_posterior(farm.readings, np.hstack([t.latents for t in told]))
    out = z.copy()
    out[:, column] = drawn_clumping(log_posterior, rng)
    return out


def _correction(farm: Farm, z: Floats, told: Sequence[Told], model_error_k: float) -> Floats:
    """Log weights ``[M]`` of the members: exact likelihood of words and counts over the smoother's.

    Thermometers need none (the widened normal is the Student t's own reweighting), but a member
    that has lost its way, so that they all but rule it out, is dropped.
    """
    log_weight = _clumped(farm, told)
    log_temp = np.zeros(len(z))
    for model, each in zip(farm.models, told, strict=True):
        view = model.view(z)
        readings = model.lesson.readings
        for i, reading in enumerate(readings):
            if reading.about in THERMOMETERS:
                continue
            latent = each.latents[:, i]
            log_weight -= _as_smoothed(reading.sight(latent, view))
            if not isinstance(reading, CoreCount):
                log_weight += reading.log_likelihood(latent, view)
        temps = [i for i, reading in enumerate(readings) if reading.about == "temp"]
        log_temp += discrepancy.log_likelihood(
            [readings[i] for i in temps], each.latents[:, temps], view, model_error_k
        )
    lost = log_temp < np.median(log_temp) - LOST
    return np.where(lost, -np.inf, log_weight)


def _clumped(farm: Farm, told: Sequence[Told]) -> Floats:
    """Log-likelihood ``[M]`` of all cores with their clumping integrated out."""
    log_posterior = clumping_log_posterior(farm.readings, np.hstack([t.latents for t in told]))
    most = log_posterior.max(axis=1)
    return np.asarray(most + np.log(np.exp(log_posterior - most[:, None]).sum(axis=1)))


def _as_smoothed(sight: Sight) -> Floats:
    """Log-likelihood ``[M]`` of a sight as the smoother takes it, but for a constant.

    Of a Newton step: each member goes its own ``way`` under one curvature, so that the slope it
    feels is their product, and the log-likelihood the integral of that along the latent. (A
    parabola about the mean's top would give members in the tails enormous weights.)
    """
    if sight.step is not None:
        way, curvature = sight.step
        order = np.argsort(sight.latent, kind="stable")
        x, slope = sight.latent[order], curvature.mean() * way[order]
        out = np.zeros(len(x))
        out[order[1:]] = np.cumsum(0.5 * (slope[1:] + slope[:-1]) * np.diff(x))
        return out
    if np.array_equal(sight.low, sight.high):
        return normal_logpdf(sight.low - sight.latent, sight.sd)
    inside = normal_between(
        (sight.low - sight.latent) / sight.sd, (sight.high - sight.latent) / sight.sd
    )
    return np.asarray(np.log(0.95 * inside + 0.02))


def _tempered(farm: Farm, z: Floats, model_error_k: float,
              rng: np.random.Generator) -> tuple[Floats, Ints]:  # fmt: skip
    """The tempered particle smoother from the smoother's ensemble, a little widened."""

    def log_likelihood(trial: Floats, origin: Ints) -> Floats:
        total = np.zeros(len(trial))
        for model in farm.models:
            told, view = model.run(trial, origin), model.view(trial)
            total += discrepancy.log_likelihood(
                model.lesson.readings, told.latents, view, model_error_k
            )
            total[~finite_members(told)] = -np.inf
        return total

    done = tempered_smoother(Gaussian.fitted(z, widen=1.2), log_likelihood, len(z), rng)
    return done.z, done.origin


def _picked(told: Sequence[Told], picks: Ints) -> list[Told]:
    return [
        replace(each, latents=each.latents[picks], params=each.params[picks],
                state=each.state.pick(picks), kept=each.kept.pick(picks))
        for each in told
    ]  # fmt: skip


def _learnt(farm: Farm, number: int, done: _Done) -> Learnt:
    lesson, model, told = farm.lessons[number], farm.models[number], done.told[number]
    view = model.view(done.z)
    sights = [r.sight(told.latents[:, i], view) for i, r in enumerate(lesson.readings)]
    prior = done.prior[number].latents
    prior_z = np.zeros_like(done.z)
    first = [r.sight(prior[:, i], model.view(prior_z)) for i, r in enumerate(lesson.readings)]
    learnt = Learnt(
        bed_id=lesson.bed_id, at=lesson.now, params=told.params, origin=done.origin,
        unknowns=farm.unknowns, z=done.z, kept_at=told.kept_at, kept=told.kept,
        state=told.state, litres=_litres(model, told),
        past_key=_past_key(lesson, told.params, told.kept_at),
        read=tuple(reading.entry_id for reading in lesson.readings),
        model_error_k=done.model_error_k, khat=done.weights.khat, ess=done.weights.ess,
        method=done.method,
        fits=discrepancy.fits(lesson.readings, sights, first, done.model_error_k),
        dropped=done.dropped, bed_key=bed_key(lesson.past.bed),
    )  # fmt: skip
    return replace(learnt, trace=trace(learnt, lesson))


def _litres(model: Forward, told: Told) -> tuple[float, ...]:
    now = Moment(model.geometry, told.state, model.lesson.end, np.zeros((1, 1)))
    zones = range(len(model.geometry.area_m2))
    return tuple(float(np.median(now.volume_l([z]))) for z in zones)


def _past_key(lesson: Lesson, params: NDArray[np.void], kept_at: int) -> str:
    past = replace(lesson.past, air=lesson.air_of(params))
    return history_key(past, params, kept_at)


def refresh(learnt: Learnt, lesson: Lesson, *, seed: int = SEED) -> Learnt | None:
    """A warm update by the readings that came after ``learnt``; None when all must be learnt anew.

    The unknowns and the kept state are moved together by one smoother step, and the days since
    the kept state are run again.
    """
    known = set(learnt.read)
    fresh = tuple(r for r in lesson.readings if r.entry_id not in known)
    if any(reading.hour <= learnt.kept_at for reading in fresh) or lesson.end < learnt.kept_at:
        return None
    names = set(learnt.unknowns.index)
    if any(u.name not in names for r in fresh for u in r.nuisances()):
        return None
    model = Forward(replace(lesson, readings=fresh), learnt.unknowns)
    begin = (learnt.kept_at, learnt.kept)
    told = model.run(learnt.z, learnt.origin, keep_at=learnt.kept_at, begin=begin)
    z, kept = learnt.z, learnt.kept
    if fresh and finite_members(told).all():
        rng = np.random.default_rng([seed, lesson.end, len(fresh)])
        z, kept = _warm_step(learnt, fresh, told, rng)
        told = model.run(z, learnt.origin, keep_at=learnt.kept_at, begin=(learnt.kept_at, kept))
    if not finite_members(told).all():
        return None
    sights = [r.sight(told.latents[:, i], model.view(z)) for i, r in enumerate(fresh)]
    found = replace(
        learnt, at=lesson.now, params=told.params, z=z, kept=kept, state=told.state,
        litres=_litres(model, told), past_key=_past_key(lesson, told.params, learnt.kept_at),
        read=(*learnt.read, *(r.entry_id for r in fresh)),
        fits=(*learnt.fits, *discrepancy.fits(fresh, sights, sights, learnt.model_error_k)),
    )  # fmt: skip
    return replace(found, trace=trace(found, lesson))


def _warm_step(learnt: Learnt, fresh: Sequence[Reading], told: Told,
               rng: np.random.Generator) -> tuple[Floats, State]:  # fmt: skip
    """Move unknowns and the kept state's features by one Kalman step."""
    unknowns = learnt.unknowns

    def view(name: str) -> Floats:
        return unknowns.column(learnt.z, name)

    sights = [reading.sight(told.latents[:, i], view) for i, reading in enumerate(fresh)]
    features, groups = features_of(learnt.kept)
    scale = features.std(axis=0) + 1e-9
    joint = np.concatenate([learnt.z, features / scale], axis=1)
    may_move = moves([*(u.group for u in unknowns.all), *groups], [r.about for r in fresh])
    beds = np.array([*(u.bed for u in unknowns.all), *("" for _ in groups)])
    may_move &= ((beds == "") | (beds == learnt.bed_id))[:, None]
    extra = discrepancy.covariance(fresh, [learnt.bed_id] * len(fresh), learnt.model_error_k)
    moved = update(joint, evidence_of(sights, extra, may_move), 1.0, rng)
    width = learnt.z.shape[1]
    change = (moved[:, width:] - joint[:, width:]) * scale
    return moved[:, :width], with_features_moved(learnt.kept, change)
