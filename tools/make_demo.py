"""Makes the files of the invented farm again, byte for byte: ``python -m tools.make_demo``.

``--check`` compares instead of writing.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import click

import bedlore.demo
from bedlore.farm.load import parse_farm
from tools.demo_world import weather
from tools.demo_world.keeper import LAST_DAY, Keeper

FOLDER = Path(bedlore.demo.__file__).parent
NOW = "2026-03-01T07:00+01:00"


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


@click.command()
@click.option("--check", is_flag=True, help="Compare with the shipped files, write nothing.")
@click.option("--out", type=click.Path(path_type=Path), default=FOLDER, help="Where to write.")
def main(check: bool, out: Path) -> None:
    """Make the demo's log, weather and forecast from their open seeds."""
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
