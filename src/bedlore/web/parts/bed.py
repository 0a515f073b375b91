"""A bed that stands already: its sizes, walls, cover and zones as a form, and rebuilt from it."""

from __future__ import annotations

import datetime as dt

from django.utils.translation import gettext as _

from bedlore.errors import Fault, KeeperError
from bedlore.farm.bed import Bed, Cover, Drainage, HeatMat, Layer, Zone
from bedlore.farm.fields import slug_of
from bedlore.farm.model import Farm
from bedlore.service.first_bed import pattern_called
from bedlore.service.shown import Shown
from bedlore.units import parse_quantity
from bedlore.web.entry_fields import Unit, Values, units_of, with_unit
from bedlore.web.parts.base import (
    Part,
    Raw,
    Row,
    Typed,
    checked,
    farm_with_part,
    filled,
    flat,
    rows_of,
    shown_number,
    ticked,
    too_many,
    without,
)

LAYERS = {"wall": "walls", "floor": "floor", "lid": "lid"}
_SIZES = ("length_m", "width_m", "depth_m")
_WORDS = ("name", "note", "place", "stand", "species", "started")


def bed_part(bed_id: str, today: dt.date) -> Part:
    """The bed called ``bed_id`` as a part of its farm; what is new in it came ``today``."""
    return Part(
        f"bed-{bed_id}",
        lambda farm, shown: bed_values(_bed(farm, bed_id), shown),
        lambda farm, sent, shown: farm_with_bed(
            farm, bed_raw(_bed(farm, bed_id), sent, shown, today)),
        bed_preset,
    )  # fmt: skip


def _bed(farm: Farm, bed_id: str) -> Bed:
    bed = farm.bed(bed_id)
    if bed is None:
        raise KeeperError(_("This bed is no longer there."))
    return bed


def bed_values(bed: Bed, shown: Shown) -> Values:
    """The bed as its form shows it."""
    mat, cover = bed.heat_mat, bed.cover
    values = {
        **{name: str(getattr(bed, name)) for name in _WORDS},
        **{name: shown_number(getattr(bed, name), "length", shown) for name in _SIZES},
        "lid_sealed": ticked(bed.lid_sealed), "fabric": ticked(bed.fabric),
        "cover": cover.material if cover else "",
        "cover_m": shown_number(cover.thickness_m if cover else None, "length", shown),
        "drain": bed.drainage.kind,
        "drain_m": shown_number(bed.drainage.thickness_m or None, "length", shown),
        "watts": f"{mat.watts:g}" if mat else "",
        "setpoint_c": shown_number(mat.setpoint_c if mat else None, "temp", shown),
        "share_of_floor": shown_number(mat.share_of_floor if mat else None, "percent", shown),
    }  # fmt: skip
    for prefix, part in LAYERS.items():
        values |= flat(prefix, [_layer_row(layer, shown) for layer in getattr(bed, part)])
    return values | flat("zone", [_zone_row(zone, bed.kind, shown) for zone in bed.zones])


def _layer_row(layer: Layer, shown: Shown) -> Row:
    return {"material": layer.material,
            "thickness_m": shown_number(layer.thickness_m, "length", shown)}  # fmt: skip


def _size_of(kind: str) -> str:
    return "depth_m" if kind == "stack" else "length_m"


def _zone_row(zone: Zone, kind: str, shown: Shown) -> Row:
    return {"key": zone.id, "name": zone.name, "side": zone.side,
            "size": shown_number(getattr(zone, _size_of(kind)), "length", shown),
            "worms_kg": shown_number(zone.worms_kg, "mass", shown)}  # fmt: skip


