"""MET Norway's Locationforecast 2.0 (compact JSON): the world, nine to ten days.

Documented at api.met.no; data under CC BY 4.0, "Data from MET Norway". Terms: a User-Agent that
names the user, at most four decimals in coordinates, no request before ``Expires``.
"""

from __future__ import annotations

from bedlore.fetch.answers import dig, moment, number, rows
from bedlore.fetch.client import Answer, ForecastClient, ServiceError
from bedlore.fetch.points import ForecastPoint, series_from_points
from bedlore.say import message, say
from bedlore.weather.series import WeatherSeries
from bedlore.weather.sun import Spot

BASE_URL = "https://api.met.no/weatherapi/locationforecast/2.0"
SOURCE = message("forecast of MET Norway (CC BY 4.0)")


def ask(client: ForecastClient, spot: Spot, base_url: str = BASE_URL) -> Answer:
    """The service's answer for ``spot``; raises :class:`ServiceError`."""
    place = {
        "lat": f"{spot.latitude_deg:.4f}",
        "lon": f"{spot.longitude_deg:.4f}",
        "altitude": f"{spot.altitude_m:.0f}",
    }
    return client.get_json(f"{base_url.rstrip('/')}/compact", place)


def read(payload: object, spot: Spot) -> WeatherSeries:
    """Hourly weather from a decoded compact answer; raises :class:`ServiceError`.

    Hourly for about 60 hours, then every six hours.
    """
    _check_units(payload)
    points = []
    for row in rows(payload, "properties", "timeseries"):
        details = dig(row, "data", "instant", "details")
        temp_c = number(dig(details, "air_temperature"))
        if temp_c is None:
            continue
        points.append(
            ForecastPoint(
                at=moment(dig(row, "time")),
                temp_c=temp_c,
                rh_frac=_share(dig(details, "relative_humidity")),
                wind_m_s=number(dig(details, "wind_speed")),
                cloud_frac=_share(dig(details, "cloud_area_fraction")),
            )
        )
    return series_from_points(points, spot, SOURCE)


def _check_units(payload: object) -> None:
    expected = {"air_temperature": "celsius", "relative_humidity": "%", "wind_speed": "m/s",
                "cloud_area_fraction": "%"}
    for name, unit in expected.items():
        said = dig(payload, "properties", "meta", "units", name)
        if said is not None and said != unit:
            raise ServiceError(say("The forecast gives {name} in {unit}, which is not known here.",
                                   name=name, unit=repr(said)))  # fmt: skip


def _share(value: object) -> float | None:
    percent = number(value)
    return None if percent is None else percent / 100.0
