"""How a bed is built, in words; and what was changed about it."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _

from bedlore.facts import building, feedstocks
from bedlore.farm.bed import Bed, Layer
from bedlore.say import say
from bedlore.service.shown import Shown


def material_name(material: str) -> str:
    """A building material or a bedding by the name in its table."""
    built = building.MATERIALS.get(material)
    if built is not None:
        return say(built.name)
    fed = feedstocks.load().get(material)
    return say(fed.name) if fed else material.replace("_", " ")


def layer_words(layers: Sequence[Layer], shown: Shown) -> str:
    """Layers from the inside outwards."""
    return " + ".join(
        f"{shown.length(x.thickness_m)} {material_name(x.material).lower()}" for x in layers
    )


def species_words() -> list[tuple[str, str]]:
    """The species that are known."""
    return [(key, key.replace("_", " ").capitalize()) for key in (
        "eisenia_fetida", "eisenia_andrei", "perionyx_excavatus", "eudrilus_eugeniae",
        "dendrobaena_veneta")]  # fmt: skip


def stand_words() -> list[tuple[str, str]]:
    """What a bed may stand on."""
    return [("legs", _("on legs")), ("floor", _("on a floor")), ("ground", _("on the ground"))]


def drain_words() -> list[tuple[str, str]]:
    """How water may leave."""
    return [("open", _("holes or mesh")), ("liner", _("a liner; water stands on it")),
            ("gravel", _("a layer of gravel"))]  # fmt: skip


def sizes_words(bed: Bed, shown: Shown) -> str:
    """Length, width and depth inside."""
    return " × ".join(shown.length(v) for v in (bed.length_m, bed.width_m, bed.depth_m))


def built_words(bed: Bed, shown: Shown) -> list[tuple[str, str]]:
    """(what, how) of everything that belongs to how the bed is built."""
    zones = ", ".join(
        f"{z.called} {shown.length(z.depth_m or z.length_m or 0.0)}" for z in bed.zones
    )
    mat, cover = bed.heat_mat, bed.cover
    drain = dict(drain_words())[bed.drainage.kind]
    if bed.drainage.kind == "gravel":
        drain += f", {shown.length(bed.drainage.thickness_m)}"
    worms = sum(zone.worms_kg for zone in bed.zones)
    return [
        (_("name"), bed.name), (_("inside"), sizes_words(bed, shown)), (_("zones"), zones),
        (_("walls"), layer_words(bed.walls, shown)), (_("floor"), layer_words(bed.floor, shown)),
        (_("lid"), layer_words(bed.lid, shown) + (_(", closed tight") if bed.lid_sealed else "")),
        (_("cover"), f"{shown.length(cover.thickness_m)} {material_name(cover.material).lower()}"
         if cover else ""),
        (_("water leaves by"), drain), (_("stands"), dict(stand_words())[bed.stand]),
        (_("place"), _("indoors") if bed.place == "indoors" else _("outdoors")),
        (_("heat mat"), _("%(watts).0f W, off at %(temp)s, under %(share)s of the floor") % {
            "watts": mat.watts, "temp": shown.setting(mat.setpoint_c),
            "share": shown.percent(mat.share_of_floor)} if mat else ""),
        (_("worms"), dict(species_words())[bed.species]),
        (_("worms at the start"), shown.mass(worms)),
        (_("begun on"), bed.started.isoformat()),
        (_("taken down on"), bed.ended.isoformat() if bed.ended else ""),
        (_("note"), bed.note),
    ]  # fmt: skip


def differences(before: Bed, after: Bed, shown: Shown) -> list[tuple[str, str, str]]:
    """(what, before, after) of everything that is built otherwise."""
    both = zip(built_words(before, shown), built_words(after, shown), strict=True)
    return [(what, old or "–", new or "–") for (what, old), (_w, new) in both if old != new]
