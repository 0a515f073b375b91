"""Amounts as keepers say them: "2 lb", "about half a bucket", "a handful", "some".

Each becomes a mass with its relative error (standard deviation of the logarithm), put together
from how loosely it was said, how a container is filled, and how far the bulk density of the
material varies. The errors add as squares.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from bedlore.errors import KeeperError
from bedlore.facts import feedstocks
from bedlore.facts.practice import HANDFUL_L
from bedlore.farm.fields import is_slug, slug_of
from bedlore.farm.log import SCALE_ERROR_FRAC
from bedlore.farm.model import Container, Farm
from bedlore.say import say
from bedlore.units import parse_quantity

# Litres of one filling and the spread of a filling (sd of the logarithm). All are common
# practice, no source; a farm's own containers go before them.
MEASURES: dict[str, tuple[float, float]] = {
    "handful": (HANDFUL_L, 0.4), "double handful": (0.7, 0.4),
    "cup": (0.24, 0.2), "mug": (0.3, 0.25),
    "scoop": (0.5, 0.4), "bowl": (1.5, 0.4), "jug": (1.5, 0.35), "jar": (1.0, 0.35),
    "pot": (1.5, 0.5), "caddy": (5.0, 0.3), "bucket": (10.0, 0.3), "pail": (10.0, 0.3),
    "watering can": (8.0, 0.3), "can": (8.0, 0.4), "shovel": (4.0, 0.4), "spade": (3.0, 0.4),
    "forkful": (6.0, 0.5), "fork": (6.0, 0.5), "crate": (30.0, 0.4), "bag": (20.0, 0.6),
    "sack": (40.0, 0.5), "armful": (15.0, 0.5), "barrow": (80.0, 0.3), "wheelbarrow": (80.0, 0.3),
}
# Kilograms and spread of amounts with no measure at all; assumed.
VAGUE: dict[str, tuple[float, float]] = {
    "a little": (0.3, 0.7), "little": (0.3, 0.7), "a bit": (0.3, 0.7), "some": (1.0, 0.8),
    "a lot": (3.0, 0.8), "lots": (3.0, 0.8), "plenty": (3.0, 0.8),
}
# Number words, and how loosely each is meant (sd of the logarithm).
COUNTS: dict[str, tuple[float, float]] = {
    "a": (1, 0.0), "an": (1, 0.0), "one": (1, 0.0), "two": (2, 0.0), "three": (3, 0.0),
    "four": (4, 0.0), "five": (5, 0.0), "six": (6, 0.0), "seven": (7, 0.0), "eight": (8, 0.0),
    "nine": (9, 0.0), "ten": (10, 0.0), "half": (0.5, 0.1), "half a": (0.5, 0.1),
    "a half": (0.5, 0.1), "half an": (0.5, 0.1), "a quarter": (0.25, 0.15),
    "quarter": (0.25, 0.15), "a quarter of a": (0.25, 0.15), "a third": (0.33, 0.15),
    "a third of a": (0.33, 0.15), "two thirds": (0.67, 0.1), "two thirds of a": (0.67, 0.1),
    "three quarters": (0.75, 0.1), "three quarters of a": (0.75, 0.1),
    "one and a half": (1.5, 0.1), "a couple": (2, 0.2), "a few": (3, 0.35), "few": (3, 0.35),
    "several": (4, 0.4), "many": (8, 0.5),
}
ABOUT_ERROR_FRAC = 0.25  # "about", "roughly"; assumed
VOLUME_ERROR_FRAC = 0.1  # a volume read off a mark; assumed
DENSITY_ERROR_FRAC = 0.3  # bulk density with no known range; assumed
_WIDTH_90 = 2 * 1.645  # a range low-high is read as 90 % of a normal in the logarithm

_ABOUT = re.compile(r"^(?:about|approx\.?|approximately|roughly|around|maybe|perhaps|ca\.?|~|≈)\s*",
                    re.IGNORECASE)
_FRACTIONS = {"½": "0.5", "¼": "0.25", "¾": "0.75", "⅓": "0.333", "⅔": "0.667"}
_NUMBER_FIRST = re.compile(r"^(\d+(?:[.,]\d+)?)(?:\s*/\s*(\d+))?\s*(?:x\s+)?(.*)$", re.DOTALL)


@dataclass(frozen=True)
class Amount:
    """A mass [kg], its relative error (sd of the logarithm), and how it was measured."""

    mass_kg: float
    mass_error_frac: float
    container: str | None = None
    count: float | None = None


@dataclass(frozen=True)
class Filling:
    """What one filling of a container weighs [kg], as ``weighings`` of it have shown;
    ``error_frac`` is the spread of the next one (sd of the logarithm)."""

    mass_kg: float
    error_frac: float
    weighings: int


class Fillings(Protocol):
    """What the keeper's own weighings say of containers."""

    def of(self, container: Container, material: str | None) -> Filling | None:
        """A filling with the feedstock id ``material``; None when it was never weighed."""
        ...


