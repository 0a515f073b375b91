"""Weather of a farm in the database: pieces as they came, joined when they are asked for."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Sequence

import numpy as np

from bedlore.errors import KeeperError
from bedlore.say import from_text, say, to_text
from bedlore.service.surroundings import Recorded
from bedlore.store.db.models import FarmRow, WeatherPiece
from bedlore.weather.series import WeatherSeries
from bedlore.weather.typed import Known, TypedDay, parse_typed_days

ARRAYS = ("temp_c", "rh_frac", "wind_m_s", "ghi_w_m2")
FORECAST_GOOD_FOR = dt.timedelta(days=3)
_HOUR = dt.timedelta(hours=1)
_DECIMALS = 3


class DbWeather:
    """The weather of the farm ``row``."""

    def __init__(self, row: FarmRow) -> None:
        self._farm = row

    def add(self, series: WeatherSeries, kind: str, got_at: dt.datetime) -> None:
        """Keeps ``series`` as a ``record`` or a ``forecast``."""
        body = {name: np.round(getattr(series, name), _DECIMALS).tolist() for name in ARRAYS}
        notes = [to_text(note) for note in series.notes]
        WeatherPiece.objects.create(
            farm=self._farm, kind=kind, source=series.source[:200], start=series.start,
            end=series.end, got_at=got_at, body=json.dumps({**body, "notes": notes}),
        )  # fmt: skip

    def type_days(self, text: str, got_at: dt.datetime) -> tuple[TypedDay, ...]:
        """Keeps lows and highs that the keeper types for coming days; raises
        :class:`FaultList`. The newest typing of a day counts."""
        days = parse_typed_days(text.splitlines())
        WeatherPiece.objects.create(farm=self._farm, kind="typed", source="typed by the keeper",
                                    got_at=got_at, body=json.dumps(text.splitlines()))  # fmt: skip
        return days

    def recorded(self, now: dt.datetime) -> Recorded:
        """All that is known at ``now``.

        The past is what was measured; hours nobody measured come from the newest forecast made
        before them. The coming days come from the newest forecast that is not too old.
        """
        pieces = WeatherPiece.objects.filter(farm=self._farm, got_at__lte=now)
        records = [_series(piece) for piece in pieces.filter(kind="record").order_by("got_at")]
        forecasts = list(pieces.filter(kind="forecast").order_by("got_at"))
        behind = [_series(piece).slice(piece.start, now) for piece in forecasts]
        past, notes = _joined([*behind, *records])
        latest = forecasts[-1] if forecasts else None
        ahead, note = _ahead(latest, now)
        return Recorded(past, Known(typed=self._typed(pieces), forecast=ahead),
                        (*notes, *note))  # fmt: skip

    def _typed(self, pieces: Iterable[WeatherPiece]) -> tuple[TypedDay, ...]:
        days: dict[dt.date, TypedDay] = {}
        for piece in pieces.filter(kind="typed").order_by("got_at"):  # type: ignore[attr-defined]
            days.update((day.day, day) for day in parse_typed_days(json.loads(piece.body)))
        return tuple(days[day] for day in sorted(days))


def _series(piece: WeatherPiece) -> WeatherSeries:
    body = json.loads(piece.body)
    arrays = {name: np.array(body[name], dtype=float) for name in ARRAYS}
    notes = tuple(from_text(note) for note in body["notes"])
    return WeatherSeries(start=piece.start.astimezone(dt.UTC), source=piece.source, notes=notes,
                         **arrays)  # fmt: skip


def _ahead(
    piece: WeatherPiece | None, now: dt.datetime
) -> tuple[WeatherSeries | None, tuple[str, ...]]:
    if piece is None:
        return None, ()
    age = now - piece.got_at
    if age > FORECAST_GOOD_FOR or piece.end - now < dt.timedelta(days=1):
        return None, (say("The last forecast is {days} days old and was not used.",
                          days=age.days),)
    hours = age / _HOUR
    if hours < 1.5:
        return _series(piece), ()
    note = say("The forecast was fetched {hours} hours ago.", hours=f"{hours:.0f}")
    return _series(piece), (note,)


def _joined(pieces: Sequence[WeatherSeries]) -> tuple[WeatherSeries | None, tuple[str, ...]]:
    """One series from ``pieces``, of which later ones win; hours nobody has split it, and the
    part that ends last is taken."""
    pieces = [piece for piece in pieces if len(piece)]
    if not pieces:
        return None, ()
    start = min(piece.start for piece in pieces)
    hours = int((max(piece.end for piece in pieces) - start) / _HOUR)
    values = {name: np.full(hours, np.nan) for name in ARRAYS}
    for piece in pieces:
        first = int((piece.start - start) / _HOUR)
        for name in ARRAYS:
            values[name][first : first + len(piece)] = getattr(piece, name)
    missing = np.flatnonzero(np.isnan(values["temp_c"]))
    begin = int(missing[-1]) + 1 if len(missing) else 0
    notes = dict.fromkeys(note for piece in pieces for note in piece.notes)
    if begin:
        notes[say("Weather before {start} has gaps and was not used.",
                  start=f"{start + begin * _HOUR:%d %B %Y}")] = None
    sources = "; ".join(dict.fromkeys(piece.source for piece in pieces))
    arrays = {name: array[begin:] for name, array in values.items()}
    try:
        whole = WeatherSeries(start=start + begin * _HOUR, source=sources, notes=(), **arrays)
    except ValueError as problem:
        raise KeeperError(say("The stored weather does not fit together ({problem}).",
                              problem=str(problem))) from None
    return whole, tuple(notes)
