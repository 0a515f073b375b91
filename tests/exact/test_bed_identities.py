"""Small exact sums on whole beds: two linked zones, the shed, evaporation, hatching."""

from __future__ import annotations

import numpy as np
import pytest

from bedlore import lab
from bedlore.bed.loop import new_work, one_of_cells, one_of_zones
from bedlore.bed.matter import describe, heat_content
from bedlore.bed.plan import in_order, set_mat
from bedlore.facts.parameters import defaults
from bedlore.facts.psychrometrics import heat_of_evaporation_j_kg, vapour_density_kg_m3
from bedlore.lab.bench import NO_DECAY, NO_FLOW, Surrounds, add_castings, column_geometry, fill

INSULATING = 1e9


def test_v6_two_linked_zones() -> None:
    """UA 1 W/K each, link 0.5 W/K, 10 W in A: TA 7.5, TB 2.5 K (physics fact book s.9, V6).

    The zones conduct so well that they are lumps; all loss is through
    the base, the heat is that of a mat.
    """
    area, depth, gap = 0.5, 0.2, 1.0
    scale = 1e5  # conductivity
    params = defaults({**NO_DECAY, **NO_FLOW, "conductivity_scale": scale, "film_r_scale": 1e-9})
    theta = 0.23 * 0.75 / 0.25
    k = scale * (0.06 + 0.50 * theta / 0.7)
    geometry = column_geometry(
        area, 2, lid_leak=np.zeros(2), open_leak=0.0, base_r=np.full(2, area / 1.0),
        lid_r=np.full(2, INSULATING), link_width_m=np.array([0.5 * gap / (k * depth)]),
        link_gap_m=np.array([gap]), mat_w=np.array([10.0, 0.0]),
    )  # fmt: skip
    rows = [add_castings(z, area * depth, 0.75) for z in (0, 1)]
    bench = fill(geometry, params, in_order([*rows, set_mat(0, 0, True, 1e6)]), 8, 0.0)
    hours = 2000
    air = Surrounds(np.zeros(hours), np.ones(hours))
    for _ in bench.hours(air):
        pass
    warm, cool = bench.state.cells.temp_c[0].mean(axis=1)
    assert warm == pytest.approx(7.5, rel=0.001)
    assert cool == pytest.approx(2.5, rel=0.001)


@pytest.mark.parametrize(
    ("tau_h", "gain", "lag_h"), [(6, 0.537, 3.84), (12, 0.303, 4.82), (24, 0.157, 5.40),
                                 (48, 0.079, 5.70)],
)  # fmt: skip
def test_v7_shed_through_the_day(tau_h: float, gain: float, lag_h: float) -> None:
    """1/sqrt(1 + (w tau)^2) and atan(w tau)/w; physics fact book s.5 and s.9, V7: 1 %."""
    hours = np.arange(24 * 40)
    turn = 2 * np.pi / 24
    run = lab.shed(np.sin(turn * hours), tau_h)
    last = slice(-240, None)
    both = 2 * np.mean(run.temp_c[last] * np.exp(-1j * turn * hours[last]))
    assert abs(both) == pytest.approx(gain, rel=0.01)
    assert (-np.angle(both) - np.pi / 2) / turn == pytest.approx(lag_h, rel=0.01)


def test_shed_stands_over_outdoors_by_its_offset() -> None:
    run = lab.shed(3.0, 24.0, offset_k=6.0, hours=24 * 10, start_c=0.0)
    assert run.temp_c[-1] == pytest.approx(9.0, abs=0.01)
    assert run.temp_c[24] == pytest.approx(9.0 * (1 - np.exp(-1)), rel=1e-6)


def test_evaporation_of_a_wet_surface() -> None:
    """``(rho_surface - rho_air) h / (rho c)`` with the Lewis relation, by hand at the surface's
    own temperature; 0 degC and 80 %: 5 to 6 W on 0.72 m2 (physics fact book s.11)."""
    run = lab.dry(0.2, 0.75, 1, air_c=0.0, rh_frac=0.8, area_m2=0.72, start_c=1.5)
    surface = run.surface_c[12]
    drop = vapour_density_kg_m3(surface, 1.0) - vapour_density_kg_m3(0.0, 0.8)
    by_hand = 0.72 * 4.0 / (1.29 * 1005.0) * drop * heat_of_evaporation_j_kg(surface)
    assert run.latent_w[12] == pytest.approx(by_hand, rel=0.02)
    assert 4.0 < run.latent_w[12] < 7.0


