"""From the keeper's log to readings the smoother can use."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Literal

import numpy as np

from bedlore.bed.acts import ADD, CARBON, HOUR, IS_FEED, KIND, ZONE
from bedlore.bed.cells import FAST
from bedlore.bed.history import History, history_of, zones_meant
from bedlore.farm import log
from bedlore.farm.bed import Bed
from bedlore.farm.log import AnyEntry
from bedlore.learn.counts import (
    DEPTH_SD_M,
    WEIGHED_SD,
    Amount,
    CoreCount,
    Measured,
    WormsAtDepth,
)
from bedlore.learn.moment import STAGES
from bedlore.learn.sight import Reading
from bedlore.learn.thermometers import AirThermometer, Thermometer
from bedlore.learn.words import FoodLeft, Smell, SqueezeTest

_ROUND_STEPS_K = (2.0, 1.0, 0.5)
_ROUND_AFTER = 6  # readings of one device before its rounding is believed
_CORE_WEIGHT_ERROR = 0.7  # sd of the log of the worms' mass in a core: clumps and clinging bedding
_USUAL_FEED_KG = 0.05  # soft carbon of a small feed, when none was written down before
# Written down as a probe before air had an entry of its own.
AIR_DEVICES = {"air": "now", "air min": "min", "air max": "max", "shed": "now", "room": "now",
               "air low": "min", "air high": "max"}  # fmt: skip


def readings_of_log(bed: Bed, entries: Iterable[AnyEntry], start: dt.datetime,
                    until: dt.datetime) -> tuple[Reading, ...]:  # fmt: skip
    """Everything that can be compared with the model, from the hour after ``start`` to ``until``.

    ``entries`` may hold other beds and other kinds; they are passed over.
    """
    mine = sorted((e for e in entries if e.bed == bed.id), key=lambda entry: (entry.at, entry.id))
    whole = history_of(bed, mine, start, lambda _: 10.0)
    steps = _rounding(mine)
    found: list[Reading] = []
    movers: list[AnyEntry] = []
    now = history_of(bed, (), start, lambda _: 10.0)
    for entry in mine:
        if entry.kind in ("move", "switch"):
            movers.append(entry)
            now = history_of(bed, movers, start, lambda _: 10.0)
            continue
        hour = int((entry.at - start).total_seconds() // 3600)
        if hour < 1 or entry.at > until:
            continue
        zones = tuple(zones_meant(bed, now, entry.zone))
        if zones:
            found.extend(_readings(entry, hour, zones, whole, steps))
    return tuple(sorted(found, key=lambda reading: reading.hour))


def _readings(entry: AnyEntry, hour: int, zones: tuple[int, ...], history: History,
              steps: dict[str, float]) -> Sequence[Reading]:  # fmt: skip
    at = (entry.id, hour, zones)
    match entry:
        case log.Probe():
            device = entry.device.strip().lower()
            if device in AIR_DEVICES:
                which = AIR_DEVICES[device]
                return [AirThermometer(*at, entry.temp_c, which, "air", entry.error_k)]  # type: ignore[arg-type]
            return [Thermometer(*at, entry.temp_c, entry.depth_m, device, entry.error_k,
                                steps.get(device, 0.0), entry.at_error_h)]  # fmt: skip
        case log.AirReading():
            return _air(entry, at)
        case log.BeddingDepth():
            return [Measured(*at, entry.depth_m, DEPTH_SD_M, "depth")]
        case log.Moisture():
            return [Measured(*at, entry.water_frac, WEIGHED_SD, "moisture", entry.depth_m)]
        case log.Dig():
            return [WormsAtDepth(*at, entry.found == "yes", entry.depth_m, entry.volume_l)]
        case log.Squeeze():
            return [SqueezeTest(*at, entry.word, entry.depth_m, entry.who.strip().lower())]
        case log.Look():
            return _looks(entry, at, history)
        case log.Core():
            return _core(entry, at)
        case log.Harvest():
            return _harvest(entry, at)
        case _:
            return ()


def _air(entry: log.AirReading, at: tuple[str, int, tuple[int, ...]]) -> Sequence[Reading]:
    device = entry.device.strip().lower() or "air"
    read: dict[Literal["now", "min", "max"], float | None] = {
        "now": entry.temp_c, "min": entry.low_c, "max": entry.high_c,
    }  # fmt: skip
    return [AirThermometer(*at, temp_c, which, device, entry.error_k)
            for which, temp_c in read.items() if temp_c is not None]  # fmt: skip


def _looks(entry: log.Look, at: tuple[str, int, tuple[int, ...]],
           history: History) -> Sequence[Reading]:  # fmt: skip
    found: list[Reading] = []
    if entry.food_left is not None:
        last = _last_feed_kg(history, at[1], at[2])
        found.append(FoodLeft(*at, entry.food_left, last, entry.who.strip().lower()))
    if entry.smell is not None:
        found.append(Smell(*at, "sour", entry.smell == "sour"))
        found.append(Smell(*at, "sharp", entry.smell == "sharp"))
    return found


def _last_feed_kg(history: History, hour: int, zones: tuple[int, ...]) -> float:
    """Soft carbon [kg] of the last feed laid on any of ``zones`` before ``hour``."""
    by_hour: dict[int, float] = defaultdict(float)
    for row in history.rows:
        if row[KIND] == ADD and row[IS_FEED] > 0 and row[HOUR] < hour and int(row[ZONE]) in zones:
            by_hour[int(row[HOUR])] += float(row[CARBON + FAST])
    return max(by_hour[max(by_hour)], 1e-3) if by_hour else _USUAL_FEED_KG


def _core(entry: log.Core, at: tuple[str, int, tuple[int, ...]]) -> Sequence[Reading]:
    found: list[Reading] = []
    for stage in STAGES:
        count = getattr(entry, stage)
        if count is not None:
            found.append(CoreCount(*at, count, entry.volume_l, (stage,)))
    apart = entry.adults is not None or entry.juveniles is not None
    if entry.worms is not None and not apart:
        found.append(CoreCount(*at, entry.worms, entry.volume_l, STAGES[:3]))
    if entry.worms_kg and entry.worms is None and not apart:
        found.append(Amount(*at, entry.worms_kg, _CORE_WEIGHT_ERROR, "core_worms", entry.volume_l))
    return found


def _harvest(entry: log.Harvest, at: tuple[str, int, tuple[int, ...]]) -> Sequence[Reading]:
    found: list[Reading] = []
    if entry.mass_kg and entry.share:
        error = float(np.hypot(max(entry.mass_error_frac, 0.05), 0.2))  # shares are guessed
        found.append(Amount(*at, entry.mass_kg, error, "harvest", entry.share))
    if entry.moisture_frac is not None:
        found.append(Measured(*at, entry.moisture_frac, WEIGHED_SD, "moisture"))
    return found


def _rounding(entries: Iterable[AnyEntry]) -> dict[str, float]:
    """Step [K] that each device is read to, as its readings show; 0 when they do not."""
    values: dict[str, list[float]] = defaultdict(list)
    for entry in entries:
        if entry.kind == "probe":
            values[entry.device.strip().lower()].append(entry.temp_c)
    steps = {}
    for device, read in values.items():
        if len(read) >= _ROUND_AFTER:
            of = np.asarray(read)
            steps[device] = next(
                (s for s in _ROUND_STEPS_K if np.abs(of / s - np.round(of / s)).max() < 0.02), 0.0
            )
    return steps
