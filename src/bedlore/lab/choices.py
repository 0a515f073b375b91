"""Where worms go when they can choose between two zones."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
from pydantic import Field

from bedlore.bed.plan import add_material, in_order, stock
from bedlore.farm.fields import Record
from bedlore.lab.bench import Surrounds, column_geometry, fill
from bedlore.lab.inputs import Amount, Floats, Parameters, Part, checked, parameters
from bedlore.lab.result import Result

_CELLS = 8
_BEDDING = Part(material="oth_vermicompost_seed", mass_kg=6.0, moisture_frac=0.75)


class ChoiceSide(Record):
    """One of two neighbouring zones: ``bedding`` and ``food`` (lists of parts: ``material``,
    ``mass_kg``, ``moisture_frac``), ``temp_c`` it is held at, ``worms_kg`` of mixed live worms put
    in at the start. Without ``bedding``: 6 kg of moist worm-bed material."""

    worms_kg: Amount = 0.0
    food: tuple[Part, ...] = ()
    bedding: tuple[Part, ...] = (_BEDDING,)
    temp_c: Annotated[float, Field(ge=-20, le=60)] = 20.0


class ChoiceSpec(Record):
    """Input of :func:`choice`."""

    left: ChoiceSide
    right: ChoiceSide
    days: Annotated[int, Field(ge=1, le=4000)]
    area_m2: Annotated[float, Field(ge=1e-3, le=100)] = 0.06
    params: Parameters = None


@dataclass(frozen=True)
class ChoiceResult(Result):
    """Two zones by day, day 0 first; all [days + 1].

    ``day``; worms in each zone by number ``left_n``, ``right_n`` (hatchlings counted) and mass
    ``left_kg``, ``right_kg``; adults ``left_adults_n``, ``right_adults_n``; cocoons
    ``left_cocoons_n``, ``right_cocoons_n``; ``right_share`` of the worms by number (nan when none
    live).
    """

    day: Floats
    left_n: Floats
    right_n: Floats
    left_kg: Floats
    right_kg: Floats
    left_adults_n: Floats
    right_adults_n: Floats
    left_cocoons_n: Floats
    right_cocoons_n: Floats
    right_share: Floats


def choice(
    left: ChoiceSide | Mapping[str, Any],
    right: ChoiceSide | Mapping[str, Any],
    days: int,
    area_m2: float = 0.06,
    params: Mapping[str, float] | None = None,
) -> ChoiceResult:
    """Worms free to move between two neighbouring zones, ``left`` and ``right``, for ``days``.

    Each zone of ``area_m2`` is a :class:`ChoiceSide` or a mapping of its fields, held at its
    temperature; food rots and is eaten as in a bed, water stays. ``params`` changes parameters by
    name. Returns a :class:`ChoiceResult`; raises FaultList or KeeperError in sentences. Source:
    docs/worms.md, Movement (mostly assumed).
    """
    return run_choice(checked(ChoiceSpec, locals()))


def run_choice(spec: ChoiceSpec) -> ChoiceResult:
    """:func:`choice` of a checked ``spec``."""
    sides = (spec.left, spec.right)
    temps = np.array([side.temp_c for side in sides])
    geometry = column_geometry(spec.area_m2, 2, lid_leak=np.zeros(2), open_leak=0.0)
    laid, put = [], []
    for z, side in enumerate(sides):
        bedding = [part.with_feedstock() for part in side.bedding]
        laid.append(add_material(0, z, bedding, temp_c=side.temp_c, feed=False))
        if side.food:
            food = [part.with_feedstock() for part in side.food]
            put.append(add_material(0, z, food, temp_c=side.temp_c))
        if side.worms_kg > 0:
            put.append(stock(0, z, side.worms_kg))
    bench = fill(geometry, parameters(spec.params), in_order(laid), _CELLS, float(temps.mean()))
    hours = 24 * spec.days
    air = Surrounds(np.full(hours, temps.mean()), np.ones(hours))
    rows: list[Floats] = []
    for h, run in enumerate(bench.hours(air, in_order(put), hold_c=lambda _: temps)):
        herd = run.state.herd
        if h == 0 or (h + 1) % 24 == 0:
            n = herd.hatchling_n[0] + herd.juvenile_n[0] + herd.adult_n[0]
            kg = herd.hatchling_kg[0] + herd.juvenile_kg[0] + herd.adult_kg[0]
            cocoons = herd.cocoon_n[0].sum(axis=1)
            rows.append(np.concatenate([n, kg, herd.adult_n[0], cocoons]))
    table = np.array(rows).T
    total = table[0] + table[1]
    share = np.where(total > 0, table[1] / np.where(total > 0, total, 1.0), np.nan)
    day = np.arange(spec.days + 1, dtype=float)
    left, right = table[0::2], table[1::2]
    return ChoiceResult(
        day, left[0], right[0], left[1], right[1], left[2], right[2], left[3], right[3], share
    )
