"""Photographs of a farm: rows in the database, files in the data folder."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from pathlib import Path

from django.db import transaction

from bedlore.service.book import Author
from bedlore.service.photographs import Photograph, small
from bedlore.store.db.models import FarmRow, LogEntry, Photo
from bedlore.store.durable import replace_file

_PRIVATE = 0o600


class DbPhotos:
    """The photographs of the farm ``row``, their files in ``folder``."""

    def __init__(self, row: FarmRow, folder: Path) -> None:
        self._farm = row
        self._folder = folder

    def add(self, entry_id: str, taken: Sequence[Photograph], by: Author,
            now: dt.datetime) -> None:  # fmt: skip
        """Keeps photographs with an entry; one that is there already is not kept twice, and one
        that was taken away comes back."""
        self._folder.mkdir(parents=True, exist_ok=True)
        for one in taken:
            replace_file(self._path(one.digest), [one.content], _PRIVATE)
        with transaction.atomic():
            for one in taken:
                told = {"width_px": one.width_px, "height_px": one.height_px,
                        "size_bytes": len(one.content), "removed_at": None}  # fmt: skip
                Photo.objects.update_or_create(
                    farm=self._farm, entry_id=entry_id, digest=one.digest, defaults=told,
                    create_defaults={**told, "added_at": now, "added_by": by.name[:120]},
                )  # fmt: skip

    def of_entries(self, entry_ids: Iterable[str]) -> dict[str, list[Photo]]:
        """The photographs of each entry, with those of the entries that it corrects."""
        came_from = self._corrected(set(entry_ids))
        every = {name for names in came_from.values() for name in names}
        rows = self._there().filter(entry_id__in=every).order_by("added_at", "pk") if every else ()
        by_entry: dict[str, list[Photo]] = {}
        for row in rows:
            by_entry.setdefault(row.entry_id, []).append(row)
        found = {
            entry: list({photo.digest: photo for name in names for photo in by_entry.get(name, ())}
                        .values())
            for entry, names in came_from.items()
        }  # fmt: skip
        return {entry: photos for entry, photos in found.items() if photos}

    def _corrected(self, entry_ids: set[str]) -> dict[str, list[str]]:
        """Each entry with all that it corrects, at first, second or later hand."""
        chains = {entry: [entry] for entry in entry_ids}
        heads = {entry: entry for entry in entry_ids}
        while heads:
            rows = LogEntry.objects.filter(farm=self._farm, entry_id__in=set(heads.values()))
            before = dict(rows.exclude(amends="").values_list("entry_id", "amends"))
            heads = {entry: before[last] for entry, last in heads.items()
                     if last in before and before[last] not in chains[entry]}  # fmt: skip
            for entry, last in heads.items():
                chains[entry].append(last)
        return chains

    def content(self, digest: str, *, small_one: bool = False) -> bytes | None:
        """The picture (or a small one of it), or None when the farm has none such."""
        if not self._there().filter(digest=digest).exists():
            return None
        path = self._path(digest)
        try:
            if not small_one:
                return path.read_bytes()
            little = self._path(f"{digest}-small")
            if not little.is_file():
                replace_file(little, [small(path.read_bytes())], _PRIVATE)
            return little.read_bytes()
        except OSError:
            return None

    def take_away(self, digest: str, now: dt.datetime) -> bool:
        """Takes a photograph away from the farm's log, and its file when no farm shows it."""
        gone = self._there().filter(digest=digest).update(removed_at=now)
        if gone and not Photo.objects.filter(digest=digest, removed_at=None).exists():
            for name in (digest, f"{digest}-small"):
                self._path(name).unlink(missing_ok=True)
        return bool(gone)

    def _there(self):  # type: ignore[no-untyped-def]
        return Photo.objects.filter(farm=self._farm, removed_at=None)

    def _path(self, name: str) -> Path:
        return self._folder / f"{name}.jpg"
