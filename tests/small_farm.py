"""A small invented farm as files: one bed in a shed, and the log of it."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

_HEAD = """
name = "Ousel Mill Kitchen Garden"
[site]
latitude_deg = 52.0
longitude_deg = 1.0
time_zone = "UTC"
[site.normals]
daily_low_c = [1, 1, 2, 4, 7, 10, 12, 12, 10, 7, 4, 2]
daily_high_c = [7, 8, 11, 14, 17, 20, 23, 23, 20, 15, 11, 8]
rh_frac = 0.8
[site.building]
kind = "shed"
[[beds]]
id = "sluice"
name = "Sluice bed"
length = "1.2 m"
width = "0.7 m"
depth = "0.4 m"
place = "indoors"
"""


def farm_text(started: str, **sides: str) -> str:
    """The farm file: a bed begun on ``started`` with the worms of each of its sides."""
    zones = [f'[[beds.zones]]\nid = "{side}"\nworms = "{worms}"\n' for side, worms in sides.items()]
    return f"{_HEAD}started = {started}\n{''.join(zones)}"


SPRING = farm_text("2025-03-01", race="0.5 kg")
TWO_SIDES = farm_text("2025-04-20", race="0.5 kg", bank="0.3 kg")


def write_farm(folder: Path, text: str, entries: Iterable[dict[str, Any]]) -> Path:
    """``folder`` as the folder of a farm with these entries, all of the bed "sluice"."""
    (folder / "farm.toml").write_text(text, "utf-8")
    lines = [json.dumps({"bed": "sluice", **entry}) + "\n" for entry in entries]
    (folder / "log.jsonl").write_text("".join(lines), "utf-8")
    return folder


def feed(number: str, at: str, mass_kg: float, material: str = "food_mixed_kitchen",
         **more: str) -> dict[str, Any]:  # fmt: skip
    """A meal as a line of the log."""
    return {"kind": "feed", "id": number, "at": at,
            "parts": [{"material": material, "mass_kg": mass_kg}], **more}  # fmt: skip
