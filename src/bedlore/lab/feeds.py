"""What worms are fed in a culture: quality and decay by material.

Those with a name of their own are fitted to published life histories (tests/published); any other
material comes from the table of feedstocks, whose food quality is assumed.
"""

from __future__ import annotations

from collections.abc import Mapping

from bedlore.facts.feedstocks import SPEED_SHARES, Feedstock, find, plain
from bedlore.lab.dish import Feed

# Fitted: quality, fast share and the edible share of the old manure, by
# tests/published/fit_worms.py; the rest is assumed.
FEEDS: Mapping[str, Feed] = {
    "sludge": Feed(0.15, 1.0, fast_share=0.9),  # Neuhauser et al. 1980
    "cow": Feed(0.20, quality=0.76, fast_share=0.9),  # Neuhauser et al. 1980
    "horse": Feed(0.30, quality=0.572, fast_share=0.9),  # Neuhauser et al. 1980
    "cattle solids": Feed(0.20, quality=1.0, fast_share=0.452),  # Gunadi et al. 2002
    "cattle manure": Feed(0.20, quality=1.0, fast_share=0.209),  # Reinecke & Viljoen 1990
    # Venter & Reinecke 1988: the manure they began with, and what they fed later.
    "old manure": Feed(0.25, quality=1.0, edible_share=0.0523, fast_share=0.0),
    "fresh manure": Feed(0.25, quality=1.0, fast_share=0.601),
}
_ALSO_CALLED: Mapping[str, str] = {
    "activated sludge": "sludge", "sewage sludge": "sludge", "biosolids": "sludge",
    "cow manure": "cow", "cow dung": "cow", "dairy manure": "cow", "cattle dung": "cow",
    "man dairy fresh": "cow", "man cattle dung trial": "cow",
    "horse manure": "horse", "man horse fresh": "horse",
    "separated cattle solids": "cattle solids", "cattle manure solids": "cattle solids",
    "man cattle": "cattle manure",
}  # fmt: skip
_FAST_PER_DAY, _MEDIUM_PER_DAY = 0.10, 0.018  # as the pools of the bed
_NOTHING = 1e-6


def find_feed(name: str) -> Feed:
    """The feed called ``name``: one of ``FEEDS``, or any name of docs/materials.md.

    Raises KeeperError naming the nearest words when there is none.
    """
    word = plain(name)
    word = _ALSO_CALLED.get(word, word)
    if word in FEEDS:
        return FEEDS[word]
    return feed_of(find(name))


def feed_of(stock: Feedstock) -> Feed:
    """A material of the table as worms meet it: what rots fast or at middling speed is fresh."""
    fast, medium, slow = SPEED_SHARES[stock.decay_speed]
    fresh = fast + medium
    edible = (1.0 - stock.ash_frac_dry) * stock.biodegradable_frac * (fresh + slow)
    pace = (fast * _FAST_PER_DAY + medium * _MEDIUM_PER_DAY) / fresh if fresh else _FAST_PER_DAY
    return Feed(
        dry_frac=1.0 - stock.moisture_frac,
        quality=max(stock.food_quality, _NOTHING),
        edible_share=max(edible, _NOTHING),
        fast_share=fresh / (fresh + slow) if fresh + slow > 0 else 0.0,
        fast_per_day=pace,
    )
