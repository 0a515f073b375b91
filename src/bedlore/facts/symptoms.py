"""What is found in a bed that is not well, and how often each cause shows it.

``symptoms.csv`` beside this file holds P(finding | cause). Which cause shows what is copied with
its source; how often is our own judgement, since no source counts it. The same holds for the
shares in :data:`USUAL` and :data:`CHANCE`.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Literal

Kind = Literal["symptom", "check", "log"]

# Share of beds that have the cause when a keeper asks for first aid and nothing else is known.
USUAL: Mapping[str, float] = {
    "overfed": 0.12, "wet": 0.10, "bare_food": 0.07, "worked_out": 0.06, "dry": 0.06,
    "sour": 0.05, "drain": 0.04, "ammonia": 0.04, "hot": 0.04, "cold": 0.04, "wet_top": 0.04,
    "acid": 0.03, "new_bed": 0.03, "raided": 0.03, "thermometer": 0.03, "meat": 0.02,
    "nest": 0.02, "salt": 0.02, "soldier": 0.02, "residue": 0.01,
}  # fmt: skip
# Share of beds without any of the causes that show the finding all the same.
CHANCE: Mapping[Kind, Mapping[str, float]] = {
    "symptom": {
        "rotten": 0.02, "sharp": 0.01, "sour_smell": 0.02, "climbing": 0.04, "dying": 0.005,
        "pale": 0.03, "fewer": 0.03, "fruit_flies": 0.06, "gnats": 0.04, "maggots": 0.02,
        "red_mites": 0.06, "pale_mites": 0.25, "springtails": 0.30, "potworms": 0.12,
        "ants": 0.03, "water": 0.02, "crumbly": 0.03, "heat": 0.01, "frozen": 0.005,
        "mould": 0.15, "food_stays": 0.03, "odd_reading": 0.02,
    },
    "check": {
        "runs": 0.12, "uneaten": 0.08, "slime": 0.03, "acid_strip": 0.04, "beads": 0.005,
        "base": 0.03, "open_food": 0.10, "meat_found": 0.02, "tunnels": 0.03,
        "all_castings": 0.15, "trail": 0.02, "big_larvae": 0.01, "second_probe": 0.03,
        "wet_skin": 0.08, "wormed": 0.10,
    },
    "log": {
        "fed_starch": 0.10, "fed_manure": 0.12, "fed_salty": 0.05, "fed_citrus": 0.05,
        "fed_meat": 0.01, "young_bed": 0.05, "long_unfed": 0.08,
    },
}  # fmt: skip


@cache
def links() -> Mapping[tuple[str, str], float]:
    """P(finding | cause alone) by (finding, cause)."""
    return {(row["finding"], row["cause"]): float(row["probability"]) for row in _rows()}


@cache
def sources() -> Mapping[tuple[str, str], str]:
    """Where it was read that a cause shows a finding, by (finding, cause)."""
    return {(row["finding"], row["cause"]): row["source"] for row in _rows()}


def kind_of(finding: str) -> Kind:
    """Whether a finding is a symptom, is checked, or stands in the log; KeyError if unknown."""
    for kind, found in CHANCE.items():
        if finding in found:
            return kind
    raise KeyError(finding)


def chance_of(finding: str) -> float:
    """P(finding | none of the causes)."""
    return CHANCE[kind_of(finding)][finding]


def _rows() -> list[dict[str, str]]:
    text = files("bedlore.facts").joinpath("symptoms.csv").read_text("utf-8")
    return list(csv.DictReader(text.splitlines()))
