"""What could be done with a bed today and in the coming week."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from bedlore.decide.action_words import NOTHING, words_of
from bedlore.decide.case import Case, dry_kg
from bedlore.decide.meals import Table
from bedlore.decide.records import Action
from bedlore.facts.feedstocks import Feedstock, load
from bedlore.facts.practice import WEEKLY_SCRAPS_KG_M2
from bedlore.facts.recipe import ingredient, mass_for_c_to_n_kg, moisture_of_mix
from bedlore.farm.log import Bedding, Squeeze, Water
from bedlore.farm.model import StoreItem
from bedlore.outlook.ahead import Odds

C_TO_N_LEAST = 25.0  # usual range 25-35 (Cornell, read)
WET_MIX = 0.82  # a feed mix above this wants dry card (assumed)
STARCH_RICH = 0.25  # share of dry matter from which a feed is given thinly (assumed)
SALTY = 0.03
SMALL_SHARE = 0.10  # of a meal, for salty feeds and those with a caution (assumed)
LEAST_DOSE_KG_M2 = 0.25  # less is not worth the walk (assumed)
WATER_KG_M2 = (1.5, 4.0)
BEDDING_KG_M2 = (0.4, 1.0)
BEDDING_MOST_KG_M2 = 3.0  # about 3 cm of loose card (derived from its bulk density)
COVER_M = 0.05
SQUEEZE_HOLDS_D = 7.0  # how long a squeeze counts for more than the model (assumed)
LATER_DAY = 3
SETPOINTS_K = (1.0, 3.0, 6.0)  # the mat's thermostat above the cold limit
LEAST_SETTING_K = 0.5  # a change of the thermostat that is worth a hand (assumed)


def candidates(case: Case, tables: Sequence[Table], bare: Odds, menu: Sequence[Menu]) -> (
    list[Action]
):  # fmt: skip
    """Every action worth running, doing nothing first; each says itself in ``words``.

    ``bare`` are the odds with nothing done: they decide which remedies are tried.
    """
    found = [NOTHING]
    found += feeds(case, tables, menu, cold=bare.cold > 0.0)
    found += covers(case)
    found += waters(case)
    found += dry_beddings(case, bare)
    found += mats(case, cold=bare.cold > 0.0)
    return [replace(action, words=words_of(case, action)) for action in found]


# --- Food ------------------------------------------------------------------------------------

Menu = tuple[tuple[StoreItem, float], ...]
"""A mix as (item of the store, share of the mass)."""


def menus(case: Case) -> list[Menu]:
    """Mixes from what is on hand and not on hold: scraps as they come, manure, something rich.

    Each is a feed with as much dry card as brings its C:N to 25 and its moisture to 82 %.
    Scraps spoil, so they are mixed in proportion to what there is and go before manure.
    """
    foods = [item for item in case.store if _is_food(item)]
    plain = [item for item in foods if not _only_little(load()[item.material])]
    manures = [item for item in plain if load()[item.material].group == "manure"]
    scraps = [item for item in plain if item not in manures]
    found: list[Menu] = []
    if scraps:
        total = sum(item.mass_kg for item in scraps)
        found.append(tuple((item, item.mass_kg / total) for item in scraps))
    if manures:
        found.append(((max(manures, key=lambda item: item.mass_kg), 1.0),))
    starchy = [item for item in foods if _starchy(load()[item.material])]
    if starchy:
        found.append(((max(starchy, key=lambda item: item.mass_kg), 1.0),))
    return [_with_card(case, menu) for menu in found]


def _is_food(item: StoreItem) -> bool:
    stock = load()[item.material]
    grows = stock.group in ("food", "manure") or (stock.group == "yard" and item.use == "feed")
    allowed = item.use in ("feed", "any") and not item.hold and stock.advice != "avoid"
    return grows and allowed and item.mass_kg > 0.0


def _starchy(stock: Feedstock) -> bool:
    return stock.starch_frac_dry >= STARCH_RICH or stock.id == "food_brewery_grain"


def _only_little(stock: Feedstock) -> bool:
    return stock.advice == "limit" or stock.salt_frac_dry > SALTY or _starchy(stock)


def dry_items(case: Case) -> list[StoreItem]:
    """Dry carbon on hand, the most of it first."""
    dry = [
        item for item in case.store
        if load()[item.material].group in ("bedding", "yard") and item.mass_kg > 0.0
        and not item.hold and item.use in ("bedding", "any", "cover")
        and load()[item.material].advice != "avoid"
        and (item.moisture_frac or load()[item.material].moisture_frac) < 0.3
    ]  # fmt: skip
    return sorted(dry, key=lambda item: -item.mass_kg)


def _with_card(case: Case, menu: Menu) -> Menu:
    dry = dry_items(case)
    card = 0.0
    if dry:
        card = card_share([(load()[item.material], share) for item, share in menu],
                          load()[dry[0].material])  # fmt: skip
    if card <= 0.0:
        return menu
    rest = 1.0 / (1.0 + card)
    return (*((item, share * rest) for item, share in menu), (dry[0], card * rest))


def card_share(feeds: Sequence[tuple[Feedstock, float]], card: Feedstock) -> float:
    """Dry card [kg per kg of feed] that brings C:N to 25 and moisture to 82 %, at most 0.4.

    By hand: mixed kitchen scraps (78 %, C:N 16) want about 0.12 kg of corrugated card.
    """
    parts = [ingredient(stock, share) for stock, share in feeds]
    total = sum(part.mass_kg for part in parts)
    moisture = moisture_of_mix(parts)
    carbon = sum(part.carbon_kg for part in parts)
    nitrogen = sum(part.nitrogen_kg for part in parts)
    wanted = 0.0
    if nitrogen > 0.0 and carbon / nitrogen < C_TO_N_LEAST:
        dry = total * (1.0 - moisture)
        mix = replace(
            parts[0], mass_kg=total, moisture_frac=moisture, carbon_frac_dry=carbon / dry,
            n_frac_dry=nitrogen / dry,
        )  # fmt: skip
        wanted = mass_for_c_to_n_kg(mix, ingredient(card, 1.0), C_TO_N_LEAST)
    if moisture > WET_MIX:
        wanted = max(wanted, total * (moisture - WET_MIX) / (WET_MIX - card.moisture_frac))
    return min(0.4, wanted / total)


def feeds(case: Case, tables: Sequence[Table], menu: Sequence[Menu], *,
          cold: bool = False) -> list[Action]:  # fmt: skip
    """Meals within the ceiling: whole and half, today and later, spread; a heap in the cold."""
    found: list[Action] = []
    for table in _hungriest(case, tables)[:2]:
        for number, mix in enumerate(menu):
            most = _most(case, table, mix)
            if most < LEAST_DOSE_KG_M2 * case.area_m2(table.position):
                continue
            sizes = (most, 0.5 * most) if not is_rich(mix) else (0.5 * most, 0.25 * most)
            for mass in sizes:
                found.append(_feed(case, table.position, mix, mass))
            if number == 0:
                found.append(replace(_feed(case, table.position, mix, most), on_day=LATER_DAY))
                if cold:
                    found.append(replace(_feed(case, table.position, mix, most), place="lump"))
    return found


def _hungriest(case: Case, tables: Sequence[Table]) -> list[Table]:
    """Zones that may be fed, the one with least soft food on it first."""
    open_to_food = [table for table in tables if table.cap_kg > 0.0]
    uneaten = np.median(case.uneaten_kg, axis=0)
    return sorted(open_to_food, key=lambda t: uneaten[t.position] / case.area_m2(t.position))


def _most(case: Case, table: Table, mix: Menu) -> float:
    """What the rules allow of a mix and what is on hand of it [kg]."""
    return min(rule_most_kg(case, table, mix), *(item.mass_kg / share for item, share in mix))


def rule_most_kg(case: Case, table: Table, mix: Menu) -> float:
    """Ceiling, a week's ration by area, and little of what is salty [kg]."""
    week_kg = WEEKLY_SCRAPS_KG_M2 * case.area_m2(table.position)
    most = min(table.cap_kg, week_kg)
    for item, share in mix:
        stock = load()[item.material]
        if stock.advice == "limit" or stock.salt_frac_dry > SALTY:
            most = min(most, SMALL_SHARE * week_kg / share)
    return most


