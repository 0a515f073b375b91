"""Balances of a run: what went in is what went out plus what is stored."""

from __future__ import annotations

import numpy as np

from bedlore.bed.cells import Floats
from bedlore.bed.engine import Run, State
from bedlore.bed.living import LIVE_ASH, LIVE_CARBON, LIVE_NITROGEN, LIVE_WATER
from bedlore.bed.matter import DRY_PER_CARBON, heat_content


def live_kg(state: State, params: np.ndarray) -> Floats:
    """Live mass [M] of worms and cocoons."""
    herd = state.herd
    worms = herd.adult_kg + herd.juvenile_kg + herd.hatchling_kg
    cocoons = herd.cocoon_n.sum(axis=(1, 2)) * params["worm_cocoon_kg"]
    return np.asarray(worms.sum(axis=1) + cocoons)


def heat_j(state: State, params: np.ndarray) -> Floats:
    """Heat [M] stored in solids and water against 0 degC, unfrozen."""
    cells = state.cells
    dry = cells.carbon_kg @ np.array(DRY_PER_CARBON) + cells.ash_kg
    total = np.zeros(state.members)
    for m in range(state.members):
        frost = float(params["freezing_range_k"][m])
        for temp, solid, water in zip(
            cells.temp_c[m].flat, dry[m].flat, cells.water_kg[m].flat, strict=True
        ):
            total[m] += heat_content(float(temp), float(solid), float(water), frost)
    return total


def imbalances(before: State, run: Run, params: np.ndarray) -> dict[str, Floats]:
    """Relative imbalance [M] of heat, water, carbon, nitrogen, ash, worms and cocoons.

    Each is (stored after - stored before - in + out) over the largest of its terms.
    """
    after = run.state
    params = np.repeat(params, after.members) if len(params) == 1 else params

    def total(name: str) -> Floats:
        return np.asarray(run.total(name).sum(axis=1))

    def stored(state: State, content: float, cells: Floats) -> Floats:
        axes = tuple(range(1, cells.ndim))
        return np.asarray(cells.sum(axis=axes) + content * live_kg(state, params))

    def closed(change: Floats, *flows: Floats) -> Floats:
        size = np.maximum.reduce([np.abs(change), *(np.abs(flow) for flow in flows)])
        return np.asarray((change - sum(flows)) / np.maximum(size, 1e-12))

    live_in = total("live_in_kg") - total("live_out_kg")

    def change(content: float, cells_of: str) -> Floats:
        return stored(after, content, _extensive(after, cells_of)) - stored(
            before, content, _extensive(before, cells_of)
        )

    worms = _worm_count(after) - _worm_count(before)
    cocoons = (after.herd.cocoon_n - before.herd.cocoon_n).sum(axis=(1, 2))
    return {
        "heat": closed(
            heat_j(after, params) - heat_j(before, params),
            total("heat_decay_j"), total("heat_mat_j"), total("heat_boundary_j"),
            total("heat_latent_j"), total("heat_carried_j"),
        ),
        "water": closed(
            change(LIVE_WATER, "water"), total("water_in_kg"), total("water_made_kg"),
            -total("water_evaporated_kg"), -total("water_drained_kg"), -total("water_out_kg"),
            LIVE_WATER * live_in,
        ),
        "carbon": closed(
            change(LIVE_CARBON, "carbon"), total("carbon_in_kg"), -total("carbon_respired_kg"),
            -total("carbon_out_kg"), LIVE_CARBON * live_in,
        ),
        "nitrogen": closed(
            change(LIVE_NITROGEN, "nitrogen"), total("nitrogen_in_kg"),
            -total("nitrogen_volatilised_kg"), -total("nitrogen_leached_kg"),
            -total("nitrogen_out_kg"), LIVE_NITROGEN * live_in,
        ),
        "ash": closed(
            change(LIVE_ASH, "ash"), total("ash_in_kg"), -total("ash_out_kg"), LIVE_ASH * live_in
        ),
        "worms": closed(
            worms, total("worms_in_n"), total("worms_hatched_n"), -total("worms_died_n"),
            -total("worms_out_n"),
        ),
        "cocoons": closed(
            cocoons, total("cocoons_laid_n"), -total("cocoons_spent_n"), -total("cocoons_out_n")
        ),
    }  # fmt: skip


def _worm_count(state: State) -> Floats:
    herd = state.herd
    return np.asarray((herd.adult_n + herd.juvenile_n + herd.hatchling_n).sum(axis=1))


def _extensive(state: State, what: str) -> Floats:
    cells = state.cells
    if what == "water":
        by_zone = cells.water_kg.sum(axis=2) + state.zones.cover_water_kg
        return np.asarray(by_zone)
    if what == "carbon":
        return cells.carbon_kg
    if what == "nitrogen":
        return np.asarray(cells.nitrogen_kg.sum(axis=3) + cells.ammonia_kg + cells.nitrate_kg)
    return cells.ash_kg
