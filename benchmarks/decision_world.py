"""A keeper's season played out: one true bed, a twin that does not know it, and rules that feed it.

The truth is one draw from the table of priors in weather that did happen (or was drawn). The twin
is an ensemble of other draws that lives through the same acts and the same past weather. Before the
season it learns from a thermometer read every third day in each side: of the draws those are kept
that the readings bear out (importance weights, tempered where they cannot be relied on, instead of
the product's smoother, which the beds here are too many for). It sees the future only as a forecast
with error (1.5 K on day 1 to 4 K on day 7, and never worse than the climate knows by itself).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np

from bedlore.bed import plan
from bedlore.bed.build import bed_geometry, cell_count
from bedlore.bed.cells import Air, Floats
from bedlore.bed.engine import Run, State, empty_state, simulate
from bedlore.bed.outputs import OUTPUT_NAMES
from bedlore.bed.place import air_around
from bedlore.decide.case import Case, fresh_kg
from bedlore.decide.harm import worst_place
from bedlore.decide.records import Action
from bedlore.facts.feedstocks import load
from bedlore.facts.parameters import draw
from bedlore.facts.practice import WEEKLY_SCRAPS_KG_M2
from bedlore.farm.bed import Bed, Limits
from bedlore.farm.log import AnyEntry, Feed, Look
from bedlore.farm.model import StoreItem
from bedlore.farm.site import Building, Site
from bedlore.learn.correct import trusted_part
from bedlore.learn.densities import normal_logpdf
from bedlore.outlook.twin import RECENT_D, Snapshot, Twin
from bedlore.weather.building import building_air, building_members, ground_temp_c
from bedlore.weather.climatology import climate_from_series
from bedlore.weather.generator import generate
from bedlore.weather.normals import Climate, climate_of
from bedlore.weather.series import WeatherEnsemble, WeatherSeries
from bedlore.weather.sun import Spot, solar_clock
from bedlore.weather.typed import Known, forecast_error_sd_k

MEMBERS = 40
DRAWS = 400  # of which the twin keeps MEMBERS by what was read
READ_EVERY_D = 3
READING_SD_K = 0.7  # of the thermometer and of the place where it is stuck in (assumed)
ROUNDED_SD_K = 12**-0.5  # read to the nearest degree
SETTLE_D, SEASON_D, AFTER_D = 35, 84, 91
WEEK_H, FORTNIGHT_H = 168, 336
HERD_KG_M2 = 2.0
SHED = Building.model_validate({"kind": "shed"})
LIMITS = Limits()
STORE = (
    StoreItem(material="food_mixed_kitchen", mass_kg=6.0, per_week_kg=6.0),
    StoreItem(material="bed_corrugated", mass_kg=8.0, per_week_kg=1.0, use="bedding"),
)
WOOD = [{"material": "larch", "thickness_m": 0.04}]
FOAM = [{"material": "plywood", "thickness_m": 0.012},
        {"material": "extruded_polystyrene", "thickness_m": 0.05}]  # fmt: skip
_HOUR = dt.timedelta(hours=1)


@dataclass(frozen=True)
class Season:
    """Weather from ``SETTLE_D`` days before a season to ``AFTER_D`` days after it.

    ``spliced`` marks typical years, whose months come from different years.
    """

    name: str
    kind: str  # winter or summer
    weather: WeatherSeries
    climate: Climate
    spliced: bool


def bed_of(kind: str) -> Bed:
    """1.2 x 0.7 m on legs in a shed: 4 cm of larch under 5 cm of paper, or in 5 cm of foam too."""
    layers = FOAM if kind.startswith("foamed") else WOOD
    mat = {"watts": 60.0, "setpoint_c": 6.0, "share_of_floor": 1.0}
    return Bed.model_validate({
        "id": "box", "length_m": 1.2, "width_m": 0.7, "depth_m": 0.45, "walls": layers,
        "floor": layers, "lid": layers, "place": "indoors", "started": "2000-01-01",
        "cover": {"material": "shredded_paper", "thickness_m": 0.05},
        "heat_mat": mat if kind.endswith("mat") else None,
        "zones": [{"id": side, "side": side, "length_m": 0.6} for side in ("race", "bank")],
    })  # fmt: skip


# --- Seasons -----------------------------------------------------------------------------------


def seasons_of(series: WeatherSeries, climate: Climate, name: str, *,
               spliced: bool = False) -> Iterator[Season]:  # fmt: skip
    """Every whole winter (from 1 December) and summer (from 1 June) with what goes round it."""
    for year in range(series.start.year, series.end.year + 1):
        for kind, month in (("winter", 12), ("summer", 6)):
            first = dt.datetime(year, month, 1, 12, tzinfo=dt.UTC)
            begin = first - dt.timedelta(days=SETTLE_D)
            end = first + dt.timedelta(days=SEASON_D + AFTER_D)
            if series.start <= begin and end <= series.end:
                yield Season(f"{name} {kind} {year}", kind, series.slice(begin, end), climate,
                             spliced)  # fmt: skip


def twice(series: WeatherSeries) -> WeatherSeries:
    """A typical year and itself again, so that a winter can run over the new year."""
    return replace(series, temp_c=np.tile(series.temp_c, 2), rh_frac=np.tile(series.rh_frac, 2),
                   wind_m_s=np.tile(series.wind_m_s, 2),
                   ghi_w_m2=np.tile(series.ghi_w_m2, 2))  # fmt: skip


def file_seasons(series: WeatherSeries, spot: Spot, name: str, *, typical: bool) -> list[Season]:
    """The seasons of an open weather file."""
    climate = climate_from_series(series, spot)
    whole = twice(series) if typical else series
    found = list(seasons_of(whole, climate, name, spliced=typical))
    return found[:2] if typical else found


def drawn_seasons(site: Site, name: str, count: int, seed: int) -> list[Season]:
    """``count`` winters and summers drawn from the normals of a place."""
    climate = climate_of(site)
    found = []
    for k in range(count):
        for kind, month in (("winter", 12), ("summer", 6)):
            begin = dt.datetime(2021, month, 1, 12, tzinfo=dt.UTC) - dt.timedelta(days=SETTLE_D)
            hours = 24 * (SETTLE_D + SEASON_D + AFTER_D)
            weather = generate(climate, begin, hours, 1, seed + k).member(0)
            found.append(Season(f"{name} {kind} {k}", kind, weather, climate, False))
    return found


# --- One bed through one season ----------------------------------------------------------------


@dataclass
class Played:
    """What came of a season: hour by hour for the truth, and what the plans had said."""

    coldest_c: list[Floats] = field(default_factory=list)
    warmest_c: list[Floats] = field(default_factory=list)
    worms_kg: list[Floats] = field(default_factory=list)  # by day
    castings_kg: float = 0.0
    energy_kwh: float = 0.0
    probe_c: list[Floats] = field(default_factory=list)  # by day and side
    stated: list[tuple[float, float]] = field(default_factory=list)  # cold, hot; each week


class World:
    """The true bed and its twin at the start of a season, settled on the area rule's half.

    Without a ``twin`` nothing is learnt and nothing can be planned. From the season's start the
    walls of the truth let ``leak`` times as much heat through as the twin has learnt.
    """

    def __init__(self, season: Season, kind: str, seed: int, leak: float = 1.0, *,
                 twin: bool = True) -> None:  # fmt: skip
        draws = DRAWS if twin else 1
        self.season, self.bed, self.seed = season, bed_of(kind), seed
        self.geometry = self.true_geometry = bed_geometry(self.bed)
        drawn = draw(DRAWS + 1, seed)
        self.truth_params, self.params = drawn[:1], drawn[1 : 1 + draws]
        self.hour = 0
        cells = cell_count(self.bed)
        self.truth = empty_state(1, 2, cells)
        self.twin = empty_state(draws, 2, cells)
        self.recent = np.zeros((draws, 0, 2, 0))
        self.entries: list[AnyEntry] = []
        self.played = Played()
        self._weather = _around(season.weather.as_ensemble(1), season.climate, self.bed, 1)
        self.live(_built(self.bed), 1)
        for week in range(SETTLE_D // 7 - 1):
            self.live(self.feed(0.5), 7 if week else 6)
        self.live(self.feed(0.5), 7)
        if twin:
            self._learn()
        self.true_geometry = self.geometry._replace(
            side_r=self.geometry.side_r / leak, base_r=self.geometry.base_r / leak,
            lid_r=self.geometry.lid_r / leak,
        )  # fmt: skip
        self.played = Played()

    def _learn(self) -> None:
        """Keep the draws that bear out what was read since the bed was built."""
        rng = np.random.default_rng([self.seed, 2])
        days = slice(READ_EVERY_D, None, READ_EVERY_D)
        true = np.concatenate(self.played.probe_c)[days]  # [D, Z]
        read = np.round(true + READING_SD_K * rng.standard_normal(true.shape))
        told = self.recent[:, days, :, OUTPUT_NAMES.index("temp_probe_c")]
        far = normal_logpdf(read - told, np.hypot(READING_SD_K, ROUNDED_SD_K))
        share = trusted_part(far.sum(axis=(1, 2))).share
        kept = np.searchsorted(np.cumsum(share), (rng.random() + np.arange(MEMBERS)) / MEMBERS)
        kept = np.minimum(kept, len(share) - 1)
        self.params, self.recent = self.params[kept], self.recent[kept]
        self.twin = self.twin.pick(kept)

    def plan_no_more(self) -> None:
        """Let the twin go: from here on the truth lives alone."""
        self.params, self.twin = self.params[:1], self.twin.part(0, 1)
        self.recent = self.recent[:1]

    @property
    def now(self) -> dt.datetime:
        """The moment it is."""
        return self.season.weather.start + self.hour * _HOUR

    def air(self, hours: int) -> Air:
        """The air to come, as it will be."""
        return Air(*(array[:, self.hour : self.hour + hours] for array in self._weather))

    def feed(self, times: float) -> list[Floats]:
        """A week's scraps by the area rule with a tenth of card, and a line of log for each."""
        stuff, rows = load(), []
        for z, zone in enumerate(self.bed.zones):
            kg = times * WEEKLY_SCRAPS_KG_M2 * float(self.geometry.area_m2[z])
            parts = [("food_mixed_kitchen", kg), ("bed_corrugated", 0.1 * kg)]
            rows.append(plan.add_material(0, z, [(stuff[m], mass, None) for m, mass in parts],
                                          temp_c=self._feed_c()))  # fmt: skip
            self._log_feed(zone.id, parts, 0)
        return rows

    def _feed_c(self) -> float:
        return max(0.5, float(self.air(24).air_c.mean()))

    def _log_feed(self, zone: str, parts: Sequence[tuple[str, float]], hour: int) -> None:
        at = self.now + hour * _HOUR
        self.entries.append(Feed.model_validate({
            "id": f"f{len(self.entries)}", "at": at, "bed": "box", "zone": zone,
            "parts": [{"material": m, "mass_kg": kg} for m, kg in parts if kg > 0.0],
        }))  # fmt: skip

    def look(self) -> None:
        """The keeper sees how much soft food is left in each zone, and writes it down."""
        left = fresh_kg(self.truth)[0]
        for z, zone in enumerate(self.bed.zones):
            fed = [e for e in self.entries if isinstance(e, Feed) and e.zone == zone.id]
            meal = sum(p.mass_kg for p in fed[-1].parts) if fed else 1.0
            share = float(left[z]) / max(meal, 0.3)
            word = "lots" if share > 0.6 else "some" if share > 0.15 else "none"
            self.entries.append(Look.model_validate({
                "id": f"l{len(self.entries)}", "at": self.now, "bed": "box", "zone": zone.id,
                "food_left": word,
            }))  # fmt: skip

    def act(self, actions: Sequence[Action], rows: Sequence[Floats]) -> None:
        """Live through a week with the first week of a plan."""
        for action in actions:
            if action.kind == "feed" and action.on_day < 7:
                self._log_feed(action.zone_id, action.parts, 24 * action.on_day)
        self.live([row for row in rows if row[0] < WEEK_H], 7)

    def live(self, rows: Sequence[Floats], days: int) -> None:
        """Truth and twin go on under the same acts and the same weather."""
        air, acts = self.air(24 * days), plan.in_order(list(rows))
        true = simulate(self.true_geometry, self.truth_params, self.truth, air, acts, every=1)
        believed = simulate(self.geometry, self.params, self.twin, air, acts, every=24)
        self._note(true, days)
        self.truth, self.twin = true.state, believed.state
        before = self.recent if self.recent.shape[-1] else believed.values[:, :0]
        self.recent = np.concatenate([before, believed.values], axis=1)[:, -RECENT_D:]
        self.hour += 24 * days

    def _note(self, true: Run, days: int) -> None:
        self.played.coldest_c.append(worst_place(true.values, "cold")[0])
        self.played.warmest_c.append(worst_place(true.values, "heat")[0])
        worms = true.series("worms_kg")[0].sum(axis=1)
        self.played.worms_kg.append(worms[23 :: 24][:days])
        self.played.probe_c.append(true.series("temp_probe_c")[0, 23 :: 24])
        castings = true.series("castings_dry_kg")[0].sum(axis=1)
        self.played.castings_kg += float(castings[-1] - castings[0])
        self.played.energy_kwh += float(true.total("mat_energy_j").sum() / 3.6e6)

    def case(self) -> tuple[Case, Air]:
        """What is decided from this morning, and weather that no choice has seen."""
        state: State = self.twin
        recent = Run(self.recent, 24, np.zeros((MEMBERS, 2, 0)), state)
        start = self.now - dt.timedelta(days=self.recent.shape[1])
        twin = Twin(self.bed, self.geometry, self.params, state, self.now, ("race", "bank"),
                    recent, start, Snapshot(self.now, "", state))  # fmt: skip
        ahead, fresh = (self._forecast(k) for k in (0, 1))
        late = _around(generate(self.season.climate, self.now, 24 * AFTER_D, MEMBERS,
                                self.seed + 17), self.season.climate, self.bed, MEMBERS)
        case = Case(twin=twin, air=ahead, air_long=late, limits=LIMITS, store=STORE,
                    entries=tuple(self.entries))  # fmt: skip
        return case, fresh

    def _forecast(self, k: int) -> Air:
        """The fortnight ahead as a service would foresee it, and its spread."""
        past, climate = self.season.weather, self.season.climate
        true = past.slice(self.now, self.now + FORTNIGHT_H * _HOUR)
        usual = generate(climate, self.now, FORTNIGHT_H, MEMBERS, self.seed + self.hour).temp_c
        rng = np.random.default_rng([self.seed, self.hour])
        seen = replace(true, temp_c=foreseen(true.temp_c, usual, rng))
        ahead = generate(climate, self.now, FORTNIGHT_H, MEMBERS,
                         self.seed + 1000 * k + self.hour, Known(forecast=seen))  # fmt: skip
        lead = past.slice(self.now - 72 * _HOUR, self.now)
        return _around(ahead, climate, self.bed, MEMBERS, lead)


