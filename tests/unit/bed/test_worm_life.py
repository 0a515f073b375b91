"""One hour of life after another in one zone: who grows, eats, lays, dies, and where they go."""

from __future__ import annotations

import numpy as np
import pytest
from numba import njit

from bedlore.bed import spread, worms
from bedlore.bed.layout import Herd, Surroundings, new_herd
from tests.unit.bed.worm_cases import DEFAULTS as P
from tests.unit.bed.worm_cases import pleasant, record, settled, worm_kg

AREA_M2 = 0.36


def live(herd: Herd, around: Surroundings, hours: int, p: object = P) -> np.ndarray:
    """Live ``hours`` in zone 0 with food kept as it is; return the flow."""
    flow, eaten_kg = np.zeros(worms.FLOW_SIZE), np.zeros(len(around.temp_c))
    for _ in range(hours):
        worms.worm_hour(p, herd, 0, around, AREA_M2, 0.0, 1.0, eaten_kg, flow)
    return flow


def test_growth_of_one_hour_by_hand() -> None:
    """1 g at 25 degC, food f: built 3 x 0.0363 f / 24, burnt 3 x 0.0271 (1 + 7 f) / 8 / 24 g."""
    herd = new_herd(1, 1)
    herd.adult_n[0], herd.adult_kg[0] = 1.0, 1e-3
    around = pleasant(1, 25.0, 0.1)
    f = 10 * 100.0 / AREA_M2 / (10 * 100.0 / AREA_M2 + 1000 * P["worm_half_food_g"])
    flow = live(herd, around, 1)
    assert flow[worms.ASSIMILATED_KG] == pytest.approx(1e-3 * 3 * 0.0363 * f / 24, rel=1e-12)
    assert flow[worms.RESPIRED_KG] == pytest.approx(
        1e-3 * 3 * 0.0271 * (0.125 + 0.875 * f) / 24, rel=1e-12
    )
    assert flow[worms.INGESTED_KG] == pytest.approx(1e-3 * 0.493 * f / 24, rel=1e-12)


def test_they_eat_where_the_food_is_and_never_more_than_there_is() -> None:
    herd, around = settled(), pleasant(food_kg=0.0)
    around.food_kg[1], around.food_kg[4] = 1e-4, 3e-4
    flow, eaten_kg = np.zeros(worms.FLOW_SIZE), np.zeros(6)
    worms.worm_hour(P, herd, 0, around, AREA_M2, 0.0, 1.0, eaten_kg, flow)
    assert eaten_kg.sum() == pytest.approx(flow[worms.INGESTED_KG], rel=1e-12)
    assert eaten_kg[4] == pytest.approx(3 * eaten_kg[1])
    assert np.all(eaten_kg <= around.food_kg)
    assert eaten_kg[[0, 2, 3, 5]].sum() == 0.0
    crowd = settled(adults=1e5)
    worms.worm_hour(P, crowd, 0, around, AREA_M2, 0.0, 1.0, eaten_kg, flow)
    assert np.all(eaten_kg <= 0.21 * around.food_kg)


def test_unfed_worms_shrink_stop_laying_and_starve() -> None:
    herd, around = settled(), pleasant(food_kg=0.0)
    herd.cocoon_n[:] = 0.0
    before = herd.adult_kg[0] / herd.adult_n[0]
    flow = live(herd, around, 24 * 30)
    assert flow[worms.LAID_N] == flow[worms.ASSIMILATED_KG] == flow[worms.INGESTED_KG] == 0.0
    assert herd.adult_kg[0] / herd.adult_n[0] < 0.8 * before
    live(herd, around, 24 * 220)
    assert herd.adult_n[0] < 5.0


def test_fed_worms_lay_at_the_published_rate() -> None:
    """Near 0.4-0.5 cocoons an adult and day at 25 degC when well fed (VR88 peak 0.7, mean 0.35)."""
    herd, around = settled(), pleasant(temp_c=25.0)
    flow = live(herd, around, 24)
    assert 0.4 < flow[worms.LAID_N] / 100.0 < 0.55
    old = settled()
    old.adult_age_d[0] = 100.0 * 700.0
    assert live(old, around, 24)[worms.LAID_N] < 0.25 * flow[worms.LAID_N]


def test_frost_takes_the_worms_and_leaves_cocoons() -> None:
    herd, around = settled(), pleasant(temp_c=-2.0)
    live(herd, around, 24 * 7)
    assert worm_kg(herd) < 0.02 * worm_kg(settled())
    assert herd.cocoon_n.sum() > 0.97 * settled().cocoon_n.sum()
    around.temp_c[:] = 18.0
    live(herd, around, 24 * 40)
    assert herd.juvenile_n[0] > 20.0


def test_heat_takes_worms_and_stops_hatching() -> None:
    herd, around = settled(), pleasant(temp_c=38.0)
    flow = live(herd, around, 48)
    assert herd.adult_n[0] < 30.0
    assert flow[worms.HATCHED_N] == 0.0


@pytest.mark.parametrize(
    ("field", "value"), [("moisture_frac", 0.40), ("oxygen_factor", 0.0), ("ammonia_mg_g", 1.2)]
)
def test_drought_bad_air_and_ammonia_kill(field: str, value: float) -> None:
    herd, around = settled(), pleasant()
    getattr(around, field)[:] = value
    flow = live(herd, around, 24 * 3)
    calm = live(settled(), pleasant(), 24 * 3)
    assert flow[worms.DIED_ADULT_N] > 20 * calm[worms.DIED_ADULT_N]


