"""What the pages, the terminal and the sheets show of a bed: plain numbers, ready to store."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from bedlore.bed.build import layers_r
from bedlore.bed.cells import Air, Floats
from bedlore.bed.loop import new_work
from bedlore.bed.matter import describe
from bedlore.bed.outputs import DEPTH, OUTPUT_NAMES
from bedlore.farm.log import AnyEntry, Probe
from bedlore.outlook.ahead import HALF_DAY_H, QUANTILES, Ahead, cells_ahead
from bedlore.outlook.ranked import quantiles
from bedlore.outlook.twin import Twin
from bedlore.say import Words

WHOLE_BED = "bed"
BEHIND_D = 14  # days before now that the twin's own band is shown for
_SHOWN = (
    "temp_probe_c", "temp_coldest_c", "temp_warmest_c", "temp_mean_c", "moisture_frac",
    "food_left_kg", "ammonia_mg_g", "sour_index", "adults_n", "juveniles_n", "hatchlings_n",
    "cocoons_n", "worms_kg",
)  # fmt: skip
# How a figure of the zones becomes one of the bed.
TOGETHER: dict[str, Callable[..., Floats]] = {
    "temp_coldest_c": np.nanmin, "temp_warmest_c": np.nanmax, "temp_probe_c": np.nanmean,
    "temp_mean_c": np.nanmean, "moisture_frac": np.nanmean, "ammonia_mg_g": np.nanmax,
    "sour_index": np.nanmax,
}  # fmt: skip


@dataclass(frozen=True)
class CellView:
    """One cell now: median over the members; ``temp_low_c`` and ``temp_high_c`` are 5 and 95 %."""

    thickness_m: float
    temp_c: float
    temp_low_c: float
    temp_high_c: float
    moisture_frac: float
    worms_share: float


@dataclass(frozen=True)
class ZoneView:
    """A zone as it lies in the bed, cells from the top down."""

    zone_id: str
    name: Words
    side: str
    length_m: float
    active: bool
    cover_m: float
    cells: tuple[CellView, ...]
    worms_kg: tuple[float, float, float]
    food_left_kg: tuple[float, float, float]


@dataclass(frozen=True)
class Section:
    """A bed in cross-section, to scale."""

    bed_id: str
    kind: str
    length_m: float
    width_m: float
    depth_m: float
    wall_m: float
    floor_m: float
    lid_m: float
    gravel_m: float
    stand: str
    wall_r_m2kw: float
    zones: tuple[ZoneView, ...]


@dataclass(frozen=True)
class OutlookView:
    """Quantiles of the coming days: ``zones[zone][name]`` is a list over windows for each of
    ``quantiles``; the zone ``bed`` holds the bed as a whole."""

    bed_id: str
    start: dt.datetime
    every_h: int
    quantiles: tuple[float, ...]
    zones: dict[str, dict[str, list[list[float]]]]

    def series(self, name: str, zone: str = WHOLE_BED) -> list[list[float]]:
        """One list a quantile."""
        return self.zones[zone][name]


@dataclass(frozen=True)
class CellsView:
    """The coming days cell by cell: ``temp_c[zone][step][cell]`` at the end of each step of
    ``every_h`` hours from ``start``, median over the members, cells from the top down."""

    start: dt.datetime
    every_h: int
    temp_c: dict[str, list[list[float]]]


@dataclass(frozen=True)
class ReadingView:
    """A thermometer reading of the last weeks, with its standard error."""

    at: dt.datetime
    zone_id: str
    temp_c: float
    error_k: float
    depth_m: float
    device: str


def _band(values: Floats) -> tuple[float, float, float]:
    low, middle, high = np.quantile(values, (0.05, 0.5, 0.95))
    return round(float(low), 4), round(float(middle), 4), round(float(high), 4)


def section_of(twin: Twin) -> Section:
    """Cross-section of a twin now."""
    bed = twin.bed
    by_id = {zone.id: zone for zone in bed.zones}
    thickness, moisture = _cell_properties(twin)
    zones = []
    for i, zone_id in enumerate(twin.zone_ids):
        zone = by_id[zone_id]
        herd = twin.state.herd
        worms = herd.adult_kg[:, i] + herd.juvenile_kg[:, i] + herd.hatchling_kg[:, i]
        food = 11.1 * twin.state.cells.carbon_kg[:, i, :, :2].sum(axis=(1, 2))
        zones.append(
            ZoneView(
                zone_id=zone_id, name=zone.called, side=zone.side,
                length_m=bed.length_m if bed.kind == "stack" else (zone.length_m or bed.length_m),
                active=bool(twin.state.zones.active[:, i].mean() > 0.5),
                cover_m=float(np.median(twin.state.zones.cover_m[:, i])),
                cells=_cells(twin, i, thickness, moisture),
                worms_kg=_band(worms), food_left_kg=_band(food),
            )
        )  # fmt: skip
    return Section(
        bed_id=bed.id, kind=bed.kind, length_m=bed.length_m, width_m=bed.width_m,
        depth_m=bed.depth_m, wall_m=sum(layer.thickness_m for layer in bed.walls),
        floor_m=sum(layer.thickness_m for layer in bed.floor),
        lid_m=sum(layer.thickness_m for layer in bed.lid),
        gravel_m=bed.drainage.thickness_m, stand=bed.stand, wall_r_m2kw=layers_r(bed.walls),
        zones=tuple(zones),
    )  # fmt: skip


def _cell_properties(twin: Twin) -> tuple[Floats, Floats]:
    """Thickness [m] and moisture of every cell ``[M, Z, C]``, from the model's own functions."""
    from bedlore.bed.loop import one_of_cells, one_of_zones

    state = twin.state
    shape = state.cells.temp_c.shape
    thickness, moisture = np.zeros(shape), np.zeros(shape)
    work = new_work(shape[1], shape[2])
    for m in range(0, shape[0], max(1, shape[0] // 20)):
        describe(
            twin.params[m], twin.geometry, one_of_cells(state.cells, m),
            one_of_zones(state.zones, m), work,
        )  # fmt: skip
        thickness[m], moisture[m] = work.thickness_m, work.moisture_frac
    looked_at = slice(0, shape[0], max(1, shape[0] // 20))
    return thickness[looked_at], moisture[looked_at]


def _cells(twin: Twin, zone: int, thickness: Floats, moisture: Floats) -> tuple[CellView, ...]:
    temp = np.quantile(twin.state.cells.temp_c[:, zone], (0.05, 0.5, 0.95), axis=0)
    return tuple(
        CellView(
            thickness_m=round(float(np.median(thickness[:, zone, c])), 5),
            temp_c=round(float(temp[1, c]), 3), temp_low_c=round(float(temp[0, c]), 3),
            temp_high_c=round(float(temp[2, c]), 3),
            moisture_frac=round(float(np.median(moisture[:, zone, c])), 4),
            worms_share=round(float(twin.state.herd.where[:, zone, c].mean()), 4),
        )
        for c in range(temp.shape[1])
    )  # fmt: skip


def outlook_of(ahead: Ahead, bed_id: str) -> OutlookView:
    """Quantiles of an outlook by zone and for the bed as a whole."""
    zones: dict[str, dict[str, list[list[float]]]] = {WHOLE_BED: {}}
    # Zones foremost: sums over a few zones of many hours are quick that way round.
    by_zone = np.moveaxis(ahead.run.values, 2, 0)
    holding = by_zone[..., DEPTH] > 0.0  # zones that hold nothing do not count
    for name in _SHOWN:
        values = np.ascontiguousarray(by_zone[..., OUTPUT_NAMES.index(name)])
        together = TOGETHER.get(name, np.nansum)
        whole = together(np.where(holding, values, np.nan), axis=0)
        zones[WHOLE_BED][name] = _quantile_lists(whole)
        for zone_id, mine in zip(ahead.zone_ids, values, strict=True):
            zones.setdefault(zone_id, {})[name] = _quantile_lists(mine)
    return OutlookView(bed_id, ahead.start, ahead.run.every, QUANTILES, zones)


def behind_of(twin: Twin) -> OutlookView | None:
    """What the twin says of the last days at the thermometer, once a day; None for a bed younger
    than a day. Each step ends a whole number of days before the next."""
    days = int((twin.now - twin.recent_start) / dt.timedelta(days=1))
    count = min(days, BEHIND_D, twin.recent.values.shape[1])
    if count < 1:
        return None
    told = twin.doubt.dressed(twin.recent).series("temp_probe_c")[:, -count:]
    holding = twin.recent.series("depth_m")[:, -count:] > 0.0
    whole = np.nanmean(np.where(holding, told, np.nan), axis=-1)
    zones = {WHOLE_BED: {"temp_probe_c": _quantile_lists(whole)}}
    for i, zone_id in enumerate(twin.zone_ids):
        zones[zone_id] = {"temp_probe_c": _quantile_lists(told[..., i])}
    end = twin.recent_start + dt.timedelta(days=days)
    return OutlookView(twin.bed.id, end - dt.timedelta(days=count), 24, QUANTILES, zones)


def cells_of(twin: Twin, air: Air, ahead: Ahead) -> CellsView:
    """The temperature of every cell in the coming days of an untouched bed."""
    temp_c = np.round(cells_ahead(twin, air, ahead), 1)
    zones = {zone_id: temp_c[:, i].tolist() for i, zone_id in enumerate(twin.zone_ids)}
    return CellsView(ahead.start, HALF_DAY_H, zones)


def _quantile_lists(values: Floats) -> list[list[float]]:
    return np.round(quantiles(values, QUANTILES), 4).tolist()  # type: ignore[no-any-return]


def readings_of(
    entries: Sequence[AnyEntry], bed_id: str, since: dt.datetime
) -> tuple[ReadingView, ...]:
    """Thermometer readings of a bed from ``since`` on."""
    return tuple(
        ReadingView(e.at, e.zone or WHOLE_BED, e.temp_c, e.error_k, e.depth_m, e.device)
        for e in entries
        if isinstance(e, Probe) and e.bed == bed_id and e.at >= since
    )
