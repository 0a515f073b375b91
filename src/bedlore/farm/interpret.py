"""What one line of a log says, understood with the farm at hand.

Takes the plain keys and values of a CSV row or a JSON object and makes the frozen record of
:mod:`bedlore.farm.log`: names become ids, local times UTC, "half a bucket" kilograms. Where the
line contradicts the farm file it says so and keeps what can be kept.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from bedlore.errors import Fault, KeeperError
from bedlore.farm.amounts import Amount, Fillings, container_id, fill, read_count, weigh
from bedlore.farm.bed import Bed
from bedlore.farm.faults import faults_of
from bedlore.farm.log import (
    ENTRY_KINDS,
    MAX_PARTS,
    AnyEntry,
    Bedding,
    BeddingDepth,
    CoverChange,
    Dig,
    Entry,
    Feed,
    MatChange,
    Moisture,
    Move,
    Part,
    Probe,
    Squeeze,
)
from bedlore.farm.materials import feedstock_names, nearest, plain_name, unknown_material
from bedlore.farm.model import Farm
from bedlore.farm.when import When, parse_when
from bedlore.say import say, sentences

_Raw = dict[str, Any]

_BEFORE_START_H = 48.0  # an entry this long before the bed's first day is still believed
_STAND_IN = "food_mixed_kitchen"
_AT_A_DEPTH = (Probe, Squeeze, Feed, Bedding, BeddingDepth, Moisture, Dig)
_FUTURE_H = 24.0  # clocks of phones may run ahead


@dataclass(frozen=True)
class Understood:
    """``entry`` is None when the line cannot be used; ``faults`` say why, ``remarks`` what was
    taken for what in a line that is used."""

    entry: AnyEntry | None
    faults: tuple[Fault, ...] = ()
    remarks: tuple[Fault, ...] = ()


class Interpreter:
    """Reads raw log lines of one farm; ``now`` (aware) is the keeper's clock, or None, and
    ``fillings`` what weighings of the keeper's containers have shown."""

    def __init__(self, farm: Farm, now: dt.datetime | None = None,
                 fillings: Fillings | None = None) -> None:  # fmt: skip
        self._farm = farm
        self._fillings = fillings
        self._zone: ZoneInfo = farm.site.zone_info()
        self._now = now
        self._beds = {plain_name(word): bed for bed in farm.beds for word in (bed.name, bed.id)}

    def read(self, raw: Mapping[str, Any], where: str = "") -> Understood:
        """The entry that ``raw`` describes; ``where`` (file and line) goes into messages."""
        return _Reading(self, raw, where).result()

    def bed_called(self, name: object) -> Bed | None:
        """The bed with this id or name; the only bed of a farm need not be named."""
        if name is None and len(self._farm.beds) == 1:
            return self._farm.beds[0]
        return self._beds.get(plain_name(str(name)))

    @property
    def farm(self) -> Farm:
        """The farm the log belongs to."""
        return self._farm

    @property
    def fillings(self) -> Fillings | None:
        """What the keeper's own weighings say of containers, or None."""
        return self._fillings

    @property
    def zone(self) -> ZoneInfo:
        """The time zone of local times."""
        return self._zone

    @property
    def now(self) -> dt.datetime | None:
        """The latest moment that is believed, or None."""
        return self._now


