"""The farm as described: beds, materials on hand, limits, units; and its files."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from bedlore.facts import feedstocks
from bedlore.farm.model import Farm
from bedlore.say import say
from bedlore.service.fillings import fillings_of
from bedlore.service.marks import marked_beds
from bedlore.service.shown import Shown
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.web import pictures, wiring
from bedlore.web.bed_drawing import side_svg
from bedlore.web.bed_words import layer_words, sizes_words
from bedlore.web.entry_fields import units_of
from bedlore.web.measures import container_words
from bedlore.web.parts.place import LIMIT_UNITS, LIMITS, building_words, limit_words
from bedlore.web.views.common import frame, shown_for

Context = dict[str, Any]


def farm(request: HttpRequest, farm: str) -> HttpResponse:
    """The description at a glance, with the ways to change it."""
    row = request.farm_row
    described = farm_of_row(row)
    shown = shown_for(request, described)
    site = described.site
    learnt = fillings_of(DbLog(row), described, wiring.now_of(row))
    context = {
        "beds": _beds(described, shown), "units": shown.units, "store": _store(described, shown),
        "limits": _limits(described, shown),
        "building": dict(building_words())[site.building.kind],
        "containers": [
            (c.name, container_words(c, described, learnt, shown)) for c in described.containers
        ],
    }  # fmt: skip
    return render(request, "pages/farm.html", frame(request, "farm", **context))


def _beds(described: Farm, shown: Shown) -> list[Context]:
    found = []
    for marked in marked_beds(described):
        bed = marked.bed
        built = "; ".join(
            f"{words}: {layer_words(layers, shown)}"
            for words, layers in ((_("walls"), bed.walls), (_("floor"), bed.floor),
                                  (_("lid"), bed.lid)) if layers
        )  # fmt: skip
        found.append({
            "marked": marked, "built": built, "sizes": sizes_words(bed, shown),
            "zones": ", ".join(zone.called for zone in bed.zones),
            "side": side_svg(bed, shown, pictures.PHONE_PX, f"farm-{marked.number}"),
        })  # fmt: skip
    return found


def _limits(described: Farm, shown: Shown) -> list[tuple[str, str]]:
    words, signs = limit_words(), units_of(shown)
    return [(words[name], f"{value} {signs[LIMIT_UNITS[name]][0]}")
            for name, value in LIMITS.values(described, shown).items()]  # fmt: skip


def _store(described: Farm, shown: Shown) -> list[Context]:
    known = feedstocks.load()
    return [
        {"name": item.name or say(known[item.material].name),
         "kind": say(known[item.material].name),
         "mass": shown.mass(item.mass_kg), "hold": item.hold, "note": item.note,
         "per_week": shown.mass(item.per_week_kg) if item.per_week_kg else ""}
        for item in described.store
    ]  # fmt: skip


@require_POST
def mine(request: HttpRequest) -> HttpResponse:
    """The reader's own units."""
    units = request.POST.get("units", "")
    if units in ("metric", "us", ""):
        request.user.units = units
        request.user.save(update_fields=["units"])
        messages.success(request, _("Noted."))
    slug = request.POST.get("farm", "")
    if slug.replace("-", "").replace("_", "").isalnum() and slug.isascii():
        return redirect("farm", farm=slug)
    return redirect("home")
