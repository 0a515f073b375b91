"""The fortnight's plan of each bed, kept for the day."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from bedlore.decide.plan import Told, plan_of
from bedlore.decide.plan_records import Plan, ReadingWorth, Rival, Worth
from bedlore.decide.records import Advice
from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading
from bedlore.say import say, speaking
from bedlore.service.account import action_account, effect_account, tidy
from bedlore.service.beds_now import BedsNow, StatesKeeping, day_key
from bedlore.service.morning import beds_alive, whole_hour
from bedlore.service.surroundings import Recorded
from bedlore.service.told_beds import OfFarm, beds_account

Account = dict[str, Any]
Progress = Callable[[str, int, int], None]


class PlanKeeping(StatesKeeping, Protocol):
    """Keeps states of beds, advice given and plans worked out."""

    def advice_before(self, bed_id: str, day: dt.date) -> Advice | None:
        """The last advice given before a day."""
        ...

    def plan(self, bed_id: str, key: str = "") -> Plan | None:
        """The plan kept of a bed: that worked out for ``key``, or the last one ("")."""
        ...

    def keep_plan(self, key: str, plan: Plan) -> None:
        """Store it in place of what was."""
        ...


@dataclass(frozen=True)
class FarmPlans(OfFarm):
    """The plans of every bed that has begun."""

    plans: tuple[Plan, ...]


def plans_of(farm: Farm, log: LogReading, recorded: Recorded, now: dt.datetime,
             keeping: PlanKeeping, *, bed_id: str = "", fresh: bool = False,
             progress: Progress | None = None) -> FarmPlans:  # fmt: skip
    """The plans of a farm's beds at ``now``; taken from ``keeping`` where nothing changed today."""
    now = whole_hour(now)
    begun, not_begun = beds_alive(farm, now)
    wanted = [bed for bed in begun if bed_id in ("", bed.id)]
    advice = {bed.id: _todays(keeping, bed.id, now) for bed in wanted}
    found = {bed.id: None if fresh else
             keeping.plan(bed.id, plan_key(farm, bed, log, recorded, now, keeping))
             for bed in wanted}  # fmt: skip
    missing = [bed for bed in wanted if found[bed.id] is None]
    work = BedsNow(farm, missing, log, recorded, now, keeping) if missing else None
    for done, bed in enumerate(missing):
        assert work is not None
        if progress:
            progress(say("{bed}: the fortnight's plan", bed=bed.name), done, len(missing))
        with speaking(units=farm.preferences.units):
            told = Told(advice[bed.id], keeping.advice_before(bed.id, now.date()),
                        None if fresh else keeping.plan(bed.id))  # fmt: skip
            plan = plan_of(work.case(bed), work.fresh_air(bed), told,
                           farm.preferences.price_per_kwh)  # fmt: skip
        # Only now is it known what was learnt of the bed meanwhile.
        keeping.keep_plan(plan_key(farm, bed, log, recorded, now, keeping), plan)
        found[bed.id] = plan
    plans = tuple(plan for plan in found.values() if plan is not None)
    return FarmPlans(farm, now, (*log.faults, *not_begun), plans)


def plan_key(farm: Farm, bed: Bed, log: LogReading, recorded: Recorded, now: dt.datetime,
             keeping: PlanKeeping) -> str:  # fmt: skip
    """Name of everything a plan of today rests on but the hour and the weather past: a plan kept
    for it still fits. ``log`` is all that is written, of this hour too."""
    learnt = keeping.learnt(bed.id)
    written = [entry.id for entry in log.current if entry.bed == bed.id]
    known = recorded.known
    ahead = hashlib.sha256(repr(known.typed).encode())
    if known.forecast is not None:
        ahead.update(f"{known.forecast.start}{known.forecast.source}".encode())
        ahead.update(known.forecast.temp_c.tobytes())
    return day_key(farm, bed, log, now, written, learnt and learnt.at, ahead.hexdigest())


def _todays(keeping: PlanKeeping, bed_id: str, now: dt.datetime) -> Advice | None:
    """The advice given for a bed within the last day."""
    given = keeping.advice_before(bed_id, (now + dt.timedelta(days=1)).date())
    recent = given is not None and now - dt.timedelta(days=1) <= given.made_at <= now
    return given if recent else None


# --- As plain data -----------------------------------------------------------------------------


def plan_account(found: FarmPlans) -> Account:
    """What ``bedlore plan --json`` prints."""
    return beds_account(found, ((plan.bed_id, one_plan_account(plan)) for plan in found.plans),
                        currency=found.farm.preferences.currency)  # fmt: skip


def one_plan_account(plan: Plan) -> Account:
    """The plan of one bed."""
    return {
        "worked_out": plan.made_at.isoformat(), "headline": plan.headline,
        "steps": [action_account(action) for action in plan.actions],
        "effect": effect_account(plan.effect), "without": effect_account(plan.without),
        "odds_range": {name: [tidy(v) for v in band]
                       for name, band in zip(("odds_cold", "odds_hot", "odds_sour"),
                                             plan.odds_band, strict=True)},
        "gain_h": tidy(plan.gain_hours), "energy_cost": plan.cost, "keeps": plan.keeps,
        "needs": plan.needs,
        "worth": [_worth(worth) for worth in plan.worths],
        "readings_worth": [_reading(worth) for worth in plan.readings],
        "other_plans": [_rival(rival) for rival in plan.rivals],
        "tried": plan.tried, "chosen_on": plan.members, "told_from": plan.fresh,
        "cautions": list(plan.cautions), "notes": list(plan.words),
    }  # fmt: skip


def _rival(rival: Rival) -> Account:
    return {
        "steps": [action_account(action) for action in rival.actions],
        "behind_h": tidy(rival.behind_hours),
        "effect": effect_account(rival.effect) if rival.effect is not None else None,
    }  # fmt: skip


def _worth(worth: Worth) -> Account:
    return {
        "steps": [action_account(action) for action in worth.actions],
        "better_k": tidy(worth.kelvin), "fewer_cold": tidy(worth.cold),
        "fewer_hot": tidy(worth.hot), "fewer_sour": tidy(worth.sour),
        "castings_dry_kg": tidy(worth.castings_kg), "energy_kwh": tidy(worth.energy_kwh),
        "gain_h": tidy(worth.hours), "words": worth.words,
    }  # fmt: skip


def _reading(worth: ReadingWorth) -> Account:
    return {"reading": worth.reading, "gain_h": tidy(worth.hours),
            "narrowed": tidy(worth.narrowed), "words": worth.words}  # fmt: skip
