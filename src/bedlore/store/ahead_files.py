"""Dates, plans and shelters worked out for each bed, kept as files beside its state.

All of it can be worked out again; an answer of another version is never shown as today's.
"""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from bedlore.decide.date_records import RestDates
from bedlore.decide.plan_records import Plan
from bedlore.decide.shelter import Shelters
from bedlore.store.durable import replace_file
from bedlore.store.keepsakes import SNAPSHOTS, Keepsakes, code_hash

_DATES, _PLAN, _SHELTERS = TypeAdapter(RestDates), TypeAdapter(Plan), TypeAdapter(Shelters)


class AheadFiles:
    """Kept dates, plans and shelters in a folder of states of beds."""

    def __init__(self, states: Path) -> None:
        self._states = states

    def dates(self, bed_id: str, key: str = "") -> RestDates | None:
        """The dates kept of a bed: those worked out for ``key``, or the last ones ("")."""
        found: RestDates | None = self._read(_DATES, bed_id, "dates", key)
        return found

    def keep_dates(self, key: str, dates: RestDates) -> None:
        """Store them in place of what was."""
        self._keep(_DATES.dump_json(dates), dates.bed_id, "dates", key)

    def plan(self, bed_id: str, key: str = "") -> Plan | None:
        """The plan kept of a bed: that worked out for ``key``, or the last one ("")."""
        found: Plan | None = self._read(_PLAN, bed_id, "plan", key)
        return found

    def keep_plan(self, key: str, plan: Plan) -> None:
        """Store it in place of what was."""
        self._keep(_PLAN.dump_json(plan), plan.bed_id, "plan", key)

    def shelters(self, bed_id: str, key: str = "") -> Shelters | None:
        """What was kept of a bed: worked out for ``key``, or last ("")."""
        found: Shelters | None = self._read(_SHELTERS, bed_id, "shelter", key)
        return found

    def keep_shelters(self, key: str, shelters: Shelters) -> None:
        """Store it in place of what was."""
        self._keep(_SHELTERS.dump_json(shelters), shelters.bed_id, "shelter", key)

    def _read(self, kind: TypeAdapter[Any], bed_id: str, name: str, key: str) -> Any:
        try:
            kept, _, body = (self._states / f"{bed_id}.{name}.json").read_bytes().partition(b"\n")
            if key and kept.decode() != _whole_key(key):
                return None
            return kind.validate_json(body)
        except (OSError, ValidationError, UnicodeDecodeError):
            return None

    def _keep(self, body: bytes, bed_id: str, name: str, key: str) -> None:
        with contextlib.suppress(OSError):
            self._states.mkdir(parents=True, exist_ok=True)
            replace_file(self._states / f"{bed_id}.{name}.json",
                         [_whole_key(key).encode(), b"\n", body])  # fmt: skip


class FolderAhead(Keepsakes, AheadFiles):
    """Everything kept in a farm folder, dates, plans and shelters too."""

    def __init__(self, folder: Path) -> None:
        Keepsakes.__init__(self, folder)
        AheadFiles.__init__(self, folder / SNAPSHOTS)


def _whole_key(key: str) -> str:
    return f"{code_hash()[:16]} {key}"
