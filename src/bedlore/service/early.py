"""Early signs of a bed: its readings held against its twin, each morning."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import numpy as np

from bedlore.decide.early import RATE, EarlySign, sign_of
from bedlore.learn.drift import drifts, stuck
from bedlore.learn.innovations import believe, innovations
from bedlore.service.belief import lesson_for

if TYPE_CHECKING:
    from bedlore.service.morning import Situation

MEMBERS = 60


def early_signs(situation: Situation) -> tuple[EarlySign, ...]:
    """What drifts from the twin of the bed, since the state that its twin keeps (a fortnight to
    four weeks back)."""
    twin, bed, farm = situation.twin, situation.bed, situation.farm
    some = np.linspace(0, twin.members - 1, min(MEMBERS, twin.members)).round().astype(np.int64)
    params = twin.params[some]
    around = situation.surroundings.of_members(some)
    lesson = lesson_for(farm, bed, situation.entries, around, params)
    kept = twin.snapshot
    believed = believe(lesson, params, kept.at, kept.state.pick(some))
    called = [*stuck(believed), *drifts(innovations(believed))]
    zone = farm.site.zone_info()
    return tuple(sign_of(one, lesson.past.start, zone) for one in called)


def early_account(signs: Iterable[EarlySign]) -> list[dict[str, Any]]:
    """Early signs as plain data."""
    return [
        {"drift": one.way, "words": one.words, "act": one.act, "since": one.since.isoformat(),
         "of_readings": one.readings, "symptom": one.symptom, "by_chance": RATE}
        for one in signs
    ]  # fmt: skip
