"""Dates of rest, switch and harvest as frozen records, ready to store and to show."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from bedlore.say import Words

SHARES = (0.05, 0.25, 0.50, 0.75, 0.95)
MilestoneKind = Literal[
    "emptied", "worms", "cocoons", "dry", "ready", "warm", "switch", "add tray", "split"
]


@dataclass(frozen=True)
class Targets:
    """When a resting part counts as ready.

    ``worms_share`` and ``cocoons_share`` of what it held when its rest began; ``moisture`` below
    which it goes through a mesh (wet basis): above 60 % it blinds the mesh, at 45-55 % it
    crumbles (common practice, no source).
    """

    worms_share: float = 0.05
    cocoons_share: float = 0.10
    moisture: float = 0.60


@dataclass(frozen=True)
class Milestone:
    """The distribution of the day on which something has come about.

    ``dates`` are those by which 5, 25, 50, 75 and 95 % of futures have got there, None where that
    lies beyond the time looked at; ``odds`` lists (day, share of futures that got there by then).
    """

    kind: MilestoneKind
    part_id: str
    part_name: str
    dates: tuple[dt.date | None, ...]
    odds: tuple[tuple[dt.date, float], ...]
    words: Words

    @property
    def middle(self) -> dt.date | None:
        """The day by which half of the futures have got there."""
        return self.dates[2]


@dataclass(frozen=True)
class Rescue:
    """One way to fetch the last worms out, and what it saves; bands are 5, 50 and 95 %."""

    name: Literal["bait strip", "light", "cones"]
    saved_kg: tuple[float, float, float]
    herd_share: float  # of the whole herd, on the median
    hours: float
    words: Words


@dataclass(frozen=True)
class Taking:
    """A part taken on a day the keeper names: odds of each test, and what would go with it."""

    part_id: str
    part_name: str
    on: dt.date
    odds_worms: float
    odds_cocoons: float
    odds_dry: float
    odds_ready: float
    worms_kg: tuple[float, float, float]
    herd_share: float
    cocoons_n: tuple[float, float, float]
    cocoon_share: float  # of all cocoons of the bed, on the median
    moisture_frac: tuple[float, float, float]
    drying_d: tuple[float, float, float] | None  # days spread thin; None: dry enough, or never
    rescues: tuple[Rescue, ...]
    after_switch: bool  # it is fed now: the odds are those after a switch today
    words: Words


@dataclass(frozen=True)
class LastFeeds:
    """Feeding only the quarter beside the next side for the last days before a switch."""

    zone_id: str
    zone_name: str
    days: int  # 0: it makes no difference in the model
    start: dt.date
    switch_on: dt.date
    left_share: tuple[float, float, float]  # of the worms, two months after the switch
    left_share_evenly: tuple[float, float, float]
    words: Words


@dataclass(frozen=True)
class RestDates:
    """Every date of one bed, worked out at ``made_at`` to ``until``."""

    bed_id: str
    made_at: dt.datetime
    until: dt.date
    members: int
    targets: Targets
    milestones: tuple[Milestone, ...]
    takings: tuple[Taking, ...]
    last_feeds: LastFeeds | None
    notes: tuple[Words, ...]

    def of_kind(self, kind: MilestoneKind) -> tuple[Milestone, ...]:
        """The milestones of one kind."""
        return tuple(each for each in self.milestones if each.kind == kind)
