"""What the decisions come to, as frozen records: advice, card, pantry, lifeboat, harm.

Temperatures in degC, masses in kg, volumes in litres, shares 0..1. A :data:`Band` is the 5, 50
and 95 % quantile over the members of the ensemble.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from bedlore.outlook.ahead import Odds
from bedlore.say import Words

Band = tuple[float, float, float]
ActionKind = Literal[
    "nothing", "feed", "cover", "uncover", "insulate", "water", "bedding", "mat", "look",
    "move",
]
Basis = Literal["measured", "worked out", "assumed"]
Leads = Literal["quick", "plan"]
FoodLeft = Literal["none", "some", "lots"]
CardBand = Literal["cold", "mild", "warm"]


@dataclass(frozen=True)
class Action:
    """One thing to do, on the day ``on_day`` (0 today) of the window.

    ``zone_id`` "" means the whole bed. ``parts`` are (material id, moist mass [kg]): feed, dry
    bedding, or ("water", kg). ``material`` and ``thickness_m`` describe a cover or insulation;
    ``setpoint_c`` the mat's thermostat (None: as it is set); ``to_zone`` where worms are carried.
    ``words`` says it as one plain sentence to the keeper.
    """

    kind: ActionKind
    zone_id: str = ""
    parts: tuple[tuple[str, float], ...] = ()
    place: Literal["spread", "lump"] = "spread"
    thickness_m: float = 0.0
    material: str = ""
    on_day: int = 0
    words: Words = ""
    setpoint_c: float | None = None
    to_zone: str = ""

    @property
    def mass_kg(self) -> float:
        """What is laid or poured on, altogether [kg]."""
        return sum(mass for _, mass in self.parts)

    @property
    def key(self) -> str:
        """Names the action without its amount and its day, to compare one day with the next."""
        return "|".join((self.kind, self.zone_id, self.material, self.place))


@dataclass(frozen=True)
class Effect:
    """What an action leads to within the window: odds, extremes and what is left at its end.

    ``coldest_c`` and ``warmest_c`` are where the worms live; ``ammonia_mg_g`` the worst of the
    window; ``energy_kwh`` the heat mat's; ``food_left_kg`` as fresh scraps in the whole bed.
    """

    odds: Odds
    coldest_c: Band
    warmest_c: Band
    food_left_kg: Band
    moisture_frac: Band
    ammonia_mg_g: Band
    energy_kwh: float = 0.0
    castings_dry_kg: float = 0.0


@dataclass(frozen=True)
class Reason:
    """One fact the advice rests on, with how it is known and where it comes from."""

    text: Words
    basis: Basis
    source: Words


@dataclass(frozen=True)
class Advice:
    """What to do with a bed today, why, how sure, and what would change it.

    ``effect`` is with the action, ``without`` with nothing done. ``rivals`` are the next best.
    ``would_help`` lists measures for which nothing is on hand, each with what it would do.
    ``cause_of_change`` says why it differs from the advice before, "" when it does not.
    ``inputs`` is what the advice was worked out from, kept to find that cause tomorrow.
    ``also`` are further acts of today, to be done with ``action``, and ``later`` those of the days
    after. ``leads`` says whether the fortnight's plan or the quick weighing of single acts speaks
    here, ``lead_words`` why ("" where there is no plan to speak of). A rival that is a plan of
    several acts stands as its first, with the words of all.
    """

    bed_id: str
    made_at: dt.datetime
    action: Action
    headline: Words
    reasons: tuple[Reason, ...]
    effect: Effect
    without: Effect
    rivals: tuple[tuple[Action, Effect], ...]
    would_change: tuple[Words, ...]
    cost_of_ignoring: Words
    cautions: tuple[Words, ...]
    expect: Words
    cause_of_change: Words
    members: int
    would_help: tuple[Words, ...] = ()
    ahead_words: Words = ""  # what the rest of the week brings: the next feed, a later action
    inputs: tuple[tuple[str, str], ...] = ()
    also: tuple[Action, ...] = ()
    later: tuple[Action, ...] = ()
    leads: Leads = "quick"
    lead_words: Words = ""

    @property
    def acts(self) -> tuple[Action, ...]:
        """Everything that is asked for, of today and later; empty when that is nothing."""
        acts = (self.action, *self.also, *self.later)
        return tuple(act for act in acts if act.kind != "nothing")

    @property
    def today(self) -> tuple[Action, ...]:
        """What of it is for today."""
        return tuple(act for act in self.acts if act.on_day == 0)


@dataclass(frozen=True)
class FindRow:
    """What to do when the keeper finds ``food_left`` in weather of this ``band``."""

    food_left: FoodLeft
    band: CardBand
    act: Words
    why: Words


@dataclass(frozen=True)
class FindCard:
    """The if-you-find card of one bed, right without a network until ``good_until``."""

    bed_id: str
    rows: tuple[FindRow, ...]
    made_at: dt.datetime
    good_until: dt.date
    note: Words = ""  # which temperatures the bands mean, and what the card takes for granted


@dataclass(frozen=True)
class PantryRow:
    """Uneaten food and spare water of one zone, and what they claim when it warms.

    ``heat_mj`` and ``ammonia_g`` (as nitrogen) are released in ``claim_days`` at
    ``claim_temp_c``; ``dry_card_kg`` brings C:N and moisture of what is uneaten to where it
    neither stinks nor drowns.
    """

    zone_id: str
    food_kg: Band
    spare_water_kg: Band
    heat_mj: Band
    ammonia_g: Band
    dry_card_kg: Band


@dataclass(frozen=True)
class Pantry:
    """The balance of uneaten food, and the dry stuff to put by before winter."""

    bed_id: str
    rows: tuple[PantryRow, ...]
    card_to_store_kg: float
    leaves_to_store_kg: float
    claim_temp_c: float
    claim_days: int
    words: Words


@dataclass(frozen=True)
class Lifeboat:
    """How many worms and litres of cocoon-rich castings to take indoors before bad weather.

    ``event`` "" means that nothing calls for it. ``odds`` is the share of futures in which the
    herd is back by ``back_by`` when the outdoor herd is lost.
    """

    bed_id: str
    event: Literal["cold", "heat", ""]
    when: dt.datetime | None
    worms_kg: float
    castings_l: float
    back_by: dt.date | None
    odds: float
    words: Words


@dataclass(frozen=True)
class Harm:
    """Hours until a limit is passed after something goes wrong, and the curve to it.

    ``hours`` is a :data:`Band` (infinite where the limit is never passed within the window);
    ``curve`` lists (hour, low, mid, high) temperature of the coldest (or warmest) living place.
    ``share`` of members that pass the limit within ``window_h``.
    """

    bed_id: str
    event: Literal["power cut", "door open"]
    limit: Literal["cold", "heat"]
    hours: Band
    curve: tuple[tuple[float, float, float, float], ...]
    share: float
    window_h: int
    words: Words
