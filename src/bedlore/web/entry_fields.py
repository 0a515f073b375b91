"""What is asked for each kind of entry, with the last values as defaults: chips and steppers.

A field's value is text in the reader's own units; :func:`raw_of` makes of it what
:mod:`bedlore.farm.interpret` reads.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from django.utils.translation import gettext as _

from bedlore.facts import feedstocks
from bedlore.farm.bed import Bed
from bedlore.farm.log import SIGHTINGS, AnyEntry, Bedding, Feed, Water
from bedlore.farm.model import Farm
from bedlore.say import say
from bedlore.service.fillings import was_weighed
from bedlore.service.shown import Shown, figures
from bedlore.units import INCH_M, POUND_KG, US_GALLON_M3
from bedlore.web.entry_words import sighting_words

Values = dict[str, str]
Unit = Literal["", "temp", "mass", "length", "volume", "percent", "count"]
BY_WEIGHT = "by-weight"
MOST_CHIPS = 7
_MEASURES = ("handful", "bucket")  # for a farm that has named no containers of its own


@dataclass(frozen=True)
class Field:
    """One question. ``form``: chips (choose one), stepper (a number with - and +), text or list;
    ``by``: fields whose faults are told here too."""

    name: str
    label: str
    form: Literal["chips", "stepper", "text", "list"] = "chips"
    options: tuple[tuple[str, str], ...] = ()
    unit: Unit = ""
    step: float = 1.0
    big_step: float = 0.0
    default: str = ""
    needed: bool = True
    by: tuple[str, ...] = ()


def units_of(shown: Shown) -> dict[str, tuple[str, str]]:
    """(what to show, what the log reads) for each unit."""
    if shown.units == "us":
        return {"temp": ("°F", "degF"), "mass": ("lb", "lb"), "length": ("in", "in"),
                "volume": ("qt", "qt"), "percent": ("%", "%"), "count": ("", ""), "": ("", "")}
    return {"temp": ("°C", "degC"), "mass": ("kg", "kg"), "length": ("cm", "cm"),
            "volume": ("L", "L"), "percent": ("%", "%"), "count": ("", ""), "": ("", "")}


def in_unit(value: float, unit: Unit, shown: Shown) -> str:
    """``value`` (SI; litres; a share) as a bare number in the reader's unit, three figures."""
    us = shown.units == "us"
    number = {
        "temp": lambda: shown.degrees(value), "mass": lambda: value / POUND_KG if us else value,
        "length": lambda: value / INCH_M if us else value * 100,
        "volume": lambda: value / 1000 / (US_GALLON_M3 / 4) if us else value,
        "percent": lambda: value * 100,
    }.get(unit, lambda: value)()  # fmt: skip
    return figures(number, 3).replace("−", "-")


def zone_options(bed: Bed) -> tuple[tuple[str, str], ...]:
    """Whole bed, its sides where they have several parts, and its zones."""
    sides = [side for side in bed.side_names
             if sum(zone.side == side for zone in bed.zones) > 1 and bed.zone(side) is None]
    zones = [(zone.id, zone.called) for zone in bed.zones]
    named = [(side, _("%s side") % side) for side in sides]
    return (("", _("whole bed")), *named, *(zones if len(zones) > 1 else ()))


def _materials(farm: Farm, kind: str, last: Values) -> tuple[tuple[str, str], ...]:
    """Materials on hand that fit, the one used last first."""
    uses = ("feed", "any") if kind == "feed" else ("bedding", "cover", "any")
    names = [(item.name or item.material, item.name or _name_of(item.material))
             for item in farm.store if item.use in uses and not item.hold]  # fmt: skip
    if last.get("material"):
        names.insert(0, (last["material"], _name_of(last["material"])))
    if not names:
        starters = ("food_mixed_kitchen", "food_coffee_grounds") if kind == "feed" else (
            "bed_corrugated", "bed_leaf_mold")
        names = [(id_, _name_of(id_)) for id_ in starters]
    return tuple(dict(names).items())[:MOST_CHIPS]


def _name_of(material: str) -> str:
    known = feedstocks.load().get(material)
    return say(known.name) if known else material


def _containers(farm: Farm, shown: Shown) -> tuple[tuple[str, str], ...]:
    own = tuple((c.id, c.name) for c in farm.containers)
    return (*(own or tuple((m, _(m)) for m in _MEASURES)),
            (BY_WEIGHT, units_of(shown)["mass"][0]))[:8]  # fmt: skip


