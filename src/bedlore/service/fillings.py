"""What a filling of a container weighs, learnt from entries that tell both count and mass.

Of a filling the logarithm of its mass over what volume and bulk density (or the farm file's mass)
give is taken as the sum of three normal errors: how full this keeper fills this container, how this
material lies in it, and the one filling. The first is shared by all materials, so that weighing
scraps tells something of manure in the same bucket too. No reading moves it further than its own
error allows: with few weighings the farm file holds.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from bedlore.farm.amounts import Filling, bulk_density
from bedlore.farm.log import SCALE_ERROR_FRAC, AnyEntry, Bedding, Feed, Part
from bedlore.farm.model import Container, Farm
from bedlore.service.book import LogBook, LogFilter

MOST_ENTRIES = 300  # the newest that are looked at
LOOK_BACK = dt.timedelta(days=365)  # keepers and buckets change
_LIKELY = math.log(5.0)  # a mass further off than five times is a slip of the pen, not a weighing


@dataclass(frozen=True)
class Weighing:
    """``count`` fillings of a container with a feedstock id that weighed ``mass_kg`` together."""

    container: str
    material: str
    count: float
    mass_kg: float


class LearntFillings:
    """A :class:`~bedlore.farm.amounts.Fillings` from weighings, which are fetched when they are
    first asked for."""

    def __init__(self, fetch: Callable[[], Iterable[Weighing]]) -> None:
        self._fetch = fetch

    @cached_property
    def _by_container(self) -> dict[str, list[Weighing]]:
        found: dict[str, list[Weighing]] = {}
        for one in self._fetch():
            found.setdefault(one.container, []).append(one)
        return found

    def weighings(self, container_id: str) -> list[Weighing]:
        """Those of one container, the newest first."""
        return self._by_container.get(container_id, [])

    def of(self, container: Container, material: str | None) -> Filling | None:
        """What a filling with ``material`` weighs; None when the container was never weighed."""
        known = [(one, off) for one in self.weighings(container.id)
                 if abs(off := _off(container, one)) < _LIKELY]  # fmt: skip
        if not known:
            return None
        fill = container.fill_error_frac
        spread = np.array([math.hypot(fill / math.sqrt(max(one.count, 1.0)), SCALE_ERROR_FRAC)
                           for one, _ in known])  # fmt: skip
        lies = _material_error(container, material)
        same = np.array([lies**2 if one.material == material else 0.0 for one, _ in known])
        shared = np.array([
            [_material_error(container, a.material) ** 2 if a.material == b.material else 0.0
             for b, _ in known] for a, _ in known
        ])  # fmt: skip
        between = fill**2 + shared + np.diag(spread**2)
        toward = fill**2 + same
        weights = np.linalg.solve(between, toward)
        shift = float(weights @ np.array([off for _, off in known]))
        left = max(fill**2 + lies**2 - float(weights @ toward), 0.0)
        mass_kg = _expected_kg(container, material) * math.exp(shift)
        return Filling(mass_kg, math.sqrt(left + fill**2), len(known))


def _off(container: Container, one: Weighing) -> float:
    return math.log(one.mass_kg / one.count / _expected_kg(container, one.material))


def _expected_kg(container: Container, material: str | None) -> float:
    """What the farm file says of one filling."""
    if container.mass_kg is not None:
        return container.mass_kg
    return (container.volume_l or 0.0) / 1000.0 * bulk_density(material)[0]


def _material_error(container: Container, material: str | None) -> float:
    """How far a material may lie from the book in this container; a mass of the farm file is
    of whatever goes into it."""
    return 0.0 if container.mass_kg is not None else bulk_density(material)[1]


def fillings_of(book: LogBook, farm: Farm, now: dt.datetime) -> LearntFillings:
    """What the newest entries of a log's last year tell of the farm's containers."""

    def fetch() -> list[Weighing]:
        if not farm.containers:
            return []
        wanted = LogFilter(kinds=("feed", "bedding"), text="container", since=now - LOOK_BACK)
        return weighings_in((one.entry for one in book.page(wanted, MOST_ENTRIES)), farm)

    return LearntFillings(fetch)


def weighings_in(entries: Iterable[AnyEntry], farm: Farm) -> list[Weighing]:
    """The parts of ``entries`` that tell both a count of the farm's containers and a mass."""
    return [
        Weighing(part.container or "", part.material, part.count or 0.0, part.mass_kg)
        for entry in entries if isinstance(entry, (Feed, Bedding))
        for part in entry.parts if was_weighed(part, farm)
    ]  # fmt: skip


def was_weighed(part: Part, farm: Farm) -> bool:
    """Whether a scale told the mass: what a count was turned into is known less well."""
    container = farm.container(part.container) if part.container else None
    told = container is not None and bool(part.count) and part.mass_kg > 0.0
    return told and abs(part.mass_error_frac - SCALE_ERROR_FRAC) < 1e-9