def foreseen(true_c: Floats, usual_c: Floats, rng: np.random.Generator) -> Floats:
    """A service's forecast ``[H]`` of ``true_c`` ``[H]``, where ``usual_c`` ``[M, H]`` could be.

    Its error has the sd of :func:`forecast_error_sd_k`, at most the climate's own, and does not
    depend on what it says, as of a service that knows its errors: further out it says less than
    what will be departs from what is usual, and in the end no more than what is usual.
    """
    mean_c, spread_k = usual_c.mean(axis=0), usual_c.std(axis=0)
    error_k = np.minimum(forecast_error_sd_k(np.arange(float(len(true_c)))), spread_k)
    known = 1.0 - (error_k / np.maximum(spread_k, 1e-9)) ** 2
    wander = _ar1(rng, len(true_c), 0.98)
    return np.asarray(mean_c + known * (true_c - mean_c) + np.sqrt(known) * error_k * wander)


def _ar1(rng: np.random.Generator, hours: int, lag: float) -> Floats:
    noise = rng.standard_normal(hours)
    for i in range(1, hours):
        noise[i] = lag * noise[i - 1] + np.sqrt(1 - lag**2) * noise[i]
    return noise


def _around(outdoor: WeatherEnsemble, climate: Climate, bed: Bed, members: int,
            lead: WeatherSeries | None = None) -> Air:  # fmt: skip
    """Surroundings of the bed in a shed whose character is known."""
    start = outdoor.start
    if lead is not None:
        outdoor = outdoor.after(lead)
    ones = np.ones(members)
    inside = building_air(outdoor, building_members(SHED, ones, 0.0 * ones))
    inside, outdoor = (w.slice(start, w.end) for w in (inside, outdoor))
    clock = solar_clock(start, len(outdoor), climate.longitude_deg)
    mean_c = float((climate.low_curve_c + climate.high_curve_c).mean()) / 2.0 + SHED.offset_k
    return air_around(bed, outdoor, inside, ground_temp_c(climate, clock, 0.5), mean_c * ones)


@cache
def _bedding() -> tuple[tuple[str, float], ...]:
    return (("bed_leaf_mold", 60.0), ("bed_corrugated", 20.0))


def _built(bed: Bed) -> list[Floats]:
    """Bedding about 18 cm deep, worms and the cover; the mat off."""
    stuff, rows = load(), []
    for z, zone in enumerate(bed.zones):
        area = (zone.length_m or 0.0) * bed.width_m
        parts = [(stuff[m], kg * area, 0.75) for m, kg in _bedding()]
        rows += [
            plan.add_material(0, z, parts, feed=False), plan.stock(0, z, HERD_KG_M2 * area),
            plan.set_cover(0, z, 0.05), plan.set_mat(0, z, False, 0.0),
        ]  # fmt: skip
    return rows


