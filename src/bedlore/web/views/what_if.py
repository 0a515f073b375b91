"""What if: something changed in a bed, and both futures side by side."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from bedlore.errors import FaultList
from bedlore.facts.building import MATERIALS
from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm
from bedlore.say import say
from bedlore.service.phrases import band_words, mass_band, odds_rows, short_day
from bedlore.service.shown import Shown
from bedlore.service.what_if import Change, read_change
from bedlore.service.what_if_told import what_if_account
from bedlore.sheets.futures import Shape, futures_svg
from bedlore.sheets.leaf import dot_count
from bedlore.store.db.farm_store import farm_of_row
from bedlore.web import futures, pictures, warmth
from bedlore.web.entry_fields import (
    Field,
    fields_of,
    raw_of,
    units_of,
    with_unit,
    zone_options,
)
from bedlore.web.views.common import bed_or_404, faults_by_field, frame, shown_for, unbroken
from bedlore.web.views.write import Form, stepped

Context = dict[str, Any]
_PATIENCE_S = 5.0
_CHART_PX = 460
_COVERS = ("straw_loose", "straw_bale", "expanded_polystyrene", "extruded_polystyrene")


def what_if(request: HttpRequest, farm: str, bed: str) -> HttpResponse:
    """The form, and with it filled in, both futures."""
    row = request.farm_row
    described = farm_of_row(row)
    found = bed_or_404(described, bed)
    shown = shown_for(request, described)
    groups = _groups(described, found, shown)
    fields = [field for _key, _words, some in groups for field in some]
    sent = {key: str(value).replace("\x00", "")[:400] for key, value in request.GET.items()}
    form = Form("what-if", described, found, shown, fields, sent, {})
    context: Context = {"bed": found, "zones": zone_options(found)}
    if "step" in sent:
        form = replace(form, values=stepped(sent, fields, sent["step"]))
    elif sent.get("go"):
        try:
            change = read_change(_raw(form), described, found)
        except FaultList as problem:
            form = replace(form, faults=_beside(problem))
        else:
            context |= _answer(request, form, change)
    context |= {"form": form, "groups": _rows_of(groups, form)}
    page = render(request, "pages/what_if.html", frame(request, "today", **context),
                  status=422 if form.faults else 200)  # fmt: skip
    return unbroken(page)


def _groups(farm: Farm, bed: Bed, shown: Shown) -> list[tuple[str, str, list[Field]]]:
    """(key, words, fields) of each thing that can be changed."""
    same = {"as it is": _("as it is"), "on": _("on"), "off": _("off")}
    us = shown.units == "us"

    def chips(name: str, label: str, words: Mapping[str, str]) -> Field:
        return Field(name, label, "chips", tuple(words.items()), default=next(iter(words)))

    def thickness(name: str, label: str, default: str) -> Field:
        return Field(name, label, "stepper", unit="length", step=1 if us else 2,
                     big_step=2 if us else 10, default=default)  # fmt: skip

    feed = [replace(field, default="0") if field.name == "count" else field
            for field in fields_of("feed", farm, bed, shown, {})
            if field.name != "weighed"]  # fmt: skip
    covers = {key: str(say(MATERIALS[key].name)) for key in _COVERS}
    return [
        ("feed", _("Feed"), feed),
        ("cover", _("Cover and lid"), [
            chips("cover", _("Cover"), {**same, "on": _("this instead:")}),
            chips("cover_material", _("Of what"), covers),
            thickness("cover_m", _("How thick"), "2" if us else "5"),
            chips("lid", _("Lid"), same),
        ]),
        ("foam", _("Insulation"), [
            thickness("foam_walls_m", _("Foam added round walls and floor"), "0"),
            thickness("foam_lid_m", _("Foam added on top"), "0"),
        ]),
        ("mat", _("Heat mat"), [
            chips("mat", _("Heat mat"), same),
            Field("mat_watts", _("How strong, in W (empty: the bed's own)"), "text",
                  default=f"{bed.heat_mat.watts:g}" if bed.heat_mat else "", needed=False),
            Field("mat_setpoint_c", _("Thermostat (empty: as it is)"), "text", unit="temp",
                  needed=False),
        ]),
    ]  # fmt: skip


def _rows_of(groups: list[tuple[str, str, list[Field]]], form: Form) -> list[Context]:
    """The groups as the template shows them; those that change something stand open."""
    rows = {row["field"].name: row for row in form.rows}
    told = []
    for key, words, fields in groups:
        mine = [rows[field.name] for field in fields]
        touched = any(row["value"] != row["field"].default or row["faults"] for row in mine)
        told.append({"key": key, "words": words, "rows": mine,
                     "open": touched or (key == "feed" and not form.values)})  # fmt: skip
    return told


def _raw(form: Form) -> dict[str, str]:
    """The form as a change is read; a number without a unit has the reader's own."""
    sent = {**{field.name: field.default for field in form.fields}, **form.values}
    signs = units_of(form.shown)
    raw = {
        field.name: with_unit(sent[field.name].strip(), signs[field.unit][1])
        for field in form.fields
        if field.name not in _OF_FEED and sent.get(field.name, "").strip()
    }
    if raw.get("mat_watts"):
        raw["mat_watts"] = with_unit(raw["mat_watts"], "W")
    if raw.get("mat") == "as it is" and not form.values.get("mat_setpoint_c"):
        raw.pop("mat_watts", None)
    if sent.get("count", "").strip().replace(",", ".").strip("0.") or sent.get("other_material"):
        feed = [field for field in form.fields if field.name in _OF_FEED]
        (part,) = raw_of("feed", feed, sent, form.farm, form.shown)["parts"]
        raw.update(feed=part["amount"], material=part["material"], place=sent.get("place", ""))
    raw["zone"] = sent.get("zone", "")
    return raw


