"""All of a farm as the members of an archive, and back."""

from __future__ import annotations

import base64
import datetime as dt
import hashlib
import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from django.db import DatabaseError, transaction
from django.db.models import Model

from bedlore.errors import KeeperError
from bedlore.farm.load import dump_farm, parse_farm
from bedlore.farm.log import ENTRY, AnyEntry
from bedlore.farm.model import Farm
from bedlore.say import say, to_text
from bedlore.service.book import Author
from bedlore.service.photographs import is_photograph
from bedlore.store.db.farm_store import add_farm, farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import (
    AdviceGiven,
    BedOutlookRow,
    BedRow,
    BedVersion,
    FarmRow,
    FarmVersion,
    LogEntry,
    Membership,
    OutlookRun,
    Photo,
    WeatherPiece,
    ZoneRow,
)
from bedlore.store.durable import replace_file
from bedlore.store.log_format import encode_csv, encode_jsonl

_WRITTEN = ("entry_id", "client_id", "sent_hash", "written_at", "written_by")
_VERSION = ("version", "body", "saved_at", "saved_by", "why")
_WEATHER = ("kind", "source", "start", "end", "got_at", "body")
_RUN = ("made_at", "worked_at", "version", "inputs", "weather_note", "kept_aside")
_ADVICE = ("bed", "made_at", "action", "headline", "body", "answer", "answered_at", "answered_by",
           "entry_id")  # fmt: skip
_PHOTO = ("entry_id", "digest", "width_px", "height_px", "size_bytes", "added_at", "added_by",
          "removed_at")  # fmt: skip
_BED = ("slug", "name", "kind", "place", "started", "position", "version", "body", "removed_at")
_TIMES = {"written_at", "saved_at", "start", "end", "got_at", "made_at", "worked_at",
          "answered_at", "added_at", "removed_at", "since", "changed_at"}  # fmt: skip
# What a part that says something else than an archive of ours runs into.
_UNFITTING = (LookupError, ValueError, TypeError, AttributeError, ArithmeticError, RecursionError,
              DatabaseError)  # fmt: skip


class DbFarmParts:
    """A :class:`~bedlore.service.archive.FarmParts` over ``row``; photographs lie in
    ``photos``."""

    def __init__(self, photos: Path, row: FarmRow | None = None) -> None:
        self._photos = photos
        self._row = row

    def parts(self) -> Iterator[tuple[str, bytes]]:
        """Name and content of every member."""
        row = self._row
        assert row is not None
        yield "farm.toml", dump_farm(farm_of_row(row)).encode()
        entries = LogEntry.objects.filter(farm=row).order_by("at", "entry_id")
        yield "log.jsonl", _text(encode_jsonl(_entries(entries)))
        yield "log.csv", _text(encode_csv(_entries(entries)))
        yield "written.jsonl", _rows(LogEntry.objects.filter(farm=row).order_by("pk"), _WRITTEN)
        yield "farm-versions.jsonl", _rows(row.versions.order_by("version"), _VERSION,
                                           {"slug": row.slug, "as_of": _plain(row.as_of),
                                            "made_at": _plain(row.made_at),
                                            "changed_at": _plain(row.changed_at)})  # fmt: skip
        yield "bed-versions.jsonl", _lines(_bed(bed) for bed in row.beds.order_by("slug"))
        yield "weather.jsonl", _rows(row.weather.order_by("got_at", "pk"), _WEATHER)
        runs = list(row.runs.order_by("pk"))
        yield "runs.jsonl", _rows(runs, _RUN)
        yield "outlooks.jsonl", _lines(_outlooks(runs))
        yield "advice.jsonl", _lines(_advice(row, runs))
        yield "photos.jsonl", _rows(row.photos.order_by("entry_id", "digest"), _PHOTO)
        members = Membership.objects.filter(farm=row).select_related("account")
        people = sorted((m.account.username, m.role) for m in members)
        yield "people.json", json.dumps(people, ensure_ascii=False).encode()
        for digest in sorted(set(row.photos.values_list("digest", flat=True))):
            path = self._photos / f"{digest}.jpg"
            if path.is_file():
                yield f"photos/{digest}.jpg", path.read_bytes()

    def restore(self, parts: Mapping[str, bytes], now: dt.datetime) -> int:
        """Makes a new farm of ``parts``, all of it or nothing; returns its number. Accounts are
        not restored: who wrote what is kept by name."""
        try:
            with transaction.atomic():
                row = _Restoring(parts, now).farm()
        except _UNFITTING as problem:
            raise KeeperError(say("The archive does not fit together ({name}).",
                                  name=type(problem).__name__),
                              "archive", say("Nothing was restored.")) from None  # fmt: skip
        for name, content in parts.items():
            # A picture is taken only under its own digest: no archive may slip in another's.
            if name.startswith("photos/") and _is_its_own(name, content):
                self._photos.mkdir(parents=True, exist_ok=True)
                replace_file(self._photos / name.removeprefix("photos/"), [content])
        return int(row.pk)


def _is_its_own(name: str, content: bytes) -> bool:
    digest = hashlib.sha256(content).hexdigest()
    return name == f"photos/{digest}.jpg" and is_photograph(content)


def _entries(rows: Any) -> Iterator[AnyEntry]:
    for body in rows.values_list("body", flat=True).iterator(2000):
        yield ENTRY.validate_json(body)


def _text(lines: Iterable[str]) -> bytes:
    return "".join(lines).encode()


def _lines(items: Iterable[Mapping[str, Any]]) -> bytes:
    return _text(json.dumps(item, ensure_ascii=False) + "\n" for item in items)


