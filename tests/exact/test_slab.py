"""Heat in a column against exact solutions.

Carslaw & Jaeger 1959, Conduction of Heat in Solids (formulas from memory, figures computed from
them: physics fact book s.5 and s.9, V1-V5). SciPy's erfc is the outside oracle where it helps.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import erf, erfc

from bedlore.lab import slab

INSULATED = {"kind": "insulated"}
K, HEAT_CAPACITY = 0.4, 2.0e6  # diffusivity 2e-7 m2/s


def layer(thickness_m: float, **more: float) -> dict[str, float]:
    return {"thickness_m": thickness_m, "k_w_mk": K, "heat_capacity_j_m3k": HEAT_CAPACITY, **more}


def at(run, depth_m: float, hour: float) -> float:
    row = run.temp_c[int(np.argmin(np.abs(run.time_h - hour)))]
    return float(np.interp(depth_m, run.depth_m, row))


@pytest.mark.parametrize(("depth_m", "hour", "exact"), [(0.1, 24, 0.590636), (0.2, 72, 0.534514)])
def test_v1_step_into_a_deep_body(depth_m: float, hour: int, exact: float) -> None:
    assert erfc(depth_m / (2 * np.sqrt(2e-7 * 3600 * hour))) == pytest.approx(exact, abs=1e-5)
    run = slab([layer(3.0)], {"kind": "fixed", "temp_c": 1.0}, INSULATED, hour, cell_m=0.01)
    assert at(run, depth_m, hour) == pytest.approx(exact, rel=0.005)


def wave(run, depth_m: float, period_h: float) -> tuple[float, float]:
    """Amplitude and lag [h] of the last five periods."""
    last = run.time_h > run.time_h[-1] - 5 * period_h
    turn = 2 * np.pi / period_h
    temps = np.array([np.interp(depth_m, run.depth_m, row) for row in run.temp_c[last]])
    both = 2 * np.mean(temps * np.exp(-1j * turn * run.time_h[last]))
    lag = (-np.angle(both) - np.pi / 2) / turn
    return abs(both), lag % period_h


@pytest.mark.parametrize(("depth_m", "exact"), [(0.05, 0.50958), (0.1, 0.25967), (0.2, 0.06743)])
def test_v2_daily_wave(depth_m: float, exact: float) -> None:
    top = {"kind": "periodic", "amplitude_k": 1.0}
    run = slab([layer(1.5)], top, INSULATED, 24 * 15)
    amplitude, lag_h = wave(run, depth_m, 24.0)
    assert amplitude == pytest.approx(exact, rel=0.02)
    damping_m = np.sqrt(2 * 2e-7 / (2 * np.pi / 86400))
    assert lag_h == pytest.approx(depth_m / damping_m * 24 / (2 * np.pi), abs=0.3)


@pytest.mark.parametrize(
    ("depth_m", "exact", "lag_d"),
    [(0.5, 0.79997, 13.0), (1.0, 0.63995, 25.9), (2.0, 0.40954, 51.9)],
)
def test_yearly_wave_in_the_ground(depth_m: float, exact: float, lag_d: float) -> None:
    ground = {"thickness_m": 15.0, "k_w_mk": 1.0, "heat_capacity_j_m3k": 2e6}
    top = {"kind": "periodic", "amplitude_k": 1.0, "period_h": 8760}
    run = slab([ground], top, INSULATED, 8760 * 6, cell_m=0.1, step_s=3600, every_h=24)
    amplitude, lag_h = wave(run, depth_m, 8760.0)
    assert amplitude == pytest.approx(exact, rel=0.02)
    assert lag_h / 24 == pytest.approx(lag_d, abs=0.5)


@pytest.mark.parametrize(
    ("fourier", "exact"), [(0.05, 0.996869), (0.1, 0.949305), (0.2, 0.772312), (0.5, 0.370777)]
)
def test_slab_between_cold_faces(fourier: float, exact: float) -> None:
    hours = fourier * 0.1**2 / 2e-7 / 3600
    face = {"kind": "fixed", "temp_c": 0.0}
    run = slab([layer(0.2, start_c=1.0)], face, face, hours, cell_m=0.0025, step_s=hours * 3.6,
               every_h=hours)  # fmt: skip
    assert at(run, 0.1, hours) == pytest.approx(exact, rel=0.005)


@pytest.mark.parametrize(
    ("biot", "fourier", "centre", "surface"),
    [(1.0, 0.2, 0.95064, 0.64339), (1.0, 0.5, 0.77253, 0.50452), (1.0, 1.0, 0.53386, 0.34818),
     (0.5, 0.5, 0.86411, 0.68688), (0.5, 1.0, 0.69838, 0.55459)],
)  # fmt: skip
def test_v3_slab_in_air(biot: float, fourier: float, centre: float, surface: float) -> None:
    hours = fourier * 0.1**2 / 2e-7 / 3600
    air = {"kind": "convective", "h_w_m2k": biot * K / 0.1}
    run = slab([layer(0.2, start_c=1.0)], air, air, hours, step_s=hours * 3.6, every_h=hours)
    assert at(run, 0.1, hours) == pytest.approx(centre, rel=0.005)
    assert run.top_c[-1] == pytest.approx(surface, rel=0.005)
    assert run.base_c[-1] == pytest.approx(surface, rel=0.005)


def test_v4_even_source_between_two_faces() -> None:
    """k 0.4, half depth 0.1 m, h 5, 60 W/m3: centre 1.95, surface 1.20, mean 1.70 K."""
    air = {"kind": "convective", "h_w_m2k": 5.0}
    run = slab([layer(0.2, source_w_m3=60.0)], air, air, 2000, step_s=3600, every_h=100)
    assert run.temp_c[-1].max() == pytest.approx(1.95, rel=0.005)
    assert run.top_c[-1] == pytest.approx(1.20, rel=0.005)
    assert run.temp_c[-1].mean() == pytest.approx(1.70, rel=0.005)


def test_v4_even_source_on_an_insulated_base() -> None:
    """The same, 0.2 m deep: base 5.4, top 2.4 K."""
    air = {"kind": "convective", "h_w_m2k": 5.0}
    run = slab([layer(0.2, source_w_m3=60.0)], air, INSULATED, 4000, step_s=3600, every_h=100)
    assert run.base_c[-1] == pytest.approx(5.4, rel=0.005)
    assert run.top_c[-1] == pytest.approx(2.4, rel=0.005)


def stefan(k: float, frozen_j_m3k: float, latent_j_m3: float) -> float:
    """Neumann's root for water at 0 degC under a face at -10: sqrt(pi) x exp(x2) erf(x) = Ste."""
    number = frozen_j_m3k * 10.0 / latent_j_m3
    root = brentq(lambda x: np.sqrt(np.pi) * x * np.exp(x * x) * erf(x) - number, 1e-6, 3.0)
    return 2 * root * np.sqrt(k / frozen_j_m3k)