class _Reading:
    """One line on its way to a record: collects faults and remarks as it goes."""

    def __init__(self, book: Interpreter, raw: Mapping[str, Any], where: str) -> None:
        self._book = book
        self._where = where
        self._written = _without_blanks(raw)
        self._faults: list[Fault] = []
        self._remarks: list[Fault] = []

    def result(self) -> Understood:
        record = self._record_type()
        if record is None:
            return self._refused()
        raw = record.with_full_names({**self._written, "kind": record.model_fields["kind"].default})
        bed = self._bed(raw)
        when = self._when(raw)
        self._amounts(raw)
        if bed is not None:
            self._zones(raw, bed)
        raw.setdefault("id", automatic_id(self._written))
        entry = self._validated(raw, record)
        if entry is None or bed is None or when is None or self._faults:
            return self._refused()
        entry = _with_later_trays(entry, bed)
        self._check_time(entry, bed)
        self._check_bed(entry, bed)
        return self._refused() if self._faults else Understood(entry, (), tuple(self._remarks))

    def _refused(self) -> Understood:
        return Understood(None, tuple(dict.fromkeys(self._faults)), tuple(self._remarks))

    def _fault(self, field: str, sentence: str) -> None:
        self._faults.append(Fault(self._path(field), sentence))

    def _remark(self, field: str, sentence: str) -> None:
        self._remarks.append(Fault(self._path(field), sentence))

    def _path(self, field: str) -> str:
        return " ".join(word for word in (self._where, field) if word)

    def _record_type(self) -> type[Entry] | None:
        kind = self._written.get("kind")
        if kind is None:
            self._fault("kind", say("The kind of entry is missing. One of: {entry_kinds}.",
                                    entry_kinds=", ".join(ENTRY_KINDS)))
            return None
        found = ENTRY_KINDS.get(str(kind).strip().lower())
        if found is None:
            near = nearest(str(kind).strip(), tuple(ENTRY_KINDS))
            kinds = ", ".join(ENTRY_KINDS)
            hint = (
                say('Did you mean "{near}"?', near=near) if near
                else say("One of: {entry_kinds}.", entry_kinds=kinds)
            )  # fmt: skip
            self._fault("kind", say("{kind} is not a kind of entry that is known. {hint}",
                                    kind=repr(str(kind)[:40]), hint=hint))
        return found

    def _bed(self, raw: _Raw) -> Bed | None:
        name = raw.get("bed")
        bed = self._book.bed_called(name)
        if bed is not None:
            raw["bed"] = bed.id
            return bed
        names = [bed.id for bed in self._book.farm.beds]
        if name is None:
            self._fault("bed", say("Which bed is missing. One of: {names}.",
                                   names=", ".join(names[:12])))
            return None
        near = nearest(str(name), tuple(names))
        hint = (
            say('Did you mean "{near}"?', near=near) if near
            else say("It knows: {names}.", names=", ".join(names[:12]))
        )  # fmt: skip
        self._fault("bed", say("The farm file has no bed {name}. {hint}",
                               name=repr(str(name)[:40]), hint=hint))
        return None

    def _when(self, raw: _Raw) -> When | None:
        if raw.get("at") is None:
            self._fault("at", say('When it happened is missing. Write it like "2025-01-11'
                                  ' 07:30".'))
            return None
        try:
            when = parse_when(raw["at"], self._book.zone)
        except KeeperError as problem:
            self._fault("at", problem.said)
            raw["at"] = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)  # lets the rest be checked
            return None
        raw["at"] = when.at
        raw.setdefault("at_error_h", when.error_h)
        if when.remark:
            self._remark("at", when.remark)
        return when

    def _amounts(self, raw: _Raw) -> None:
        """Turns amounts in words, containers and volumes of ``raw`` into masses."""
        if raw["kind"] in ("feed", "bedding"):
            raw["parts"] = self._parts(raw)
        elif raw["kind"] == "water":
            self._put_mass(raw, None, "")
            for key in ("words", "container", "count"):
                raw.pop(key, None)

    def _parts(self, raw: _Raw) -> Any:
        parts = raw.get("parts")
        if parts is None:
            part = {key: raw.pop(key) for key in list(raw) if _belongs_to_part(key, raw["kind"])}
            parts = [part] if part else None
        if isinstance(parts, Mapping):
            parts = [parts]
        if not isinstance(parts, (list, tuple)) or len(parts) > MAX_PARTS:
            return parts
        return [self._part(part, index, len(parts)) for index, part in enumerate(parts)]

    def _part(self, part: Any, index: int, of: int) -> Any:
        if not isinstance(part, Mapping):
            return part
        label = "" if of == 1 else f"part {index + 1} "
        full = Part.with_full_names(_without_blanks(part))
        name = full.get("material")
        material = self._book.farm.material(name) if isinstance(name, str) else None
        if isinstance(name, str):
            full["material"] = material or _STAND_IN  # lets the rest be checked
            self._put_mass(full, full["material"], label)
        if isinstance(full.get("count"), str):
            full["count"] = self._count(full["count"], label)
        if isinstance(full.get("container"), str):
            full["container"] = container_id(full["container"], self._book.farm)
        if material is None and isinstance(name, str):
            words = {**feedstock_names(), **{plain_name(i.name): i.material
                                             for i in self._book.farm.store if i.name}}
            what = say("feed or bedding")
            self._fault(f"{label}material", unknown_material(name, words, what))
        return full

    def _count(self, text: str, label: str) -> object:
        try:
            return read_count(text)[0]
        except KeeperError as problem:
            self._fault(f"{label}count", problem.said)
            return 1.0

    def _put_mass(self, raw: _Raw, material: str | None, label: str) -> None:
        text = raw.pop("amount", None)
        mass = raw.get("mass_kg")
        if text is None and isinstance(mass, str) and not _is_plain(mass):
            text = raw.pop("mass_kg")  # "3 qt" or "about 2 kg" in the column for kilograms
        if text is not None:
            raw.setdefault("words", str(text))
        if raw.get("mass_kg") is not None:
            return
        try:
            found = self._measured(raw, text, material)
        except KeeperError as problem:
            self._fault(f"{label}amount", problem.said)
            raw["mass_kg"] = 0.0  # lets the rest be checked
            return
        if found is not None:
            self._take(raw, found)

    def _measured(self, raw: _Raw, text: object, material: str | None) -> Amount | None:
        farm = self._book.farm
        if text is not None:
            return weigh(str(text), material, farm, self._book.fillings)
        if raw.get("container") is None:
            return None
        count, loose = read_count(str(raw.get("count", 1)))
        found = fill(str(raw["container"]), count, material, farm, self._book.fillings)
        error = (found.mass_error_frac**2 + loose**2) ** 0.5
        return Amount(found.mass_kg, error, found.container, found.count)

    def _take(self, raw: _Raw, found: Amount) -> None:
        raw["mass_kg"] = found.mass_kg
        raw.setdefault("mass_error_frac", found.mass_error_frac)
        if found.container is not None:
            raw["container"], raw["count"] = found.container, found.count

    def _zones(self, raw: _Raw, bed: Bed) -> None:
        """Zone names become ids; a zone that is not in the bed is said."""
        if raw.get("zone") is not None:
            raw["zone"] = self._zone_id(raw, "zone", bed)
        target = bed
        if raw.get("to_bed") is not None:
            other = self._book.bed_called(raw["to_bed"])
            if other is None:
                self._fault("to_bed", say("The farm file has no bed {raw}.",
                                          raw=repr(str(raw['to_bed'])[:40])))
                return
            target, raw["to_bed"] = other, other.id
        for field in ("to_zone", "side"):
            if raw.get(field) is not None:
                raw[field] = self._zone_id(raw, field, target)
        order = raw.get("order")
        if isinstance(order, str):
            raw["order"] = order = order.replace(",", " ").split()
        if isinstance(order, (list, tuple)):
            known = {zone.id for zone in bed.zones}
            unknown = [str(item)[:40] for item in order if str(item).lower() not in known]
            if unknown:
                self._fault("order", say("{id} has no tray called {unknown}.", id=bed.id,
                                         unknown=", ".join(unknown)))

    def _zone_id(self, raw: _Raw, field: str, bed: Bed) -> str | None:
        name = str(raw[field])
        found = bed.zone_called(name)
        if found is not None:
            return found
        known = list(dict.fromkeys([*bed.side_names, *(zone.id for zone in bed.zones)]))
        near = nearest(name, tuple(known))
        hint = (
            say(' Did you mean "{near}"?', near=near) if near
            else say(" It has: {known}.", known=", ".join(known[:12]))
        )  # fmt: skip
        sentence = say("Bed {id} has no zone {name} in the farm file.{hint}", id=bed.id,
                       name=repr(name[:40]), hint=hint)
        if field == "zone" and raw["kind"] not in ("move", "harvest", "core"):
            counted = say("The entry was counted for the whole bed.")
            self._remark(field, sentences(sentence, counted))
        else:
            self._fault(field, sentence)
        return None

    def _validated(self, raw: _Raw, record: type[Entry]) -> AnyEntry | None:
        try:
            return record.model_validate(raw)  # type: ignore[return-value]
        except ValidationError as problem:
            said = {fault.path for fault in self._faults}
            parts = raw.get("parts")
            one_part = isinstance(parts, list) and len(parts) == 1
            for fault in faults_of(problem, raw, record):
                field = fault.path.split(".")[-1] if one_part else fault.path
                path = self._path(field)
                if path not in said and not self._explained(field):
                    self._faults.append(Fault(path, fault.sentence))
            return None

    def _explained(self, field: str) -> bool:
        """Whether another sentence already says what is wrong with ``field``."""
        said = {fault.path.split()[-1] for fault in self._faults if fault.path}
        return field.split(".")[-1] in said

    def _check_time(self, entry: AnyEntry, bed: Bed) -> None:
        slack = dt.timedelta(hours=entry.at_error_h)
        start = dt.datetime(bed.started.year, bed.started.month, bed.started.day, tzinfo=dt.UTC)
        day = entry.at.astimezone(self._book.zone).date().isoformat()
        if entry.at + slack < start - dt.timedelta(hours=_BEFORE_START_H):
            self._fault("at", say("{day} is before bed {id} was started ({isoformat} in the"
                                  " farm file).", day=day, id=bed.id,
                                  isoformat=bed.started.isoformat()))
        if bed.ended is not None and entry.at - slack > _end_of(bed.ended):
            self._fault("at", say("{day} is after bed {id} was taken down ({isoformat} in the"
                                  " farm file).", day=day, id=bed.id,
                                  isoformat=bed.ended.isoformat()))
        now = self._book.now
        if now is not None and entry.at - slack > now + dt.timedelta(hours=_FUTURE_H):
            self._fault("at", say("{day} is still to come. Check the year; the entry will be"
                                  " used when its day has come.", day=day))


    def _check_bed(self, entry: AnyEntry, bed: Bed) -> None:
        """What the farm file says otherwise than the entry."""
        if isinstance(entry, CoverChange) and entry.state == "on" and entry.material is None:
            if bed.cover is None:
                self._fault("material", say("Bed {id} has no cover in the farm file. Say what"
                                            " was put on: material and thickness.", id=bed.id))
        elif isinstance(entry, MatChange) and bed.heat_mat is None:
            self._fault("kind", say("Bed {id} has no heat mat in the farm file. Add heat_mat"
                                    " there first.", id=bed.id))
        elif isinstance(entry, Move) and entry.order:
            missing = [zone.id for zone in bed.zones if zone.id not in entry.order]
            if missing:
                self._fault("order", say("The new order leaves out {missing}. Name all trays,"
                                         " top to bottom.", missing=", ".join(missing)))
        elif isinstance(entry, _AT_A_DEPTH) and entry.depth_m > bed.depth_m:
            self._remark("depth_m", say("{depth_m} m is deeper than bed {id} ({depth_m_2} m)."
                                        " It was taken as its bottom.",
                                        depth_m=f"{entry.depth_m:.3g}", id=bed.id,
                                        depth_m_2=f"{bed.depth_m:.3g}"))


