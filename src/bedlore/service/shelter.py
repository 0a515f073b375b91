"""Shelter from the coming cold or heat for the beds of a farm."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from bedlore.decide.shelter import Shelter, Shelters, shelters_of
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading
from bedlore.say import say, speaking
from bedlore.service.account import limits_account, tidy
from bedlore.service.beds_now import BedsNow, StatesKeeping
from bedlore.service.morning import beds_alive, whole_hour
from bedlore.service.plan import PlanKeeping, plan_key
from bedlore.service.surroundings import Recorded
from bedlore.service.told_beds import OfFarm, beds_account

Account = dict[str, Any]
Progress = Callable[[str, int, int], None]
SHOWN_FOR_D = 2  # a forecast older than that is another one
MOST_SHELTERED = 60  # beds of a farm that are looked at, within a night's hour


class ShelterKeeping(PlanKeeping, Protocol):
    """Keeps states of beds and what would shelter them."""

    def shelters(self, bed_id: str, key: str = "") -> Shelters | None:
        """What was kept of a bed: worked out for ``key``, or last ("")."""
        ...

    def keep_shelters(self, key: str, shelters: Shelters) -> None:
        """Store it in place of what was."""
        ...


@dataclass(frozen=True)
class FarmShelters(OfFarm):
    """The ways to shelter every bed that has begun."""

    beds: tuple[Shelters, ...]


def shelter_for(farm: Farm, log: LogReading, recorded: Recorded, now: dt.datetime,
                keeping: StatesKeeping, *, bed_id: str = "",
                progress: Progress | None = None) -> FarmShelters:  # fmt: skip
    """What would carry the beds through the coming fortnight, worst bed first."""
    now = whole_hour(now)
    begun, not_begun = beds_alive(farm, now)
    wanted = [bed for bed in begun if bed_id in ("", bed.id)]
    work = BedsNow(farm, wanted, log, recorded, now, keeping)
    found = []
    for done, bed in enumerate(wanted):
        if progress:
            progress(say("{bed}: what would shelter it", bed=bed.name), done, len(wanted))
        with speaking(units=farm.preferences.units):
            found.append(shelters_of(work.case(bed)))
    found.sort(key=lambda each: -each.odds)
    return FarmShelters(farm, now, (*log.faults, *not_begun), tuple(found))


def keep_shelters(farm: Farm, log: LogReading, recorded: Recorded, now: dt.datetime,
                  keeping: ShelterKeeping) -> int:  # fmt: skip
    """Work out and keep what would shelter each bed of a farm; returns of how many beds it is
    known. What was worked out today from the same log and forecast stays."""
    known = 0
    for bed in beds_alive(farm, now)[0][:MOST_SHELTERED]:
        key = plan_key(farm, bed, log, recorded, now, keeping)
        if keeping.shelters(bed.id, key) is None:
            (found,) = shelter_for(farm, log, recorded, now, keeping, bed_id=bed.id).beds
            # Only now is it known what was learnt of the bed meanwhile.
            key = plan_key(farm, bed, log, recorded, now, keeping)
            keeping.keep_shelters(key, found)
        known += 1
    return known


def fresh_shelters(keeping: ShelterKeeping, bed_id: str, now: dt.datetime) -> Shelters | None:
    """What is kept of a bed, if it is recent enough to stand beside its outlook."""
    kept = keeping.shelters(bed_id)
    if kept is None or not dt.timedelta(0) <= now - kept.made_at <= dt.timedelta(days=SHOWN_FOR_D):
        return None
    return kept


def shelter_account(found: FarmShelters) -> Account:
    """What ``bedlore shelter --json`` prints."""
    limits = {bed.id: limits_account(found.farm.limits_of(bed)) for bed in found.farm.beds}
    return beds_account(found, (
        (each.bed_id, {"limits": limits[each.bed_id], **_account(each)}) for each in found.beds
    ))  # fmt: skip


def _account(each: Shelters) -> Account:
    return {
        "threat": each.threat, "day": each.when.isoformat() if each.when else None,
        "threat_odds": tidy(each.odds), "worst_c": [tidy(v) for v in each.worst_c],
        "members": each.members, "ways": [_way(way) for way in each.ways],
        "mishap": each.harm, "indoor_herd": each.lifeboat, "cautions": list(each.cautions),
        "words": each.words,
    }  # fmt: skip


def _way(way: Shelter) -> Account:
    return {
        "shelter": way.name, "bottles": way.amount, "threat_odds": tidy(way.odds),
        "better_k": tidy(way.kelvin), "mean_k": tidy(way.mean_k), "helps": way.helps,
        "holds": way.holds, "work_h": way.work_h, "energy_kwh": tidy(way.energy_kwh),
        "takes": way.takes, "words": way.words,
    }  # fmt: skip
