"""``bedlore``: every command. What is slow to import is imported by the command that runs it."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from bedlore import __version__
from bedlore.cli.console import Tool
from bedlore.cli.dates import dates
from bedlore.cli.farm_commands import check, demo, outlook, report, today
from bedlore.cli.lab_commands import lab, params
from bedlore.cli.learning import herd, learn, score
from bedlore.cli.paper import label, sheet
from bedlore.cli.plan import plan
from bedlore.cli.serve import register
from bedlore.cli.shelter import shelter
from bedlore.cli.trouble import aid, away
from bedlore.cli.weather_commands import weather
from bedlore.cli.what_if import what_if
from bedlore.cli.why import why


@click.group(cls=Tool, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="bedlore", help="Show the version and stop.")
def cli() -> None:
    """Keeps composting-worm beds: what each is like inside, what the weather will do to it, and
    what to do today.

    DIR is the folder of your farm: farm.toml and one or more log files. Begin with
    `bedlore demo DIR`, which writes an invented one.
    """


for command in (demo, check, today, why, plan, shelter, what_if, aid, away, outlook, dates, learn,
                herd, score, report, sheet, label, weather, lab, params):  # fmt: skip
    cli.add_command(command)
register(cli)


def main() -> None:
    """The entry point: text that the terminal cannot show is replaced, never a fault."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    if Path(sys.argv[0]).name == "__main__.py":
        sys.argv[0] = "bedlore"
    cli(prog_name="bedlore")
