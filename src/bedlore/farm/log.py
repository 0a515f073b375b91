"""Log entries as frozen records: what the keeper did, saw and measured.

Every entry has a ``kind`` and the common fields of :class:`Entry`. Amounts keep how sure they
are: ``mass_error_frac`` is the standard deviation of the logarithm of the mass, so 0.05 is a
kitchen scale and 0.8 is "some". ``at_error_h`` is how far off the time may be.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, TypeAdapter, model_validator

from bedlore.facts.practice import HANDFUL_L
from bedlore.farm.fields import (
    ASK_UNIT,
    Name,
    Record,
    Slug,
    Text,
    clean_text,
    keeper_error,
    litres,
    number,
    quantity,
)
from bedlore.farm.materials import CoverMaterial, Feedstock
from bedlore.say import say

MAX_PARTS = 60
SCALE_ERROR_FRAC = 0.05  # a kitchen scale and what stays in the bucket; assumed

_EARLIEST = dt.datetime(1950, 1, 1, tzinfo=dt.UTC)
_LATEST = dt.datetime(2200, 1, 1, tzinfo=dt.UTC)


def _utc(value: dt.datetime) -> dt.datetime:
    if value.tzinfo is None:
        raise keeper_error(say("The time has no time zone."))
    try:
        value = value.astimezone(dt.UTC)
    except OverflowError:
        raise keeper_error(say("{isoformat} cannot be right. Check the year.",
                               isoformat=value.isoformat())) from None
    if not _EARLIEST <= value <= _LATEST:
        raise keeper_error(say("{isoformat} cannot be right. Check the year.",
                               isoformat=value.date().isoformat()))
    return value


def _empty_is_none(value: object) -> object:
    return None if isinstance(value, str) and not value.strip() else value


def _lower(value: object) -> object:
    return value.strip().lower() if isinstance(value, str) else value


def _yes_no(value: object) -> object:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return _lower(value)


Instant = Annotated[dt.datetime, AfterValidator(_utc)]
OptionalSlug = Annotated[Slug | None, BeforeValidator(_empty_is_none)]
OnOff = Annotated[Literal["on", "off"], BeforeValidator(_lower)]
MassKg = Annotated[float, quantity("mass", 0, 5000, ASK_UNIT)]
ErrorFrac = Annotated[float, quantity("fraction", 0, 3)]
Share = Annotated[float, quantity("fraction", 0, 1)]
DepthM = Annotated[float, quantity("length", 0, 2, ASK_UNIT)]
Count = Annotated[int, Field(ge=0, le=1_000_000)]


class Part(Record):
    """One material of a feed or a laying of bedding.

    ``mass_kg`` moist mass [kg], ``mass_error_frac`` its relative error (sd of the logarithm);
    ``container`` and ``count`` keep how it was measured, ``words`` what the keeper said.
    """

    material: Feedstock
    mass_kg: MassKg
    mass_error_frac: ErrorFrac = SCALE_ERROR_FRAC
    container: OptionalSlug = None
    count: Annotated[float, number(0, 10000)] | None = None
    words: Annotated[str, BeforeValidator(clean_text)] = ""


Parts = Annotated[tuple[Part, ...], Field(min_length=1, max_length=MAX_PARTS)]


class Entry(Record):
    """What all entries share.

    ``id`` is unique in the log; ``at`` when it happened (aware, UTC), give or take
    ``at_error_h`` [h]; ``bed`` and ``zone`` ids of the farm file; ``amends`` the id of the entry
    that this one corrects.
    """

    id: Slug
    at: Instant
    at_error_h: Annotated[float, quantity("duration", 0, 24 * 366)] = 0.0
    bed: Slug
    zone: OptionalSlug = None
    who: Name = ""
    note: Text = ""
    amends: OptionalSlug = None

    @model_validator(mode="after")
    def _amends_another(self) -> Entry:
        if self.amends == self.id:
            raise keeper_error(say("An entry cannot amend itself. Give it an id of its own."))
        return self


class Feed(Entry):
    """Food given: ``place`` says spread or in a lump, ``depth_m`` how deep it was buried."""

    kind: Literal["feed"] = "feed"
    parts: Parts
    place: Annotated[Literal["spread", "lump"], BeforeValidator(_lower)] = "spread"
    depth_m: DepthM = 0.0


class Bedding(Entry):
    """Bedding or dry carbon laid over (``depth_m`` 0) or worked in."""

    kind: Literal["bedding"] = "bedding"
    parts: Parts
    depth_m: DepthM = 0.0


class Water(Entry):
    """Water given [kg]."""

    kind: Literal["water"] = "water"
    mass_kg: MassKg
    mass_error_frac: ErrorFrac = 0.1


class CoverChange(Entry):
    """Cover put on or taken off (``state``), of ``material`` and ``thickness_m``; or the lid.

    With ``state`` "on" and no material the cover of the farm file is meant.
    """

    kind: Literal["cover"] = "cover"
    state: OnOff | None = None
    material: CoverMaterial | None = None
    thickness_m: Annotated[float, quantity("length", 0.0005, 1, ASK_UNIT)] | None = None
    lid: OnOff | None = None

    @model_validator(mode="before")
    @classmethod
    def _material_means_on(cls, raw: Any) -> Any:
        if isinstance(raw, dict) and raw.get("material") and not raw.get("state"):
            return {**raw, "state": "on"}
        return raw

    @model_validator(mode="after")
    def _says_something(self) -> CoverChange:
        if self.state is None and self.lid is None:
            raise keeper_error(say('Say what changed: state = "on" or "off", or lid = "on" or'
                                   ' "off".'))
        return self


class Probe(Entry):
    """A temperature reading [degC] at ``depth_m`` below the bed's surface.

    ``device`` names the thermometer or sensor; ``error_k`` is its standard error [K] (a hand
    probe is +-0.5 to 1 K).
    """

    kind: Literal["probe"] = "probe"
    temp_c: Annotated[
        float,
        quantity("temperature", -40, 90, say("No bed is like that. Check the unit and the"
                                             " device.")),
    ]
    depth_m: DepthM = 0.1
    device: Name = ""
    error_k: Annotated[float, quantity("temperature_difference", 0.01, 20)] = 0.75


class AirReading(Entry):
    """Air beside the bed [degC]: ``temp_c`` now, and the lowest and highest of the last day."""

    kind: Literal["air"] = "air"
    temp_c: Annotated[float, quantity("temperature", -60, 60)] | None = None
    low_c: Annotated[float, quantity("temperature", -60, 60)] | None = None
    high_c: Annotated[float, quantity("temperature", -60, 60)] | None = None
    device: Name = ""
    error_k: Annotated[float, quantity("temperature_difference", 0.01, 20)] = 0.75

    @model_validator(mode="after")
    def _says_something(self) -> AirReading:
        if self.temp_c is None and self.low_c is None and self.high_c is None:
            raise keeper_error(say("Say how warm the air is: temp, or its low and high."))
        if self.low_c is not None and self.high_c is not None and self.low_c > self.high_c:
            raise keeper_error(say("The low is higher than the high. Are they the other way"
                                   " round?"))  # fmt: skip
        return self


class BeddingDepth(Entry):
    """Depth of all that lies in a zone, from its surface to the floor: ``depth_m`` [m]."""

    kind: Literal["depth"] = "depth"
    depth_m: DepthM


class Moisture(Entry):
    """Water by weighing and drying a sample from ``depth_m``: ``moisture_frac`` (0..1), or the
    sample moist (``wet_kg``) and dried (``dry_kg``) [kg]."""

    kind: Literal["moisture"] = "moisture"
    moisture_frac: Share | None = None
    wet_kg: Annotated[float, quantity("mass", 0, 100, ASK_UNIT)] | None = None
    dry_kg: Annotated[float, quantity("mass", 0, 100, ASK_UNIT)] | None = None
    depth_m: DepthM = 0.1

    @model_validator(mode="after")
    def _weighed(self) -> Moisture:
        if self.moisture_frac is not None:
            return self
        if self.wet_kg is None or self.dry_kg is None:
            raise keeper_error(say('Say how much water: moisture = "72 %", or wet and dry as'
                                   ' weighed.'))  # fmt: skip
        if not 0.0 < self.dry_kg <= self.wet_kg:
            raise keeper_error(say("Dried, a sample weighs less than moist. Check wet and dry."))
        return self

    @property
    def water_frac(self) -> float:
        """Water per wet mass (0..1)."""
        if self.moisture_frac is not None or not self.wet_kg:
            return self.moisture_frac or 0.0
        return 1.0 - (self.dry_kg or 0.0) / self.wet_kg


class Dig(Entry):
    """A handful (``volume_l`` [L]) dug from ``depth_m``: whether worms were ``found``."""

    kind: Literal["dig"] = "dig"
    found: Annotated[Literal["yes", "no"], BeforeValidator(_yes_no)]
    depth_m: DepthM = 0.1
    volume_l: Annotated[float, litres(0.02, 200)] = HANDFUL_L


class Squeeze(Entry):
    """Squeeze test of a handful: crumbly, damp, drops (one or two), or runs."""

    kind: Literal["squeeze"] = "squeeze"
    word: Annotated[Literal["crumbly", "damp", "drops", "runs"], BeforeValidator(_lower)]
    depth_m: DepthM = 0.1


class Look(Entry):
    """A quick check: how much food is left, and the smell."""

    kind: Literal["look"] = "look"
    food_left: Annotated[Literal["none", "some", "lots"], BeforeValidator(_lower)] | None = None
    smell: Annotated[Literal["earthy", "sour", "sharp"], BeforeValidator(_lower)] | None = None

    @model_validator(mode="after")
    def _says_something(self) -> Look:
        if self.food_left is None and self.smell is None:
            raise keeper_error(say("Say how much food is left (none, some, lots) or how it"
                                   " smells."))
        return self


class Core(Entry):
    """A counted sample of ``volume_l`` [L]: worms by stage, or ``worms`` when not told apart,
    or their weight ``worms_kg``; ``cocoons`` when they were counted."""

    kind: Literal["core"] = "core"
    volume_l: Annotated[float, litres(0.02, 200)]
    adults: Count | None = None
    juveniles: Count | None = None
    hatchlings: Count | None = None
    worms: Count | None = None
    cocoons: Count | None = None
    worms_kg: Annotated[float, quantity("mass", 0, 100)] | None = None

    @model_validator(mode="after")
    def _counted_something(self) -> Core:
        counts = (self.adults, self.juveniles, self.hatchlings, self.worms, self.cocoons,
                  self.worms_kg)
        if all(count is None for count in counts):
            raise keeper_error(say("Say what was counted: adults, juveniles, worms or cocoons."))
        return self


class Harvest(Entry):
    """Castings taken: ``mass_kg`` [kg] moist, or ``share`` of the zone (0..1).

    ``moisture_frac`` of what was taken; ``worms_left_share``: share of the zone's worms that was
    still in it and went with it (0..1).
    """

    kind: Literal["harvest"] = "harvest"
    mass_kg: MassKg | None = None
    mass_error_frac: ErrorFrac = 0.1
    share: Share | None = None
    moisture_frac: Share | None = None
    worms_left_share: Share | None = None

    @model_validator(mode="after")
    def _how_much(self) -> Harvest:
        if self.mass_kg is None and self.share is None:
            raise keeper_error(say('Say how much was taken: mass = "6 kg" or share = "50 %".'))
        return self


class Move(Entry):
    """Worms moved from ``zone`` to ``to_zone`` (of ``to_bed``, else the same bed), by mass or
    share; or the new ``order`` of a stack's trays, top to bottom."""

    kind: Literal["move"] = "move"
    to_zone: OptionalSlug = None
    to_bed: OptionalSlug = None
    worms_kg: Annotated[float, quantity("mass", 0, 500)] | None = None
    share: Share | None = None
    order: tuple[Slug, ...] = Field(default=(), max_length=48)

    @model_validator(mode="after")
    def _complete(self) -> Move:
        if self.order:
            if len(set(self.order)) != len(self.order):
                raise keeper_error(say("A tray is named twice in the new order."))
            return self
        if self.zone is None or self.to_zone is None:
            raise keeper_error(say("Say from which zone to which: zone and to_zone."))
        if self.worms_kg is None and self.share is None:
            raise keeper_error(say('Say how many worms: worms = "300 g" or share = "50 %".'))
        return self


