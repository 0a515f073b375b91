"""The morning as plain data: what the terminal, the page and ``--json`` all tell.

One set of names for all of them (:mod:`bedlore.service.fields`); SI units throughout. Odds are
shares 0..1; a ``band`` of three is the 5, 50 and 95 % quantile over the ensemble.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from bedlore import __version__
from bedlore.decide.date_words import brief
from bedlore.decide.records import Action, Advice, Effect, FindCard, Harm, Lifeboat, Pantry
from bedlore.errors import Fault
from bedlore.farm.bed import Bed, Limits
from bedlore.farm.model import Farm
from bedlore.outlook.ahead import QUANTILES, Odds
from bedlore.say import say
from bedlore.service.belief import Rests
from bedlore.service.early import early_account
from bedlore.service.learnt_words import rests_words
from bedlore.service.marks import Marked, marked_beds, marks
from bedlore.service.views import WHOLE_BED, OutlookView, ReadingView

if TYPE_CHECKING:
    from bedlore.service.morning import BedMorning, Morning

Account = dict[str, Any]

# Outputs told of each zone, and which hour of a step stands for it.
TOLD: dict[str, str] = {
    "temp_probe_c": "last", "temp_coldest_c": "least", "temp_warmest_c": "most",
    "moisture_frac": "last", "food_left_kg": "last", "ammonia_mg_g": "most",
    "sour_index": "most", "worms_kg": "last", "adults_n": "last", "juveniles_n": "last",
    "hatchlings_n": "last", "cocoons_n": "last",
}  # fmt: skip
LOW, MID, HIGH = 0, 2, 4  # places of 5, 50 and 95 % among QUANTILES


def today_account(morning: Morning) -> Account:
    """What ``bedlore today --json`` prints: the beds in order of urgency and the state of data."""
    mark = marks(morning.farm)
    beds = [bed_account(bed, mark[bed.bed_id], morning) for bed in morning.beds]
    beds.sort(key=_by_urgency)
    return {**head_account(morning), "beds": beds}


def chores_account(advice: Iterable[Advice], farm: Farm) -> list[Account]:
    """What to do at each bed that ``advice`` is for, the most urgent first: the head of its
    account, which needs no outlook."""
    given = {one.bed_id: one for one in advice}
    chores = [
        {**chore_account(advised, one, farm.limits_of(one.bed)), "headline": advised.headline}
        for one in marked_beds(farm) if (advised := given.get(one.bed.id)) is not None
    ]  # fmt: skip
    return sorted(chores, key=_by_urgency)


def chore_account(advice: Advice, marked: Marked, limits: Limits) -> Account:
    """Which bed it is and how urgent."""
    return {
        **marked.account(),
        "urgency": "due" if is_due(advice) else "can wait",
        "urgency_score": round(urgency_score(advice, limits), 4),
    }  # fmt: skip


def _by_urgency(told: Account) -> tuple[float, int]:
    return (-told["urgency_score"], told["mark"])


def head_account(morning: Morning) -> Account:
    """Which farm and moment an account is of, its weather, and what was kept aside."""
    return {
        "farm": morning.farm.name,
        "made_at": morning.now.isoformat(),
        "time_zone": morning.farm.site.time_zone,
        "weather": weather_account(morning),
        "kept_aside": [fault_account(fault) for fault in morning.faults],
    }


def weather_account(morning: Morning) -> Account:
    """What the coming days rest on, and how old it is."""
    return {"note": morning.weather_note}


def bed_account(told: BedMorning, marked: Marked, morning: Morning) -> Account:
    """One bed of today's account."""
    bed = marked.bed
    limits = morning.farm.limits_of(bed)
    advice = told.advice
    return {
        **chore_account(advice, marked, limits),
        "limits": limits_account(limits),
        "now": now_account(told.outlook),
        "advice": advice_account(advice),
        "card": card_account(told.card),
        "pantry": pantry_account(told.pantry, bed),
        "lifeboat": lifeboat_account(told.lifeboat),
        "harm": harm_account(told.harm),
        "early": early_account(told.early),
        "notes": list(told.notes),
        "rests": rests_account(told.rests, morning.farm),
        "dates_ahead": brief(morning.dates[bed.id]) if bed.id in morning.dates else [],
    }


