"""Worms taken indoors before bad weather."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import numpy as np

from bedlore.decide.case import Case
from bedlore.decide.lifeboat import indoor_herd, lifeboat_of
from bedlore.facts.parameters import draw

from .conftest import bed_of, feed

Make = Callable[..., Case]
BED = bed_of()


def test_mild_weather_calls_for_none(make_case: Make) -> None:
    found = lifeboat_of(make_case(BED, feeds=[feed(20, BED, 1.0)]))
    assert found.event == ""
    assert found.worms_kg == 0.0


def test_a_hard_frost_calls_for_some_worms_indoors(make_case: Make) -> None:
    case = make_case(BED, feeds=[feed(20, BED, 1.0)], past_c=6.0, ahead_c=-8.0)
    found = lifeboat_of(case)
    assert found.event == "cold"
    assert 0.0 < found.worms_kg <= 0.5 * case.worms_kg.sum() + 1e-9
    assert found.castings_l > 0.0
    assert found.when is not None
    assert case.now <= found.when <= case.now + dt.timedelta(days=14)
    assert "indoors" in found.words


def test_a_boxed_herd_grows_and_more_worms_are_back_sooner() -> None:
    params = draw(12, 3)
    few = indoor_herd(params, 0.1, np.full(12, 50.0), 1.0, 60)
    more = indoor_herd(params, 0.4, np.full(12, 200.0), 1.0, 60)
    # A few members have boxes where rotting scraps give off too much ammonia for either herd.
    assert np.mean(more[:, -1] > few[:, -1]) > 0.75
    assert np.median(more[:, -1]) > 1.5 * np.median(few[:, -1])
    assert np.median(few[:, -1]) > 0.1
