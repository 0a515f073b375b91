"""The main job: from a farm's description, log and weather to this morning's advice."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Protocol
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.cells import Air
from bedlore.bed.history import start_of
from bedlore.decide.advise import advise
from bedlore.decide.card import find_card
from bedlore.decide.case import Case
from bedlore.decide.date_records import RestDates
from bedlore.decide.early import EarlySign
from bedlore.decide.harm import harms_of
from bedlore.decide.lifeboat import lifeboat_of
from bedlore.decide.pantry import pantry_of
from bedlore.decide.records import Advice, FindCard, Harm, Lifeboat, Pantry
from bedlore.errors import Fault, KeeperError
from bedlore.facts.parameters import draw
from bedlore.farm.bed import Bed
from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading
from bedlore.learn.verify import PastOutlook
from bedlore.outlook.ahead import WINDOW_D, Ahead, Odds, look_ahead, odds_of
from bedlore.outlook.twin import MEMBERS, RECENT_D, Snapshot, Twin, bring_up
from bedlore.say import Words, say, say_many, sentences, speaking
from bedlore.service.belief import NOT_LEARNT, BeliefStore, Rests, beliefs_of
from bedlore.service.early import early_signs
from bedlore.service.score import to_keep
from bedlore.service.side_by_side import side_by_side
from bedlore.service.surroundings import (
    Recorded,
    Surroundings,
    earliest,
    past_of,
    surroundings_of,
)
from bedlore.service.unexplained import bearing
from bedlore.service.views import (
    CellsView,
    OutlookView,
    ReadingView,
    Section,
    behind_of,
    cells_of,
    outlook_of,
    readings_of,
    section_of,
)

HORIZON_D = 90
SEED = 2024
Progress = Callable[[str, int, int], None]
Snapshots = Callable[[str], Snapshot | None]
Lead = Callable[["BedMorning"], "BedMorning"]


@dataclass(frozen=True)
class Situation:
    """Everything that a bed's decisions are worked out from."""

    farm: Farm
    bed: Bed
    twin: Twin
    air: Air  # of the coming fortnight
    ahead: Ahead
    surroundings: Surroundings
    entries: Sequence[AnyEntry]
    rests: Rests = NOT_LEARNT


@dataclass(frozen=True)
class BedOutlook:
    """A bed now, in the coming fortnight, and what its twin says of the last one."""

    bed_id: str
    section: Section
    outlook: OutlookView
    odds: Odds
    readings: tuple[ReadingView, ...]
    notes: tuple[Words, ...]
    behind: OutlookView | None = field(default=None, kw_only=True)
    cells: CellsView | None = field(default=None, kw_only=True)
    rests: Rests = field(default=NOT_LEARNT, kw_only=True)


@dataclass(frozen=True)
class BedMorning(BedOutlook):
    """A bed's outlook with what to do about it."""

    advice: Advice
    card: FindCard
    pantry: Pantry
    lifeboat: Lifeboat
    harm: tuple[Harm, ...]
    early: tuple[EarlySign, ...] = field(default=(), kw_only=True)


@dataclass(frozen=True)
class Morning:
    """What a farm's keeper is told this morning.

    ``faults`` are lines of the log and files that could not be used; ``weather_note`` says what
    the weather rests on; ``dates`` are those that were kept, by bed.
    """

    farm: Farm
    now: dt.datetime
    faults: tuple[Fault, ...]
    weather_note: str
    beds: tuple[BedMorning, ...]
    dates: Mapping[str, RestDates] = field(default_factory=dict)


class Keeping(BeliefStore, Protocol):
    """Where snapshots, what was learnt, advice and outlooks given and the last morning are kept
    between calls."""

    def snapshot(self, bed_id: str) -> Snapshot | None:
        """The stored state of a bed."""
        ...

    def keep_snapshot(self, bed_id: str, snapshot: Snapshot) -> None:
        """Store the state of a bed."""
        ...

    def advice_before(self, bed_id: str, day: dt.date) -> Advice | None:
        """The last advice given before a day."""
        ...

    def keep_advice(self, advice: Iterable[Advice]) -> None:
        """Write down advice as given."""
        ...

    def morning(self, now: dt.datetime) -> tuple[BedMorning, ...] | None:
        """The beds of the last morning when nothing has changed since."""
        ...

    def keep_morning(self, now: dt.datetime, beds: tuple[BedMorning, ...]) -> None:
        """Store a morning."""
        ...


