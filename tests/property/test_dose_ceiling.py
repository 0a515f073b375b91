"""No dose ever exceeds 1.5 times what the zone cleared; none where lots was left."""

from __future__ import annotations

import datetime as dt
import importlib.util
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from bedlore.bed.history import start_of
from bedlore.decide.advise import advise
from bedlore.decide.candidates import feeds, menus
from bedlore.decide.meals import LOOK_LEFT, meals, tables
from bedlore.farm.log import Look
from bedlore.farm.model import StoreItem

_SPEC = importlib.util.spec_from_file_location(
    "decide_beds", Path(__file__).parents[1] / "unit" / "decide" / "conftest.py"
)
assert _SPEC is not None
assert _SPEC.loader is not None
beds = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(beds)

FOODS = ("food_mixed_kitchen", "food_coffee_grounds", "food_bread", "man_horse_aged",
         "food_salted_crumbs", "food_brewery_grain")  # fmt: skip


@st.composite
def situations(draw: st.DrawFn):
    bed = beds.bed_of(foam=draw(st.booleans()), moisture=draw(st.sampled_from([0.65, 0.75])))
    days = 12
    feeds_given = [
        beds.feed(day, bed, draw(st.floats(0.1, 6.0)), zone, draw(st.sampled_from(FOODS)))
        for day, zone in draw(
            st.lists(
                st.tuples(st.integers(1, days - 1), st.sampled_from(["race", "bank"])),
                min_size=0, max_size=3, unique=True,
            )
        )
    ]  # fmt: skip
    looks = []
    left = draw(st.sampled_from([None, "none", "some", "lots"]))
    if left is not None:
        at = start_of(bed, dt.UTC) + dt.timedelta(days=days, hours=-draw(st.integers(1, 200)))
        looks.append(Look.model_validate(
            {"id": "look", "at": at, "bed": bed.id, "food_left": left,
             "zone": draw(st.sampled_from(["race", "bank", None]))}
        ))  # fmt: skip
    store = [StoreItem(material=m, mass_kg=draw(st.floats(0.2, 50.0))) for m in FOODS]
    store.append(StoreItem(material="bed_corrugated", mass_kg=5.0, use="bedding"))
    return beds.case_of(
        bed, feeds=feeds_given, logged=looks, store=store, days=days, members=4,
        past_c=draw(st.sampled_from([2.0, 12.0, 22.0])), ahead_c=12.0,
    )  # fmt: skip


@settings(max_examples=12, deadline=None, derandomize=True)
@given(situations())
def test_no_dose_exceeds_the_ceiling(case) -> None:
    found = tables(case)
    by_zone = {case.twin.zone_ids[t.position]: t for t in found}
    advice = advise(case)
    offered = [*feeds(case, found, menus(case)), advice.action, *(a for a, _ in advice.rivals)]
    for action in offered:
        if action.kind != "feed":
            continue
        table = by_zone[action.zone_id]
        assert action.mass_kg <= table.cap_kg + 0.01
        assert table.left != "lots"
        given_before = meals(case.entries, action.zone_id, list(by_zone), "")
        if given_before:
            # Never more than 1.5 times the meal itself, and less where a look found some left.
            gone = 1.0 - LOOK_LEFT[table.left] if table.measured else 1.0
            assert action.mass_kg <= 1.5 * gone * given_before[-1].mass_kg + 0.01
