"""Odds, ranges and amounts in words."""

from __future__ import annotations

import pytest

from bedlore.decide.action_words import own_word
from bedlore.decide.cautions import cautions_for
from bedlore.decide.records import Action
from bedlore.decide.words import (
    Speech,
    denominator_for,
    listed,
    never_seen,
    odds_short,
    odds_words,
    range_words,
)
from bedlore.farm.model import Container, StoreItem


def test_none_of_200_still_means_one_in_sixty() -> None:
    # 95 % bound 1 - 0.05^(1/200) = 1.49 % (exact binomial): 1 in 67, said as 60.
    assert never_seen(200) == 60
    assert "fewer than 1 in 60" in odds_words(0.0, 200)
    assert never_seen(32) == 10


@pytest.mark.parametrize(
    ("p", "word", "count"),
    [
        (0.01, "very unlikely", "about 1 in 100"),
        (0.10, "unlikely but real", "about 1 in 10"),
        (0.50, "even odds", "about 5 in 10"),
        (0.90, "very likely", "about 9 in 10"),
    ],
)
def test_words_and_numbers_stand_together(p: float, word: str, count: str) -> None:
    said = odds_words(p, 200, "nights like this")
    assert word in said
    assert count in said
    assert said.endswith("nights like this")


def test_no_odds_promise() -> None:
    for i in range(201):
        said = odds_words(i / 200, 200).lower()
        assert not any(word in said for word in ("safe", "guarantee", "never", "certainly not"))


def test_odds_shown_together_share_a_denominator() -> None:
    assert denominator_for([0.0, 0.3, 0.5]) == 10
    assert denominator_for([0.02, 0.5]) == 100
    assert odds_short(0.5, 200, 100) == "50 in 100"
    assert odds_short(0.0, 200) == "fewer than 1 in 60"


def test_a_range_is_rounded_to_what_it_bears() -> None:
    assert range_words(4.12, 6.3, 9.2, "kg") == "between 4 and 9 kg, most likely 6"
    assert range_words(0.61, 0.61, 0.61, "") == "about 0.6"
    assert "-0" not in range_words(-0.04, 0.2, 3.0, "degC").replace("-0.", "x")


def test_amounts_in_the_keepers_units_and_containers() -> None:
    bucket = Container(id="blue-bucket", name="blue bucket", volume_l=9.0)
    say = Speech("metric", (bucket,))
    # 9 L of mixed scraps at 500 kg/m3 are 4.5 kg.
    assert say.amount("food_mixed_kitchen", 4.5) == "4.5 kg (about one blue bucket)"
    assert say.amount("food_mixed_kitchen", 2.3) == "2.3 kg (about half a blue bucket)"
    assert say.in_containers("food_mixed_kitchen", 0.1) == ""
    us = Speech("us")
    assert us.temp(4.0) == "39 degF"
    assert us.mass(0.9072) == "2 lb"
    assert us.kelvin(5.0) == "9 degF"


def test_lists() -> None:
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert listed([]) == ""


@pytest.mark.parametrize("first", [0, 1, 2])
def test_advice_calls_a_material_as_the_keeper_does(first: int) -> None:
    """Of several lots the one that may be used; what is kept apart lends no name."""
    lots = [
        StoreItem(material="food_bread", name="doubtful loaves", mass_kg=9.0, hold=True),
        StoreItem(material="food_bread", name="stale rye", mass_kg=2.0),
        StoreItem(material="food_bread", name="crusts", mass_kg=0.5),
    ]
    store = (*lots[first:], *lots[:first])
    assert own_word(store, "food_bread") == "stale rye"
    assert own_word(store, "food_apple") == ""
    fed = Action("feed", parts=(("food_bread", 1.0),))
    told = " ".join(cautions_for(fed, store, cold=False, hot=False))
    assert "Stale rye: " in told
    assert "Bread" not in told
