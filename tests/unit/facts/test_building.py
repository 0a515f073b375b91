from __future__ import annotations

from collections import defaultdict

import pytest

from bedlore.errors import KeeperError
from bedlore.facts import building
from bedlore.facts.feedstocks import plain


def test_every_material_is_whole_and_within_its_own_range() -> None:
    for material in building.MATERIALS.values():
        assert material.source, material.id
        assert material.known in ("read", "memory", "mixed", "assumed"), material.id
        assert material.use in ("wall", "cover", "ground"), material.id
        assert 0 < material.vapour_frac <= 1, material.id
        low = material.k_low_w_mk if material.k_low_w_mk is not None else material.k_w_mk
        high = material.k_high_w_mk if material.k_high_w_mk is not None else material.k_w_mk
        assert 0 < low <= material.k_w_mk <= high, material.id
        assert 1e4 < material.heat_capacity_j_m3k < 5e6, material.id


def test_no_name_means_two_materials() -> None:
    meanings = defaultdict(set)
    for name, id_ in building.names().items():
        meanings[plain(name)].add(id_)
    assert {name for name, ids in meanings.items() if len(ids) > 1} == set()


def test_foam_holds_heat_better_than_wood_and_wet_worse_than_dry() -> None:
    k = {id_: material.k_w_mk for id_, material in building.MATERIALS.items()}
    assert k["expanded_polystyrene"] < k["plywood"] < k["concrete"]
    assert k["shredded_paper"] < k["wet_cover"] / 5
    assert k["gravel"] < k["gravel_wet"] / 3


def test_wall_of_layers_adds_up() -> None:
    """12 mm plywood and 50 mm foam at the side: 0.1 + 0.05 / 0.036 + 0.12."""
    layers = [("plywood", 0.012), ("expanded_polystyrene", 0.05)]
    resistance = building.wall_resistance_m2k_w(layers, "side")
    assert resistance == pytest.approx(0.1 + 0.05 / 0.036 + 0.12)
    assert building.wall_resistance_m2k_w([], "up") == building.FILM_M2KW["up"]


def test_faults_are_sentences() -> None:
    with pytest.raises(KeeperError, match="not a building material"):
        building.wall_resistance_m2k_w([("unobtainium", 0.1)], "side")
    with pytest.raises(KeeperError, match="Write a thickness"):
        building.material("plywood").resistance_m2k_w(-0.01)
