"""Do plans pay? Seasons played out with a plan made anew each week, against rules of thumb.

Every whole winter and summer of the open weather files and seasons drawn from three sets of
normals, each with the 90 days after it fed alike. In the same bed, under the same cover and limits:
the plan, a fixed week's feed, the same doubled when cold; with a mat the plan, and half a week's
feed with a thermostat at the lowest fixed setpoint that passes the limit of cold no oftener (a mat
does not cool, so that the limit of heat, told beside it, cannot choose its setpoint). Further
seasons, which nothing was chosen by, only show how the plan's odds come true. Run:
``python -m benchmarks.bench_decisions [drawn seasons a place, default 40] [unseen, default 200]
[minutes at most]``; what is done by then is filed, with how many seasons that are. What was played
is kept in ``decisions_played.jsonl`` and not played again as long as the plan and the model stay
the same.
"""

from __future__ import annotations

import hashlib
import json
import math
import sys
import time
import zlib
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict, dataclass
from functools import cache
from itertools import chain, islice
from pathlib import Path

import numpy as np

from bedlore.bed import plan
from bedlore.bed.cells import Floats
from bedlore.bed.engine import simulate
from bedlore.bed.loop import model_hash
from bedlore.decide import (
    action_rows,
    candidates,
    case,
    dial,
    meals,
    plan_options,
    plan_search,
    score,
)
from bedlore.decide.harm import worst_place
from bedlore.decide.plan_search import Effort, plan_rows, search
from bedlore.farm.load import load_farm
from bedlore.farm.site import Site
from bedlore.weather.read import read_weather
from bedlore.weather.tmy3 import read_tmy3
from benchmarks import decision_world
from benchmarks.bench_doubling import put_between_marks
from benchmarks.decision_world import (
    AFTER_D,
    LIMITS,
    SEASON_D,
    WEEK_H,
    Played,
    Season,
    World,
    drawn_seasons,
    file_seasons,
)
from benchmarks.filing import file_section, table
from tests.weather_files import SEATTLE, Spot, greensboro_tmy3, sand_point_tmy3, seattle_daily

DRAWN = 40
UNSEEN = 200
WORKERS = 2
COLD_AIR_C = 5.0  # a week's mean of air below which feed is doubled
SETPOINTS_C = (4.5, 5.0, 5.5, 6.0, 6.5, 7.0, 7.5, 8.0, 10.0, 12.0, 15.0, 18.0)
REACH_H = 240  # how far the dial that knows all looks
STUDY = Effort(few=5, some=10, together=14, least=0, kept_some=8, kept_many=4, feeds=16, fresh=24,
               after=6, foam=False)  # fmt: skip
PAGE = Path(__file__).parents[1] / "docs" / "decisions-value.md"
MARKS = ("<!-- decisions: start -->", "<!-- decisions: end -->")
MAT_MARKS = ("<!-- mat: start -->", "<!-- mat: end -->")
MAT_BEDS = ("foamed mat", "wood mat")
BOOTSTRAPS = 2000
PLAYED = Path(__file__).with_name("decisions_played.jsonl")
UNSEEN_SEED = 7000
FARM = Path(__file__).parents[1] / "src" / "bedlore" / "demo" / "farm.toml"
# Two other sets of normals, invented: a warm harbour and an inland vale with dry summers.
HARBOUR = (18.0, 18.6, 20.3, 22.5, 25.2, 27.6, 28.6, 28.7, 27.6, 25.2, 22.0, 19.2)
VALE = (6.8, 8.3, 11.2, 13.9, 18.3, 23.0, 26.4, 26.0, 22.1, 16.6, 10.9, 7.6)


@dataclass(frozen=True)
class Outcome:
    """One season of one rule: what is compared."""

    season: str
    kind: str
    rule: str
    lost_kg_d: float  # kg days of herd short of what there was at the start, 175 days
    hours_out: float  # hours outside the limits where worms live, in the season
    castings_kg: float
    energy_kwh: float
    crossed: bool  # whether a limit was passed in the season
    stated: float  # mean stated odds of a limit over non-overlapping fortnights
    came: float  # share of those fortnights in which it was passed
    cold_came: float  # share in which the limit of cold was passed


Rule = Callable[[World], None]


