"""Worked examples with printed answers from handbooks and extension texts."""

from __future__ import annotations

import pytest

from bedlore.facts import practice, recipe
from bedlore.facts.recipe import Ingredient
from bedlore.units import INCH_M, POUND_KG

FOOT_M = 12 * INCH_M
YARD3_M3 = (3 * FOOT_M) ** 3
GRASS = Ingredient(mass_kg=10.0, moisture_frac=0.77, carbon_frac_dry=0.45, n_frac_dry=0.024)
LEAVES = Ingredient(mass_kg=1.0, moisture_frac=0.35, carbon_frac_dry=0.50, n_frac_dry=0.0075)


def test_w1_moisture_of_grass() -> None:
    """Richard & Trautmann, Cornell moisture text (read as mirrored): 10 g wet grass leave 2.3 g
    dry, printed 77 %."""
    parts = [Ingredient(mass_kg=0.0077, moisture_frac=1.0), Ingredient(0.0023, 0.0)]
    assert recipe.moisture_of_mix(parts) == pytest.approx(0.77, abs=0.005)


def test_w1_leaves_to_bring_grass_to_60_percent() -> None:
    """Same text (read): 10 kg grass at 77 %, leaves 35 %, goal 60 %: printed 6.8 kg."""
    leaves_kg = recipe.mass_for_moisture_kg(GRASS, 0.35, 0.60)
    assert leaves_kg == pytest.approx(6.8, abs=0.05)
    mix = [GRASS, Ingredient(leaves_kg, 0.35)]
    assert recipe.moisture_of_mix(mix) == pytest.approx(0.60, abs=1e-12)


def test_w2_leaves_to_bring_grass_to_30_to_1() -> None:
    """Cornell C:N page (from memory): 10 kg grass and leaves for C:N 30, printed 3.5 kg. The mix
    is then 66 % wet, so two materials cannot meet both goals (derived)."""
    leaves_kg = recipe.mass_for_c_to_n_kg(GRASS, LEAVES, 30.0)
    assert leaves_kg == pytest.approx(3.5, abs=0.05)
    mix = [GRASS, Ingredient(leaves_kg, 0.35, 0.50, 0.0075)]
    assert recipe.c_to_n_of_mix(mix) == pytest.approx(30.0, rel=1e-12)
    assert recipe.moisture_of_mix(mix) == pytest.approx(0.66, abs=0.005)


def test_exact_ratio_of_the_60_percent_mix() -> None:
    """The 6.8 kg mix above has a C:N of 36.7 with those analyses (derived by hand)."""
    assert recipe.c_to_n_of_mix([GRASS, Ingredient(6.8, 0.35, 0.50, 0.0075)]) == pytest.approx(
        36.7, abs=0.05
    )


def test_n1_ratios_are_never_averaged() -> None:
    """An informal page (unnamed) averages 2 parts 20:1 and 1 part 60:1 to 33:1. With equal carbon
    in each part the true ratio is 25.7 (derived); the tool must not say 33."""
    twenty = Ingredient(2.0, 0.0, carbon_frac_dry=0.45, n_frac_dry=0.45 / 20)
    sixty = Ingredient(1.0, 0.0, carbon_frac_dry=0.45, n_frac_dry=0.45 / 60)
    assert recipe.c_to_n_of_mix([twenty, sixty]) == pytest.approx(25.7, abs=0.05)


def test_w3_field_covered_two_inches_deep() -> None:
    """Cornell market-label formula page (read): 350 x 200 ft, 2 in, factor 0.0031: printed 434
    yd3. The factor is rounded; exact geometry gives 432.1, 0.44 % less."""
    area_m2 = 350 * FOOT_M * 200 * FOOT_M
    volume_yd3 = practice.spread_volume_m3(area_m2, 2 * INCH_M) / YARD3_M3
    assert volume_yd3 == pytest.approx(434, rel=0.005)
    assert volume_yd3 == pytest.approx(432.1, abs=0.05)


def test_w5_what_a_cubic_yard_covers() -> None:
    """A recycling operator's page, unnamed (read): 1 yd3 at 1/3 in covers 972 ft2, and 324 ft2
    at 1 in (also read)."""
    for depth_in, printed_ft2 in ((1 / 3, 972), (1.0, 324)):
        area_m2 = practice.spread_area_m2(YARD3_M3, depth_in * INCH_M)
        assert area_m2 / FOOT_M**2 == pytest.approx(printed_ft2, abs=0.5)


def test_w8_volume_rule() -> None:
    """Extension text, issuer not shown (read): a bed of 1 x 1 x 2 ft takes 2 lb a week. The area
    rule of a state extension service (read: 1 lb a week for 1 ft2) gives half of it there."""
    two_cubic_feet = practice.weekly_scraps_by_volume_kg(FOOT_M, FOOT_M, 2 * FOOT_M)
    assert two_cubic_feet / POUND_KG == pytest.approx(2.0)
    assert practice.weekly_scraps_by_area_kg(FOOT_M, FOOT_M) / POUND_KG == pytest.approx(1.0)


def test_w9_pot_of_seven_inches() -> None:
    """Informal page, unnamed (read): a pot 7 in wide and 7 in tall holds 4.4 L, 1.17 US gal."""
    volume_m3 = practice.cylinder_volume_m3(7 * INCH_M, 7 * INCH_M)
    assert volume_m3 * 1000 == pytest.approx(4.4, abs=0.05)
    assert volume_m3 / (231 * INCH_M**3) == pytest.approx(1.17, abs=0.005)
