"""Which advice of a bed leads: the fortnight's plan where one of today still fits, else the quick
weighing of single acts."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from bedlore.decide.plan_advice import led_by, outdated
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading
from bedlore.service.morning import BedMorning, Lead, whole_hour
from bedlore.service.plan import PlanKeeping, plan_key
from bedlore.service.surroundings import Recorded


def leading(farm: Farm, log: LogReading, recorded: Recorded, now: dt.datetime,
            keeping: PlanKeeping) -> Lead:  # fmt: skip
    """Puts the plan that is kept of a bed in the lead of its quick advice at ``now``.

    A plan of today that no longer fits what is known gives the lead back, and the advice says so.
    """
    now, zone = whole_hour(now), farm.site.zone_info()

    def lead(told: BedMorning) -> BedMorning:
        bed, kept = farm.bed(told.bed_id), keeping.plan(told.bed_id)
        if bed is None or kept is None or told.advice.leads == "plan" or kept.made_at > now:
            return told
        if kept.made_at.astimezone(zone).date() != now.astimezone(zone).date():
            return told
        plan = keeping.plan(bed.id, plan_key(farm, bed, log, recorded, now, keeping))
        if plan is None:
            return replace(told, advice=outdated(told.advice))
        before = keeping.advice_before(bed.id, now.date())
        return replace(told, advice=led_by(plan, told.advice, before))

    return lead
