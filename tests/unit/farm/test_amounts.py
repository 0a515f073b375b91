"""Amounts as keepers say them. The farm's own bucket holds 9 L; densities come from the table."""

from __future__ import annotations

import math

import pytest

from bedlore.errors import KeeperError
from bedlore.facts import feedstocks
from bedlore.farm.amounts import Amount, fill, read_count, weigh
from bedlore.farm.log import SCALE_ERROR_FRAC
from tests.unit.farm.test_bed import FARM

SCRAPS = "food_mixed_kitchen"
DENSITY = feedstocks.load()[SCRAPS].bulk_density_kg_m3


def said(text: str) -> Amount:
    return weigh(text, SCRAPS, FARM)


def test_a_weight_is_a_weight() -> None:
    assert said("2 lb").mass_kg == pytest.approx(0.90718474, rel=1e-12)
    assert said("2 lb").mass_error_frac == SCALE_ERROR_FRAC


def test_a_volume_takes_the_bulk_density_and_its_error() -> None:
    amount = said("9 L")
    assert amount.mass_kg == pytest.approx(0.009 * DENSITY)
    assert amount.mass_error_frac > 0.2


def test_the_farms_own_bucket() -> None:
    amount = said("half a blue bucket")
    assert (amount.container, amount.count) == ("blue-bucket", 0.5)
    assert amount.mass_kg == pytest.approx(0.5 * 0.009 * DENSITY)
    assert said("1/2 blue bucket").mass_kg == pytest.approx(amount.mass_kg)
    assert said("½ bucket").mass_kg == pytest.approx(amount.mass_kg)  # the only one that ends so
    assert said("two blue buckets of scraps").mass_kg == pytest.approx(4 * amount.mass_kg)


def test_looser_words_mean_wider_errors_not_other_masses() -> None:
    exact, about = said("half a bucket"), said("about half a bucket")
    assert about.mass_kg == pytest.approx(exact.mass_kg)
    assert about.mass_error_frac == pytest.approx(math.hypot(exact.mass_error_frac, 0.25))
    assert said("some").mass_error_frac >= 0.5
    assert said("a handful").mass_error_frac > said("300 ml").mass_error_frac


def test_a_container_with_a_usual_mass_needs_no_density() -> None:
    heavy = FARM.containers[0].model_copy(update={"mass_kg": 6.2, "id": "green", "name": "green"})
    farm = FARM.model_copy(update={"containers": (heavy,)})
    assert fill("green", 0.5, SCRAPS, farm).mass_kg == pytest.approx(3.1)


def test_water_weighs_a_kilogram_a_litre() -> None:
    assert weigh("2 L", None, FARM).mass_kg == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("text", "number"),
    [("half", 0.5), ("about half", 0.5), ("2", 2.0), ("1/4", 0.25), ("a few", 3)],
)
def test_counts(text: str, number: float) -> None:
    assert read_count(text)[0] == pytest.approx(number)


@pytest.mark.parametrize(
    "text", ["", "3", "3 zogs", "bucket bucket", "1/0 bucket", "of", "½½", "-"]
)
def test_what_is_not_understood_is_said(text: str) -> None:
    with pytest.raises(KeeperError):
        said(text)