def rests_account(rests: Rests, farm: Farm) -> Account:
    """What a bed's figures rest on: its log as far as it was learnt, or what is usual."""
    return {
        "standing": rests.standing, "wants_learning": rests.wants_learning,
        "readings_n": rests.readings,
        "read_until": rests.until.isoformat() if rests.until else None,
        "model_error_k": rests.model_error_k, "spread_factor": round(rests.spread, 3),
        "words": rests_words(rests, farm.site.zone_info()),
    }  # fmt: skip


def is_due(advice: Advice) -> bool:
    """Whether there is something to do today."""
    return advice.action.kind != "nothing" and advice.action.on_day == 0


def urgency_score(advice: Advice, limits: Limits) -> float:
    """Beds are told in this order, highest first: something to do today, then how far the odds
    of doing nothing, and of doing it, stand above what the keeper accepts."""

    def above(odds: Odds) -> float:
        return max(
            odds.cold / limits.risk_cold, odds.hot / limits.risk_hot, odds.sour / limits.risk_sour
        )

    score = (2.0 if is_due(advice) else 0.0) + math.tanh(above(advice.without.odds) / 4)
    return score + 0.5 * math.tanh(above(advice.effect.odds) / 4)


def limits_account(limits: Limits) -> Account:
    """The keeper's limits and the odds accepted over the window."""
    return dict(limits.model_dump())


def now_account(outlook: OutlookView) -> Account:
    """The bed as it is taken to be now: the first hour of its outlook, each as a band."""

    def first(name: str) -> list[float]:
        series = outlook.series(name)
        return [tidy(series[place][0]) for place in (LOW, MID, HIGH)]

    names = ("temp_probe_c", "temp_coldest_c", "temp_warmest_c", "moisture_frac", "food_left_kg",
             "worms_kg", "cocoons_n")
    return {name: first(name) for name in names}


def tidy(value: float) -> float:
    """``value`` to four significant figures: more would only pretend."""
    return float(f"{value:.4g}")


def odds_account(odds: Odds) -> Account:
    """Odds of crossing each limit anywhere in the bed within the window."""
    return {
        "odds_cold": tidy(odds.cold), "odds_hot": tidy(odds.hot), "odds_sour": tidy(odds.sour),
        "odds_dry": tidy(odds.dry), "odds_wet": tidy(odds.wet), "members": odds.members,
    }  # fmt: skip


def action_account(action: Action) -> Account:
    """One thing that could be done."""
    return {
        "kind": action.kind,
        "zone": action.zone_id,
        "parts": [{"material": m, "mass_kg": tidy(mass)} for m, mass in action.parts],
        "place": action.place,
        "material": action.material,
        "thickness_m": tidy(action.thickness_m),
        "on_day": action.on_day,
        "setpoint_c": action.setpoint_c,
        "to_zone": action.to_zone,
        "words": action.words,
    }


def effect_account(effect: Effect) -> Account:
    """What an action leads to within the window."""
    return {
        "odds": odds_account(effect.odds),
        "coldest_c": _band(effect.coldest_c),
        "warmest_c": _band(effect.warmest_c),
        "food_left_kg": _band(effect.food_left_kg),
        "moisture_frac": _band(effect.moisture_frac),
        "ammonia_mg_g": _band(effect.ammonia_mg_g),
        "energy_kwh": tidy(effect.energy_kwh),
        "castings_dry_kg": tidy(effect.castings_dry_kg),
    }


def advice_account(advice: Advice) -> Account:
    """Advice with its reasons, effects and rivals."""
    return {
        "headline": advice.headline,
        "action": action_account(advice.action),
        "reasons": [
            {"text": r.text, "basis": r.basis, "source": r.source} for r in advice.reasons
        ],
        "effect": effect_account(advice.effect),
        "without": effect_account(advice.without),
        "rivals": [
            {"action": action_account(action), "effect": effect_account(effect)}
            for action, effect in advice.rivals
        ],
        "would_change": list(advice.would_change),
        "would_help": list(advice.would_help),
        "cost_of_ignoring": advice.cost_of_ignoring,
        "cautions": list(advice.cautions),
        "expect": advice.expect,
        "ahead_words": advice.ahead_words,
        "cause_of_change": advice.cause_of_change,
        "also": [action_account(action) for action in advice.also],
        "planned": [action_account(action) for action in advice.later],
        "leads": advice.leads,
        "lead_words": advice.lead_words,
        "members": advice.members,
    }


