"""From the keeper's log to acts of the model, each with how sure its amount is."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np

from bedlore.bed import plan
from bedlore.bed.acts import ADD, HARVEST, IS_FEED, KIND, STOCK, TAKE, WORMS_KG
from bedlore.bed.cells import Floats
from bedlore.facts.building import MATERIALS
from bedlore.facts.feedstocks import Feedstock, load
from bedlore.farm import log
from bedlore.farm.bed import Bed, Zone
from bedlore.farm.log import AnyEntry

COVER_W_MK = 0.05  # the dry cover that a cover's thickness is expressed in
INSULATION_W_MK = 0.045  # below this a cover is insulation that does not get wet
UNKNOWN_DEPTH_SHARE = 0.5  # a bed described without bedding is taken as half full of leaf mould


@dataclass
class History:
    """Acts ``[A, ACT_SIZE]`` by hour with the relative error and a seed for each amount.

    ``order`` is the zone (index in the farm file) at each position of the bed from ``hour`` on;
    only a stack's trays ever change places. ``fed`` lists what each feed put where.
    """

    rows: list[Floats] = field(default_factory=list)
    errors: list[float] = field(default_factory=list)
    keys: list[str] = field(default_factory=list)
    position: dict[str, int] = field(default_factory=dict)
    fed_side: str = ""
    notes: list[str] = field(default_factory=list)

    def add(self, row: Floats, error: float, key: str) -> None:
        """Append an act whose amount is known to ``error`` (sd of its logarithm)."""
        self.rows.append(row)
        self.errors.append(error)
        self.keys.append(key)

    def table(self) -> Floats:
        """All acts by hour."""
        return plan.in_order(self.rows)

    def factors(self, params: np.ndarray) -> Floats:
        """Each member's factor ``[M, A]`` on each act, in the order of :meth:`table`.

        A member's scoops (``feed_mass_scale``) go with every feed, its herd scale with every
        stocking; the rest is drawn anew for each entry from the entry's own seed, so that a new
        line in the log never changes how an old one was read.
        """
        members = len(params)
        by_hour = np.argsort([row[0] for row in self.rows], kind="stable")
        factors = np.ones((members, len(self.rows)))
        for column, index in enumerate(by_hour):
            error = self.errors[index]
            kind = self.rows[index][KIND]
            if error > 0.0:
                seed = [ord(letter) for letter in self.keys[index]]
                z = np.random.default_rng(seed).standard_normal(members)
                factors[:, column] = np.exp(error * z)
            if kind == ADD and self.rows[index][IS_FEED] > 0.0:
                factors[:, column] *= params["feed_mass_scale"]
            elif kind in (STOCK,):
                factors[:, column] *= params["herd_scale"]
            elif kind in (HARVEST, TAKE):
                factors[:, column] = np.minimum(factors[:, column], 2.0)
        return factors


def start_of(bed: Bed, time_zone: dt.tzinfo) -> dt.datetime:
    """The whole hour (UTC) at which the bed's history begins: noon of its starting day."""
    noon = dt.datetime.combine(bed.started, dt.time(12), time_zone)
    return noon.astimezone(dt.UTC).replace(minute=0, second=0, microsecond=0)


