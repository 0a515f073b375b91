"""Makes the files of the invented farm again, byte for byte: ``python -m tools.make_demo``.

``--check`` compares instead of writing. The stored states (``--snapshots``) are those of the
product's own ensemble and hold for one version of the model: make them again when it changes, and
what was learnt (``--learnt``, minutes) with them. ``--outlooks`` makes the outlooks that a keeper
would have been given on mornings of the last weeks, each from what was known that morning.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from tempfile import TemporaryDirectory
from zoneinfo import ZoneInfo

import click

import bedlore.demo
from bedlore.bed.history import start_of
from bedlore.demo import write_demo
from bedlore.farm.load import parse_farm
from bedlore.learn.verify import PastOutlook
from bedlore.outlook.twin import Past, Snapshot, bring_up, save_snapshot
from bedlore.service.learn import learn
from bedlore.service.morning import beds_alive, farm_members, situation_of, surround
from bedlore.service.score import to_keep
from bedlore.service.surroundings import BedAir
from bedlore.store.files import FarmFolder
from bedlore.store.learnings import OUTLOOKS, Learnings
from bedlore.store.weather_files import recorded_weather
from bedlore.wiring import moment_in
from tools.demo_world import weather
from tools.demo_world.keeper import LAST_DAY, Keeper

FOLDER = Path(bedlore.demo.__file__).parent
NOW = "2026-03-01T07:00+01:00"
OUTLOOKS_BACK_D, OUTLOOKS_EVERY_D = 64, 4


def make(last: dt.date = LAST_DAY) -> dict[str, str]:
    """Text of the made files by name, lived up to ``last``."""
    farm = parse_farm((FOLDER / "farm.toml").read_text("utf-8"))
    outdoor = weather.outdoor(farm.site)
    days = weather.daily(outdoor, farm.site.zone_info())
    return {
        "weather.csv": weather.notebook(days, last),
        "days-ahead.txt": weather.days_ahead(days, last + dt.timedelta(days=1)),
        "as_of.txt": NOW + "\n",
        "log.csv": Keeper(farm, outdoor).live(last).text(),
    }


def stored_states(members: int | None = None, beds: tuple[str, ...] = ()) -> dict[str, Snapshot]:
    """What the product's ensemble (its first ``members``) makes of the shipped files, by bed."""
    store = FarmFolder(FOLDER)
    farm = store.load_farm()
    now = dt.datetime.fromisoformat(NOW)
    params = farm_members()[:members]
    around = surround(farm, recorded_weather(FOLDER, farm.site), params, now)
    entries = store.read_log(farm, now).current
    states = {}
    for bed in farm.beds:
        if not beds or bed.id in beds:
            start = start_of(bed, ZoneInfo(farm.site.time_zone))
            past = Past(bed, start, BedAir(around, bed, start), entries)
            states[bed.id] = bring_up(past, params, around.now).snapshot
    return states


def outlooks_given() -> list[PastOutlook]:
    """Outlooks of every fourth morning of the last nine weeks, as nothing had been learnt."""
    found: list[PastOutlook] = []
    states: dict[str, Snapshot] = {}
    last, params = LAST_DAY + dt.timedelta(days=1), farm_members()
    for back in range(OUTLOOKS_BACK_D, 0, -OUTLOOKS_EVERY_D):
        with TemporaryDirectory() as place:
            folder = Path(place) / "farm"
            write_demo(folder, last - dt.timedelta(days=back))
            store = FarmFolder(folder)
            farm = store.load_farm()
            now = moment_in(folder)
            log = store.read_log(farm, now)
            around = surround(farm, recorded_weather(folder, farm.site), params, now)
            for bed in beds_alive(farm, now)[0]:
                there = situation_of(farm, bed, log, around, params, states.get(bed.id))
                states[bed.id] = there.twin.snapshot
                found += to_keep(bed.id, there.ahead)
        click.echo(f"{now:%Y-%m-%d}: {len(found)} outlooks")
    return found


@click.command()
@click.option("--check", is_flag=True, help="Compare with the shipped files, write nothing.")
@click.option("--snapshots", is_flag=True, help="Make the stored states again, nothing else.")
@click.option("--learnt", is_flag=True, help="Learn the beds again, nothing else.")
@click.option("--outlooks", is_flag=True, help="Make the outlooks given again, nothing else.")
@click.option("--out", type=click.Path(path_type=Path), default=FOLDER, help="Where to write.")
def main(check: bool, snapshots: bool, learnt: bool, outlooks: bool, out: Path) -> None:
    """Make the demo's log, weather and forecast from their open seeds."""
    if snapshots:
        for bed_id, state in stored_states().items():
            save_snapshot(out / "snapshots" / f"{bed_id}.npz", state)
            click.echo(f"{bed_id}: as of {state.at}")
        return
    if learnt:
        store, now = FarmFolder(FOLDER), dt.datetime.fromisoformat(NOW)
        farm = store.load_farm()
        learn(farm, store.read_log(farm, now), recorded_weather(FOLDER, farm.site), now,
              Learnings(out), fresh=True)  # fmt: skip
        return
    if outlooks:
        (out / OUTLOOKS).unlink(missing_ok=True)
        Learnings(out).keep_outlooks(outlooks_given())
        return
    different = []
    for name, text in make().items():
        path = out / name
        if check:
            same = path.exists() and path.read_text("utf-8") == text
            different += [] if same else [name]
        else:
            path.write_text(text, "utf-8", newline="\n")
            click.echo(f"{path}: {len(text.splitlines())} lines")
    if different:
        raise click.ClickException(f"Made anew these differ: {', '.join(different)}.")


if __name__ == "__main__":
    main()
