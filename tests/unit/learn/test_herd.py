"""The herd in words: how many, how sure, and what is said when none are left."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from bedlore.facts.practice import HANDFUL_L
from bedlore.learn.calibrate import calibrate
from bedlore.learn.herd import STOP_SE, herd_of, stage_mass_kg, stop_at, worth_counting
from bedlore.learn.record import Learnt
from bedlore.service.learnt_words import counting_words, herd_words
from tests.twin_world import make_world

BED = "sluice"
ZONES = ("z0", "z1")


@pytest.fixture(scope="module")
def learnt() -> Learnt:
    world = make_world(5, days=8, per_fortnight=10)
    return calibrate([world.lesson(24)])[BED]


def with_worms(learnt: Learnt, factor: np.ndarray) -> Learnt:
    """The same bed with ``factor`` ``[M, Z]`` of its worms, cocoons left where they are."""
    herd = learnt.state.herd
    fewer = {
        name: getattr(herd, name) * factor
        for name in ("adult_n", "juvenile_n", "hatchling_n", "adult_kg", "juvenile_kg",
                     "hatchling_kg")
    }  # fmt: skip
    return replace(learnt, state=replace(learnt.state, herd=herd._replace(**fewer)))


def said_of(learnt: Learnt) -> tuple[str, str]:
    worth = worth_counting(learnt, ZONES, learnt.litres)
    return herd_words(herd_of(learnt, ZONES)), counting_words(worth, "the race")


def test_a_herd_that_died_out_is_said_to_have_and_nothing_is_to_be_counted(learnt) -> None:
    gone = with_worms(learnt, np.full((24, 2), 1e-9))
    assert worth_counting(gone, ZONES, learnt.litres) is None
    herd, counting = said_of(gone)
    assert "no worms are left" in herd
    assert "nearly certain" in herd
    assert "+-" not in herd + counting
    assert "lift a few handfuls" in counting
    assert not re.search(r"\d", counting)


def test_the_herds_mass_is_that_of_its_stages_and_of_its_zones(learnt) -> None:
    """Sums that the middles of bands keep, where all members are alike."""
    alike = replace(learnt, state=learnt.state.pick(np.zeros(3, int)),
                    z=learnt.z[[0, 0, 0]], params=learnt.params[[0, 0, 0]])  # fmt: skip
    herd = herd_of(alike, ZONES)
    for parts in (stage_mass_kg(alike), herd.by_zone_kg):
        assert sum(part.middle for part in parts.values()) == pytest.approx(herd.mass_kg.middle)


def test_cocoons_that_may_still_hatch_are_told(learnt) -> None:
    assert "may still hatch" in said_of(with_worms(learnt, np.full((24, 2), 1e-9)))[0]
    gone = with_worms(learnt, np.full((24, 2), 1e-9)).state
    bare = gone.herd._replace(cocoon_n=np.zeros_like(gone.herd.cocoon_n))
    assert "hatch" not in said_of(replace(learnt, state=replace(gone, herd=bare)))[0]
    bare.cocoon_n[:, 0, 0] = 1.0
    one = said_of(replace(learnt, state=replace(gone, herd=bare)))[0]
    assert one.endswith("One cocoon may still hatch.")


def test_odds_that_the_herd_is_lost_stand_beside_the_numbers_of_one_that_lives(learnt) -> None:
    some = np.ones((24, 2))
    some[:7] = 1e-9  # 29 in 100
    herd, counting = said_of(with_worms(learnt, some))
    assert "about 3 in 10 beds like this one" in herd
    # The range is that of the beds in which worms live, not one from none to thousands.
    whole = worth_counting(learnt, ZONES, learnt.litres)
    partly = worth_counting(with_worms(learnt, some), ZONES, learnt.litres)
    assert partly.now < 2.0 * whole.now
    assert "handfuls" in counting


def test_no_one_is_told_to_count_more_handfuls_than_the_bed_holds(learnt) -> None:
    thin = worth_counting(with_worms(learnt, np.full((24, 2), 0.05)), ZONES, learnt.litres)
    assert thin is not None
    assert 1 <= thin.dozens <= sum(learnt.litres) / HANDFUL_L + 1
    assert "Counts alone will not make it" in counting_words(replace(thin, dozens=9000), "the race")
    assert "takes one handful." in counting_words(replace(thin, dozens=1), "the race")
    assert "takes 2 handfuls." in counting_words(replace(thin, dozens=2), "the race")


def test_worms_that_have_moved_on_in_most_members_give_no_nonsense(learnt) -> None:
    """The zone that is most unsure holds none in most members: the median count there is nought."""
    moved = np.ones((24, 2))
    moved[:18, 0], moved[18:, 0] = 0.0, 40.0
    worth = worth_counting(with_worms(learnt, moved), ZONES, learnt.litres)
    assert worth.zone_id == "z0"
    assert worth.mean_a_core > 0.01
    assert worth.dozens <= sum(learnt.litres) / HANDFUL_L + 1


def test_how_many_handfuls_halve_the_range_is_told_only_where_six_do_not(learnt) -> None:
    worth = worth_counting(learnt, ZONES, learnt.litres)
    slow = replace(worth, now=1.0, after={3: 0.9, 6: 0.8, 12: 0.6, 24: 0.5})
    assert "; 12 would nearly halve the range." in counting_words(slow, "the race")
    for after in ({3: 0.7, 6: 0.5}, {3: 0.9, 6: 0.8}):
        assert "halve" not in counting_words(replace(slow, after=after), "the race")


def test_when_to_stop_counting_is_told(learnt) -> None:
    """k = 1.5 before anything is counted: 12 handfuls ask for 1/(0.09 - 1/18) = 29.03 worms, 36 for
    1/(0.09 - 1/54) = 13.99."""
    worth = replace(worth_counting(learnt, ZONES, learnt.litres),
                    stop={n: stop_at(n, 1.5, STOP_SE) for n in (12, 36)})  # fmt: skip
    assert "30 worms in 12 handfuls, 14 worms in 36 handfuls." in counting_words(worth, "the race")
    own = worth_counting(learnt, ZONES, learnt.litres).stop
    assert list(own.values()) == sorted(own.values(), reverse=True)
    assert "can stop" not in counting_words(replace(worth, stop={}), "the race")
