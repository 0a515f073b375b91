"""What a keeper reads off a bed: true state, dulled by thermometers, eyes, noses and hands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from tools.demo_world.truth import TrueBed

PROBE_LAG = 0.06  # share of the way to the air that a probe read too soon still is
SQUEEZE_STEPS = ((0.64, "crumbly"), (0.755, "damp"), (0.815, "drops"))
SQUEEZE_BIAS, SQUEEZE_SD = 0.008, 0.022  # this hand calls a bed a little wet
NONE_BELOW, LOTS_ABOVE = 0.9, 3.2  # kg/m2 of food seen
SOUR_FROM, SHARP_FROM = 1.2, 0.55  # sourness index; ammonia nitrogen mg/g
CATCH = 0.8  # share of the worms in a sample that are found
PATCHINESS = 1.6  # shape of the negative binomial
SENSOR_BIAS_K = 0.3


@dataclass(frozen=True)
class Probe:
    """A thermometer: its name, how finely it is read [K] and its error [K]."""

    name: str
    step_k: float
    error_k: float
    bias_k: float


DIAL = Probe("dial probe", 1.0, 1.0, -0.4)
THIN = Probe("thin probe", 0.5, 0.5, 0.2)

Cells = dict[str, Any]


def probe(bed: TrueBed, zone: int, device: Probe, rng: np.random.Generator) -> Cells:
    """A reading at 10 cm, give or take how far it was pushed in."""
    at_depth, mean = (bed.output(name, zone) for name in ("temp_probe_c", "temp_mean_c"))
    temp = at_depth + 0.3 * rng.standard_normal() * (mean - at_depth)
    temp += PROBE_LAG * (bed.air_c() - temp)
    temp += device.bias_k + 0.4 * device.error_k * rng.standard_normal()
    shown = round(temp / device.step_k) * device.step_k + 0.0
    return {"temp_c": f"{shown:g}", "device": device.name, "error_k": f"{device.error_k:g}"}


def squeeze(bed: TrueBed, zone: int, rng: np.random.Generator) -> Cells:
    """The word for a handful."""
    felt = bed.output("moisture_frac", zone) + SQUEEZE_BIAS + SQUEEZE_SD * rng.standard_normal()
    return {"word": next((word for limit, word in SQUEEZE_STEPS if felt < limit), "runs")}


def look(bed: TrueBed, zone: int, rng: np.random.Generator) -> Cells:
    """Food left, and the smell."""
    seen = bed.fresh_food_kg_m2(zone) * float(np.exp(0.3 * rng.standard_normal()))
    left = "none" if seen < NONE_BELOW else "lots" if seen > LOTS_ABOVE else "some"
    sour = bed.output("sour_index", zone) * float(np.exp(0.4 * rng.standard_normal()))
    sharp = bed.output("ammonia_mg_g", zone) * float(np.exp(0.25 * rng.standard_normal()))
    smell = "sour" if sour > SOUR_FROM else "sharp" if sharp > SHARP_FROM else "earthy"
    return {"food_left": left, "smell": smell}


def core(bed: TrueBed, zone: int, volume_l: float, rng: np.random.Generator) -> Cells:
    """A counted sample; worms live in patches."""
    share = volume_l / bed.volume_l(zone) * CATCH
    patch = float(rng.gamma(PATCHINESS, 1.0 / PATCHINESS))
    names = ("adults", "juveniles", "hatchlings", "cocoons")
    counts = {
        name: int(rng.poisson(bed.output(f"{name}_n", zone) * share * patch
                              * (0.4 if name == "hatchlings" else 1.0)))
        for name in names
    }  # fmt: skip
    return {"volume_l": f"{volume_l:g}", **{name: str(n) for name, n in counts.items()}}


def sensor(bed: TrueBed, zone: int, rng: np.random.Generator) -> Cells:
    """What the cheap sensor shows."""
    temp = bed.output("temp_probe_c", zone) + SENSOR_BIAS_K + 0.12 * rng.standard_normal()
    return {"temp_c": f"{temp:.1f}", "device": "sluice sensor", "error_k": "0.3"}
