"""Writes Ousel Mill Kitchen Garden, an invented farm with 18 months of log, into a folder."""

from __future__ import annotations

import datetime as dt
import random
import re
from collections.abc import Iterator
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from zoneinfo import ZoneInfo

from bedlore.errors import KeeperError
from bedlore.say import say
from bedlore.weather.typed import typed_error_sd_k

FARM_FILE, LOG_FILE, WEATHER_FILE = "farm.toml", "log.csv", "weather.csv"
AHEAD_FILE, NOW_FILE, SNAPSHOTS = "days-ahead.txt", "as_of.txt", "snapshots"
LEARNT, OUTLOOKS = "learnt", "outlooks.jsonl"
_MORNING = dt.time(7)
_LEAST_PAST_D = 7  # a farm a week old has something to show
_DAYS_AHEAD = 6
_ZONE = ZoneInfo("Europe/Zurich")
_LOG_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


def demo_days() -> tuple[dt.date, dt.date]:
    """The first and last day that :func:`write_demo` takes for ``today``."""
    days = _weather_days()
    first = dt.date(2024, 9, 1) + dt.timedelta(days=_LEAST_PAST_D)
    return first, max(days) + dt.timedelta(days=1)


def write_demo(folder: Path, today: dt.date | None = None) -> list[Path]:
    """Write the invented farm into ``folder`` and return the files, in order of writing.

    ``today`` stops the story at the morning of an earlier day: what was written later is left
    out, and the coming days come from the notebook with a forecast's error. None means the
    morning after the notebook ends. The folder may be new or empty. Raises
    :class:`~bedlore.errors.KeeperError` when something stands in it, when it cannot be written,
    or for a day outside :func:`demo_days`.
    """
    first, last = demo_days()
    if today is not None and not first <= today <= last:
        raise KeeperError(say("The invented farm knows {first} to {last}, not {today}.",
                              first=str(first), last=str(last), today=str(today)),
                          fix=say("Choose a day between them."))  # fmt: skip
    _refuse_used(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return [_put(folder / name, data) for name, data in _contents(today, last)]
    except OSError as problem:
        raise KeeperError(say("The demo cannot be written ({strerror}).",
                              strerror=str(problem.strerror)), str(folder)) from None  # fmt: skip


def _refuse_used(folder: Path) -> None:
    """Nobody's farm is ever written over."""
    if folder.exists() and not folder.is_dir():
        raise KeeperError(say("There is a file of this name."), str(folder),
                          say("Name another folder."))  # fmt: skip
    if not folder.is_dir():
        return
    there = sorted(path.name for path in folder.iterdir())
    if FARM_FILE in there:
        raise KeeperError(say("A farm is kept in this folder already; nothing was changed."),
                          str(folder), say("Name a new folder for the demo."))  # fmt: skip
    if there:
        raise KeeperError(say("The folder is not empty ({name}); nothing was changed.",
                              name=there[0]), str(folder),
                          say("Name a new folder for the demo."))  # fmt: skip


def _put(path: Path, data: bytes) -> Path:
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(data)
    return path


def _contents(today: dt.date | None, last: dt.date) -> Iterator[tuple[str, bytes]]:
    """Every file by name. States, what was learnt and the outlooks given are of use
    only for the last day."""
    yield FARM_FILE, _shipped().joinpath(FARM_FILE).read_bytes()
    if today is None or today == last:
        for name in (LOG_FILE, WEATHER_FILE, AHEAD_FILE, NOW_FILE):
            yield name, _shipped().joinpath(name).read_bytes()
        for folder in (SNAPSHOTS, LEARNT):
            for state in _states(folder):
                yield f"{folder}/{state.name}", state.read_bytes()
        given = _shipped().joinpath(OUTLOOKS)
        if given.is_file():
            yield OUTLOOKS, given.read_bytes()
        return
    yield LOG_FILE, _log_until(today).encode("utf-8")
    yield WEATHER_FILE, _weather_until(today).encode("utf-8")
    yield AHEAD_FILE, _days_ahead(today).encode("utf-8")
    now = dt.datetime.combine(today, _MORNING, _ZONE)
    yield NOW_FILE, (now.isoformat(timespec="minutes") + "\n").encode("utf-8")


def _shipped() -> Traversable:
    return files("bedlore.demo")


def _states(name: str) -> list[Traversable]:
    folder = _shipped().joinpath(name)
    if not folder.is_dir():
        return []
    found = [item for item in folder.iterdir() if item.name.endswith(".npz")]
    return sorted(found, key=lambda item: item.name)


def _lines(name: str) -> list[str]:
    return _shipped().joinpath(name).read_text("utf-8").splitlines(keepends=True)


def _log_until(today: dt.date) -> str:
    """The lines that had been written by the morning of ``today``: lines stand in the order of
    writing, so the first one about a later day ends them."""
    header, *lines = _lines(LOG_FILE)
    kept = [header]
    for line in lines:
        day = _LOG_DAY.search(line)
        if day is not None and dt.date.fromisoformat(day.group()) >= today:
            break
        kept.append(line)
    return "".join(kept)


def _weather_until(today: dt.date) -> str:
    header, *lines = _lines(WEATHER_FILE)
    return header + "".join(line for line in lines if line[:10] < today.isoformat())


def _weather_days() -> dict[dt.date, tuple[float, float]]:
    found = {}
    for line in _lines(WEATHER_FILE)[1:]:
        day, low, high = line.split(",")[:3]
        found[dt.date.fromisoformat(day)] = (float(low), float(high))
    return found


def _days_ahead(today: dt.date) -> str:
    """Lows and highs of the coming days, off by what forecasts are off; the same every time."""
    days = _weather_days()
    chance = random.Random(today.toordinal())
    lines, miss = [], 0.0
    for ahead in range(_DAYS_AHEAD):
        day = today + dt.timedelta(days=ahead)
        if day not in days:
            break
        miss = 0.7 * (miss + typed_error_sd_k(ahead) * chance.gauss(0.0, 1.0))
        low, high = (round(value + miss) for value in days[day])
        lines.append(f"{day}: {low} degC to {max(high, low + 1)} degC\n")
    return "".join(lines)
