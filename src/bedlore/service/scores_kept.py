"""The score card as it stood with a morning: judging years of outlooks is too slow for a page."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from bedlore.say import Words
from bedlore.service.belief import Rests

Account = dict[str, Any]


@dataclass(frozen=True)
class BedScores:
    """A bed's cards (as :func:`~bedlore.service.score.score_account` tells them, without their
    sentences), what is said of them all, and what the morning's figures rest on (None for a bed
    that was not looked at)."""

    bed_id: str
    words: tuple[Words, ...]
    cards: tuple[Account, ...]
    rests: Rests | None


def scores_to_keep(account: Account, rests: Mapping[str, Rests]) -> tuple[BedScores, ...]:
    """What to keep of a score account; ``rests`` by bed."""
    return tuple(
        BedScores(bed["bed"], tuple(bed["words"]), tuple(_figures(bed["cards"])),
                  rests.get(bed["bed"]))
        for bed in account["beds"]
    )  # fmt: skip


def _figures(cards: Iterable[Account]) -> Iterable[Account]:
    for card in cards:
        yield {name: value for name, value in card.items() if name != "words"}