SIGHTINGS = ("worms_on_lid", "worms_leaving", "dead_worms", "mites", "flies", "ants", "springtails",
             "mould", "rodent", "seedlings", "frozen", "standing_water", "other")


class Sighting(Entry):
    """Something seen that is not measured; ``count`` roughly how many."""

    kind: Literal["sighting"] = "sighting"
    what: Literal[
        "worms_on_lid", "worms_leaving", "dead_worms", "mites", "flies", "ants", "springtails",
        "mould", "rodent", "seedlings", "frozen", "standing_water", "other",
    ]
    count: Count | None = None

    @model_validator(mode="before")
    @classmethod
    def _spelling(cls, raw: Any) -> Any:
        if isinstance(raw, dict) and isinstance(raw.get("what"), str):
            return {**raw, "what": "_".join(raw["what"].strip().lower().split())}
        return raw


class Stock(Entry):
    """Worms put in (``worms_kg`` > 0) or taken away (< 0) [kg], with relative error."""

    kind: Literal["stock"] = "stock"
    worms_kg: Annotated[float, quantity("mass", -2000, 2000, ASK_UNIT)]
    worms_error_frac: ErrorFrac = 0.2


class Switch(Entry):
    """From now on ``side`` is fed and the others rest."""

    kind: Literal["switch"] = "switch"
    side: Slug


