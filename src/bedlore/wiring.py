"""Puts the adapters into the use cases: a farm in a folder, and what is kept beside it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

from bedlore.outlook.twin import Snapshot
from bedlore.say.language import listen
from bedlore.service.dates import shown_with
from bedlore.service.lead import leading
from bedlore.service.morning import BedMorning, Morning, Progress, morning
from bedlore.store.ahead_files import FolderAhead
from bedlore.store.files import FarmFolder
from bedlore.store.keepsakes import Keepsakes
from bedlore.store.weather_files import recorded_weather


class Anew(Keepsakes):
    """Keepsakes that are written but never taken up again: everything is worked out anew."""

    def snapshot(self, bed_id: str) -> Snapshot | None:
        """None, whatever is stored."""
        return None

    def morning(self, now: dt.datetime) -> tuple[BedMorning, ...] | None:
        """None, whatever is stored."""
        return None


def moment_in(folder: Path) -> dt.datetime:
    """The moment the farm in ``folder`` is seen at: the clock, or the demo's own (UTC)."""
    return (Keepsakes(folder).as_of() or dt.datetime.now(dt.UTC)).astimezone(dt.UTC)


def morning_in(folder: Path, now: dt.datetime | None = None, *, fresh: bool = False,
               progress: Progress | None = None) -> Morning:  # fmt: skip
    """This morning of the farm in ``folder``, seen at ``now`` (None: :func:`moment_in`).

    It is said in the farm's language and units from now on. ``fresh`` takes nothing from what the
    last run kept. Raises
    :class:`~bedlore.errors.KeeperError` when the farm cannot be read.
    """
    store = FarmFolder(folder)
    farm = store.load_farm()
    listen(farm.preferences.language, farm.preferences.units)
    now = now or moment_in(folder)
    keeping = Anew(folder) if fresh else Keepsakes(folder)
    log = store.read_log(farm, now)
    recorded = recorded_weather(folder, farm.site)
    told = morning(farm, log, recorded, now, keeping, progress)
    ahead = FolderAhead(folder)
    # The quick advice is what the folder keeps of a morning: a plan may be made, or made anew,
    # after it.
    beds = tuple(map(leading(farm, log, recorded, now, ahead), told.beds))
    _keep_led(ahead, told.now, beds)
    return replace(told, beds=beds,
                   dates=shown_with(ahead, told.now, tuple(bed.bed_id for bed in beds)))


def _keep_led(keeping: Keepsakes, now: dt.datetime, beds: tuple[BedMorning, ...]) -> None:
    """Writes down as given what a plan leads, where that was not the last word already."""
    tomorrow = now.date() + dt.timedelta(days=1)
    keeping.keep_advice([bed.advice for bed in beds if bed.advice.leads == "plan"
                         and keeping.advice_before(bed.bed_id, tomorrow) != bed.advice])