def weigh(text: str, material: str | None, farm: Farm | None,
          fillings: Fillings | None = None) -> Amount:  # fmt: skip
    """The amount that ``text`` says of the feedstock id ``material`` (None: water).

    Containers are looked up in ``farm``, then in :data:`MEASURES`. Raises
    :class:`KeeperError` with a sentence when nothing in it is understood.
    """
    words = " ".join(text.split())
    loose, plain = _without_about(words)
    vague = VAGUE.get(plain.lower())
    if vague is not None:
        return Amount(vague[0], vague[1])
    if re.fullmatch(r"[\d.,\s]+", plain):
        raise KeeperError(say("{plain} has no unit.", plain=repr(plain[:40])),
                          fix=say('Write it like "2 kg" or "9 L".'))  # fmt: skip
    mass = _quietly(lambda: parse_quantity(plain, "mass"))
    if mass is not None:
        return _widened(Amount(mass, SCALE_ERROR_FRAC), loose)
    volume = _quietly(lambda: parse_quantity(plain, "volume"))
    if volume is not None:
        return _widened(_by_volume(volume, VOLUME_ERROR_FRAC, material, None, None), loose)
    return _widened(_as_containers(plain, material, farm, fillings), loose)


def fill(container: str, count: float, material: str | None, farm: Farm | None,
         fillings: Fillings | None = None) -> Amount:  # fmt: skip
    """``count`` fillings of ``container`` with the feedstock id ``material`` (None: water), by the
    keeper's own weighings where there are any."""
    own = _own_container(container, farm)
    if own is not None:
        learnt = fillings.of(own, material) if fillings is not None else None
        if learnt is not None:
            return Amount(count * learnt.mass_kg, learnt.error_frac, own.id, count)
        if own.mass_kg is not None:
            return Amount(count * own.mass_kg, own.fill_error_frac, own.id, count)
        return _by_volume((own.volume_l or 0.0) / 1000.0, own.fill_error_frac, material, own.id,
                          count)
    name = _singular(container.strip().lower())
    if name not in MEASURES:
        known = [c.name or c.id for c in farm.containers] if farm is not None else []
        have = ", ".join([*known[:8], "bucket", "handful"])
        raise KeeperError(
            say("{container} is not a container that is known.",
                container=repr(container[:40])),
            fix=say("Add it to the farm file, or use one of: {have}.", have=have),
        )
    volume_l, error = MEASURES[name]
    return _by_volume(volume_l / 1000.0, error, material, slug_of(name), count)


def container_id(name: str, farm: Farm | None) -> str:
    """The id that ``name`` of a container is kept under: the farm's own, or one made of it."""
    own = farm.container(name) if farm is not None else None
    if own is not None:
        return own.id
    return name if is_slug(name) else slug_of(_singular(name.strip().lower()))