class MatChange(Entry):
    """Heat mat switched on or off, or its thermostat set to ``setpoint_c`` [degC]."""

    kind: Literal["mat"] = "mat"
    state: OnOff
    setpoint_c: Annotated[float, quantity("temperature", 0, 30)] | None = None


class Note(Entry):
    """Words only."""

    kind: Literal["note"] = "note"


class Void(Entry):
    """Takes the entry ``amends`` back: it did not happen. Voiding a correction brings the
    corrected entry back."""

    kind: Literal["void"] = "void"

    @model_validator(mode="after")
    def _names_its_target(self) -> Void:
        if self.amends is None:
            raise keeper_error(say("Say which entry it takes back: amends = its id."))
        return self


AnyEntry = (
    Feed | Bedding | Water | CoverChange | Probe | Squeeze | Look | Core | Harvest | Move
    | Sighting | Stock | Switch | MatChange | Note | Void | AirReading | BeddingDepth | Moisture
    | Dig
)
LogEntry = Annotated[AnyEntry, Field(discriminator="kind")]
ENTRY = TypeAdapter[AnyEntry](LogEntry)

ENTRY_KINDS: dict[str, type[Entry]] = {
    "feed": Feed, "bedding": Bedding, "water": Water, "cover": CoverChange, "probe": Probe,
    "squeeze": Squeeze, "look": Look, "core": Core, "harvest": Harvest, "move": Move,
    "sighting": Sighting, "stock": Stock, "switch": Switch, "mat": MatChange, "note": Note,
    "void": Void, "air": AirReading, "depth": BeddingDepth, "moisture": Moisture, "dig": Dig,
}


