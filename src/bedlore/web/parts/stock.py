"""Materials on hand, and what the keeper measures with."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils.translation import gettext as _

from bedlore.errors import Fault
from bedlore.facts import feedstocks
from bedlore.farm.amounts import MEASURES
from bedlore.farm.model import Container, Farm, StoreItem
from bedlore.service.shown import Shown, figures
from bedlore.web.entry_fields import Values
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

# What a kitchen and a garden usually have; amounts are the keeper's to fill in.
STARTERS = ("food_mixed_kitchen", "food_coffee_grounds", "bed_corrugated", "bed_leaf_mold")
MEASURED_WITH = ("bucket", "caddy", "barrow")


def use_words() -> list[tuple[str, str]]:
    """What a material may serve as."""
    return [("any", _("anything")), ("feed", _("feed")), ("bedding", _("bedding")),
            ("cover", _("cover"))]  # fmt: skip


def _item_row(item: StoreItem, shown: Shown) -> Row:
    return {
        "key": _key(item), "material": item.material, "name": item.name,
        "mass_kg": shown_number(item.mass_kg, "mass", shown),
        "per_week_kg": shown_number(item.per_week_kg, "mass", shown) if item.per_week_kg else "",
        "use": item.use, "note": item.note, "hold": ticked(item.hold),
        "moisture_frac": shown_number(item.moisture_frac, "percent", shown),
        "c_to_n": figures(item.c_to_n, 4) if item.c_to_n else "",
    }  # fmt: skip


def _key(item: StoreItem) -> str:
    """What tells materials apart when the list changes under the form."""
    return f"{item.material}|{item.name}"


def store_values(farm: Farm, shown: Shown) -> Values:
    """The materials as rows."""
    return flat("store", [_item_row(item, shown) for item in farm.store])


def _read_item(row: Row, before: StoreItem | None, shown: Shown) -> Raw:
    was = _item_row(before, shown) if before else {}
    typed = Typed(row, was, shown)
    kept = before.model_dump(exclude_none=True) if before else {}
    exact = kept.get
    return filled({
        "mass_error_frac": exact("mass_error_frac"), "material": typed.text("material"),
        "name": typed.text("name"), "note": typed.text("note"),
        "use": typed.text("use") or "any", "hold": typed.ticked("hold"),
        "mass_kg": typed.number("mass_kg", "mass", exact("mass_kg")) or 0.0,
        "per_week_kg": typed.number("per_week_kg", "mass", exact("per_week_kg") or None) or 0.0,
        "moisture_frac": typed.number("moisture_frac", "percent", exact("moisture_frac")),
        "c_to_n": typed.number("c_to_n", "count", exact("c_to_n")),
    })  # fmt: skip


def store_changed(farm: Farm, sent: Values, shown: Shown) -> Farm:
    """The farm with the materials as typed; a row without a material is none."""
    rows = rows_of(sent, "store")
    there = {_key(item): item for item in farm.store}
    faults, found = too_many(rows), []
    for place, row in enumerate(rows):
        if row.get("gone") or not row.get("material", "").strip():
            if not row.get("gone") and (row.get("name", "").strip() or _amount(row)):
                faults.append(Fault(f"store-{place}-material", _("Say what it is.")))
            continue
        raw = _read_item(row, there.get(row.get("key", "")), shown)
        faults += checked(StoreItem, raw, f"store-{place}-")
        found.append(raw)
    return farm_with_part(farm, faults, store=found)


def _amount(row: Row) -> str:
    return row.get("mass_kg", "").strip() or row.get("per_week_kg", "").strip()


def store_preset(sent: Values, _name: str, _shown: Shown) -> Values:
    """The usual materials added to what is there, without amounts."""
    rows = [row for row in rows_of(sent, "store") if row.get("material")]
    there = {row["material"] for row in rows}
    known = feedstocks.load()
    rows += [{"material": id_, "name": known[id_].name, "use": "any"}
             for id_ in STARTERS if id_ not in there]  # fmt: skip
    return {**without(sent, "store"), **flat("store", rows)}


def _container_row(one: Container, shown: Shown) -> Row:
    return {
        "key": one.id, "name": one.name, "volume_l": shown_number(one.volume_l, "volume", shown),
        "mass_kg": shown_number(one.mass_kg, "mass", shown),
    }  # fmt: skip


def container_values(farm: Farm, shown: Shown) -> Values:
    """The containers as rows."""
    return flat("container", [_container_row(one, shown) for one in farm.containers])


def containers_changed(farm: Farm, sent: Values, shown: Shown) -> Farm:
    """The farm with the containers as typed; a row without a name is none."""
    rows = rows_of(sent, "container")
    faults, found = too_many(rows), []
    for place, row in enumerate(rows):
        measured = row.get("volume_l", "").strip() or row.get("mass_kg", "").strip()
        if row.get("gone") or not row.get("name", "").strip():
            if measured and not row.get("gone"):
                faults.append(Fault(f"container-{place}-name", _("Give it a name.")))
            continue
        raw = _read_container(row, farm.containers, shown)
        faults += checked(Container, raw, f"container-{place}-")
        found.append(raw)
    return farm_with_part(farm, faults, containers=found)


def _read_container(row: Row, there: Iterable[Container], shown: Shown) -> Raw:
    before = next((one for one in there if one.id == row.get("key")), None)
    typed = Typed(row, _container_row(before, shown) if before else {}, shown)
    kept: Raw = before.model_dump(exclude_none=True) if before else {}
    return filled({
        **{key: kept.get(key) for key in ("id", "fill_error_frac")}, "name": typed.text("name"),
        "volume_l": typed.number("volume_l", "volume", kept.get("volume_l")),
        "mass_kg": typed.number("mass_kg", "mass", kept.get("mass_kg")),
    })  # fmt: skip


def container_preset(sent: Values, _name: str, shown: Shown) -> Values:
    """Usual measures added to what is there; their sizes are to be checked."""
    rows = [row for row in rows_of(sent, "container") if row.get("name")]
    there = {row["name"].strip().lower() for row in rows}
    usual = {"bucket": _("bucket"), "caddy": _("caddy"), "barrow": _("barrow")}
    rows += [{"name": usual[key], "volume_l": shown_number(MEASURES[key][0], "volume", shown)}
             for key in MEASURED_WITH if usual[key] not in there]  # fmt: skip
    return {**without(sent, "container"), **flat("container", rows)}


STORE = Part("store", store_values, store_changed, store_preset)
CONTAINERS = Part("containers", container_values, containers_changed, container_preset)
