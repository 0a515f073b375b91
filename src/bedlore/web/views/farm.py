"""The farm as described: beds, materials on hand, limits, units; and its files."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.facts import feedstocks
from bedlore.farm.bed import Layer
from bedlore.farm.load import farm_of
from bedlore.farm.model import Farm
from bedlore.service.shown import Shown, figures
from bedlore.store.db.farm_store import DbFarmStore, farm_of_row
from bedlore.units import POUND_KG
from bedlore.web import pictures, tasks, wiring
from bedlore.web.bed_drawing import side_svg
from bedlore.web.entry_fields import Values, units_of
from bedlore.web.views.common import faults_by_field, frame, marked_beds, shown_for
from bedlore.web.views.write import sent_values

Context = dict[str, Any]
_PERCENT = ("moisture_low", "moisture_high", "risk_cold", "risk_hot", "risk_sour")


def farm(request: HttpRequest, farm: str) -> HttpResponse:
    """The description, and forms for what changes most."""
    row = request.farm_row
    described = farm_of_row(row)
    shown = shown_for(request, described)
    sent, faults = {}, {}
    if request.method == "POST":
        sent = sent_values(request)
        try:
            return _save(request, described, sent, shown)
        except KeeperError as problem:
            faults = faults_by_field(problem)
    context = {
        "version": row.version, "beds": _beds(described, shown), "units": shown.units,
        "limits": _limits(described, shown, sent), "store": _store(described, shown),
        "mass_sign": units_of(shown)["mass"][0], "faults": faults,
        "known": sorted(((id_, f.name) for id_, f in feedstocks.load().items()),
                        key=lambda one: one[1].lower()),
        "containers": [
            (c.name, shown.volume(c.volume_l) if c.volume_l else shown.mass(c.mass_kg or 0.0))
            for c in described.containers
        ],
        "sent": sent,
    }  # fmt: skip
    return render(request, "pages/farm.html", frame(request, "farm", **context),
                  status=422 if faults else 200)  # fmt: skip


def _beds(described: Farm, shown: Shown) -> list[Context]:
    found = []
    for marked in marked_beds(described):
        bed = marked.bed
        built = "; ".join(
            f"{words}: {' + '.join(_layer(x, shown) for x in layers)}"
            for words, layers in ((_("walls"), bed.walls), (_("floor"), bed.floor),
                                  (_("lid"), bed.lid)) if layers
        )  # fmt: skip
        found.append({
            "marked": marked, "built": built,
            "sizes": " × ".join(shown.length(v) for v in (bed.length_m, bed.width_m, bed.depth_m)),
            "zones": ", ".join(zone.name for zone in bed.zones),
            "side": side_svg(bed, shown, pictures.PHONE_PX, f"farm-{marked.number}"),
        })  # fmt: skip
    return found


def _layer(layer: Layer, shown: Shown) -> str:
    return f"{shown.length(layer.thickness_m)} {layer.material.replace('_', ' ')}"


def _limits(described: Farm, shown: Shown, sent: dict[str, str]) -> list[Context]:
    limits = described.limits
    words = {
        "cold_c": _("Not colder than"), "hot_c": _("Not hotter than"),
        "moisture_low": _("Not drier than"), "moisture_high": _("Not wetter than"),
        "risk_cold": _("Odds of cold I accept"), "risk_hot": _("Odds of heat I accept"),
        "risk_sour": _("Odds of souring I accept"),
    }  # fmt: skip
    rows = []
    for name, label in words.items():
        value = getattr(limits, name)
        shown_value = value * 100 if name in _PERCENT else shown.degrees(value)
        sign = "%" if name in _PERCENT else shown.degree
        text = figures(shown_value, 3).replace("−", "-")
        rows.append({"name": name, "label": label, "sign": sign, "value": sent.get(name, text)})
    return rows


def _store(described: Farm, shown: Shown) -> list[Context]:
    per_kg = 1 / POUND_KG if shown.units == "us" else 1.0
    known = feedstocks.load()
    return [
        {"place": place, "name": item.name or known[item.material].name,
         "kind": known[item.material].name, "mass": figures(item.mass_kg * per_kg, 3),
         "per_week": shown.mass(item.per_week_kg) if item.per_week_kg else "", "hold": item.hold,
         "note": item.note}
        for place, item in enumerate(described.store)
    ]  # fmt: skip


def _save(request: HttpRequest, described: Farm, sent: Values, shown: Shown) -> HttpResponse:
    row = request.farm_row
    raw = described.model_dump(mode="json", exclude_none=True)
    part = sent.get("part", "")
    if part == "limits":
        signs = {True: "%", False: "degF" if shown.units == "us" else "degC"}
        raw["limits"] = {
            name: f"{sent.get(name, '').replace(',', '.')} {signs[name in _PERCENT]}"
            for name in raw["limits"]
        }
    elif part == "store":
        raw["store"] = _stored(raw.get("store", []), sent, shown)
    else:
        raise FaultList([Fault("", "It is not clear what to change. Load the page again.")])
    version = sent.get("version", "")
    expected = int(version) if version.isdecimal() and len(version) < 9 else -1
    DbFarmStore(row).save_farm(farm_of(raw), expected, wiring.author(request), part)
    tasks.ask_outlook(row)
    messages.success(request, _("Saved. The outlook is being worked out again."))
    return redirect("farm", farm=row.slug)


def _stored(items: list[Context], sent: dict[str, str], shown: Shown) -> list[Context]:
    """The materials with the amounts sent, and a new one where it was filled in."""
    unit = units_of(shown)["mass"][1]
    found = []
    for place, item in enumerate(items):
        if sent.get(f"gone-{place}"):
            continue
        text = sent.get(f"mass-{place}", "").replace(",", ".").strip()
        amount = {"mass_kg": f"{text} {unit}"} if text else {}
        found.append({**item, **amount, "hold": bool(sent.get(f"hold-{place}"))})
    if sent.get("new-material"):
        mass = sent.get("new-mass", "").replace(",", ".").strip() or "0"
        found.append({"material": sent["new-material"], "name": sent.get("new-name", ""),
                      "mass_kg": f"{mass} {unit}"})  # fmt: skip
    return found


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
