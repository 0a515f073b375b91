"""What stands lower on the page of a bed: shelter, dates and readings that weigh little.

All of it was worked out by jobs and kept; it is told here to whoever reads.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from bedlore.decide.date_records import RestDates
from bedlore.decide.date_words import brief, the_rest
from bedlore.decide.shelter import Shelters
from bedlore.farm.model import Farm
from bedlore.service.shown import Shown
from bedlore.store.db.log_store import DbLog
from bedlore.web.entry_words import Told, told_entry

Context = dict[str, Any]


def dates_below(kept: RestDates | None, shown: Shown) -> Context | None:
    """All dates of a bed, those that matter first; None where none are fresh enough."""
    if kept is None:
        return None
    told = shown.sentence
    return {
        "made_at": kept.made_at, "until": kept.until,
        "brief": [told(line) for line in brief(kept)],
        "rest": [told(line) for line in the_rest(kept)],
        "takings": [{"words": told(one.words), "rescues": [told(way.words) for way in one.rescues]}
                    for one in kept.takings],
        "notes": [told(line) for line in kept.notes],
    }  # fmt: skip


def shelter_below(kept: Shelters | None, now: dt.datetime, shown: Shown) -> Context | None:
    """What is coming and the ways through it; ``now`` is the moment of the outlook above."""
    if kept is None:
        return None
    told = shown.sentence
    boat = (kept.lifeboat,) if kept.ways else ()
    return {
        "made_at": kept.made_at, "is_older": kept.made_at < now, "words": told(kept.words),
        "ways": [told(way.words) for way in kept.ways],
        "more": [told(line) for line in (kept.harm, *boat) if line],
        "cautions": [told(line) for line in kept.cautions],
    }  # fmt: skip


def far_readings(book: DbLog, entry_ids: Sequence[str], farm: Farm, shown: Shown) -> list[Told]:
    """Readings that learning found far from anything expected, as they stand in the log, newest
    first."""
    found = [told_entry(one, farm, shown) for one in book.named(entry_ids)]
    return sorted(found, key=lambda one: one["at"], reverse=True)
