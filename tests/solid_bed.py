"""A bed in which heat flows in three dimensions, with the afternoon sun on one of its walls.

Only the heat that flows sideways is worked out here; the rest is left to the columns of the true
bed, an hour at a time. Each column is cut into blocks. How much warmer or colder a block is than
the mean of its layer goes through an implicit hour of conduction in all three directions (backward
Euler, conjugate gradients), with the outer walls where they stand; the means go back to the
columns. Water about to freeze counts as heat capacity.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse.linalg import LinearOperator, cg

from bedlore.bed.cells import Air, Floats, Geometry, Zones
from bedlore.bed.engine import State, simulate
from bedlore.bed.heat import HOUR_S, top_resistance
from bedlore.bed.matter import (
    DRY_HEAT_J_KGK,
    conductivity,
    dry_mass,
    ice_share,
    water_heat_slope,
)
from bedlore.facts.parameters import defaults
from bedlore.farm.bed import Bed
from bedlore.learn.moment import Moment
from tools.demo_world.truth import TrueBed, TruePlace, true_parameters

ALONG, ACROSS = 4, 4  # blocks of a column
# Of the sun on level ground, what reaches the wall through a window after noon (assumed), and what
# weathered wood absorbs of it (0.6, from memory).
SUN_SHARE = 0.3 * 0.6
PROBE_M = 0.1


@dataclass(frozen=True)
class Body:
    """Blocks ``[X, Y, C]`` of one hour: heat capacity [J/K], and conductances [W/K] between
    neighbours, through the wall in the sun, through the others, and through top and base."""

    capacity: Floats
    along: Floats  # [X - 1, Y, C]
    across: Floats  # [X, Y - 1, C]
    down: Floats  # [X, Y, C - 1]
    sunny: Floats
    shady: Floats
    ends: Floats

    def after_an_hour(self, mean_c: Floats, apart_k: Floats, outer_c: float,
                      sunny_c: float) -> Floats:  # fmt: skip
        """Temperatures ``[X, Y, C]``: the columns have moved ``mean_c`` up and down already, so
        that only what is ``apart_k`` from it goes up and down here."""
        shape, stored = self.capacity.shape, self.capacity / HOUR_S
        walls = self.sunny * sunny_c + self.shady * outer_c
        known = stored * (mean_c + apart_k) + walls + self._upright(np.broadcast_to(mean_c, shape))

        def lost(flat: Floats) -> Floats:
            temp = flat.reshape(shape)
            out = (stored + self.sunny + self.shady) * temp + self._upright(temp)
            _exchange(out, temp, self.along, 0)
            _exchange(out, temp, self.across, 1)
            return np.asarray(out.ravel())

        operator = LinearOperator((known.size, known.size), matvec=lost, dtype=float)
        found, info = cg(operator, known.ravel(), x0=(mean_c + apart_k).ravel(), rtol=1e-7)
        assert info == 0
        return np.asarray(found.reshape(shape))

    def _upright(self, temp_c: Floats) -> Floats:
        out = self.ends * temp_c
        _exchange(out, temp_c, self.down, 2)
        return np.asarray(out)


def _exchange(out: Floats, temp_c: Floats, conductance: Floats, axis: int) -> None:
    """Add to ``out`` [W] what each block gives its neighbours along ``axis``."""
    flow = -conductance * np.diff(temp_c, axis=axis)
    low, high = [slice(None)] * 3, [slice(None)] * 3
    low[axis], high[axis] = slice(None, -1), slice(1, None)
    out[tuple(low)] += flow
    out[tuple(high)] -= flow


@dataclass(frozen=True)
class Blocks:
    """How the columns of a bed are cut; ``params`` are those of the truth."""

    geometry: Geometry
    params: np.void
    width_m: float

    def body(self, state: State) -> Body:
        """The blocks as they are in ``state`` (one member)."""
        g, p, cells = self.geometry, self.params, state.cells
        now = Moment(g, state, 0, np.zeros((1, 1)))
        n_zones = len(g.area_m2)
        high = np.stack([now.thickness_m(z)[0] for z in range(n_zones)])
        temp, water = cells.temp_c[0], cells.water_kg[0]
        dry = dry_mass(np.moveaxis(cells.carbon_kg[0], -1, 0), cells.ash_kg[0])
        ice = np.vectorize(ice_share)(temp, p["freezing_range_k"])
        slope = np.vectorize(water_heat_slope)(temp, p["freezing_range_k"])
        wet = 0.001 * water / (high * g.area_m2[:, None])
        k = conductivity(wet, ice, p["conductivity_scale"])

        def cut(by_zone: Floats) -> Floats:
            return np.repeat(by_zone, ALONG, axis=0)[:, None]

        def all_blocks(by_column: Floats) -> Floats:
            shape = (n_zones * ALONG, ACROSS, temp.shape[1])
            return np.array(np.broadcast_to(by_column, shape))

        long = cut((g.area_m2 / self.width_m / ALONG)[:, None])
        wide = self.width_m / ACROSS
        k, high = cut(k), cut(high)
        film_r = g.side_film_r * p["film_r_scale"]
        wall_r = cut((g.side_r * p["wall_r_scale"] + state.zones.foam_r[0])[:, None]) + film_r
        half_r = 0.5 * high / k
        area = long * wide
        between = area / (half_r[..., :-1] + half_r[..., 1:])
        mean_k = 2.0 * k[:-1] * k[1:] / (k[:-1] + k[1:])
        touching = mean_k * np.minimum(high[:-1], high[1:]) * wide
        sunny, shady = all_blocks(0.0 * k), all_blocks(0.0 * k)
        long_wall = high * long / (0.5 * wide / k + wall_r)
        sunny[:, 0] += long_wall[:, 0]
        shady[:, -1] += long_wall[:, 0]
        end_wall = high * wide / (0.5 * long / k + wall_r)
        shady[0] += end_wall[0]
        shady[-1] += end_wall[-1]
        ends = all_blocks(0.0 * k)
        top_r = [top_resistance(p, g, Zones(*(a[0] for a in state.zones)), z)
                 for z in range(n_zones)]  # fmt: skip
        base_r = g.base_r * p["wall_r_scale"] + state.zones.foam_r[0]
        base_r = base_r + (0.0 if g.on_ground else g.base_film_r * p["film_r_scale"])
        ends[..., 0] += (area / (half_r[..., :1] + cut(np.array(top_r)[:, None])))[..., 0]
        ends[..., -1] += (area / (half_r[..., -1:] + cut(base_r[:, None])))[..., 0]
        return Body(
            capacity=all_blocks(cut(dry * DRY_HEAT_J_KGK + water * slope) / (ALONG * ACROSS)),
            along=touching / (0.5 * (long[:-1] + long[1:])) * np.ones((1, ACROSS, 1)),
            across=all_blocks(k * high * long / wide)[:, 1:],
            down=between * np.ones((1, ACROSS, 1)), sunny=sunny, shady=shady, ends=ends,
        )  # fmt: skip


class SolidBed(TrueBed):
    """A true bed of zones side by side, whose heat flows in three dimensions."""

    def __init__(self, bed: Bed, place: TruePlace) -> None:
        super().__init__(bed, place)
        zones, cells = self.state.cells.temp_c.shape[1:]
        self._walled_off = self._geometry._replace(
            side_r=np.full(zones, 1e9), link_width_m=np.zeros(zones - 1)
        )
        self._blocks = Blocks(self._geometry, defaults(true_parameters())[0], bed.width_m)
        self._apart_k = np.zeros((zones * ALONG, ACROSS, cells))
        sun = place.outdoor.slice(self.start, place.outdoor.end).ghi_w_m2[0]
        noon = np.arange(len(sun)) + self.start.hour
        self._sun_w_m2 = SUN_SHARE * np.where(noon % 24 >= 12, sun, 0.0)

    def _run(self, first: int, last: int) -> None:
        for hour in range(first, last):
            due = self._table[:, 0] == hour
            acts = self._table[due].copy()
            acts[:, 0] = 0.0
            air = Air(*(np.ascontiguousarray(array[:, hour : hour + 1]) for array in self._air))
            self.last = simulate(
                self._walled_off, defaults(self._parameters()), self.state, air, acts,
                scale=np.ascontiguousarray(self._scale[None, due]), first_hour=hour, threads=1,
            )  # fmt: skip
            self.state = self.last.state
            self._flow(hour)

    def _flow(self, hour: int) -> None:
        """An hour of conduction: new means to the columns, what is left to the blocks."""
        outer_c = float(self._air.outer_c[0, hour])
        film_r = self._geometry.side_film_r
        body = self._blocks.body(self.state)
        mean_c = np.repeat(self.state.cells.temp_c[0], ALONG, axis=0)[:, None, :]
        temp_c = body.after_an_hour(
            mean_c, self._apart_k, outer_c, outer_c + film_r * self._sun_w_m2[hour]
        )
        parts = temp_c.reshape(-1, ALONG, *temp_c.shape[1:])
        means = parts.mean(axis=(1, 2))
        self.state.cells.temp_c[0] = means
        self._apart_k = temp_c - np.repeat(means, ALONG, axis=0)[:, None, :]

    def output(self, name: str, zone: int) -> float:
        """As of any true bed; temperatures as they are after heat has flowed sideways."""
        if name == "temp_probe_c":
            now = Moment(self._geometry, self.state, 0, np.zeros((1, 1)))
            return float(now.temp_c([zone], PROBE_M)[0])
        if name == "temp_mean_c":
            return float(self.state.cells.temp_c[0, zone].mean())
        return super().output(name, zone)
