"""Options that several commands share."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedlore.cli.console import Step, progress_bar
from bedlore.errors import KeeperError
from bedlore.say import say

if TYPE_CHECKING:
    from bedlore.farm.bed import Bed
    from bedlore.farm.model import Farm
    from bedlore.farm.reading import LogReading
    from bedlore.service.surroundings import Recorded
    from bedlore.store.ahead_files import FolderAhead

Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]

folder_argument: Decorator = click.argument(
    "folder", metavar="DIR", type=click.Path(path_type=Path)
)
json_option: Decorator = click.option(
    "--json", "as_json", is_flag=True, help="Print JSON (SI units) instead of text."
)
out_option: Decorator = click.option(
    "--out", default="-", metavar="FILE", help="Write to this file; - is the terminal."
)
bed_option: Decorator = click.option(
    "--bed", "bed_id", default="", metavar="ID", help="Only this bed."
)
at_option: Decorator = click.option(
    "--at", "moment", default="", metavar="TIME",
    help='Look from this moment, such as "2026-01-12 07:00" (farm time); now when left out.',
)  # fmt: skip
fresh_option: Decorator = click.option(
    "--fresh", is_flag=True, help="Work everything out anew, without what the last run kept."
)


def asked_of_farm(command: Callable[..., Any]) -> Callable[..., Any]:
    """What a command that works a farm out takes: DIR, --json, --bed, --at, --fresh and --out."""
    for option in reversed(
        (folder_argument, json_option, bed_option, at_option, fresh_option, out_option)
    ):
        command = option(command)
    return command


def farm_in(folder: Path) -> Farm:
    """The farm of DIR, whose language and units are spoken from here on."""
    from bedlore.say.language import listen
    from bedlore.store.files import FarmFolder

    farm = FarmFolder(folder).load_farm()
    listen(farm.preferences.language, farm.preferences.units)
    return farm


def moment_of(text: str, farm: Farm) -> dt.datetime:
    """The moment ``text`` names in the farm's time zone, or now; raises KeeperError."""
    if not text.strip():
        return dt.datetime.now(dt.UTC)
    try:
        when = dt.datetime.fromisoformat(text.strip())
        when = when if when.tzinfo else when.replace(tzinfo=farm.site.zone_info())
        return when.astimezone(dt.UTC)
    except (ValueError, OverflowError):
        raise KeeperError(
            say("{text} is not a time.", text=repr(text[:40])), "--at",
            say('Write it like "2026-01-12 07:00".'),
        ) from None


def moment_asked(folder: Path, moment: str, farm: Farm) -> dt.datetime:
    """The moment that ``--at`` names; without it now, or the demo's own moment."""
    from bedlore.wiring import moment_in

    return moment_of(moment, farm) if moment else moment_in(folder)


@dataclass(frozen=True)
class Asked:
    """A farm folder as a command found it, ready for a use case."""

    farm: Farm
    log: LogReading
    recorded: Recorded
    now: dt.datetime
    keeping: FolderAhead
    bed_id: str
    progress: Step


@contextmanager
def worked_on(folder: Path, moment: str, bed: str) -> Iterator[Asked]:
    """The farm in ``folder`` seen at ``moment`` ("": now, or the demo's own moment), with a bar
    for what lasts; ``bed`` as the keeper names it ("": all). Raises KeeperError."""
    from bedlore.store.ahead_files import FolderAhead
    from bedlore.store.files import FarmFolder
    from bedlore.store.weather_files import recorded_weather

    farm = farm_in(folder)
    now = moment_asked(folder, moment, farm)
    log = FarmFolder(folder).read_log(farm, now)
    with progress_bar() as step:
        yield Asked(farm, log, recorded_weather(folder, farm.site), now, FolderAhead(folder),
                    bed_named(farm, bed), step)  # fmt: skip


def bed_named(farm: Farm, wanted: str) -> str:
    """The id of the bed that ``wanted`` names, "" for none; raises KeeperError."""
    from bedlore.service.marks import marked_beds

    beds = [one.account() for one in marked_beds(farm)]
    return str(only_bed({"beds": beds}, wanted)["beds"][0]["bed"]) if wanted else ""


def bed_meant(farm: Farm, wanted: str) -> Bed:
    """The bed that ``wanted`` names, or the only one; raises KeeperError."""
    named = bed_named(farm, wanted) or (farm.beds[0].id if len(farm.beds) == 1 else "")
    bed = farm.bed(named)
    if bed is None:
        known = ", ".join(one.id for one in farm.beds)
        raise KeeperError(say("Say which bed."), "--bed", say("There are: {known}.", known=known))
    return bed


def only_bed(account: dict[str, Any], bed_id: str) -> dict[str, Any]:
    """``account`` with the bed called ``bed_id`` alone ("" keeps all); raises KeeperError."""
    if not bed_id:
        return account
    wanted = bed_id.strip().lower()

    def called(bed: dict[str, Any]) -> bool:
        return wanted in (bed["bed"], bed["name"].lower(), str(bed.get("mark")))

    beds = [bed for bed in account["beds"] if called(bed)]
    if not beds:
        known = ", ".join(b["bed"] for b in account["beds"])
        raise KeeperError(say("There is no bed {name}.", name=repr(bed_id[:40])), "--bed",
                          say("There are: {known}.", known=known))  # fmt: skip
    return {**account, "beds": beds}
