"""Files beside the database for what hangs on a stored morning: server and worker share them.

They can be made again, and go when the next morning has its own.
"""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Callable, Collection
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.cache.backends.filebased import FileBasedCache
from django.utils.translation import get_language

from bedlore.say import plain
from bedlore.store.keepsakes import code_hash
from bedlore.web.wiring import Told

_DAYS_S = 3 * 24 * 3600
_MOST = 20_000  # of one morning; a farm of fifty beds has some two hundred for each language


def kept(told: Told, name: str, make: Callable[[], Any]) -> Any:
    """What ``make`` gives, made once for a morning, a version of the farm and of the code, and a
    language; None is not kept. A folder that cannot be used costs time, never an answer."""
    files = FileBasedCache(str(_folder(told)), {"OPTIONS": {"MAX_ENTRIES": _MOST}})
    key = f"{code_hash()[:16]}-{told.row.version}-{name}-{get_language()}"
    # What cannot be read back is made again.
    with contextlib.suppress(Exception):
        found = files.get(key)
        if found is not None:
            return found
    made = plain(make())  # quick to read back
    if made is not None:
        with contextlib.suppress(OSError):
            files.set(key, made, _DAYS_S)
    return made


def kept_of_beds(told: Told, bed_ids: Collection[str], name: str,
                 make: Callable[[Told], Any]) -> Any:  # fmt: skip
    """The same of some beds, from the morning that holds them; None when that can no longer be
    read."""

    def whole() -> Any:
        mine = told.of_beds(bed_ids)
        return None if mine is None else make(mine)

    return kept(told, name, whole)


def forget_older(told: Told) -> None:
    """Throws away what was kept of mornings before this one."""
    mine = _folder(told)
    with contextlib.suppress(OSError):
        for folder in mine.parent.iterdir():
            if folder != mine:
                shutil.rmtree(folder, ignore_errors=True)


def _folder(told: Told) -> Path:
    stamp = f"{told.run_id}-{told.worked_at.timestamp():.6f}"
    return Path(settings.DATA_FOLDER) / "drawn" / f"farm-{told.row.pk}" / stamp
