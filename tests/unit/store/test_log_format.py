"""Cells and columns of the log format."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedlore.farm.bed import Bed, Zone
from bedlore.farm.log import ENTRY_KINDS, Part
from bedlore.farm.model import Container, Farm, Preferences, StoreItem
from bedlore.farm.site import Building, Normals, Site
from bedlore.store.log_format import COLUMNS, escape_cell, known_column, unescape_cell

DOCS = Path(__file__).parents[3] / "docs" / "formats"


@given(st.text())
def test_cells_come_back(text: str) -> None:
    assert unescape_cell(escape_cell(text)) == text


@given(st.text())
def test_no_cell_is_a_formula_or_breaks_the_line(text: str) -> None:
    cell = escape_cell(text)
    number = re.fullmatch(r"-?\d+(\.\d+)?([eE][+-]?\d+)?", cell)
    assert number or not cell.startswith(("=", "+", "-", "@", "\t", "\r"))
    assert "\n" not in cell


def test_every_field_of_every_kind_has_a_column() -> None:
    fields = {name for record in ENTRY_KINDS.values() for name in record.model_fields}
    fields |= {"amount" if name == "words" else name for name in Part.model_fields}
    assert fields - {"parts"} == set(COLUMNS) - {"part"}


@pytest.mark.parametrize("name", ["temp", "temp_f", "mass", "mass_lb", "depth_in", "worms_g"])
def test_short_columns_are_known(name: str) -> None:
    assert known_column(name)
    assert not known_column(name + "x")


def test_every_key_of_the_log_is_documented() -> None:
    page = (DOCS / "log.md").read_text("utf-8")
    missing = [name for name in COLUMNS if f"`{name}`" not in page]
    missing += [kind for kind in ENTRY_KINDS if f"`{kind}`" not in page]
    assert missing == []


def test_every_key_of_the_farm_file_is_documented() -> None:
    page = (DOCS / "farm.md").read_text("utf-8")
    records = (Farm, Site, Normals, Building, Bed, Zone, StoreItem, Container, Preferences)
    missing = [
        f"{record.__name__}.{name}"
        for record in records for name in record.model_fields if f"`{name}`" not in page
    ]
    assert missing == []
