"""Doubt in words: odds with the same denominator, ranges, amounts in the keeper's units.

Words and numbers stand together, since verbal odds alone are misread by tens of percent and
numbers alone by many readers. Never a promise: none of 200 failing still means up to 1 in 60.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from bedlore.facts.feedstocks import load
from bedlore.farm.model import Container
from bedlore.units import INCH_M, POUND_KG

REFERENCE = "fortnights like this one"
# Upper end of each share and the word for it.
_WORDS = (
    (0.045, "very unlikely"), (0.15, "unlikely but real"), (0.35, "less likely than not"),
    (0.65, "about even odds"), (0.85, "likely"), (0.955, "very likely"), (1.01, "nearly certain"),
)  # fmt: skip
_US_QUART_L = 0.946352946  # a quarter of 3.785411784 L (exact)
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
               denominator: Literal[10, 100] | None = None) -> str:  # fmt: skip
    """The probability ``p`` (0..1) found in ``members`` members, in words and in numbers.

    ``reference`` names what is counted ("nights like this"). By hand: 0.1 of 200 gives
    "unlikely but real: about 1 in 10 fortnights like this one".
    """
    if p <= 0.0:
        return f"very unlikely: fewer than 1 in {never_seen(members)} {reference}"
    if p >= 1.0:
        return f"nearly certain: all but 1 in {never_seen(members)} {reference} or fewer"
    word = next(word for limit, word in _WORDS if p < limit)
    base = denominator or denominator_for((p,))
    count = min(max(round(p * base), 1), base - 1)
    if base == 10 and p < 0.05:
        return f"{word}: fewer than 1 in 10 {reference}"
    return f"{word}: about {count} in {base} {reference}"


def odds_short(p: float, members: int, denominator: Literal[10, 100] = 10) -> str:
    """The odds as a bare count, such as "3 in 10", for use beside another."""
    if p <= 0.0:
        return f"fewer than 1 in {never_seen(members)}"
    if p >= 1.0:
        return "nearly all"
    count = round(p * denominator)
    if count == 0:
        return f"fewer than 1 in {min(denominator, never_seen(members))}"
    return f"{min(count, denominator - 1)} in {denominator}"


def range_words(low: float, mid: float, high: float, unit: str) -> str:
    """A range rounded to what it bears: "between 4 and 9 kg, most likely 6"."""
    step = _step(high - low)
    a, b, c = (_rounded(value, step) for value in (low, mid, high))
    unit = f" {unit}" if unit else ""
    if a == c:
        return f"about {b}{unit}"
    return f"between {a} and {c}{unit}, most likely {b}"


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


def listed(words: Sequence[str]) -> str:
    """ "a, b and c"."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


@dataclass(frozen=True)
class Speech:
    """Says amounts in the keeper's units and containers."""

    units: Literal["metric", "us"] = "metric"
    containers: tuple[Container, ...] = ()

    def temp(self, temp_c: float) -> str:
        """A temperature to the degree, since no more is known of a bed."""
        if self.units == "us":
            return f"{round(temp_c * 1.8 + 32.0)} degF"
        return f"{round(temp_c) + 0} degC"

    def temps(self, band: tuple[float, float, float]) -> str:
        """A range of temperatures."""
        low, mid, high = (round(t * 1.8 + 32.0 if self.units == "us" else t) + 0 for t in band)
        unit = "degF" if self.units == "us" else "degC"
        if low == high:
            return f"about {mid} {unit}"
        return f"between {low} and {high} {unit}, most likely {mid}"

    def kelvin(self, difference_k: float) -> str:
        """A difference of temperature to half a degree."""
        value, unit = (
            (difference_k * 1.8, "degF") if self.units == "us" else (difference_k, "K")
        )
        half = round(abs(value) * 2.0) / 2.0
        return f"less than half a degree ({unit})" if half < 0.5 else f"{half:g} {unit}"

    def mass(self, mass_kg: float) -> str:
        """A mass, two figures at most."""
        if self.units == "us":
            pounds = mass_kg / POUND_KG
            return f"{16.0 * pounds:.0f} oz" if pounds < 0.95 else f"{pounds:.2g} lb"
        if mass_kg < 0.095:
            return f"{round(mass_kg * 1000.0, -1):.0f} g"
        return f"{mass_kg:.1f} kg" if mass_kg < 9.95 else f"{mass_kg:.0f} kg"

    def litres(self, volume_l: float) -> str:
        """A volume."""
        if self.units == "us":
            return f"{volume_l / _US_QUART_L:.2g} qt"
        return f"{volume_l:.2g} L"

    def thickness(self, thickness_m: float) -> str:
        """A thickness of a cover or a board."""
        if self.units == "us":
            return f"{thickness_m / INCH_M:.2g} in"
        return f"{thickness_m * 100.0:.2g} cm"

    def amount(self, material: str, mass_kg: float) -> str:
        """A mass with the keeper's own container: "1.1 kg (about a quarter of a blue bucket)"."""
        filled = self.in_containers(material, mass_kg)
        return f"{self.mass(mass_kg)} ({filled})" if filled else self.mass(mass_kg)

    def in_containers(self, material: str, mass_kg: float) -> str:
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
        plural = "s" if quarters > 4 else ""
        return f"about {_fillings(quarters)} {container.name or container.id}{plural}"


def _fillings(quarters: int) -> str:
    """Quarters of a filling, as they are said."""
    whole, rest = divmod(quarters, 4)
    part = {1: "a quarter", 2: "half", 3: "three quarters"}.get(rest, "")
    if whole == 0:
        return {"half": "half a"}.get(part, f"{part} of a")
    if rest == 0:
        return "one" if whole == 1 else str(whole)
    return f"{whole} and a half" if rest == 2 else f"{whole} and {part}"
