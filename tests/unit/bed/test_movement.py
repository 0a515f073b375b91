"""Movement between zones: toward food, away from harm, hardly in the cold, cocoons never."""

from __future__ import annotations

import numpy as np
import pytest

from bedlore.bed import movement, spread, worms
from bedlore.bed.layout import Herd, Surroundings
from tests.unit.bed.worm_cases import DEFAULTS as P
from tests.unit.bed.worm_cases import pleasant, record, settled, worm_kg

AREA_M2 = 0.36
LINK = np.array([[0, 1]])


def move(herd: Herd, around: list[Surroundings], days: float, links: np.ndarray = LINK) -> None:
    """Let a herd whose life stands still move between zones that stay as they are."""
    zones = len(around)
    appeal, threat, pace = np.zeros(zones), np.zeros(zones), np.zeros(zones)
    for _ in range(round(24 * days)):
        for z, place in enumerate(around):
            spread.sense_cells(P, place)
            quality, warmth_c = spread.spread_over_cells(P, herd.where, z, place, AREA_M2, 1.0)
            pace[z] = movement.zone_pace(P, warmth_c)
            appeal[z], threat[z] = movement.zone_appeal(
                P, worms.forage(place), quality, AREA_M2
            )
        movement.move_between_zones(P, herd, links, appeal, threat, pace, 1.0)


def left(temp_c: float, days: float, unfed_kg: float = 0.0) -> float:
    """Return the share of worm mass left on an unfed side next to a fed one."""
    herd = settled(2)
    move(herd, [pleasant(temp_c=temp_c, food_kg=unfed_kg), pleasant(temp_c=temp_c)], days)
    return worm_kg(herd) / worm_kg(settled())


@pytest.mark.parametrize("temp_c", [15.0, 18.0, 20.0])
def test_an_unfed_side_is_left_within_a_season(temp_c: float) -> None:
    """Practice: sides swapped every 2-3 months; a few worms stay (city programme, informal)."""
    assert left(temp_c, 75) <= 0.05
    assert left(temp_c, 75) > 0.005


def test_most_leave_within_two_to_three_weeks_at_20_degrees() -> None:
    assert 0.15 < left(20.0, 21) < 0.5


def test_half_time_of_a_fast_worm_is_the_parameter() -> None:
    """At full contrast and 20 degC half the fast worms are gone after 8 d, of the slow after 21."""
    herd = settled(2)
    herd.adult_slow_n[:] = 0.0
    for _ in range(24 * 8):
        movement.move_along(P, herd, 0, 1, 1.0, 0.0, movement.zone_pace(P, 20.0), 1 / 24)
    assert herd.adult_n[0] == pytest.approx(50.0, rel=0.005)
    herd = settled(2)
    herd.adult_slow_n[:] = herd.adult_n
    for _ in range(24 * 21):
        movement.move_along(P, herd, 0, 1, 1.0, 0.0, movement.zone_pace(P, 20.0), 1 / 24)
    assert herd.adult_n[0] == pytest.approx(50.0, rel=0.005)


def test_hardly_any_move_in_the_cold() -> None:
    assert left(4.0, 75) == pytest.approx(1.0)
    assert left(7.0, 21) > 0.75
    assert movement.zone_pace(P, 8.0) < 0.25


def test_worms_flee_a_sour_zone_within_days() -> None:
    sour, sound = pleasant(), pleasant()
    sour.oxygen_factor[:] = 0.02
    herd = settled(2)
    move(herd, [sour, sound], 4)
    assert worm_kg(herd) < 0.1 * worm_kg(settled())


def test_two_bad_zones_hold_their_worms() -> None:
    around = [pleasant(), pleasant()]
    for place in around:
        place.oxygen_factor[:] = 0.02
    herd = settled(2)
    herd.adult_n[1] = herd.adult_kg[1] = 0.0
    move(herd, around, 4)
    assert herd.adult_n[0] > 80.0


def test_equal_zones_even_out_and_the_better_holds_more() -> None:
    herd = settled(2)
    for stage in (herd.adult_n, herd.adult_kg, herd.adult_slow_n, herd.adult_age_d):
        stage[1] = 0.0
    move(herd, [pleasant(), pleasant()], 400)
    assert herd.adult_n[0] == pytest.approx(50.0, abs=2.0)
    herd = settled(2)
    move(herd, [pleasant(food_kg=0.02), pleasant()], 400)
    assert herd.adult_n[1] > herd.adult_n[0] + 20.0


def test_cocoons_stay_and_hatchlings_are_slow() -> None:
    herd = settled(2)
    move(herd, [pleasant(food_kg=0.0), pleasant()], 14)
    assert np.all(herd.cocoon_n == settled(2).cocoon_n)
    assert herd.hatchling_n[0] > 1.5 * herd.adult_n[0]


def test_those_left_behind_are_mostly_the_slow_ones() -> None:
    herd = settled(2)
    move(herd, [pleasant(food_kg=0.0), pleasant()], 42)
    assert herd.adult_slow_n[0] / herd.adult_n[0] > 0.5
    assert np.all(herd.adult_slow_n <= herd.adult_n * (1 + 1e-12))


def test_they_pass_through_a_chain_of_zones() -> None:
    herd = settled(3)
    links = np.array([[0, 1], [1, 2]])
    around = [pleasant(food_kg=0.0), pleasant(food_kg=0.02), pleasant(food_kg=0.5)]
    move(herd, around, 60, links)
    assert herd.adult_n[2] > herd.adult_n[1] > herd.adult_n[0]


def test_compiled_movement_equals_plain() -> None:
    numba = pytest.importorskip("numba")

    def run(p, herd, links, appeal, threat, pace):  # type: ignore[no-untyped-def]
        for _ in range(500):
            movement.move_between_zones(p, herd, links, appeal, threat, pace, 1.0)

    results = []
    for function in (run, numba.njit(error_model="numpy")(run)):
        herd = settled(3)
        links = np.array([[0, 1], [1, 2]])
        state = np.array([0.2, 0.5, 0.9]), np.array([0.6, 0.0, 0.1]), np.array([9.0, 16.0, 27.0])
        function(record(), herd, links, *state)
        results.append(herd)
    for plain, compiled in zip(*results, strict=True):
        np.testing.assert_allclose(compiled, plain, rtol=1e-12, atol=1e-15)
