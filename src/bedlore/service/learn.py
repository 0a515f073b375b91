"""Learning a farm's beds from the log, and telling what was learnt."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

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
from bedlore.learn.record import Learnt, bed_key
from bedlore.outlook.twin import MEMBERS
from bedlore.say import message, say
from bedlore.service.account import zone_name
from bedlore.service.belief import LearntStore, covers, last_read, lesson_for
from bedlore.service.learnt_words import (
    basis_words,
    counting_words,
    few_words,
    herd_words,
    parameter_words,
    read_words,
    unfed_words,
)
from bedlore.service.morning import beds_alive, farm_members, surround, whole_hour
from bedlore.service.surroundings import Recorded

MOVED = 0.10  # a parameter that the log narrowed by less is not worth a line
_METHODS = {
    "prior": message("nothing to learn from yet: what is usual for such beds"),
    "smoother": message("smoother only: counts and words would not combine well, so a long"
                        " run (--thorough) may change the picture"),
    "partly": message("smoother, corrected in part by the exact odds of counts and words: a long"
                      " run (--thorough) may change the picture"),
    "corrected": message("smoother, corrected by the exact odds of counts and words"),
    "particles": message("long run with exact odds"),
}  # fmt: skip
Account = dict[str, Any]
Progress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Learning:
    """The beds of a farm as their logs show them at ``now``; ``faults`` as in a morning."""

    farm: Farm
    now: dt.datetime
    faults: tuple[Fault, ...]
    beds: dict[str, Learnt]
    entries: tuple[AnyEntry, ...] = ()


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
                progress(say("learning the beds"), done, of)

        known = calibrate(lessons, thorough=thorough, progress=tell)
    for learnt in known.values():
        store.keep_learnt(learnt)
    return Learning(farm, now, (*log.faults, *not_begun), known, tuple(log.current))


def _warm(lessons: Sequence[Lesson], store: LearntStore) -> dict[str, Learnt]:
    """Warm updates of all beds; of none when one of them must be learnt anew.

    What beds share is one vector for the farm, so that they are learnt anew together.
    """
    found = {}
    for lesson in lessons:
        stored = store.learnt(lesson.bed_id)
        if stored is None or len(stored.z) != len(lesson.base) or not _holds(stored, lesson):
            return {}
        updated = refresh(stored, lesson)
        if updated is None:
            return {}
        found[lesson.bed_id] = updated
    return found


def _holds(stored: Learnt, lesson: Lesson) -> bool:
    return stored.bed_key == bed_key(lesson.past.bed) and covers(stored, lesson)


def learn_account(learning: Learning) -> Account:
    """What was learnt, as plain data (SI)."""
    return {
        "farm": learning.farm.name, "made_at": learning.now.isoformat(),
        "beds": [
            _bed_account(learning, bed, learning.beds[bed.id])
            for bed in learning.farm.beds if bed.id in learning.beds
        ],
        "faults": [{"path": f.path, "sentence": f.sentence} for f in learning.faults],
    }  # fmt: skip


def _bed_account(learning: Learning, bed: Bed, learnt: Learnt) -> Account:
    zone = learning.farm.site.zone_info()
    until = last_read(learnt, bed, zone)
    local = until.astimezone(zone).date() if until else None
    by_id = {entry.id: entry for entry in learning.entries}
    faults = complaints(learnt, [zone.called for zone in bed.zones])
    return {
        "bed": bed.id, "name": bed.name, "method": learnt.method,
        "method_words": say(_METHODS[learnt.method]),
        "readings_n": len(set(learnt.read)), "read_until": until.isoformat() if until else None,
        "words": basis_words(len(set(learnt.read)), local),
        "notes": list(few_words(learnt, until or learning.now)),
        "model_error_k": learnt.model_error_k,
        "parameters": parameters_account(learnt),
        "outliers": [_outlier(i, by_id.get(i), zone) for i in learnt.outliers],
        "complaints": [_complaint(c) for c in faults],
        "khat": learnt.khat if np.isfinite(learnt.khat) else None,
        "effective_members": learnt.ess,
    }  # fmt: skip


def parameters_account(learnt: Learnt) -> list[Account]:
    """What the log told of, the most telling first."""
    told, bands = learnt.told_by_log(), learnt.bands()
    moved = sorted((n for n, share in told.items() if share >= MOVED), key=lambda n: -told[n])
    return [
        {
            "name": name, "meaning": BY_NAME[name].meaning, "unit": BY_NAME[name].unit,
            "range": list(bands[name]), "told_share": told[name],
            "range_before": [BY_NAME[name].low, BY_NAME[name].default, BY_NAME[name].high],
            "words": parameter_words(name, bands[name], learnt.moved_sd(name)),
        }
        for name in moved
    ]  # fmt: skip


def _outlier(entry_id: str, entry: AnyEntry | None, zone: dt.tzinfo) -> Account:
    """A reading far from anything expected, as the keeper wrote it."""
    if entry is None:
        return {"entry": entry_id, "words": say("a reading that is no longer in the log")}
    return {"entry": entry_id, "words": read_words(entry, entry.at.astimezone(zone).date())}


def _complaint(complaint: Complaint) -> Account:
    return {"sentence": complaint.sentence, "entry_ids": list(complaint.entries),
            "strength": complaint.strength}  # fmt: skip


def herd_account(learning: Learning) -> Account:
    """The herd of each bed, and what counting more would do."""
    beds = []
    for bed in learning.farm.beds:
        learnt = learning.beds.get(bed.id)
        if learnt is None:
            continue
        zones = [zone.id for zone in bed.zones]
        herd = herd_of(learnt, zones)
        worth = worth_counting(learnt, zones, learnt.litres)
        beds.append({"bed": bed.id, "name": bed.name, **_herd(bed, herd, worth),
                     "notes": _herd_notes(learning, bed, learnt)})  # fmt: skip
    return {"farm": learning.farm.name, "made_at": learning.now.isoformat(), "beds": beds}


def _herd(bed: Bed, herd: Herd, worth: Worth | None) -> Account:
    return {
        "words": herd_words(herd), "odds_lost": herd.lost_share,
        "worms_n": _band(herd.worms), "worms_kg": _band(herd.mass_kg),
        **{f"{stage}_n": _band(band) for stage, band in herd.number.items()},
        "zones": [
            {"zone": zone, "zone_name": zone_name(bed, zone), "worms_kg": _band(band)}
            for zone, band in herd.by_zone_kg.items()
        ],
        "feed_kg_day": _band(herd.feed_kg_day),
        "counting": _counting(bed, worth),
    }  # fmt: skip


def _herd_notes(learning: Learning, bed: Bed, learnt: Learnt) -> list[str]:
    """What the herd rests on, and what the log leaves out: a twin that nobody feeds starves."""
    zone = learning.farm.site.zone_info()
    until = last_read(learnt, bed, zone)
    day = until.astimezone(zone).date() if until else None
    unfed = unfed_words(bed, learning.entries, start_of(bed, zone), learning.now)
    return [basis_words(len(set(learnt.read)), day), *few_words(learnt, until or learning.now),
            *unfed]  # fmt: skip


def _counting(bed: Bed, worth: Worth | None) -> Account:
    if worth is None:
        return {"half_width": None, "zone": None, "after": [], "worms_a_core": None, "stop": [],
                "words": counting_words(None, "")}  # fmt: skip
    return {
        "half_width": worth.now, "zone": worth.zone_id,
        "after": [{"cores": n, "half_width": width} for n, width in worth.after.items()],
        "worms_a_core": worth.mean_a_core,
        "stop": [{"cores": n, "found_n": found} for n, found in worth.stop.items()],
        "words": counting_words(worth, zone_name(bed, worth.zone_id)),
    }  # fmt: skip


def _band(band: Band) -> list[float]:
    return [band.low, band.middle, band.high]