def current_entries(entries: Iterable[AnyEntry]) -> list[AnyEntry]:
    """The entries that hold once corrections are applied, by time.

    An entry is replaced by the one that amends it; of several corrections of one entry the one
    with the greatest id holds, whatever the order of writing. A :class:`Void` takes its entry
    back; voiding a correction (or a void) brings back what stood before. Corrections of entries
    that are not in ``entries`` stand by themselves.
    """
    every = list(entries)
    amenders: dict[str, list[AnyEntry]] = {}
    for entry in every:
        if entry.amends is not None:
            amenders.setdefault(entry.amends, []).append(entry)
    known = {entry.id for entry in every}
    held = [
        entry for entry in every
        if entry.kind != "void"
        and not _effective(amenders.get(entry.id, ()), amenders)
        and not _beaten(entry, known, amenders)
    ]
    return sorted(held, key=lambda entry: (entry.at, entry.id))


def _effective(
    candidates: Sequence[AnyEntry], amenders: dict[str, list[AnyEntry]]
) -> list[AnyEntry]:
    """Those of ``candidates`` that were not themselves taken back."""
    return [entry for entry in candidates if not _taken_back(entry, amenders)]


def _taken_back(entry: AnyEntry, amenders: dict[str, list[AnyEntry]]) -> bool:
    """Whether a void that still stands takes ``entry`` back (follows chains of voids)."""
    chain, seen = entry, {entry.id}
    depth = 0
    while True:
        voids = [e for e in amenders.get(chain.id, ()) if e.kind == "void" and e.id not in seen]
        if not voids:
            return depth % 2 == 1
        chain = max(voids, key=lambda e: e.id)
        seen.add(chain.id)
        depth += 1


def _beaten(entry: AnyEntry, known: set[str], amenders: dict[str, list[AnyEntry]]) -> bool:
    """Whether another standing correction of the same entry has the greater id."""
    if entry.amends is None or entry.amends not in known:
        return False
    rivals = _effective(amenders[entry.amends], amenders)
    return any(rival.id > entry.id for rival in rivals)
