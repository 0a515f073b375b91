"""What-if: two futures that differ by the change alone, from the state the morning kept."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from bedlore.bed.history import start_of
from bedlore.errors import FaultList
from bedlore.farm.load import load_farm
from bedlore.farm.reading import LogReading
from bedlore.outlook.twin import Past, Snapshot, bring_up, history_key
from bedlore.service.morning import farm_members, surround
from bedlore.service.surroundings import BedAir, Recorded
from bedlore.service.what_if import MEMBERS, Start, read_change, start_what_if, what_if
from bedlore.service.what_if_told import what_if_account
from bedlore.store.keepsakes import Keepsakes
from tests.morning_fake import FARM_FILE

NOW = dt.datetime(2026, 1, 25, 6, tzinfo=dt.UTC)
LOG = LogReading((), ())
NOTHING = Keepsakes(Path("/nowhere"))  # holds nothing and keeps nothing


@pytest.fixture(scope="module")
def farm():
    demo = load_farm(FARM_FILE)
    beds = [bed.model_copy(update={"started": dt.date(2026, 1, 5)}) for bed in demo.beds]
    return demo.model_copy(update={"beds": tuple(beds)})


@pytest.fixture(scope="module")
def start(farm) -> Start:
    return start_what_if(farm, farm.beds[0], LOG, Recorded(), NOW, NOTHING)


def changed(start: Start, **raw: str):
    return what_if(start, read_change(raw, start.farm, start.bed))


def test_a_change_that_changes_nothing_gives_the_same_future_to_the_bit(start):
    found = changed(start, lid="on")  # the lid is on
    assert found.members == MEMBERS
    assert found.with_it == found.as_is
    assert found.probe_k == (0.0, 0.0, 0.0)


def test_foam_keeps_a_bed_warmer_in_the_cold(start):
    found = changed(start, foam_walls_m="5 cm", foam_lid_m="5 cm")
    assert 0.0 < found.probe_k[1] < found.probe_k[2] < 10.0
    assert found.coldest_k[1] > 0.0
    thicker = changed(start, foam_walls_m="15 cm", foam_lid_m="15 cm")
    assert thicker.probe_k[1] > found.probe_k[1]
    assert found.with_it.effect.odds.cold <= found.as_is.effect.odds.cold


def test_feed_warms_and_lies_there_and_half_a_bucket_is_weighed(start):
    found = changed(start, feed="half a blue bucket", zone="race")
    litres = start.farm.container("blue bucket").volume_l
    assert found.change.feed_kg == pytest.approx(0.5 * litres * 0.5)  # scraps 500 kg/m3
    assert found.food_left_kg[1] > 0.2
    assert found.with_it.effect.food_left_kg[1] < 10.0


def test_a_mat_of_a_bed_without_one_draws_power(farm):
    weir = farm.beds[2]
    assert weir.heat_mat is None
    start = start_what_if(farm, weir, LOG, Recorded(), NOW, NOTHING)
    found = changed(start, mat="on", mat_watts="60 W", mat_setpoint_c="20 degC")
    # 60 W for a fortnight, all of it under the half that is filled.
    assert found.with_it.effect.energy_kwh == pytest.approx(60 * 24 * 14 / 1000, rel=1e-3)
    assert found.as_is.effect.energy_kwh == 0.0
    assert any("residual-current" in line for line in what_if_account(found, farm)["cautions"])


def test_a_cover_takes_the_place_of_the_present_one(start):
    bare = changed(start, cover="off")
    thick = changed(start, cover="on", cover_m="20 cm")
    assert bare.moisture_frac[1] < thick.moisture_frac[1]  # an open bed dries


def test_it_starts_from_the_kept_state_of_all_members(farm, start, tmp_path):
    bed, params = farm.beds[0], farm_members()
    around = surround(farm, Recorded(), params, NOW)
    began = start_of(bed, farm.site.zone_info())
    past = Past(bed, began, BedAir(around, bed, began), ())
    at = NOW - dt.timedelta(days=3)
    kept = Snapshot(at, history_key(past, params, past.hour_of(at)),
                    bring_up(past, params, at).state)  # fmt: skip
    whole = bring_up(past, params, NOW).state.pick(np.linspace(0, 199, MEMBERS).round().astype(int))
    keeping = Keepsakes(tmp_path)
    keeping.keep_snapshot(bed.id, kept)
    warm = start_what_if(farm, bed, LOG, Recorded(), NOW, keeping).case.twin
    assert warm.snapshot.at == at
    assert np.allclose(warm.state.cells.temp_c, whole.cells.temp_c, atol=0.02)  # kept in singles
    anew = start_what_if(farm, bed, LOG, Recorded(), NOW, keeping, fresh=True).case.twin
    fresh = start.case.twin.state.cells.temp_c  # other draws of what was filled in
    assert np.array_equal(anew.state.cells.temp_c, fresh)
    assert not np.allclose(warm.state.cells.temp_c, fresh, atol=0.02)


def test_a_kept_state_of_another_past_is_left_aside(farm, start, tmp_path):
    bed, params = farm.beds[0], farm_members()
    around = surround(farm, Recorded(), params, NOW)
    began = start_of(bed, farm.site.zone_info())
    kept = bring_up(Past(bed, began, BedAir(around, bed, began), ()), params, NOW).snapshot
    other = replace(kept, key="of another bed", state=kept.state.pick(np.zeros(200, np.int64)))
    keeping = Keepsakes(tmp_path)
    keeping.keep_snapshot(bed.id, other)
    warm = start_what_if(farm, bed, LOG, Recorded(), NOW, keeping).case.twin.state
    assert np.array_equal(warm.cells.temp_c, start.case.twin.state.cells.temp_c)


@pytest.mark.parametrize(("raw", "field"), [
    ({}, ""),
    ({"feed": "blah"}, "feed"),
    ({"feed": "4"}, "feed"),
    ({"feed": "4 kg", "zone": "attic"}, "zone"),
    ({"feed": "4 kg", "material": "moon dust"}, "material"),
    ({"foam_lid_m": "5 m"}, "foam_lid_m"),
    ({"cover": "on", "cover_m": "thick"}, "cover_m"),
    ({"mat": "on"}, "mat_watts"),
    ({"mat": "perhaps"}, "mat"),
])  # fmt: skip
def test_what_cannot_be_used_is_said_beside_its_field(farm, raw, field):
    with pytest.raises(FaultList) as caught:
        read_change(raw, farm, farm.beds[2])
    assert field in {fault.path for fault in caught.value.faults}
    assert all(fault.sentence.endswith((".", "?")) for fault in caught.value.faults)


def test_differences_are_said_with_their_doubt(start, farm):
    found = changed(start, foam_walls_m="5 cm")
    either = replace(found, probe_k=(-1.0, 1.0, 3.0), coldest_k=(-0.1, 0.0, 1.5),
                     warmest_k=(-3.0, -2.0, -1.0), moisture_frac=(0.0, 0.03, 0.05))  # fmt: skip
    account = what_if_account(either, farm)
    text = " ".join(account["difference_words"])
    assert "about 1 K warmer, though colder in a few futures" in text
    assert "none in most futures, up to 1.5 K warmer in some" in text
    assert "about 2 K colder" in text
    assert "about 3 points more" in text
    assert account["change_words"] == "5 cm of foam round walls and floor"