def _parts_fields(kind: str, farm: Farm, shown: Shown, last: Values) -> list[Field]:
    known = tuple(sorted(((id_, say(row.name)) for id_, row in feedstocks.load().items()),
                         key=lambda one: one[1].lower()))  # fmt: skip
    own = tuple((item.name, item.name) for item in farm.store if item.name)
    chips = _materials(farm, kind, last)
    measures = _containers(farm, shown)
    return [
        Field("material", _("What"), "chips", chips, default=chips[0][0]),
        Field("count", _("How much"), "stepper", unit="count", step=0.5, default="1",
              by=("amount", "mass_kg", "mass")),
        Field("container", _("of"), "chips", measures, default=measures[0][0]),
        Field("other_material", _("Something else than the above"), "list",
              (("", "–"), *own, *known), needed=False),
        Field("weighed", _("If it was on a scale: all of it weighed"), "text", unit="mass",
              needed=False),
    ]  # fmt: skip


def _choice(name: str, label: str, words: Mapping[str, str], default: str = "",
            needed: bool = True) -> Field:  # fmt: skip
    return Field(name, label, "chips", tuple(words.items()), default=default, needed=needed)


def fields_of(kind: str, farm: Farm, bed: Bed, shown: Shown, last: Values) -> list[Field]:
    """The questions of an entry of ``kind``, the most needed first, without zone and time."""
    zones = dict(zone_options(bed)[1:]) or {bed.zones[0].id: bed.zones[0].name}
    on_off = {"on": _("on"), "off": _("off")}
    warm = shown.units == "us"
    table: dict[str, Any] = {
        "feed": lambda: [
            *_parts_fields("feed", farm, shown, last),
            _choice("place", _("How"), {"spread": _("spread"), "lump": _("in a lump")}, "spread"),
        ],
        "bedding": lambda: _parts_fields("bedding", farm, shown, last),
        "look": lambda: [
            _choice("food_left", _("Food left"),
                    {"none": _("none"), "some": _("some"), "lots": _("lots")}, needed=False),
            _choice("smell", _("Smell"), {"": _("not smelt"), "earthy": _("earthy"),
                    "sour": _("sour"), "sharp": _("sharp")}, "", False),
            _choice("squeeze", _("A handful squeezed"), {"": _("not squeezed"), **_squeeze()}, "",
                    False),
        ],
        "probe": lambda: [
            Field("temp_c", _("It reads"), "stepper", unit="temp", step=1, big_step=5,
                  default="50" if warm else "10"),
            Field("depth_m", _("How deep"), "stepper", unit="length", step=1 if warm else 5,
                  default="4" if warm else "10"),
            Field("device", _("Thermometer"), "text", needed=False),
        ],
        "air": lambda: [
            Field(name, words, "text", unit="temp", needed=False)
            for name, words in (("temp_c", _("Air now")), ("low_c", _("Lowest of the last day")),
                                ("high_c", _("Highest of the last day")))
        ],
        "depth": lambda: [Field("depth_m", _("From the surface to the floor"), "stepper",
                                unit="length", step=1 if warm else 5,
                                default="10" if warm else "25")],
        "moisture": lambda: [
            Field("wet_kg", _("The sample, moist"), "text", unit="mass", needed=False),
            Field("dry_kg", _("The same, dried"), "text", unit="mass", needed=False),
            Field("moisture_frac", _("or water in it, in %"), "text", unit="percent",
                  needed=False),
            Field("depth_m", _("How deep"), "stepper", unit="length", step=1 if warm else 5,
                  default="4" if warm else "10"),
        ],
        "dig": lambda: [
            _choice("found", _("Worms in the handful"), {"yes": _("yes"), "no": _("none")}, "yes"),
            Field("depth_m", _("How deep"), "stepper", unit="length", step=1 if warm else 5,
                  default="4" if warm else "10"),
        ],
        "squeeze": lambda: [_choice("word", _("A handful squeezed"), _squeeze(), "damp")],
        "water": lambda: [Field("amount", _("How much"), "stepper", unit="volume", step=0.5,
                                default="1", by=("mass_kg",))],
        "cover": lambda: [
            _choice("state", _("Cover"), {"": _("as it was"), **on_off}, "on", False),
            Field("thickness_m", _("How thick, if it is new"), "text", unit="length",
                  needed=False),
            Field("material", _("Of what, if it is new"), "text", needed=False),
            _choice("lid", _("Lid"), {"": _("as it was"), **on_off}, "", False),
        ],
        "switch": lambda: [Field("side", _("Fed from now on"), "chips",
                                 tuple((s, s) for s in bed.side_names) or tuple(zones.items()),
                                 default=next(iter(bed.side_names), next(iter(zones))))],
        "core": lambda: [
            Field("volume_l", _("Size of the sample"), "stepper", unit="volume", step=0.5,
                  default="1"),
            *(Field(name, words, "stepper", unit="count", step=1, big_step=10, needed=False)
              for name, words in (("adults", _("Adults")), ("juveniles", _("Juveniles")),
                                  ("hatchlings", _("Hatchlings")), ("cocoons", _("Cocoons")))),
        ],
        "harvest": lambda: [
            Field("mass_kg", _("Castings taken"), "stepper", unit="mass", step=1, default="5",
                  needed=False),
            Field("share", _("or how much of it, in %"), "text", unit="percent", needed=False),
            Field("worms_left_share", _("Worms still in it, in %"), "text", unit="percent",
                  needed=False),
        ],
        "move": lambda: [
            Field("to_zone", _("Where to"), "chips", tuple(zones.items()),
                  default=tuple(zones)[-1], needed=False),
            Field("share", _("Share of the worms"), "stepper", unit="percent", step=10,
                  default="50", needed=False),
        ],
        "sighting": lambda: [
            Field("what", _("What was seen"), "chips",
                  tuple((s, sighting_words(s)) for s in SIGHTINGS), default="mites"),
            Field("count", _("How many, roughly"), "text", unit="count", needed=False),
        ],
        "stock": lambda: [Field("worms_kg", _("Worms put in (less than nothing: taken out)"),
                                "stepper", unit="mass", step=0.1, default="0.5")],
        "mat": lambda: [
            _choice("state", _("Heat mat"), on_off, "on"),
            Field("setpoint_c", _("Thermostat, if it was set"), "text", unit="temp",
                  needed=False),
        ],
        "note": list,
    }  # fmt: skip
    return list(table[kind]())


