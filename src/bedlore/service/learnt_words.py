"""What was learnt of a bed in a keeper's words: what differs from what was thought, and how."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise

from bedlore.facts.parameters import BY_NAME
from bedlore.learn.herd import Herd, Worth
from bedlore.learn.record import Learnt
from bedlore.say import on_day, say, say_many, sentences
from bedlore.service.belief import Rests
from bedlore.service.shown import figures

# Of each parameter that a log can tell of: what it is about, then how that goes when the
# parameter is small and when it is large.
_PLAIN: dict[str, tuple[str, str, str]] = {
    "fast_rate_per_day": ("soft food rots", "more slowly", "faster"),
    "medium_rate_per_day": ("firm food and manure rot", "more slowly", "faster"),
    "conductivity_scale": ("heat passes through the bedding", "less easily", "more easily"),
    "wall_r_scale": ("walls, floor and lid keep heat in", "worse", "better"),
    "evaporation_h_w_m2k": ("the bed dries", "more slowly", "faster"),
    "water_held_scale": ("the bedding holds", "less water", "more water"),
    "worm_growth_rate": ("young worms grow", "more slowly", "faster"),
    "worm_half_food_g": ("worms eat their fill", "from thinner food", "only from thicker food"),
    "worm_crowd_kg_m2": ("worms bear crowding", "worse", "better"),
    "worm_intake_rate": ("worms eat", "less", "more"),
    "worm_lay_rate": ("worms lay", "fewer cocoons", "more cocoons"),
    "worm_incubation_kd": ("cocoons hatch", "sooner", "later"),
    "worm_chill_rate": ("near frost", "fewer worms die", "more worms die"),
    "worm_move_fast_d": ("worms leave an unfed part", "sooner", "later"),
    "worm_move_slow_d": ("the last worms leave an unfed part", "sooner", "later"),
    "worm_slow_share": ("of the worms in an unfed part", "fewer linger", "more linger"),
    "building_tau_scale": ("the building follows the weather", "faster", "more slowly"),
    "building_offset_shift_k": ("the building is", "colder", "warmer"),
    "feed_mass_scale": ("your measures hold", "less", "more"),
    "feed_dry_scale": ("your scraps are", "wetter", "drier"),
    "herd_scale": ("the herd began", "smaller", "larger"),
}  # fmt: skip
_UNITS = {"-": "", "1": "", "1/d": "a day", "d": "days", "1/adult/d": "an adult and day",
          "g/d at 1 g": "g a day for a worm of 1 g", "K d": "degree-days"}  # fmt: skip
_AS_THOUGHT_SD = 0.35  # a middle this near the old one (in spreads of before) is "as thought"


def parameter_words(name: str, band: tuple[float, float, float], z_mean: float) -> str:
    """``Soft food rots more slowly than thought: 0.047 a day (0.036 to 0.057; thought 0.1).``

    ``band`` is its 5, 50 and 95 % point now; ``z_mean`` how far it has moved, in spreads of
    before.
    """
    subject, small, large = _PLAIN.get(name, (BY_NAME[name].meaning, "less", "more"))
    how = "as thought" if abs(z_mean) < _AS_THOUGHT_SD else (
        f"{small if z_mean < 0 else large} than thought"
    )
    return f"{subject[0].upper()}{subject[1:]} {how}: {_values(name, band)}."


def _values(name: str, band: tuple[float, float, float]) -> str:
    parameter = BY_NAME[name]
    unit = _UNITS.get(parameter.unit, parameter.unit)
    low, middle, high = (figures(value) for value in band)
    middle = f"times {middle}" if parameter.unit == "-" else f"{middle} {unit}".strip()
    return f"{middle} ({low} to {high}; thought {figures(parameter.default)})"


def basis_words(readings: int, until: dt.date | None) -> str:
    """``Learnt from 41 readings up to 12 Feb.``; ``until`` is the day of the last one."""
    if readings == 0 or until is None:
        return say("Not learnt yet: there is no reading to learn from.")
    return say_many(
        "Learnt from {count} reading up to {day}.", "Learnt from {count} readings up to {day}.",
        readings, day=on_day(until),
    )  # fmt: skip


def rests_words(rests: Rests, zone: dt.tzinfo) -> str:
    """What a bed's figures rest on, in a sentence or two."""
    said = {
        "not_learnt": say("Not learnt yet: what is usual for such beds stands in."),
        "rebuilt": say("The bed was rebuilt since it was learnt: what is usual for such beds stands"
                       " in."),
        "learnt": basis_words(rests.readings, rests.until and rests.until.astimezone(zone).date()),
    }[rests.standing]  # fmt: skip
    more = []
    if not rests.whole:
        more.append(say("The log or the weather behind it has changed, or it is weeks old."))
    if abs(rests.spread - 1.0) > 0.1:
        wider = say("wider") if rests.spread > 1.0 else say("narrower")
        more.append(say("Ranges are drawn {wider} than the model's own, as past outlooks call for.",
                        wider=wider))  # fmt: skip
    return sentences(said, *more)


def few_words(learnt: Learnt, until: dt.datetime) -> tuple[str, ...]:
    """Remarks on a log that tells little: hardly a reading, or none for long; ``until`` is the
    time of the last reading."""
    count = len(set(learnt.read))
    if count == 0:
        return ("Without a reading the bed is as usual for its kind, and the ranges are wide.",)
    said = []
    if count < 5:
        said.append(
            f"{'One reading tells' if count == 1 else f'{count} readings tell'} little: most of"
            " it is still what is usual for such beds."
        )
    hours = sorted({fit.hour for fit in learnt.fits})
    gap_d = max((b - a for a, b in pairwise(hours)), default=0) / 24.0
    if gap_d > 60:
        said.append(f"For {gap_d:.0f} days nothing was read: what happened then is guessed.")
    since_d = (learnt.at - until) / dt.timedelta(days=1)
    if since_d > 60:
        said.append(f"The last reading is {since_d:.0f} days old: the bed may be elsewhere now.")
    return tuple(said)


def herd_words(herd: Herd) -> str:
    """``About 2,700 worms, 0.27 kg: 9 times in 10 between 460 and 9,500.``"""
    worms, mass = herd.worms, herd.mass_kg
    return (
        f"About {number_words(worms.middle)} worms, {figures(mass.middle)} kg; 9 times in 10"
        f" between {number_words(worms.low)} and {number_words(worms.high)}."
    )


def counting_words(worth: Worth, zone: str) -> str:
    """What counting would add: how far six handfuls get, how many nearly halve the range, and
    how many it takes by counts alone."""
    said = [f"Six handfuls from {zone} would make it {_times(worth.after[6])}"]
    halved = next((n for n, width in worth.after.items() if width <= 0.6 * worth.now), None)
    if halved is not None and halved != 6:
        said[0] += f"; {halved} would nearly halve the range"
    said[0] += "."
    said.append(f"By counts alone +-20 % takes {worth.dozens} handfuls.")
    said.append("Lift each handful whole and at once: disturbed worms dive within minutes.")
    return f"The number of worms is known {_times(worth.now)} (9 in 10). " + " ".join(said)


def number_words(value: float) -> str:
    """Two figures of a count, thousands apart: 2,700."""
    return f"{round(value)}" if value < 100 else f"{round(value, 2 - len(str(int(value)))):,.0f}"


def _times(half_width: float) -> str:
    """A half-width as a share; wide ones as a factor, since less than nothing cannot be."""
    if half_width <= 0.5:
        return f"to +-{half_width:.0%}"
    return f"to a factor of {figures(half_width + (1 + half_width**2) ** 0.5)} either way"
