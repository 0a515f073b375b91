"""Running ensembles: balances, acts, threads, and what each act does."""

from __future__ import annotations

import numpy as np
import pytest

from bedlore.bed import plan
from bedlore.bed.audit import imbalances
from bedlore.bed.build import bed_geometry, cell_count
from bedlore.bed.cells import POOLS, Air
from bedlore.bed.engine import State, empty_state, simulate
from bedlore.facts.feedstocks import load
from bedlore.facts.parameters import defaults, draw
from tests.unit.bed.beds import feed_rows, stack, start_rows, two_sided, year_air

HOURS = 24 * 40


def run_bed(bed, rows, hours=HOURS, members=3, seed=5, mean_c=9.0, **options):
    geometry = bed_geometry(bed)
    before = empty_state(members, len(bed.zones), cell_count(bed))
    params = draw(members, seed)
    air = year_air(hours, mean_c=mean_c)
    run = simulate(
        geometry, params, before, air, plan.in_order(rows), every=24, threads=1, **options
    )
    return before, run, params


@pytest.mark.parametrize("mean_c", [9.0, -1.0])
def test_everything_balances_through_every_act(mean_c: float) -> None:
    rows = start_rows(4) + feed_rows(HOURS, 4)
    rows += [
        plan.give_water(200, 0, 4.0), plan.set_cover(210, 1, 0.05), plan.set_foam(220, 2, 1.5, 1.0),
        plan.harvest(500, 0, share=0.6, worm_share=0.05), plan.harvest(510, 1, mass_kg=5.0),
        plan.carry_worms(520, 0, 3, share=0.3), plan.take_worms(530, 2, 0.1, 0.1),
        plan.set_cover(600, 1, 0.0), plan.set_lid(610, 0, False), plan.set_mat(620, 1, True, 15.0),
    ]  # fmt: skip
    before, run, params = run_bed(two_sided(), rows, mean_c=mean_c)
    for what, gap in imbalances(before, run, params).items():
        assert np.abs(gap).max() < 1e-9, what


def test_a_stack_balances_when_trays_change_places() -> None:
    rows = [row for row in start_rows(3) if row[plan.acts.ZONE] > 0]
    rows += [plan.swap_trays(300, 1, 2), plan.set_cover(310, 0, 0.02)]
    table = load()
    rows.append(plan.add_material(320, 0, [(table["food_mixed_kitchen"], 1.0, None)], lump=True))
    before, run, params = run_bed(stack(), rows)
    for what, gap in imbalances(before, run, params).items():
        assert np.abs(gap).max() < 1e-9, what
    assert run.series("depth_m")[:, 5, 0].max() == 0.0, "an empty tray holds nothing"
    assert run.series("depth_m")[:, -1, 0].min() > 0.0, "feed brings an empty tray into use"


def test_swapped_trays_take_their_worms_along() -> None:
    rows = [row for row in start_rows(3, 0.2) if row[plan.acts.ZONE] == 1]
    rows.append(plan.swap_trays(24, 1, 2))
    _, run, _ = run_bed(stack(), rows, hours=48)
    worms = run.series("worms_kg")
    assert worms[:, 0, 1].min() > 0.1
    assert worms[:, 0, 2].max() == 0.0
    assert worms[:, 1, 2].min() > 0.1
    assert worms[:, 1, 1].max() == 0.0


def test_a_liner_holds_water_that_a_drain_lets_go() -> None:
    rows = [*start_rows(4), *(plan.give_water(24 + i, 0, 10.0) for i in range(4))]
    _, drained, _ = run_bed(two_sided(), rows, hours=240, mean_c=18.0)
    bed = two_sided(drainage={"kind": "liner"})
    _, held, _ = run_bed(bed, rows, hours=240, mean_c=18.0)
    assert drained.total("water_drained_kg")[:, 0].min() > 30.0, "free water is gone in days"
    assert held.total("water_drained_kg").max() == 0.0
    wetter = held.series("moisture_frac") - drained.series("moisture_frac")
    assert (wetter[:, -1, 0] > 0.10).all(), "what does not drain stands in the bed"


