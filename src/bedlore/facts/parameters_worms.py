"""Parameters of the worms: life history, harm and movement of *Eisenia fetida / E. andrei*.

Temperatures in degC, masses in g live (wet) mass, times in days at 25 degC unless said otherwise.
Sources by key: VR88 Venter & Reinecke 1988 S.Afr.J.Zool. 23:161-165; NEU80 Neuhauser, Hartenstein
& Kaplan 1980 Oikos 35:93-98; KAP80 Kaplan, Hartenstein, Neuhauser & Malecki 1980 Soil
Biol.Biochem. 12:347-352; LOE85 Loehr, Neuhauser & Malecki 1985; EDW04 Edwards (ed.) 2004 Earthworm
Ecology ch. 18; GUN02 Gunadi, Blount & Edwards 2002; RV87 Reinecke & Venter 1987
Biol.Fertil.Soils 3:135-141; RV90 Reinecke & Viljoen 1990 Biol.Fertil.Soils 10:184-187; JOH14
Johnston et al. 2014 Ecol.Modelling 280:5-17 (stated starting values only); VG92 van Gestel,
Dirven-van Breemen & Baerselman 1992 Pedobiologia 36:109-120; ATI00 Atiyeh et al. 2000 Pedobiologia
44:709-724; ALI18 Ali & Kashem 2018; JOH19 Johnston & Herrick 2019 Am.Midl.Nat. 181:299-309.
FIT: least squares to VR88, NEU80, GUN02 and RV90 together (tests/published/fit_worms.py).
"""

from __future__ import annotations

from bedlore.facts.parameter import Known, Parameter, Transform


def _p(
    name: str,
    values: tuple[float, float, float],
    unit: str,
    meaning: str,
    source: str,
    known: Known,
    *,
    transform: Transform = "log",
    learnt: bool = False,
) -> Parameter:
    default, low, high = values
    return Parameter(
        f"worm_{name}", default, low, high, unit, meaning, source, known, transform, learnt
    )


_TEMPERATURE = (
    _p("grow_tmin_c", (-3, -5, 1), "degC", "growth curve: lower end",
       "flattened to the order of EDW04 Fig 18.2", "derived", transform="linear"),
    _p("grow_topt_c", (25, 22, 27), "degC", "growth curve: best",
       "KAP80: 20-29; LOE85: 20-25", "read", transform="linear"),
    _p("grow_tmax_c", (35, 33, 37), "degC", "growth curve: upper end",
       "LOE85: death at 35", "read", transform="linear"),
    _p("gate_c", (3, 1, 5), "degC", "no growth or feeding below this; full curve 5 K above",
       "EDW04: limit 4", "assumed", transform="linear"),
    _p("lay_tmin_c", (5, 3, 8), "degC", "laying curve: lower end",
       "EDW04: breeding 4-30", "derived", transform="linear"),
    _p("lay_topt_c", (23.5, 20, 25.5), "degC", "laying curve: best",
       "VG92: 20; Reinecke & Kriel via VR88: 25", "read", transform="linear"),
    _p("lay_tmax_c", (33, 31, 35), "degC", "laying curve: upper end",
       "LOE85: reduced at 30, death at 35", "derived", transform="linear"),
)  # fmt: skip

_GROWTH = (
    _p("growth_rate", (0.0363, 0.031, 0.043), "g^(1/3)/d", "fastest rise of the cube root of mass",
       "FIT; 0.032 by hand", "derived", learnt=True),
    _p("upkeep_rate", (0.0271, 0.019, 0.037), "1/d", "loss rate of the cube root of mass",
       "FIT; 0.025 by hand", "derived"),
    _p("rest_share", (0.125, 0.06, 0.25), "1", "upkeep of an unfed worm against a fully fed one",
       "guess", "assumed", transform="logit"),
    _p("half_food_g", (3.07, 1.6, 5.8), "g per 0.01 m2", "food at which intake is half of the most",
       "FIT; JOH14 3.5", "derived", learnt=True),
    _p("crowd_kg_m2", (0.68, 0.35, 1.3), "kg/m2", "live worms that double the food that half-sates",
       "FIT", "derived", learnt=True),
    _p("intake_rate", (0.493, 0.28, 0.86), "g/d at 1 g", "wet feed taken in by a 1 g worm, ad lib",
       "FIT; JOH14 0.7", "derived", learnt=True),
    _p("young_pace", (0.375, 0.18, 0.65), "1", "growth of hatchlings against older worms",
       "FIT to the slow first week of NEU80", "derived", transform="logit"),
    _p("young_d", (7, 4, 12), "d", "mean time as a hatchling", "NEU80: slow first week", "derived"),
    _p("mature_g", (0.30, 0.22, 0.5), "g", "mass at which half are ripe to mature",
       "0.25-0.6 in the sources; 0.275 at 60 d, 20 degC", "read"),
    _p("mature_d", (3, 1, 8), "d", "time from ripe mass to adult", "VR88: 60-80 d spread",
       "assumed"),
)  # fmt: skip