def _with_later_trays(entry: AnyEntry, bed: Bed) -> AnyEntry:
    """An order of trays with those that came to the stack after it, which lay on top."""
    if not isinstance(entry, Move) or not entry.order:
        return entry
    later = tuple(zone.id for zone in bed.zones if zone.id not in entry.order
                  and zone.added is not None and entry.at < _end_of(zone.added))  # fmt: skip
    return entry.model_copy(update={"order": (*later, *entry.order)}) if later else entry


def _end_of(day: dt.date) -> dt.datetime:
    """When ``day`` is over wherever on earth."""
    return dt.datetime(day.year, day.month, day.day, tzinfo=dt.UTC) + dt.timedelta(days=1, hours=12)


def _belongs_to_part(key: str, kind: str) -> bool:
    """Whether ``key`` of a one-line feed or bedding speaks of its material."""
    if key in ENTRY_KINDS[kind].model_fields:
        return False
    return key == "amount" or next(iter(Part.with_full_names({key: None}))) in Part.model_fields


def automatic_id(raw: Mapping[str, Any]) -> str:
    """An id for an entry written without one: the same text always gets the same id."""
    text = json.dumps(raw, sort_keys=True, default=str, ensure_ascii=False)
    digest = hashlib.blake2b(text.encode("utf-8", "replace"), digest_size=8).hexdigest()
    return f"auto-{digest}"


def content_key(entry: Entry) -> bytes:
    """What makes two entries say the same thing, whatever their ids."""
    text = entry.model_dump_json(exclude={"id"})
    return hashlib.blake2b(text.encode("utf-8"), digest_size=12).digest()


def _without_blanks(raw: Mapping[str, Any]) -> _Raw:
    kept = {}
    for key, value in raw.items():
        if value is None or (isinstance(value, str) and not value.strip()):
            continue
        kept[str(key).strip()] = value
    return kept


def _is_plain(text: str) -> bool:
    try:
        float(text.replace(",", "."))
    except ValueError:
        return False
    return True

