"""Dates worked out for each bed, kept as files beside its state; they can be worked out again."""

from __future__ import annotations

import contextlib
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from bedlore.decide.date_records import RestDates
from bedlore.outlook.twin import Snapshot, load_snapshot, save_snapshot
from bedlore.store.durable import replace_file
from bedlore.store.keepsakes import SNAPSHOTS, code_hash
from bedlore.store.learnings import Learnings

_DATES = TypeAdapter(RestDates)


class DatesFiles(Learnings):
    """A :class:`~bedlore.service.dates.DatesKeeping` in a folder of states of beds; what was
    learnt lies in ``farm`` (the same folder when left out)."""

    def __init__(self, states: Path, farm: Path | None = None) -> None:
        super().__init__(farm or states)
        self._states = states

    @classmethod
    def of_farm(cls, folder: Path) -> DatesFiles:
        """Where a farm folder keeps them."""
        return cls(folder / SNAPSHOTS, folder)

    def snapshot(self, bed_id: str) -> Snapshot | None:
        """The stored state of a bed, if there is one that can be read."""
        return load_snapshot(self._states / f"{bed_id}.npz")

    def keep_snapshot(self, bed_id: str, snapshot: Snapshot) -> None:
        """Store the state of a bed for next time."""
        with contextlib.suppress(OSError):
            save_snapshot(self._states / f"{bed_id}.npz", snapshot)

    def dates(self, bed_id: str, key: str = "") -> RestDates | None:
        """The dates kept of a bed: those worked out for ``key``, or the last ones ("")."""
        try:
            kept, _, body = self._path(bed_id).read_bytes().partition(b"\n")
            if key and kept.decode() != _whole_key(key):
                return None
            return _DATES.validate_json(body)
        except (OSError, ValidationError, UnicodeDecodeError):
            return None

    def keep_dates(self, key: str, dates: RestDates) -> None:
        """Store them in place of what was."""
        with contextlib.suppress(OSError):
            self._states.mkdir(parents=True, exist_ok=True)
            body = _DATES.dump_json(dates)
            replace_file(self._path(dates.bed_id), [_whole_key(key).encode(), b"\n", body])

    def _path(self, bed_id: str) -> Path:
        return self._states / f"{bed_id}.dates.json"


def _whole_key(key: str) -> str:
    """An answer of another version is never shown as today's."""
    return f"{code_hash()[:16]} {key}"
