"""Setting up a bed: choose how it is built, measure it, see it drawn; and a first farm with it."""

from __future__ import annotations

import datetime as dt
from typing import Any
from zoneinfo import available_timezones

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm
from bedlore.service.first_bed import (
    PATTERNS,
    Pattern,
    bed_raw,
    farm_with,
    first_farm,
    normals_between,
    pattern_called,
)
from bedlore.service.shown import Shown
from bedlore.store.db.doors import give_role
from bedlore.store.db.farm_store import DbFarmStore, add_farm, farm_of_row
from bedlore.units import parse_quantity
from bedlore.web import pictures, tasks, wiring
from bedlore.web.bed_drawing import side_svg
from bedlore.web.entry_fields import units_of
from bedlore.web.views.common import faults_by_field, frame, shown_for
from bedlore.web.views.write import sent_values

Context = dict[str, Any]
_THUMB_PX = 220


def pattern_words() -> dict[str, tuple[str, str]]:
    """What each pattern is called, and what it is good for."""
    return {
        "plank-box": (_("Plank box"), _("Single boards, two sides fed in turn.")),
        "foam-box": (_("Lined box"), _("Boards with foam between; holds heat through frost.")),
        "tub": (_("Tub"), _("One plastic tub with holes, for a small kitchen.")),
        "trays": (_("Trays"), _("Four trays on one another; the worms move upwards.")),
        "wedge": (_("Wedge"), _("A heap on the ground between bales, fed at its face.")),
    }


def build(request: HttpRequest, farm: str) -> HttpResponse:
    """One bed more on a farm."""
    row = request.farm_row
    described = farm_of_row(row)
    shown = shown_for(request, described)
    context = _page(request, shown, wiring.now_of(row).date())
    if request.method == "POST" and "draw" not in request.POST and context["pattern"]:
        try:
            raw = _bed(context, shown)
            new = farm_with(described, raw)
            version = context["values"].get("version", "")
            expected = int(version) if version.isdecimal() and len(version) < 9 else None
            DbFarmStore(row).save_farm(new, expected, wiring.author(request), "a new bed")
        except KeeperError as problem:
            context["faults"] = _plain_faults(problem)
        else:
            tasks.ask_outlook(row)
            messages.success(request, _("The bed is set up. Its first outlook comes soon."))
            return redirect("bed", farm=row.slug, bed=raw["id"])
    status = 422 if context["faults"] else 200
    whole = frame(request, "farm", version=row.version, **context)
    return render(request, "pages/build.html", whole, status=status)


def start(request: HttpRequest) -> HttpResponse:
    """A first bed, and the farm around it."""
    us = request.POST.get("units", request.GET.get("units", "")) == "us"
    shown = Shown("us" if us else "metric")
    context = _page(request, shown, wiring.clock().date())
    if request.method == "POST" and "draw" not in request.POST and context["pattern"]:
        try:
            described = _farm(context, shown)
            slug = _add(request, described)
        except KeeperError as problem:
            context["faults"] = _plain_faults(problem)
        else:
            return redirect("today", farm=slug)
    status = 422 if context["faults"] else 200
    context["time_zones"] = sorted(name for name in available_timezones() if "/" in name)
    return render(request, "pages/start.html", context, status=status)


def _add(request: HttpRequest, described: Farm) -> str:
    now = wiring.clock()
    with transaction.atomic():
        row = add_farm(described, wiring.author(request), now)
        give_role(request.user.pk, row.pk, "keeper", now)
    tasks.ask_outlook(row)
    return str(row.slug)


def _page(request: HttpRequest, shown: Shown, today: dt.date) -> Context:
    """What both pages show: the patterns, or one with its sizes and its drawing."""
    words = pattern_words()
    key = request.POST.get("pattern") or request.GET.get("pattern", "")
    pattern = pattern_called(key)
    context: Context = {
        "pattern": pattern, "signs": {k: v[0] for k, v in units_of(shown).items()},
        "faults": {}, "units": shown.units, "today": today,
        "patterns": [(p.key, *words[p.key], _thumb(p, shown)) for p in PATTERNS],
    }  # fmt: skip
    if pattern is None:
        return context
    values = {**_defaults(pattern, shown, today), **request.GET.dict()}
    if request.method == "POST":
        values.update(sent_values(request))
    context.update(values=values, title=words[pattern.key][0])
    try:
        drawn = Bed.model_validate(_bed(context, shown))
    except (KeeperError, ValueError):
        drawn = Bed.model_validate(bed_raw(pattern, {}, today))
    context["drawing"] = pictures.both(side_svg(drawn, shown, pictures.PHONE_PX, "new-p"),
                                       side_svg(drawn, shown, pictures.TABLE_PX, "new-t"))
    return context