def is_rich(mix: Menu) -> bool:
    """Whether something starchy is in it, of which half as much is given."""
    return any(_starchy(load()[item.material]) for item, _ in mix)


def _feed(case: Case, z: int, mix: Menu, mass_kg: float) -> Action:
    parts = tuple((item.material, round(mass_kg * share, 3)) for item, share in mix)
    return Action("feed", case.twin.zone_ids[z], parts)


# --- Cover, water, bedding, heat ---------------------------------------------------------------


def covers(case: Case) -> list[Action]:
    """Lay the bed's own cover (or a hand of what is on hand) where there is none, or lift it."""
    state = case.twin.state
    laid = max((float(state.zones.cover_m[0, z]) for z in case.living), default=0.0)
    foam = max((float(state.zones.foam_top_r[0, z]) for z in case.living), default=0.0)
    found = []
    if laid > 0.0 or foam > 0.0:
        found.append(Action("uncover"))
    if laid < COVER_M:
        own = case.twin.bed.cover
        dry = dry_items(case)
        if dry and covers_all(case, dry[0], COVER_M):
            found.append(Action("cover", material=dry[0].material, thickness_m=COVER_M))
        if own is not None and laid <= 0.0:
            found.append(Action("cover", material=own.material, thickness_m=own.thickness_m))
    return found


