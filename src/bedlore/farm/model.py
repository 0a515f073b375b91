"""The farm file as frozen records: site, beds, materials on hand, containers, limits."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from bedlore.facts import feedstocks
from bedlore.farm.bed import (
    Bed,
    BeddingPart,
    Cover,
    Drainage,
    HeatMat,
    Layer,
    Limits,
    Zone,
    with_names,
)
from bedlore.farm.fields import (
    Name,
    Record,
    Slug,
    Text,
    keeper_error,
    litres,
    many_faults,
    number,
    quantity,
)
from bedlore.farm.materials import Feedstock, find_feedstock, plain_name
from bedlore.farm.site import Building, Normals, Site
from bedlore.say import say

FORMAT: Literal[1] = 1


class StoreItem(Record):
    """A material on hand.

    ``material``: feedstock id; ``name``: the keeper's own word, also understood in the log;
    ``mass_kg`` on hand now [kg], ``per_week_kg`` what comes in [kg/week]; ``moisture_frac`` and
    ``c_to_n`` override the table when the keeper knows better; ``hold`` True keeps it out of
    every advice (a doubtful lot); ``use`` says what it may serve as.
    """

    material: Feedstock
    name: Name = ""
    mass_kg: Annotated[float, quantity("mass", 0, 100000)] = 0.0
    mass_error_frac: Annotated[float, quantity("fraction", 0, 2)] = 0.2
    per_week_kg: Annotated[float, quantity("mass", 0, 100000)] = 0.0
    moisture_frac: Annotated[float, quantity("fraction", 0, 0.99)] | None = None
    c_to_n: Annotated[float, number(1, 1000)] | None = None
    use: Literal["feed", "bedding", "cover", "any"] = "any"
    hold: bool = False
    note: Text = ""


class Container(Record):
    """Something the keeper measures with: a volume [L] (the mass then follows from the
    material's bulk density, with its wide error) or a usual mass [kg], or both (mass wins).

    ``fill_error_frac``: spread of one filling (standard deviation of the logarithm).
    """

    id: Slug
    name: Name = ""
    volume_l: Annotated[float, litres(0.02, 2000)] | None = None
    mass_kg: Annotated[float, quantity("mass", 0.005, 2000)] | None = None
    fill_error_frac: Annotated[float, quantity("fraction", 0.01, 2)] = 0.15

    @model_validator(mode="before")
    @classmethod
    def _fill_names(cls, raw: Any) -> Any:
        return with_names(raw)

    @model_validator(mode="after")
    def _volume_or_mass(self) -> Container:
        if self.volume_l is None and self.mass_kg is None:
            raise keeper_error(say('Say how much it holds: volume = "9 L" or mass = "6 kg".'))
        return self


class Preferences(Record):
    """How the keeper likes to read: ``units``, ``language`` ("": as the machine or the browser
    says) and, for the price of heating, ``price_per_kwh`` in ``currency``."""

    units: Literal["metric", "us"] = "metric"
    language: Literal["", "en", "es"] = ""
    price_per_kwh: Annotated[float, number(0, 1000)] | None = None
    currency: Name = ""


class Farm(Record):
    """Everything the keeper describes once."""

    format: Literal[1] = 1
    name: Name = Field(min_length=1)
    site: Site
    beds: tuple[Bed, ...] = Field(min_length=1, max_length=5000)
    store: tuple[StoreItem, ...] = ()
    containers: tuple[Container, ...] = ()
    limits: Limits = Limits()
    preferences: Preferences = Preferences()

    @model_validator(mode="before")
    @classmethod
    def _place_by_building(cls, raw: Any) -> Any:
        """A bed that names no place stands in the building when there is one."""
        if not isinstance(raw, dict) or not isinstance(raw.get("beds"), (list, tuple)):
            return raw
        place = "indoors" if _has_building(raw.get("site")) else "outdoors"
        beds = [{"place": place, **bed} if isinstance(bed, dict) else bed for bed in raw["beds"]]
        return {**raw, "beds": beds}

    @model_validator(mode="before")
    @classmethod
    def _keeps_typed_words(cls, raw: Any) -> Any:
        """What is on hand and has no name is called as its material was typed."""
        if not isinstance(raw, dict) or not isinstance(raw.get("store"), (list, tuple)):
            return raw
        return {**raw, "store": _with_typed_words(raw["store"])}

    @model_validator(mode="after")
    def _fits_together(self) -> Farm:
        faults = farm_faults(self.beds, self.containers, self.store, self.site.building.kind)
        if faults:
            raise many_faults(faults)
        return self

    def bed(self, bed_id: str) -> Bed | None:
        """The bed called ``bed_id``, or None."""
        return next((bed for bed in self.beds if bed.id == bed_id), None)

    def standing(self, day: dt.date) -> tuple[Bed, ...]:
        """The beds that have not been taken down by ``day``."""
        return tuple(bed for bed in self.beds if bed.stands(day))

    def share_of_store(self, bed: Bed, day: dt.date) -> float:
        """The part of what comes in that is ``bed``'s: by floor area among the beds that are kept,
        which one that has not begun by ``day`` is not."""
        others = sum(one.area_m2 for one in self.standing(day)
                     if one.id != bed.id and one.started <= day)  # fmt: skip
        return bed.area_m2 / (bed.area_m2 + others)

    def limits_of(self, bed: Bed) -> Limits:
        """The limits that hold for ``bed``: its own, or the farm's."""
        return bed.limits or self.limits

    def container(self, name: str) -> Container | None:
        """The container with id or name ``name``, or None."""
        wanted = plain_name(name)
        return next(
            (c for c in self.containers if wanted in (plain_name(c.id), plain_name(c.name))), None
        )

    def material(self, name: str) -> str | None:
        """The feedstock id the keeper means by ``name``: the farm's own words first."""
        wanted = plain_name(name)
        for item in self.store:
            if item.name and plain_name(item.name) == wanted:
                return item.material
        return find_feedstock(name)


def _has_building(site: Any) -> bool:
    building = site.get("building") if isinstance(site, dict) else getattr(site, "building", None)
    kind = building.get("kind") if isinstance(building, dict) else getattr(building, "kind", None)
    return kind not in (None, "none")


def _with_typed_words(store: Sequence[Any]) -> list[Any]:
    """``store`` with names where a word other than the table's own was typed as the material."""
    taken = {plain_name(str(item["name"])) for item in store
             if isinstance(item, dict) and item.get("name")}  # fmt: skip
    found = []
    for item in store:
        word = _typed_word(item)
        if word and plain_name(word) not in taken:
            taken.add(plain_name(word))
            item = {**item, "name": word}
        found.append(item)
    return found


def _typed_word(item: Any) -> str:
    """The keeper's own word for the material of an item without a name, or ""."""
    if not isinstance(item, dict) or item.get("name"):
        return ""
    word = item.get("material")
    known = find_feedstock(word) if isinstance(word, str) else None
    if not isinstance(word, str) or known is None:
        return ""
    tables = {plain_name(known), plain_name(feedstocks.load()[known].name)}
    return "" if plain_name(word) in tables else word.strip()


def farm_faults(
    beds: Sequence[Bed],
    containers: Sequence[Container],
    store: Sequence[StoreItem],
    building_kind: str | None,
) -> list[tuple[tuple[str | int, ...], str]]:
    """What does not fit together between parts of a farm that are right by themselves.

    ``building_kind`` None skips what depends on the building.
    """
    faults: list[tuple[tuple[str | int, ...], str]] = []
    for group, ids in (
        ("beds", [bed.id for bed in beds]),
        ("containers", [container.id for container in containers]),
        ("store", [plain_name(item.name) for item in store if item.name]),
    ):
        for id_, count in Counter(ids).items():
            if count > 1:
                sentence = say("{count} of the {group} are called {id}. Rename all but one.",
                               count=count, group=group, id=repr(id_))
                faults.append(((group, id_), sentence))
    if beds and all(bed.ended is not None for bed in beds):
        faults.append((("beds", beds[-1].id, "ended"), say("No bed would stand any more. Set"
                                                           " the next one up first.")))
    if building_kind == "none":
        for bed in beds:
            if bed.place == "indoors":
                faults.append((("beds", bed.id, "place"), say("It stands indoors, but the site"
                                                              " has no building. Describe"
                                                              " site.building or write"
                                                              ' "outdoors".')))
    return faults


__all__ = ["FORMAT", "Bed", "BeddingPart", "Building", "Container", "Cover", "Drainage", "Farm",
           "HeatMat", "Layer", "Limits", "Normals", "Preferences", "Site", "StoreItem", "Zone",
           "farm_faults"]
