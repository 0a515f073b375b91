"""A bed as built: inside size, walls, floor, lid, cover, drainage, heat mat, and its zones."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError, field_validator, model_validator
from pydantic_core import PydanticCustomError

from bedlore.farm.fields import (
    Name,
    Quantity,
    Record,
    Slug,
    SlugOrBlank,
    Text,
    keeper_error,
    many_faults,
    quantity,
    slug_of,
)
from bedlore.farm.materials import Construction, CoverMaterial, Feedstock, plain_name
from bedlore.say import message, say

BedKind = Literal["sides", "stack", "wedge"]
Species = Literal[
    "eisenia_fetida", "eisenia_andrei", "perionyx_excavatus", "eudrilus_eugeniae",
    "dendrobaena_veneta",
]
SIZE_TOLERANCE_M = 0.01

# The name of the one zone of a bed that describes none.
WHOLE_BED = message("the whole bed")
_ASK_UNIT = say('Was another unit meant? Write it with its unit, such as "60 cm" or "24 in".')
_FaultAt = tuple[tuple[str | int, ...], str]


class Layer(Record):
    """One layer of a wall, floor or lid: ``material`` (id of a building material) and
    ``thickness_m`` [m]. Layers are listed from the inside outwards."""

    material: Construction
    thickness_m: Annotated[float, quantity("length", 0.0001, 1.5, _ASK_UNIT)]


class Cover(Record):
    """What lies on the bed: ``material`` (building material or bedding id), ``thickness_m``."""

    material: CoverMaterial
    thickness_m: Annotated[float, quantity("length", 0.0005, 1.0, _ASK_UNIT)]


class Drainage(Record):
    """How water leaves: ``open`` (holes or mesh), ``liner`` (water stands on a liner) or
    ``gravel`` (a drain layer of ``thickness_m``)."""

    kind: Literal["open", "liner", "gravel"] = "open"
    thickness_m: Annotated[float, quantity("length", 0, 0.5, _ASK_UNIT)] = 0.0

    @model_validator(mode="after")
    def _gravel_has_thickness(self) -> Drainage:
        if self.kind == "gravel" and self.thickness_m == 0:
            raise keeper_error(say('Say how thick the gravel is: thickness = "5 cm".'))
        return self


class HeatMat(Record):
    """A heat mat under the bed: ``watts`` [W], thermostat ``setpoint_c`` [degC], and
    ``share_of_floor`` it lies under (0..1; leave the worms an unheated half)."""

    watts: Annotated[float, quantity("power", 1, 3000)]
    setpoint_c: Annotated[
        float, quantity("temperature", 0, 30, say("Above 30 degC the mat itself harms the"
                                                  " worms."))
    ]
    share_of_floor: Annotated[float, quantity("fraction", 0.02, 1)] = 0.5


class Limits(Record):
    """What the keeper will not have, and the odds accepted over the whole outlook window.

    ``cold_c`` and ``hot_c`` [degC] bound the bed; ``moisture_low`` and ``moisture_high`` (mass
    fraction of water, wet basis); ``risk_cold``, ``risk_hot`` and ``risk_sour`` (0..1): joint
    probability accepted over the window.
    """

    cold_c: Annotated[float, quantity("temperature", -5, 20)] = 4.0
    hot_c: Annotated[float, quantity("temperature", 15, 40)] = 30.0
    moisture_low: Annotated[float, quantity("fraction", 0.3, 0.9)] = 0.60
    moisture_high: Annotated[float, quantity("fraction", 0.4, 0.95)] = 0.85
    risk_cold: Annotated[float, quantity("fraction", 0.001, 0.9)] = 0.10
    risk_hot: Annotated[float, quantity("fraction", 0.001, 0.9)] = 0.02
    risk_sour: Annotated[float, quantity("fraction", 0.001, 0.9)] = 0.05

    @model_validator(mode="after")
    def _in_order(self) -> Limits:
        faults: list[_FaultAt] = []
        if self.cold_c >= self.hot_c:
            faults.append((("cold_c",), say("The cold limit is not below the heat limit.")))
        if self.moisture_low >= self.moisture_high:
            faults.append((("moisture_low",), say("The dry limit is not below the wet limit.")))
        if faults:
            raise many_faults(faults)
        return self


class BeddingPart(Record):
    """Bedding a zone started with: ``material``, and ``depth_m`` [m] or ``mass_kg`` [kg] moist,
    and ``moisture_frac`` (wet basis) it was laid at."""

    material: Feedstock
    depth_m: Annotated[float, quantity("length", 0.001, 2, _ASK_UNIT)] | None = None
    mass_kg: Annotated[float, quantity("mass", 0.001, 20000)] | None = None
    moisture_frac: Annotated[float, quantity("fraction", 0, 0.98)] = 0.75

    @model_validator(mode="after")
    def _depth_or_mass(self) -> BeddingPart:
        if (self.depth_m is None) == (self.mass_kg is None):
            raise keeper_error(say('Give either its depth ("15 cm") or its mass ("4 kg").'))
        return self


class Zone(Record):
    """A part of a bed.

    ``length_m``: share of the bed's length [m] (``sides`` and ``wedge``); ``depth_m``: inside
    height of a tray [m] (``stack``). Left out, zones share evenly what is left. ``side`` names
    the side a quarter belongs to; ``worms_kg`` live worms at the start with relative error
    ``worms_error_frac`` (standard deviation of the logarithm); ``active`` is False for a side
    or tray not yet in use; ``added`` the day it came to a bed that stood already, None for
    from the start.
    """

    id: Slug
    name: Name = ""
    side: SlugOrBlank = ""
    length_m: Annotated[float, quantity("length", 0.02, 100, _ASK_UNIT)] | None = None
    depth_m: Annotated[float, quantity("length", 0.02, 2, _ASK_UNIT)] | None = None
    bedding: tuple[BeddingPart, ...] = ()
    worms_kg: Annotated[float, quantity("mass", 0, 2000)] = 0.0
    worms_error_frac: Annotated[float, quantity("fraction", 0.01, 2)] = 0.2
    active: bool = True
    added: dt.date | None = None

    @property
    def called(self) -> str:
        """How the keeper calls it; a bed that names no parts is whole in every language."""
        return say(WHOLE_BED) if self.name == WHOLE_BED else self.name or self.id

    @model_validator(mode="before")
    @classmethod
    def _fill_names(cls, raw: Any) -> Any:
        return with_names(raw)

    @model_validator(mode="after")
    def _laid_within_reason(self) -> Zone:
        laid = sum(part.depth_m or 0.0 for part in self.bedding)
        if self.depth_m is not None and laid > self.depth_m + SIZE_TOLERANCE_M:
            raise keeper_error(
                say("The bedding is {laid} cm deep, but the tray only {depth_m} cm.",
                    laid=f"{laid * 100:.3g}", depth_m=f"{self.depth_m * 100:.3g}")
            )
        return self


class Bed(Record):
    """A worm bed. Sizes are inside sizes [m]; layers run from the inside outwards.

    ``kind``: ``sides`` (one box, fed side by side; zones lie along the length in order),
    ``stack`` (trays, zones listed from top to bottom) or ``wedge`` (fed at its face; zones listed
    from the face to the back). ``place`` tells whose air surrounds it; ``stand`` what is under
    it. ``limits`` None means the farm's. ``ended`` is the day it was taken down, None while it
    stands; it keeps its place among the beds, so that their marks stay and its log is read.
    """

    id: Slug
    name: Name = ""
    kind: BedKind = "sides"
    species: Species = "eisenia_fetida"
    length_m: Annotated[float, quantity("length", 0.1, 100, _ASK_UNIT)]
    width_m: Annotated[float, quantity("length", 0.1, 6, _ASK_UNIT)]
    depth_m: Annotated[float, quantity("length", 0.05, 2, _ASK_UNIT)]
    walls: tuple[Layer, ...] = ()
    floor: tuple[Layer, ...] = ()
    lid: tuple[Layer, ...] = ()
    lid_sealed: bool = False
    cover: Cover | None = None
    drainage: Drainage = Drainage()
    fabric: bool = False
    stand: Literal["legs", "ground", "floor"] = "legs"
    place: Literal["indoors", "outdoors"] = "outdoors"
    heat_mat: HeatMat | None = None
    zones: tuple[Zone, ...] = Field(min_length=1, max_length=48)
    started: dt.date
    ended: dt.date | None = None
    limits: Limits | None = None
    note: Text = ""

    @model_validator(mode="before")
    @classmethod
    def _fill_in(cls, raw: Any) -> Any:
        return cls.filled_in(raw) if isinstance(raw, dict) else raw

    @classmethod
    def filled_in(cls, raw: dict[str, Any]) -> dict[str, Any]:
        """``raw`` with full key names and with everything that follows from the rest."""
        full = with_names(cls.with_full_names(raw))
        full.setdefault("zones", [{"id": "all", "name": WHOLE_BED}])
        if full.get("kind") == "stack" and "depth_m" not in full:
            depth = _sum_of(full["zones"], "depth_m")
            if depth is not None:
                full["depth_m"] = depth
        if "floor" not in full and full.get("stand", "legs") != "ground" and "walls" in full:
            full["floor"] = full["walls"]
        return share_out(full)

    @field_validator("started", "ended", mode="before")
    @classmethod
    def _day(cls, value: Any) -> Any:
        if value is None:
            return None
        if isinstance(value, dt.datetime):
            return value.date()
        if isinstance(value, dt.date):
            return value
        try:
            return dt.date.fromisoformat(value.strip())
        except (AttributeError, ValueError):
            raise keeper_error(
                say("{value} is not a date. Write it like 2024-09-01.",
                    value=repr(str(value)[:40]))
            ) from None

    @field_validator("started", "ended")
    @classmethod
    def _within_reason(cls, value: dt.date | None) -> dt.date | None:
        if value is not None and not dt.date(1950, 1, 1) <= value <= dt.date(2200, 1, 1):
            raise keeper_error(say("{isoformat} cannot be right. Check the year.",
                                   isoformat=value.isoformat()))
        return value

    @model_validator(mode="after")
    def _zones_fit(self) -> Bed:
        whole = self.depth_m if self.kind == "stack" else self.length_m
        faults = zone_faults(self.kind, whole, self.zones)
        if self.ended is not None and self.ended < self.started:
            faults.append((("ended",), say("It was taken down before it was started"
                                           " ({isoformat}).",
                                           isoformat=self.started.isoformat())))
        if faults:
            raise many_faults(faults)
        return self

    def stands(self, day: dt.date) -> bool:
        """Whether it has not been taken down by ``day``."""
        return self.ended is None or day < self.ended

    def zone(self, zone_id: str) -> Zone | None:
        """The zone called ``zone_id``, or None."""
        return next((zone for zone in self.zones if zone.id == zone_id), None)

    @property
    def side_names(self) -> tuple[str, ...]:
        """The sides in order, each once; empty where zones belong to no side."""
        return tuple(dict.fromkeys(zone.side for zone in self.zones if zone.side))

    def zone_called(self, name: str) -> str | None:
        """The id of the zone, or the side, with this id or name; None when there is none."""
        wanted = plain_name(name)
        for zone in self.zones:
            if wanted in (plain_name(zone.id), plain_name(zone.name)):
                return zone.id
        return next((side for side in self.side_names if plain_name(side) == wanted), None)

    def zones_of(self, name: str | None) -> tuple[Zone, ...]:
        """The zones that ``name`` means in the log: one zone, all of a side, or all (None)."""
        if name is None:
            return self.zones
        one = tuple(zone for zone in self.zones if zone.id == name)
        return one or tuple(zone for zone in self.zones if zone.side == name)

    @property
    def area_m2(self) -> float:
        """Inside floor area [m2]."""
        return self.length_m * self.width_m


def with_names(raw: Any) -> Any:
    """``raw`` with ``id`` and ``name`` filled in from each other when one is missing."""
    if not isinstance(raw, dict):
        return raw
    full = dict(raw)
    name, id_ = full.get("name"), full.get("id")
    if id_ is None and isinstance(name, str) and slug_of(name):
        full["id"] = slug_of(name)
    if name is None and isinstance(id_, (str, int)):
        full["name"] = str(id_).strip().capitalize()
    return full


def share_out(full: dict[str, Any]) -> dict[str, Any]:
    """``full`` (a raw bed) with sizes of zones that were left out filled in evenly, and each
    zone of a ``sides`` bed that names no side made a side of its own."""
    zones = full.get("zones")
    field = "depth_m" if full.get("kind") == "stack" else "length_m"
    if not isinstance(zones, (list, tuple)) or not all(isinstance(z, dict) for z in zones):
        return full
    zones = [with_names(Zone.with_full_names(zone)) for zone in zones]
    if full.get("kind", "sides") == "sides":
        zones = [{**zone, "side": zone.get("side") or zone.get("id", "")} for zone in zones]
    missing = [zone for zone in zones if zone.get(field) is None]
    given = _sum_of([zone for zone in zones if zone.get(field) is not None], field)
    whole = _read(full.get(field))
    if missing and given is not None and whole is not None and whole - given > 0:
        for zone in missing:
            zone[field] = (whole - given) / len(missing)
    return {**full, "zones": zones}


def _sum_of(zones: Any, field: str) -> float | None:
    if not isinstance(zones, (list, tuple)):
        return None
    sizes = [
        _read(Zone.with_full_names(zone).get(field)) if isinstance(zone, dict) else None
        for zone in zones
    ]
    return None if None in sizes else sum(size for size in sizes if size is not None)


def _read(value: Any) -> float | None:
    try:
        return Quantity("length", 0, 1000).read(value)
    except PydanticCustomError:
        return None


def zone_faults(kind: str, whole_m: float, zones: Sequence[Zone]) -> list[_FaultAt]:
    """What is wrong with ``zones`` together in a bed of ``kind``, ``whole_m`` [m] long (a stack:
    deep)."""
    sides = _wrong_sides(zones) if kind == "sides" else []
    return [*_same_ids(zones), *sides, *_wrong_sizes(kind, whole_m, zones)]


def zone_faults_of_raw(raw: Any) -> list[_FaultAt]:
    """:func:`zone_faults` of a raw bed whose other keys may be wrong; empty when its zones or
    its size cannot be read."""
    try:
        full = Bed.filled_in(raw)
        kind = full.get("kind", "sides")
        whole = _read(full.get("depth_m" if kind == "stack" else "length_m"))
        zones = [Zone.model_validate(zone) for zone in full["zones"]]
    except (ValidationError, PydanticCustomError, TypeError, KeyError, AttributeError):
        return []
    return zone_faults(kind, whole, zones) if whole is not None else []


def _same_ids(zones: Sequence[Zone]) -> list[_FaultAt]:
    counts = Counter(zone.id for zone in zones)
    return [
        (("zones", name, "id"), say("{count} zones of this bed are called {name}. Rename all"
                                    " but one.", count=count, name=repr(name)))
        for name, count in counts.items() if count > 1
    ]


def _wrong_sides(zones: Sequence[Zone]) -> list[_FaultAt]:
    faults: list[_FaultAt] = []
    closed: set[str] = set()
    before = None
    for zone in zones:
        if zone.side in closed and zone.side != before:
            faults.append((
                ("zones", zone.id, "side"),
                say("Side {side} is interrupted by another side. List its quarters one after"
                    " the other.", side=repr(zone.side)),
            ))
        closed.add(zone.side)
        before = zone.side
    return faults


def _wrong_sizes(kind: str, whole: float, zones: Sequence[Zone]) -> list[_FaultAt]:
    field = "depth_m" if kind == "stack" else "length_m"
    word = "deep" if kind == "stack" else "long"
    sizes = [getattr(zone, field) for zone in zones]
    if None in sizes:
        return [(
            ("zones", zone.id, field),
            say("No room is left for this zone: the others already take {whole} m or more.",
                whole=f"{whole:.3g}"),
        ) for zone, size in zip(zones, sizes, strict=True) if size is None]
    total = sum(sizes)
    if total > whole + SIZE_TOLERANCE_M:
        return [(("zones",), say("The zones overlap: together they are {total} m {word}, but"
                                 " the bed is {whole} m {word}. Make them shorter or the bed"
                                 " larger.", total=f"{total:.4g}", word=word,
                                 whole=f"{whole:.4g}"))]
    if total < whole - SIZE_TOLERANCE_M:
        return [(("zones",), say("The zones leave a gap: together they are {total} m {word},"
                                 " but the bed is {whole} m {word}. Add a zone (active = false"
                                 " if it is empty) or lengthen one.", total=f"{total:.4g}",
                                 word=word, whole=f"{whole:.4g}"))]
    return []


