"""How past outlooks turned out: scores, skill against simple references, and a truer spread.

An outlook is judged by later readings only, and was written down before them. Errors of reading
are added to the members before they are ranked (Saetra et al. 2004, Hamill 2001, from memory).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedlore.learn.references import REFERENCES, Record, refer
from bedlore.learn.scores import (
    Bin,
    Brier,
    binomial_band,
    brier,
    coverage,
    crps_ensemble,
    crps_normal,
    pit,
    reliability_bins,
    skill,
)
from bedlore.say import Said, message, say, say_many

Floats = NDArray[np.float64]
LEVELS = tuple((i + 0.5) / 11 for i in range(11))  # quantiles that are kept of an outlook
EVERY_H = 6
_DRAWS = 200
PITS = 10  # bins of the PIT histogram
SEED = 77
SURE = 0.02  # odds nearer to none or all than this are told by no line
FEW = 20  # below this many readings nothing can be said of the odds
_FACTORS = np.exp(np.linspace(np.log(0.4), np.log(3.0), 41))
_TRUST_AFTER = 30.0  # readings after which a fitted spread counts half


@dataclass(frozen=True)
class PastOutlook:
    """What was expected of a zone: ``temp_c`` ``[W, len(LEVELS)]`` every ``EVERY_H`` hours.

    ``spread`` is the factor on the ensemble's spread that was in it already.
    """

    bed_id: str
    zone_id: str
    made_at: dt.datetime
    temp_c: tuple[tuple[float, ...], ...]
    spread: float = 1.0

    def at(self, when: dt.datetime) -> Floats | None:
        """Quantiles at ``when``, between the hours kept; None outside the outlook."""
        step = (when - self.made_at) / dt.timedelta(hours=EVERY_H) - 1.0
        rows = np.asarray(self.temp_c, dtype=float)
        if not 0.0 <= step <= len(rows) - 1:
            return None
        first = min(int(step), len(rows) - 2) if len(rows) > 1 else 0
        share = step - first
        return np.asarray(rows[first] * (1.0 - share) + rows[min(first + 1, len(rows) - 1)] * share)


def past_outlook(bed_id: str, zone_id: str, made_at: dt.datetime, temp_c: Floats,
                 spread: float = 1.0) -> PastOutlook:  # fmt: skip
    """To be kept: quantiles of hourly temperatures ``[M, T]`` of a zone."""
    kept = np.quantile(temp_c[:, EVERY_H - 1 :: EVERY_H], LEVELS, axis=0).T
    return PastOutlook(
        bed_id, zone_id, made_at, tuple(tuple(round(float(v), 2) for v in row) for row in kept),
        spread,
    )


def kept_rows(quantiles_c: Sequence[Sequence[float]], levels: Sequence[float],
              every_h: int) -> tuple[tuple[float, ...], ...]:  # fmt: skip
    """Rows of a :class:`PastOutlook` from ``quantiles_c`` ``[levels][W]`` at steps of
    ``every_h``."""
    step = max(EVERY_H // every_h, 1)
    columns = np.asarray(quantiles_c, dtype=float)[:, step - 1 :: step].T
    return tuple(tuple(float(v) for v in np.interp(LEVELS, levels, row)) for row in columns)


@dataclass(frozen=True)
class Case:
    """A reading with what an earlier outlook said of it: quantiles at ``LEVELS`` in degC."""

    bed_id: str
    zone_id: str
    made_at: dt.datetime
    seen_at: dt.datetime
    said_c: tuple[float, ...]
    seen_c: float
    error_k: float
    spread: float = 1.0

    @property
    def lead_d(self) -> float:
        """Days ahead."""
        return (self.seen_at - self.made_at) / dt.timedelta(days=1)


@dataclass(frozen=True)
class SeenTemp:
    """A thermometer reading of a zone, as it is used to judge an outlook."""

    bed_id: str
    zone_id: str
    at: dt.datetime
    temp_c: float
    error_k: float


def cases_of(outlooks: Iterable[PastOutlook], readings: Sequence[SeenTemp],
             leads_d: Sequence[float] = (1, 3, 7, 14)) -> list[Case]:  # fmt: skip
    """Each reading against the outlook made nearest to each lead before it (within half a day,
    or a tenth of the lead)."""
    by_zone: dict[tuple[str, str], list[PastOutlook]] = {}
    for outlook in outlooks:
        by_zone.setdefault((outlook.bed_id, outlook.zone_id), []).append(outlook)
    found = []
    for seen in readings:
        mine = by_zone.get((seen.bed_id, seen.zone_id), [])
        for lead in leads_d:
            wanted = seen.at - dt.timedelta(days=lead)
            near = min(mine, key=lambda o: abs(o.made_at - wanted), default=None)
            if near is None or abs(near.made_at - wanted) > dt.timedelta(days=max(0.5, 0.1 * lead)):
                continue
            said = near.at(seen.at)
            if said is not None:
                found.append(Case(seen.bed_id, seen.zone_id, near.made_at, seen.at,
                                  tuple(map(float, said)), seen.temp_c, seen.error_k,
                                  near.spread))  # fmt: skip
    return found


def _parts_of(cases: Sequence[Case]) -> tuple[Floats, Floats, Floats]:
    """Median ``[N]`` of each outlook, its members' distances from it ``[N, 200]`` and errors of
    reading ``[N, 200]``; seeded. Quantiles are joined by straight lines, tails are exponential.
    """
    said = np.array([case.said_c for case in cases])
    u = (np.arange(_DRAWS) + 0.5) / _DRAWS
    inner = np.stack([np.interp(u, LEVELS, row) for row in said])
    # Beyond the outer quantiles the spread goes on as between the two outermost.
    low, high = said[:, 1] - said[:, 0], said[:, -1] - said[:, -2]
    under, over = u < LEVELS[0], u > LEVELS[-1]
    inner[:, under] = said[:, :1] - low[:, None] * np.log(LEVELS[0] / u[under])
    inner[:, over] = said[:, -1:] + high[:, None] * np.log((1 - LEVELS[-1]) / (1 - u[over]))
    middle = said[:, said.shape[1] // 2]
    noise = np.random.default_rng(SEED).standard_normal(inner.shape)
    return middle, inner - middle[:, None], np.array([c.error_k for c in cases])[:, None] * noise


def members_of(cases: Sequence[Case]) -> Floats:
    """Members ``[N, 200]`` of each case as a thermometer would read them."""
    middle, apart, error = _parts_of(cases)
    return np.asarray(middle[:, None] + apart + error)


def spread_factor(cases: Sequence[Case]) -> float:
    """Factor on the ensemble's spread about its median that would have scored best (CRPS), drawn
    towards 1 while readings are few. What was in the outlooks already is taken out first."""
    if len(cases) < 5:
        return 1.0
    seen = np.array([case.seen_c for case in cases])
    middle, apart, error = _parts_of(cases)
    apart = apart / np.array([case.spread for case in cases])[:, None]
    means = [
        float(crps_ensemble(middle[:, None] + factor * apart + error, seen).mean())
        for factor in _FACTORS
    ]
    best = float(np.log(_FACTORS[int(np.argmin(means))]))
    return float(np.exp(best * len(cases) / (len(cases) + _TRUST_AFTER)))


@dataclass(frozen=True)
class Card:
    """The score card of a group of cases; temperatures in K, shares 0..1.

    ``skill`` by reference; ``coverage_band`` is what chance allows ``covered_90`` with so many
    readings. ``odds`` compares what was said of the cold limit with what happened, ``hot_odds`` of
    the hot one.
    """

    group: str
    count: int
    crps_k: float
    reference_k: dict[str, float]
    skill: dict[str, float]
    covered_50: float
    covered_90: float
    coverage_band: tuple[float, float]
    pit_counts: tuple[int, ...]
    limit: Brier
    odds: tuple[Bin, ...]
    hot_limit: Brier
    hot_odds: tuple[Bin, ...]
    spread_factor: float

    @property
    def enough(self) -> bool:
        """Whether there are readings enough to judge the odds."""
        return self.count >= FEW


def card_of(group: str, cases: Sequence[Case], record: Record, cold_c: float,
            hot_c: float) -> Card:  # fmt: skip
    """Score ``cases`` against each other reference; ``cold_c`` and ``hot_c`` are the limits whose
    odds are judged. Raises ValueError without cases."""
    if not cases:
        raise ValueError("no cases to score")
    members = members_of(cases)
    seen = np.array([case.seen_c for case in cases])
    scores = crps_ensemble(members, seen)
    against = {name: _against(name, cases, record, scores) for name in REFERENCES}
    known = {name: pair for name, pair in against.items() if pair is not None}
    pits = pit(members, seen, np.random.default_rng(SEED))
    said, happened = (members < cold_c).mean(axis=1), seen < cold_c
    said_hot, was_hot = (members > hot_c).mean(axis=1), seen > hot_c
    return Card(
        group, len(cases), float(scores.mean()),
        {name: theirs for name, (theirs, _) in known.items()},
        {name: better for name, (_, better) in known.items()},
        coverage(pits, 0.5), coverage(pits, 0.9), binomial_band(0.9, len(cases)),
        tuple(int(n) for n in np.histogram(pits, PITS, (0.0, 1.0))[0]),
        brier(said, happened), reliability_bins(said, happened),
        brier(said_hot, was_hot), reliability_bins(said_hot, was_hot), spread_factor(cases),
    )  # fmt: skip


def _against(name: str, cases: Sequence[Case], record: Record,
             scores: Floats) -> tuple[float, float] | None:  # fmt: skip
    """Mean CRPS [K] of a reference over the cases it has something to say of, and the outlook's
    skill over the same ones; None when they are fewer than half."""
    theirs, ours = [], []
    for case, score in zip(cases, scores, strict=True):
        told = refer(name, record, case.bed_id, case.zone_id, case.made_at, case.seen_at)
        if told is not None:
            sd = np.hypot(told[1], case.error_k)
            theirs.append(float(crps_normal(told[0], sd, case.seen_c)))
            ours.append(float(score))
    if not theirs or 2 * len(theirs) < len(cases):
        return None
    mean = float(np.mean(theirs))
    return mean, skill(float(np.mean(ours)), mean)


def held(cases: Sequence[Case], share: float = 0.9) -> float:
    """Share of the readings inside the central band that ought to hold ``share`` of them."""
    seen = np.array([case.seen_c for case in cases])
    return coverage(pit(members_of(cases), seen, np.random.default_rng(SEED)), share)


def grouped(cases: Sequence[Case], key: Callable[[Case], str]) -> dict[str, list[Case]]:
    """Cases by group, in the order of first appearance."""
    groups: dict[str, list[Case]] = {}
    for case in cases:
        groups.setdefault(key(case), []).append(case)
    return groups


def season_of(when: dt.datetime) -> str:
    """Quarter of the year, named by its months."""
    return ("Dec-Feb", "Mar-May", "Jun-Aug", "Sep-Nov")[when.month % 12 // 3]


def lead_name(case: Case) -> str:
    """Nearest of the usual leads."""
    days = min((1, 3, 7, 14), key=lambda lead: abs(lead - case.lead_d))
    return f"{days} d ahead"


def sentences(card: Card) -> tuple[str, ...]:
    """The card in plain words."""
    if card.count == 0:
        return (say("No outlook can be checked yet."),)
    found: list[str] = [say_many(
        "{count} reading checked. The outlook missed it by {miss} (spread counted).",
        "{count} readings checked. On average the outlook missed by {miss} (spread counted).",
        card.count, miss=f"{card.crps_k:.1f} K",
    )]  # fmt: skip
    low, high = card.coverage_band
    held = round(card.covered_90 * card.count)
    verdict = (
        say("as it should") if low <= card.covered_90 <= high
        else say("too few: the band is too narrow") if card.covered_90 < low
        else say("more than it should: the band is too wide")
    )
    found.append(say("The 9-in-10 band held {held} of {count} readings, {verdict}.",
                     held=held, count=card.count, verdict=verdict))  # fmt: skip
    if not card.enough:
        found.append(say("Fewer than {few} readings cannot prove that the odds are right.",
                         few=FEW))  # fmt: skip
    told = [*map(_colder_words, _unsure(card.odds)), *map(_warmer_words, _unsure(card.hot_odds))]
    if told:
        found += [*told, say(_UNSEEN)]
    for name, value in card.skill.items():
        found.append(_skill_words(value, REFERENCES[name]))
    return tuple(found)


_UNSEEN = message("These are odds of single readings. Odds of a whole fortnight, and of the coldest"
                  " and warmest places, are not checked: no reading tells what happened"
                  " there.")  # fmt: skip


def _unsure(odds: Sequence[Bin]) -> list[Bin]:
    """Those worth telling: odds near none or all say little."""
    return [bin_ for bin_ in odds if SURE < bin_.said < 1.0 - SURE]


def _colder_words(bin_: Bin) -> Said:
    """What was said of the cold limit beside what happened."""
    return say_many(
        "When we said {odds} for colder than the limit, it happened once in {of}.",
        "When we said {odds} for colder than the limit, it happened {count} times in {of}.",
        bin_.happened, odds=_in_words(bin_.said), of=bin_.count,
    )  # fmt: skip


def _warmer_words(bin_: Bin) -> Said:
    """What was said of the hot limit beside what happened."""
    return say_many(
        "When we said {odds} for warmer than the limit, it happened once in {of}.",
        "When we said {odds} for warmer than the limit, it happened {count} times in {of}.",
        bin_.happened, odds=_in_words(bin_.said), of=bin_.count,
    )  # fmt: skip


def _skill_words(value: float, guess: str) -> Said:
    """How much better or worse than a simple guess."""
    share = f"{abs(value) * 100:.0f} %"
    if value >= 0:
        return say("{share} better than {guess}.", share=share, guess=say(guess))
    return say("{share} worse than {guess}.", share=share, guess=say(guess))


def _in_words(odds: float) -> Said:
    of = 10 if 0.05 <= odds <= 0.95 else 100
    return say("{count} in {of}", count=round(odds * of), of=of)
