"""The table of the coming days: nothing of it is cut off."""

from __future__ import annotations

import io
from typing import Any

from rich.console import Console

from bedlore.cli.outlook import _COLUMNS, _table
from bedlore.service.shown import Shown

COLD = {"temp_coldest_c": (-25.0, -18.0, -12.0), "temp_probe_c": (-20.0, -15.0, -11.0),
        "temp_warmest_c": (-18.0, -14.0, -10.5)}  # fmt: skip


def test_a_narrow_terminal_folds_ranges_and_cuts_nothing() -> None:
    days = [f"2026-01-{day}T23:00:00Z" for day in range(13, 16)]
    whole: dict[str, Any] = {}
    for name, _, _ in _COLUMNS:
        low, mid, high = COLD.get(name, (0.5, 0.6, 0.7))
        whole[name] = [[value] * len(days) for value in (low, low, mid, high, high)]
    out = io.StringIO()
    table = _table({"times": days, "whole": whole}, "UTC", Shown("us"))
    Console(file=out, width=80).print(table)
    text = out.getvalue()
    assert "…" not in text
    assert "Tue 13 Jan" in text
