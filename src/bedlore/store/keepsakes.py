"""What bedlore keeps for itself in a farm folder: snapshots, advice given, the last morning.

Everything here but advice and outlooks given can be deleted; it is worked out again. A folder
that cannot be written to costs time, never an answer.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
from collections.abc import Iterable
from functools import cache, cached_property
from pathlib import Path

from pydantic import ConfigDict, TypeAdapter, ValidationError

import bedlore
from bedlore.decide.records import Advice
from bedlore.outlook.twin import Snapshot, load_snapshot, save_snapshot
from bedlore.service.morning import BedMorning
from bedlore.store.durable import append_bytes, replace_file
from bedlore.store.learnings import FOLDER as LEARNT
from bedlore.store.learnings import Learnings

SNAPSHOTS = "snapshots"
ADVICE_GIVEN = "advice.jsonl"
LAST_MORNING = "morning.json"
AS_OF = "as_of.txt"
_ADVICE = TypeAdapter(Advice)
# An hour that never comes (a limit never passed) is infinite.
_BEDS = TypeAdapter(
    tuple[BedMorning, ...], config=ConfigDict(ser_json_inf_nan="constants")
)
# A morning depends on these files of the folder, and on nothing else but the clock.
_INPUTS = ("farm.toml", "log*.csv", "log*.jsonl", "weather.*", "days-ahead.txt", "forecast.csv",
           f"{LEARNT}/*.npz")


class Keepsakes(Learnings):
    """The keepsakes of the farm in ``folder``."""

    def as_of(self) -> dt.datetime | None:
        """The moment a farm is to be seen at (the demo's), or None for the clock."""
        try:
            return dt.datetime.fromisoformat((self.folder / AS_OF).read_text("utf-8").strip())
        except (OSError, ValueError):
            return None

    def snapshot(self, bed_id: str) -> Snapshot | None:
        """The stored state of a bed, if there is one that can be read."""
        return load_snapshot(self._snapshot_path(bed_id))

    def keep_snapshot(self, bed_id: str, snapshot: Snapshot) -> None:
        """Store the state of a bed for next time."""
        with contextlib.suppress(OSError):
            save_snapshot(self._snapshot_path(bed_id), snapshot)

    def advice_before(self, bed_id: str, day: dt.date) -> Advice | None:
        """The last advice given for a bed before ``day``."""
        found = None
        for advice in self._advice_given:
            if advice.bed_id == bed_id and advice.made_at.date() < day:
                found = advice
        return found

    def keep_advice(self, advice: Iterable[Advice]) -> None:
        """Write advice down as given, before anyone knows how it turns out."""
        lines = b"".join(_ADVICE.dump_json(each) + b"\n" for each in advice)
        with contextlib.suppress(OSError):
            append_bytes(self.folder / ADVICE_GIVEN, lines)
        self.__dict__.pop("_advice_given", None)  # read anew when next asked for

    def morning(self, now: dt.datetime) -> tuple[BedMorning, ...] | None:
        """The beds of the last morning, when nothing has changed since and it is the same hour."""
        try:
            key, _, body = (self._cache / LAST_MORNING).read_bytes().partition(b"\n")
            return _BEDS.validate_json(body) if key.decode() == self._key(now) else None
        except (OSError, ValidationError, UnicodeDecodeError):
            return None

    def keep_morning(self, now: dt.datetime, beds: tuple[BedMorning, ...]) -> None:
        """Store a morning's result for the next call of this hour."""
        with contextlib.suppress(OSError):
            self._cache.mkdir(parents=True, exist_ok=True)
            body = _BEDS.dump_json(beds)
            replace_file(self._cache / LAST_MORNING, [self._key(now).encode(), b"\n", body])

    @property
    def _cache(self) -> Path:
        return self.folder / SNAPSHOTS

    def _snapshot_path(self, bed_id: str) -> Path:
        return self._cache / f"{bed_id}.npz"

    @cached_property
    def _advice_given(self) -> list[Advice]:
        try:
            lines = (self.folder / ADVICE_GIVEN).read_bytes().splitlines()
        except OSError:
            return []
        given = []
        for line in lines:
            with contextlib.suppress(ValidationError):
                given.append(_ADVICE.validate_json(line))
        return given

    def _key(self, now: dt.datetime) -> str:
        digest = hashlib.sha256(code_hash().encode())
        digest.update(now.isoformat().encode())
        for pattern in _INPUTS:
            for path in sorted(self.folder.glob(pattern)):
                digest.update(path.name.encode())
                digest.update(path.read_bytes())
        before = self._advice_given
        digest.update(repr([a.made_at for a in before if a.made_at < now]).encode())
        return digest.hexdigest()


@cache
def code_hash() -> str:
    """Hash of the whole package: an answer of another version is never shown as today's."""
    digest = hashlib.sha256()
    for path in sorted(Path(bedlore.__file__).parent.rglob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()