def bed_raw(bed: Bed, sent: Values, shown: Shown, today: dt.date) -> tuple[Raw, list[Fault]]:
    """The bed as typed, and what is wrong with it beside which field; new zones came ``today``."""
    was = bed_values(bed, shown)
    typed = Typed(sent, was, shown)
    kept = bed.model_dump(mode="json", exclude_none=True)
    raw: Raw = {**kept, **{name: typed.text(name) or kept.get(name, "") for name in _WORDS},
                "note": typed.text("note"), "name": typed.text("name"),
                "lid_sealed": typed.ticked("lid_sealed"), "fabric": typed.ticked("fabric")}
    faults: list[Fault] = []
    if not raw["name"]:
        faults.append(Fault("name", _("Give the bed a name.")))
    for name in _SIZES:
        raw[name] = typed.number(name, "length", getattr(bed, name))
        if raw[name] is None and not (bed.kind == "stack" and name == "depth_m"):
            faults.append(Fault(name, _("Write a size.")))
    for prefix, part in LAYERS.items():
        raw[part], said = _layers(prefix, getattr(bed, part), typed)
        faults += said
    faults += _fittings(bed, typed, raw)
    raw["zones"], said = _zones(bed, typed, raw, today)
    faults += said
    if bed.kind == "stack":
        raw.pop("depth_m")  # it follows from the trays
    return filled(raw), faults or checked(Bed, filled(raw))


def _layers(prefix: str, before: tuple[Layer, ...], typed: Typed) -> tuple[list[Raw], list[Fault]]:
    rows = rows_of(typed.sent, prefix)
    found, faults = [], too_many(rows)
    for place, row in enumerate(rows):
        material, text = row.get("material", "").strip(), row.get("thickness_m", "").strip()
        if not material:
            if text:
                faults.append(Fault(f"{prefix}-{place}-material", _("Say what it is made of.")))
            continue
        same = before[place] if place < len(before) else None
        exact = same.thickness_m if same and same.material == material else None
        was = _layer_row(same, typed.shown) if same else {}
        raw = filled({"material": material, "thickness_m":
                      Typed(row, was, typed.shown).number("thickness_m", "length", exact)})
        faults += checked(Layer, raw, f"{prefix}-{place}-")
        found.append(raw)
    return found, faults


def _fittings(bed: Bed, typed: Typed, raw: Raw) -> list[Fault]:
    """Cover, drainage and mat, put into ``raw``; each may be left out."""
    faults: list[Fault] = []

    def fit(key: str, record: type[Cover | Drainage | HeatMat], given: Raw,
            names: dict[str, str]) -> None:  # fmt: skip
        raw[key] = given or None
        for fault in checked(record, given) if given else ():
            faults.append(Fault(names.get(fault.path, names[""]), fault.sentence))

    cover, mat = bed.cover, bed.heat_mat
    lying = typed.text("cover")
    same = cover.thickness_m if cover and cover.material == lying else None
    fit("cover", Cover, filled({"material": lying, "thickness_m":
        typed.number("cover_m", "length", same)}) if lying else {},
        {"material": "cover", "": "cover_m"})  # fmt: skip
    if typed.text("cover_m") and not lying:
        faults.append(Fault("cover", _("Say what lies on it.")))
    gravel = typed.text("drain") == "gravel"
    fit("drainage", Drainage, filled({"kind": typed.text("drain") or bed.drainage.kind,
        "thickness_m": typed.number("drain_m", "length", bed.drainage.thickness_m or None)
        if gravel else None}), {"kind": "drain", "": "drain_m"})  # fmt: skip
    told = filled({
        "watts": typed.number("watts", "count", mat.watts if mat else None),
        "setpoint_c": typed.number("setpoint_c", "temp", mat.setpoint_c if mat else None),
        "share_of_floor": typed.number("share_of_floor", "percent",
                                       mat.share_of_floor if mat else None),
    })  # fmt: skip
    if "watts" in told and not isinstance(told["watts"], float):
        told["watts"] = with_unit(told["watts"], "W")
    fit("heat_mat", HeatMat, told, {"setpoint_c": "setpoint_c", "share_of_floor": "share_of_floor",
                                    "": "watts"})  # fmt: skip
    return faults


