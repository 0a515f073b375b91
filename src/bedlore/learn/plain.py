"""What the learnt parameters are about, in a keeper's words."""

from __future__ import annotations

from bedlore.say import message

# Of each parameter that a log can tell of: what it is about, then how that goes when the
# parameter is small and when it is large.
PLAIN: dict[str, tuple[str, str, str]] = {
    "fast_rate_per_day": (message("soft food rots"), message("more slowly"), message("faster")),
    "medium_rate_per_day": (
        message("firm food and manure rot"), message("more slowly"), message("faster"),
    ),
    "conductivity_scale": (
        message("heat passes through the bedding"), message("less easily"), message("more easily"),
    ),
    "wall_r_scale": (
        message("walls, floor and lid keep heat in"), message("worse"), message("better"),
    ),
    "evaporation_h_w_m2k": (message("the bed dries"), message("more slowly"), message("faster")),
    "water_held_scale": (
        message("the bedding holds"), message("less water"), message("more water"),
    ),
    "worm_growth_rate": (message("young worms grow"), message("more slowly"), message("faster")),
    "worm_half_food_g": (
        message("worms eat their fill"), message("from thinner food"),
        message("only from thicker food"),
    ),
    "worm_crowd_kg_m2": (message("worms bear crowding"), message("worse"), message("better")),
    "worm_intake_rate": (message("worms eat"), message("less"), message("more")),
    "worm_lay_rate": (message("worms lay"), message("fewer cocoons"), message("more cocoons")),
    "worm_incubation_kd": (message("cocoons hatch"), message("sooner"), message("later")),
    "worm_chill_rate": (
        message("near frost"), message("fewer worms die"), message("more worms die"),
    ),
    "worm_move_fast_d": (message("worms leave an unfed part"), message("sooner"), message("later")),
    "worm_move_slow_d": (
        message("the last worms leave an unfed part"), message("sooner"), message("later"),
    ),
    "worm_slow_share": (
        message("of the worms in an unfed part"), message("fewer linger"), message("more linger"),
    ),
    "building_tau_scale": (
        message("the building follows the weather"), message("faster"), message("more slowly"),
    ),
    "building_offset_shift_k": (message("the building is"), message("colder"), message("warmer")),
    "feed_mass_scale": (message("your measures hold"), message("less"), message("more")),
    "feed_dry_scale": (message("your scraps are"), message("wetter"), message("drier")),
    "herd_scale": (message("the herd began"), message("smaller"), message("larger")),
}  # fmt: skip
