"""Where the farm is, the building around its beds, and what the keeper will not have."""

from __future__ import annotations

from django.utils.translation import gettext as _

from bedlore.errors import Fault
from bedlore.farm.bed import Limits
from bedlore.farm.model import Farm
from bedlore.farm.site import BUILDING_PRIORS, Building, Normals, Site
from bedlore.service.shown import Shown, figures
from bedlore.web.entry_fields import Unit, Values
from bedlore.web.parts.base import (
    Part,
    Raw,
    Typed,
    checked,
    farm_with_part,
    shown_number,
)

LIMIT_UNITS: dict[str, Unit] = {
    "cold_c": "temp", "hot_c": "temp", "moisture_low": "percent", "moisture_high": "percent",
    "risk_cold": "percent", "risk_hot": "percent", "risk_sour": "percent",
}  # fmt: skip
# How much risk a keeper takes, in percent: cold, heat, souring. "even" is the farm file's default.
TASTES = {"careful": ("5", "1", "2"), "even": ("10", "2", "5"), "bold": ("25", "5", "10")}
_ROWS: dict[str, str] = {"low": "daily_low_c", "high": "daily_high_c"}


def limit_words() -> dict[str, str]:
    """What each limit is called."""
    return {
        "cold_c": _("Not colder than"), "hot_c": _("Not hotter than"),
        "moisture_low": _("Not drier than"), "moisture_high": _("Not wetter than"),
        "risk_cold": _("Odds of cold I accept"), "risk_hot": _("Odds of heat I accept"),
        "risk_sour": _("Odds of souring I accept"),
    }  # fmt: skip


def taste_words() -> list[tuple[str, str]]:
    """What each taste for risk is called."""
    return [("careful", _("careful")), ("even", _("even")), ("bold", _("easy-going"))]


def limit_values(farm: Farm, shown: Shown) -> Values:
    """The farm's limits."""
    return {name: shown_number(getattr(farm.limits, name), unit, shown)
            for name, unit in LIMIT_UNITS.items()}  # fmt: skip


def limits_changed(farm: Farm, sent: Values, shown: Shown) -> Farm:
    """The farm with the limits as typed."""
    typed = Typed(sent, limit_values(farm, shown), shown)
    faults, raw = [], {}
    for name, unit in LIMIT_UNITS.items():
        raw[name] = typed.number(name, unit, getattr(farm.limits, name))
        if raw[name] is None:
            faults.append(Fault(name, _("Write a number here.")))
    faults = faults or checked(Limits, raw)
    return farm_with_part(farm, faults, limits=raw)


def taste(sent: Values, name: str, _shown: Shown) -> Values:
    """The odds that go with a taste for risk."""
    odds = TASTES.get(name)
    fields = ("risk_cold", "risk_hot", "risk_sour")
    return {**sent, **dict(zip(fields, odds, strict=True))} if odds else sent


def building_words() -> list[tuple[str, str]]:
    """Kinds of buildings."""
    return [("none", _("open air")), ("shed", _("a shed")),
            ("masonry", _("a stone or insulated room")),
            ("attached", _("a room against the house"))]  # fmt: skip


def site_values(farm: Farm, shown: Shown) -> Values:
    """Name, place, building, and usual weather by month."""
    site, building = farm.site, farm.site.building
    values = {
        "farm": farm.name, "latitude": f"{site.latitude_deg:g}",
        "longitude": f"{site.longitude_deg:g}", "altitude": figures(site.altitude_m, 4),
        "time_zone": site.time_zone, "kind": building.kind, "building": building.name,
        "hours": figures(building.time_constant_h, 3),
        "warmer": figures(building.offset_k * (1.8 if shown.units == "us" else 1), 3),
    }  # fmt: skip
    values = {key: text.replace("−", "-") for key, text in values.items()}
    for row, field in _ROWS.items():
        for month, temp_c in enumerate(getattr(site.normals, field)):
            values[f"{row}-{month}"] = shown_number(temp_c, "temp", shown)
    return values


