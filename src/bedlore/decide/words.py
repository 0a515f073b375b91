"""Doubt in words: odds with the same denominator, ranges, amounts in the keeper's units.

Words and numbers stand together, since verbal odds alone are misread by tens of percent and
numbers alone by many readers. Never a promise: none of 200 failing still means up to 1 in 60.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, Literal

from bedlore import say
from bedlore.facts.feedstocks import load
from bedlore.farm.model import Container
from bedlore.say import Said, Units, listed, message

__all__ = ["REFERENCE", "Speech", "denominator_for", "listed", "never_seen", "odds_short",
           "odds_words", "range_words"]  # fmt: skip

REFERENCE = message("fortnights like this one")
# Upper end of each share and the word for it.
_WORDS = (
    (0.045, message("very unlikely")), (0.15, message("unlikely but real")),
    (0.35, message("less likely than not")), (0.65, message("about even odds")),
    (0.85, message("likely")), (0.955, message("very likely")),
    (1.01, message("nearly certain")),
)  # fmt: skip
_MIXED_KG_M3 = 500.0  # mixed kitchen scraps, facts/feedstocks.csv


def never_seen(members: int) -> int:
    """``n`` of "fewer than 1 in n" when none of ``members`` members failed.

    95 % upper bound ``1 - 0.05^(1/M)``, rounded down to tens. By hand: 200 members 1.49 %, so
    1 in 67, said as 60.
    """
    bound = 1.0 - 0.05 ** (1.0 / max(members, 1))
    n = int(1.0 / bound)
    return max(n - n % 10 if n >= 10 else n, 1)


def denominator_for(shares: Iterable[float]) -> Literal[10, 100]:
    """10, or 100 as soon as one of the odds shown together is rarer (or surer) than 1 in 20."""
    real = [share for share in shares if 0.0 < share < 1.0]
    return 100 if any(min(share, 1.0 - share) < 0.05 for share in real) else 10


def odds_words(p: float, members: int, reference: str = REFERENCE,
               denominator: Literal[10, 100] | None = None) -> Said:  # fmt: skip
    """The probability ``p`` (0..1) found in ``members`` members, in words and in numbers.

    ``reference`` names what is counted ("nights like this"), a message of the catalogue. By hand:
    0.1 of 200 gives "unlikely but real: about 1 in 10 fortnights like this one".
    """
    counted, n = say.say(reference), never_seen(members)
    if p <= 0.0:
        return say.say("very unlikely: fewer than 1 in {n} {counted}", n=n, counted=counted)
    if p >= 1.0:
        return say.say("nearly certain: all but 1 in {n} {counted} or fewer", n=n, counted=counted)
    word = say.say(next(word for limit, word in _WORDS if p < limit))
    base = denominator or denominator_for((p,))
    count = min(max(round(p * base), 1), base - 1)
    if base == 10 and p < 0.05:
        return say.say("{odds}: fewer than 1 in 10 {counted}", odds=word, counted=counted)
    return say.say("{odds}: about {count} in {base} {counted}", odds=word, count=count, base=base,
                   counted=counted)  # fmt: skip


def odds_short(p: float, members: int, denominator: Literal[10, 100] = 10) -> Said:
    """The odds as a bare count, such as "3 in 10", for use beside another."""
    if p <= 0.0:
        return say.say("fewer than 1 in {n}", n=never_seen(members))
    if p >= 1.0:
        return say.say("nearly all")
    count = round(p * denominator)
    if count == 0:
        return say.say("fewer than 1 in {n}", n=min(denominator, never_seen(members)))
    return say.say("{count} in {base}", count=min(count, denominator - 1), base=denominator)


def range_words(low: float, mid: float, high: float, unit: str) -> Said:
    """A range rounded to what it bears: "between 4 and 9 kg, most likely 6"."""
    step = _step(high - low)
    a, b, c = (_rounded(value, step) for value in (low, mid, high))
    amount = f"{b} {unit}".strip()
    if a == c:
        return say.say("about {amount}", amount=amount)
    return say.say("between {low} and {high}, most likely {middle}", low=a,
                   high=f"{c} {unit}".strip(), middle=b)  # fmt: skip


def _step(width: float) -> float:
    """Round to about a fifth of the width, in steps of 1, 2 or 5 down from it."""
    if width <= 0.0:
        return 0.1
    rough = width / 5.0
    power = 10.0 ** math.floor(math.log10(rough))
    return next(k * power for k in (5.0, 2.0, 1.0) if k * power <= rough * 1.0001)


def _rounded(value: float, step: float) -> str:
    places = max(0, -math.floor(math.log10(step) + 1e-9)) if step < 1.0 else 0
    text = f"{round(value / step) * step:.{places}f}"
    return text.replace("-0", "0", 1) if float(text) == 0.0 else text


@dataclass(frozen=True)
class Speech:
    """Says amounts in the keeper's units and containers."""

    units: Units = "metric"
    containers: tuple[Container, ...] = ()

    def temp(self, temp_c: float) -> Said:
        """A temperature to the degree, since no more is known of a bed."""
        return self._said(say.temp, temp_c)

    def setting(self, temp_c: float) -> Said:
        """What a thermostat is set to."""
        return self._said(say.setting, temp_c)

    def temps(self, band: tuple[float, float, float]) -> Said:
        """A range of temperatures."""
        return self._said(say.temps, band)

    def kelvin(self, difference_k: float) -> Said:
        """A difference of temperature to half a degree."""
        return self._said(say.kelvin, difference_k)

    def mass(self, mass_kg: float) -> Said:
        """A mass, two figures at most."""
        return self._said(say.mass, mass_kg)

    def litres(self, volume_l: float) -> Said:
        """A volume."""
        return self._said(say.litres, volume_l)

    def thickness(self, thickness_m: float) -> Said:
        """A thickness of a cover or a board."""
        return self._said(say.thickness, thickness_m)

    def _said(self, amount: Callable[[Any], Said], value: Any) -> Said:
        with say.speaking(units=self.units):
            return amount(value)

    def amount(self, material: str, mass_kg: float) -> Said:
        """A mass with the keeper's own container: "1.1 kg (about a quarter of a blue bucket)"."""
        filled, mass = self.in_containers(material, mass_kg), self.mass(mass_kg)
        return say.say("{mass} ({filled})", mass=mass, filled=filled) if filled else mass

    def in_containers(self, material: str, mass_kg: float) -> Said | Literal[""]:
        """ "about half a blue bucket", or "" when no container of the farm suits."""
        known = load().get(material)
        density = known.bulk_density_kg_m3 if known else 1000.0 if material == "water" else (
            _MIXED_KG_M3
        )
        best: tuple[float, Container, float] | None = None
        for container in self.containers:
            full_kg = container.mass_kg or (container.volume_l or 0.0) * density / 1000.0
            count = mass_kg / full_kg if full_kg > 0.0 else 0.0
            if not 0.2 <= count <= 6.0:
                continue
            awkward = abs(math.log(count)) + abs(count - round(count * 2) / 2)
            if best is None or awkward < best[0]:
                best = (awkward, container, count)
        if best is None:
            return ""
        _, container, count = best
        quarters = max(1, math.floor(count * 4.0 + 0.25))
        return _fillings(quarters, container.name or container.id)


_PARTS = {
    1: message("about a quarter of a {container}"), 2: message("about half a {container}"),
    3: message("about three quarters of a {container}"), 4: message("about one {container}"),
}  # fmt: skip
_MORE = {
    0: message("about {whole} {container}s"),
    1: message("about {whole} and a quarter {container}s"),
    2: message("about {whole} and a half {container}s"),
    3: message("about {whole} and three quarters {container}s"),
}  # fmt: skip


def _fillings(quarters: int, container: str) -> Said:
    """Quarters of a filling, as they are said."""
    if quarters <= 4:
        return say.say(_PARTS[quarters], container=container)
    whole, rest = divmod(quarters, 4)
    return say.say(_MORE[rest], whole=whole, container=container)