_LAYING = (
    _p("first_cocoon_d", (7, 3, 14), "d", "adult age at the first cocoon",
       "VR88: clitellum 60 d, first cocoon 70 d", "read"),
    _p("lay_rate", (0.45, 0.32, 0.6), "1/adult/d", "cocoons of a well-fed adult",
       "FIT; net VR88 0.35, RV90 0.386, ALI18 0.52", "derived", learnt=True),
    _p("lay_food_low", (0.45, 0.35, 0.5), "1", "food response below which none are laid",
       "assumed", "assumed", transform="logit"),
    _p("lay_food_high", (0.65, 0.55, 0.75), "1", "food response above which laying is full",
       "RV90 lays fully at a response near 0.69", "derived", transform="logit"),
    _p("old_d", (450, 350, 600), "d", "adult age at which laying begins to fall",
       "VR88 Fig 2: to about day 480", "read"),
    _p("old_span_d", (150, 80, 300), "d", "time over which it falls", "VR88 Fig 2", "read"),
    _p("old_share", (0.2, 0.1, 0.4), "1", "laying of an old adult against a young one",
       "VR88 Fig 2: 1 of 4 per 10 d", "read", transform="logit"),
    _p("cocoon_kg", (1.43e-5, 1.2e-5, 1.7e-5), "kg", "mass of a cocoon", "VR88: n = 1725", "read"),
    _p("incubation_kd", (430, 330, 560), "K d", "thermal time from laying to hatching",
       "VR88: 23 d at 25 degC; below 20 degC from memory", "memory", learnt=True),
    _p("incubation_base_c", (6.5, 4.4, 8), "degC", "no incubation below this",
       "recalled hatching times at 10-20 degC", "memory", transform="linear"),
    _p("incubation_top_c", (28, 26, 30), "degC", "incubation no faster above this", "assumed",
       "assumed", transform="linear"),
    _p("hatch_tmax_c", (34, 32, 36), "degC", "cocoons that end incubation above this fail",
       "recalled: near 0 by 35 degC", "memory", transform="linear"),
    _p("hatch_share", (0.80, 0.70, 0.88), "1", "cocoons that give hatchlings",
       "VR88 0.73; ALI18 0.866", "read", transform="logit"),
    _p("brood_n", (2.8, 2.4, 3.4), "1", "hatchlings of a cocoon that hatches",
       "VR88 2.7; ALI18 3.3", "read"),
    _p("hatch_kg", (6.3e-6, 3e-6, 1.5e-5), "kg", "mass of a hatchling",
       "VR88 2.8 mg to 15 mg; bounded by the cocoon's mass", "derived"),
)  # fmt: skip

_DEATH = (
    _p("die_adult", (0.0005, 0.0001, 0.002), "1/d", "background deaths of adults",
       "guess; VR88: 0 of 10 in 600 d", "assumed"),
    _p("die_juvenile", (0.0015, 0.0005, 0.005), "1/d", "background deaths of juveniles", "guess",
       "assumed"),
    _p("die_hatchling", (0.005, 0.001, 0.02), "1/d", "background deaths of hatchlings", "guess",
       "assumed"),
    _p("die_cocoon", (0.002, 0.001, 0.003), "1/d", "cocoons lost while waiting", "guess",
       "assumed"),
    _p("starve_rate", (0.1, 0.03, 0.3), "1/d", "deaths of worms shrunk to nothing", "guess",
       "assumed"),
    _p("starve_adult_g", (0.1, 0.05, 0.16), "g", "adults lighter than this starve", "guess",
       "assumed"),
    _p("hungry_rate", (0.05, 0.02, 0.15), "1/d", "more deaths of young that find no food",
       "guess", "assumed"),
    _p("hungry_below", (0.45, 0.3, 0.55), "1", "condition below which the young begin to die",
       "VR88: none of ten died at a condition near 0.39", "derived", transform="logit"),
    _p("full_kg_m2", (1.4, 0.8, 2.4), "kg/m2",
       "live worms that halve laying by crowding and take half of its toll on the young",
       "NDE00: herd best at 1.6; NEU80: 0.8 (horse manure) to over 2.9 (sludge)", "derived"),
    _p("crowd_rate", (0.08, 0.03, 0.2), "1/d", "more deaths of young in a herd far too dense",
       "guess", "assumed"),
    _p("heat_rate", (0.10, 0.04, 0.25), "1/d", "deaths at 35 degC, worms and cocoons",
       "LOE85: death at 35 within weeks; JOH19: cocoons of another genus", "derived"),
    _p("heat_slope", (0.63, 0.45, 0.85), "1/K", "rise of heat deaths with temperature",
       "recalled: about a week at 35, a day at 37, hours at 40 degC", "memory"),
    _p("chill_rate", (0.004, 0.001, 0.015), "1/d/K", "deaths for each K below 3 degC",
       "assumed, weak and wide", "assumed", learnt=True),
    _p("freeze_rate", (1.0, 0.3, 3), "1/d/K", "more deaths for each K below 0 degC",
       "recalled: lethal at -1 to -2 degC", "memory"),
    _p("cocoon_freeze_c", (-3, -8, -1), "degC", "cocoons die below this",
       "recalled: -3 to -10 degC", "memory", transform="linear"),
    _p("cocoon_freeze_rate", (0.02, 0.005, 0.08), "1/d/K2", "cocoon deaths by square of the chill",
       "recalled: 0.1/d at -5, 1/d at -10 degC", "memory"),
    _p("dry_rate", (0.1, 0.03, 0.4), "1/d", "deaths 10 points of moisture below 50 %",
       "recalled: survival 50-90 %", "memory"),
    _p("ammonia_rate", (1.0, 0.3, 3), "1/d", "deaths 0.5 mg/g above the level avoided",
       "KAP80: all dead with 0.1 % ammonium acetate", "derived"),
    _p("choke_rate", (1.0, 0.3, 3), "1/d", "deaths without oxygen",
       "recalled: leave or die within a day", "memory"),
)  # fmt: skip

