"""A plan for the fortnight as frozen records."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from bedlore.decide.records import Action, Band, Effect
from bedlore.say import Words

ReadingKind = Literal["thermometer", "squeeze", "count", "look"]


@dataclass(frozen=True)
class Worth:
    """What one part of a plan is worth: the plan against the same plan without it.

    ``actions`` name the part; ``kelvin`` is how much better the worst living place is (median),
    ``cold``, ``hot`` and ``sour`` by how much the odds fall, ``castings_kg`` dry castings and
    ``energy_kwh`` electricity more, ``hours`` the gain in points (about hours of the keeper's).
    """

    actions: tuple[Action, ...]
    kelvin: float
    cold: float
    hot: float
    sour: float
    castings_kg: float
    energy_kwh: float
    hours: float
    words: Words


@dataclass(frozen=True)
class ReadingWorth:
    """What one more reading would be worth before the plan is chosen.

    ``hours``: expected gain in points; ``narrowed``: expected spread of what it is about after
    it, as a share of the spread now.
    """

    reading: ReadingKind
    hours: float
    narrowed: float
    words: Words


@dataclass(frozen=True)
class Rival:
    """Another plan that was tried to the end: by how much it fell behind the one chosen [h], on
    the futures of the choice; its ``effect`` is on the same fresh futures as the plan's, None where
    it was not run on them. ``beyond``: it passes the odds accepted, where the plan keeps them on
    the futures of the choice, so that it comes after the plan whatever it would gain."""

    actions: tuple[Action, ...]
    behind_hours: float
    effect: Effect | None
    beyond: bool = False


@dataclass(frozen=True)
class Plan:
    """What to do with a bed in the coming fortnight, looked at again each day.

    ``effect`` and ``without`` come from ``fresh`` futures that had no part in the choice.
    ``keeps`` says whether the odds stay within those accepted; ``needs`` what is not on hand;
    ``causes`` what changed since the advice of the day before.
    """

    bed_id: str
    made_at: dt.datetime
    actions: tuple[Action, ...]
    headline: Words
    effect: Effect
    without: Effect
    gain_hours: float
    cost: float | None  # of the electricity, in the keeper's currency
    keeps: bool
    needs: Words
    worths: tuple[Worth, ...]
    readings: tuple[ReadingWorth, ...]
    rivals: tuple[Rival, ...]  # the one run on fresh futures first: today's quick act, if asked
    tried: int
    members: int
    fresh: int
    odds_band: tuple[Band, Band, Band]  # cold, hot, sour with the plan: 5, 50, 95 % of the odds
    cautions: tuple[Words, ...]
    words: tuple[Words, ...]
    would_change: tuple[Words, ...]
    cost_of_ignoring: Words
    causes: tuple[Words, ...] = ()
