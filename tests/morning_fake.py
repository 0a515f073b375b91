"""A made-up winter morning of the invented farm, without the model, for pages and commands.

Shapes as in ``service/morning.py``; the figures are written here and mean nothing.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field, replace
from pathlib import Path

from bedlore.decide.date_records import RestDates
from bedlore.decide.early import EarlySign, sign_of
from bedlore.decide.records import (
    Action,
    Advice,
    Effect,
    FindCard,
    FindRow,
    Harm,
    Lifeboat,
    Pantry,
    PantryRow,
    Reason,
)
from bedlore.errors import Fault
from bedlore.farm.bed import Bed
from bedlore.farm.load import load_farm
from bedlore.farm.model import Farm
from bedlore.learn.drift import Called
from bedlore.outlook.ahead import QUANTILES, Odds
from bedlore.service.belief import NOT_LEARNT, Rests
from bedlore.service.views import CellsView, CellView, OutlookView, ReadingView, Section, ZoneView

NOW = dt.datetime(2026, 1, 12, 6, tzinfo=dt.UTC)
FARM_FILE = Path(__file__).parents[1] / "src" / "bedlore" / "demo" / "farm.toml"
_NAMES = {
    "temp_probe_c": (7.0, 1.2), "temp_coldest_c": (5.0, 1.5), "temp_warmest_c": (8.0, 1.0),
    "temp_mean_c": (6.5, 1.0), "moisture_frac": (0.74, 0.02), "food_left_kg": (2.0, 0.6),
    "ammonia_mg_g": (0.1, 0.02), "sour_index": (0.3, 0.2), "adults_n": (900.0, 150.0),
    "juveniles_n": (1500.0, 300.0), "hatchlings_n": (100.0, 40.0), "cocoons_n": (700.0, 200.0),
    "worms_kg": (1.1, 0.2),
}  # fmt: skip
_Z = (-1.645, -0.674, 0.0, 0.674, 1.645)


@dataclass(frozen=True)
class FakeBedMorning:
    bed_id: str
    section: Section
    outlook: OutlookView
    odds: Odds
    readings: tuple[ReadingView, ...]
    notes: tuple[str, ...]
    advice: Advice
    card: FindCard
    pantry: Pantry
    lifeboat: Lifeboat
    harm: tuple[Harm, ...]
    behind: OutlookView | None = None
    cells: CellsView | None = None
    rests: Rests = NOT_LEARNT
    early: tuple[EarlySign, ...] = ()


@dataclass(frozen=True)
class FakeMorning:
    farm: Farm
    now: dt.datetime
    faults: tuple[Fault, ...]
    weather_note: str
    beds: tuple[FakeBedMorning, ...]
    dates: dict[str, RestDates] = field(default_factory=dict)


def morning(farm: Farm | None = None) -> FakeMorning:
    """Every bed of ``farm`` (the invented one), on one cold morning."""
    farm = farm or load_farm(FARM_FILE)
    faults = (Fault("log.csv line 12", "'grams of joy' is not understood as a mass."),)
    note = "No forecast: the coming days are drawn from the normals of the place."
    beds = tuple(bed_morning(bed, i) for i, bed in enumerate(farm.beds))
    return FakeMorning(farm, NOW, faults, note, beds)


def bed_morning(bed: Bed, index: int = 0) -> FakeBedMorning:
    """One bed, the colder the later it stands in the file."""
    odds = Odds(cold=0.32 if index != 1 else 0.0, hot=0.0, sour=0.02, dry=0.0, wet=0.1, members=200)
    return FakeBedMorning(
        bed.id, section(bed), outlook(bed, -2.0 * index), odds, readings(bed),
        ("The thermometer line sluice-line shows the same value for 9 days.",),
        advice(bed, odds, index), card(bed), pantry(bed), lifeboat(bed), (harm(bed),), behind(bed),
        cells(bed), early=early(bed) if index == 0 else (),
    )  # fmt: skip


def early(bed: Bed) -> tuple[EarlySign, ...]:
    called = Called("stuck", 24, 240, 9, 1.6, "line sensor", (0,))
    return (sign_of(called, NOW - dt.timedelta(days=11), dt.UTC),)


def section(bed: Bed) -> Section:
    zones = tuple(_zone(bed, zone.id, i) for i, zone in enumerate(bed.zones))
    return Section(
        bed.id, bed.kind, bed.length_m, bed.width_m, bed.depth_m,
        sum(layer.thickness_m for layer in bed.walls), sum(x.thickness_m for x in bed.floor),
        sum(layer.thickness_m for layer in bed.lid), bed.drainage.thickness_m, bed.stand, 0.4,
        zones,
    )  # fmt: skip


def _zone(bed: Bed, zone_id: str, i: int) -> ZoneView:
    zone = next(z for z in bed.zones if z.id == zone_id)
    deep = (zone.depth_m or bed.depth_m) * 0.7
    cells = tuple(
        CellView(deep / 12, t, t - 2, t + 2, 0.74, 1 / 12)
        for t in (1.5 + i + 0.9 * k * (1 if i != 1 else 3) for k in range(12))
    )
    length = bed.length_m if bed.kind == "stack" else (zone.length_m or bed.length_m)
    return ZoneView(zone_id, zone.name, zone.side, length, zone.active, 0.02 if i == 0 else 0.0,
                    cells if zone.active else (), (0.3, 0.45, 0.6), (0.2, 0.9, 2.0))  # fmt: skip


def outlook(bed: Bed, shift: float) -> OutlookView:
    hours = 336

    def rows(mean: float, sd: float, name: str) -> list[list[float]]:
        drift = shift if name.endswith("_c") else 0.0
        wave = 1.0 if name.startswith("temp") else 0.0
        return [
            [mean + drift + z * sd * (0.4 + h / 200) + wave * math.sin(h / 24 * 6.283) * 0.6
             - wave * h / 100 for h in range(hours)]
            for z in _Z
        ]

    one = {name: rows(mean, sd, name) for name, (mean, sd) in _NAMES.items()}
    zones = {"bed": one, **{zone.id: one for zone in bed.zones}}
    return OutlookView(bed.id, NOW, 1, QUANTILES, zones)


def behind(bed: Bed) -> OutlookView:
    days = [[8.0 + z * 0.5 - d / 20 for d in range(14)] for z in _Z]
    zones = {zone: {"temp_probe_c": days} for zone in ("bed", *(z.id for z in bed.zones))}
    return OutlookView(bed.id, NOW - dt.timedelta(days=14), 24, QUANTILES, zones)


def cells(bed: Bed) -> CellsView:
    """Each cell colder by a fifth of a degree a half day than in :func:`section`."""
    now = {zone.zone_id: [cell.temp_c for cell in zone.cells] for zone in section(bed).zones}
    steps = {zone: [[round(t - 0.2 * (k + 1), 1) for t in temps] for k in range(28)]
             for zone, temps in now.items()}
    return CellsView(NOW, 12, steps)


def readings(bed: Bed) -> tuple[ReadingView, ...]:
    return tuple(
        ReadingView(NOW - dt.timedelta(days=2 * d + 1), bed.zones[0].id, 7.5 + 0.3 * d, 0.75, 0.1,
                    "brass probe")
        for d in range(7)
    )  # fmt: skip


def effect(odds: Odds) -> Effect:
    return Effect(odds, (2.0, 4.5, 6.0), (6.0, 8.0, 10.0), (0.5, 2.0, 4.0), (0.7, 0.74, 0.8),
                  (0.05, 0.1, 0.2), 0.0, 1.2)  # fmt: skip


def advice(bed: Bed, odds: Odds, index: int) -> Advice:
    words = f"Lay 5 cm of straw over the whole of {bed.name} and put the lid back on."
    cover = Action("cover", "", (), "spread", 0.05, "straw", 0, words)
    nothing = Action("nothing", words="Nothing yet: let it be and look again on Thursday.")
    helped = replace(odds, cold=odds.cold / 8)
    return Advice(
        bed_id=bed.id, made_at=NOW, action=cover if index != 1 else nothing,
        headline=words if index != 1 else nothing.words,
        reasons=(
            Reason("The coldest lived-in place is between 4 and 7 degC now.", "worked out",
                   "this bed's model"),
            Reason("The last reading was 7.5 degC at 10 cm.", "measured", "your log, 11 January"),
            Reason("Worms all but stop eating below 5 degC.", "assumed", "model prior"),
        ),
        effect=effect(helped), without=effect(odds),
        rivals=((nothing, effect(odds)), (replace(cover, thickness_m=0.1), effect(helped))),
        would_change=("A reading above 9 degC would make this needless.",),
        cost_of_ignoring="The herd would slow for about three weeks; few would die.",
        cautions=("Straw is dry tinder: no lamp or heater near it.",),
        expect="Food in the race side hardly touched, bedding damp, worms in a knot in the middle.",
        cause_of_change="Yesterday said nothing yet; the night of the 14th now looks colder.",
        members=200, would_help=("A 50 mm foam lid would cut the odds further; none is on hand.",),
    )  # fmt: skip


def card(bed: Bed) -> FindCard:
    acts = {"none": "Feed half a blue bucket, spread thin.", "some": "Leave it.",
            "lots": "Take no more in; lay 2 scoops of dry card on it."}
    rows = tuple(
        FindRow(left, band, acts[left], "Below 5 degC little is eaten.")  # type: ignore[arg-type]
        for left in acts for band in ("cold", "mild")
    )
    return FindCard(bed.id, rows, NOW, dt.date(2026, 1, 26), "Cold: below 8 degC at the probe.")


def pantry(bed: Bed) -> Pantry:
    three = (0.4, 1.1, 2.3)
    rows = tuple(PantryRow(z.id, three, three, three, three, three) for z in bed.zones if z.active)
    return Pantry(bed.id, rows, 6.5, 4.0, 15.0, 30, "There is about 1.1 kg uneaten in each side.")


def lifeboat(bed: Bed) -> Lifeboat:
    return Lifeboat(bed.id, "cold", NOW + dt.timedelta(days=3), 0.25, 6.0, dt.date(2026, 6, 1), 0.8,
                    "Take 250 g of worms and 6 L of castings indoors before Thursday.")  # fmt: skip


def harm(bed: Bed) -> Harm:
    curve = tuple((float(h), 4 - h / 20, 6 - h / 24, 8 - h / 30) for h in range(0, 97, 6))
    return Harm(bed.id, "door open", "cold", (20.0, 41.0, math.inf), curve, 0.8, 96,
                "With the door open it takes 20 hours or more.")  # fmt: skip
