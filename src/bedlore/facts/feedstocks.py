"""Feed and bedding: the table of materials and what a kilogram of each brings into a bed.

The table is ``feedstocks.csv`` beside this file, each row with its source and how it is known.
Figures are starting values: real scraps vary, and the keeper's own weighings go before them.
"""

from __future__ import annotations

import csv
import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, reduce
from importlib.resources import files
from typing import Literal, cast

from bedlore.errors import KeeperError
from bedlore.facts.aliases import FEEDSTOCK_ALIASES
from bedlore.say import say

Group = Literal["food", "manure", "bedding", "yard", "other", "mineral"]
Speed = Literal["fast", "manure", "medium", "slow", "inert"]
Known = Literal["read", "memory", "mixed", "common practice"]
Advice = Literal["", "limit", "avoid"]

# Order of the carbon and nitrogen pools, the same as in the model of the bed.
POOL_NAMES = ("fast", "medium", "slow", "humus")
Pools = tuple[float, float, float, float]

# Carbon of organic matter where the table has no usable C:N: 1 / 1.725 (van Bemmelen, read as
# 0.5797 x OM in the same data set as the manure rows).
CARBON_OF_ORGANIC = 0.5797
# Chandler et al. 1980, from memory (sure): biodegradable share of volatile solids against lignin
# in % of volatile solids. The floor is assumed; the line was fitted below 20 % lignin.
BIODEGRADABLE_AT_NO_LIGNIN = 0.83
BIODEGRADABLE_PER_LIGNIN_PCT = 0.028
BIODEGRADABLE_FLOOR = 0.05
# How the biodegradable carbon is spread over fast, medium and slow. Food: fast share 0.6 (from
# memory, 0.4-0.75); manures between (fits growth on one feeding, docs/worms.md); paper, card,
# straw, leaves slow (assumed).
SPEED_SHARES: Mapping[Speed, tuple[float, float, float]] = {
    "fast": (0.60, 0.40, 0.0),
    "manure": (0.30, 0.70, 0.0),
    "medium": (0.15, 0.85, 0.0),
    "slow": (0.0, 0.10, 0.90),
    "inert": (0.0, 0.0, 0.0),
}
# Nitrogen is richest in what rots first (assumed); shares are scaled to the total.
NITROGEN_WEIGHTS: Pools = (1.4, 1.1, 0.6, 1.0)


@dataclass(frozen=True)
class Span:
    """The range a figure of the table is usually found in; None where it is unknown."""

    low: float | None
    high: float | None


@dataclass(frozen=True)
class Feedstock:
    """One material of the table.

    Fractions ending in ``_dry`` are kg per kg of dry matter, ``moisture_frac`` is kg water per
    kg as is, ``c_to_n`` a mass ratio or None where it has no meaning, ``food_quality`` 0 to 1
    what worms make of it (assumed). ``advice`` is ``limit`` or ``avoid`` where the caution says
    so. ``known`` is ``read``, ``memory``, ``mixed`` (see ``provenance``) or ``common practice``.
    """

    id: str
    name: str
    group: Group
    moisture_frac: float
    n_frac_dry: float
    c_to_n: float | None
    carbon_frac_dry: float
    bulk_density_kg_m3: float
    ash_frac_dry: float
    lignin_frac_dry: float
    decay_speed: Speed
    starch_frac_dry: float
    salt_frac_dry: float
    food_quality: float
    advice: Advice
    caution: str
    source: str
    known: Known
    provenance: str
    url: str
    moisture_span: Span
    n_span: Span
    c_to_n_span: Span
    bulk_density_span: Span

    @property
    def biodegradable_frac(self) -> float:
        """Share of the organic matter that decays: ``0.83 - 0.028 LC``, at least 0.05.

        LC is lignin in % of organic matter. Chandler et al. 1980 (from memory). By hand: lignin
        9 % of organic matter gives 0.578.
        """
        organic = 1.0 - self.ash_frac_dry
        if self.decay_speed == "inert" or organic <= 0.0:
            return 0.0
        lignin_pct = 100.0 * self.lignin_frac_dry / organic
        share = BIODEGRADABLE_AT_NO_LIGNIN - BIODEGRADABLE_PER_LIGNIN_PCT * lignin_pct
        return max(BIODEGRADABLE_FLOOR, share)


@dataclass(frozen=True)
class Composition:
    """What one kilogram of a material, as is, brings into a bed; all in kg.

    ``carbon_kg`` and ``nitrogen_kg`` are by pool in the order of ``POOL_NAMES``. ``dry_kg`` and
    ``water_kg`` add up to 1; ash, starch and salt are parts of the dry matter.
    """

    carbon_kg: Pools
    nitrogen_kg: Pools
    dry_kg: float
    ash_kg: float
    water_kg: float
    starch_kg: float
    salt_kg: float


def pools(feedstock: Feedstock, moisture_frac: float | None = None) -> Composition:
    """The composition of one kilogram of ``feedstock`` at ``moisture_frac`` (its own if None).

    Carbon that does not decay goes to ``humus``; the rest is split by the speed of decay.
    Nitrogen follows carbon, richer in what rots first, and adds up to the table's total. By
    hand, mixed kitchen scraps: 0.22 dry x 0.384 = 0.0845 kg C, of it 0.647 biodegradable and 0.6
    of that fast, 0.0328 kg; nitrogen 0.22 x 0.024 = 0.00528 kg.

    Raises :class:`KeeperError` when the moisture does not lie between 0 and 1.
    """
    moisture = feedstock.moisture_frac if moisture_frac is None else moisture_frac
    if not 0.0 <= moisture < 1.0:
        raise KeeperError(
            say("moisture {moisture} of {name} is no share of its wet mass.",
                moisture=float(moisture), name=say(feedstock.name)),
            fix=say("Write a fraction from 0 to below 1, or a percentage such as 75 %."),
        )
    dry = 1.0 - moisture
    carbon = _carbon_pools(feedstock, dry * feedstock.carbon_frac_dry)
    return Composition(
        carbon_kg=carbon,
        nitrogen_kg=_nitrogen_pools(carbon, dry * feedstock.n_frac_dry),
        dry_kg=dry,
        ash_kg=dry * feedstock.ash_frac_dry,
        water_kg=moisture,
        starch_kg=dry * feedstock.starch_frac_dry,
        salt_kg=dry * feedstock.salt_frac_dry,
    )


