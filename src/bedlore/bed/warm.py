"""Compile the loop once for all processes that share it: ``python -m bedlore.bed.warm``."""

from __future__ import annotations

import numpy as np

from bedlore.bed.build import bed_geometry, cell_count
from bedlore.bed.cells import Air
from bedlore.bed.engine import empty_state, simulate
from bedlore.bed.plan import in_order
from bedlore.facts.parameters import defaults
from bedlore.farm.bed import Bed


def compile_loop() -> None:
    """Run an empty bed for an hour: compiles the loop, or loads it where it is compiled."""
    size = {"length_m": 1.0, "width_m": 0.5, "depth_m": 0.3}
    bed = Bed.model_validate({"id": "warm", "started": "2024-01-01", **size})
    air = Air(*(np.full((1, 1), value) for value in (10.0, 10.0, 0.008, 10.0)))
    state = empty_state(1, len(bed.zones), cell_count(bed))
    simulate(bed_geometry(bed), defaults(), state, air, in_order([]), threads=1)


if __name__ == "__main__":
    compile_loop()
