"""Learning a farm's beds from the log, and telling what was learnt."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.history import start_of
from bedlore.errors import Fault
from bedlore.facts.parameters import BY_NAME
from bedlore.farm.bed import Bed
from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading
from bedlore.learn.calibrate import calibrate, refresh
from bedlore.learn.forward import Lesson
from bedlore.learn.herd import Band, Herd, Worth, herd_of, worth_counting
from bedlore.learn.misfit import Complaint, complaints
from bedlore.learn.observations import readings_of_log
from bedlore.learn.record import Learnt, snapshot_of
from bedlore.outlook.twin import MEMBERS, Past, Snapshot
from bedlore.service.morning import beds_alive, farm_members, surround, whole_hour
from bedlore.service.surroundings import BedAir, Recorded, Surroundings

RELEARN_D = 28.0  # warm updates rest on a state no older than this
_MOVED = 0.10  # a parameter that the log narrowed by less is not worth a line
_METHODS = {
    "prior": "nothing to learn from yet: what is usual for such beds",
    "smoother": "smoother only: counts and words would not combine well, so a long run"
                " (--thorough) may change the picture",
    "corrected": "smoother, corrected by the exact odds of counts and words",
    "particles": "long run with exact odds",
}  # fmt: skip
Account = dict[str, Any]
Progress = Callable[[str, int, int], None]


class LearntStore(Protocol):
    """Keeps what was learnt of each bed."""

    def learnt(self, bed_id: str) -> Learnt | None:
        """What was learnt, if it can still be used."""
        ...

    def keep_learnt(self, learnt: Learnt) -> None:
        """Store it in place of what was."""
        ...


@dataclass(frozen=True)
class Learning:
    """The beds of a farm as their logs show them at ``now``; ``faults`` as in a morning."""

    farm: Farm
    now: dt.datetime
    faults: tuple[Fault, ...]
    beds: dict[str, Learnt]


def lesson_for(farm: Farm, bed: Bed, entries: Sequence[AnyEntry],
               surroundings: Surroundings, base: NDArray[np.void]) -> Lesson:  # fmt: skip
    """Everything that a bed can be learnt from up to the surroundings' now."""
    start = start_of(bed, farm.site.zone_info())
    now = surroundings.now

    def air_of(params: NDArray[np.void]) -> BedAir:
        return BedAir(surroundings.believing(params), bed, start)

    past = Past(bed, start, BedAir(surroundings, bed, start), entries)
    readings = readings_of_log(bed, entries, start, now)
    return Lesson(past, air_of, base, readings, now)


def learn(farm: Farm, log: LogReading, recorded: Recorded, now: dt.datetime,
          store: LearntStore, *, fresh: bool = False, thorough: bool = False,
          members: int = MEMBERS, progress: Progress | None = None) -> Learning:  # fmt: skip
    """Learn every bed of a farm; warm where only a few readings are new.

    ``fresh`` learns everything anew, ``thorough`` allows the long run where it is needed.
    """
    now = whole_hour(now)
    begun, not_begun = beds_alive(farm, now)
    base = farm_members(members)
    surroundings = surround(farm, recorded, base, now)
    lessons = [lesson_for(farm, bed, log.current, surroundings, base) for bed in begun]
    known = {} if fresh or thorough else _warm(lessons, store)
    if lessons and len(known) < len(lessons):

        def tell(done: int, of: int) -> None:
            if progress:
                progress("learning the beds", done, of)

        known = calibrate(lessons, thorough=thorough, progress=tell)
    for learnt in known.values():
        store.keep_learnt(learnt)
    return Learning(farm, now, (*log.faults, *not_begun), known)


def _warm(lessons: Sequence[Lesson], store: LearntStore) -> dict[str, Learnt]:
    """Warm updates of all beds; of none when one of them must be learnt anew.

    What beds share is one vector for the farm, so that they are learnt anew together.
    """
    found = {}
    for lesson in lessons:
        stored = store.learnt(lesson.bed_id)
        if stored is None or len(stored.z) != len(lesson.base) or not _covers(stored, lesson):
            return {}
        updated = refresh(stored, lesson)
        if updated is None:
            return {}
        found[lesson.bed_id] = updated
    return found