def whole_hour(now: dt.datetime) -> dt.datetime:
    """``now`` in UTC, cut to its hour."""
    return now.astimezone(dt.UTC).replace(minute=0, second=0, microsecond=0)


def beds_alive(farm: Farm, now: dt.datetime) -> tuple[list[Bed], list[Fault]]:
    """Beds that stand and have begun by ``now``, and a remark on each that has not."""
    zone = ZoneInfo(farm.site.time_zone)
    begun, faults = [], []
    for bed in farm.standing(now.astimezone(zone).date()):
        if start_of(bed, zone) < whole_hour(now):
            begun.append(bed)
        else:
            sentence = say("The bed begins on {day}: nothing to say of it yet.",
                           day=bed.started.isoformat())  # fmt: skip
            faults.append(Fault(f"beds.{bed.id}.started", sentence))
    return begun, faults


def must_live(farm: Farm, bed: Bed, now: dt.datetime) -> None:
    """Raises KeeperError where ``bed`` has not begun by ``now``, or no longer stands."""
    if bed in beds_alive(farm, now)[0]:
        return
    if bed in farm.standing(now.astimezone(ZoneInfo(farm.site.time_zone)).date()):
        raise KeeperError(say("The bed begins on {day}: nothing to say of it yet.",
                              day=bed.started.isoformat()), f"beds.{bed.id}.started")  # fmt: skip
    raise KeeperError(say("The bed has been taken down."), f"beds.{bed.id}.ended")


def surround(farm: Farm, recorded: Recorded, params: NDArray[np.void],
             now: dt.datetime) -> Surroundings:  # fmt: skip
    """Weather around all beds of the farm from the first start to ``HORIZON_D`` days ahead."""
    zone = ZoneInfo(farm.site.time_zone)
    first = earliest([start_of(bed, zone) for bed in farm.beds])
    return surroundings_of(
        farm.site, recorded, params, min(first, whole_hour(now)), whole_hour(now),
        HORIZON_D * 24, SEED,
    )  # fmt: skip


def farm_members(members: int = MEMBERS) -> NDArray[np.void]:
    """The ensemble of parameters of a farm: one draw for all its beds."""
    return draw(members, SEED)


def situation_of(farm: Farm, bed: Bed, log: LogReading, surroundings: Surroundings,
                 params: NDArray[np.void], snapshot: Snapshot | None,
                 progress: Callable[[int, int], None] | None = None, *,
                 rests: Rests = NOT_LEARNT) -> Situation:  # fmt: skip
    """Bring a bed's twin up to now and run it a fortnight ahead; ``rests`` is what its
    parameters rest on (:mod:`bedlore.service.belief`)."""
    entries = log.current
    past = past_of(bed, surroundings, entries)
    twin = bring_up(past, params, surroundings.now, snapshot, progress)
    twin = replace(twin, doubt=rests.doubt)
    hours = WINDOW_D * 24
    air = surroundings.air(bed, surroundings.now, surroundings.now + dt.timedelta(hours=hours))
    ahead = look_ahead(twin, air)
    return Situation(farm, bed, twin, air, ahead, surroundings, entries, rests)


def outlook_for(situation: Situation) -> BedOutlook:
    """What to show of a bed now and in the coming fortnight."""
    bed = situation.bed
    since = situation.twin.now - dt.timedelta(days=RECENT_D)
    return BedOutlook(
        bed.id, section_of(situation.twin), outlook_of(situation.ahead, bed.id),
        odds_of(situation.ahead, situation.farm.limits_of(bed)),
        readings_of(situation.entries, bed.id, since), situation.twin.notes,
        behind=behind_of(situation.twin),
        cells=cells_of(situation.twin, situation.air, situation.ahead), rests=situation.rests,
    )  # fmt: skip


def decide_for(situation: Situation, yesterday: Advice | None) -> BedMorning:
    """The bed's outlook and everything to decide about it."""
    seen = outlook_for(situation)
    case = case_of(situation)
    with speaking(units=case.units):
        return BedMorning(
            **{field.name: getattr(seen, field.name) for field in fields(BedOutlook)},
            advice=bearing(advise(case, yesterday), seen.rests.unexplained),
            card=find_card(case),
            pantry=pantry_of(case),
            lifeboat=lifeboat_of(case),
            harm=harms_of(case),
            early=early_signs(situation),
        )


def case_of(situation: Situation) -> Case:
    """What the decisions are worked out from."""
    case = case_around(situation.farm, situation.bed, situation.twin, situation.surroundings,
                       situation.entries, situation.air)  # fmt: skip
    return replace(case, outlook=situation.ahead)


