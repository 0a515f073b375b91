"""The archive restores exactly, and hostile ones are refused before anything is unpacked."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from django.test import Client

from bedlore.errors import KeeperError
from bedlore.service import archive
from bedlore.service.archive import export_archive, read_archive, restore_archive
from bedlore.service.book import Author
from bedlore.service.correct_entry import correct_entry
from bedlore.service.record_entry import record_entry
from bedlore.store.db.archive import DbFarmParts
from bedlore.store.db.doors import role_of
from bedlore.store.db.farm_store import DbFarmStore
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import Account, FarmRow, LogEntry
from bedlore.store.db.photos import DbPhotos
from bedlore.store.db.weather_store import DbWeather
from tests.unit.farm.test_bed import FARM
from tests.unit.service.test_photographs import taken
from tests.unit.weather.test_series import series
from tests.web.conftest import INES, NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def full(farm_row: FarmRow, people, told, tmp_path: Path) -> FarmRow:
    """A farm with something of everything."""
    book = DbLog(farm_row)
    feed = {"kind": "feed", "at": "2026-01-10", "bed": "sluice", "material": "bread",
            "amount": "half a bucket"}  # fmt: skip
    feed["amount"] = "2 lb"
    first = record_entry(book, FARM, feed, INES, NOW, "phone-1").written.entry
    correct_entry(book, FARM, first.id, {"note": "=1+1 <b>&\n\u00e9"}, Author("Udo"), NOW)
    bed = FARM.beds[0].model_copy(update={"note": "rebuilt"})
    farm = FARM.model_copy(update={"beds": (bed, *FARM.beds[1:])})
    DbFarmStore(farm_row, now=NOW).save_farm(farm, 1, INES, "rebuilt")
    DbWeather(farm_row).add(series(48), "record", NOW)
    DbWeather(farm_row).type_days("2026-01-12: -7 degC to 2 degC", NOW)
    DbPhotos(farm_row, tmp_path).add(first.id, [taken()], INES, NOW)
    farm_row.refresh_from_db()
    return farm_row


def packed(row: FarmRow, photos: Path) -> bytes:
    target = io.BytesIO()
    export_archive(DbFarmParts(photos, row).parts(), NOW, target)
    return target.getvalue()


def test_a_restored_farm_gives_the_same_archive(full: FarmRow, tmp_path: Path) -> None:
    first = packed(full, tmp_path)
    assert first == packed(full, tmp_path)
    full.delete()
    elsewhere = tmp_path / "elsewhere"
    number = restore_archive(DbFarmParts(elsewhere), io.BytesIO(first), NOW)
    row = FarmRow.objects.get(pk=number)
    again = packed(row, elsewhere)
    members, others = read_archive(io.BytesIO(first)), read_archive(io.BytesIO(again))
    people = members.pop("people.json"), others.pop("people.json")
    assert json.loads(people[0])
    assert json.loads(people[1]) == []  # accounts do not travel
    assert members == others
    assert LogEntry.objects.filter(farm=row, holds=False).count() == 1
    assert {name for name in members if name.startswith("photos/")}


def test_an_archive_beside_its_farm_becomes_a_second_farm(full: FarmRow, tmp_path: Path) -> None:
    number = restore_archive(DbFarmParts(tmp_path), io.BytesIO(packed(full, tmp_path)), NOW)
    assert FarmRow.objects.get(pk=number).slug == "mill-2"


def test_a_picture_comes_in_only_under_its_own_digest(full: FarmRow, tmp_path: Path) -> None:
    members = read_archive(io.BytesIO(packed(full, tmp_path)))
    (name,) = (name for name in members if name.startswith("photos/"))
    mine = (tmp_path / Path(name).name).read_bytes()
    elsewhere = tmp_path / "elsewhere"
    fake = hashlib.sha256(b"<html>").hexdigest()
    DbFarmParts(elsewhere).restore({**members, name: b"another", f"photos/{fake}.jpg": b"<html>"},
                                   NOW)  # fmt: skip
    assert not list(elsewhere.glob("*.jpg"))
    assert (tmp_path / Path(name).name).read_bytes() == mine


def hostile(members: dict[str, bytes]) -> io.BytesIO:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in members.items():
            file.writestr(name, content)
    return target


@pytest.mark.parametrize("name", ["../../etc/passwd", "/etc/passwd", "photos/../x.jpg", "C:\\x",
                                  "photos/aa/.jpg", "farm.toml/", "x.sqlite3"])  # fmt: skip
def test_names_that_lead_elsewhere_are_refused(name: str) -> None:
    with pytest.raises(KeeperError, match="no file of a bedlore archive"):
        read_archive(hostile({name: b"x"}))


def test_bombs_are_refused_unopened(monkeypatch: pytest.MonkeyPatch) -> None:
    def opened(*_: object) -> bytes:
        raise AssertionError("it was opened")

    monkeypatch.setattr(archive, "_content", opened)
    with pytest.raises(KeeperError, match="far larger"):
        read_archive(hostile({"log.jsonl": b"0" * 30_000_000}))
    monkeypatch.setattr(archive, "MAX_MEMBERS", 3)
    many = {f"photos/{number:064x}.jpg": b"" for number in range(4)}
    with pytest.raises(KeeperError, match="too many"):
        read_archive(hostile(many))


def test_a_member_that_lies_about_its_size_is_refused() -> None:
    """The directory says few bytes, the stream holds many."""
    data = bytearray(hostile({"log.jsonl": b"abc" * 100}).getvalue())
    place = data.rfind(b"PK\x01\x02")
    data[place + 24 : place + 28] = (5).to_bytes(4, "little")
    with pytest.raises(KeeperError):
        read_archive(io.BytesIO(bytes(data)))


def test_a_changed_member_is_noticed(full: FarmRow, tmp_path: Path) -> None:
    members = read_archive(io.BytesIO(packed(full, tmp_path)))
    with zipfile.ZipFile(io.BytesIO(packed(full, tmp_path))) as file:
        manifest = file.read("manifest.json")
    members["log.jsonl"] = members["log.jsonl"].replace(b"bread", b"straw")
    with pytest.raises(KeeperError, match="changed or damaged"):
        read_archive(hostile({**members, "manifest.json": manifest}))
    with pytest.raises(KeeperError, match="does not fit"):
        read_archive(hostile({"manifest.json": manifest}))


@pytest.mark.parametrize("data", [b"", b"PK", b"no zip at all", b"PK\x05\x06" + b"\x00" * 18])
def test_what_is_no_archive_is_a_sentence(data: bytes) -> None:
    with pytest.raises(KeeperError):
        read_archive(io.BytesIO(data))


def test_nothing_is_left_of_an_archive_that_does_not_fit(full: FarmRow, tmp_path: Path) -> None:
    members = read_archive(io.BytesIO(packed(full, tmp_path)))
    farms = FarmRow.objects.count()
    for name in ("written.jsonl", "farm-versions.jsonl", "weather.jsonl", "outlooks.jsonl"):
        for content in (b"", b"{}\n", b"[1]\n", b"{", members[name] * 2):
            try:
                DbFarmParts(tmp_path).restore({**members, name: content}, NOW)
            except KeeperError:
                continue
            assert content == b"" or b"{" in content  # an empty part may be a farm without it
            FarmRow.objects.order_by("-pk").first().delete()
    assert FarmRow.objects.count() == farms


def test_down_and_up_through_the_pages(
    as_: Callable[..., Client], people: dict[str, Account], full: FarmRow
) -> None:
    answer = as_("keeper").get("/farms/mill/archive.zip")
    data = b"".join(answer.streaming_content)
    file = io.BytesIO(data)
    file.name = "../mill.zip"
    assert as_("stranger").post("/farms/restore/", {"archive": file}).url == "/farms/mill-2/farm/"
    row = FarmRow.objects.get(slug="mill-2")
    assert role_of(people["stranger"].pk, row.pk) == "keeper"
    assert as_("viewer").get("/farms/mill-2/farm.toml").status_code == 404
    bad = io.BytesIO(b"nothing")
    bad.name = "x.zip"
    assert as_("keeper").post("/farms/restore/", {"archive": bad}).status_code == 422


def test_logs_go_out_as_files(as_: Callable[..., Client], full: FarmRow) -> None:
    for form in ("csv", "jsonl"):
        answer = as_("viewer").get(f"/farms/mill/log.{form}")
        text = b"".join(answer.streaming_content).decode()
        assert text.count("phone") == 0
        assert "food_bread" in text
        assert ",=1+1" not in text  # no cell that a spreadsheet would run
        assert "attachment" in answer.headers["Content-Disposition"]
    assert as_("viewer").get("/farms/mill/log.exe").status_code == 404
