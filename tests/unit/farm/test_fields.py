"""Units and keys the way keepers write them."""

from __future__ import annotations

from typing import Annotated

import pytest
from pydantic import ValidationError

from bedlore.errors import Fault
from bedlore.farm.faults import faults_of
from bedlore.farm.fields import Record, Slug, Text, litres, number, quantity, slug_of


class Thing(Record):
    length_m: Annotated[float, quantity("length", 0, 6)]
    lows_c: tuple[Annotated[float, quantity("temperature", -60, 60)], ...] = ()
    volume_l: Annotated[float, litres(0, 100)] = 1.0
    ratio: Annotated[float, number(1, 10)] = 2.0
    latitude_deg: Annotated[float, number(-90, 90)] = 0.0
    name: Text = ""
    id: Slug = "x"


def faults(raw: dict) -> list[Fault]:
    with pytest.raises(ValidationError) as caught:
        Thing.model_validate(raw)
    return faults_of(caught.value, raw, Thing)


@pytest.mark.parametrize(
    "raw",
    [
        {"length_m": 0.6096}, {"length_m": "24 in"}, {"length": "24 in"}, {"length_in": 24},
        {"length_in": "24"}, {"length_ft": 2}, {"length": "60,96 cm"},
    ],
)
def test_a_length_may_be_written_many_ways(raw: dict) -> None:
    # 1 in = 25.4 mm exactly (international inch, 1959)
    assert Thing.model_validate(raw).length_m == pytest.approx(0.6096, rel=1e-12)


def test_lists_carry_the_unit_of_their_key() -> None:
    thing = Thing.model_validate({"length_m": 1, "lows_f": [32, 50]})
    assert thing.lows_c == pytest.approx((0.0, 10.0))


def test_litres_stay_litres() -> None:
    assert Thing.model_validate({"length_m": 1, "volume_l": 9}).volume_l == 9.0
    # 1 US quart = 0.946352946 L (231 in3 gallon)
    quarts = Thing.model_validate({"length_m": 1, "volume": "2 qt"}).volume_l
    assert quarts == pytest.approx(1.892705892, rel=1e-9)


def test_a_short_key_without_unit_asks_for_it() -> None:
    (fault,) = faults({"length": 9})
    assert fault.path == "length_m"
    assert "no unit" in fault.sentence


def test_nine_metres_asks_for_the_unit() -> None:
    (fault,) = faults({"length_m": 9})
    assert "9 m" in fault.sentence
    assert "unit" in fault.sentence


def test_a_key_given_twice_is_said() -> None:
    (fault,) = faults({"length_m": 1, "length": "1 m"})
    assert "twice" in fault.sentence


def test_an_unknown_key_names_the_nearest() -> None:
    (fault,) = faults({"length_m": 1, "nmae": "x"})
    assert '"name"' in fault.sentence


def test_every_fault_comes_at_once() -> None:
    found = faults({"length": "long", "ratio": 99, "volume_l": -1, "name": 7, "latitude": 91})
    assert {fault.path for fault in found} == {
        "length_m", "ratio", "volume_l", "name", "latitude_deg"
    }


@pytest.mark.parametrize("value", [True, None, [], {}, "nan", "1e999", float("inf"), 10**400, "m"])
def test_nonsense_is_a_sentence(value: object) -> None:
    assert faults({"length_m": value})[0].path == "length_m"


def test_text_loses_control_characters_only() -> None:
    thing = Thing.model_validate({"length_m": 1, "name": " a\x00b\r\nc\x1b d\u00e9 "})
    assert thing.name == "ab\nc d\u00e9"


def test_ids_are_slugs() -> None:
    assert Thing.model_validate({"length_m": 1, "id": " North-1 "}).id == "north-1"
    assert slug_of("North bed (by the d\u00f6or)") == "north-bed-by-the-door"
    assert faults({"length_m": 1, "id": "a b"})[0].path == "id"


def test_a_bare_fraction_is_a_fraction() -> None:
    class Wet(Record):
        moisture_frac: Annotated[float, quantity("fraction", 0, 1)]

    for raw in ({"moisture": 0.75}, {"moisture": "75 %"}, {"moisture_frac": "0.75"}):
        assert Wet.model_validate(raw).moisture_frac == pytest.approx(0.75)
    with pytest.raises(ValidationError, match="7500 %"):
        Wet.model_validate({"moisture": 75})
