"""Dates of rest, switch and harvest for a farm, kept so that they are worked out once a day.

The run reaches five months ahead on few members; it has its own command and its own place in the
night's work, and a morning only shows what was kept.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from bedlore.decide.course import HORIZON_D
from bedlore.decide.date_records import SHARES, LastFeeds, Milestone, RestDates, Taking, Targets
from bedlore.decide.rest import rest_dates
from bedlore.errors import KeeperError
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading
from bedlore.say import say, speaking
from bedlore.service.account import tidy
from bedlore.service.beds_now import BedsNow, StatesKeeping, day_key
from bedlore.service.morning import beds_alive, whole_hour
from bedlore.service.surroundings import Recorded
from bedlore.service.told_beds import OfFarm, beds_account

SHOWN_FOR_D = 10  # older dates are not shown with a morning
Account = dict[str, Any]
Progress = Callable[[str, int, int], None]


class DatesKeeping(StatesKeeping, Protocol):
    """Keeps states of beds and dates worked out."""

    def dates(self, bed_id: str, key: str = "") -> RestDates | None:
        """The dates kept of a bed: those worked out for ``key``, or the last ones ("")."""
        ...

    def keep_dates(self, key: str, dates: RestDates) -> None:
        """Store them in place of what was."""
        ...


@dataclass(frozen=True)
class FarmDates(OfFarm):
    """The dates of every bed that has begun."""

    beds: tuple[RestDates, ...]


def dates_of(farm: Farm, log: LogReading, recorded: Recorded, now: dt.datetime,
             keeping: DatesKeeping, *, bed_id: str = "", by: dt.date | None = None,
             targets: Targets | None = None, fresh: bool = False,
             progress: Progress | None = None) -> FarmDates:  # fmt: skip
    """The dates of a farm's beds at ``now``; taken from ``keeping`` where nothing changed today.

    ``by`` is a day on which castings are wanted. Raises :class:`KeeperError` for one that lies
    outside what can be looked at.
    """
    now = whole_hour(now)
    check_day(by, now)
    targets = targets or Targets()
    begun, not_begun = beds_alive(farm, now)
    wanted = [bed for bed in begun if bed_id in ("", bed.id)]
    keys = {bed.id: day_key(farm, bed, log, now, by, targets) for bed in wanted}
    found = {bed.id: None if fresh else keeping.dates(bed.id, keys[bed.id]) for bed in wanted}
    missing = [bed for bed in wanted if found[bed.id] is None]
    work = BedsNow(farm, missing, log, recorded, now, keeping) if missing else None
    for done, bed in enumerate(missing):
        assert work is not None
        if progress:
            progress(say("{bed}: the coming months", bed=bed.name), done, len(missing))
        with speaking(units=farm.preferences.units):
            dates = rest_dates(work.long_case(bed), targets, by)
        keeping.keep_dates(keys[bed.id], dates)
        found[bed.id] = dates
    beds = tuple(dates for dates in found.values() if dates is not None)
    return FarmDates(farm, now, (*log.faults, *not_begun), beds)


def check_day(by: dt.date | None, now: dt.datetime) -> None:
    """Raises KeeperError when castings are wanted in the past or too far ahead."""
    last = now.date() + dt.timedelta(days=HORIZON_D)
    if by is not None and not now.date() < by <= last:
        raise KeeperError(say("{day} is not a day that can be looked at.",
                              day=by.isoformat()), "--by",
                          say("Name a day after today and up to {day}.",
                              day=last.isoformat()))  # fmt: skip


# --- As plain data -----------------------------------------------------------------------------


def dates_account(found: FarmDates) -> Account:
    """What ``bedlore dates --json`` prints."""
    return beds_account(found, ((each.bed_id, rest_account(each)) for each in found.beds))


def rest_account(dates: RestDates) -> Account:
    """The dates of one bed."""
    targets = dates.targets
    return {
        "worked_out": dates.made_at.isoformat(),
        "until": dates.until.isoformat(),
        "members": dates.members,
        "shares": list(SHARES),
        "targets": {"worms_share": targets.worms_share, "cocoons_share": targets.cocoons_share,
                    "moisture_frac": targets.moisture},
        "milestones": [_milestone(each) for each in dates.milestones],
        "takings": [_taking(each) for each in dates.takings],
        "last_feeds": _last_feeds(dates.last_feeds) if dates.last_feeds else None,
        "notes": list(dates.notes),
    }  # fmt: skip


def _milestone(each: Milestone) -> Account:
    return {
        "milestone": each.kind, "part": each.part_id, "part_name": each.part_name,
        "dates": [day.isoformat() if day else None for day in each.dates],
        "odds_by": [{"day": day.isoformat(), "share": tidy(p)} for day, p in each.odds],
        "words": each.words,
    }  # fmt: skip


def _taking(each: Taking) -> Account:
    return {
        "part": each.part_id, "part_name": each.part_name, "day": each.on.isoformat(),
        "after_switch": each.after_switch,
        "odds_worms": tidy(each.odds_worms), "odds_cocoons": tidy(each.odds_cocoons),
        "odds_dry_enough": tidy(each.odds_dry), "odds_ready": tidy(each.odds_ready),
        "worms_kg": [tidy(v) for v in each.worms_kg], "herd_share": tidy(each.herd_share),
        "cocoons_n": [tidy(v) for v in each.cocoons_n], "cocoon_share": tidy(each.cocoon_share),
        "moisture_frac": [tidy(v) for v in each.moisture_frac],
        "drying_d": None if each.drying_d is None else [tidy(v) for v in each.drying_d],
        "rescues": [
            {"way": r.name, "saved_kg": [tidy(v) for v in r.saved_kg],
             "herd_share": tidy(r.herd_share), "work_h": tidy(r.hours), "words": r.words}
            for r in each.rescues
        ],
        "words": each.words,
    }  # fmt: skip


def _last_feeds(each: LastFeeds) -> Account:
    return {
        "zone": each.zone_id, "zone_name": each.zone_name, "days": each.days,
        "start": each.start.isoformat(), "day": each.switch_on.isoformat(),
        "left_share": [tidy(v) for v in each.left_share],
        "left_share_evenly": [tidy(v) for v in each.left_share_evenly],
        "words": each.words,
    }  # fmt: skip


def shown_with(keeping: DatesKeeping, now: dt.datetime, beds: tuple[str, ...]) -> Mapping[
    str, RestDates
]:  # fmt: skip
    """The kept dates recent enough to stand beside a morning, by bed id."""
    found = {}
    for bed_id in beds:
        kept = keeping.dates(bed_id)
        if kept is not None and dt.timedelta(0) <= now - kept.made_at <= dt.timedelta(
            days=SHOWN_FOR_D
        ):
            found[bed_id] = kept
    return found