def every_season(drawn: int) -> list[Season]:
    """The seasons of the files, then the drawn ones."""
    return file_years() + drawn_in_turn(drawn)


def drawn_in_turn(each: int, prefix: str = "", seed: int = 0) -> list[Season]:
    """``each`` winters and summers of every place, the places in turn, so that what is played when
    time is up stands for all."""
    drawn = (drawn_seasons(site, prefix + name, each, seed + first)
             for name, site, first in places())  # fmt: skip
    return list(chain.from_iterable(zip(*drawn, strict=True)))


def file_years() -> list[Season]:
    """Every whole winter and summer of the open files."""
    found = []
    for name, path, spot in (
        ("Greensboro", greensboro_tmy3(), Spot(36.1, -79.95, 273.0, "America/New_York")),
        ("Sand Point", sand_point_tmy3(), Spot(55.3, -160.5, 7.0, "America/Anchorage")),
    ):
        found += file_seasons(read_tmy3(path).series, spot, name, typical=True)
    seattle = read_weather(seattle_daily(), SEATTLE, "degC")
    return found + file_seasons(seattle, SEATTLE, "Seattle", typical=False)


def places() -> list[tuple[str, Site, int]]:
    """Where seasons are drawn: name, site, first seed."""
    return [("high valley", load_farm(FARM).site, 100),
            ("harbour", _site(HARBOUR, 3.0, 3.6, 29), 300),
            ("vale", _site(VALE, 5.4, 6.6, 38), 500)]  # fmt: skip


