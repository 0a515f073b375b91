"""What is learnt, as one vector whose prior is the standard normal.

A parameter of the table keeps its two-piece normal prior: ``value = from_normal(middle + sd*z)``
with ``z ~ N(0, 1)`` and the ``sd`` of its side. Nuisances of the readings (a thermometer's
offset, a keeper's idea of "damp") are added the same way. Some unknowns belong to the farm, some
to one bed, and some are pooled: ``z = sqrt(share)*z_farm + sqrt(1 - share)*z_bed``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from bedlore.facts.parameters import BY_NAME, PARAMETERS, from_normal, prior_moments, to_normal
from bedlore.learn.densities import normal_quantile

Floats = NDArray[np.float64]
POOLED_SHARE = 0.5  # variance that beds of one farm have in common: same scraps, same worms (P)
_FARM_WIDE = frozenset(
    {"building_tau_scale", "building_offset_shift_k", "feed_mass_scale", "feed_dry_scale"}
)
_ALONE = frozenset({"herd_scale", "wall_r_scale"})  # a bed's own joinery and its own worms
# By name or by its first word; what is not here belongs to decay.
_GROUPS = {
    "building": "site", "conductivity": "heat", "wall": "heat", "film": "heat", "freezing": "heat",
    "cover": "heat", "cover_keeps_vapour": "water", "evaporation": "water", "water": "water",
    "drain": "water", "capillary": "water", "feed_dry_scale": "water",
    "feed_mass_scale": "feed", "worm": "worm", "herd": "worm", "food": "worm", "gut": "worm",
}  # fmt: skip


@dataclass(frozen=True)
class Unknown:
    """One learnt quantity: ``bed`` "" when the farm shares it; ``parameter`` "" for a nuisance.

    ``group`` decides which readings may move it (:data:`bedlore.learn.esmda.MAY_MOVE`).
    """

    name: str
    group: str
    bed: str = ""
    parameter: str = ""


def group_of(parameter: str) -> str:
    """Group of a parameter of the table."""
    whole = _GROUPS.get(parameter)
    return whole or _GROUPS.get(parameter.split("_")[0], "decay")


def learnt_parameters() -> tuple[str, ...]:
    """Names of the table's parameters that a log is expected to tell of: these are reported."""
    return tuple(p.name for p in PARAMETERS if p.learnt)


@dataclass(frozen=True)
class Unknowns:
    """The vector of unknowns; arrays ``z`` are ``[M, K]`` in the order of ``all``."""

    all: tuple[Unknown, ...]

    @cached_property
    def index(self) -> dict[str, int]:
        """Column of each name."""
        return {unknown.name: i for i, unknown in enumerate(self.all)}

    def __len__(self) -> int:
        return len(self.all)

    @property
    def names(self) -> tuple[str, ...]:
        """Names in order."""
        return tuple(unknown.name for unknown in self.all)

    def column(self, z: Floats, name: str) -> Floats:
        """One unknown ``[M]``; zeros when it is not among them."""
        i = self.index.get(name)
        return np.zeros(len(z)) if i is None else z[:, i]

    def of_bed(self, z: Floats, parameter: str, bed: str) -> Floats:
        """Standard normal value ``[M]`` of a table parameter for one bed."""
        own, shared = f"{bed}:{parameter}", parameter
        if own not in self.index:
            return self.column(z, shared)
        if shared not in self.index:
            return self.column(z, own)
        common, apart = np.sqrt(POOLED_SHARE), np.sqrt(1.0 - POOLED_SHARE)
        return np.asarray(common * self.column(z, shared) + apart * self.column(z, own))

    def params(self, z: Floats, base: NDArray[np.void], bed: str) -> NDArray[np.void]:
        """Records ``[M]`` shaped as ``base`` with every parameter of ``bed`` as ``z`` says."""
        records = base.copy()
        for name in BY_NAME:
            records[name] = value_of(name, self.of_bed(z, name, bed))
        return records


def value_of(name: str, z: Floats) -> Floats:
    """Value of a table parameter at standard normal ``z``."""
    parameter = BY_NAME[name]
    middle, below, above = prior_moments(parameter)
    return from_normal(parameter, middle + np.where(z < 0.0, below, above) * z)


def z_of(name: str, value: Floats) -> Floats:
    """Inverse of :func:`value_of`."""
    parameter = BY_NAME[name]
    middle, below, above = prior_moments(parameter)
    away = to_normal(parameter, value) - middle
    return np.asarray(np.where(away < 0.0, away / below, away / above))


def unknowns_of(beds: Sequence[str], nuisances: Iterable[Unknown] = ()) -> Unknowns:
    """The unknowns of a farm with ``beds``; a lone bed has nothing to pool.

    Parameters that the table does not mark as learnt are among them: nothing is reported of them
    and beds share them, but a draw that the log contradicts must not stay in the ensemble
    (docs/learning.md has what happened when it did).
    """
    found: list[Unknown] = []
    for name, parameter in BY_NAME.items():
        group = group_of(name)
        own = [Unknown(f"{bed}:{name}", group, bed, name) for bed in beds]
        if name in _FARM_WIDE or not parameter.learnt:
            found.append(Unknown(name, group, "", name))
        elif name in _ALONE or len(beds) == 1:
            found.extend(own)
        else:
            found.extend([Unknown(name, group, "", name), *own])
    known = {unknown.name for unknown in found}
    for nuisance in nuisances:
        if nuisance.name not in known:
            known.add(nuisance.name)
            found.append(nuisance)
    return Unknowns(tuple(found))


def draw_z(unknowns: Unknowns, members: int, seed: int) -> Floats:
    """Prior draws ``[M, K]``; an unknown's draws depend on its name, not on its neighbours.

    One draw from each of ``M`` equal shares of the normal, in an order by chance (Latin hypercube:
    McKay, Beckman & Conover 1979, Technometrics 21:239-245, from memory). Each draw is standard
    normal, and no unknown begins off its middle by the chance of a small ensemble.
    """
    columns = [
        _stratified(np.random.default_rng([seed, *name.encode()]), members)
        for name in unknowns.names
    ]
    return np.stack(columns, axis=1) if columns else np.zeros((members, 0))


def _stratified(rng: np.random.Generator, members: int) -> Floats:
    """Standard normal draws ``[M]``, one from each of as many equal shares."""
    shares = (rng.permutation(members) + 1.0 - rng.random(members)) / members
    return normal_quantile(np.minimum(shares, 1.0 - 1e-12))
