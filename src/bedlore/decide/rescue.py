"""Fetching the last worms out of a part that is to be taken: three old ways, and what they save.

How much of the worms each way finds is assumed, with a wide range: no measured yields were at
hand. None of them finds cocoons; those come back with what a coarse mesh holds, or hatch later.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from bedlore.bed.cells import Floats
from bedlore.decide.date_records import Rescue
from bedlore.say import mass, message, say, say_many


@dataclass(frozen=True)
class Way:
    """A way to find worms: share found (5, 50, 95 %), hours of work a square metre, how."""

    name: Literal["bait strip", "light", "cones"]
    found: tuple[float, float, float]
    hours_m2: float
    needs_warmth: bool
    how: str


LEAST_KG = 0.01  # less is not told to the gram


# Ways: common practice, no source; the shares are assumed.
WAYS = (
    Way("bait strip", (0.30, 0.55, 0.75), 0.5, True,
        message("Bait strip: bury ripe melon, pumpkin or wetted grounds along the edge, lift it"
                " with the worms in it after a week, and set it a second time.")),
    Way("light", (0.50, 0.70, 0.85), 1.5, False,
        message("Light: open the lid in daylight, or under a lamp fixed clear of straw and"
                " water; wait ten minutes until the worms have gone down, take the top two"
                " centimetres, and so on down.")),
    Way("cones", (0.75, 0.88, 0.95), 3.0, False,
        message("Cones: set the castings out as cones of a bucket each on a sheet under light,"
                " brush off the outside every ten minutes, and keep the knot of worms left in"
                " the middle of each.")),
)  # fmt: skip


def rescues(worms_kg: Floats, herd_kg: Floats, area_m2: float, warm: float) -> tuple[Rescue, ...]:
    """What each way would save of ``worms_kg`` ``[M]`` left in a part of ``area_m2``.

    ``warm`` is the share of futures in which it is at 10 degC or more then: in the cold worms do
    not come to bait, and nothing is claimed for it.
    """
    found = []
    members = len(worms_kg)
    # Each member carries its own share found, spread evenly over the range in a fixed order.
    place = np.random.default_rng(members).permutation(members)
    for way in WAYS:
        if way.needs_warmth and warm < 0.5:
            continue
        share = np.interp((place + 0.5) / members, (0.0, 0.5, 1.0), way.found)
        saved = share * worms_kg
        low, mid, high = (float(q) for q in np.quantile(saved, (0.05, 0.5, 0.95)))
        of_herd = float(np.median(saved / np.maximum(herd_kg, 1e-9)))
        hours = way.hours_m2 * area_m2
        words = say(
            "{how} It finds about {share} in 100 of the worms left (assumed): {kg}, in {hours}.",
            how=say(way.how), share=round(100 * way.found[1]),
            kg=mass(mid) if mid >= LEAST_KG else say("less than {kg}", kg=mass(LEAST_KG)),
            hours=say_many("about an hour", "about {count} hours", max(1, round(hours))),
        )
        found.append(Rescue(way.name, (low, mid, high), of_herd, hours, words))
    return tuple(found)