def read_count(text: str) -> tuple[float, float]:
    """The number ``text`` says and how loosely: ``read_count("about half")`` is (0.5, 0.27)."""
    loose, plain = _without_about(" ".join(text.split()))
    word = COUNTS.get(plain.lower())
    if word is not None:
        return word[0], math.hypot(word[1], loose)
    number, rest = (float(plain), "") if _is_number(plain) else _leading_number(plain)
    if number is None or rest or not math.isfinite(number):
        raise KeeperError(say("{text} is not understood as a number.", text=repr(text[:40])),
                          fix=say('Write it like 2, 0.5 or "half".'))
    return number, loose


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _without_about(words: str) -> tuple[float, str]:
    plain = _ABOUT.sub("", words)
    return (ABOUT_ERROR_FRAC if plain != words else 0.0), plain


def _widened(amount: Amount, loose: float) -> Amount:
    error = math.hypot(amount.mass_error_frac, loose)
    return Amount(amount.mass_kg, error, amount.container, amount.count)


def _quietly(read: Callable[[], float]) -> float | None:
    try:
        return read()
    except (KeeperError, OverflowError):
        return None


def _as_containers(words: str, material: str | None, farm: Farm | None,
                   fillings: Fillings | None) -> Amount:  # fmt: skip
    number, rest = _leading_number(words)
    loose = 0.0
    if number is None:
        number, loose, rest = _leading_count_word(words)
    rest = re.sub(r"^of\s+(?:an?\s+)?|\s+of\b.*$|\s+full$|ful$(?<!handful)(?<!forkful)(?<!armful)",
                  "", rest.strip())
    if not rest:
        raise KeeperError(say("{words} names no measure.", words=repr(words[:40])),
                          fix=say('Write it like "2 kg", "half a bucket" or "some".'))
    return _widened(fill(rest, number, material, farm, fillings), loose)


def _leading_number(words: str) -> tuple[float | None, str]:
    for sign, digits in _FRACTIONS.items():
        words = words.replace(sign, digits)
    match = _NUMBER_FIRST.match(words)
    if match is None:
        return None, words
    number = float(match.group(1).replace(",", "."))
    if match.group(2):
        number = number / float(match.group(2)) if float(match.group(2)) else math.inf
    if not math.isfinite(number):
        raise KeeperError(say("{words} is not a number.", words=repr(words[:40])))
    return number, match.group(3).strip()


def _leading_count_word(words: str) -> tuple[float, float, str]:
    lower = words.lower()
    for phrase in sorted(COUNTS, key=len, reverse=True):
        if lower.startswith(phrase + " "):
            number, loose = COUNTS[phrase]
            return number, loose, words[len(phrase) + 1:]
    return 1.0, 0.0, words


def _own_container(name: str, farm: Farm | None) -> Container | None:
    if farm is None:
        return None
    for candidate in (name, _singular(name)):
        found = farm.container(candidate)
        if found is not None:
            return found
    wanted = " " + _singular(name.strip().lower())
    ending = [c for c in farm.containers if c.name.lower().endswith(wanted)]
    return ending[0] if len(ending) == 1 else None


def _singular(name: str) -> str:
    return name[:-1] if name.endswith("s") and not name.endswith("ss") else name


def _by_volume(
    volume_m3: float, fill_error: float, material: str | None, container: str | None,
    count: float | None,
) -> Amount:
    density, density_error = bulk_density(material)
    mass = volume_m3 * density * (1.0 if count is None else count)
    return Amount(mass, math.hypot(fill_error, density_error), container, count)


def bulk_density(material: str | None) -> tuple[float, float]:
    """Bulk density [kg/m3] of a feedstock (None: water) and its relative error."""
    if material is None:
        return 1000.0, 0.0
    stock = feedstocks.load()[material]
    span = stock.bulk_density_span
    if span.low and span.high and span.high > span.low:
        return stock.bulk_density_kg_m3, math.log(span.high / span.low) / _WIDTH_90
    return stock.bulk_density_kg_m3, DENSITY_ERROR_FRAC
