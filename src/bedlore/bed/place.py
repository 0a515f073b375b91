"""What a bed feels of the weather: air, sun on its skin, moisture in the air, the ground."""

from __future__ import annotations

import numpy as np

from bedlore.bed.cells import Air, Floats
from bedlore.farm.bed import Bed
from bedlore.weather.air import vapour_density_kg_m3
from bedlore.weather.series import WeatherEnsemble

# Sun on walls and lid of a bed outdoors, as warmer outside air: absorptance 0.6 over a film of
# 20 W/m2 K on the third of the skin that faces it (derived from handbook films; share assumed).
SUN_K_PER_W_M2 = 0.6 / 20.0 / 3.0
# A bed standing on a floor or the ground shifts the ground below toward the building's air.
GROUND_SHARE = 0.6


def air_around(bed: Bed, outdoor: WeatherEnsemble, indoor: WeatherEnsemble,
               ground_c: Floats, year_c: Floats) -> Air:  # fmt: skip
    """Surroundings ``[M, T]`` of ``bed``; ``ground_c`` ``[T]`` undisturbed ground at 0.5 m.

    Ground under a bed is a mix of the undisturbed ground and ``year_c`` ``[M]``, the mean over
    the year of the air above. That mean is not taken from the hours at hand, or a bed's past
    would change with how it is cut into pieces.
    """
    weather = indoor if bed.place == "indoors" else outdoor
    sun = SUN_K_PER_W_M2 * outdoor.ghi_w_m2 if bed.place == "outdoors" else 0.0
    air_c = np.ascontiguousarray(weather.temp_c)
    ground = GROUND_SHARE * ground_c[None, :] + (1.0 - GROUND_SHARE) * year_c[:, None]
    return Air(
        air_c=air_c,
        outer_c=np.ascontiguousarray(air_c + sun),
        vapour_kg_m3=np.ascontiguousarray(vapour_density_kg_m3(air_c, weather.rh_frac)),
        ground_c=np.ascontiguousarray(ground),
    )
