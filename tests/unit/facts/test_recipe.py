from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedlore.errors import KeeperError
from bedlore.facts import recipe
from bedlore.facts.feedstocks import find
from bedlore.facts.recipe import Ingredient

shares = st.floats(0.05, 0.95)


@given(first=shares, second=shares, goal=shares, mass_kg=st.floats(0.01, 1000))
def test_moisture_goal_is_met_or_refused(
    first: float, second: float, goal: float, mass_kg: float
) -> None:
    """Whenever the goal lies between the two, the answer put back into the mix meets it."""
    one = Ingredient(mass_kg, first)
    if goal == first:
        assert recipe.mass_for_moisture_kg(one, second, goal) == 0.0
    elif min(first, second) < goal < max(first, second):
        other_kg = recipe.mass_for_moisture_kg(one, second, goal)
        mix = [one, Ingredient(other_kg, second)]
        assert recipe.moisture_of_mix(mix) == pytest.approx(goal, abs=1e-9)
    else:
        with pytest.raises(KeeperError, match="no amount"):
            recipe.mass_for_moisture_kg(one, second, goal)


def test_two_wet_materials_cannot_make_a_dry_mix() -> None:
    with pytest.raises(KeeperError, match="Take a drier one"):
        recipe.mass_for_moisture_kg(Ingredient(10, 0.9), 0.8, 0.6)


def test_two_rich_materials_cannot_make_a_lean_mix() -> None:
    rich = recipe.ingredient(find("hen manure"), 1.0)
    richer = recipe.ingredient(find("fresh hen manure"), 1.0)
    with pytest.raises(KeeperError, match="richer in carbon"):
        recipe.mass_for_c_to_n_kg(rich, richer, 30.0)


def test_an_empty_mix_and_one_without_nitrogen_are_refused() -> None:
    with pytest.raises(KeeperError, match="nothing in the mix"):
        recipe.moisture_of_mix([])
    with pytest.raises(KeeperError, match="no nitrogen"):
        recipe.c_to_n_of_mix([recipe.ingredient(find("garden lime"), 1.0)])


def test_what_does_not_decay_is_left_out_of_the_ratio() -> None:
    scraps = recipe.ingredient(find("kitchen scraps"), 5.0)
    char = recipe.ingredient(find("biochar"), 5.0)
    assert recipe.c_to_n_of_mix([scraps, char]) == recipe.c_to_n_of_mix([scraps])
