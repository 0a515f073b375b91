"""How past outlooks turned out, by bed, lead and season, and the spread they should have had."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Any, Protocol

import numpy as np

from bedlore.farm import log
from bedlore.farm.bed import Bed
from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Farm
from bedlore.learn.observations import AIR_DEVICES
from bedlore.learn.references import REFERENCES, Past, Record
from bedlore.learn.scores import Bin, Brier
from bedlore.learn.verify import (
    FEW,
    Card,
    Case,
    PastOutlook,
    SeenTemp,
    card_of,
    cases_of,
    grouped,
    held,
    lead_name,
    past_outlook,
    season_of,
    sentences,
    spread_factor,
)
from bedlore.outlook.ahead import Ahead
from bedlore.say import say
from bedlore.service.surroundings import Recorded
from bedlore.weather.series import WeatherSeries

Account = dict[str, Any]
_DEPTH_APART_M = 0.06  # an outlook is for the thermometer's 10 cm; deeper ones are not judged by it
_PROBE_DEPTH_M = 0.10
FEWEST_SEEN = 5  # readings of a bed below which its past outlooks are not looked at


class OutlookStore(Protocol):
    """Keeps outlooks as they were given."""

    def outlooks(self) -> list[PastOutlook]:
        """All of them, in order of time."""
        ...

    def keep_outlooks(self, outlooks: Iterable[PastOutlook]) -> None:
        """Add some; one of the same zone and hour is kept once."""
        ...


def to_keep(bed_id: str, ahead: Ahead, spread: float = 1.0) -> list[PastOutlook]:
    """What to keep of a bed's outlook (hourly run), before anyone knows how it turns out;
    ``spread`` is the factor that is in it."""
    temp = ahead.run.series("temp_probe_c")
    return [
        past_outlook(bed_id, zone, ahead.start, temp[:, :, i], spread)
        for i, zone in enumerate(ahead.zone_ids)
        if temp[:, :, i].any()
    ]


def seen_temps(bed: Bed, entries: Iterable[AnyEntry]) -> list[SeenTemp]:
    """Thermometer readings of a bed near the depth that outlooks are for."""
    zones = [zone.id for zone in bed.zones]
    found = []
    for entry in entries:
        if entry.bed != bed.id or not isinstance(entry, log.Probe):
            continue
        near = abs(entry.depth_m - _PROBE_DEPTH_M) <= _DEPTH_APART_M
        if not near or entry.device.strip().lower() in AIR_DEVICES:
            continue
        named = [z.id for z in bed.zones_of(entry.zone)] if entry.zone else zones
        found.append(SeenTemp(bed.id, named[0], entry.at, entry.temp_c, entry.error_k))
    return found


def score_account(farm: Farm, entries: Sequence[AnyEntry], recorded: Recorded,
                  store: OutlookStore) -> Account:  # fmt: skip
    """The score card as plain data: for every bed, all leads together and each by itself."""
    outlooks = store.outlooks()
    told = [_bed(farm, bed, entries, recorded, outlooks) for bed in farm.beds]
    return {"farm": farm.name, "outlooks": len({(o.bed_id, o.made_at) for o in outlooks}),
            "beds": told}  # fmt: skip


def bed_spread(seen: Sequence[SeenTemp], outlooks: Sequence[PastOutlook]) -> float:
    """Factor on the spread of a bed's temperature outlook that its past ones call for; 1 while
    hardly any reading has judged them."""
    if len(seen) < FEWEST_SEEN or not outlooks:
        return 1.0
    cases = cases_of(outlooks, seen)
    if len(cases) < FEW:
        return 1.0
    factor = spread_factor(cases)
    # What is near is often too wide and what is far too narrow: nothing is drawn narrower while
    # the band of any lead holds less than it should.
    return max(factor, 1.0) if _too_sure(cases) else factor


def _too_sure(cases: Sequence[Case]) -> bool:
    """Whether the 90 % band of some lead holds less than 90 % of its readings."""
    return any(
        len(mine) >= FEWEST_SEEN and held(mine) < 0.9
        for mine in grouped(cases, lead_name).values()
    )


def _bed(farm: Farm, bed: Bed, entries: Sequence[AnyEntry], recorded: Recorded,
         outlooks: Sequence[PastOutlook]) -> Account:  # fmt: skip
    seen = seen_temps(bed, entries)
    cases = cases_of(outlooks, seen)
    account: Account = {"bed": bed.id, "name": bed.name, "readings": len(seen)}
    if not cases:
        nothing = say("No outlook of this bed can be checked against a later reading yet.")
        return {**account, "cards": [], "words": [nothing]}
    record = _record(seen, recorded.series, cases)
    limits = farm.limits_of(bed)
    cards = [card_of("all", cases, record, limits.cold_c, limits.hot_c)]
    by_lead = sorted(cases, key=lambda case: case.lead_d)
    for key in (lead_name, lambda case: season_of(case.seen_at)):
        groups = grouped(by_lead, key)
        if len(groups) > 1:
            cards += [card_of(name, mine, record, limits.cold_c, limits.hot_c)
                      for name, mine in groups.items()]  # fmt: skip
    return {**account, "cards": [_card(card) for card in cards], "words": list(sentences(cards[0]))}


def _record(seen: Sequence[SeenTemp], air: WeatherSeries | None, cases: Sequence[Case]) -> Record:
    by_zone: dict[tuple[str, str], list[SeenTemp]] = {}
    for each in sorted(seen, key=lambda s: s.at):
        by_zone.setdefault((each.bed_id, each.zone_id), []).append(each)
    zones = {
        zone: Past(tuple(s.at for s in mine), tuple(s.temp_c for s in mine))
        for zone, mine in by_zone.items()
    }
    return Record(zones, air if air is not None else _no_air(cases[0].seen_at))


def _no_air(when: dt.datetime) -> WeatherSeries:
    """A record that knows nothing, so that references on air keep silent."""
    hour = when.astimezone(dt.UTC).replace(minute=0, second=0, microsecond=0)
    nothing = np.zeros(1)
    return WeatherSeries(hour, nothing, nothing + 0.5, nothing, nothing, "none")


def _card(card: Card) -> Account:
    """A card as plain data, the references by name."""
    return {
        "group": card.group, "count": card.count, "crps_k": card.crps_k,
        "references": [
            {"reference": name, "meaning": REFERENCES[name], "crps_k": value,
             "skill": card.skill[name]}
            for name, value in card.reference_k.items()
        ],
        "covered_50": card.covered_50, "covered_90": card.covered_90,
        "coverage_band": list(card.coverage_band), "pit_counts": list(card.pit_counts),
        **_limit(card.limit, card.odds), "hot_limit": _limit(card.hot_limit, card.hot_odds),
        "spread_factor": card.spread_factor, "enough": card.enough,
        "words": list(sentences(card)),
    }  # fmt: skip


def _limit(score: Brier, odds: Sequence[Bin]) -> Account:
    """How the odds of passing a limit turned out."""
    return {
        "brier": score.score, "brier_reliability": score.reliability,
        "brier_resolution": score.resolution, "brier_uncertainty": score.uncertainty,
        "reliability": [{"said": b.said, "happened": b.happened, "count": b.count} for b in odds],
    }  # fmt: skip
