"""Geometry of the model from the farm file, against sizes worked by hand."""

from __future__ import annotations

import pytest

from bedlore.bed.build import bed_geometry, cell_count, layers_r
from bedlore.farm.bed import Layer
from tests.unit.bed.beds import stack, two_sided


def test_quarters_share_the_floor_and_the_walls() -> None:
    g = bed_geometry(two_sided())
    assert g.area_m2 == pytest.approx([0.3375] * 4)
    assert g.side_m.sum() == pytest.approx(2 * (1.8 + 0.75)), "together, the bed's own outline"
    assert g.link_zone.tolist() == [[0, 1], [1, 2], [2, 3]]
    assert g.link_gap_m == pytest.approx([0.45] * 3)
    assert list(g.column_end - g.column_start) == [1, 1, 1, 1]


def test_trays_are_one_column_of_heat() -> None:
    g = bed_geometry(stack())
    assert (list(g.column_start), list(g.column_end)) == ([0], [3])
    assert g.side_m == pytest.approx([2.0] * 3)
    assert g.link_width_m.max() == 0.0, "trays pass heat down the column, not sideways"


def test_layers_add_their_resistance() -> None:
    # 12 mm plywood 0.012 / 0.12 = 0.10 (ASHRAE, from memory); 50 mm XPS 1.724 (lecture notes).
    layers = (Layer(material="plywood", thickness_m=0.012),
              Layer(material="extruded_polystyrene", thickness_m=0.05))  # fmt: skip
    assert layers_r(layers) == pytest.approx(0.10 + 0.05 / 0.031, rel=0.1)


def test_a_liner_keeps_water_in_and_a_lid_keeps_vapour_in() -> None:
    assert bed_geometry(two_sided(drainage={"kind": "liner"})).drains == 0.0
    lid = [{"material": "larch", "thickness_m": 0.02}]
    loose = bed_geometry(two_sided(lid=lid)).lid_leak[0]
    sealed = bed_geometry(two_sided(lid=lid, lid_sealed=True)).lid_leak[0]
    assert sealed < loose < bed_geometry(two_sided()).lid_leak[0]


def test_many_zones_get_fewer_cells() -> None:
    assert cell_count(two_sided()) == 12
    assert cell_count(stack(zones=[{"id": f"t{i}"} for i in range(5)])) == 8
