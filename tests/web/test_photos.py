"""Photographs of the log: written with an entry, shown to those who may look, taken away."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from bedlore.service.book import Author
from bedlore.service.correct_entry import correct_entry
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import FarmRow, LogEntry, Photo
from bedlore.web import uploads, wiring
from tests.unit.farm.test_bed import FARM
from tests.unit.service.test_photographs import picture

As = Callable[..., Client]
NOTE = "/farms/mill/write/note/"


def sent(name: str = "x.jpg", content: bytes | None = None, **more: str) -> dict[str, object]:
    file = SimpleUploadedFile(name, picture().getvalue() if content is None else content)
    return {"bed": "sluice", "note": "mites?", "client_id": "c-1", "photo": file, **more}


def test_a_photograph_goes_with_its_entry_and_only_once(as_: As, farm_row: FarmRow) -> None:
    helper = as_("helper")
    for _ in range(2):  # a second tap
        assert helper.post(NOTE, sent()).status_code == 302
    (photo,) = Photo.objects.all()
    assert LogEntry.objects.count() == 1
    kept = settings.DATA_FOLDER / "photos" / f"{photo.digest}.jpg"
    assert kept.stat().st_mode & 0o077 == 0
    for page in ("/farms/mill/log/", f"/farms/mill/log/{photo.entry_id}/"):
        assert f"/farms/mill/photos/{photo.digest}/small.jpg" in helper.get(page).content.decode()


def test_it_is_shown_as_a_picture_and_nothing_else(as_: As, farm_row: FarmRow) -> None:
    as_("helper").post(NOTE, sent())
    digest = Photo.objects.get().digest
    for address in (f"/farms/mill/photos/{digest}.jpg", f"/farms/mill/photos/{digest}/small.jpg"):
        answer = as_("viewer").get(address)
        assert answer.status_code == 200
        assert answer.content.startswith(b"\xff\xd8")
        assert answer.headers["Content-Type"] == "image/jpeg"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Content-Security-Policy"] == "default-src 'none'; sandbox"
        assert answer.headers["Content-Disposition"].startswith("inline; filename=")
        assert "private" in answer.headers["Cache-Control"]
        assert as_("stranger").get(address).status_code == 404
        assert as_("nobody").get(address).status_code == 302
    assert as_("viewer").get(f"/farms/mill/photos/{'0' * 64}.jpg").status_code == 404


def test_what_is_none_is_said_beside_the_field_and_nothing_typed_is_lost(
    as_: As, farm_row: FarmRow
) -> None:
    page = as_("helper").post(NOTE, sent(content=b"<svg onload=alert(1)>"))
    text = page.content.decode()
    assert page.status_code == 422
    assert "no photograph that can be read" in text
    assert "mites?" in text
    assert not LogEntry.objects.exists()


def test_five_at_once_are_too_many(as_: As, farm_row: FarmRow) -> None:
    many = [SimpleUploadedFile(f"{k}.jpg", picture((10 + k, 9)).getvalue()) for k in range(5)]
    page = as_("helper").post(NOTE, {**sent(), "photo": many})
    assert page.status_code == 422
    assert "At most 4 photographs" in page.content.decode()


def test_of_too_much_no_file_is_kept_and_nothing_typed_is_lost(
    as_: As, farm_row: FarmRow, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(uploads, "OTHER_BYTES", 1000)
    # The file stands before what was typed, as a browser may send it.
    late = {"photo": sent()["photo"], "bed": "sluice", "note": "mites?", "client_id": "c-1"}
    page = as_("helper").post(NOTE, late)
    text = page.content.decode()
    assert page.status_code == 422
    assert 'id="e-photo"' in text
    assert "at most 60 MB are taken at once" in text
    assert "mites?" in text
    assert not LogEntry.objects.exists()
    assert not Photo.objects.exists()
    mended = as_("helper").post(NOTE, {**late, "photo": ""})
    assert mended.status_code == 302
    added = f"/farms/mill/log/{LogEntry.objects.get().entry_id}/photos/"
    assert "at most 60 MB" in as_("helper").post(added, sent(), follow=True).content.decode()
    assert not Photo.objects.exists()


def test_what_is_beyond_all_measure_is_refused_before_it_is_read(
    as_: As, farm_row: FarmRow, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(uploads, "READ_BYTES", 1000)
    page = as_("helper").post(NOTE, sent(content=b"x" * 2000))
    assert page.status_code == 400
    assert "too large" in page.content.decode()


def test_it_stays_with_an_entry_that_is_corrected(as_: As, farm_row: FarmRow) -> None:
    helper = as_("helper")
    helper.post(NOTE, sent())
    first = Photo.objects.get().entry_id
    second = correct_entry(DbLog(farm_row), FARM, first, {"note": "ants"}, Author("Udo"),
                           wiring.clock())  # fmt: skip
    third = correct_entry(DbLog(farm_row), FARM, second.written.entry.id, {"note": "mites"},
                          Author("Udo"), wiring.clock())  # fmt: skip
    page = helper.get(f"/farms/mill/log/{third.written.entry.id}/").content.decode()
    assert Photo.objects.get().digest in page


def test_it_is_added_later_and_taken_away_for_good(as_: As, farm_row: FarmRow) -> None:
    helper = as_("helper")
    helper.post(NOTE, {"bed": "sluice", "note": "mites?"})
    entry = LogEntry.objects.get().entry_id
    added = f"/farms/mill/log/{entry}/photos/"
    assert as_("viewer").post(added, sent()).status_code == 403
    assert helper.post(added, sent(content=b"no picture")).status_code == 302
    assert not Photo.objects.exists()
    helper.post(added, sent())
    digest = Photo.objects.get().digest
    helper.get(f"/farms/mill/photos/{digest}/small.jpg")
    gone = helper.post(f"/farms/mill/photos/{digest}/take-away/", {"entry": entry})
    assert gone.headers["Location"] == f"/farms/mill/log/{entry}/"
    assert helper.get(f"/farms/mill/photos/{digest}.jpg").status_code == 404
    assert not list((settings.DATA_FOLDER / "photos").glob(f"{digest}*"))
    assert helper.post(f"/farms/mill/photos/{digest}/take-away/").status_code == 404
    helper.post(added, sent())  # taken away by mistake
    assert helper.get(f"/farms/mill/photos/{digest}.jpg").status_code == 200
