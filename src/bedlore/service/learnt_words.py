"""What was learnt of a bed in a keeper's words: what differs from what was thought, and how."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import pairwise

from bedlore.decide.words import odds_words
from bedlore.facts.parameters import BY_NAME
from bedlore.facts.practice import HANDFUL_L
from bedlore.farm.bed import Bed
from bedlore.farm.log import AnyEntry, Feed
from bedlore.learn.herd import SIX, Herd, Worth
from bedlore.learn.plain import PLAIN
from bedlore.learn.record import Learnt
from bedlore.say import (
    capital,
    joined,
    litres,
    mass,
    message,
    on_day,
    say,
    say_many,
    sentences,
    temp,
)
from bedlore.say.amounts import number_words
from bedlore.service.belief import Rests
from bedlore.service.shown import Shown, figures

_UNITS = {
    "-": "", "1": "", "1/d": message("a day"), "d": message("days"),
    "1/adult/d": message("an adult and day"), "g/d at 1 g": message("g a day for a worm of 1 g"),
    "K d": message("degree-days"),
}  # fmt: skip
_READ = {
    "air": message("the low and high of the air"), "squeeze": message("a squeeze"),
    "look": message("a look at the food"), "core": message("a count of worms"),
    "dig": message("a dig for worms"), "harvest": message("a harvest"),
    "depth": message("a depth of bedding"), "moisture": message("a sample weighed and dried"),
}  # fmt: skip
_READ_ELSE = message("a reading")
_BEDS = message("beds like this one")  # what odds of a herd are counted in
_LOST_TOLD = 0.05  # odds of a lost herd that are worth a sentence
LONG_UNFED = dt.timedelta(days=28)  # by the log, from which it may be the log (assumed)
_STOPS = 3  # points of the line that are told
_MOST_HANDFULS = 150  # more than anybody counts (assumed)
_AS_THOUGHT_SD = 0.35  # a middle this near the old one (in spreads of before) is "as thought"


def parameter_words(name: str, band: tuple[float, float, float], z_mean: float) -> str:
    """``Soft food rots more slowly than thought: 0.047 a day (0.036 to 0.057; thought 0.1).``

    ``band`` is its 5, 50 and 95 % point now; ``z_mean`` how far it has moved, in spreads of
    before.
    """
    subject, how = _plain(name, z_mean)
    values = _values(name, band)
    if not how:
        return say("{subject} as thought: {values}.", subject=subject, values=values)
    return say("{subject} {how} than thought: {values}.", subject=subject, how=how,
               values=values)  # fmt: skip


def parameter_title(name: str, z_mean: float) -> str:
    """``Soft food rots more slowly``, with ``z_mean`` as in :func:`parameter_words`."""
    subject, how = _plain(name, z_mean)
    if not how:
        return say("{subject} as thought", subject=subject)
    return say("{subject} {how}", subject=subject, how=how)


def _plain(name: str, z_mean: float) -> tuple[str, str]:
    """What a parameter is about, and how that goes; "" where it goes as thought."""
    subject, small, large = PLAIN[name]
    how = "" if abs(z_mean) < _AS_THOUGHT_SD else say(small if z_mean < 0 else large)
    return capital(say(subject)), how


def band_words(name: str, band: tuple[float, float, float], shown: Shown) -> str:
    """``0.047 a day (0.036 to 0.057)``: most likely, and the range that holds 9 of 10 cases.

    What has no unit that a keeper knows is told as a multiple of what was thought.
    """
    parameter = BY_NAME[name]
    if parameter.unit == "K":
        low, middle, high = (shown.difference(value) for value in band)
    elif parameter.unit in _UNITS:
        low, middle, high = figures(band[0]), _middle(name, band[1]), figures(band[2])
    else:
        low, middle, high = (figures(value / parameter.default) for value in band)
        middle = say("times {number}", number=middle)
    return say("{middle} ({low} to {high})", middle=middle, low=low, high=high)


def _middle(name: str, value: float) -> str:
    """A parameter's value with its unit."""
    parameter = BY_NAME[name]
    unit = _UNITS.get(parameter.unit, parameter.unit)
    if parameter.unit == "-":
        return say("times {number}", number=figures(value))
    return say("{number} {unit}", number=figures(value), unit=say(unit)) if unit else figures(value)


def _values(name: str, band: tuple[float, float, float]) -> str:
    low, _, high = (figures(value) for value in band)
    return say("{middle} ({low} to {high}; thought {thought})", middle=_middle(name, band[1]),
               low=low, high=high, thought=figures(BY_NAME[name].default))  # fmt: skip


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
    read = len(set(learnt.read))
    if read == 0:
        return (say("Without a reading the bed is as usual for its kind, and the ranges are"
                    " wide."),)  # fmt: skip
    said: list[str] = []
    if read < 5:
        said.append(say_many(
            "One reading tells little: most of it is still what is usual for such beds.",
            "{count} readings tell little: most of it is still what is usual for such beds.",
            read,
        ))  # fmt: skip
    hours = sorted({fit.hour for fit in learnt.fits})
    gap_d = max((b - a for a, b in pairwise(hours)), default=0) / 24.0
    if gap_d > 60:
        said.append(say("For {days} days nothing was read: what happened then is guessed.",
                        days=round(gap_d)))  # fmt: skip
    since_d = (learnt.at - until) / dt.timedelta(days=1)
    if since_d > 60:
        said.append(say("The last reading is {days} days old: the bed may be elsewhere now.",
                        days=round(since_d)))  # fmt: skip
    return tuple(said)


