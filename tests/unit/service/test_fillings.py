"""What weighings tell of a container: with few the farm file holds, with many the scale."""

from __future__ import annotations

import datetime as dt
import math

import pytest

from bedlore.farm.amounts import bulk_density, fill, weigh
from bedlore.farm.interpret import Interpreter
from bedlore.farm.log import SCALE_ERROR_FRAC
from bedlore.farm.model import Container
from bedlore.service.fillings import LearntFillings, Weighing, weighings_in
from tests.unit.farm.test_bed import FARM

SCRAPS, MANURE = "food_mixed_kitchen", "man_horse_fresh"
NOW = dt.datetime(2026, 2, 1, 8, tzinfo=dt.UTC)
BUCKET = Container.model_validate({"id": "bucket", "volume": "10 L", "fill_error": "15 %"})
BOOK_KG = 10 / 1000 * bulk_density(SCRAPS)[0]


def learnt(*masses: float, material: str = SCRAPS, count: float = 1.0) -> LearntFillings:
    return LearntFillings(lambda: [Weighing("bucket", material, count, m) for m in masses])


def test_without_a_weighing_nothing_is_learnt() -> None:
    assert learnt().of(BUCKET, SCRAPS) is None
    other = LearntFillings(lambda: [Weighing("pail", SCRAPS, 1.0, 3.0)])
    assert other.of(BUCKET, SCRAPS) is None


@pytest.mark.parametrize("count", [1, 3, 8])
def test_it_shrinks_to_the_book_as_theory_says(count: int) -> None:
    # One material: normal prior of variance fill2 + density2, readings of variance fill2 + scale2.
    heavier = 1.4
    found = learnt(*[BOOK_KG * heavier] * count).of(BUCKET, SCRAPS)
    assert found is not None
    prior = 0.15**2 + bulk_density(SCRAPS)[1] ** 2
    reading = 0.15**2 + SCALE_ERROR_FRAC**2
    weight = prior / (prior + reading / count)
    assert found.mass_kg == pytest.approx(BOOK_KG * heavier**weight)
    left = 1 / (1 / prior + count / reading)
    assert found.error_frac == pytest.approx(math.sqrt(left + 0.15**2))
    assert found.weighings == count


def test_weighing_one_material_tells_something_of_another() -> None:
    seven = learnt(*[BOOK_KG * 1.4] * 7)
    manure = 10 / 1000 * bulk_density(MANURE)[0]
    found = seven.of(BUCKET, MANURE)
    assert found is not None
    same = seven.of(BUCKET, SCRAPS)
    assert same is not None
    assert 1.0 < found.mass_kg / manure < same.mass_kg / BOOK_KG
    assert found.error_frac > same.error_frac


def test_a_mass_of_the_farm_file_is_the_prior_where_there_is_one() -> None:
    pail = Container.model_validate({"id": "bucket", "mass": "6 kg"})
    found = learnt(*[7.0] * 20).of(pail, MANURE)
    assert found is not None
    assert 6.5 < found.mass_kg < 7.0


def test_a_slip_of_the_pen_teaches_nothing() -> None:
    assert learnt(BOOK_KG * 60).of(BUCKET, SCRAPS) is None
    honest = learnt(BOOK_KG).of(BUCKET, SCRAPS)
    assert learnt(BOOK_KG, BOOK_KG * 60).of(BUCKET, SCRAPS) == honest


def test_half_a_bucket_is_read_by_what_was_learnt() -> None:
    farm = FARM.model_copy(update={"containers": (BUCKET,)})
    known = learnt(*[BOOK_KG * 1.4] * 7)
    filling = known.of(BUCKET, SCRAPS)
    assert filling is not None
    assert weigh("half a bucket", SCRAPS, farm, known).mass_kg == pytest.approx(filling.mass_kg / 2)
    assert fill("bucket", 2, SCRAPS, farm, known).mass_kg == pytest.approx(filling.mass_kg * 2)
    assert fill("bucket", 2, SCRAPS, farm).mass_kg == pytest.approx(BOOK_KG * 2)


def test_only_what_a_scale_told_is_a_weighing() -> None:
    farm = FARM.model_copy(update={"containers": (BUCKET,)})
    read = Interpreter(farm, NOW)
    raw = {"kind": "feed", "at": "2026-01-20", "bed": "sluice", "material": SCRAPS}
    told = [
        {"container": "bucket", "count": "0.5", "mass_kg": "2.9 kg"},
        {"container": "bucket", "count": "1"},
        {"amount": "half a bucket"},
        {"amount": "2.9 kg"},
        {"container": "bucket", "count": "1", "amount": "about 6 kg"},
    ]
    entries = [read.read({"id": f"e{k}", **raw, **one}).entry for k, one in enumerate(told)]
    assert all(entries)
    assert weighings_in(entries, farm) == [Weighing("bucket", SCRAPS, 0.5, 2.9)]