def _plain(value: Any) -> Any:
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat()
    if isinstance(value, dt.date):
        return value.isoformat()
    return to_text(value) if isinstance(value, str) else value


def _record(row: Model, names: Iterable[str]) -> dict[str, Any]:
    return {name: _plain(getattr(row, name)) for name in names}


def _rows(rows: Iterable[Model], names: Iterable[str],
          more: Mapping[str, Any] | None = None) -> bytes:  # fmt: skip
    names = tuple(names)
    return _lines({**_record(row, names), **(more or {})} for row in rows)


def _bed(bed: BedRow) -> dict[str, Any]:
    versions = bed.versions.order_by("version")
    told = ("version", "body", "since", "saved_by")
    return {**_record(bed, _BED), "versions": [_record(version, told) for version in versions]}


def _outlooks(runs: list[OutlookRun]) -> Iterator[dict[str, Any]]:
    for place, run in enumerate(runs):
        for bed in run.beds.order_by("bed"):
            told = _record(bed, ("bed", "odds_cold", "odds_hot", "odds_sour"))
            yield {"run": place, **told, "zlib_json": base64.b64encode(bytes(bed.body)).decode()}


def _advice(row: FarmRow, runs: list[OutlookRun]) -> Iterator[dict[str, Any]]:
    place = {run.pk: number for number, run in enumerate(runs)}
    for given in row.advice.order_by("pk"):
        yield {"run": place.get(given.run_id), **_record(given, _ADVICE)}


class _Restoring:
    """One archive on its way into the database."""

    def __init__(self, parts: Mapping[str, bytes], now: dt.datetime) -> None:
        self._parts = parts
        self._now = now

    def farm(self) -> FarmRow:
        versions = list(self._read("farm-versions.jsonl"))
        farm = parse_farm(self._parts["farm.toml"].decode(), "farm.toml")
        head = versions[-1]
        row = add_farm(farm, Author(), self._now, str(head["slug"]), head["as_of"])
        row.versions.all().delete()
        self._many(FarmVersion, "farm-versions.jsonl", _VERSION, farm=row)
        row.version, row.made_at = head["version"], head["made_at"]
        row.changed_at, row.body = head["changed_at"], head["body"]
        if Farm.model_validate_json(row.body) != farm:
            raise ValueError("the farm file is not the last version")
        row.save()
        self._beds(row)
        self._log(row)
        self._many(WeatherPiece, "weather.jsonl", _WEATHER, farm=row)
        self._many(Photo, "photos.jsonl", _PHOTO, farm=row)
        self._outlooks(row)
        return row

    def _read(self, name: str) -> Iterator[dict[str, Any]]:
        for line in self._parts[name].decode().splitlines():
            found = json.loads(line)
            times = {key: dt.datetime.fromisoformat(value) for key, value in found.items()
                     if key in (*_TIMES, "as_of") and value is not None}  # fmt: skip
            yield {**found, **times}

    def _many(self, model: Callable[..., Any], name: str, names: Iterable[str],
              **more: Any) -> list[Any]:  # fmt: skip
        names = tuple(names)
        rows = [model(**{key: item[key] for key in names}, **more) for item in self._read(name)]
        return list(rows[0].__class__.objects.bulk_create(rows, 500)) if rows else []

    def _beds(self, row: FarmRow) -> None:
        BedVersion.objects.filter(bed__farm=row).delete()
        for item in self._read("bed-versions.jsonl"):
            told = {name: item[name] for name in _BED if name != "slug"}
            bed, _ = BedRow.objects.update_or_create(farm=row, slug=item["slug"], defaults=told)
            BedVersion.objects.bulk_create(
                BedVersion(bed=bed, version=v["version"], body=v["body"], saved_by=v["saved_by"],
                           since=dt.datetime.fromisoformat(v["since"]))
                for v in item["versions"]
            )  # fmt: skip
            if bed.removed_at is not None:
                ZoneRow.objects.filter(bed=bed).delete()

    def _log(self, row: FarmRow) -> None:
        entries = {entry.id: entry for entry in self._log_entries()}
        log = DbLog(row)
        new = []
        for item in self._read("written.jsonl"):
            entry = entries.pop(item["entry_id"])
            new.append(log.row_of(entry, **{key: item[key] for key in _WRITTEN[1:]}))
        if entries:
            raise ValueError("entries without a writer")
        log.add_rows(new)

    def _log_entries(self) -> Iterator[AnyEntry]:
        for line in self._parts["log.jsonl"].decode().splitlines():
            raw = json.loads(line)
            for part in raw.get("parts", ()):
                if "amount" in part:  # the log format's name for what the keeper said
                    part["words"] = part.pop("amount")
            yield ENTRY.validate_python(raw)

    def _outlooks(self, row: FarmRow) -> None:
        runs = self._many(OutlookRun, "runs.jsonl", _RUN, farm=row)
        BedOutlookRow.objects.bulk_create((
            BedOutlookRow(run=runs[item["run"]], bed=item["bed"], odds_cold=item["odds_cold"],
                          odds_hot=item["odds_hot"], odds_sour=item["odds_sour"],
                          body=base64.b64decode(item["zlib_json"], validate=True))
            for item in self._read("outlooks.jsonl")
        ), 100)  # fmt: skip
        AdviceGiven.objects.bulk_create((
            AdviceGiven(farm=row, run=runs[item["run"]] if item["run"] is not None else None,
                        **{name: item[name] for name in _ADVICE})
            for item in self._read("advice.jsonl")
        ), 500)  # fmt: skip