def unseen_seasons(count: int) -> list[Season]:
    """``count`` seasons of the same places that nothing was chosen by."""
    return drawn_in_turn(-(-count // 6), "unseen ", UNSEEN_SEED)[:count]


def _site(mean_c: Sequence[float], below: float, above: float, latitude: float) -> Site:
    return Site.model_validate({
        "latitude_deg": latitude, "time_zone": "UTC", "normals": {
            "daily_low_c": [t - below for t in mean_c], "daily_high_c": [t + above for t in mean_c],
        },
    })  # fmt: skip


# --- Rules -------------------------------------------------------------------------------------


def planned(world: World) -> None:
    """The plan, made anew each week; its first week is carried out."""
    world.look()
    case, fresh = world.case()
    found = search(case, fresh, effort=STUDY)
    odds = found.fresh.effect.odds
    world.played.stated.append((odds.cold, odds.hot))
    world.act(found.winner.moves, plan_rows(case, found.winner.moves))


def weekly(world: World) -> None:
    """A fixed week's feed."""
    world.live(world.feed(1.0), 7)


def doubled(world: World) -> None:
    """The same, doubled when the week ahead is cold (foreseen without error)."""
    cold = float(world.air(168).air_c.mean()) < COLD_AIR_C
    world.live(world.feed(2.0 if cold else 1.0), 7)


def thermostat(setpoint_c: float) -> Rule:
    """Half a week's feed, as the bed was settled on (the whole overheats foam whatever the mat
    does), and the mat on a fixed thermostat."""

    def rule(world: World) -> None:
        world.live([*world.feed(0.5), *_mat_at(setpoint_c)], 7)

    return rule


def all_knowing(world: World) -> None:
    """The same, with the lowest setting that this very bed needs in the air that will be: what no
    plan can know, and so the most that turning the dial each week could save."""
    feed, air = world.feed(0.5), world.air(REACH_H)

    def too_cold_h(setpoint_c: float) -> int:
        rows = plan.in_order([*feed, *_mat_at(setpoint_c), *_mat_at(SETPOINTS_C[-1], WEEK_H)])
        run = simulate(world.true_geometry, world.truth_params, world.truth, air, rows, every=1)
        return int((worst_place(run.values, "cold")[0] < LIMITS.cold_c).sum())

    least_h = too_cold_h(SETPOINTS_C[-1])
    setpoint_c = next(t for t in SETPOINTS_C if too_cold_h(t) <= least_h)
    world.live([*feed, *_mat_at(setpoint_c)], 7)


def _mat_at(setpoint_c: float, hour: int = 0) -> list[Floats]:
    return [plan.set_mat(hour, z, True, setpoint_c) for z in (0, 1)]


def play(season: Season, bed: str, rule_name: str, rule: Rule, seed: int,
         leak: float = 1.0) -> Outcome:  # fmt: skip
    """One season under a rule, then three months fed alike with the mat off."""
    world = World(season, bed, seed, leak, twin=rule is planned)  # other rules ask none
    before = float(world.truth.herd.adult_kg.sum() + world.truth.herd.juvenile_kg.sum())
    for _ in range(SEASON_D // 7):
        rule(world)
    hours = sum(len(part) for part in world.played.coldest_c)
    world.plan_no_more()
    off = [plan.set_mat(0, z, False, 0.0) for z in (0, 1)]
    for week in range(AFTER_D // 7):
        world.live([*world.feed(0.5), *(off if week == 0 else [])], 7)
    return _outcome(season, rule_name, world.played, hours, before)


def _outcome(season: Season, rule: str, played: Played, hours: int, before: float) -> Outcome:
    cold, warm = (np.concatenate(x)[:hours] for x in (played.coldest_c, played.warmest_c))
    out = (cold < LIMITS.cold_c) | (warm > LIMITS.hot_c)
    worms = np.concatenate(played.worms_kg)
    fortnights = range(0, len(out) - 335, 336)
    stated = [max(played.stated[f // 168]) for f in fortnights if f // 168 < len(played.stated)]
    came, cold_came = (
        float(np.mean([past[f : f + 336].any() for f in fortnights]))
        for past in (out, cold < LIMITS.cold_c)
    )
    return Outcome(
        season.name, season.kind, rule, float(np.maximum(before - worms, 0.0).sum()),
        float(out.sum()), played.castings_kg, played.energy_kwh, bool(out.any()),
        float(np.mean(stated)) if stated else 0.0, came, cold_came,
    )  # fmt: skip


# --- The study ---------------------------------------------------------------------------------

@dataclass(frozen=True)
class Job:
    """One season in one bed; ``alone`` plays the plan without the rules it is held against."""

    season: Season
    bed: str
    alone: bool = False

    @property
    def seed(self) -> int:
        """Of the true bed and its twin: another in each season, the same in each kind of bed."""
        return zlib.crc32(self.season.name.encode()) % 100_000

    @property
    def key(self) -> str:
        """Names the job and everything that its outcome rests on."""
        return f"{rules_hash()} {self.season.name}, {self.bed}"


Found = list[tuple[str, Outcome]]


@cache
def rules_hash() -> str:
    """Hash of the model, of what chooses the plan and of how a season is played."""
    digest = hashlib.sha256(model_hash().encode())
    modules = (action_rows, candidates, case, dial, meals, plan_options, plan_search, score,
               decision_world)  # fmt: skip
    for module in modules:
        digest.update(Path(module.__file__ or "").read_bytes())
    return digest.hexdigest()[:12]


def _one_season(job: Job) -> Found:
    """Every rule in one season and one bed, as (bed, outcome)."""
    season, bed, seed = job.season, job.bed, job.seed
    if job.alone:
        return [(bed, play(season, bed, "plan, unseen", planned, seed))]
    rules: list[tuple[str, Rule]] = [("plan", planned)]
    if bed.endswith("mat"):
        rules += [(f"thermostat {t:g}", thermostat(t)) for t in SETPOINTS_C]
        rules.append(("dial that knows all", all_knowing))
    else:
        rules += [("weekly", weekly), ("doubled when cold", doubled)]
    found = [(bed, play(season, bed, name, rule, seed)) for name, rule in rules]
    if bed == "foamed" and season.kind == "winter":
        found.append((bed, play(season, bed, "plan, leaky walls", planned, seed, leak=1.3)))
    return found


def jobs_of(seasons: Sequence[Season], beds: Sequence[str], *, alone: bool = False) -> list[Job]:
    """Seasons in every bed, a mat in winter only."""
    return [Job(season, bed, alone) for season in seasons for bed in beds
            if season.kind == "winter" or not bed.endswith("mat")]  # fmt: skip


def run(jobs: Sequence[Job], minutes: float) -> Found:
    """Outcomes of ``jobs``: those kept, and those played over ``WORKERS`` processes until the
    ``minutes`` are over."""
    kept = _kept()
    found = [pair for job in jobs for pair in kept.get(job.key, ())]
    left = iter([job for job in jobs if job.key not in kept])
    ends = time.monotonic() + 60.0 * minutes
    with ProcessPoolExecutor(WORKERS) as pool:
        going = {pool.submit(_one_season, job): job for job in islice(left, WORKERS)}
        while going:
            done = next(as_completed(going))
            job = going.pop(done)
            found += _keep(job, done.result())
            print(job.key, file=sys.stderr, flush=True)
            if time.monotonic() < ends:
                going |= {pool.submit(_one_season, job): job for job in islice(left, 1)}
    return found


def _kept() -> dict[str, Found]:
    if not PLAYED.exists():
        return {}
    lines = [json.loads(line) for line in PLAYED.read_text(encoding="utf-8").splitlines()]
    return {
        line["key"]: [(bed, Outcome(**outcome)) for bed, outcome in line["found"]]
        for line in lines
    }  # fmt: skip


def _keep(job: Job, found: Found) -> Found:
    line = {"key": job.key, "found": [(bed, asdict(outcome)) for bed, outcome in found]}
    with PLAYED.open("a", encoding="utf-8") as file:
        file.write(json.dumps(line) + "\n")
    return found


def band_of(values: Floats) -> str:
    """Mean of paired differences with its 90 % bootstrap band over seasons."""
    rng = np.random.default_rng(9)
    draws = rng.choice(values, (BOOTSTRAPS, len(values))).mean(axis=1)
    low, high = np.quantile(draws, (0.05, 0.95))
    return f"{values.mean():+.2f} ({low:+.2f} to {high:+.2f})"


def tables_of(found: Sequence[tuple[str, Outcome]]) -> str:
    """Paired differences of the plan to each rule, and how the odds held."""
    rows, held = [], []
    for bed in sorted({bed for bed, _ in found}, reverse=True):
        for kind in ("winter", "summer"):
            mine = [o for b, o in found if b == bed and o.kind == kind]
            plans = {o.season: o for o in mine if o.rule == "plan"}
            for rule in _rules_shown(mine, plans) if plans else ():
                other = {o.season: o for o in mine if o.rule == rule}
                rows.append([bed, kind, len(plans), rule, *_differences(plans, other)])
            for rule in ("plan", "plan, leaky walls", "plan, unseen"):
                told = [o for o in mine if o.rule == rule]
                if told:
                    held.append([bed, kind, rule, *_held(told)])
    heads = ("bed", "season", "n", "plan less", "kg days of herd lost", "hours outside limits",
             "castings, kg dry", "kWh, and of the other",
             "seasons with a limit passed, plan and other")  # fmt: skip
    odds = ("bed", "season", "rule", "fortnights", "stated odds", "came true, share",
            "band that the stated odds allow")  # fmt: skip
    return f"{table(heads, rows)}\n\n{table(odds, held)}"


def thermostats(found: Sequence[tuple[str, Outcome]]) -> str:
    """How often each rule with a mat passed a limit, and what it took."""
    rows = [
        [bed, rule, f"{np.mean([o.cold_came for o in mine]):.2f}",
         f"{np.mean([o.came for o in mine]):.2f}",
         f"{np.mean([o.hours_out for o in mine]):.0f}",
         f"{np.mean([o.energy_kwh for o in mine]):.1f}"]
        for bed, rule in dict.fromkeys((b, o.rule) for b, o in found)
        for mine in [[o for b, o in found if (b, o.rule) == (bed, rule)]]
    ]  # fmt: skip
    heads = ("bed", "rule", "fortnights with the limit of cold passed, share",
             "with either limit passed", "hours outside", "kWh")  # fmt: skip
    return table(heads, rows)


def _rules_shown(mine: Sequence[Outcome], plans: dict[str, Outcome]) -> list[str]:
    """The plain rules; of thermostats the lowest that passes the limit of cold in no more
    fortnights than the plan, else the highest."""
    rules = [r for r in dict.fromkeys(o.rule for o in mine)
             if not r.startswith(("plan", "dial"))]  # fmt: skip
    plain = [r for r in rules if not r.startswith("thermostat")]
    risk = np.mean([o.cold_came for o in plans.values()])
    fixed = [r for r in rules if r.startswith("thermostat")]
    meets = [r for r in fixed
             if np.mean([o.cold_came for o in mine if o.rule == r]) <= risk + 1e-9]  # fmt: skip
    return plain + (meets[:1] or fixed[-1:])


def _differences(plans: dict[str, Outcome], other: dict[str, Outcome]) -> list[str]:
    names = ("lost_kg_d", "hours_out", "castings_kg", "energy_kwh")
    pairs = [(plans[s], other[s]) for s in plans]
    bands = [
        band_of(np.array([getattr(a, n) - getattr(b, n) for a, b in pairs])) for n in names
    ]  # fmt: skip
    bands[-1] += f" of {np.mean([b.energy_kwh for _, b in pairs]):.1f}"
    passed = f"{sum(a.crossed for a, _ in pairs)} and {sum(b.crossed for _, b in pairs)}"
    return [*bands, passed]


def _held(told: Sequence[Outcome]) -> list[str]:
    n = len(told) * (SEASON_D // 14)
    stated = float(np.mean([o.stated for o in told]))
    came = float(np.mean([o.came for o in told]))
    half = 1.645 * np.sqrt(max(stated * (1 - stated), 1e-4) / n)
    return [str(n), f"{stated:.2f}", f"{came:.2f}",
            f"{max(0.0, stated - half):.2f} to {min(1.0, stated + half):.2f}"]  # fmt: skip


def main(drawn: int = DRAWN, unseen: int = UNSEEN, minutes: float = math.inf) -> str:
    """Plays the study and files it."""
    seasons = every_season(drawn)
    return "\n\n".join((mat_study(seasons, minutes), study(seasons, drawn, unseen, minutes)))


def study(seasons: Sequence[Season], drawn: int, unseen: int, minutes: float) -> str:
    """Beds without electricity, and how the plan's odds come true in seasons not seen."""
    jobs = jobs_of(seasons, ("wood", "foamed"))
    further = jobs_of(unseen_seasons(unseen), ("foamed",), alone=True)
    found, told = run(jobs, minutes), run(further, minutes)
    body = (f"{_about(seasons, drawn)}{_counted(found, len(jobs))} Of seasons that nothing was"
            f" chosen by, the plan alone: {_counted(told, len(further))}\n\n"
            f"{tables_of([*found, *told])}")  # fmt: skip
    file_section("Decision value", body)
    put_between_marks(PAGE, body, MARKS)
    return body


def mat_study(seasons: Sequence[Season], minutes: float) -> str:
    """Winters with a mat, in a bed that needs little heat and in one that needs much, filed by
    themselves."""
    jobs = jobs_of([season for season in seasons if season.kind == "winter"], MAT_BEDS)
    found = run(jobs, minutes)
    body = "\n\n".join((_counted(found, len(jobs)), tables_of(found), thermostats(found)))
    file_section("Decision value with a heat mat", body)
    put_between_marks(PAGE, body, MAT_MARKS)
    return body


def _counted(found: Iterable[tuple[str, Outcome]], of: int) -> str:
    played = len({(bed, outcome.season) for bed, outcome in found})
    return f"{played} of {of} runs."


def _about(seasons: Sequence[Season], drawn: int) -> str:
    spliced = sum(s.spliced for s in seasons)
    recorded = seasons[: _from_files(seasons)]
    names = ", ".join(s.name + (" (spliced)" if s.spliced else "") for s in recorded)
    return (
        f"Seasons of {SEASON_D} days and the {AFTER_D} days after, one true bed each: {names};"
        f" {drawn} winters and {drawn} summers drawn at each of three normals (high valley,"
        f" harbour, vale). {spliced} seasons are of typical years, whose months come from different"
        " years. Paired differences, plan less the other, mean and 90 % bootstrap band over"
        " seasons. "
    )


def _from_files(seasons: Sequence[Season]) -> int:
    drawn = (i for i, s in enumerate(seasons) if s.name.startswith("high valley"))
    return next(drawn, len(seasons))


if __name__ == "__main__":
    asked = [float(word) for word in sys.argv[1:4]]
    drawn, unseen, minutes = (*asked, *(DRAWN, UNSEEN, math.inf)[len(asked) :])
    print(main(int(drawn), int(unseen), minutes))