def history_of(
    bed: Bed,
    entries: Iterable[AnyEntry],
    start: dt.datetime,
    air_temp_c: Callable[[int], float],
) -> History:
    """Acts of the bed's building and of every entry of its log, hours counted from ``start``.

    ``air_temp_c(hour)`` tells how warm feed is when it comes. Entries before ``start`` are
    carried out at hour 0; entries of other beds are passed over.
    """
    history = History(position={zone.id: i for i, zone in enumerate(bed.zones)})
    mine = sorted((e for e in entries if e.bed == bed.id), key=lambda entry: entry.at)
    _lay_out(bed, history, has_mat_log=any(e.kind == "mat" for e in mine))
    for entry in mine:
        hour = max(0, int((entry.at - start).total_seconds() // 3600))
        _note_entry(bed, history, entry, hour, air_temp_c(hour))
    return history


def _lay_out(bed: Bed, history: History, *, has_mat_log: bool) -> None:
    """Bedding, worms, cover and mat as the farm file says, at hour 0."""
    table = load()
    active = [zone for zone in bed.zones if zone.active]
    history.fed_side = next((zone.side for zone in active if zone.worms_kg > 0), "")
    for zone in active:
        i = history.position[zone.id]
        area = bed.area_m2 if bed.kind == "stack" else (zone.length_m or 0.0) * bed.width_m
        parts = _bedding(zone, area, table, bed)
        history.add(plan.add_material(0, i, parts, feed=False), 0.15, f"{bed.id}.{zone.id}.bed")
        if zone.worms_kg > 0:
            row = plan.stock(0, i, zone.worms_kg)
            history.add(row, zone.worms_error_frac, f"{bed.id}.worms")
    for i in range(len(bed.zones)):
        if bed.cover is not None:
            _cover(history, 0, i, bed.cover.material, bed.cover.thickness_m, bed.id)
        if bed.heat_mat is not None:
            on = not has_mat_log
            history.add(plan.set_mat(0, i, on, bed.heat_mat.setpoint_c), 0.0, bed.id)


def _bedding(zone: Zone, area_m2: float, table, bed: Bed):  # type: ignore[no-untyped-def]
    parts: list[tuple[Feedstock, float, float | None]] = []
    for part in zone.bedding:
        stuff = table[part.material]
        if part.mass_kg is not None:
            parts.append((stuff, part.mass_kg, part.moisture_frac))
            continue
        dry_kg = (part.depth_m or 0.0) * area_m2 * stuff.bulk_density_kg_m3
        dry_kg *= 1.0 - stuff.moisture_frac
        parts.append((stuff, dry_kg / (1.0 - part.moisture_frac), part.moisture_frac))
    if not parts:
        depth = UNKNOWN_DEPTH_SHARE * (zone.depth_m or bed.depth_m)
        mould = table["bed_leaf_mold"]
        parts.append((mould, depth * area_m2 * mould.bulk_density_kg_m3, 0.70))
    return parts


def _cover(history: History, hour: int, zone: int, material: str, thickness_m: float,
           key: str) -> None:  # fmt: skip
    """Lay a cover: loose dry stuff as cover, board or film that stays dry as insulation."""
    known = MATERIALS.get(material)
    if known is not None and known.use == "wall" and known.k_w_mk < INSULATION_W_MK:
        history.add(plan.set_foam(hour, zone, 0.0, thickness_m / known.k_w_mk), 0.0, key)
        return
    k = known.k_w_mk if known is not None else COVER_W_MK
    history.add(plan.set_cover(hour, zone, thickness_m * COVER_W_MK / k), 0.0, key)


def zones_meant(bed: Bed, history: History, zone: str | None) -> list[int]:
    """Positions an entry is about: its zone or side, else the fed side, or every zone in use."""
    if zone is not None:
        return [history.position[each.id] for each in bed.zones_of(zone)]
    side = history.fed_side
    fed = [each for each in bed.zones if each.active and side in ("", each.side)]
    return [history.position[each.id] for each in (fed or bed.zones)]


def _note_entry(bed: Bed, history: History, entry: AnyEntry, hour: int, temp_c: float) -> None:
    zones = zones_meant(bed, history, entry.zone)
    every = [history.position[zone.id] for zone in bed.zones]
    share = 1.0 / max(len(zones), 1)
    match entry:
        case log.Feed() | log.Bedding():
            _note_laying(history, entry, hour, zones, share, temp_c)
        case log.Water():
            for zone in zones:
                row = plan.give_water(hour, zone, entry.mass_kg * share, temp_c)
                history.add(row, entry.mass_error_frac, entry.id)
        case log.CoverChange():
            _note_cover(bed, history, entry, hour, zones if entry.zone else every)
        case log.Harvest():
            for zone in zones[:1]:
                row = plan.harvest(
                    hour, zone, share=entry.share or 0.0, mass_kg=entry.mass_kg or 0.0,
                    worm_share=_worms_gone(entry),
                )  # fmt: skip
                history.add(row, entry.mass_error_frac if entry.mass_kg else 0.0, entry.id)
        case log.Stock():
            for zone in zones:
                row = plan.stock(hour, zone, entry.worms_kg * share)
                history.add(row, entry.worms_error_frac, entry.id)
        case log.Move():
            _note_move(history, entry, hour)
        case log.Switch():
            history.fed_side = entry.side
        case log.MatChange():
            setpoint = entry.setpoint_c
            if setpoint is None:
                setpoint = bed.heat_mat.setpoint_c if bed.heat_mat else 0.0
            for zone in every:
                history.add(plan.set_mat(hour, zone, entry.state == "on", setpoint), 0.0, entry.id)
        case _:
            pass  # readings and notes change nothing in the bed


def _worms_gone(entry: log.Harvest) -> float:
    """Share of the zone's worms that went with the castings: as written, or with its share."""
    if entry.worms_left_share is not None:
        return entry.worms_left_share
    return 0.5 * (entry.share or 0.5)


def _note_laying(history: History, entry: log.Feed | log.Bedding, hour: int, zones: list[int],
                 share: float, temp_c: float) -> None:  # fmt: skip
    table = load()
    parts = [(table[part.material], part.mass_kg * share, None) for part in entry.parts]
    total = sum(part.mass_kg for part in entry.parts)
    error = sum(part.mass_kg * part.mass_error_frac for part in entry.parts) / max(total, 1e-9)
    feed = isinstance(entry, log.Feed)
    lump = isinstance(entry, log.Feed) and entry.place == "lump"
    for zone in zones:
        row = plan.add_material(hour, zone, parts, temp_c=temp_c, feed=feed, lump=lump)
        history.add(row, error, entry.id)


def _note_cover(bed: Bed, history: History, entry: log.CoverChange, hour: int,
                zones: list[int]) -> None:  # fmt: skip
    for zone in zones:
        if entry.lid is not None:
            history.add(plan.set_lid(hour, zone, entry.lid == "on"), 0.0, entry.id)
        if entry.state == "off":
            history.add(plan.set_cover(hour, zone, 0.0), 0.0, entry.id)
            history.add(plan.set_foam(hour, zone, 0.0, 0.0), 0.0, entry.id)
        elif entry.state == "on":
            material = entry.material or (bed.cover.material if bed.cover else "shredded_paper")
            thickness = entry.thickness_m or (bed.cover.thickness_m if bed.cover else 0.03)
            _cover(history, hour, zone, material, thickness, entry.id)


def _note_move(history: History, entry: log.Move, hour: int) -> None:
    """Carry worms, or put a stack's trays in the order named (a row of exchanges)."""
    if entry.order:
        for target, zone_id in enumerate(entry.order):
            now = history.position.get(zone_id)
            if now is None or now == target:
                continue
            other = next(name for name, at in history.position.items() if at == target)
            history.add(plan.swap_trays(hour, target, now), 0.0, entry.id)
            history.position[zone_id], history.position[other] = target, now
        return
    if entry.to_bed not in (None, entry.bed):
        row = plan.take_worms(hour, history.position.get(entry.zone or "", 0), entry.share or 0.0)
        row[WORMS_KG] = entry.worms_kg or 0.0
        history.add(row, 0.1, entry.id)
        return
    a, b = (history.position.get(name or "") for name in (entry.zone, entry.to_zone))
    if a is None or b is None:
        return
    row = plan.carry_worms(hour, a, b, share=entry.share or 0.0, worms_kg=entry.worms_kg or 0.0)
    history.add(row, 0.1, entry.id)