def card_account(card: FindCard) -> Account:
    """The if-you-find card."""
    rows = [
        {"food_left": row.food_left, "band": row.band, "act": row.act, "why": row.why}
        for row in card.rows
    ]
    return {"rows": rows, "good_until": card.good_until.isoformat(), "note": card.note}


def pantry_account(pantry: Pantry, bed: Bed) -> Account:
    """Uneaten food and spare water by zone, and what they will claim."""
    return {
        "rows": [
            {
                "zone": row.zone_id, "zone_name": zone_name(bed, row.zone_id),
                "food_kg": _band(row.food_kg), "spare_water_kg": _band(row.spare_water_kg),
                "heat_mj": _band(row.heat_mj), "ammonia_g": _band(row.ammonia_g),
                "dry_card_kg": _band(row.dry_card_kg),
            }
            for row in pantry.rows
        ],
        "card_to_store_kg": tidy(pantry.card_to_store_kg),
        "leaves_to_store_kg": tidy(pantry.leaves_to_store_kg),
        "claim_temp_c": pantry.claim_temp_c,
        "claim_days": pantry.claim_days,
        "words": pantry.words,
    }  # fmt: skip


def lifeboat_account(boat: Lifeboat) -> Account:
    """Worms and castings to take indoors before a cold snap or heat wave."""
    return {
        "event": boat.event,
        "when": boat.when.isoformat() if boat.when else None,
        "worms_kg": tidy(boat.worms_kg),
        "castings_l": tidy(boat.castings_l),
        "back_by": boat.back_by.isoformat() if boat.back_by else None,
        "odds": tidy(boat.odds),
        "words": boat.words,
    }


def harm_account(harms: Sequence[Harm]) -> list[Account]:
    """Hours to a limit after a mishap; hours never reached are None (JSON has no infinity)."""
    return [
        {
            "event": one.event,
            "limit": one.limit,
            "hours": [tidy(h) if math.isfinite(h) else None for h in one.hours],
            "share": tidy(one.share),
            "window_h": one.window_h,
            "curve": [
                {"hour": hour, "temp_c": [tidy(low), tidy(mid), tidy(high)]}
                for hour, low, mid, high in one.curve
            ],
            "words": one.words,
        }
        for one in harms
    ]


def fault_account(fault: Fault) -> Account:
    """Something in the keeper's files that was put aside, and where it stands."""
    return {"path": fault.path, "sentence": fault.sentence}


def zone_name(bed: Bed | None, zone_id: str) -> str:
    """The keeper's name for a zone; "whole bed" for none."""
    zone = bed.zone(zone_id) if bed else None
    return zone.called if zone else (zone_id or say("whole bed"))


def outlook_account(morning: Morning, every_h: int = 24) -> Account:
    """What ``bedlore outlook --json`` prints: quantiles of each zone, step by step."""
    mark = marks(morning.farm)
    return {
        **head_account(morning),
        "quantiles": list(QUANTILES),
        "every_h": every_h,
        "beds": [
            bed_ahead_account(told, mark[told.bed_id], morning, every_h)
            for told in morning.beds
        ],
    }


def report_account(morning: Morning) -> Account:
    """Everything the page and the printed sheet show: today's account, and for each bed its
    cross-section, its readings and the coming days in steps of three hours."""
    account = today_account(morning)
    by_id = {told.bed_id: told for told in morning.beds}
    for bed in account["beds"]:
        told = by_id[bed["bed"]]
        bed["section"] = asdict(told.section)
        bed["readings"] = [reading_account(reading) for reading in told.readings]
        bed["ahead"] = ahead_account(told.outlook, morning.farm, 3)
        bed["days"] = ahead_account(told.outlook, morning.farm, 24)
        bed["behind"] = behind_account(told.behind) if told.behind else None
        bed["built"] = built_account(morning.farm, bed["bed"])
    return {
        **account,
        "place": morning.farm.site.name,
        "units": morning.farm.preferences.units,
        "version": __version__,
    }