def test_a_zone_without_worms_stays_without() -> None:
    herd = new_herd(1, 6)
    flow = live(herd, pleasant(), 48)
    assert not np.any(flow)
    assert herd.where[0].sum() == pytest.approx(1.0)


def test_the_last_few_are_written_off_with_their_mass() -> None:
    herd = new_herd(1, 6)
    herd.adult_n[0], herd.adult_kg[0], herd.cocoon_n[0, 3] = 1e-10, 1e-13, 1e-10
    flow = live(herd, pleasant(), 1)
    assert herd.adult_n[0] == herd.adult_kg[0] == herd.cocoon_n.sum() == 0.0
    assert flow[worms.DIED_ADULT_N] == pytest.approx(1e-10, rel=1e-3)
    assert flow[worms.COCOON_LOST_N] == pytest.approx(1e-10, rel=1e-3)


# --- Where they go -----------------------------------------------------------------------------


def gather(herd: Herd, around: Surroundings, hours: int) -> np.ndarray:
    spread.sense_cells(P, around)
    for _ in range(hours):
        spread.spread_over_cells(P, herd.where, 0, around, AREA_M2, 1.0)
    return herd.where[0]


def test_they_gather_at_food_overnight_and_not_at_once() -> None:
    around = pleasant(food_kg=0.0)
    around.food_kg[0] = 1.0
    assert gather(settled(), around, 2)[0] < 0.35
    assert gather(settled(), around, 16)[0] > 0.5


def test_they_leave_hot_sour_and_dry_cells() -> None:
    for field, value in (("temp_c", 34.0), ("oxygen_factor", 0.02), ("ammonia_mg_g", 1.2)):
        around = pleasant()
        getattr(around, field)[:3] = value
        where = gather(settled(), around, 24)
        assert where[:3].sum() < 0.03, field


def test_chilled_worms_creep_to_the_warmer_cells() -> None:
    around = pleasant()
    around.temp_c[:] = [0.0, 1.0, 2.0, 4.0, 7.0, 9.0]
    where = gather(settled(), around, 24 * 5)
    assert where[4] + where[5] > 0.5
    assert np.all(np.diff(where) > 0)


def test_frozen_worms_stay_where_they_are() -> None:
    around = pleasant(food_kg=0.0)
    around.temp_c[:] = [-9.0, -8.0, -7.0, -6.0, -6.0, -6.0]
    around.food_kg[0] = 5.0
    assert gather(settled(), around, 24 * 5) == pytest.approx(1 / 6, abs=1e-12)


def test_none_enter_where_none_can_live() -> None:
    around, herd = pleasant(), settled()
    around.reach[4:] = 0.0
    herd.where[0] = [1, 0, 0, 0, 0, 0]
    where = gather(herd, around, 100)
    assert np.all(where[4:] == 0.0)
    assert where.sum() == pytest.approx(1.0, abs=1e-15)


def test_nowhere_to_go_leaves_them_where_they_are() -> None:
    around, herd = pleasant(), settled()
    around.reach[:] = 0.0
    spread.sense_cells(P, around)
    assert spread.spread_over_cells(P, herd.where, 0, around, AREA_M2, 1.0) == (0.0, 20.0)
    assert np.all(herd.where == 1 / 6)


def test_splitting_the_cells_finer_changes_little() -> None:
    """Twelve cells of 1.5 cm and six of 3 cm hold the same bed: growth differs below 1 %."""
    coarse, fine = pleasant(6, food_kg=0.0), pleasant(12, food_kg=0.0)
    coarse.food_kg[:2], fine.food_kg[:4] = 0.4, 0.2
    coarse.temp_c[:], fine.thickness_m[:] = np.linspace(11, 21, 6), 0.015
    fine.temp_c[:] = np.repeat(coarse.temp_c, 2)
    a, b = settled(cells=6), settled(cells=12)
    live(a, coarse, 24 * 10)
    live(b, fine, 24 * 10)
    assert worm_kg(b) == pytest.approx(worm_kg(a), rel=0.01)


def test_living_extremes_pass_over_cells_hardly_used() -> None:
    where = np.array([0.01, 0.5, 0.47, 0.02])
    assert spread.living_extremes(where, np.array([-3.0, 5.0, 9.0, 40.0])) == (5.0, 9.0)


# --- Compiled ----------------------------------------------------------------------------------


def test_compiled_equals_plain() -> None:
    """The compiled model gives the plain numbers to 1e-12 over 60 rough days."""

    def run(p, herd, around, temps_c, eaten_kg, flow):  # type: ignore[no-untyped-def]
        for temp_c in temps_c:
            for c in range(6):
                around.temp_c[c] = temp_c + c
            worms.worm_hour(p, herd, 0, around, 0.36, 0.5, 1.0, eaten_kg, flow)
            for c in range(6):
                around.food_kg[c] -= 0.2 * eaten_kg[c]

    temps_c = 12.0 + 18.0 * np.sin(np.arange(24 * 60) / 40.0)
    results = []
    for function in (run, njit(error_model="numpy")(run)):
        herd, around = settled(), pleasant()
        around.oxygen_factor[:] = np.linspace(0.05, 1.0, 6)
        around.ammonia_mg_g[:] = np.linspace(0.9, 0.0, 6)
        flow = np.zeros(worms.FLOW_SIZE)
        function(record(), herd, around, temps_c, np.zeros(6), flow)
        results.append([*herd, around.food_kg, flow])
    assert results[0][-1].min() > 0.0  # every flow took part
    for plain, compiled in zip(*results, strict=True):
        np.testing.assert_allclose(compiled, plain, rtol=1e-12, atol=1e-15)
