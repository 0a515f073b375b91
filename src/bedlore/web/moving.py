"""Takes a farm folder into the database."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from django.db import transaction

from bedlore.errors import KeeperError
from bedlore.service.book import Author, ToWrite
from bedlore.store.db.doors import give_role
from bedlore.store.db.farm_store import add_farm
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import Account
from bedlore.store.db.weather_store import DbWeather
from bedlore.store.files import FarmFolder
from bedlore.store.keepsakes import Keepsakes
from bedlore.store.weather_files import DAYS_AHEAD, recorded_weather
from bedlore.web import wiring


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
        raise KeeperError(f"There is no account {keeper[:40]!r}.", "--keeper",
                          "Make it first, on the page.")  # fmt: skip
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
    remarks = [str(fault) for fault in reading.faults[:20]] + list(recorded.notes)
    return TakenIn(row.slug, farm.name, len(reading.entries), tuple(remarks))
