"""What a bed is believed to be like this morning: as learnt from its log, or as is usual.

A learning is used as long as the model is the same and the bed was not rebuilt since. New
readings cost a warm update; where the log behind its kept state was changed, or that state is
too old, the learnt parameters still hold and the state is worked out again from the start.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.history import start_of
from bedlore.farm.bed import Bed
from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Farm
from bedlore.learn.calibrate import refresh
from bedlore.learn.discrepancy import SD_START_K, ahead_k
from bedlore.learn.forward import Lesson
from bedlore.learn.observations import readings_of_log
from bedlore.learn.record import Learnt, bed_key, snapshot_of
from bedlore.outlook.doubt import Doubt
from bedlore.outlook.twin import Past, Snapshot
from bedlore.say import Words
from bedlore.service.score import FEWEST_SEEN, OutlookStore, bed_spread, seen_temps
from bedlore.service.surroundings import BedAir, Surroundings
from bedlore.service.unexplained import unexplained

RELEARN_D = 28.0  # warm updates rest on a state no older than this
Standing = Literal["learnt", "not_learnt", "rebuilt"]


class LearntStore(Protocol):
    """Keeps what was learnt of each bed."""

    def learnt(self, bed_id: str) -> Learnt | None:
        """What was learnt, if it can still be used."""
        ...

    def keep_learnt(self, learnt: Learnt) -> None:
        """Store it in place of what was."""
        ...


class BeliefStore(LearntStore, OutlookStore, Protocol):
    """Keeps what was learnt and the outlooks given."""


@dataclass(frozen=True)
class Rests:
    """What a bed's figures rest on: ``readings`` learnt from, the last at ``until``.

    ``model_error_k`` is how far the bed wanders from the model: what learning begins with, until
    the log tells; ``spread`` the factor that past outlooks call for. ``whole`` is False when the
    log was changed behind what was learnt, and ``unexplained`` says what the twin cannot explain.
    """

    standing: Standing = "not_learnt"
    readings: int = 0
    until: dt.datetime | None = None
    whole: bool = True
    model_error_k: float = SD_START_K
    spread: float = 1.0
    unexplained: Words = ""

    @property
    def wants_learning(self) -> bool:
        """Whether learning the bed (anew) would make it truer."""
        return self.standing != "learnt" or not self.whole

    @property
    def doubt(self) -> Doubt:
        """What is to be added to the ensemble's own spread."""
        return Doubt(self.model_error_k, self.spread)


NOT_LEARNT = Rests()


@dataclass(frozen=True)
class Belief:
    """What a bed is worked out with: parameters ``[M]``, the weather around them, a state to
    begin from (None: as stored, or from the start)."""

    params: NDArray[np.void]
    surroundings: Surroundings
    snapshot: Snapshot | None
    rests: Rests


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


def beliefs_of(farm: Farm, beds: Iterable[Bed], entries: Sequence[AnyEntry],
               surroundings: Surroundings, usual: NDArray[np.void],
               store: BeliefStore) -> dict[str, Belief]:  # fmt: skip
    """What each of ``beds`` is believed to be like at the surroundings' now, by id.

    ``usual`` ``[M]`` are the parameters of a bed of which nothing was learnt. Updates are stored.
    """
    beds = list(beds)
    seen = {bed.id: seen_temps(bed, entries) for bed in beds}
    judged = any(len(mine) >= FEWEST_SEEN for mine in seen.values())
    outlooks = store.outlooks() if judged else []
    return {
        bed.id: _belief(farm, bed, entries, surroundings, usual, store,
                        bed_spread(seen[bed.id], outlooks))
        for bed in beds
    }  # fmt: skip


def _belief(farm: Farm, bed: Bed, entries: Sequence[AnyEntry], surroundings: Surroundings,
            usual: NDArray[np.void], store: BeliefStore, spread: float) -> Belief:  # fmt: skip
    learnt = store.learnt(bed.id)
    if learnt is None or len(learnt.params) != len(usual):
        return Belief(usual, surroundings, None, Rests(spread=spread))
    if learnt.bed_key != bed_key(bed):
        return Belief(usual, surroundings, None, Rests("rebuilt", spread=spread))
    lesson = lesson_for(farm, bed, entries, surroundings, usual)
    whole = covers(learnt, lesson)
    if whole and set(learnt.read) < {reading.entry_id for reading in lesson.readings}:
        updated = refresh(learnt, lesson)
        if updated is not None:
            learnt = updated
            store.keep_learnt(learnt)
    return Belief(
        learnt.params, surroundings.believing(learnt.params),
        snapshot_from(learnt, farm, bed, entries, surroundings) if whole else None,
        Rests("learnt", len(set(learnt.read)), last_read(learnt, bed, farm.site.zone_info()),
              whole, ahead_k(learnt), spread, unexplained(learnt, bed)),
    )  # fmt: skip


def covers(stored: Learnt, lesson: Lesson) -> bool:
    """Whether the kept state still rests on the log as it is, and is recent enough."""
    age_d = (lesson.end - stored.kept_at) / 24.0
    return 0.0 <= age_d <= RELEARN_D and stored.past_key == past_key(lesson, stored)


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


def last_read(learnt: Learnt, bed: Bed, zone: dt.tzinfo) -> dt.datetime | None:
    """When the last reading that was learnt from was taken; None without any."""
    hours = [fit.hour for fit in learnt.fits]
    return start_of(bed, zone) + dt.timedelta(hours=max(hours)) if hours else None


def new_entries(learnt: Learnt | None, bed: Bed, entries: Iterable[AnyEntry]) -> int:
    """Entries of ``bed`` that came after it was learnt; all of them when it was not."""
    mine = [entry for entry in entries if entry.bed == bed.id]
    return len(mine) if learnt is None else sum(entry.at > learnt.at for entry in mine)