def _squeeze() -> dict[str, str]:
    return {"crumbly": _("crumbly"), "damp": _("damp"), "drops": _("a drop or two"),
            "runs": _("it runs")}


FORM_KINDS = ("feed", "look", "probe", "squeeze", "bedding", "water", "cover", "switch", "core",
              "harvest", "move", "sighting", "air", "dig", "depth", "moisture",
              "stock", "mat", "note")


def values_of(entry: AnyEntry, fields: list[Field], farm: Farm, shown: Shown) -> Values:
    """The entry as values of its form."""
    values: Values = {"zone": entry.zone or "", "note": entry.note}
    for field in fields:
        value = getattr(entry, field.name, None)
        if isinstance(value, (int, float)):
            values[field.name] = in_unit(float(value), field.unit, shown)
        elif isinstance(value, str):
            values[field.name] = value
    if isinstance(entry, (Feed, Bedding)):
        values.update(_part_values(entry.parts[0], farm, shown))
    if isinstance(entry, Water):
        values["amount"] = in_unit(entry.mass_kg, "volume", shown)
    return values


def _part_values(part: Any, farm: Farm, shown: Shown) -> Values:
    named = next((item.name for item in farm.store if item.material == part.material
                  and item.name), part.material)  # fmt: skip
    if part.container and part.count and farm.container(part.container):
        weighed = in_unit(part.mass_kg, "mass", shown) if was_weighed(part, farm) else ""
        return {"material": named, "container": part.container, "count": f"{part.count:g}",
                "weighed": weighed}
    return {"material": named, "container": BY_WEIGHT,
            "count": in_unit(part.mass_kg, "mass", shown)}  # fmt: skip


# Fields that become a part of a feed, or an entry of their own.
_TOLD_APART = frozenset(("material", "other_material", "count", "container", "weighed", "squeeze"))


def raw_of(kind: str, fields: list[Field], sent: Mapping[str, str], farm: Farm,
           shown: Shown) -> dict[str, Any]:  # fmt: skip
    """What the form says, as a line of the log; empty fields are left out."""
    reads = units_of(shown)
    raw: dict[str, Any] = {"kind": kind}
    for field in fields:
        text = sent.get(field.name, "").strip()
        if not text or (field.name in _TOLD_APART and kind in ("feed", "bedding", "look")):
            continue
        raw[field.name] = with_unit(text, reads[field.unit][1])
    if kind in ("feed", "bedding"):
        raw["parts"] = [_part(sent, farm, shown)]
    if kind == "water" and "amount" in raw:
        raw["mass_kg"] = raw.pop("amount")
    return raw


def with_unit(text: str, unit: str) -> str:
    """``text`` with its unit, when it is a bare number."""
    plain = text.replace(",", ".").replace("−", "-").removeprefix("-")
    bare = plain.replace(".", "", 1).isdecimal()
    return f"{text.replace(',', '.')} {unit}".strip() if bare else text


def _part(sent: Mapping[str, str], farm: Farm, shown: Shown) -> dict[str, Any]:
    material = sent.get("other_material", "").strip() or sent.get("material", "").strip()
    count = sent.get("count", "").strip().replace(",", ".")
    container = sent.get("container", "").strip()
    if container in ("", BY_WEIGHT):
        return {"material": material, "amount": with_unit(count, units_of(shown)["mass"][1])}
    weighed = sent.get("weighed", "").strip()
    if weighed:  # what its filling weighs is learnt from it
        return {"material": material, "container": container, "count": count,
                "mass_kg": with_unit(weighed, units_of(shown)["mass"][1])}
    named = farm.container(container)
    return {"material": material, "amount": f"{count} {named.name if named else container}"}