def case_around(farm: Farm, bed: Bed, twin: Twin, around: Surroundings,
                entries: Sequence[AnyEntry], air: Air | None = None) -> Case:  # fmt: skip
    """What is decided about ``twin`` from, where its fortnight has not been run."""
    days = dt.timedelta(days=1)
    return Case(
        twin=twin,
        air=air or around.air(bed, around.now, around.now + WINDOW_D * days),
        air_long=around.air(bed, around.now, around.now + HORIZON_D * days),
        limits=farm.limits_of(bed), store=farm.store, containers=farm.containers,
        entries=tuple(e for e in entries if e.bed == bed.id),
        open_air=around.opened().air(bed, around.now, around.now + WINDOW_D * days),
        units=farm.preferences.units,
        share_of_store=farm.share_of_store(bed, around.now.date()),
        normals=farm.site.normals, zone_info=farm.site.zone_info(),
    )  # fmt: skip


def morning(farm: Farm, log: LogReading, recorded: Recorded, now: dt.datetime, keeping: Keeping,
            progress: Progress | None = None, lead: Lead | None = None) -> Morning:  # fmt: skip
    """This morning's outlook and advice for every bed of a farm.

    What was worked out for the same inputs in the same hour is taken from ``keeping``.
    ``progress`` is told (what, done, of how many). ``lead`` says which advice of a bed leads
    before it is kept (:mod:`bedlore.service.lead`).
    """
    now = whole_hour(now)
    begun, not_begun = beds_alive(farm, now)
    faults = (*log.faults, *not_begun)
    stored = keeping.morning(now)
    note = _weather_note(recorded, now)
    if stored is not None:
        return Morning(farm, now, faults, note, stored)
    params = farm_members()
    surroundings = surround(farm, recorded, params, now)
    beliefs = beliefs_of(farm, begun, log.current, surroundings, params, keeping)

    def given() -> Iterator[tuple[Bed, Snapshot | None, Advice | None]]:
        for bed in begun:
            yield bed, keeping.snapshot(bed.id), keeping.advice_before(bed.id, now.date())

    def work(
        one: tuple[Bed, Snapshot | None, Advice | None],
    ) -> tuple[BedMorning, Snapshot | None, list[PastOutlook]]:
        bed, stored_state, yesterday = one

        def tell(done: int, of: int) -> None:
            if progress:
                progress(say("{bed}: up to now", bed=bed.name), done, of)

        belief = beliefs[bed.id]
        begin = belief.snapshot or stored_state
        situation = situation_of(farm, bed, log, belief.surroundings, belief.params, begin, tell,
                                 rests=belief.rests)  # fmt: skip
        if progress:
            progress(say("{bed}: what to do", bed=bed.name), 0, 1)
        state = situation.twin.snapshot
        outlooks = to_keep(bed.id, situation.ahead, belief.rests.spread)
        return decide_for(situation, yesterday), None if state is begin else state, outlooks

    beds, given_out = [], list[PastOutlook]()
    for told_of, state, outlooks in side_by_side(work, given()):
        beds.append(lead(told_of) if lead else told_of)
        given_out += outlooks
        if state is not None:
            keeping.keep_snapshot(told_of.bed_id, state)
    keeping.keep_outlooks(given_out)
    keeping.keep_advice(bed.advice for bed in beds)
    told = tuple(beds)
    keeping.keep_morning(now, told)
    return Morning(farm, now, faults, sentences(note, *surroundings.notes), told)


def _weather_note(recorded: Recorded, now: dt.datetime) -> str:
    """How old the weather is that everything rests on."""
    if recorded.series is None:
        record = say("No weather was recorded; the normals of the place stand in.")
    else:
        age_d = max(0.0, (now - recorded.series.end) / dt.timedelta(days=1))
        record = (
            say("Weather recorded up to {days} days ago.", days=round(age_d)) if age_d >= 1.5
            else say("Weather recorded up to yesterday.")
        )  # fmt: skip
    known = recorded.known
    if known.forecast is not None:
        ahead = say("Forecast: {source}.", source=say(known.forecast.source))
    elif known.typed:
        ahead = say_many(
            "{count} coming day typed by the keeper, then the usual for the season.",
            "{count} coming days typed by the keeper, then the usual for the season.",
            len(known.typed),
        )  # fmt: skip
    else:
        ahead = say("No forecast: the coming days are drawn from the normals of the place.")
    return sentences(record, ahead, *recorded.notes)
