"""A farm's description in the database: the whole of it as JSON, and its parts as rows."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache

from django.db import IntegrityError, transaction

from bedlore.errors import KeeperError
from bedlore.farm.bed import Bed
from bedlore.farm.fields import slug_of
from bedlore.farm.model import Farm
from bedlore.say import say
from bedlore.service.book import Author, Changed
from bedlore.store.db.models import BedRow, BedVersion, FarmRow, FarmVersion, StoreRow, ZoneRow

NOBODY = Author()


@lru_cache(maxsize=64)
def _parsed(body: str) -> Farm:
    """A farm read from its JSON; pages ask for the same one again and again."""
    return Farm.model_validate_json(body)


def farm_of_row(row: FarmRow) -> Farm:
    """The description that ``row`` holds."""
    return _parsed(row.body)


def add_farm(farm: Farm, by: Author, now: dt.datetime, slug: str = "",
             as_of: dt.datetime | None = None) -> FarmRow:  # fmt: skip
    """A new farm in the database; its slug, made from its name, is one no other farm has."""
    stem = (slug or slug_of(farm.name) or "farm")[:70]
    for number in range(1, 1000):
        name = stem if number == 1 else f"{stem}-{number}"
        try:
            with transaction.atomic():
                row = FarmRow.objects.create(
                    slug=name, name=farm.name, time_zone=farm.site.time_zone,
                    latitude_deg=farm.site.latitude_deg, longitude_deg=farm.site.longitude_deg,
                    version=0, body=farm.model_dump_json(exclude_none=True), made_at=now,
                    changed_at=now, as_of=as_of,
                )  # fmt: skip
                DbFarmStore(row, now=now).save_farm(farm, 0, by, "new")
        except IntegrityError:
            if not FarmRow.objects.filter(slug=name).exists():
                raise
            continue
        row.refresh_from_db()
        return row
    raise KeeperError(say("There are too many farms called {name}.", name=repr(farm.name)),
                      fix=say("Choose another name."))  # fmt: skip


class DbFarmStore:
    """A :class:`~bedlore.service.ports.FarmStore` and
    :class:`~bedlore.service.farm_file.VersionedFarm` over the farm ``row``."""

    def __init__(self, row: FarmRow, now: dt.datetime | None = None) -> None:
        self._row = row
        self._now = now

    @property
    def version(self) -> int:
        """The version last read."""
        return int(self._row.version)

    def load_farm(self) -> Farm:
        """The farm as described now."""
        try:
            self._row.refresh_from_db()
        except FarmRow.DoesNotExist:
            raise KeeperError(say("This farm is no longer there.")) from None
        return farm_of_row(self._row)

    def farm_at(self, version: int | None) -> Farm | None:
        """The farm as ``version`` described it; None when there was no such version."""
        rows = FarmVersion.objects.filter(farm=self._row, version=version)
        body = rows.values_list("body", flat=True).first() if version is not None else None
        return _parsed(body) if body is not None else None

    def changed(self) -> Changed:
        """What to tell whoever wanted to change what somebody else has just changed."""
        return _changed(FarmRow.objects.get(pk=self._row.pk))

    def save_farm(self, farm: Farm, expected: int | None = None, by: Author = NOBODY,
                  why: str = "") -> None:  # fmt: skip
        """Replaces the description; the one before stays among the versions."""
        now = self._now or dt.datetime.now(dt.UTC)
        with transaction.atomic():
            row = FarmRow.objects.select_for_update().get(pk=self._row.pk)
            if expected is not None and row.version != expected:
                raise _changed(row)
            row.version += 1
            row.name, row.time_zone = farm.name, farm.site.time_zone
            row.latitude_deg = farm.site.latitude_deg
            row.longitude_deg = farm.site.longitude_deg
            row.body = farm.model_dump_json(exclude_none=True)
            row.changed_at = now
            row.save()
            FarmVersion.objects.create(
                farm=row, version=row.version, body=row.body, saved_at=now, saved_by=by.name,
                author_id=by.account_id, why=why[:200],
            )  # fmt: skip
            _draw_out(row, farm, by, now)
        self._row.refresh_from_db()


def _changed(row: FarmRow) -> Changed:
    last = FarmVersion.objects.filter(farm=row, version=row.version).first()
    when = f"{row.changed_at:%d %B %H:%M} UTC"
    who = last.saved_by if last else ""
    changed = (
        say("The farm was changed meanwhile by {name} ({when}).", name=who, when=when) if who
        else say("The farm was changed meanwhile ({when}).", when=when)
    )  # fmt: skip
    return Changed(changed, fix=say("Look at it as it is now, then make your change again."))


def _draw_out(row: FarmRow, farm: Farm, by: Author, now: dt.datetime) -> None:
    """Brings the rows of beds, zones and materials in line with ``farm``."""
    there = {bed.slug: bed for bed in BedRow.objects.filter(farm=row)}
    for position, bed in enumerate(farm.beds):
        _draw_bed(row, there.pop(bed.id, None), bed, position, by, now)
    for gone in there.values():
        if gone.removed_at is None:
            gone.removed_at = now
            gone.save(update_fields=["removed_at"])
    StoreRow.objects.filter(farm=row).delete()
    StoreRow.objects.bulk_create(
        StoreRow(farm=row, position=position, material=item.material, name=item.name,
                 mass_kg=item.mass_kg, per_week_kg=item.per_week_kg, hold=item.hold)
        for position, item in enumerate(farm.store)
    )  # fmt: skip


def _draw_bed(row: FarmRow, kept: BedRow | None, bed: Bed, position: int, by: Author,
              now: dt.datetime) -> None:  # fmt: skip
    body = bed.model_dump_json(exclude_none=True)
    found = kept or BedRow(farm=row, slug=bed.id, version=0, body="")
    is_new_version = found.body != body or found.removed_at is not None
    found.name, found.kind, found.place = bed.name, bed.kind, bed.place
    found.started, found.position, found.removed_at = bed.started, position, None
    found.body = body
    found.version += is_new_version
    found.save()
    if not is_new_version:
        return
    BedVersion.objects.create(bed=found, version=found.version, body=body, since=now,
                              saved_by=by.name)  # fmt: skip
    ZoneRow.objects.filter(bed=found).delete()
    ZoneRow.objects.bulk_create(
        ZoneRow(bed=found, slug=zone.id, name=zone.name, side=zone.side, position=place,
                active=zone.active)
        for place, zone in enumerate(bed.zones)
    )  # fmt: skip
