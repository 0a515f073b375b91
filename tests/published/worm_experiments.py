"""Published worm experiments: what was measured, and the same done in a culture of the model.

All with one parameter set; only the food quality of a material differs. What a paper does not
state is marked assumed. Sources beside each; digitised series as published with the studies' data.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bedlore.lab.cultures import CultureResult, culture

Floats = NDArray[np.float64]
Params = Mapping[str, float] | None
REFEED_G = 26.0  # Venter & Reinecke do not state it: fitted


@dataclass(frozen=True)
class Series:
    """Measured masses, g a worm, by day."""

    day: NDArray[np.int64]
    mass_g: Floats

    def error(self, run: CultureResult) -> float:
        """Return the mean absolute error against the mean of the series."""
        gap = np.abs(run.mean_mass_g[self.day] - self.mass_g)
        return float(gap.mean() / self.mass_g.mean())


def _series(text: str) -> Series:
    pairs = [pair.split(":") for pair in text.split()]
    return Series(np.array([int(d) for d, _ in pairs]), np.array([float(m) for _, m in pairs]))


# Neuhauser, Hartenstein & Kaplan 1980 (Oikos 35:93-98), single worms, 25 degC, fed ad lib.
NEUHAUSER = {
    "activated sludge": _series(
        "7:.0044 14:.053 21:.146 28:.296 35:.485 42:.706 49:.918 56:1.10 63:1.28 70:1.39 77:1.50"
        " 84:1.71 98:2.04 112:2.11 126:2.34 140:2.37 168:2.28 196:2.22 224:2.25 252:2.16"
    ),
    "cow manure": _series(
        "14:.013 21:.088 28:.159 35:.304 42:.503 49:.675 56:.847 63:.962 70:1.09 84:1.29 98:1.51"
        " 112:1.60 126:1.76 140:1.81 161:1.89 196:1.86 252:1.97"
    ),
    "horse manure": _series(
        "21:.071 28:.185 35:.331 42:.410 49:.503 56:.596 63:.697 70:.829 84:1.04 98:1.20 112:1.29"
        " 126:1.43 140:1.56 175:1.71 203:1.94 252:1.95"
    ),
}
# Gunadi, Blount & Edwards 2002: 5 worms of 11 mg, 150 g cattle solids once, 20 degC, 0.0144 m2.
GUNADI = Series(
    np.arange(27) * 7,
    np.array(
        [.011, .032, .079, .131, .256, .368, .414, .442, .462, .448, .450, .459, .494, .495, .490,
         .482, .447, .439, .422, .412, .400, .402, .387, .402, .393, .341, .333]
    ),
)  # fmt: skip
# Reinecke & Viljoen 1990 control: 10 worms, 25 degC, 40 g at first, 20 g at day 25 and every 20 d.
# Day 0 here is day 25 there, the first weighing, when the worms already lay.
REINECKE = Series(
    np.arange(16) * 10,
    np.array(
        [.31, .34, .35, .43, .50, .54, .61, .69, .69, .67, .69, .64, .68, .66, .66, .68]
    ),
)  # fmt: skip
REINECKE_COCOONS = np.array(
    [30, 31, 39, 36, 41, 36, 48, 40, 44, 42, 38, 36, 42, 41, 34, 40, 36, 40]
)  # of ten worms, each 10 d from day 25
# Venter & Reinecke 1988 (S.Afr.J.Zool. 23:161-165): 10 hatchlings of 2.8 mg on 320 g of manure,
# 25 degC, not fed until day 60, then every 10-20 d. Masses read by eye from Fig 1.
VENTER = _series(
    "50:.12 60:.15 80:.55 90:.63 100:.63 150:.70 200:.83 250:.92 300:.97 350:1.0 400:1.15"
    " 450:1.07 500:1.34 550:1.49 600:1.41"
)
VENTER_COCOONS = {365: 121.0, 600: 172.0}  # laid by a worm


def _events(days: int, feed: Mapping[int, Mapping[str, float]], worms: int) -> list[dict[str, Any]]:
    """Feed by day, and the young taken out every week as the founders are weighed."""
    events: list[dict[str, Any]] = [{"day": day, **gift} for day, gift in feed.items()]
    return events + [{"day": day, "set_worms": worms} for day in range(21, days, 7)]


def neuhauser(food: str, params: Params = None) -> CultureResult:
    """Single worm, 0.0078 m2 (stated with the study's density trial), fresh feed every week."""
    fresh = {day: {"set_food_g": 150.0} for day in range(7, 252, 7)}  # assumed
    events = _events(252, fresh, 1)
    # Hatchlings of 4 mg (assumed: the first weighing, day 7, is 4.4 mg).
    return culture(1, "hatchling", 0.004, 0.0078, 0.03, 25, 78, food, 150, events, 252, params)


def gunadi(params: Params = None) -> CultureResult:
    """Five young worms on one feeding."""
    return culture(
        5, "hatchling", 0.011, 0.0144, 0.02, 20, 80, "cattle solids", 150, _events(182, {}, 5),
        182, params,
    )  # fmt: skip


def reinecke(params: Params = None) -> CultureResult:
    """Ten laying worms, fed every 20 d; the dish's area is not known to us, 0.01 m2 assumed.

    The 40 g given 25 days before are taken as 20 g of fresh feed (assumed).
    """
    feed = {day: {"food_g": 20.0} for day in range(20, 180, 20)}
    return culture(
        10, "adult", 0.31, 0.01, 0.03, 25, 78, "cattle manure", 40, _events(180, feed, 10), 180,
        params,
    )  # fmt: skip


def venter(params: Params = None, refeed_g: float = REFEED_G) -> CultureResult:
    """Ten hatchlings, refed from day 60 every 15 d; 320 g lie 3 cm deep (assumed)."""
    feed = {day: {"food_g": refeed_g} for day in range(60, 600, 15)}
    return culture(
        10, "hatchling", 0.0028, 0.0107, 0.03, 25, 75, "cattle manure", 320,
        _events(600, feed, 10), 600, params,
    )  # fmt: skip


def oecd(params: Params = None) -> CultureResult:
    """OECD Test Guideline 222 control: 10 adults, 20 degC, 28 d, then 28 d of their cocoons.

    Fed about 5 g of dry manure a week (from memory); the soil itself is not modelled. On day 28
    the adults are taken out; with them go the founders' count, so the young are what is left.
    """
    events: list[dict[str, Any]] = [{"day": day, "food_g": 25.0} for day in range(7, 35, 7)]
    events.append({"day": 28, "worms": -10})
    return culture(10, "adult", 0.40, 0.015, 0.05, 20, 80, "cow manure", 25, events, 56, params)
