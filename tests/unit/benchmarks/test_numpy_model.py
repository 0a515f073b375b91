"""The rival in NumPy solves the equations of the loop, else their ratio would say nothing."""

from __future__ import annotations

import numpy as np

from bedlore.bed.cells import Air
from bedlore.bed.loop import run_compiled
from benchmarks.numpy_model import VectorBed
from benchmarks.standard_bed import run_case, standard_case


def test_the_rival_agrees_with_the_loop() -> None:
    case = standard_case(3, hours=25, worms=False, feed=False)
    started = run_case(standard_case(3, hours=1, worms=False, feed=False), run_compiled)[2]
    late = Air(*(array[:, 1:] for array in case.air))
    rival = VectorBed(case.geometry, case.params, started, late)
    rival.run(24)
    cells = run_case(case, run_compiled)[2].cells
    assert np.abs(rival.temp_c - cells.temp_c.reshape(-1, 12).T).max() < 1e-6
    assert np.abs(rival.water_kg - cells.water_kg.reshape(-1, 12).T).max() < 1e-6