def _zones(bed: Bed, typed: Typed, raw: Raw,
           today: dt.date) -> tuple[list[Raw], list[Fault]]:  # fmt: skip
    rows = rows_of(typed.sent, "zone")
    faults, found = too_many(rows), []
    size = _size_of(bed.kind)
    taken = {zone.id for zone in bed.zones}
    for place, row in enumerate(rows):
        before = bed.zone(row.get("key", "")) if row.get("key") else None
        if row.get("gone"):
            continue
        zone = _zone(row, before, bed.kind, typed.shown)
        if before is None:
            if not zone["name"] and zone.get(size) is None:
                continue
            if not zone["name"]:
                faults.append(Fault(f"zone-{place}-name", _("Give it a name.")))
                continue
            zone.update(id=_free_id(zone["name"], taken), active=False, added=today)
            taken.add(zone["id"])
        said = checked(Zone, filled(zone), f"zone-{place}-")
        faults += [Fault(fault.path.replace(f"-{size}", "-size"), fault.sentence)
                   for fault in said]  # fmt: skip
        found.append(filled(zone))
    if not found:
        faults.append(Fault("", _("A bed needs at least one zone.")))
    elif not faults:
        _stretch(bed, found, raw, size, typed.shown)
    return found, faults


def _zone(row: Row, before: Zone | None, kind: str, shown: Shown) -> Raw:
    size = _size_of(kind)
    typed = Typed(row, _zone_row(before, kind, shown) if before else {}, shown)
    kept: Raw = before.model_dump(mode="json", exclude_none=True) if before else {}
    return {
        **kept, "name": typed.text("name"), size: typed.number("size", "length", kept.get(size)),
        "side": typed.text("side") or kept.get("side", ""),
        "worms_kg": typed.number("worms_kg", "mass", kept.get("worms_kg")) or 0.0,
    }  # fmt: skip


def _free_id(name: str, taken: set[str]) -> str:
    """An id for a new zone that no other has."""
    stem = slug_of(name)[:60] or "zone"
    return next(one for k in range(1, 99)
                if (one := stem if k == 1 else f"{stem}-{k}") not in taken)  # fmt: skip


def _stretch(bed: Bed, zones: list[Raw], raw: Raw, size: str, shown: Shown) -> None:
    """A box or wedge made longer or shorter takes its zones with it, unless they were measured
    anew too."""
    same = {zone.id: getattr(zone, size) for zone in bed.zones}
    whole = raw.get(size)
    untouched = {zone["id"]: zone.get(size) for zone in zones} == same
    if bed.kind == "stack" or not untouched or whole == getattr(bed, size):
        return
    try:
        unit = units_of(shown)["length"][1]
        factor = parse_quantity(with_unit(str(whole), unit), "length") / getattr(bed, size)
    except KeeperError:
        return  # the size itself is at fault, and said so beside it
    for zone in zones:
        zone[size] *= factor


def farm_with_bed(farm: Farm, told: tuple[Raw, list[Fault]]) -> Farm:
    """The farm with one bed replaced; raises all that is wrong."""
    raw, faults = told
    beds = farm.model_dump(mode="json", exclude_none=True)["beds"]
    return farm_with_part(farm, faults, beds=[raw if one["id"] == raw["id"] else one
                                              for one in beds])  # fmt: skip


def bed_preset(sent: Values, name: str, shown: Shown) -> Values:
    """Walls and lid of one of our patterns; or a row for one zone more ("zone-above" a stack,
    "zone")."""
    if name in ("zone", "zone-above"):
        rows = rows_of(sent, "zone")
        rows.insert(0 if name == "zone-above" else len(rows), {"name": ""})
        return {**without(sent, "zone"), **flat("zone", rows)}
    pattern = pattern_called(name)
    if pattern is None:
        return sent
    unit: Unit = "length"
    layers = {
        "wall": pattern.walls, "lid": pattern.lid,
        "floor": pattern.walls if sent.get("stand") != "ground" else (),
    }  # fmt: skip
    for prefix, built in layers.items():
        sent = {**without(sent, prefix), **flat(prefix, (
            {"material": material, "thickness_m": shown_number(thickness_m, unit, shown)}
            for material, thickness_m in built))}  # fmt: skip
    return sent
