"""Dates, plans and shelters of a farm in the database, as files: they can be worked out again."""

from __future__ import annotations

from pathlib import Path

from bedlore.store.ahead_files import AheadFiles
from bedlore.store.db.keeping import DbKeeping
from bedlore.store.db.models import FarmRow


class DbAhead(DbKeeping, AheadFiles):
    """Everything kept of the farm ``row``, dates, plans and shelters too."""

    def __init__(self, row: FarmRow, cache: Path) -> None:
        DbKeeping.__init__(self, row, cache)
        AheadFiles.__init__(self, cache / f"farm-{row.pk}")
