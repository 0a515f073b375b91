"""A farm of 50 beds with ten years of log, 200,000 entries, in whichever database is set.

All of it is made up from a seed. The mornings are the tests' made-up one, as the model's own would
take minutes and tells the pages nothing else: one of today, whole, and one of each day before, as
small as a morning is kept after a month. The pages are drawn ahead, as the night's job does.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import numpy as np

from bedlore.farm.load import load_farm
from bedlore.farm.log import ENTRY, AnyEntry
from bedlore.farm.model import Farm
from bedlore.service.book import Author
from bedlore.service.morning import BedMorning
from bedlore.store.db.doors import give_role
from bedlore.store.db.farm_store import add_farm
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import (
    Account,
    AdviceGiven,
    BedOutlookRow,
    FarmRow,
    LogEntry,
    OutlookRun,
)
from bedlore.web.leaves.ahead import draw_ahead
from tests import morning_fake
from tests.web.conftest import tell_morning

BEDS, ENTRIES, YEARS = 50, 200_000, 10
NOW = morning_fake.NOW
_KINDS = ("feed", "probe", "look", "squeeze", "water", "note")
_SHARES = (0.34, 0.30, 0.16, 0.10, 0.06, 0.04)


def big_farm() -> Farm:
    """The invented farm with its beds repeated until there are ``BEDS``, begun ten years ago."""
    few = load_farm(morning_fake.FARM_FILE)
    began = (NOW - dt.timedelta(days=365 * YEARS + 10)).date()
    beds = []
    for number in range(BEDS):
        like = few.beds[number % len(few.beds)]
        name = f"{like.name or like.id} {number + 1}"
        beds.append(like.model_copy(update={
            "id": f"{like.id}-{number + 1}", "name": name, "mark": str(number + 1),
            "started": began,
        }))  # fmt: skip
    return few.model_copy(update={"beds": tuple(beds)})


def entries(farm: Farm, seed: int = 3) -> Iterator[AnyEntry]:
    """``ENTRIES`` entries spread over the years, beds and kinds of a working farm."""
    rng = np.random.default_rng(seed)
    seconds = np.sort(rng.integers(0, YEARS * 365 * 86_400, ENTRIES))
    kinds = rng.choice(len(_KINDS), ENTRIES, p=_SHARES)
    chosen = rng.integers(0, BEDS, ENTRIES)
    start = NOW - dt.timedelta(days=YEARS * 365)
    for number in range(ENTRIES):
        kind, bed = _KINDS[kinds[number]], farm.beds[chosen[number]]
        zone = bed.zones[number % len(bed.zones)].id
        raw = {"kind": kind, "id": f"e{number}", "bed": bed.id, "who": "Mara",
               "at": start + dt.timedelta(seconds=int(seconds[number]))}  # fmt: skip
        yield ENTRY.validate_python({**raw, **_SAYS[kind], **({"zone": zone} if kind in _ZONED
                                                              else {})})  # fmt: skip


_ZONED = ("feed", "look", "squeeze", "water", "probe")
_SAYS: dict[str, dict[str, object]] = {
    "feed": {"parts": [{"material": "food_mixed_kitchen", "mass_kg": 1.4},
                       {"material": "bed_corrugated", "mass_kg": 0.2}]},
    "probe": {"temp_c": 11.5, "depth_m": 0.1}, "look": {"food_left": "some"},
    "squeeze": {"word": "damp"}, "water": {"mass_kg": 2.0},
    "note": {"note": "Lifted the lid; all quiet."},
}  # fmt: skip


def make() -> tuple[FarmRow, Account]:
    """Writes the farm, its log and its morning; returns it with its keeper."""
    farm = big_farm()
    row = add_farm(farm, Author("Mara"), NOW, slug="big", as_of=NOW)
    keeper = Account.objects.create_user("mara", password="x")
    give_role(keeper.pk, row.pk, "keeper", NOW)
    book, some = DbLog(row), list[LogEntry]()
    for entry in entries(farm):
        some.append(book.row_of(entry, None, "", entry.at, "Mara"))
        if len(some) == 5_000:
            LogEntry.objects.bulk_create(some, batch_size=500)
            some = []
    LogEntry.objects.bulk_create(some, batch_size=500)
    told = tell_morning(row)
    for day in range(YEARS * 365, 0, -1):
        _small_morning(row, NOW - dt.timedelta(days=day), told.beds)
    draw_ahead(row)
    return row, keeper


def _small_morning(row: FarmRow, when: dt.datetime, beds: tuple[BedMorning, ...]) -> None:
    """A morning long past: odds and headlines, without the outlooks themselves."""
    run = OutlookRun.objects.create(farm=row, made_at=when, worked_at=when, version="", inputs="")
    BedOutlookRow.objects.bulk_create(
        BedOutlookRow(run=run, bed=bed.bed_id, odds_cold=bed.odds.cold, odds_hot=bed.odds.hot,
                      odds_sour=bed.odds.sour, body=b"")
        for bed in beds
    )  # fmt: skip
    AdviceGiven.objects.bulk_create(
        AdviceGiven(farm=row, run=run, bed=bed.bed_id, made_at=when, body="{}",
                    action=bed.advice.action.kind, headline=bed.advice.headline, answer="done")
        for bed in beds
    )  # fmt: skip