_COMFORT = (
    _p("dry_none", (0.50, 0.45, 0.55), "1", "moisture at which growth stops, dry side",
       "recalled: survive 50-90 %", "memory", transform="logit"),
    _p("dry_full", (0.70, 0.65, 0.75), "1", "moisture from which growth is full",
       "KAP80: 70-85 %", "read", transform="logit"),
    _p("wet_full", (0.85, 0.82, 0.90), "1", "moisture up to which growth is full",
       "KAP80: 70-85 %; EDW04: 80-90 %", "read", transform="logit"),
    _p("wet_none", (0.95, 0.92, 0.98), "1", "moisture at which growth stops, wet side",
       "EDW04: limit 90 %", "derived", transform="logit"),
    _p("ammonia_ok", (0.2, 0.1, 0.35), "mg/g", "ammonia nitrogen not felt", "guess", "assumed"),
    _p("ammonia_avoid", (0.5, 0.36, 0.7), "mg/g", "ammonia nitrogen that starts to harm",
       "EDW04: limit 0.5", "read"),
    _p("ammonia_none", (1.0, 0.8, 1.5), "mg/g", "ammonia nitrogen at which growth stops",
       "recalled: below 1 mg/g", "memory"),
    _p("oxygen_full", (0.3, 0.15, 0.5), "1", "oxygen factor from which worms are at ease",
       "assumed", "assumed", transform="logit"),
    _p("prefer_zero_c", (-5, -8, 0), "degC", "preference: lower end", "assumed", "assumed",
       transform="linear"),
    _p("prefer_low_c", (15, 12, 20), "degC", "preference: full from",
       "EDW04: best 15-20", "read", transform="linear"),
    _p("prefer_high_c", (25, 22, 28), "degC", "preference: full up to",
       "recalled: prefer 20-25, leave above 28-30 degC", "memory", transform="linear"),
    _p("prefer_end_c", (35, 31, 37), "degC", "preference: upper end", "LOE85: death at 35",
       "derived", transform="linear"),
)  # fmt: skip

_MOVEMENT = (
    _p("spread_h", (8, 4, 20), "h", "time to spread over a zone's cells at 20 degC",
       "choice of halves takes a night (ISO 17512-1 practice)", "memory"),
    _p("food_pull", (8, 3, 20), "1", "how much more worms a well-fed cell draws", "assumed",
       "assumed"),
    _p("move_fast_d", (8, 4, 16), "d", "half-time of leaving an unfed zone at 20 degC",
       "common practice: one to two weeks", "common practice", learnt=True),
    _p("move_slow_d", (21, 10, 42), "d", "the same for worms that leave slowly", "assumed",
       "assumed", learnt=True),
    _p("slow_share", (0.15, 0.03, 0.35), "1", "share of worms that leave slowly",
       "common practice: a few worms stay behind", "common practice", transform="logit",
       learnt=True),
    _p("move_young", (0.3, 0.1, 0.7), "1", "pace of hatchlings against older worms", "assumed",
       "assumed", transform="logit"),
    _p("move_random", (0.005, 0.001, 0.02), "1", "moves against the pull of quality", "assumed",
       "assumed", transform="logit"),
    _p("move_contrast", (0.25, 0.12, 0.45), "1",
       "relative difference of appeal that moves all", "assumed", "assumed", transform="logit"),
    _p("tempt_food_g", (100, 40, 250), "g per 0.01 m2", "food at which a zone is half as tempting "
       "as can be", "assumed", "assumed"),
    _p("scent_share", (0.8, 0.5, 0.92), "1", "appeal of a zone that its neighbour smells of",
       "assumed", "assumed", transform="logit"),
    _p("hunger_share", (0.04, 0.015, 0.1), "1", "quality of a zone without food", "assumed",
       "assumed", transform="logit"),
    _p("flee_rate", (0.8, 0.3, 2), "1/d", "leaving a hostile zone",
       "recalled avoidance test: 80 % in 48 h", "memory"),
)  # fmt: skip

WORM_PARAMETERS: tuple[Parameter, ...] = (
    *_TEMPERATURE, *_GROWTH, *_LAYING, *_DEATH, *_COMFORT, *_MOVEMENT,
)  # fmt: skip
"""Every uncertain constant of the worm model, in one table."""