def test_insulation_and_mat_warm_a_winter_bed() -> None:
    plain = start_rows(4)
    foamed = plain + [plan.set_foam(1, z, 1.5, 1.5) for z in range(4)]
    heated = plain + [plan.set_mat(1, z, True, 12.0) for z in range(4)]
    bed = two_sided(heat_mat={"watts": 60, "setpoint_c": 12})

    def mean_c(rows) -> float:
        _, run, _ = run_bed(bed, rows, mean_c=2.0, hours=480)
        return float(run.series("temp_mean_c")[:, -1].mean())

    assert mean_c(foamed) > mean_c(plain) + 0.3
    assert mean_c(heated) > mean_c(plain) + 3.0


def test_a_mat_keeps_its_power_when_zones_are_empty() -> None:
    """The mat is laid under what is filled; its heat is in the balance, hour by hour in full."""
    bed = two_sided(heat_mat={"watts": 60, "setpoint_c": 30})
    filled = start_rows(2)  # of four quarters; the thermostat's own is empty
    mats = [plan.set_mat(0, z, True, 30.0) for z in range(4)]
    before, run, params = run_bed(bed, filled + mats, mean_c=2.0, hours=240)
    energy_j = run.total("mat_energy_j")
    assert energy_j[:, 2:].max() == 0.0
    np.testing.assert_allclose(energy_j[:, :2], 30.0 * 240 * 3600.0)
    np.testing.assert_array_equal(run.total("heat_mat_j"), energy_j)
    assert np.abs(imbalances(before, run, params)["heat"]).max() < 1e-9


@pytest.mark.parametrize(("filled", "heated"), [((1, 2), 2), ((0, 1), 1)])
def test_a_mat_below_a_stack_heats_its_lowest_tray(filled: tuple[int, ...], heated: int) -> None:
    bed = stack(heat_mat={"watts": 20, "setpoint_c": 30})
    rows = [row for row in start_rows(3) if row[plan.acts.ZONE] in filled]
    rows += [plan.set_mat(0, z, True, 30.0) for z in range(3)]
    _, run, _ = run_bed(bed, rows, mean_c=2.0, hours=48)
    expected_j = np.zeros(3)
    expected_j[heated] = 20.0 * 48 * 3600.0
    np.testing.assert_allclose(run.total("mat_energy_j"), np.tile(expected_j, (3, 1)))


def test_worms_without_nitrogen_build_nothing() -> None:
    """Twelve kg/m2 of worms on feed without nitrogen: they live on the nitrogen of their dead."""
    bed = two_sided()
    feed = [plan.add_material(0, z, [(load()["food_mixed_kitchen"], 12.0, 0.75)]) for z in range(4)]
    for row in feed:
        row[plan.acts.NITROGEN : plan.acts.NITROGEN + POOLS] = 0.0
    worms = [plan.stock(0, z, 12.0 * bed.area_m2 / 4) for z in range(4)]
    before, run, params = run_bed(bed, feed + worms, mean_c=25.0, hours=240)
    for what, gap in imbalances(before, run, params).items():
        assert np.abs(gap).max() < 1e-9, what
    assert run.series("worms_kg")[:, -1].max() < 1.05 * 12.0 * bed.area_m2 / 4


def test_threads_do_not_change_a_bit() -> None:
    bed = two_sided()
    rows = plan.in_order(start_rows(4))
    params = draw(40, 3)
    before = empty_state(40, 4, 12)
    air = year_air(72)
    one = simulate(bed_geometry(bed), params, before, air, rows, threads=1)
    two = simulate(bed_geometry(bed), params, before, air, rows, threads=2)
    assert np.array_equal(one.values, two.values)
    assert all(np.array_equal(a, two.state.arrays()[n]) for n, a in one.state.arrays().items())


def test_the_state_given_is_left_as_it_was() -> None:
    before = empty_state(1, 4, 12)
    simulate(bed_geometry(two_sided()), defaults(), before, year_air(5),
             plan.in_order(start_rows(4)))  # fmt: skip
    assert before.cells.water_kg.sum() == 0.0


