"""Commands on the model itself: controlled experiments and the table of parameters."""

from __future__ import annotations

import json
from typing import Any

import click

from bedlore.cli.console import emit_json, read_input, terminal
from bedlore.cli.options import json_option, out_option
from bedlore.errors import KeeperError

EXPERIMENTS = ("slab", "box", "shed", "drain", "dry", "reactor", "culture", "hatch", "choice")
_SHOWN_VALUES = 6


@click.command()
@click.argument("name", type=click.Choice(EXPERIMENTS))
@click.argument("file", metavar="FILE")
@json_option
@out_option
def lab(name: str, file: str, as_json: bool, out: str) -> None:
    """Run the controlled experiment NAME from FILE through the same model as the beds.

    FILE holds a JSON object with the arguments of that experiment; - reads it from the standard
    input. All figures are SI.
    """
    given = _object_in(file)
    from bedlore.lab import run

    account = {"experiment": name, "result": run(name, given)}
    if as_json or out != "-":
        emit_json(account, out)
        return
    terminal().print(_render(account))


def _object_in(file: str) -> dict[str, Any]:
    text = read_input(file)
    try:
        given = json.loads(text)
    except RecursionError:
        raise KeeperError("Its lists are nested too deeply.", file) from None
    except ValueError as problem:
        raise KeeperError(f"This is not proper JSON: {problem}.", file,
                          "Look there for a missing quote, comma or bracket.") from None
    if not isinstance(given, dict):
        raise KeeperError("This is not a JSON object.", file, 'Write {"temp_c": 15, ...}.')
    return given


def _render(account: dict[str, Any]) -> Any:
    from rich.table import Table
    from rich.text import Text

    table = Table.grid(padding=(0, 2))
    for name, value in account["result"].items():
        table.add_row(Text(name, style="bold"), Text(_short(value)))
    return table


def _short(value: Any) -> str:
    if value is None:
        return "–"
    if not isinstance(value, list):
        return f"{value:.5g}" if isinstance(value, float) else str(value)
    if value and isinstance(value[0], list):
        return f"{len(value)} rows of {len(value[0])}; the last: {_short(value[-1])}"
    if len(value) <= 2 * _SHOWN_VALUES:
        return ", ".join(_short(item) for item in value)
    ends = ", ".join(_short(v) for v in value[:_SHOWN_VALUES]), ", ".join(
        _short(v) for v in value[-_SHOWN_VALUES:])
    return f"{ends[0]}, ... {ends[1]} ({len(value)} values)"


@click.command()
@click.argument("name", required=False, default="")
@json_option
def params(name: str, as_json: bool) -> None:
    """The parameters of the model: default, range, unit and where each figure comes from.

    With NAME only those whose name holds that word.
    """
    from bedlore.facts.parameters import PARAMETERS

    chosen = [p for p in PARAMETERS if name.strip().lower() in p.name]
    if not chosen:
        raise KeeperError(f"There is no parameter {name[:60]!r}.", fix="See `bedlore params`.")
    account = {
        "parameters": [
            {
                "name": p.name, "default": p.default, "low": p.low, "high": p.high,
                "unit": p.unit, "meaning": p.meaning, "learnt": p.learnt, "known": p.known,
                "source": p.source,
            }
            for p in chosen
        ]
    }  # fmt: skip
    if as_json:
        emit_json(account)
        return
    from rich.table import Table
    from rich.text import Text

    table = Table.grid(padding=(0, 2))
    for p in chosen:
        figures = f"{p.default:.4g} ({p.low:.4g} to {p.high:.4g}) {p.unit}"
        known = f"{p.known}: {p.source}" + ("; learnt from the log" if p.learnt else "")
        table.add_row(Text(p.name, style="bold"), Text(figures))
        table.add_row(Text(""), Text(f"{p.meaning}. {known}"))
    terminal().print(table)
