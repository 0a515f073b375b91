"""What the page of one bed shows of its morning: words, charts, and the cut at each step."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from bedlore.bed.build import PROBE_DEPTH_M
from bedlore.service.account import report_account
from bedlore.service.phrases import local, mass_band, range_word, short_day, temp_word
from bedlore.service.shown import Shown
from bedlore.sheets.leaf import leaf_of
from bedlore.web import pictures
from bedlore.web.bed_step import StepOf
from bedlore.web.leaves.kept import kept
from bedlore.web.wiring import Told

Context = dict[str, Any]


def bed_leaf(told: Told, bed_id: str, shown: Shown) -> Context:
    """Everything about the bed that hangs on the stored morning alone; ``told`` holds it."""
    found: Context = kept(told, f"bed-{bed_id}-{shown.units}", lambda: _leaf(told, shown))
    return found


def bed_cut(told: Told, at: StepOf) -> SafeString:
    """The bed cut along its length at one step of its outlook."""
    name = f"bed-{at.bed.id}-{at.shown.units}-cut-{at.step}"
    found: SafeString = kept(told, name, lambda: pictures.section_of(at.drawn(), at.shown))
    return found


def _leaf(told: Told, shown: Shown) -> Context:
    """Everything about the bed that hangs on the stored morning alone."""
    account = report_account(told.morning)
    (bed,) = account["beds"]
    zone = account["time_zone"]
    leaf = leaf_of(bed, shown, zone)
    rests, *notes = leaf["notes"]
    leaf.update(
        rests=rests, standing=bed["rests"]["standing"], notes=notes,
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
