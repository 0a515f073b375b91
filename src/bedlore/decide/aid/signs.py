"""What is known of a bed before the keeper answers anything: the twin's state and the log.

The twin says how likely the bed is wet, hot, sour and so on; it may be wrong, so it counts for
half and what is usual for the other half (assumed).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bedlore.decide.candidates import SALTY, STARCH_RICH
from bedlore.decide.score import AMMONIA_LIMIT_MG_G, FOOD_PER_WORM, LOTS_KG_M2
from bedlore.facts.feedstocks import load
from bedlore.facts.symptoms import USUAL
from bedlore.farm.bed import Bed, Limits
from bedlore.farm.log import AnyEntry, Feed, Look, Sighting
from bedlore.outlook.ahead import QUANTILES, SOUR_LIMIT

TRUST_IN_TWIN = 0.5
RECENT_FEEDS = dt.timedelta(days=14)
RECENT_SIGHTS = dt.timedelta(days=3)
YOUNG = dt.timedelta(days=28)
LONG_UNFED = dt.timedelta(days=21)
# What a sighting or a smell in the log says in the words of first aid.
_SEEN = {
    "worms_on_lid": "climbing", "worms_leaving": "climbing", "dead_worms": "dying",
    "ants": "ants", "springtails": "springtails", "mould": "mould", "rodent": "tunnels",
    "frozen": "frozen", "standing_water": "water",
}  # fmt: skip
_SMELT = {"sour": "sour_smell", "sharp": "sharp"}
_MEAT = ("avoid_meat_fish", "avoid_dairy", "avoid_oils_fats")


@dataclass(frozen=True)
class Now:
    """The bed as its twin has it this hour: quantiles (at :data:`QUANTILES`) of each output."""

    temp_coldest_c: Sequence[float]
    temp_warmest_c: Sequence[float]
    moisture_frac: Sequence[float]
    food_left_kg: Sequence[float]
    ammonia_mg_g: Sequence[float]
    sour_index: Sequence[float]
    worms_kg: Sequence[float]


@dataclass(frozen=True)
class Signs:
    """``prior`` P(cause) before findings, ``found`` in the log already (finding: present)."""

    prior: Mapping[str, float]
    found: Mapping[str, bool]


NO_SIGNS = Signs(USUAL, {})


def signs_of(bed: Bed, limits: Limits, now: Now | None, entries: Iterable[AnyEntry],
             moment: dt.datetime) -> Signs:  # fmt: skip
    """What twin and log say of ``bed`` at ``moment``; ``now`` is None before the first outlook."""
    mine = sorted((entry for entry in entries if entry.bed == bed.id and entry.at <= moment),
                  key=lambda entry: (entry.at, entry.id))
    prior = dict(USUAL)
    if now is not None:
        for cause, share in twin_shares(now, bed, limits).items():
            prior[cause] = TRUST_IN_TWIN * share + (1.0 - TRUST_IN_TWIN) * USUAL[cause]
    return Signs(prior, {**_fed(mine, moment), **_age(bed, mine, moment), **_seen(mine, moment)})


def twin_shares(now: Now, bed: Bed, limits: Limits) -> dict[str, float]:
    """Share of the ensemble in which the bed has each cause that the twin can see."""
    hungry = FOOD_PER_WORM * float(np.median(now.worms_kg))
    return {
        "wet": above(now.moisture_frac, limits.moisture_high),
        "dry": 1.0 - above(now.moisture_frac, limits.moisture_low),
        "hot": above(now.temp_warmest_c, limits.hot_c),
        "cold": 1.0 - above(now.temp_coldest_c, limits.cold_c),
        "sour": above(now.sour_index, SOUR_LIMIT),
        "ammonia": above(now.ammonia_mg_g, AMMONIA_LIMIT_MG_G),
        "overfed": above(now.food_left_kg, LOTS_KG_M2 * bed.area_m2),
        "worked_out": 1.0 - above(now.food_left_kg, hungry),
    }


def above(quantiles: Sequence[float], limit: float) -> float:
    """Share of an ensemble above ``limit``, between its quantiles; 0.02 to 0.98, since five
    quantiles say nothing of the tails."""
    values = np.maximum.accumulate(np.asarray(quantiles, dtype=float))
    below = float(np.interp(limit, values + 1e-9 * np.arange(len(values)), QUANTILES,
                            left=0.02, right=0.98))  # fmt: skip
    return 1.0 - below


def _fed(mine: Sequence[AnyEntry], moment: dt.datetime) -> dict[str, bool]:
    """Risky feeds of the last fortnight; nothing is said where no feed is in the log at all."""
    feeds = [entry for entry in mine if isinstance(entry, Feed)]
    if not feeds:
        return {}
    parts = [
        load()[part.material] for entry in feeds if moment - entry.at <= RECENT_FEEDS
        for part in entry.parts
    ]  # fmt: skip
    return {
        "fed_starch": any(one.starch_frac_dry >= STARCH_RICH for one in parts),
        "fed_manure": any(one.group == "manure" for one in parts),
        "fed_salty": any(one.salt_frac_dry > SALTY for one in parts),
        "fed_citrus": any(one.id == "food_citrus_peel" for one in parts),
        "fed_meat": any(one.id in _MEAT for one in parts),
        "long_unfed": moment - feeds[-1].at > LONG_UNFED,
    }


def _age(bed: Bed, mine: Sequence[AnyEntry], moment: dt.datetime) -> dict[str, bool]:
    stocked = [entry.at for entry in mine if entry.kind == "stock" and entry.worms_kg > 0.0]
    since_start = dt.timedelta(days=(moment.date() - bed.started).days)
    young = since_start < YOUNG or any(moment - at < YOUNG for at in stocked[-1:])
    return {"young_bed": young}


def _seen(mine: Sequence[AnyEntry], moment: dt.datetime) -> dict[str, bool]:
    """Sightings and smells of the last days."""
    found = {}
    for entry in mine:
        if moment - entry.at > RECENT_SIGHTS:
            continue
        if isinstance(entry, Sighting) and entry.what in _SEEN:
            found[_SEEN[entry.what]] = True
        if isinstance(entry, Look) and entry.smell in _SMELT:
            found[_SMELT[entry.smell]] = True
    return found
