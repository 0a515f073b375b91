"""Absences of pages: worked out beside the request, and kept for a while."""

from __future__ import annotations

import datetime as dt
import logging
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.db import connections

from bedlore.errors import KeeperError
from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm
from bedlore.say import say, sentences
from bedlore.service.away import away_account, days_of
from bedlore.service.beds_now import BedsNow
from bedlore.service.morning import whole_hour
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import FarmRow
from bedlore.store.db.weather_store import DbWeather
from bedlore.web import wiring

log = logging.getLogger(__name__)
Account = dict[str, Any]
_KEPT = 24
_PATIENCE_S = 2.0
_lock = threading.Lock()
_turn = threading.Lock()  # two at once would only slow each other down


@dataclass
class Work:
    """An absence that is being worked out, or was."""

    done: threading.Event = field(default_factory=threading.Event)
    account: Account | None = None
    problem: str = ""


_works: OrderedDict[tuple[str, ...], Work] = OrderedDict()


def found(row: FarmRow, farm: Farm, bed: Bed, leave: dt.date, back: dt.date) -> Work:
    """The absence, begun now or before; not yet ``done`` while it is worked out. Raises
    KeeperError for dates that cannot be."""
    now = whole_hour(wiring.now_of(row))
    days_of(leave, back, now.astimezone(farm.site.zone_info()).date())  # or it raises
    keeping = wiring.keeping_of(row)
    key = (str(row.pk), bed.id, keeping.inputs(now), leave.isoformat(), back.isoformat())

    def told() -> Account:
        work = BedsNow(farm, [bed], DbLog(row).read_log(farm, now, bed.id),
                       DbWeather(row).recorded(now), now, keeping)  # fmt: skip
        return away_account(farm, bed, work.few_case(bed), leave, back)

    with _lock:
        work = _works.get(key)
        if work is None or work.problem:
            work = _works[key] = Work()
            threading.Thread(target=_do, args=(work, told), name="absence", daemon=True).start()
            while len(_works) > _KEPT:
                _works.popitem(last=False)
    work.done.wait(_PATIENCE_S)
    return work


def _do(work: Work, told: Callable[[], Account]) -> None:
    try:
        with _turn:
            work.account = told()
    except KeeperError as problem:
        work.problem = sentences(problem.message, problem.fix)
    except Exception as problem:  # whatever it is, the keeper is told and the page goes on
        log.exception("an absence could not be worked out")
        work.problem = say("It could not be worked out ({name}).", name=type(problem).__name__)
    finally:
        connections.close_all()
        work.done.set()
