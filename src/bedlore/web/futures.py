"""What-ifs of pages: worked out one at a time, from beds that stay in memory for a while."""

from __future__ import annotations

import threading
from collections import OrderedDict

from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm
from bedlore.service.morning import whole_hour
from bedlore.service.what_if import Change, Start, WhatIf, start_what_if, what_if
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import FarmRow
from bedlore.store.db.weather_store import DbWeather
from bedlore.web import wiring

_KEPT = 6  # beds in memory, about a megabyte each
_starts: OrderedDict[tuple[str, ...], Start] = OrderedDict()
_turn = threading.Lock()  # two at once would only slow each other down


def found(row: FarmRow, farm: Farm, bed: Bed, change: Change) -> WhatIf:
    """Both futures of a bed, seen from the present hour."""
    now = whole_hour(wiring.now_of(row))
    keeping = wiring.keeping_of(row)
    with _turn:
        key = (str(row.pk), bed.id, keeping.inputs(now))
        start = _starts.get(key)
        if start is None:
            start = start_what_if(
                farm, bed, DbLog(row).read_log(farm, now, bed.id), DbWeather(row).recorded(now),
                now, keeping,
            )  # fmt: skip
            _starts[key] = start
            while len(_starts) > _KEPT:
                _starts.popitem(last=False)
        return what_if(start, change)
