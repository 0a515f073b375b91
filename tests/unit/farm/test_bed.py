"""Beds, sides and what the log may call a zone."""

from __future__ import annotations

import datetime as dt
from importlib.resources import files

import pytest
from pydantic import ValidationError

from bedlore.errors import FaultList
from bedlore.farm.bed import BeddingPart, Drainage, HeatMat, Zone
from bedlore.farm.interpret import Interpreter
from bedlore.farm.load import dump_farm, farm_of, parse_farm
from bedlore.farm.model import Farm

FARM = parse_farm(files("bedlore.demo").joinpath("farm.toml").read_text("utf-8"))


def test_a_name_in_the_log_means_a_zone_or_a_side() -> None:
    sluice = FARM.bed("sluice")
    assert sluice is not None
    assert sluice.side_names == ("race", "bank")
    assert sluice.zone_called("Race 1") == "race-1"
    assert sluice.zone_called("bank, by the wall") == "bank-2"
    assert sluice.zone_called("RACE") == "race"
    assert sluice.zone_called("attic") is None
    assert [zone.id for zone in sluice.zones_of("race")] == ["race-1", "race-2"]
    assert [zone.id for zone in sluice.zones_of("bank-2")] == ["bank-2"]
    assert sluice.zones_of(None) == sluice.zones


def test_area_and_limits() -> None:
    sluice = FARM.bed("sluice")
    assert sluice is not None
    assert sluice.area_m2 == pytest.approx(1.35)
    assert FARM.limits_of(sluice).cold_c == 4.0


def test_the_farms_own_words_come_first() -> None:
    assert FARM.material("cafe bucket") == "food_veg_trimmings"
    assert FARM.material("coffee grounds") == "food_coffee_grounds"
    assert FARM.material("unobtainium") is None
    container = FARM.container("Blue-Bucket")
    assert container is not None
    assert container.volume_l == pytest.approx(9.0)


@pytest.mark.parametrize(
    ("record", "raw", "words"),
    [
        (BeddingPart, {"material": "straw"}, "depth"),
        (BeddingPart, {"material": "straw", "depth": "1 cm", "mass": "1 kg"}, "either"),
        (Drainage, {"kind": "gravel"}, "thick"),
        (HeatMat, {"watts": 40, "setpoint_c": 45}, "30 degC"),
        (Zone, {"id": "t", "depth": "10 cm",
                "bedding": [{"material": "straw", "depth": "20 cm"}]}, "only 10 cm"),
    ],
)
def test_what_cannot_be_is_said(record: type, raw: dict, words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        record.model_validate(raw)


def test_a_bed_taken_down_keeps_its_place_and_its_log() -> None:
    day = dt.date(2025, 6, 1)
    sluice = FARM.beds[0].model_copy(update={"ended": day})
    farm = Farm.model_validate({**FARM.model_dump(), "beds": [
        sluice.model_dump(), *(bed.model_dump() for bed in FARM.beds[1:])]})  # fmt: skip
    assert farm.standing(day) == farm.beds[1:]
    assert farm.standing(day - dt.timedelta(days=1)) == farm.beds
    assert parse_farm(dump_farm(farm)) == farm
    entry = {"id": "a", "kind": "note", "bed": "sluice", "note": "x"}
    read = Interpreter(farm, dt.datetime(2025, 12, 1, tzinfo=dt.UTC)).read
    assert read({**entry, "at": "2025-06-01 21:00"}).entry is not None
    late = read({**entry, "at": "2025-06-04 08:00"})
    assert late.entry is None
    assert "taken down" in late.faults[0].sentence


def test_what_comes_in_is_shared_by_area_among_the_beds_that_are_kept() -> None:
    """The invented farm's three beds: each its floor area of the whole, and all of it together;
    neither one that was taken down nor one that is still to begin takes any of it."""
    day = dt.date(2025, 6, 1)
    whole_m2 = sum(bed.area_m2 for bed in FARM.beds)
    shares = [FARM.share_of_store(bed, day) for bed in FARM.beds]
    assert shares == pytest.approx([bed.area_m2 / whole_m2 for bed in FARM.beds])
    first = FARM.beds[0].model_copy(update={"ended": day})
    fewer = FARM.model_copy(update={"beds": (first, *FARM.beds[1:])})
    assert sum(fewer.share_of_store(bed, day) for bed in fewer.beds[1:]) == pytest.approx(1.0)
    tomorrow = day + dt.timedelta(days=1)
    first = FARM.beds[0].model_copy(update={"started": tomorrow})
    more = FARM.model_copy(update={"beds": (first, *FARM.beds[1:])})
    assert sum(more.share_of_store(bed, day) for bed in more.beds[1:]) == pytest.approx(1.0)
    assert [more.share_of_store(bed, tomorrow) for bed in more.beds] == pytest.approx(shares)


def _store(*items: dict[str, object]) -> list[str]:
    raw = FARM.model_dump(mode="json", exclude_none=True)
    return [item.name for item in farm_of({**raw, "store": items}).store]


def test_a_material_without_a_name_is_called_as_it_was_typed() -> None:
    assert _store({"material": "stale rye bread"}) == ["stale rye bread"]
    assert _store({"material": "stale rye bread", "name": "stale rye"}) == ["stale rye"]
    # The table's own word is said in the reader's language, so it is no name.
    assert _store({"material": "food_bread"}, {"material": "Bread and baked goods"}) == ["", ""]
    # A name means one thing: two lots typed alike do not both take it.
    assert _store({"material": "stale rye bread"}, {"material": "Stale rye bread"}) == [
        "stale rye bread", ""]  # fmt: skip
    assert {item.name for item in FARM.store} >= {"pretzel crumbs", "flour sacks", "shredded card"}


def test_a_bed_ends_after_it_began_and_one_stands() -> None:
    raw = FARM.model_dump(mode="json", exclude_none=True)
    early = [{**raw["beds"][0], "ended": "2001-01-01"}, *raw["beds"][1:]]
    with pytest.raises(FaultList, match="before it was started"):
        farm_of({**raw, "beds": early})
    with pytest.raises(FaultList, match="No bed would stand"):
        farm_of({**raw, "beds": [{**bed, "ended": "2026-01-01"} for bed in raw["beds"]]})