def _carbon_pools(feedstock: Feedstock, carbon: float) -> Pools:
    decaying = feedstock.biodegradable_frac * carbon
    fast, medium, slow = (share * decaying for share in SPEED_SHARES[feedstock.decay_speed])
    return fast, medium, slow, carbon - (fast + medium + slow)


def _nitrogen_pools(carbon: Pools, nitrogen: float) -> Pools:
    weighted = [kg * weight for kg, weight in zip(carbon, NITROGEN_WEIGHTS, strict=True)]
    total = sum(weighted)
    if total <= 0.0:  # minerals hold their trace of nitrogen where nothing decays
        return 0.0, 0.0, 0.0, nitrogen
    fast, medium, slow = (nitrogen * part / total for part in weighted[:3])
    return fast, medium, slow, nitrogen - (fast + medium + slow)


@cache
def load() -> Mapping[str, Feedstock]:
    """Every feedstock by its id, in the order of the table."""
    text = files("bedlore.facts").joinpath("feedstocks.csv").read_text("utf-8")
    lines = (line for line in text.splitlines() if not line.startswith("#"))
    return {row["id"]: _feedstock(row) for row in csv.DictReader(lines)}


def _feedstock(row: Mapping[str, str]) -> Feedstock:
    return Feedstock(
        id=row["id"],
        name=row["name"],
        group=cast(Group, row["group"]),
        moisture_frac=_frac(row["moisture_pct"]),
        n_frac_dry=_frac(row["n_pct_dry"]),
        c_to_n=float(row["c_to_n"]) if row["c_to_n"] else None,
        carbon_frac_dry=_carbon_frac_dry(row),
        bulk_density_kg_m3=float(row["bulk_density_kg_m3"]),
        ash_frac_dry=_frac(row["ash_pct_dry"]),
        lignin_frac_dry=_frac(row["lignin_pct_dry"]),
        decay_speed=cast(Speed, row["decay_speed"]),
        starch_frac_dry=_frac(row["starch_pct_dry"]),
        salt_frac_dry=_frac(row["salt_pct_dry"]),
        food_quality=float(row["food_quality"]),
        advice=cast(Advice, row["advice"]),
        caution=row["caution"],
        source=row["source"],
        known=cast(Known, row["known"]),
        provenance=row["provenance_detail"],
        url=row["url"],
        moisture_span=_span(row, "moisture", 0.01),
        n_span=_span(row, "n", 0.01),
        c_to_n_span=_span(row, "cn", 1.0),
        bulk_density_span=_span(row, "bd", 1.0),
    )


def _carbon_frac_dry(row: Mapping[str, str]) -> float:
    """Carbon [kg/kg dry]: the table's own where N and C:N fit together, else from organic matter.

    Lime and ash carry no C:N at all and are left out of the balance.
    """
    flag = row["implied_c_flag"]
    if flag == "ok":
        return _frac(row["implied_c_pct_dry"])
    return CARBON_OF_ORGANIC * (1.0 - _frac(row["ash_pct_dry"])) if flag else 0.0


def _frac(percent: str) -> float:
    return float(percent) / 100.0


def _span(row: Mapping[str, str], stem: str, scale: float) -> Span:
    low, high = row[f"{stem}_lo"], row[f"{stem}_hi"]
    return Span(float(low) * scale if low else None, float(high) * scale if high else None)


def plain(name: str) -> str:
    """``name`` for comparing: small letters, single blanks, no hyphens or underscores."""
    return re.sub(r"[\s_-]+", " ", name).strip().lower()


@cache
def names() -> Mapping[str, str]:
    """Every name a material may be called by -> its id: ids, table names and plain words."""
    table = load()
    found = {id_: id_ for id_ in table}
    found |= {stock.name: id_ for id_, stock in table.items()}
    found |= {alias: id_ for id_, aliases in FEEDSTOCK_ALIASES.items() for alias in aliases}
    return found


@cache
def _plain_names() -> Mapping[str, str]:
    return {plain(name): id_ for name, id_ in names().items()}


def find(name: str) -> Feedstock:
    """The feedstock called ``name``: an id, its name in the table or a plain word.

    Raises :class:`KeeperError` that names the nearest words when there is none.
    """
    found = _plain_names().get(plain(name))
    if found is not None:
        return load()[found]
    words = [word for word, id_ in _plain_names().items() if word != plain(id_)]
    near = difflib.get_close_matches(plain(name), words, n=3, cutoff=0.6)
    quoted = [f'"{word}"' for word in near]
    hint = say("Did you mean {words}?", words=reduce(_either, quoted)) if near else say(
        'The list of names is in docs/materials.md; "kitchen scraps" or "cardboard" are two.'
    )
    unknown = say("{name} is not a {what} that is known.{hint}", name=repr(name[:60]),
                  what=say("feed or bedding"), hint="")  # fmt: skip
    raise KeeperError(unknown, fix=hint)


def _either(one: str, other: str) -> str:
    return say("{one} or {other}", one=one, other=other)