def unfed_words(bed: Bed, entries: Sequence[AnyEntry], start: dt.datetime,
                now: dt.datetime) -> tuple[str, ...]:  # fmt: skip
    """How long nothing was fed by the log: not every keeper writes each feed down."""
    fed = sorted(e.at for e in entries if isinstance(e, Feed) and e.bed == bed.id and e.at <= now)
    longest = max(b - a for a, b in pairwise([min([start, *fed]), *fed, now]))
    if longest < LONG_UNFED:
        return ()
    return (say("For {days} days no feed is in the log. If it was fed all the same, more worms live"
                " than this: write feeds down, late ones too.", days=longest.days),)  # fmt: skip


def read_words(entry: AnyEntry, day: dt.date) -> str:
    """``a thermometer reading of 8 °C on 12 Feb``: an entry of the log that was read."""
    temp_c = getattr(entry, "temp_c", None)
    if temp_c is not None:
        return say("a thermometer reading of {temp} on {day}", temp=temp(temp_c), day=on_day(day))
    what = say(_READ.get(entry.kind, _READ_ELSE))
    return say("{reading} on {day}", reading=what, day=on_day(day))


def herd_words(herd: Herd) -> str:
    """``About 2,700 worms, 0.3 kg; 9 times in 10 between 460 and 9,500.``"""
    if herd.lost:
        return _lost_words(herd)
    worms = herd.worms
    many = say("About {worms} worms, {mass}; 9 times in 10 between {low} and {high}.",
               worms=number_words(worms.middle), mass=mass(herd.mass_kg.middle),
               low=number_words(worms.low), high=number_words(worms.high))  # fmt: skip
    if herd.lost_share < _LOST_TOLD:
        return many
    return sentences(many, say("That no worms are left, or next to none, is {odds}.",
                               odds=odds_words(herd.lost_share, herd.members, _BEDS)))  # fmt: skip


def _lost_words(herd: Herd) -> str:
    """That the herd has died out, as far as the log shows."""
    gone = say("By the log no worms are left, or next to none: {odds}.",
               odds=odds_words(herd.lost_share, herd.members, _BEDS))  # fmt: skip
    cocoons = herd.number["cocoons"].middle
    if cocoons < 1.0:
        return gone
    return sentences(gone, say_many(
        "One cocoon may still hatch.", "About {cocoons} cocoons may still hatch.", round(cocoons),
        cocoons=number_words(cocoons),
    ))  # fmt: skip


def counting_words(worth: Worth | None, zone: str) -> str:
    """What counting would add: how far six handfuls get, how many nearly halve the range, and
    how many it takes by counts alone; that a look is worth most where no worms are left."""
    if worth is None:
        return sentences(
            say("Look before anything else: lift a few handfuls from the dampest places and from"
                " under the food, and count what you find."),
            say("Write the counts down, also when there is none: they tell more than any"
                " reckoning."),
        )  # fmt: skip
    alone = (
        say_many("By counts alone +-20 % takes one handful.",
                 "By counts alone +-20 % takes {count} handfuls.", worth.dozens)
        if worth.dozens <= _MOST_HANDFULS
        else say("Counts alone will not make it +-20 %: too few worms lie in a handful.")
    )
    return sentences(
        say("The number of worms is known {now} (9 in 10).", now=_times(worth.now)),
        _six_words(worth, zone), alone, _stop_words(worth),
        say("Lift each handful whole and at once: disturbed worms dive within minutes."),
    )  # fmt: skip


def _six_words(worth: Worth, zone: str) -> str:
    """How far six handfuls get, and how many nearly halve the range."""
    after, each = _times(worth.after[SIX]), litres(HANDFUL_L)
    halved = next((n for n, width in worth.after.items() if width <= 0.6 * worth.now), SIX)
    if halved == SIX:
        return say("Six handfuls ({each} each) from {zone} would make it {after}.", zone=zone,
                   after=after, each=each)  # fmt: skip
    return say("Six handfuls ({each} each) from {zone} would make it {after}; {halved} would"
               " nearly halve the range.", zone=zone, after=after, halved=halved,
               each=each)  # fmt: skip


def _stop_words(worth: Worth) -> str:
    """When to stop counting, which is sooner the more worms are found."""
    pairs = [say_many("{count} worm in {handfuls} handfuls", "{count} worms in {handfuls} handfuls",
                      found, handfuls=handfuls)
             for handfuls, found in list(worth.stop.items())[:_STOPS]]  # fmt: skip
    if not pairs:
        return ""
    return say("Counting is good to about half either way, and can stop, at {pairs}.",
               pairs=joined(pairs, ", "))  # fmt: skip


def _times(half_width: float) -> str:
    """A half-width as a share; wide ones as a factor, since less than nothing cannot be."""
    if half_width <= 0.5:
        return say("to +-{percent}%", percent=round(100 * half_width))
    return say("to a factor of {factor} either way",
               factor=figures(half_width + (1 + half_width**2) ** 0.5))  # fmt: skip
