"""Parameters of the place a bed stands in and of what is fed to it."""

from __future__ import annotations

from bedlore.facts.parameter import Parameter

SITE_PARAMETERS: tuple[Parameter, ...] = (
    Parameter("building_tau_scale", 1.0, 0.4, 2.5, "-",
              "factor on the building's time constant of the farm file",
              "sheds of one kind differ by x/3", "memory", learnt=True),
    Parameter("building_offset_shift_k", 0.0, -2.5, 2.5, "K",
              "added to the building's mean warmth over outdoors of the farm file",
              "detached 1.5 +- 1.5 K, attached 6 +- 2.5 K", "memory", "linear", learnt=True),
    Parameter("feed_mass_scale", 1.0, 0.75, 1.33, "-",
              "factor on what the log says was fed: the keeper's scoops",
              "kitchen measures vary by a quarter", "common practice", learnt=True),
    Parameter("feed_dry_scale", 1.0, 0.9, 1.1, "-",
              "factor on the dry share of the feed against the materials table",
              "moisture ranges of the materials table", "derived", learnt=True),
    Parameter("herd_scale", 1.0, 0.6, 1.6, "-",
              "factor on the worms said to be stocked at the start",
              "worms are weighed with bedding clinging to them", "common practice", learnt=True),
)  # fmt: skip
