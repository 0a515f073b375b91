"""Saving a part of a farm that others may be changing at the same time.

Who changes another part does not stand in the way. Who changes the same part is told of first:
what the other wrote is shown beside the field, what one typed stays in it, and only a second
press replaces it.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from bedlore.errors import Fault, FaultList
from bedlore.farm.model import Farm
from bedlore.service.book import Author, Changed
from bedlore.service.shown import Shown
from bedlore.store.db.farm_store import DbFarmStore
from bedlore.store.db.models import FarmRow
from bedlore.web.entry_fields import Values
from bedlore.web.parts.base import Part

_TRIES = 3


@dataclass(frozen=True)
class Edit:
    """What was typed into a part's form that showed ``seen``, a version of the farm."""

    part: Part
    sent: Values
    seen: int | None
    shown: Shown


def save_part(row: FarmRow, edit: Edit, by: Author, why: str) -> Farm:
    """Saves the part; returns the farm as it is then. Raises :class:`FaultList`, with a fault
    beside each field that somebody else has changed meanwhile."""
    store = DbFarmStore(row)
    for attempt in range(_TRIES):
        now = store.load_farm()
        _unchanged(store, edit, now)
        changed = edit.part.changed(now, edit.sent, edit.shown)
        try:
            store.save_farm(changed, store.version, by, why)
        except Changed:  # between reading and writing; look again
            if attempt == _TRIES - 1:
                raise
        else:
            return changed
    raise AssertionError("unreachable")


def _unchanged(store: DbFarmStore, edit: Edit, now: Farm) -> None:
    """Raises when the part is no longer as the form showed it."""
    before = store.farm_at(edit.seen)
    if before is None:
        raise FaultList([Fault("", str(store.changed()))])
    was, there = (edit.part.values(farm, edit.shown) for farm in (before, now))
    if was == there:
        return
    faults = [Fault("", f"{store.changed().message} "
                    + _("What you typed is still here; save again to let it count."))]
    for name in dict.fromkeys((*was, *there)):
        if was.get(name) != there.get(name):
            faults.append(Fault(name, _("Meanwhile it was changed to “%s”.")
                                % (there.get(name) or "–")))  # fmt: skip
    raise FaultList(faults)