_OF_FEED = frozenset(("material", "count", "container", "other_material", "place"))


def _beside(problem: FaultList) -> dict[str, list[str]]:
    faults = faults_by_field(problem)
    faults.setdefault("count", []).extend(faults.pop("feed", []))
    return {name: said for name, said in faults.items() if said}


def _answer(request: HttpRequest, form: Form, change: Change) -> Context:
    """Both futures, worked out now."""
    if not warmth.is_ready(_PATIENCE_S):
        return {"not_ready": True}
    found = futures.found(request.farm_row, form.farm, form.bed, change)
    account = what_if_account(found, form.farm)
    shown = form.shown
    odds = odds_rows({"effect": account["with_it"], "without": account["as_is"]},
                     account["limits"], shown)  # fmt: skip
    return {
        "account": account, "words": [shown.sentence(line) for line in account["difference_words"]],
        "changed": shown.sentence(account["change_words"]),
        "odds": [{"risk": row.words, "with_it": row.acted_words, "as_is": row.left_words,
                  "with_dots": dot_count(row.acted), "as_dots": dot_count(row.left)}
                 for row in odds.rows],
        "odds_rest": odds.rest, "sides": _sides(account, shown), "charts": _charts(account, shown),
        "days": _days(account, shown, form.farm), "degree": shown.degree,
    }  # fmt: skip


def _sides(account: Context, shown: Shown) -> list[tuple[str, str, str]]:
    """(what, as it is, with it) of what the fortnight comes to."""

    def row(words: str, key: str, kind: str) -> tuple[str, str, str]:
        told = [account[side][key] for side in ("as_is", "with_it")]
        said = [mass_band(one, shown) if kind == "mass" else band_words(one, shown, kind)
                for one in told]  # fmt: skip
        return words, said[0], said[1]

    rows = [
        row(_("Coldest place worms live in, at its coldest"), "coldest_c", "temp"),
        row(_("Warmest place worms live in, at its warmest"), "warmest_c", "temp"),
        row(_("Water in the end"), "moisture_frac", "share"),
        row(_("Food left in the end"), "food_left_kg", "mass"),
    ]
    power = [account[side]["energy_kwh"] for side in ("as_is", "with_it")]
    if any(power):
        rows.append((_("Heat mat"), *(f"{kwh:.1f} kWh" for kwh in power)))  # type: ignore[arg-type]
    return rows


def _charts(account: Context, shown: Shown) -> list[SafeString]:
    limits = account["limits"]
    near = tuple((shown.degrees(limits[key]), words) for key, words in (
        ("cold_c", _("your cold limit")), ("hot_c", _("your heat limit"))))  # fmt: skip
    wet = tuple((limits[key] * 100, _("your limit")) for key in ("moisture_low", "moisture_high"))
    shapes = (
        Shape("temp_probe_c", _("At the thermometer [%s]") % shown.degree, shown.degrees, near),
        Shape("temp_coldest_c", _("Coldest place worms live in [%s]") % shown.degree,
              shown.degrees, near),
        Shape("temp_warmest_c", _("Warmest place worms live in [%s]") % shown.degree,
              shown.degrees, near),
        Shape("moisture_frac", _("Water [% of the wet mass]"), lambda share: share * 100, wet),
    )  # fmt: skip
    return [
        pictures.both(*(futures_svg(account, shape, px, f"{shape.name}-{px}")
                        for px in (pictures.PHONE_PX, _CHART_PX)))
        for shape in shapes
    ]  # fmt: skip


def _days(account: Context, shown: Shown, farm: Farm) -> list[list[str]]:
    """The figures behind the charts, a row a day: most likely, and 9 of 10 in brackets."""
    rows = []
    a_day = 24 // account["every_h"]
    for place in range(a_day - 1, len(account["as_is"]["times"]), a_day):
        when = dt.datetime.fromisoformat(account["as_is"]["times"][place])
        row = [short_day(when.astimezone(farm.site.zone_info()).date())]
        for name in ("temp_probe_c", "temp_coldest_c", "temp_warmest_c", "moisture_frac"):
            for side in ("as_is", "with_it"):
                low, middle, high = (account[side]["whole"][name][q][place] for q in (0, 2, 4))
                row.append(f"{_plain(middle, name, shown)}"
                           f" ({_plain(low, name, shown)} – {_plain(high, name, shown)})")
        rows.append(row)
    return rows


def _plain(value: float, name: str, shown: Shown) -> str:
    return f"{value * 100:.0f}" if name == "moisture_frac" else shown.temp(value, unit=False)