def site_changed(farm: Farm, sent: Values, shown: Shown) -> Farm:
    """The farm with its name, place, building and weather as typed."""
    typed = Typed(sent, site_values(farm, shown), shown)
    site = farm.site
    name = typed.text("farm")
    normals, faults = _normals(farm, typed)
    if not name:
        faults.append(Fault("farm", _("Give the place a name.")))
    building = _building(farm.site.building, typed)
    said = {**checked_as(Building, building, {"time_constant_h": "hours", "offset_k": "warmer",
                                              "name": "building"})}  # fmt: skip
    raw = {
        **site.model_dump(mode="json", exclude_none=True), "normals": normals,
        "building": building if not said else site.building.model_dump(mode="json"),
        "latitude_deg": typed.number("latitude", "count", site.latitude_deg),
        "longitude_deg": typed.number("longitude", "count", site.longitude_deg) or 0.0,
        "altitude_m": typed.number("altitude", "count", site.altitude_m) or 0.0,
        "time_zone": typed.text("time_zone"),
    }  # fmt: skip
    if raw["latitude_deg"] is None:
        faults.append(Fault("latitude", _("Write the latitude in degrees, such as 47.")))
    elif not faults:
        said.update(checked_as(Site, raw, {"latitude_deg": "latitude", "normals": "",
                                           "longitude_deg": "longitude",
                                           "altitude_m": "altitude"}))  # fmt: skip
    faults += [Fault(field, text) for field, text in said.items()]
    return farm_with_part(farm, faults, name=name, site=raw)


def checked_as(record: type[Site | Building], raw: Raw, names: dict[str, str]) -> dict[str, str]:
    """Sentences on ``raw`` by the form's own names."""
    return {names.get(fault.path, fault.path): fault.sentence for fault in checked(record, raw)}


def _building(before: Building, typed: Typed) -> Raw:
    """The building: one of another kind begins with what is usual for it."""
    kind = typed.text("kind") or before.kind
    raw: Raw = {"kind": kind, "name": typed.text("building")}
    if kind != before.kind:
        return raw
    kept = before.model_dump(mode="json")
    warmer = typed.text("warmer")
    if warmer == typed.was["warmer"]:
        offset: object = before.offset_k
    else:
        offset = f"{warmer} {'degF' if typed.shown.units == 'us' else 'K'}" if warmer else None
    usual = BUILDING_PRIORS[kind]
    hours = typed.number("hours", "count", before.time_constant_h)
    return {**kept, **raw, "offset_k": offset if offset is not None else usual["offset_k"],
            "time_constant_h": hours if hours is not None else usual["time_constant_h"]}


def _normals(farm: Farm, typed: Typed) -> tuple[Raw, list[Fault]]:
    raw = farm.site.normals.model_dump(mode="json", exclude_none=True)
    faults = []
    for row, field in _ROWS.items():
        before, temps = raw[field], []
        for month in range(12):
            name = f"{row}-{month}"
            one = typed.number(name, "temp", before[month])
            said = (_faults_of_month(field, one) if one is not None
                    else [_("Write a temperature.")])
            faults += [Fault(name, text) for text in said]
            temps.append(one)
        raw[field] = temps
    if not faults:
        faults = [Fault("", fault.sentence) for fault in checked(Normals, raw)]
    return raw, faults


def _faults_of_month(field: str, value: object) -> list[str]:
    """What is wrong with one temperature, tried as that of every month."""
    spread = {"daily_low_c": -60.0, "daily_high_c": 55.0, field: value}
    found = checked(Normals, {key: [one] * 12 for key, one in spread.items()})
    return [found[0].sentence] if found and found[0].path == field else []


LIMITS = Part("limits", limit_values, limits_changed, taste)
SITE = Part("site", site_values, site_changed)