def _thumb(pattern: Pattern, shown: Shown) -> str:
    bed = Bed.model_validate(bed_raw(pattern, {}, dt.date(2025, 1, 1)))
    return side_svg(bed, shown, _THUMB_PX, f"thumb-{pattern.key}", sizes=False)


def _defaults(pattern: Pattern, shown: Shown, today: dt.date) -> dict[str, str]:
    us = shown.units == "us"
    per_m, per_kg = (39.37, 2.2046) if us else (100.0, 1.0)
    room = pattern.depth_m / len(pattern.zones) if pattern.kind == "stack" else pattern.depth_m
    sizes = {"length": pattern.length_m, "width": pattern.width_m, "depth": pattern.depth_m,
             "filled": room * 0.6}  # fmt: skip
    return {
        **{key: f"{value * per_m:.0f}" for key, value in sizes.items()},
        "worms": f"{pattern.worms_kg * per_kg:.1f}", "started": today.isoformat(),
        "place": "outdoors", "building": "none", "south": "",
    }  # fmt: skip


def _read(values: dict[str, str], name: str, kind: str, shown: Shown) -> float:
    """A number of the form in SI; raises a fault beside its field."""
    text = values.get(name, "").strip().replace(",", ".")
    unit = units_of(shown)[kind][1]
    if text.replace(".", "", 1).removeprefix("-").replace("−", "").isdecimal():
        text = f"{text} {unit}".replace("−", "-")
    full = {"temp": "temperature"}.get(kind, kind)
    try:
        return float(parse_quantity(text, full))  # type: ignore[arg-type]
    except KeeperError as problem:
        raise FaultList([Fault(name, str(problem))]) from None


def _bed(context: Context, shown: Shown) -> dict[str, Any]:
    """The bed as told; raises :class:`FaultList` with every number that cannot be read."""
    values, told = context["values"], dict(context["values"])
    faults: list[Fault] = []
    for name in ("length", "width", "depth", "filled"):
        try:
            told[f"{name}_m"] = _read(values, name, "length", shown)
        except FaultList as problem:
            faults += problem.faults
    try:
        told["worms_kg"] = _read(values, "worms", "mass", shown)
    except FaultList as problem:
        faults += problem.faults
    if faults:
        raise FaultList(faults)
    pattern = context["pattern"]
    trays = len(pattern.zones) if pattern.kind == "stack" else 1
    if told["filled_m"] > told["depth_m"] / trays:
        raise FaultList([Fault("filled", _("The bedding is deeper than there is room for."))])
    return bed_raw(pattern, told, context["today"])


def _farm(context: Context, shown: Shown) -> Farm:
    values = context["values"]
    faults: list[Fault] = []
    read: dict[str, float] = {}
    for name in ("cold_night", "cold_day", "warm_night", "warm_day"):
        try:
            read[name] = _read(values, name, "temp", shown)
        except FaultList as problem:
            faults += problem.faults
    latitude = values.get("latitude", "").strip().replace(",", ".")
    try:
        degrees = float(latitude)
    except ValueError:
        faults.append(Fault("latitude", _("Write the latitude in degrees, such as 47.")))
        degrees = 0.0
    if not values.get("farm", "").strip():
        faults.append(Fault("farm", _("Give the place a name.")))
    try:
        raw = _bed(context, shown)
    except FaultList as problem:
        faults += problem.faults
    if faults:
        raise FaultList(faults)
    degrees = -abs(degrees) if values.get("south") else degrees
    normals = normals_between((read["cold_night"], read["cold_day"]),
                              (read["warm_night"], read["warm_day"]), degrees)  # fmt: skip
    building = values.get("building") or "none"
    site = {"name": values["farm"], "latitude": degrees, "time_zone": values.get("time_zone", ""),
            "normals": normals, "building": {"kind": building}}  # fmt: skip
    raw["place"] = "outdoors" if building == "none" else "indoors"
    return first_farm(values["farm"], site, raw, shown.units)


_FIELDS = {"length_m": "length", "width_m": "width", "depth_m": "depth", "latitude_deg": "latitude",
           "worms_kg": "worms", "id": "name"}  # fmt: skip


def _plain_faults(problem: KeeperError) -> dict[str, list[str]]:
    """Faults by the names that this form has; the rest for the form as a whole."""
    known = {"length", "width", "depth", "filled", "worms", "name", "started", "latitude", "farm",
             "time_zone", "cold_night", "cold_day", "warm_night", "warm_day"}
    found: dict[str, list[str]] = {}
    for field, said in faults_by_field(problem).items():
        name = _FIELDS.get(field, field)
        found.setdefault(name if name in known else "", []).extend(said)
    return found
