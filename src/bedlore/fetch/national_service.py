"""The US National Weather Service's hourly forecast (api.weather.gov): US places, seven days.

Two steps, as documented there: ``/points/LAT,LON`` names the grid cell's ``forecastHourly``, which
holds hourly periods. Public domain; the service asks for a User-Agent that names the user.
"""

from __future__ import annotations

import re

import httpx

from bedlore.fetch.answers import dig, moment, number, rows
from bedlore.fetch.client import Answer, ForecastClient, ServiceError
from bedlore.fetch.points import ForecastPoint, series_from_points
from bedlore.say import message, say
from bedlore.units import fahrenheit_to_celsius
from bedlore.weather.series import WeatherSeries
from bedlore.weather.sun import Spot

BASE_URL = "https://api.weather.gov"
SOURCE = message("forecast of the US National Weather Service")
_SPEED = re.compile(r"(\d+(?:\.\d+)?)(?:\s*to\s*(\d+(?:\.\d+)?))?\s*(mph|km/h|kt|m/s)?")
_TO_M_S = {"mph": 0.44704, "km/h": 1 / 3.6, "kt": 1852 / 3600, "m/s": 1.0}


def ask(client: ForecastClient, spot: Spot, base_url: str = BASE_URL) -> Answer:
    """The hourly forecast for ``spot``; raises :class:`ServiceError` outside its area."""
    base = base_url.rstrip("/")
    place = f"{_short(spot.latitude_deg)},{_short(spot.longitude_deg)}"
    cell = client.get_json(f"{base}/points/{place}")
    address = dig(cell.payload, "properties", "forecastHourly")
    if not isinstance(address, str):
        raise ServiceError(say("The weather service names no hourly forecast for this place."))
    # Only the path is taken, so that an answer cannot send us to another host.
    path = httpx.URL(address).raw_path.decode("ascii")
    return client.get_json(f"{base}{path}")


def read(payload: object, spot: Spot) -> WeatherSeries:
    """Hourly weather from a decoded ``forecastHourly`` answer; raises :class:`ServiceError`."""
    points = []
    for period in rows(payload, "properties", "periods"):
        temp_c = _temperature_c(period)
        if temp_c is None:
            continue
        humidity = number(dig(period, "relativeHumidity", "value"))
        points.append(
            ForecastPoint(
                at=moment(dig(period, "startTime")),
                temp_c=temp_c,
                rh_frac=None if humidity is None else humidity / 100.0,
                wind_m_s=_wind_m_s(dig(period, "windSpeed")),
            )
        )
    return series_from_points(points, spot, SOURCE)


def _short(degrees: float) -> str:
    """At most four decimals and no trailing zeros, or the service answers with a redirect."""
    return f"{degrees:.4f}".rstrip("0").rstrip(".")


def _temperature_c(period: object) -> float | None:
    """Degrees Celsius from a plain number with its unit letter, or from a value with unitCode."""
    plain = number(dig(period, "temperature"))
    if plain is not None:
        unit = dig(period, "temperatureUnit")
        if unit not in ("F", "C"):
            raise ServiceError(say("The forecast gives temperatures in {unit}.", unit=repr(unit)))
        return fahrenheit_to_celsius(plain) if unit == "F" else plain
    value = number(dig(period, "temperature", "value"))
    code = str(dig(period, "temperature", "unitCode"))
    if value is None:
        return None
    return fahrenheit_to_celsius(value) if code.endswith("degF") else value


def _wind_m_s(value: object) -> float | None:
    """Mean of a wind such as ``"5 to 10 mph"``, None when it cannot be read."""
    match = _SPEED.search(value) if isinstance(value, str) else None
    if match is None:
        return None
    low, high, unit = match.groups()
    mean = (float(low) + float(high or low)) / 2
    return mean * _TO_M_S[unit or "mph"]