def covers_all(case: Case, item: StoreItem, thickness_m: float) -> bool:
    """Whether there is enough of ``item`` to lie that thick on the whole bed."""
    area = sum(case.area_m2(z) for z in case.living)
    return item.mass_kg >= thickness_m * area * load()[item.material].bulk_density_kg_m3


def waters(case: Case) -> list[Action]:
    """Water for a bed that is not yet wet, by the keeper's hand or else the twin; none on a frozen
    one, where it would lie as ice."""
    if case.frozen or squeezed(case) & {"drops", "runs"}:
        return []
    if _moisture(case) > case.limits.moisture_high - 0.05:
        return []
    area = sum(case.area_m2(z) for z in case.living)
    return [Action("water", parts=(("water", round(kg * area, 1)),)) for kg in WATER_KG_M2]


def dry_beddings(case: Case, bare: Odds) -> list[Action]:
    """Dry card over a bed that is wet, sour or sharp; a little where nothing is wrong."""
    dry = dry_items(case)
    words = squeezed(case)
    wet = _moisture(case) > 0.75 or bare.wet > 0.0
    needed = bare.sour > 0.0 or "runs" in words or (wet and "crumbly" not in words)
    if not dry or not needed:
        return []
    area = sum(case.area_m2(z) for z in case.living)
    moisture = dry[0].moisture_frac or load()[dry[0].material].moisture_frac
    most = min(dry[0].mass_kg, BEDDING_MOST_KG_M2 * area)
    wanted = [kg * area for kg in BEDDING_KG_M2] + [dry_needed_kg(case, moisture)]
    sizes = dict.fromkeys(round(min(kg, most), 2) for kg in wanted if kg > 0.0)
    return [Action("bedding", parts=((dry[0].material, kg),)) for kg in sizes]


def squeezed(case: Case) -> set[str]:
    """What the last squeeze of each zone said, where it still holds: for a week, until something
    is poured or laid on."""
    last: dict[str | None, str] = {}
    since = case.now - dt.timedelta(days=SQUEEZE_HOLDS_D)
    for entry in case.entries:
        if isinstance(entry, Squeeze) and since <= entry.at <= case.now:
            last[entry.zone] = entry.word
        elif isinstance(entry, Water | Bedding):
            last.clear()
    return set(last.values())


def dry_needed_kg(case: Case, moisture_frac: float) -> float:
    """Dry stuff at ``moisture_frac`` that brings the bed down to its wet limit, on the median.

    ``(W - m (W + D)) / (m - moisture)``. By hand: 10 kg of water with 1 kg dry at a limit of 0.85
    and card at 8 %: 0.65 / 0.77 = 0.84 kg.
    """
    state, limit = case.twin.state, case.limits.moisture_high
    water = state.cells.water_kg.sum(axis=2)
    over = water - limit * (water + dry_kg(state))
    kg = np.maximum(over, 0.0).sum(axis=1) / max(limit - moisture_frac, 0.05)
    return float(np.median(kg))


def mats(case: Case, *, cold: bool) -> list[Action]:
    """Switch the heat mat the other way; in the cold also one that is on to a warmer setting."""
    if case.twin.bed.heat_mat is None:
        return []
    if not case.mat_on:
        return [Action("mat", material="on")]
    warmer = warmer_settings(case) if cold else []
    return [Action("mat", material="off"),
            *(Action("mat", material="on", setpoint_c=temp_c) for temp_c in warmer)]  # fmt: skip


def warmer_settings(case: Case) -> list[float]:
    """Settings of the thermostat [degC] that are clearly above the present one, rising."""
    now_c = float(np.median(case.twin.state.zones.mat_set_c[:, list(case.living)]))
    tried = (round(case.limits.cold_c + above, 1) for above in SETPOINTS_K)
    return [temp_c for temp_c in tried if temp_c - now_c >= LEAST_SETTING_K]


def _moisture(case: Case) -> float:
    """Median moisture of the bed, the wettest zone."""
    now = case.twin.recent.series("moisture_frac")[:, -1, :]
    return max((float(np.median(now[:, z])) for z in case.living), default=0.0)