def test_a_run_that_keeps_no_state_gives_the_same_outputs() -> None:
    bed, rows = two_sided(), plan.in_order(start_rows(4))
    geometry, params, before = bed_geometry(bed), draw(37, 3), empty_state(37, 4, 12)
    airs = [year_air(48, mean_c=mean_c) for mean_c in (2.0, 9.0, 16.0, 20.0, 25.0)]
    air = Air(*(np.concatenate(series) for series in zip(*airs, strict=True)))
    kept = simulate(geometry, params, before, air, rows)
    bare = simulate(geometry, params, before, air, rows, keep_state=False)
    alone = simulate(geometry, params[33:34], before.part(33, 34), airs[33 % 5], rows)
    assert np.array_equal(kept.values, bare.values)
    assert np.array_equal(kept.tally, bare.tally)
    assert np.array_equal(kept.values[33], alone.values[0]), "weather is dealt in turn"
    with pytest.raises(ValueError, match="not kept"):
        _ = bare.state


def test_more_hours_than_weather_is_refused() -> None:
    with pytest.raises(ValueError, match="weather for 5"):
        simulate(bed_geometry(two_sided()), defaults(), empty_state(1, 4, 12), year_air(5),
                 plan.in_order([]), hours=6)  # fmt: skip


def test_states_are_stored_by_name_and_come_back() -> None:
    state = empty_state(2, 3, 8)
    again = State.from_arrays(state.arrays())
    assert again.members == 2
    assert again.arrays().keys() == state.arrays().keys()


def test_drier_scraps_bring_more_solids_at_the_mass_that_was_weighed() -> None:
    """A belief about the scraps' dry share moves matter between solids and water, never mass."""
    feed = plan.add_material(24, 0, [(load()["food_mixed_kitchen"], 2.0, None)])
    geometry, params = bed_geometry(two_sided()), np.repeat(defaults(), 3)
    params["feed_dry_scale"] = (0.9, 1.0, 1.1)
    runs = []
    for rows in (start_rows(4), [*start_rows(4), feed]):
        before = empty_state(3, 4, cell_count(two_sided()))
        runs.append(simulate(geometry, params, before, year_air(25), plan.in_order(rows)))
    bare, fed = runs
    ash_kg = (fed.total("ash_in_kg") - bare.total("ash_in_kg"))[:, 0]
    np.testing.assert_allclose(ash_kg / ash_kg[1], (0.9, 1.0, 1.1), rtol=1e-9)
    water_kg = (fed.total("water_in_kg") - bare.total("water_in_kg"))[:, 0]
    solids_kg = 2.0 - water_kg[1]
    np.testing.assert_allclose(water_kg, 2.0 - solids_kg * np.array((0.9, 1.0, 1.1)), rtol=1e-3)


def test_a_run_in_two_pieces_repeats_the_whole_one() -> None:
    """Bit for bit, wherever it is cut: a warm start is no other answer than a cold one."""
    bed, rows = two_sided(), start_rows(4)
    geometry, params, air = bed_geometry(bed), draw(2, 4), year_air(90)
    before = empty_state(2, 4, cell_count(bed))
    whole = simulate(geometry, params, before, air, plan.in_order(rows))
    first = simulate(geometry, params, before, air, plan.in_order(rows), hours=41)
    rest = simulate(
        geometry, params, first.state, type(air)(*(part[:, 41:] for part in air)),
        plan.in_order([]), first_hour=41,
    )  # fmt: skip
    for name, array in whole.state.arrays().items():
        assert np.array_equal(array, rest.state.arrays()[name]), name
@pytest.mark.parametrize("sets", [0, 2, 4])
def test_as_many_sets_of_parameters_as_members_are_asked_for(sets: int) -> None:
    with pytest.raises(ValueError, match=f"{sets} sets of parameters for 3 members"):
        simulate(bed_geometry(two_sided()), draw(4, 1)[:sets], empty_state(3, 4, 12), year_air(5),
                 plan.in_order([]))  # fmt: skip