def test_a_dry_cover_holds_vapour_back() -> None:
    """0.05 m more of 2.2e-5 x 0.9 x 0.66 m2/s: an eighth of the evaporation (s.3: 6.4 to 0.9 W,
    the cover also warms the surface)."""
    bare, covered = (
        lab.dry(0.2, 0.75, 2, air_c=5.0, rh_frac=0.7, cover_m=cover, params={
            "cover_keeps_vapour": 1e-9})
        for cover in (0.0, 0.05)
    )  # fmt: skip
    film, cover = 1.29 * 1005.0 / 4.0, 0.05 / (2.2e-5 * 0.9 * 0.66)
    share = covered.latent_w[1] / bare.latent_w[1]
    assert share == pytest.approx(film / (film + cover), rel=0.35)


def test_drained_column_keeps_its_water() -> None:
    """Nothing appears or vanishes, and the lowest centimetres stay wettest."""
    run = lab.drain(0.2, 0.85, 96, water_kg=3.0)
    total = run.water_kg.sum(axis=1) + run.drained_kg
    assert total[1:] == pytest.approx(total[0] + 3.0, rel=1e-12)
    assert run.moisture_frac[-1, -1] == run.moisture_frac[-1].max()
    assert run.drained_kg[-1] - run.drained_kg[-13] < 0.01 * run.drained_kg[-1]
    held = lab.drain(0.2, 0.85, 96, water_kg=3.0, liner=True)
    assert held.drained_kg[-1] == 0.0
    assert held.water_kg[-1].sum() == pytest.approx(total[1], rel=1e-12)


def test_hatching_at_25_degrees() -> None:
    """Venter & Reinecke 1988: 23 d on average, 14 to 44 (n 410), 73 % hatch, 2.7 from each."""
    run = lab.hatch(25.0)
    assert run.mean_d == pytest.approx(23.0, rel=0.05)
    assert run.first_d > 12.0
    assert run.last_d < 44.0
    assert run.hatched_frac[-1] == pytest.approx(0.73, abs=0.07)
    assert run.hatchlings_per_cocoon == pytest.approx(0.73 * 2.7, rel=0.15)


def test_hatching_never_divides_by_the_cold() -> None:
    run = lab.hatch(6.0, days=200)
    assert run.hatched_frac[-1] == 0.0
    assert run.waiting_frac[-1] > 0.5
    alternating = lab.hatch([6.0, 22.0] * 100)
    assert alternating.mean_d == pytest.approx(2 * 430 / 15.5, rel=0.05)  # half the warmth


@pytest.mark.parametrize("moisture", [0.75, 0.80])
def test_v14_conduction_and_capacity_of_the_bed(moisture: float) -> None:
    """Ahn, Sauer, Richard & Glanville 2009: 0.12-0.81 W/m K and 1.36-4.08 MJ/m3 K."""
    k, capacity = _bed_material(moisture)
    assert 0.12 <= k <= 0.81
    assert 1.36e6 <= capacity <= 4.08e6


@pytest.mark.parametrize("moisture", [0.20, 0.35, 0.50, 0.65, 0.75, 0.82])
def test_v18_diffusivity_of_the_bed(moisture: float) -> None:
    """Manure, 20-82 % moisture: 0.904 to 2.11 and 1.13 to 2.94 e-7 m2/s (two studies, s.1)."""
    k, capacity = _bed_material(moisture)
    assert 0.9e-7 <= k / capacity <= 2.94e-7


def _bed_material(moisture: float) -> tuple[float, float]:
    """Conductivity and heat capacity of castings in the model, by volume."""
    bench = fill(
        column_geometry(1.0), defaults({**NO_DECAY, **NO_FLOW}),
        in_order([add_castings(0, 0.2, moisture)]), 4, 10.0,
    )  # fmt: skip
    work = new_work(1, 4)
    describe(bench.params[0], bench.geometry, one_of_cells(bench.state.cells, 0),
             one_of_zones(bench.state.zones, 0), work)  # fmt: skip
    volume = work.thickness_m[0, 0]
    water = bench.state.cells.water_kg[0, 0, 0]
    joules = heat_content(1.0, work.dry_kg[0, 0], water, 0.6)
    return float(work.conductivity_w_mk[0, 0]), float(joules / volume)
