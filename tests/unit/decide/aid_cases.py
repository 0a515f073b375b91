"""Sixty beds in trouble, three a cause: what the keeper comes with, and what else is there.

Written by the makers of the table from the questions keepers ask, before any share was changed to
suit them, so they test the way of asking and the sense of the table, not its truth. Whatever is
not in ``there`` is looked for in vain. ``log`` holds what is in the log.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Trouble:
    cause: str
    first: str
    there: frozenset[str]
    log: frozenset[str]


def _t(cause: str, first: str, there: str = "", log: str = "") -> Trouble:
    return Trouble(cause, first, frozenset({first, *there.split()}), frozenset(log.split()))


TROUBLES = (
    _t("overfed", "rotten", "uneaten food_stays slime"),
    _t("overfed", "fruit_flies", "uneaten red_mites"),
    _t("overfed", "red_mites", "uneaten food_stays mould springtails"),
    _t("wet", "rotten", "runs"),
    _t("wet", "climbing", "runs springtails"),
    _t("wet", "pale_mites", "runs slime red_mites"),
    _t("dry", "crumbly", "ants"),
    _t("dry", "ants", "crumbly"),
    _t("dry", "climbing", "crumbly"),
    _t("sour", "sour_smell", "acid_strip", "fed_starch"),
    _t("sour", "dying", "beads acid_strip uneaten", "fed_starch"),
    _t("sour", "climbing", "sour_smell uneaten runs", "fed_starch"),
    _t("ammonia", "sharp", "", "fed_manure"),
    _t("ammonia", "climbing", "sharp", "fed_manure"),
    _t("ammonia", "sharp", "dying heat"),
    _t("hot", "heat", "climbing", "fed_manure"),
    _t("hot", "heat", "dying uneaten", "fed_starch"),
    _t("hot", "climbing", "heat"),
    _t("cold", "frozen", "uneaten"),
    _t("cold", "food_stays", "frozen uneaten"),
    _t("cold", "frozen", "dying"),
    _t("bare_food", "fruit_flies", "open_food"),
    _t("bare_food", "fruit_flies", "open_food mould springtails"),
    _t("bare_food", "mould", "open_food fruit_flies"),
    _t("wet_top", "gnats", "wet_skin"),
    _t("wet_top", "gnats", "wet_skin springtails"),
    _t("wet_top", "gnats", "wet_skin runs"),
    _t("new_bed", "climbing", "", "young_bed"),
    _t("new_bed", "climbing", "springtails", "young_bed"),
    _t("new_bed", "climbing", "mould", "young_bed"),
    _t("nest", "ants", "trail"),
    _t("nest", "ants", "trail open_food"),
    _t("nest", "ants", "trail springtails"),
    _t("meat", "maggots", "meat_found rotten"),
    _t("meat", "rotten", "meat_found maggots", "fed_meat"),
    _t("meat", "rotten", "meat_found slime"),
    _t("acid", "potworms", "acid_strip", "fed_citrus"),
    _t("acid", "pale_mites", "acid_strip potworms", "fed_citrus"),
    _t("acid", "potworms", "acid_strip springtails runs"),
    _t("drain", "water", "base runs"),
    _t("drain", "rotten", "base runs water"),
    _t("drain", "climbing", "water base runs"),
    _t("raided", "fewer", "tunnels"),
    _t("raided", "fewer", "tunnels food_stays"),
    _t("raided", "fewer", "tunnels open_food"),
    _t("worked_out", "pale", "all_castings"),
    _t("worked_out", "fewer", "all_castings pale", "long_unfed"),
    _t("worked_out", "pale", "all_castings", "long_unfed"),
    _t("salt", "climbing", "", "fed_salty"),
    _t("salt", "dying", "climbing", "fed_salty"),
    _t("salt", "climbing", "dying beads", "fed_salty"),
    _t("soldier", "maggots", "big_larvae"),
    _t("soldier", "maggots", "big_larvae heat"),
    _t("soldier", "maggots", "big_larvae meat_found"),
    _t("residue", "dying", "wormed", "fed_manure"),
    _t("residue", "dying", "wormed food_stays", "fed_manure"),
    _t("residue", "fewer", "wormed dying", "fed_manure"),
    _t("thermometer", "odd_reading", "second_probe"),
    _t("thermometer", "odd_reading", "second_probe springtails"),
    _t("thermometer", "odd_reading", "second_probe mould"),
)
