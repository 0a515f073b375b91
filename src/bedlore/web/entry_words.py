"""Log entries in short words, for lists."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from bedlore.facts import feedstocks
from bedlore.farm.log import AnyEntry, Bedding, Feed, Part
from bedlore.farm.model import Farm
from bedlore.say import say
from bedlore.service.account import zone_name
from bedlore.service.book import Written
from bedlore.service.shown import Shown, figures
from bedlore.web.bed_words import material_name

Told = dict[str, Any]
_LATE = dt.timedelta(hours=20)


def kind_words() -> dict[str, str]:
    """What each kind of entry is called."""
    return {
        "feed": _("Fed"), "look": _("Looked"), "probe": _("Probed"), "squeeze": _("Squeezed"),
        "bedding": _("Bedding"), "water": _("Watered"), "cover": _("Cover or lid"),
        "switch": _("Switched side"), "core": _("Core counted"), "harvest": _("Harvested"),
        "move": _("Worms moved"), "sighting": _("Seen"), "stock": _("Worms in or out"),
        "mat": _("Heat mat"), "air": _("Air read"), "depth": _("Depth of bedding"),
        "moisture": _("Water by weight"), "dig": _("Dug for worms"),
        "note": _("Note"), "void": _("Taken back"),
    }  # fmt: skip


def told_entry(found: Written, farm: Farm, shown: Shown) -> Told:
    """A line of the log as words."""
    entry = found.entry
    bed = farm.bed(entry.bed)
    return {
        "id": entry.id, "kind": entry.kind, "kind_words": kind_words()[entry.kind],
        "at": entry.at, "about": entry.at_error_h >= 1, "bed": bed.name if bed else entry.bed,
        "zone": zone_name(bed, entry.zone) if entry.zone else "",
        "words": entry_words(entry, farm, shown), "note": entry.note, "who": entry.who,
        "written_by": found.written_by, "written_at": found.written_at,
        "holds": found.holds, "amends": entry.amends, "aside": _aside(found),
    }  # fmt: skip


def _aside(found: Written) -> str:
    """Who, and how the entry came to stand here. Late is what somebody sent a day after; what
    came in with a file says nothing of the kind."""
    entry = found.entry
    said = [entry.who]
    if found.client_id and found.written_at - entry.at > _LATE:
        said.append(_("written later"))
    if entry.amends:
        said.append(_("corrected"))
    if not found.holds:
        said.append(_("no longer holds"))
    return " · ".join(word for word in said if word)


def material_words(material: str, farm: Farm) -> str:
    """The farm's own word for a material, or its name in the book."""
    own = next((item.name for item in farm.store if item.material == material and item.name), "")
    if own:
        return own
    known = feedstocks.load().get(material)
    return say(known.name) if known else material


def parts_of(entry: AnyEntry) -> tuple[Part, ...]:
    """The materials of a feed or a laying of bedding; none of anything else."""
    return entry.parts if isinstance(entry, (Feed, Bedding)) else ()


def _parts(entry: AnyEntry, farm: Farm, shown: Shown) -> str:
    said = []
    for part in parts_of(entry):
        count = ""
        container = farm.container(part.container) if part.container else None
        if container is not None and part.count:
            count = f" ({figures(part.count)} × {container.name})"
        said.append(f"{shown.mass(part.mass_kg)} {material_words(part.material, farm)}{count}")
    return ", ".join(said)


def entry_words(entry: AnyEntry, farm: Farm, shown: Shown) -> str:
    """What an entry says, without when, where and who."""
    if entry.kind in ("feed", "bedding"):
        lump = _(", in a lump") if getattr(entry, "place", "") == "lump" else ""
        return _parts(entry, farm, shown) + lump
    values = {
        name: getattr(entry, name) for name in type(entry).model_fields
        if name not in _COMMON and getattr(entry, name) not in (None, "", ())
    }  # fmt: skip
    return ", ".join(_said(name, value, shown) for name, value in values.items())


_COMMON = frozenset((
    "id", "at", "at_error_h", "bed", "zone", "who", "note", "amends", "kind", "mass_error_frac",
    "worms_error_frac", "error_k",
))  # fmt: skip


def _said(name: str, value: Any, shown: Shown) -> str:
    words = {
        "depth_m": lambda: _("%s deep") % shown.length(value),
        "low_c": lambda: _("lowest %s") % shown.temp(value),
        "high_c": lambda: _("highest %s") % shown.temp(value),
        "wet_kg": lambda: _("%s moist") % shown.mass(value),
        "dry_kg": lambda: _("%s dried") % shown.mass(value),
        "found": lambda: _("worms there") if value == "yes" else _("no worm there"),
        "temp_c": lambda: shown.temp(value), "setpoint_c": lambda: shown.setting(value),
        "mass_kg": lambda: shown.mass(value), "thickness_m": lambda: shown.length(value),
        "worms_kg": lambda: _("%s of worms") % shown.mass(value),
        "volume_l": lambda: shown.volume(value), "share": lambda: shown.percent(value),
        "moisture_frac": lambda: _("%s water") % shown.percent(value),
        "worms_left_share": lambda: _("%s of the worms still in it") % shown.percent(value),
        "food_left": lambda: {"none": _("no food left"), "some": _("some food left"),
                              "lots": _("lots of food left")}[value],
        "lid": lambda: _("lid %s") % say(value), "order": lambda: " → ".join(value),
        "what": lambda: sighting_words(value), "to_zone": lambda: f"→ {value}",
        "material": lambda: material_name(value),
        "smell": lambda: say(value), "word": lambda: say(value), "state": lambda: say(value),
        "adults": lambda: ngettext("%d adult", "%d adults", value) % value,
        "juveniles": lambda: ngettext("%d juvenile", "%d juveniles", value) % value,
        "hatchlings": lambda: ngettext("%d hatchling", "%d hatchlings", value) % value,
        "cocoons": lambda: ngettext("%d cocoon", "%d cocoons", value) % value,
        "worms": lambda: ngettext("%d worm", "%d worms", value) % value,
    }  # fmt: skip
    return str(words[name]()) if name in words else str(value)


def sighting_words(what: str) -> str:
    """What was seen, as it is called."""
    return {
        "worms_on_lid": _("worms on the lid"), "worms_leaving": _("worms leaving"),
        "dead_worms": _("dead worms"), "mites": _("mites"), "flies": _("flies"),
        "ants": _("ants"), "springtails": _("springtails"), "mould": _("mould"),
        "rodent": _("a rodent"), "seedlings": _("seedlings"), "frozen": _("frozen"),
        "standing_water": _("standing water"), "other": _("something else"),
    }[what]  # fmt: skip
