"""An ensemble of a bed at one hour, as readings see it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.cells import FAST, Geometry
from bedlore.bed.engine import State
from bedlore.bed.matter import ASH_SOLID_KG_M3, ORGANIC_SOLID_KG_M3, bulk_volume, dry_mass

Floats = NDArray[np.float64]
STAGES = ("adults", "juveniles", "hatchlings", "cocoons")


@dataclass(frozen=True)
class Moment:
    """The state of every member before the acts of ``hour`` are carried out.

    ``air_c`` ``[M, H]`` is the air around the bed in the hours up to and with ``hour``, at most
    a day of it. Zones are given by their position; several are taken together.
    """

    geometry: Geometry
    state: State
    hour: int
    air_c: Floats

    @property
    def members(self) -> int:
        """Number of members."""
        return self.state.members

    def thickness_m(self, zone: int) -> Floats:
        """Thickness ``[M, C]`` of the cells of a zone, from the top down."""
        cells = self.state.cells
        carbon = np.moveaxis(cells.carbon_kg[:, zone], -1, 0)
        ash = cells.ash_kg[:, zone]
        volume = bulk_volume(carbon, ash)
        pores = volume - (dry_mass(carbon, ash) - ash) / ORGANIC_SOLID_KG_M3
        pores = pores - ash / ASH_SOLID_KG_M3
        over = np.maximum(0.001 * cells.water_kg[:, zone] - pores, 0.0)
        return np.asarray((volume + over) / self.geometry.area_m2[zone])

    def _at_depth(self, zone: int, depth_m: float, values: Floats) -> Floats:
        """``values`` ``[M, C]`` between the cell centres at ``depth_m`` below the surface."""
        thick = self.thickness_m(zone)
        centres = np.cumsum(thick, axis=1) - 0.5 * thick
        below = np.clip((centres < depth_m).sum(axis=1), 1, centres.shape[1] - 1)
        row = np.arange(len(centres))
        top, low = centres[row, below - 1], centres[row, below]
        share = np.clip((depth_m - top) / np.maximum(low - top, 1e-9), 0.0, 1.0)
        return np.asarray(values[row, below - 1] * (1.0 - share) + values[row, below] * share)

    def temp_c(self, zones: Sequence[int], depth_m: float) -> Floats:
        """Temperature ``[M]`` at a depth, the mean of ``zones``."""
        temp = self.state.cells.temp_c
        return np.asarray(np.mean([self._at_depth(z, depth_m, temp[:, z]) for z in zones], axis=0))

    def moisture_frac(self, zones: Sequence[int], depth_m: float | None = None) -> Floats:
        """Water per wet mass ``[M]`` at a depth, or of the whole zones without one."""
        if depth_m is None:
            water, wet = self._water_and_wet(zones)
            return np.asarray(water / np.maximum(wet, 1e-9))
        cells = self.state.cells
        found = []
        for z in zones:
            dry = dry_mass(np.moveaxis(cells.carbon_kg[:, z], -1, 0), cells.ash_kg[:, z])
            water = cells.water_kg[:, z]
            found.append(self._at_depth(z, depth_m, water / np.maximum(water + dry, 1e-9)))
        return np.asarray(np.mean(found, axis=0))

    def _water_and_wet(self, zones: Sequence[int]) -> tuple[Floats, Floats]:
        cells = self.state.cells
        at = list(zones)
        dry = dry_mass(np.moveaxis(cells.carbon_kg[:, at], -1, 0), cells.ash_kg[:, at])
        water = cells.water_kg[:, at].sum(axis=(1, 2))
        return water, water + dry.sum(axis=(1, 2))

    def wet_mass_kg(self, zones: Sequence[int]) -> Floats:
        """Mass of bedding, castings and food ``[M]``, moist."""
        return self._water_and_wet(zones)[1]

    def soft_food_kg(self, zones: Sequence[int]) -> Floats:
        """Carbon in soft food ``[M]``: what is seen lying there."""
        return np.asarray(self.state.cells.carbon_kg[..., FAST][:, list(zones)].sum(axis=(1, 2)))

    def depth_m(self, zones: Sequence[int]) -> Floats:
        """Depth of material ``[M]``, the mean of ``zones``."""
        return np.asarray(np.mean([self.thickness_m(z).sum(axis=1) for z in zones], axis=0))

    def volume_l(self, zones: Sequence[int]) -> Floats:
        """Volume of material ``[M]`` in litres."""
        areas = self.geometry.area_m2
        return np.asarray(sum(1000.0 * areas[z] * self.depth_m([z]) for z in zones))

    def number(self, stage: str, zones: Sequence[int]) -> Floats:
        """Number ``[M]`` of a stage in ``zones``."""
        herd, at = self.state.herd, list(zones)
        if stage == "cocoons":
            return np.asarray(herd.cocoon_n[:, at].sum(axis=(1, 2)))
        field = {"adults": herd.adult_n, "juveniles": herd.juvenile_n,
                 "hatchlings": herd.hatchling_n}[stage]  # fmt: skip
        return np.asarray(field[:, at].sum(axis=1))

    def stage_kg(self, stage: str, zones: Sequence[int]) -> Floats:
        """Live mass ``[M]`` of adults, juveniles or hatchlings in ``zones``."""
        herd = self.state.herd
        field = {"adults": herd.adult_kg, "juveniles": herd.juvenile_kg,
                 "hatchlings": herd.hatchling_kg}[stage]  # fmt: skip
        return np.asarray(field[:, list(zones)].sum(axis=1))

    def worms_per_l(self, zones: Sequence[int], depth_m: float) -> Floats:
        """Worms of all stages per litre ``[M]`` at a depth."""
        found = []
        for z in zones:
            litres = 1000.0 * self.geometry.area_m2[z] * self.thickness_m(z)
            worms = np.sum([self.number(stage, [z]) for stage in STAGES[:3]], axis=0)
            density = worms[:, None] * self.state.herd.where[:, z] / np.maximum(litres, 1e-6)
            found.append(self._at_depth(z, depth_m, density))
        return np.asarray(np.mean(found, axis=0))

    def sourness(self, zones: Sequence[int]) -> Floats:
        """Sourness index ``[M]``, the worst of ``zones``."""
        return np.asarray(self.state.zones.sour[:, list(zones)].max(axis=1))

    def ammonia_mg_g(self, zones: Sequence[int]) -> Floats:
        """Ammonia nitrogen per wet gram ``[M]``, the worst cell of ``zones``."""
        cells = self.state.cells
        worst = []
        for z in zones:
            dry = dry_mass(np.moveaxis(cells.carbon_kg[:, z], -1, 0), cells.ash_kg[:, z])
            wet = np.maximum(cells.water_kg[:, z] + dry, 1e-9)
            worst.append((1000.0 * cells.ammonia_kg[:, z] / wet).max(axis=1))
        return np.asarray(np.max(worst, axis=0))
