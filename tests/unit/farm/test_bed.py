"""Beds, sides and what the log may call a zone."""

from __future__ import annotations

from importlib.resources import files

import pytest
from pydantic import ValidationError

from bedlore.farm.bed import BeddingPart, Drainage, HeatMat, Zone
from bedlore.farm.load import parse_farm

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
