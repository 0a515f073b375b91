"""What the facts say and what the model of the bed does must be the same."""

from __future__ import annotations

import pytest

from bedlore.bed import cells, matter
from bedlore.facts import thermal
from bedlore.facts.feedstocks import POOL_NAMES, find


@pytest.mark.parametrize("water", [0.0, 0.2, 0.48, 0.7])
def test_the_model_conducts_as_the_facts_say(water: float) -> None:
    assert matter.conductivity(water, 0.0, 1.0) == pytest.approx(
        thermal.bed_conductivity_w_mk(water), rel=1e-12
    )
    assert thermal.bed_conductivity_w_mk(0.48) == pytest.approx(0.40, abs=0.005)


def test_the_model_stores_heat_as_the_facts_say() -> None:
    bulk, moisture = 600.0, 0.75
    per_k = matter.heat_content(11.0, bulk * (1 - moisture), bulk * moisture, 1.0)
    per_k -= matter.heat_content(10.0, bulk * (1 - moisture), bulk * moisture, 1.0)
    assert per_k == pytest.approx(thermal.bed_heat_capacity_j_m3k(bulk, moisture), rel=1e-9)


def test_the_pools_have_one_order() -> None:
    order = {"fast": cells.FAST, "medium": cells.MEDIUM, "slow": cells.SLOW, "humus": cells.HUMUS}
    assert [order[name] for name in POOL_NAMES] == list(range(cells.POOLS))


def test_food_gives_more_heat_than_card_and_lime_none() -> None:
    food, card, lime = (
        thermal.decay_heat_j_per_kg_dry(find(name))
        for name in ("kitchen scraps", "cardboard", "garden lime")
    )
    assert food > 1.5 * card > 0
    assert lime == 0.0


def test_water_by_volume() -> None:
    assert thermal.water_by_volume(640.0, 0.75) == pytest.approx(0.48)
