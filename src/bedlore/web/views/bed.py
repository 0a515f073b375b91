"""One bed: from above, cut along its length, the fortnight ahead, its zones and its log."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm
from bedlore.service.account import zone_name
from bedlore.service.book import LogFilter, Written
from bedlore.service.nightly import LEARN_FROM
from bedlore.service.phrases import short_day
from bedlore.service.shelter import fresh_shelters
from bedlore.service.shown import Shown
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.web import pictures, wiring
from bedlore.web.bed_below import dates_below, far_readings, shelter_below
from bedlore.web.bed_drawing import side_svg
from bedlore.web.bed_step import StepOf, last_step, step_context
from bedlore.web.entry_words import entry_words, told_entry
from bedlore.web.leaves.bed import bed_cut, bed_leaf
from bedlore.web.leaves.learnt import learnt_leaf
from bedlore.web.views.common import age_words, bed_or_404, frame, shown_for, unbroken

Context = dict[str, Any]
RECENT = 12
_FED_WITHIN = dt.timedelta(days=30)


def bed(request: HttpRequest, farm: str, bed: str) -> HttpResponse:
    """The page of one bed."""
    row = request.farm_row
    described = farm_of_row(row)
    found = bed_or_404(described, bed)
    shown = shown_for(request, described)
    told = wiring.last_morning(row, (bed,))
    recent = DbLog(row).page(LogFilter(bed=bed), RECENT)
    context: Context = {"bed": found, "told": told, **age_words(told)}
    if told is not None and told.morning.beds:
        (morning,) = told.morning.beds
        fed = _last_feeds(DbLog(row), bed, wiring.now_of(row))
        at = StepOf(morning, described, found, told.morning.now, shown,
                    _step(request, last_step(morning)))  # fmt: skip
        context.update(step_context(at, fed, bed_cut(told, at)))
        context["fed"] = [_feed_line(one, described, found, shown) for one in fed.values()]
        if request.htmx:  # only the drawings change
            return unbroken(render(request, "pages/bed_step.html", context))
        context["leaf"] = bed_leaf(told, bed, shown)
        context.update(_below(told, bed, shown))
    else:
        context["side"] = pictures.both(side_svg(found, shown, pictures.PHONE_PX, "side-p"),
                                        side_svg(found, shown, pictures.TABLE_PX, "side-t"))
    context["recent"] = [told_entry(one, described, shown) for one in recent]
    return unbroken(render(request, "pages/bed.html", frame(request, "today", **context)))


def _below(told: wiring.Told, bed: str, shown: Shown) -> Context:
    """What was learnt, what is due in the coming months, and shelter: worked out by jobs of their
    own, and kept."""
    farm, now = told.morning.farm, told.morning.now
    learnt = learnt_leaf(told, bed, shown)
    far = learnt.get("outliers", ())
    shelters = fresh_shelters(wiring.keeping_of(told.row), bed, now)
    return {
        "learnt": learnt, "learn_from": LEARN_FROM,
        "far": far_readings(DbLog(told.row), far, farm, shown) if far else [],
        "dates": dates_below(told.morning.dates.get(bed), shown),
        "shelter": shelter_below(shelters, now, shown),
    }  # fmt: skip


def _step(request: HttpRequest, last: int) -> int:
    text = request.GET.get("step", "0")
    return min(int(text), last) if text.isdecimal() and len(text) < 4 else 0


def _last_feeds(log: DbLog, bed: str, now: dt.datetime) -> dict[str, Written]:
    """The last feed of each zone within a month ("" for the whole bed)."""
    wanted = LogFilter(bed=bed, kinds=("feed",), since=now - _FED_WITHIN)
    found: dict[str, Written] = {}
    for one in log.page(wanted, 60):
        found.setdefault(one.entry.zone or "", one)
    return found


def _feed_line(one: Written, farm: Farm, bed: Bed, shown: Shown) -> tuple[str, str, str]:
    """When, where and what was fed last."""
    when = short_day(one.entry.at.astimezone(farm.site.zone_info()).date())
    return when, zone_name(bed, one.entry.zone or ""), entry_words(one.entry, farm, shown)
