"""Published worm experiments: what was measured, and the same done in a dish of the model.

All with one parameter set; only what the feed is made of differs. What a paper does not state is
marked assumed. Sources beside each; digitised series as published with the studies' data.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bedlore.lab.dish import DECAY_Q10, DishResult, Feed, Meal, dish
from bedlore.lab.feeds import FEEDS

Floats = NDArray[np.float64]
Params = Mapping[str, float] | None

REFEED_G = 24.6  # Venter & Reinecke do not state it: fitted


@dataclass(frozen=True)
class Series:
    """Measured masses, g a worm, by day."""

    day: NDArray[np.int64]
    mass_g: Floats

    def error(self, run: DishResult) -> float:
        """Return the mean absolute error against the mean of the series."""
        gap = np.abs(run.mean_mass_g[self.day] - self.mass_g)
        return float(gap.mean() / self.mass_g.mean())


def _series(text: str) -> Series:
    pairs = [pair.split(":") for pair in text.split()]
    return Series(np.array([int(d) for d, _ in pairs]), np.array([float(m) for _, m in pairs]))


# Neuhauser, Hartenstein & Kaplan 1980 (Oikos 35:93-98), single worms, 25 degC, fed ad lib.
NEUHAUSER = {
    "sludge": _series(
        "7:.0044 14:.053 21:.146 28:.296 35:.485 42:.706 49:.918 56:1.10 63:1.28 70:1.39 77:1.50"
        " 84:1.71 98:2.04 112:2.11 126:2.34 140:2.37 168:2.28 196:2.22 224:2.25 252:2.16"
    ),
    "cow": _series(
        "14:.013 21:.088 28:.159 35:.304 42:.503 49:.675 56:.847 63:.962 70:1.09 84:1.29 98:1.51"
        " 112:1.60 126:1.76 140:1.81 161:1.89 196:1.86 252:1.97"
    ),
    "horse": _series(
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


def aged(feed: Feed, days: float, temp_c: float) -> Feed:
    """Return what is left of ``feed`` after ``days`` of microbes alone."""
    speed = DECAY_Q10 ** ((temp_c - 20.0) / 10.0) * days
    fast = feed.fast_share * np.exp(-feed.fast_per_day * speed)
    slow = (1.0 - feed.fast_share) * np.exp(-feed.slow_per_day * speed)
    left = float(fast + slow)
    return replace(feed, edible_share=feed.edible_share * left, fast_share=float(fast) / left)


def neuhauser(food: str, params: Params = None, feeds: Mapping[str, Feed] = FEEDS) -> DishResult:
    """Single worm, 0.0078 m2 (stated with the study's density trial), fresh feed every week."""
    meals = [Meal(day, feeds[food], 150.0, renew=True) for day in range(0, 252, 7)]  # assumed
    # Hatchlings of 4 mg (assumed: the first weighing, day 7, is 4.4 mg).
    return dish(0.0078, 252, 25.0, 0.78, 1.0, 0.004, meals, params=params)


def gunadi(params: Params = None, feeds: Mapping[str, Feed] = FEEDS) -> DishResult:
    """Five young worms on one feeding."""
    meals = [Meal(0, feeds["cattle solids"], 150.0)]
    return dish(0.0144, 182, 20.0, 0.80, 5.0, 0.011, meals, params=params)


def reinecke(params: Params = None, feeds: Mapping[str, Feed] = FEEDS) -> DishResult:
    """Ten laying worms, fed every 20 d; the dish's area is not known to us, 0.01 m2 assumed."""
    feed = feeds["cattle manure"]
    meals = [Meal(0, aged(feed, 25, 25.0), 40.0)]
    meals += [Meal(day, feed, 20.0) for day in range(0, 180, 20)]
    return dish(0.01, 180, 25.0, 0.78, 10.0, 0.31, meals, stage="adult", params=params)


def venter(
    params: Params = None, feeds: Mapping[str, Feed] = FEEDS, refeed_g: float = REFEED_G
) -> DishResult:
    """Ten hatchlings, refed from day 60 every 15 d; 320 g lie 5 cm deep (assumed)."""
    meals = [Meal(0, feeds["old manure"], 320.0)]
    meals += [Meal(day, feeds["fresh manure"], refeed_g) for day in range(60, 600, 15)]
    return dish(0.0107, 600, 25.0, 0.75, 10.0, 0.0028, meals, params=params)


def oecd(params: Params = None) -> DishResult:
    """OECD Test Guideline 222 control: 10 adults, 20 degC, 28 d, then 28 d of their cocoons.

    Fed about 5 g of dry manure a week in artificial soil (from memory); low quality assumed.
    """
    feed = Feed(0.2, 0.3)
    meals = [Meal(day, feed, 25.0) for day in range(0, 35, 7)]
    return dish(
        0.015, 56, 20.0, 0.75, 10.0, 0.40, meals,
        stage="adult", take_cocoons=False, adults_out_day=28, params=params,
    )  # fmt: skip