COLD = {"kind": "fixed", "temp_c": -10.0}


@pytest.mark.parametrize("step_s", [300.0, 3600.0])
def test_v5_stefan_ice(step_s: float) -> None:
    """Ice: k 2.22, 917 kg/m3, 2050 J/kg K, 334 kJ/kg: 0.11080 m after a day. Reached: 0.04 %."""
    speed = stefan(2.22, 917 * 2050.0, 917 * 334e3)
    assert speed * np.sqrt(86400.0) == pytest.approx(0.11080, abs=2e-5)
    water = {"thickness_m": 0.5, "k_w_mk": 2.22, "heat_capacity_j_m3k": 917 * 4180.0,
             "water_kg_m3": 917.0}  # fmt: skip
    run = slab([water], COLD, INSULATED, 24, step_s=step_s, freezing_range_k=0.01)
    assert run.frozen_m[-1] == pytest.approx(0.11080, rel=0.03)


@pytest.mark.parametrize(("day", "exact"), [(1, 0.0955), (3, 0.1653), (7, 0.2526), (14, 0.3572)])
def test_v5_stefan_wet_bed(day: int, exact: float) -> None:
    """Frozen bed: k 1.0, 1.8 MJ/m3 K, 550 kg water/m3. Reached: 0.07 %."""
    speed = stefan(1.0, 1.8e6, 550 * 334e3)
    assert speed * np.sqrt(86400.0 * day) == pytest.approx(exact, abs=1e-4)
    solids_j_m3k = 1.8e6 - 550 * 2050.0
    bed = {"thickness_m": 0.8, "k_w_mk": 1.0, "water_kg_m3": 550.0,
           "heat_capacity_j_m3k": solids_j_m3k + 550 * 4180.0}  # fmt: skip
    run = slab([bed], COLD, INSULATED, 24 * day, cell_m=0.01, step_s=900, freezing_range_k=0.01)
    assert run.frozen_m[-1] == pytest.approx(exact, rel=0.03)


def test_heat_is_kept_through_a_freeze() -> None:
    """What a freezing column lost is what came through its faces, to rounding."""
    bed = {"thickness_m": 0.3, "dry_kg_m3": 200.0, "water_kg_m3": 600.0, "start_c": 5.0}
    top = {"kind": "convective", "temp_c": -8.0, "h_w_m2k": 6.0}
    run = slab([bed], top, {"kind": "convective", "temp_c": 2.0, "h_w_m2k": 1.0}, 200)
    stored = [
        sum(_heat(t, 200.0 * 0.005, 600.0 * 0.005, 0.6) for t in row) for row in run.temp_c
    ]
    assert run.temp_c.min() < -0.6  # some of it is frozen hard
    change = np.array(stored) - stored[0]
    assert np.abs(change - run.heat_gained_j_m2).max() < 1e-9 * np.abs(change).max()


def _heat(temp_c: float, dry_kg: float, water_kg: float, range_k: float) -> float:
    """Enthalpy by hand: 1400 J/kg K solids, 4180 water, 2050 ice, 334 kJ/kg spread over 0.6 K."""
    liquid = 1400.0 * dry_kg + 4180.0 * water_kg
    if temp_c >= 0:
        return liquid * temp_c
    mush = (liquid + 334e3 * water_kg / range_k) * max(temp_c, -range_k)
    return mush + (1400.0 * dry_kg + 2050.0 * water_kg) * min(temp_c + range_k, 0.0)
