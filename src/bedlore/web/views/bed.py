"""One bed: from above, cut along its length, the fortnight ahead, its zones and its log."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from bedlore.bed.build import PROBE_DEPTH_M
from bedlore.decide.date_records import RestDates
from bedlore.decide.date_words import brief
from bedlore.decide.plan_records import Plan
from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm
from bedlore.service.account import report_account, zone_name
from bedlore.service.book import LogFilter, Written
from bedlore.service.phrases import local, mass_band, range_word, short_day, temp_word
from bedlore.service.shown import Shown
from bedlore.sheets.leaf import leaf_of
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.web import pictures, wiring
from bedlore.web.bed_drawing import side_svg
from bedlore.web.bed_step import StepOf, last_step, step_context
from bedlore.web.entry_words import entry_words, told_entry
from bedlore.web.views.common import age_words, frame, shown_for, unbroken

Context = dict[str, Any]
RECENT = 12
_FED_WITHIN = dt.timedelta(days=30)


def bed(request: HttpRequest, farm: str, bed: str) -> HttpResponse:
    """The page of one bed."""
    row = request.farm_row
    described = farm_of_row(row)
    found = described.bed(bed)
    if found is None:
        raise Http404
    shown = shown_for(request, described)
    told = wiring.last_morning(row, bed)
    recent = DbLog(row).page(LogFilter(bed=bed), RECENT)
    context: Context = {"bed": found, "told": told, **age_words(told)}
    if told is not None and told.morning.beds:
        (morning,) = told.morning.beds
        fed = _last_feeds(DbLog(row), bed, wiring.now_of(row))
        at = StepOf(morning, described, found, told.morning.now, shown,
                    _step(request, last_step(morning)))  # fmt: skip

        def once(name: str, make: Callable[[], Any]) -> Any:
            return pictures.kept(told, row.version, f"bed-{bed}-{shown.units}-{name}", make)

        context.update(step_context(at, fed, once))
        context["fed"] = [_feed_line(one, described, found, shown) for one in fed.values()]
        if request.htmx:  # only the drawings change
            return unbroken(render(request, "pages/bed_step.html", context))
        # Worked out after the morning, so not among what is kept with it.
        context["plan_ahead"] = _ahead(told.morning.plans.get(bed), shown)
        context["dates_ahead"] = _ahead(told.morning.dates.get(bed), shown)
        context["leaf"] = once("leaf", lambda: _leaf(told, shown))
    else:
        context["side"] = pictures.both(side_svg(found, shown, pictures.PHONE_PX, "side-p"),
                                        side_svg(found, shown, pictures.TABLE_PX, "side-t"))
    context["recent"] = [told_entry(one, described, shown) for one in recent]
    return unbroken(render(request, "pages/bed.html", frame(request, "today", **context)))


def _ahead(kept: Plan | RestDates | None, shown: Shown) -> list[str]:
    """A kept plan or kept dates in a few lines, for whoever reads."""
    if kept is None:
        return []
    lines = kept.brief() if isinstance(kept, Plan) else brief(kept)
    return [shown.sentence(line) for line in lines]


def _leaf(told: wiring.Told, shown: Shown) -> Context:
    """Everything about the bed that hangs on the stored morning alone."""
    account = report_account(told.morning)
    (bed,) = account["beds"]
    zone = account["time_zone"]
    leaf = leaf_of(bed, shown, zone)
    leaf.update(
        outlook=pictures.outlook_of(bed, shown, zone, leaf["outlook_sentence"]),
        extremes=pictures.extremes_of(bed, shown, zone, leaf["extremes_sentence"]),
        small=pictures.small_of(bed, shown, zone),
        zones=_zones(bed, shown), degree=shown.degree, compared=_compared(bed, shown, zone),
        model_depth=_("Model, %s deep") % shown.length(PROBE_DEPTH_M),
    )  # fmt: skip
    return leaf


def _compared(bed: Context, shown: Shown, time_zone: str) -> list[list[str]]:
    """A row a reading of the last fortnight: when, where, how deep, what it read, and what the
    model says of that place at the nearest of its moments."""
    behind = bed["behind"]
    if not behind:
        return []
    ends = [dt.datetime.fromisoformat(text) for text in behind["times"]]
    names = {zone["zone_id"]: zone["name"] for zone in bed["section"]["zones"]}
    rows = []
    for reading in reversed(bed["readings"]):
        at = dt.datetime.fromisoformat(reading["at"])
        nearest = min(range(len(ends)), key=lambda k: abs(ends[k] - at))
        if abs(ends[nearest] - at) > dt.timedelta(days=1):
            continue
        series = behind["zones"].get(reading["zone"]) or behind["whole"]["temp_probe_c"]
        low, middle, high = (series[q][nearest] for q in (0, 2, 4))
        here = local(at, time_zone)
        rows.append([
            f"{short_day(here.date())}, {here:%H:%M}",
            names.get(reading["zone"], _("whole bed")), shown.length(reading["depth_m"]),
            shown.temp(reading["temp_c"]),
            f"{shown.temp(middle)} ({shown.temp(low, unit=False)} – {shown.temp(high)})",
        ])  # fmt: skip
    return rows


def _zones(bed: Context, shown: Shown) -> list[list[str]]:
    """A row a zone: name, temperature from top to bottom, water, food left, worms."""
    limits, rows = bed["limits"], []
    for zone in bed["section"]["zones"]:
        cells = zone["cells"] if zone["active"] else ()
        if not cells:
            rows.append([zone["name"], _("empty"), "–", "–", "–"])
            continue
        temps = [cell["temp_c"] for cell in cells]
        words = dict.fromkeys(temp_word(t, limits["cold_c"], limits["hot_c"]) for t in temps)
        said = ", ".join(map(range_word, words))
        wet = sum(cell["moisture_frac"] for cell in cells) / len(cells)
        rows.append([
            zone["name"],
            f"{shown.temp(temps[0])} → {shown.temp(temps[-1])} ({said})",
            shown.percent(wet), mass_band(zone["food_left_kg"], shown),
            mass_band(zone["worms_kg"], shown),
        ])  # fmt: skip
    return rows


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
