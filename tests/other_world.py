"""Worlds whose truth is another model than the one that learns.

The truth of the invented farm (``tools/demo_world/truth.py``): Haug's kinetics, half as many
cells again, a room with two time constants, sun through its door, readings by a hand and
thermometers with faults of their own. Heat flows in three dimensions, and sun falls on one wall
(``tests/solid_bed.py``).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np

from bedlore.bed.engine import Run
from bedlore.bed.outputs import OUTPUT_NAMES
from bedlore.farm import log
from tests.solid_bed import SolidBed
from tests.twin_world import AHEAD_D, SITE, Cores, World, make_world
from tools.demo_world import readings
from tools.demo_world.truth import TruePlace

PROBE = OUTPUT_NAMES.index("temp_probe_c")


def make_other_world(seed: int, *, days: int = 120, per_fortnight: int = 20,
                     cores: int = 15) -> World:  # fmt: skip
    """The bed, keeper and weather of ``make_world``, lived through by the other model."""
    world = make_world(seed, days=days, per_fortnight=per_fortnight, cores=Cores(cores))
    rng = np.random.default_rng([seed, 77])
    bed = SolidBed(world.bed, TruePlace.of(SITE, world.weather))
    for entry in world.entries:
        if entry.kind in ("feed", "water") and entry.at < world.weather.end:
            bed.note(entry)
    read = {}
    for entry in sorted(world.entries, key=lambda e: e.at):
        if entry.kind not in ("feed", "water"):
            bed.advance(entry.at)
            read[entry.id] = _read(bed, entry, rng)
    entries = tuple(read.get(entry.id, entry) for entry in world.entries)
    bed.advance(world.now)
    state = bed.state
    values = np.zeros((1, AHEAD_D * 24, len(world.bed.zones), len(OUTPUT_NAMES)))
    for hour in range(AHEAD_D * 24):
        bed.advance(world.now + dt.timedelta(hours=hour + 1))
        for z in range(values.shape[2]):
            values[0, hour, z, PROBE] = bed.output("temp_probe_c", z)
    truth = Run(values, 1, np.zeros((1, values.shape[2], 1)), bed.state)
    return replace(world, entries=entries, truth=truth, truth_params=None, truth_state=state)


def _read(bed: SolidBed, entry: log.AnyEntry, rng: np.random.Generator) -> log.AnyEntry:
    """The entry with what the keeper reads off the true bed."""
    zone = bed.position[str(entry.zone)]
    match entry.kind:
        case "probe" if entry.device == "air":
            given: dict[str, object] = {"temp_c": round(bed.air_c() * 2) / 2}
        case "probe":
            told = readings.probe(bed, zone, readings.DIAL, rng)
            given = {"temp_c": float(told["temp_c"]), "depth_m": 0.1, "error_k": 1.0}
        case "squeeze":
            given = {"word": readings.squeeze(bed, zone, rng)["word"]}
        case "look":
            given = {"food_left": readings.look(bed, zone, rng)["food_left"]}
        case _:
            counted = readings.core(bed, zone, entry.volume_l, rng)
            given = {name: int(counted[name]) for name in ("adults", "juveniles", "hatchlings")}
    return entry.model_copy(update=given)
