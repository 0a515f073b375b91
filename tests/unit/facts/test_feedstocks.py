from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

import pytest

from bedlore.errors import KeeperError
from bedlore.facts import feedstocks
from bedlore.facts.aliases import FEEDSTOCK_ALIASES
from bedlore.facts.feedstocks import find, load, names, plain, pools

PLAIN_WORDS = {
    "cafe peelings": "food_veg_trimmings",
    "Coffee grounds": "food_coffee_grounds",
    "aged goat bedding": "man_goat_sheep",
    "egg-tray pulp": "bed_egg_carton",
    "flour sacks": "bed_kraft_paper",
    "oat husk": "bed_oat_husk",
    "leaf mould": "bed_leaf_mold",
    "walnut leaf": "avoid_walnut_eucalyptus",
    "spent mash": "food_brewery_grain",
    "stale rye bread": "food_bread",
    "pretzel crumbs": "food_salted_crumbs",
    "eggshell": "food_eggshell",
    "man_horse_aged": "man_horse_aged",
}


@pytest.mark.parametrize(("words", "id_"), PLAIN_WORDS.items())
def test_plain_words_are_understood(words: str, id_: str) -> None:
    assert find(words).id == id_


def test_no_name_means_two_materials() -> None:
    meanings = defaultdict(set)
    for name, id_ in names().items():
        meanings[plain(name)].add(id_)
    assert {name for name, ids in meanings.items() if len(ids) > 1} == set()
    assert set(FEEDSTOCK_ALIASES) <= set(load())


def test_an_unknown_name_is_answered_with_near_ones() -> None:
    with pytest.raises(KeeperError, match='Did you mean "coffee grounds"'):
        find("coffe groundz")
    with pytest.raises(KeeperError, match=r"docs/materials\.md"):
        find("qqqqqq")


def test_every_row_is_whole_and_within_its_own_range() -> None:
    for stock in load().values():
        assert stock.source, stock.id
        assert stock.known in ("read", "memory", "mixed", "common practice"), stock.id
        assert stock.group in ("food", "manure", "bedding", "yard", "other", "mineral"), stock.id
        assert stock.decay_speed in feedstocks.SPEED_SHARES, stock.id
        # Salt is a part of the ash; the rest of the dry matter is organic.
        assert stock.ash_frac_dry + stock.starch_frac_dry <= 1.0, stock.id
        assert stock.salt_frac_dry <= stock.ash_frac_dry + 0.005, stock.id
        assert 0.0 <= stock.food_quality <= 1.0, stock.id
        for value, span in (
            (stock.moisture_frac, stock.moisture_span),
            (stock.n_frac_dry, stock.n_span),
            (stock.c_to_n, stock.c_to_n_span),
            (stock.bulk_density_kg_m3, stock.bulk_density_span),
        ):
            if span.low is not None and span.high is not None and value is not None:
                assert span.low - 1e-9 <= value <= span.high + 1e-9, stock.id


def test_carbon_is_never_taken_from_an_impossible_pair() -> None:
    """The table's own flag decides; carbon can be no more than organic matter holds."""
    for stock in load().values():
        organic = 1 - stock.ash_frac_dry
        assert stock.carbon_frac_dry <= 0.62 * organic + 1e-12, stock.id
    assert find("biochar").carbon_frac_dry == pytest.approx(0.5797 * 0.85)
    assert find("cheese").carbon_frac_dry == pytest.approx(0.5797 * 0.94)
    assert find("kitchen scraps").carbon_frac_dry == pytest.approx(0.384)
    assert find("wood ash").carbon_frac_dry == 0.0


def test_a_kilogram_adds_up() -> None:
    for stock in load().values():
        made = pools(stock)
        assert made.dry_kg + made.water_kg == pytest.approx(1.0, abs=1e-15)
        assert sum(made.carbon_kg) == pytest.approx(made.dry_kg * stock.carbon_frac_dry, rel=1e-12)
        assert sum(made.nitrogen_kg) == pytest.approx(made.dry_kg * stock.n_frac_dry, rel=1e-12)
        assert min(*made.carbon_kg, *made.nitrogen_kg) >= -1e-15, stock.id


def test_kitchen_scraps_by_hand() -> None:
    """0.22 dry x 0.384 C; lignin 6 / 0.92 = 6.52 % of organic matter leaves 0.6474 to decay."""
    made = pools(find("kitchen scraps"))
    carbon = 0.22 * 0.384
    decaying = 0.83 - 0.028 * 6 / 0.92
    assert made.carbon_kg == pytest.approx(
        (0.6 * decaying * carbon, 0.4 * decaying * carbon, 0.0, (1 - decaying) * carbon)
    )
    assert made.ash_kg == pytest.approx(0.22 * 0.08)
    weights = (1.4 * 0.6 * decaying, 1.1 * 0.4 * decaying, 0.0, 1 - decaying)
    assert made.nitrogen_kg == pytest.approx(
        tuple(0.22 * 0.024 * w / sum(weights) for w in weights)
    )


def test_card_decays_slowly_and_lime_not_at_all() -> None:
    card = pools(find("cardboard")).carbon_kg
    assert card[0] == 0.0
    assert card[2] > 5 * card[1]
    assert pools(find("garden lime")).carbon_kg == (0.0, 0.0, 0.0, 0.0)
    assert pools(find("biochar")).carbon_kg[:3] == (0.0, 0.0, 0.0)


def test_a_wetter_load_brings_less_dry_matter() -> None:
    wet = pools(find("horse manure"), moisture_frac=0.8)
    dry = pools(find("horse manure"), moisture_frac=0.6)
    assert sum(dry.carbon_kg) == pytest.approx(2 * sum(wet.carbon_kg))
    for moisture in (-0.1, 1.0, 75.0, float("nan")):
        with pytest.raises(KeeperError, match="moisture"):
            pools(find("horse manure"), moisture_frac=moisture)


def test_biodegradable_share_has_a_floor() -> None:
    woody = replace(find("cardboard"), lignin_frac_dry=0.45)
    assert woody.biodegradable_frac == feedstocks.BIODEGRADABLE_FLOOR


def test_cautions_never_promise_or_threaten() -> None:
    """Words that a tool for living things must not use."""
    for stock in load().values():
        words = f"{stock.name} {stock.caution}".lower()
        for word in ("safe", "guaranteed", "cures", "kills"):
            assert word not in words, (stock.id, word)
