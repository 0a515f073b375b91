"""What is worked out after a night's mornings: dates of rest and harvest, and fortnights' plans."""

from __future__ import annotations

import datetime as dt
from typing import Protocol

from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading
from bedlore.service.dates import DatesKeeping, dates_of
from bedlore.service.plan import PlanKeeping, plans_of
from bedlore.service.surroundings import Recorded

MOST_PLANNED = 60  # beds of a farm that are looked at so far ahead, within a night's hour


class AheadKeeping(DatesKeeping, PlanKeeping, Protocol):
    """Keeps dates and plans beside states of beds."""


def look_further(farm: Farm, log: LogReading, recorded: Recorded, now: dt.datetime,
                 keeping: AheadKeeping) -> int:  # fmt: skip
    """Work out and keep the dates and plans of a farm's beds; returns of how many."""
    count = 0
    for bed in farm.standing(now.date())[:MOST_PLANNED]:
        dates_of(farm, log, recorded, now, keeping, bed_id=bed.id)
        plans_of(farm, log, recorded, now, keeping, bed_id=bed.id)
        count += 1
    return count