def _covers(stored: Learnt, lesson: Lesson) -> bool:
    """Whether the kept state still rests on the log as it is, and is recent enough."""
    too_old = (lesson.end - stored.kept_at) / 24.0 > RELEARN_D
    return not too_old and stored.past_key == past_key(lesson, stored)


def past_key(lesson: Lesson, stored: Learnt) -> str:
    """Name of everything that the kept state of ``stored`` rests on."""
    air = lesson.air_of(stored.params)
    past = Past(lesson.past.bed, lesson.past.start, air, lesson.past.entries)
    return snapshot_of(stored, past).key


def snapshot_from(learnt: Learnt, farm: Farm, bed: Bed, entries: Sequence[AnyEntry],
                  surroundings: Surroundings) -> Snapshot:  # fmt: skip
    """The kept state for ``outlook.twin.bring_up`` with ``learnt.params``."""
    start = start_of(bed, farm.site.zone_info())
    air = BedAir(surroundings.believing(learnt.params), bed, start)
    return snapshot_of(learnt, Past(bed, start, air, entries))


def learn_account(learning: Learning) -> Account:
    """What was learnt, as plain data (SI)."""
    return {
        "farm": learning.farm.name, "now": learning.now.isoformat(),
        "beds": [
            _bed_account(bed, learning.beds[bed.id])
            for bed in learning.farm.beds if bed.id in learning.beds
        ],
        "faults": [{"path": f.path, "sentence": f.sentence} for f in learning.faults],
    }  # fmt: skip


def _bed_account(bed: Bed, learnt: Learnt) -> Account:
    told = learnt.told_by_log()
    bands = learnt.bands()
    moved = sorted((n for n, share in told.items() if share >= _MOVED), key=lambda n: -told[n])
    return {
        "bed": bed.id, "name": bed.name, "method": learnt.method,
        "method_words": _METHODS[learnt.method],
        "readings": len(set(learnt.read)), "model_error_k": learnt.model_error_k,
        "parameters": [
            {
                "name": name, "meaning": BY_NAME[name].meaning, "unit": BY_NAME[name].unit,
                "band": list(bands[name]), "told_by_log": told[name],
                "before": [BY_NAME[name].low, BY_NAME[name].default, BY_NAME[name].high],
            }
            for name in moved
        ],
        "outliers": list(learnt.outliers),
        "complaints": [_complaint(c) for c in complaints(learnt, [z.id for z in bed.zones])],
        "check": {"khat": _finite(learnt.khat), "effective_members": learnt.ess},
    }  # fmt: skip


def _complaint(complaint: Complaint) -> Account:
    return {"sentence": complaint.sentence, "entries": list(complaint.entries),
            "strength": complaint.strength}  # fmt: skip


def _finite(value: float) -> float | None:
    return value if np.isfinite(value) else None


def herd_account(learning: Learning, volume_l: float = 1.0) -> Account:
    """The herd of each bed, and what counting more would do."""
    beds = []
    for bed in learning.farm.beds:
        learnt = learning.beds.get(bed.id)
        if learnt is None:
            continue
        zones = [zone.id for zone in bed.zones]
        herd = herd_of(learnt, zones)
        worth = worth_counting(learnt, zones, learnt.litres, volume_l)
        beds.append({"bed": bed.id, "name": bed.name, **_herd(herd, worth)})
    return {"farm": learning.farm.name, "now": learning.now.isoformat(), "beds": beds}


def _herd(herd: Herd, worth: Worth) -> Account:
    return {
        "worms_n": _band(herd.worms), "worms_kg": _band(herd.mass_kg),
        "stages_n": {stage: _band(band) for stage, band in herd.number.items()},
        "zones_kg": {zone: _band(band) for zone, band in herd.by_zone_kg.items()},
        "feed_kg_day_at_20_c": _band(herd.feed_kg_day),
        "counting": {
            "half_width_now": worth.now, "zone": worth.zone_id,
            "half_width_after": {str(n): width for n, width in worth.after.items()},
            "worms_a_handful": worth.mean_a_core, "words": worth.words,
        },
    }  # fmt: skip


def _band(band: Band) -> list[float]:
    return [band.low, band.lower, band.middle, band.upper, band.high]
