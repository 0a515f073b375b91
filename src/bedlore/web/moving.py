"""Takes a farm folder into the database."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from django.db import transaction

from bedlore.errors import KeeperError
from bedlore.say import say
from bedlore.service.book import Author, ToWrite
from bedlore.service.morning import whole_hour
from bedlore.service.nightly import keep_scores
from bedlore.service.plan import plan_key
from bedlore.store.ahead_files import FolderAhead
from bedlore.store.db.doors import give_role
from bedlore.store.db.farm_store import add_farm
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import Account, FarmRow
from bedlore.store.db.weather_store import DbWeather
from bedlore.store.files import FarmFolder
from bedlore.store.keepsakes import Keepsakes
from bedlore.store.weather_files import DAYS_AHEAD, recorded_weather
from bedlore.web import wiring
from bedlore.wiring import morning_in


@dataclass(frozen=True)
class TakenIn:
    """What came of it."""

    slug: str
    name: str
    entries: int
    remarks: tuple[str, ...]


def take_in(folder: Path, keeper: str = "") -> TakenIn:
    """A new farm from the farm, log and weather files in ``folder``, all or nothing; ``keeper``
    is the sign-in name of the account it belongs to ("" for none yet)."""
    account = Account.objects.filter(username=keeper.strip().lower()).first() if keeper else None
    if keeper and account is None:
        raise KeeperError(say("There is no account {keeper}.", keeper=repr(keeper[:40])),
                          "--keeper", say("Make it first, on the page."))  # fmt: skip
    files = FarmFolder(folder)
    farm = files.load_farm()
    reading = files.read_log(farm)
    recorded = recorded_weather(folder, farm.site)
    as_of = Keepsakes(folder).as_of()
    now = wiring.clock()
    got_at = min(as_of, now) if as_of else now
    with transaction.atomic():
        row = add_farm(farm, Author(), now, as_of=as_of)
        if account is not None:
            give_role(account.pk, row.pk, "keeper", now)
        DbLog(row).write([ToWrite(entry) for entry in reading.entries], Author(), now)
        weather = DbWeather(row)
        if recorded.series is not None:
            weather.add(recorded.series, "record", got_at)
        if recorded.known.forecast is not None:
            weather.add(recorded.known.forecast, "forecast", got_at)
        if recorded.known.typed:
            weather.type_days((folder / DAYS_AHEAD).read_text("utf-8"), got_at)
        _bring_morning(row, folder, as_of or now)
    remarks = [str(fault) for fault in reading.faults[:20]] + list(recorded.notes)
    return TakenIn(row.slug, farm.name, len(reading.entries), tuple(remarks))


def _bring_morning(row: FarmRow, folder: Path, now: dt.datetime) -> None:
    """Takes along what was worked out in the folder this hour, so that pages have something to
    show at once, the states of beds and what was learnt of them, so that the next outlook need not
    begin at the start, and the outlooks given, so that they are judged."""
    kept, stores = Keepsakes(folder), wiring.stores_of(row)
    keeping = stores.keeping
    for bed in row.beds.all():
        snapshot = kept.snapshot(bed.slug)
        if snapshot is not None:
            keeping.keep_snapshot(bed.slug, snapshot)
        learnt = kept.learnt(bed.slug)
        if learnt is not None:
            keeping.keep_learnt(learnt)
    keeping.keep_outlooks(kept.outlooks())
    if kept.morning(whole_hour(now)) is not None:
        told = morning_in(folder, now)
        keeping.keep_advice(bed.advice for bed in told.beds)
        keeping.keep_morning(told.now, told.beds)
        keeping.note(told.weather_note, told.faults)
        log, recorded = stores.log.read_log(told.farm, now), stores.weather.recorded(now)
        ahead = FolderAhead(folder)
        led = {one.bed_id for one in told.beds if one.advice.leads == "plan"}
        for bed in told.farm.beds:
            plan = ahead.plan(bed.id) if bed.id in led else None
            if plan is not None:
                keeping.keep_plan(plan_key(told.farm, bed, log, recorded, now, keeping), plan)
        keep_scores(keeping, told, log.current, recorded)
