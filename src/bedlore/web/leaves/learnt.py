"""What the page of one bed shows of what was learnt of it, read once for each outlook.

Whenever something is learnt an outlook is worked out anew, so that this is never behind.
"""

from __future__ import annotations

from typing import Any

from bedlore.service.learnt_told import learnt_told
from bedlore.service.shown import Shown
from bedlore.web.leaves.kept import kept
from bedlore.web.wiring import Told, keeping_of

Context = dict[str, Any]


def learnt_leaf(told: Told, bed_id: str, shown: Shown) -> Context:
    """``is_learnt``, and with it what was learnt of the bed and its herd."""
    found: Context = kept(told, f"learnt-{bed_id}-{shown.units}",
                          lambda: _leaf(told, bed_id, shown))  # fmt: skip
    return found


def _leaf(told: Told, bed_id: str, shown: Shown) -> Context:
    farm = told.morning.farm
    bed = farm.bed(bed_id)
    assert bed is not None
    found = learnt_told(farm, bed, keeping_of(told.row).learnt(bed_id), shown)
    return {"is_learnt": found is not None, **(found or {})}
