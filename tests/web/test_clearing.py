"""Old outlooks become small, and what scoring needs of them stays."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from io import BytesIO

import pytest
from django.conf import settings
from django_tasks_db.models import DBTaskResult

from bedlore.service.archive import export_archive, read_archive
from bedlore.service.morning import Morning
from bedlore.store.db.archive import DbFarmParts
from bedlore.store.db.clearing import NOTES_D, WHOLE_D, clear
from bedlore.store.db.keeping import DbKeeping, beds_of_run
from bedlore.store.db.models import AdviceGiven, BedOutlookRow, FarmRow, JobRun, OutlookRun
from bedlore.store.db.small_outlooks import made_small, outlooks_in
from bedlore.store.learnings import JUDGED_D, Learnings
from bedlore.web import tasks, wiring
from tests import morning_fake
from tests.web.conftest import NOW

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


def tell(row: FarmRow, told: Morning, at: dt.datetime) -> OutlookRun:
    """One more morning like ``told``."""
    beds = tuple(
        replace(bed, advice=replace(bed.advice, made_at=at), outlook=replace(bed.outlook, start=at))
        for bed in told.beds
    )
    keeping = wiring.stores_of(row).keeping
    keeping.keep_advice(bed.advice for bed in beds)
    keeping.keep_morning(at, beds)
    return OutlookRun.objects.latest("pk")


def sizes(run: OutlookRun) -> list[int]:
    return [len(bytes(bed.body)) for bed in run.beds.order_by("pk")]


def test_old_outlooks_become_small_and_are_still_judged(farm_row: FarmRow, told: Morning) -> None:
    first = OutlookRun.objects.get()
    later_that_day = tell(farm_row, told, morning_fake.NOW + dt.timedelta(hours=3))
    recent = tell(farm_row, told, morning_fake.NOW + 5 * DAY)
    kept = [outlooks_in(bytes(bed.body)) for bed in first.beds.order_by("pk")]
    assert len(kept[0]) == len(told.beds[0].section.zones)
    before = sizes(first)
    odds = list(BedOutlookRow.objects.values_list("pk", "odds_cold"))
    farm_row.as_of = None
    farm_row.save()

    now = morning_fake.NOW + (WHOLE_D + 1) * DAY
    assert clear(farm_row, now).outlooks == 2 * len(told.beds)
    for run in (first, later_that_day):
        assert beds_of_run(run.pk) is None
    assert all(small < whole / 5 for small, whole in zip(sizes(first), before, strict=True))
    assert sizes(later_that_day) == [0] * len(told.beds)  # the day's first one stands for it
    assert beds_of_run(recent.pk) is not None
    # What scoring reads is the same to the last figure.
    assert [outlooks_in(bytes(bed.body)) for bed in first.beds.order_by("pk")] == kept
    assert list(BedOutlookRow.objects.values_list("pk", "odds_cold")) == odds
    assert AdviceGiven.objects.count() == 3 * len(told.beds)
    assert clear(farm_row, now).outlooks == 0


def test_the_newest_outlook_is_always_whole(farm_row: FarmRow, told: Morning) -> None:
    farm_row.as_of = None
    farm_row.save()
    assert clear(farm_row, morning_fake.NOW + 999 * DAY).outlooks == 0
    assert wiring.last_morning(farm_row) is not None


def test_outlooks_of_an_invented_farm_age_by_its_own_clock(
    farm_row: FarmRow, told: Morning
) -> None:
    tell(farm_row, told, morning_fake.NOW + DAY)
    assert clear(farm_row, morning_fake.NOW + 999 * DAY).outlooks == 0


def test_lost_outlooks_are_found_in_small_ones(
    farm_row: FarmRow, told: Morning, tmp_path: object
) -> None:
    tell(farm_row, told, morning_fake.NOW + DAY)
    farm_row.as_of = None
    farm_row.save()
    whole = DbKeeping(farm_row, settings.DATA_FOLDER / "lost-1").outlooks()
    clear(farm_row, morning_fake.NOW + (WHOLE_D + 3) * DAY)
    small = DbKeeping(farm_row, settings.DATA_FOLDER / "lost-2").outlooks()
    assert whole == small != []


def test_the_database_judges_what_a_folder_judges(farm_row: FarmRow, told: Morning) -> None:
    """Lost and found again or kept all along: nothing from before the year that is judged."""
    days = (-JUDGED_D - 9, -JUDGED_D, -WHOLE_D, -1)
    for day in days:
        tell(farm_row, told, morning_fake.NOW + day * DAY)
    found = DbKeeping(farm_row, settings.DATA_FOLDER / "lost-3").outlooks()
    folder = Learnings(settings.DATA_FOLDER / "folder")
    for run in OutlookRun.objects.order_by("made_at"):
        for bed in run.beds.order_by("pk"):
            folder.keep_outlooks(outlooks_in(bytes(bed.body)))
    assert found == folder.outlooks()
    judged = {morning_fake.NOW + day * DAY for day in (*days[1:], 0)}
    assert {one.made_at for one in found} == judged


def test_an_archive_with_small_outlooks_restores_exactly(farm_row: FarmRow, told: Morning) -> None:
    tell(farm_row, told, morning_fake.NOW + DAY)
    farm_row.as_of = None
    farm_row.save()
    clear(farm_row, morning_fake.NOW + (WHOLE_D + 3) * DAY)
    photos = settings.DATA_FOLDER / "photos"

    def packed(row: FarmRow) -> dict[str, bytes]:
        target = BytesIO()
        export_archive(DbFarmParts(photos, row).parts(), NOW, target)
        target.seek(0)
        return dict(read_archive(target))

    parts = packed(farm_row)
    back = FarmRow.objects.get(pk=DbFarmParts(photos).restore(parts, NOW))
    assert packed(back)["outlooks.jsonl"] == parts["outlooks.jsonl"]


@pytest.mark.parametrize("body", [b"", b"nothing", made_small(b"x")])
def test_what_cannot_be_read_is_nothing(body: bytes) -> None:
    assert made_small(body) == b""
    assert outlooks_in(body) == []


def test_old_notes_of_jobs_go_and_recent_ones_stay(farm_row: FarmRow) -> None:
    now = wiring.clock()
    for days in (1, NOTES_D + 1):
        JobRun.objects.create(farm=farm_row, kind="night", key=f"d{days}", state="done",
                              asked_at=now - days * DAY, ended_at=now - days * DAY)  # fmt: skip
    waiting = tasks.ask(farm_row, tasks.NIGHT, "2025-01-01")
    DBTaskResult.objects.update(finished_at=now - 8 * DAY)
    assert clear(farm_row, now).jobs == 1
    assert set(JobRun.objects.values_list("key", flat=True)) == {"d1", waiting.key}
    assert not DBTaskResult.objects.exists()
