"""One bed: from above, cut along its length, the fortnight ahead, its zones and its log."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm
from bedlore.service.account import outlook_account, report_account, zone_name
from bedlore.service.book import LogFilter, Written
from bedlore.service.phrases import local, mass_band, short_day, temp_word
from bedlore.service.shown import Shown
from bedlore.sheets.leaf import leaf_of
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.web import pictures, wiring
from bedlore.web.bed_drawing import Spot, plan_svg, side_svg
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
        leaf = pictures.kept(told, row.version, f"bed-{bed}-{shown.units}",
                             lambda: _leaf(told, shown))  # fmt: skip
        day = _day(request, len(leaf["days"]))
        fed = _last_feeds(DbLog(row), bed, wiring.now_of(row))
        context.update(leaf=leaf, **_plan(described, found, told, shown, (day, fed)))
    else:
        context["side"] = pictures.both(side_svg(found, shown, pictures.PHONE_PX, "side-p"),
                                        side_svg(found, shown, pictures.TABLE_PX, "side-t"))
    context["recent"] = [told_entry(one, described, shown) for one in recent]
    return unbroken(render(request, "pages/bed.html", frame(request, "today", **context)))


def _leaf(told: wiring.Told, shown: Shown) -> Context:
    """Everything about the bed that hangs on the stored morning alone."""
    account = report_account(told.morning)
    (bed,) = account["beds"]
    zone = account["time_zone"]
    leaf = leaf_of(bed, shown, zone)
    leaf.update(
        section=pictures.section_of(bed, shown),
        outlook=pictures.outlook_of(bed, shown, zone, leaf["outlook_sentence"]),
        extremes=pictures.extremes_of(bed, shown, zone, leaf["extremes_sentence"]),
        small=pictures.small_of(bed, shown, zone),
        zones=_zones(bed, shown), degree=shown.degree,
    )  # fmt: skip
    return leaf


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
        wet = sum(cell["moisture_frac"] for cell in cells) / len(cells)
        rows.append([
            zone["name"],
            f"{shown.temp(temps[0])} → {shown.temp(temps[-1])} ({', '.join(words)})",
            shown.percent(wet), mass_band(zone["food_left_kg"], shown),
            mass_band(zone["worms_kg"], shown),
        ])  # fmt: skip
    return rows


def _day(request: HttpRequest, days: int) -> int:
    text = request.GET.get("day", "0")
    return min(int(text), days) if text.isdecimal() and len(text) < 4 else 0


def _last_feeds(log: DbLog, bed: str, now: dt.datetime) -> dict[str, Written]:
    """The last feed of each zone within a month ("" for the whole bed)."""
    wanted = LogFilter(bed=bed, kinds=("feed",), since=now - _FED_WITHIN)
    found: dict[str, Written] = {}
    for one in log.page(wanted, 60):
        found.setdefault(one.entry.zone or "", one)
    return found


def _plan(farm: Farm, bed: Bed, told: wiring.Told, shown: Shown,
          at: tuple[int, dict[str, Written]]) -> Context:  # fmt: skip
    """The bed from above on a day of the outlook, and the steps to other days."""
    day, fed = at
    (ahead,) = outlook_account(told.morning)["beds"]
    temps = {zone["zone"]: zone["temp_probe_c"][2] for zone in ahead["zones"]}
    starts = told.morning.beds[0].outlook.zones
    spots = {}
    for zone in bed.zones:
        series = temps.get(zone.id)
        temp_c = None
        if series and zone.active:
            first = starts[zone.id]["temp_probe_c"][2][0]
            temp_c = series[day - 1] if day else first
        spots[zone.id] = Spot(_lines(zone.id, zone.side, temp_c, shown, fed, told), temp_c)
    limits = farm.limits_of(bed)
    drawn = tuple(
        plan_svg(bed, shown, spots, (limits.cold_c, limits.hot_c), px, f"plan{px}")
        for px in (pictures.PHONE_PX, pictures.TABLE_PX)
    )
    plan: SafeString = pictures.both(*drawn)
    last = len(ahead["times"])
    moment = ahead["times"][day - 1] if day else told.morning.now
    return {
        "plan": plan, "day": day, "day_words": short_day(local(moment, farm.site.time_zone).date()),
        "day_before": day - 1 if day > 0 else None, "day_after": day + 1 if day < last else None,
        "last_day": last, "fed": [_feed_line(one, farm, bed, shown) for one in fed.values()],
    }  # fmt: skip


def _feed_line(one: Written, farm: Farm, bed: Bed, shown: Shown) -> tuple[str, str, str]:
    """When, where and what was fed last."""
    when = short_day(one.entry.at.astimezone(farm.site.zone_info()).date())
    return when, zone_name(bed, one.entry.zone or ""), entry_words(one.entry, farm, shown)


def _lines(zone: str, side: str, temp_c: float | None, shown: Shown, fed: dict[str, Written],
           told: wiring.Told) -> tuple[str, ...]:  # fmt: skip
    if temp_c is None:
        return (_("empty"),)
    last = max((fed[key] for key in (zone, side, "") if key in fed),
               key=lambda one: one.entry.at, default=None)  # fmt: skip
    lines = [shown.temp(temp_c)]
    if last is not None:
        days = max(round((told.morning.now - last.entry.at) / dt.timedelta(days=1)), 0)
        lines.append(_("fed %(days)dd") % {"days": days})
    return tuple(lines)
