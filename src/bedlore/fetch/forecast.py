"""Today's forecast, or a plain sentence why there is none.

Nothing here stops the keeper: without a forecast the outlook runs on the normals alone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from bedlore.errors import KeeperError
from bedlore.fetch import met_norway, national_service
from bedlore.fetch.client import ForecastClient, ServiceError
from bedlore.say import say, say_many
from bedlore.weather.series import WeatherSeries
from bedlore.weather.sun import Spot

SERVICES: dict[str, str] = {
    "met-norway": met_norway.BASE_URL,
    "us-nws": national_service.BASE_URL,
}
WITHOUT = say("The coming days are drawn from the normals of the place instead.")


@dataclass(frozen=True)
class ForecastResult:
    """``series`` is None without a usable forecast; ``sentence`` says what the keeper has."""

    series: WeatherSeries | None
    sentence: str


def fetch_forecast(
    client: ForecastClient,
    service: str,
    spot: Spot,
    base_url: str | None = None,
    now: Callable[[], datetime] = lambda: datetime.now(UTC),
) -> ForecastResult:
    """The forecast of ``service`` for ``spot``; network trouble becomes a sentence.

    An older forecast from the cache is used when the service fails, as long as it still has a
    day ahead. Raises :class:`KeeperError` only for a service that is not known.
    """
    if service not in SERVICES:
        raise KeeperError(say("{service} is no weather service known here.",
                              service=repr(service)),
                          fix=say("Choose one of {services}.", services=", ".join(SERVICES)))
    module = met_norway if service == "met-norway" else national_service
    try:
        answer = module.ask(client, spot, base_url or SERVICES[service])
        series = module.read(answer.payload, spot)
    except ServiceError as error:
        return ForecastResult(None, say("No forecast: {error} {without}", error=error.said,
                                        without=WITHOUT))
    left = series.end - now()
    if left < timedelta(days=1):
        return ForecastResult(None, say("No forecast: the last one ended on {end}. {without}",
                                        end=f"{series.end:%d %B}", without=WITHOUT))
    age_h = (now() - answer.fetched_at) / timedelta(hours=1)
    if answer.stale:
        return ForecastResult(
            series, say("{reason} The forecast of {age_h} hours ago is used.",
                        reason=answer.reason, age_h=f"{age_h:.0f}"))
    return ForecastResult(series, say_many(
        "{source}, one day ahead.", "{source}, {count} days ahead.",
        round(left / timedelta(days=1)), source=say(series.source)))  # fmt: skip
