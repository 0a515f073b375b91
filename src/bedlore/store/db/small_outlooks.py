"""What scoring needs of a stored morning, read from it or kept in its place when it is old."""

from __future__ import annotations

import datetime as dt
import json
import zlib
from typing import Any

from bedlore.learn.verify import EVERY_H, PastOutlook, kept_rows
from bedlore.service.views import WHOLE_BED

_NAME = "temp_probe_c"  # outlooks are judged by thermometers alone
_UNFITTING = (zlib.error, ValueError, LookupError, TypeError)


def made_small(body: bytes) -> bytes:
    """A morning as packed by :mod:`~bedlore.store.db.keeping` without all but the quantiles of
    its thermometers, at the hours that are scored; nothing of what cannot be read."""
    try:
        told = _told(body)
        outlook = told["outlook"]
        step = max(EVERY_H // int(outlook["every_h"]), 1)
        zones = {
            zone: {_NAME: [row[step - 1 :: step] for row in series[_NAME]]}
            for zone, series in outlook["zones"].items() if zone != WHOLE_BED
        }  # fmt: skip
        every_h = step * int(outlook["every_h"])
        small = {"bed_id": told["bed_id"], "rests": {"spread": _spread(told)},
                 "outlook": {**{name: outlook[name] for name in ("start", "quantiles")},
                             "every_h": every_h, "zones": zones}}  # fmt: skip
    except _UNFITTING:
        return b""
    return zlib.compress(json.dumps([small]).encode(), 9)


def outlooks_in(body: bytes) -> list[PastOutlook]:
    """What a morning, whole or made small, said of each zone's thermometer."""
    try:
        told = _told(body)
        outlook = told["outlook"]
        start = dt.datetime.fromisoformat(outlook["start"])
        return [
            PastOutlook(told["bed_id"], zone, start,
                        kept_rows(series[_NAME], outlook["quantiles"], int(outlook["every_h"])),
                        _spread(told))
            for zone, series in outlook["zones"].items() if zone != WHOLE_BED
        ]  # fmt: skip
    except _UNFITTING:
        return []


def _told(body: bytes) -> dict[str, Any]:
    (told,) = json.loads(zlib.decompress(body))
    return dict(told)


def _spread(told: dict[str, Any]) -> float:
    """The factor on the spread that was in it; mornings of older versions had none."""
    return float(told.get("rests", {}).get("spread", 1.0))
