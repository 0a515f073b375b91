"""The keepers of the invented farm: two rounds a week, and what the story asks of them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from bedlore.farm.log import AnyEntry
from bedlore.farm.model import Farm
from bedlore.weather.series import WeatherSeries
from tools.demo_world import readings
from tools.demo_world.book import Book
from tools.demo_world.story import READ, STORY, Beat, fed_zones
from tools.demo_world.truth import TrueBed, TruePlace

SEED = 4133
KEEPERS = ("Jonna", "Jonna", "Jonna", "Ruben", "Ilka")
FIRST_DAY, LAST_DAY = dt.date(2024, 9, 1), dt.date(2026, 2, 28)
INTERVAL_D = {"sluice": 7.2, "weir": 11.0, "ladder": 11.0}  # between feeds, in mild weather
SENSOR_FROM, STUCK_FROM, STUCK_D = dt.date(2026, 1, 3), dt.date(2026, 1, 11), 9
SENSOR_ZONE = "bank-1"
LOOKS, GLANCES, SQUEEZES, PROBES = 0.60, 0.17, 0.13, 0.155  # a bed to be fed, and any bed
CORE_L = 0.8  # a flour scoop
Menu = tuple[tuple[tuple[str, float], ...], ...]
FOODS: dict[str, Menu] = {  # kg of each material in a usual meal
    "sluice": (
        (("cafe peelings", 2.7), ("egg tray pulp", 0.3)),
        (("cafe peelings", 2.4), ("coffee grounds", 0.8), ("flour sacks", 0.3)),
        (("cafe peelings", 3.0), ("egg tray pulp", 0.3)),
        (("cafe peelings", 2.2), ("stale rye", 0.4), ("flour sacks", 0.3)),
        (("aged goat stall bedding", 2.5), ("cafe peelings", 1.5)),
        (("cafe peelings", 2.6), ("oat husk", 0.3), ("crushed eggshell", 0.05)),
    ),
    "weir": (
        (("aged goat stall bedding", 5.0),),
        (("cafe peelings", 5.4), ("oat husk", 0.5)),
        (("aged goat stall bedding", 5.0), ("cafe peelings", 3.0)),
        (("cafe peelings", 4.0), ("coffee grounds", 1.5), ("leaf mould", 1.0)),
    ),
    "ladder": (
        (("cafe peelings", 1.0), ("egg tray pulp", 0.1)),
        (("cafe peelings", 1.0), ("coffee grounds", 0.2), ("flour sacks", 0.1)),
        (("cafe peelings", 1.4), ("egg tray pulp", 0.15)),
        (("cafe peelings", 0.8), ("pretzel crumbs", 0.1), ("egg tray pulp", 0.1)),
    ),
}
BUCKET_KG = {"cafe peelings": 5.4, "aged goat stall bedding": 4.95}  # as the product reckons
SCOOP_KG = {"cafe peelings": 0.48}
CAREFUL, GENEROUS = 0.5, 1.6  # how far a meal shrinks or grows with what was found


@dataclass
class Keeper:
    """Lives through the days, visit by visit, on true beds."""

    farm: Farm
    outdoor: WeatherSeries
    story: tuple[Beat, ...] = STORY
    fed_at: dict[str, dt.datetime] = field(default_factory=dict)
    turns: dict[str, int] = field(default_factory=dict)
    ration: dict[str, float] = field(default_factory=dict)
    stuck: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        place = TruePlace.of(self.farm.site, self.outdoor)
        self.zone = self.farm.site.zone_info()
        self.book = Book(self.farm)
        self.beds = {bed.id: TrueBed(bed, place) for bed in self.farm.beds}

    def live(self, last: dt.date = LAST_DAY) -> Book:
        """Live from the first day to ``last`` and hand over the logbook."""
        for number in range((last - FIRST_DAY).days + 1):
            self._day(FIRST_DAY + dt.timedelta(days=number))
        return self.book

    def _day(self, day: dt.date) -> None:
        rng = np.random.default_rng([SEED, day.toordinal()])
        jobs: list[tuple[dt.datetime, Beat | None]] = [
            (beat.at, beat) for beat in self.story if beat.at.date() == day
        ]
        goes = day.weekday() in (2, 5) and rng.random() < 0.97
        if goes:
            hour = 9 if day.weekday() == 5 else 18
            jobs.append((dt.datetime.combine(day, dt.time(hour)), None))
        if day >= SENSOR_FROM:
            self._read_sensor(day, rng)
        for at, beat in sorted(jobs, key=lambda job: job[0]):
            self._beat(beat, rng) if beat else self._round(at, rng)

    def _round(self, at: dt.datetime, rng: np.random.Generator) -> None:
        """Walk past all beds: feed those due, look at some, probe some."""
        who = KEEPERS[int(rng.integers(len(KEEPERS)))]
        minute = 3
        for name, bed in self.beds.items():
            zones = fed_zones(name, at.date())
            draws = rng.random(4)
            local = np.random.default_rng([SEED, at.toordinal(), len(name)])
            if not zones or bed.hour_of(self._utc(at)) < 1:
                continue
            self._go(bed, at)
            turn = self.turns.get(name, 0)
            zone = zones[turn % len(zones)]
            lines: list[tuple[str, dict[str, Any]]] = []
            due = self._feed_due(name, bed, zone, at)
            if draws[0] < (LOOKS if due else GLANCES):
                lines.append(("look", self._read("look", bed, zone, local)))
            other = self._somewhere(bed, zone, local)
            if draws[1] < SQUEEZES:
                lines.append(("squeeze", self._read("squeeze", bed, other, local)))
            if draws[2] < self._probing(at):
                lines.append(("probe", self._read("probe", bed, other, local)))
            for _, cells in lines:
                if "food_left" in cells:
                    self._learn(name, cells["food_left"])
            full = any(cells.get("food_left") == "lots" for _, cells in lines)
            if due and not (full and draws[3] < 0.75):
                lines.append(("feed", self._meal(name, turn, at)))
                self.fed_at[name] = at
                self.turns[name] = turn + 1
            elif due:
                self.fed_at[name] = at - dt.timedelta(days=0.5 * INTERVAL_D[name])
            dry = any(cells.get("word") == "crumbly" for _, cells in lines)
            wet = any(cells.get("word") == "runs" for _, cells in lines)
            if dry:
                lines.append(("water", {"mass_kg": "2" if name == "ladder" else "5"}))
            if wet:
                card = "0.3 kg" if name == "ladder" else "1 kg"
                lines.append(
                    ("bedding", {"parts": [{"material": "shredded card", "amount": card}]})
                )
            for kind, cells in lines:
                place = zone if kind in ("look", "feed") else other
                self._write(bed, at + dt.timedelta(minutes=minute), kind, place, who, cells)
                minute += 2

    def _somewhere(self, bed: TrueBed, fed: str, rng: np.random.Generator) -> str:
        """Where the hand or the probe goes: mostly where food goes, now and then elsewhere."""
        used = [zone for zone, place in bed.position.items() if bed.output("depth_m", place) > 0]
        elsewhere = used[int(rng.integers(len(used)))]
        return fed if rng.random() < 0.6 else elsewhere

    def _feed_due(self, name: str, bed: TrueBed, zone: str, at: dt.datetime) -> bool:
        """Whether this bed's turn has come; less often in the cold, more in July."""
        before = self.fed_at.get(name)
        if before is None:
            return True
        temp_c = bed.output("temp_probe_c", bed.position[zone])
        slow = 2.2 if temp_c < 3.0 else 1.4 if temp_c < 7.0 else 1.0 if temp_c < 16.0 else 0.85
        return (at - before) / dt.timedelta(days=1) >= slow * INTERVAL_D[name] - 1.0

    def _meal(self, name: str, turn: int, at: dt.datetime) -> dict[str, Any]:
        """The next meal of the menu, as much as was eaten last time lets the keeper dare."""
        menu = FOODS[name]
        meal = menu[(turn * 5 + turn // 4) % len(menu)]
        season = 0.6 if at.month == 1 else 1.15 if at.month == 7 else 1.0
        ration = self.ration.get(name, 1.0) * season
        parts = [{"material": m, "amount": said(m, kg * ration, name, turn)} for m, kg in meal]
        return {"parts": parts, "depth_m": "0.05" if name == "sluice" else ""}

    def _learn(self, name: str, food_left: str) -> None:
        step = {"none": 1.15, "some": 1.0, "lots": 0.8}[food_left]
        self.ration[name] = min(GENEROUS, max(CAREFUL, self.ration.get(name, 1.0) * step))

    def _probing(self, at: dt.datetime) -> float:
        return PROBES * (2.0 if at.month in (1, 2, 7, 12) else 1.0)

    def _beat(self, beat: Beat, rng: np.random.Generator) -> None:
        bed = self.beds[beat.bed]
        self._go(bed, beat.at)
        cells = dict(beat.cells)
        if beat.kind in READ:
            cells.update(self._read(beat.kind, bed, beat.zone, rng))
        if cells.pop("moisture", None):
            wet = bed.output("moisture_frac", bed.position[beat.zone]) - 0.03
            cells["moisture_frac"] = f"{wet + 0.02 * rng.standard_normal():.2f}"
        if "note" in cells:
            cells["note"] = cells["note"].format(mat_kwh=bed.mat_j / 3.6e6)
        if beat.kind == "feed":
            self.fed_at[beat.bed] = beat.at
        if beat.kind == "mat":
            bed.mat_j = 0.0
        who = cells.pop("who", "Jonna")
        self._write(bed, beat.at, beat.kind, beat.zone, who, cells, beat)

    def _read(self, kind: str, bed: TrueBed, zone: str, rng: np.random.Generator) -> dict[str, Any]:
        place = bed.position[zone]
        if kind == "probe":
            device = readings.THIN if rng.random() < 0.6 else readings.DIAL
            return readings.probe(bed, place, device, rng)
        if kind == "core":
            return readings.core(bed, place, CORE_L, rng)
        return (readings.look if kind == "look" else readings.squeeze)(bed, place, rng)

    def _read_sensor(self, day: dt.date, rng: np.random.Generator) -> None:
        bed = self.beds["sluice"]
        at = dt.datetime.combine(day, dt.time(7))
        self._go(bed, at)
        shown = readings.sensor(bed, bed.position[SENSOR_ZONE], rng)
        if STUCK_FROM <= day < STUCK_FROM + dt.timedelta(days=STUCK_D):
            self.stuck = self.stuck or shown
            shown = self.stuck
        self._write(bed, at, "probe", SENSOR_ZONE, "", shown)

    def _write(self, bed: TrueBed, at: dt.datetime, kind: str, zone: str, who: str,
               cells: dict[str, Any], beat: Beat | None = None) -> AnyEntry:  # fmt: skip
        late_d, when = (beat.late_d, beat.when) if beat else (0, "")
        entry = self.book.write(at, kind, bed.bed.id, late_d=late_d, when=when, zone=zone,
                                who=who, **cells)  # fmt: skip
        bed.note(entry)
        return entry

    def _go(self, bed: TrueBed, at: dt.datetime) -> None:
        """Bring the true bed to the hour of ``at``."""
        bed.advance(self._utc(at))

    def _utc(self, at: dt.datetime) -> dt.datetime:
        return at.replace(tzinfo=self.zone).astimezone(dt.UTC)


def said(material: str, kg: float, bed: str, turn: int) -> str:
    """How the keeper writes an amount: in buckets or scoops where that is how it was carried."""
    if material in BUCKET_KG and bed != "ladder" and kg > 1.2 and turn % 2 == 0:
        halves = max(1, round(2.0 * kg / BUCKET_KG[material]))
        count = {1: "half a", 2: "1", 3: "1.5", 4: "2"}.get(halves, f"{halves / 2:g}")
        return f"{count} blue bucket" + ("s" if halves > 2 else "")
    if material in SCOOP_KG and bed == "ladder" and turn % 2 == 0:
        scoops = max(1, round(kg / SCOOP_KG[material]))
        return f"{scoops} flour scoop" + ("s" if scoops > 1 else "")
    return f"{max(round(kg, 1 if kg >= 0.1 else 2), 0.05):g} kg"