def built_account(farm: Farm, bed_id: str) -> Account:
    """What a bed is made of, in the words of the farm file."""
    bed = farm.bed(bed_id)
    assert bed is not None
    return {
        "kind": bed.kind, "place": bed.place, "stand": bed.stand, "fabric": bed.fabric,
        "drainage": bed.drainage.kind,
        **{part: [layer.model_dump() for layer in getattr(bed, part)]
           for part in ("walls", "floor", "lid")},
        "cover": bed.cover.model_dump() if bed.cover else None,
        "heat_mat": bed.heat_mat.model_dump() if bed.heat_mat else None,
        "tray_depths_m": {zone.id: zone.depth_m for zone in bed.zones if bed.kind == "stack"},
    }  # fmt: skip


def bed_ahead_account(told: BedMorning, marked: Marked, morning: Morning,
                      every_h: int) -> Account:  # fmt: skip
    """One bed of the outlook's account."""
    return {
        **marked.account(),
        "limits": limits_account(morning.farm.limits_of(marked.bed)),
        "odds": odds_account(told.odds),
        "readings": [reading_account(reading) for reading in told.readings],
        **ahead_account(told.outlook, morning.farm, every_h),
    }


def reading_account(reading: ReadingView) -> Account:
    """A thermometer reading of the last weeks."""
    return {
        "at": reading.at.isoformat(), "zone": reading.zone_id, "temp_c": reading.temp_c,
        "error_k": reading.error_k, "depth_m": reading.depth_m, "device": reading.device,
    }  # fmt: skip


def ahead_account(outlook: OutlookView, farm: Farm, every_h: int) -> Account:
    """``times`` (ends of steps) and quantiles ``[len(QUANTILES)][steps]`` of every told output,
    for the whole bed and by zone. Of a step the coldest, warmest or worst hour is told, or the
    last one."""
    step = max(every_h // outlook.every_h, 1)
    count = len(outlook.series("temp_probe_c")[0]) // step
    ends = [
        (outlook.start + dt.timedelta(hours=outlook.every_h * step * (i + 1))).isoformat()
        for i in range(count)
    ]
    bed = farm.bed(outlook.bed_id)
    stepped = {
        zone: {name: [_stepped(row, step, how) for row in series[name]]
               for name, how in TOLD.items()}
        for zone, series in outlook.zones.items()
    }  # fmt: skip
    zones = [
        {"zone": zone_id, "zone_name": zone_name(bed, zone_id), **series}
        for zone_id, series in stepped.items()
        if zone_id != WHOLE_BED
    ]
    return {"times": ends, "whole": stepped[WHOLE_BED], "zones": zones}


def behind_account(behind: OutlookView) -> Account:
    """What the model says of the last days at the thermometer: ``times`` and quantiles
    ``[len(QUANTILES)][times]``, for the whole bed and by zone id."""
    rows = {zone: [[tidy(v) for v in row] for row in series["temp_probe_c"]]
            for zone, series in behind.zones.items()}  # fmt: skip
    step = dt.timedelta(hours=behind.every_h)
    count = len(rows[WHOLE_BED][0])
    return {
        "times": [(behind.start + step * (i + 1)).isoformat() for i in range(count)],
        "whole": {"temp_probe_c": rows[WHOLE_BED]},
        "zones": {zone: row for zone, row in rows.items() if zone != WHOLE_BED},
    }


def _stepped(row: Sequence[float], step: int, how: str) -> list[float]:
    parts = [row[i : i + step] for i in range(0, len(row) - step + 1, step)]
    if how == "last":
        return [tidy(part[-1]) for part in parts]
    return [tidy(min(part) if how == "least" else max(part)) for part in parts]


def _band(values: tuple[float, float, float]) -> list[float]:
    return [tidy(v) for v in values]
