"""Makes what the pages will show of a new morning before anybody asks for it."""

from __future__ import annotations

import logging

from bedlore.service.shown import Shown
from bedlore.store.db.models import Account, FarmRow
from bedlore.web.bed_step import StepOf
from bedlore.web.leaves import carried, today
from bedlore.web.leaves.bed import bed_cut, bed_leaf
from bedlore.web.leaves.kept import forget_older
from bedlore.web.leaves.learnt import learnt_leaf
from bedlore.web.leaves.part import Part
from bedlore.web.speech import shown_to, speaking_to
from bedlore.web.wiring import Told, last_morning

log = logging.getLogger(__name__)


def draw_safely(farm_id: int) -> None:
    """:func:`draw_ahead` for jobs: what cannot be drawn now is drawn when it is asked for."""
    try:
        draw_ahead(FarmRow.objects.get(pk=farm_id))
    except Exception:
        log.exception("the pages of farm %s were not drawn ahead", farm_id)


def draw_ahead(row: FarmRow) -> None:
    """Makes all of it for everyone with a part in the farm, and throws older mornings' away."""
    told = last_morning(row, ())
    if told is None:
        return
    farm = told.morning.farm
    for reader in _readers(row):
        with speaking_to(reader, farm):
            _draw(told, shown_to(reader.units, farm))
    forget_older(told)


def _readers(row: FarmRow) -> list[Account]:
    """One account for each way of reading the farm: language and units."""
    accounts = Account.objects.filter(memberships__farm=row, is_active=True)
    return list({(one.language, one.units): one for one in accounts}.values())


def _draw(told: Told, shown: Shown) -> None:
    chores = today.chores_of(told, shown)
    if chores is None:
        return
    for make, size in ((today.today_leaves, today.BEDS_A_PAGE),
                       (carried.carried_leaves, carried.BEDS_A_PAGE)):  # fmt: skip
        for place in range(-(-len(chores) // size)):
            make(told, Part(place, len(chores), size), chores, shown)
    for chore in chores:
        _draw_bed(told, chore["id"], shown)


def _draw_bed(told: Told, bed_id: str, shown: Shown) -> None:
    mine, farm = told.of_beds((bed_id,)), told.morning.farm
    bed = farm.bed(bed_id)
    if bed is None or mine is None or not mine.morning.beds:
        return
    bed_cut(mine, StepOf(mine.morning.beds[0], farm, bed, mine.morning.now, shown, 0))
    bed_leaf(mine, bed_id, shown)
    learnt_leaf(mine, bed_id, shown)
