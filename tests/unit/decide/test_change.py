"""What is named as the cause of a change, in the trade's words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import pytest

from bedlore.decide.case import Case
from bedlore.decide.change import causes, inputs_of
from bedlore.farm.log import ENTRY, ENTRY_KINDS

from .conftest import bed_of

PARTS = [{"material": "bed_corrugated", "mass_kg": 1.0}]
# One of each kind, with the words for it.
ENTRIES: list[tuple[dict[str, Any], str]] = [
    ({"kind": "feed", "parts": PARTS}, "a feed of"),
    ({"kind": "bedding", "parts": PARTS}, "bedding laid in"),
    ({"kind": "water", "mass_kg": 1.0}, "water given"),
    ({"kind": "cover", "state": "on"}, "a cover laid"),
    ({"kind": "cover", "state": "off"}, "the cover taken off"),
    ({"kind": "cover", "lid": "off"}, "the lid taken off"),
    ({"kind": "cover", "lid": "on"}, "the lid closed"),
    ({"kind": "probe", "temp_c": 9.0}, "a reading of 9 degC"),
    ({"kind": "squeeze", "word": "damp"}, "a squeeze"),
    ({"kind": "look", "food_left": "some"}, "food left some"),
    ({"kind": "look", "smell": "sour"}, "a look into the bed"),
    ({"kind": "core", "volume_l": 1.0, "worms": 3}, "worms counted"),
    ({"kind": "harvest", "share": 0.5}, "castings taken out"),
    ({"kind": "move", "zone": "race", "to_zone": "bank", "share": 0.5}, "worms carried over"),
    ({"kind": "sighting", "what": "flies"}, "a sighting in the bed"),
    ({"kind": "stock", "worms_kg": 0.2}, "worms put in"),
    ({"kind": "stock", "worms_kg": -0.2}, "worms taken away"),
    ({"kind": "switch", "side": "bank"}, "feeding moved to the other side"),
    ({"kind": "mat", "state": "on"}, "a change at the heat mat"),
    ({"kind": "air", "temp_c": 3.0}, "a reading of the air"),
    ({"kind": "depth", "depth_m": 0.2}, "the depth measured"),
    ({"kind": "moisture", "moisture_frac": 0.7}, "the moisture measured"),
    ({"kind": "dig", "found": "yes"}, "a look for worms"),
    ({"kind": "void", "amends": "other"}, "an entry taken back"),
]


def test_every_kind_has_its_words() -> None:
    assert {raw["kind"] for raw, _ in ENTRIES} | {"note"} == set(ENTRY_KINDS)


@pytest.mark.parametrize(("raw", "words"), ENTRIES)
def test_what_was_logged_is_said_in_plain_words(
    make_case: Callable[..., Case], raw: dict[str, Any], words: str
) -> None:
    bed = bed_of()
    case = make_case(bed, days=3, members=4)
    before: Any = SimpleNamespace(inputs=inputs_of(case))
    entry = ENTRY.validate_python({"id": "x", "at": case.now, "bed": bed.id, **raw})
    (cause,) = causes(replace(case, entries=(entry,)), before)
    assert cause.startswith("you logged ")
    assert words in cause


def test_weather_that_moved_at_both_ends_is_one_cause(make_case: Callable[..., Case]) -> None:
    case = make_case(bed_of(), days=3, members=4)
    inputs = dict(inputs_of(case))
    low, high = float(inputs["air_low_c"]), float(inputs["air_high_c"])
    moved = {**inputs, "air_low_c": str(low - 10.0), "air_high_c": str(high - 5.0)}
    (cause,) = causes(case, cast("Any", SimpleNamespace(inputs=tuple(moved.items()))))
    assert cause.count("the weather ahead changed") == 1
    assert f"between {low:.0f} degC and {high:.0f} degC instead of" in cause
