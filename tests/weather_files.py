"""Open weather files that ship inside test-time libraries, and places to use them with."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path


@dataclass(frozen=True)
class Spot:
    """A place on earth with its clock."""

    latitude_deg: float
    longitude_deg: float
    altitude_m: float = 0.0
    time_zone: str = "UTC"


SEATTLE = Spot(47.45, -122.31, 130.0, "America/Los_Angeles")


def greensboro_tmy3() -> Path:
    """TMY3 year of Greensboro, North Carolina (inside the pvlib wheel)."""
    return _inside("pvlib", "data/723170TYA.CSV")


def sand_point_tmy3() -> Path:
    """TMY3 year of Sand Point, Alaska (inside the pvlib wheel)."""
    return _inside("pvlib", "data/703165TY.csv")


def seattle_daily() -> Path:
    """Daily weather of Seattle 2012-2015 (inside the vega_datasets wheel), degC."""
    return _inside("vega_datasets", "_data/seattle-weather.csv")


def _inside(package: str, name: str) -> Path:
    spec = find_spec(package)
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent / name
