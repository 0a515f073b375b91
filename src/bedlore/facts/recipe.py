"""Mixing materials: moisture, carbon to nitrogen, and how much of one to add to another.

The algebra of the Cornell composting text (Richard & Trautmann): masses as is, moisture on wet
mass, carbon and nitrogen on dry mass. A mix's C:N is total carbon over total nitrogen; the mean
of the parts' ratios is a different and wrong number unless all hold equal nitrogen.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from bedlore.errors import KeeperError
from bedlore.facts.feedstocks import Feedstock
from bedlore.say import say


@dataclass(frozen=True)
class Ingredient:
    """A material in a mix: ``mass_kg`` as is, moisture of it, carbon and nitrogen of its dry."""

    mass_kg: float
    moisture_frac: float
    carbon_frac_dry: float = 0.0
    n_frac_dry: float = 0.0

    @property
    def dry_kg(self) -> float:
        return self.mass_kg * (1.0 - self.moisture_frac)

    @property
    def carbon_kg(self) -> float:
        return self.dry_kg * self.carbon_frac_dry

    @property
    def nitrogen_kg(self) -> float:
        return self.dry_kg * self.n_frac_dry


def ingredient(feedstock: Feedstock, mass_kg: float) -> Ingredient:
    """``mass_kg`` of a material of the table; what does not decay brings no C and N to the mix."""
    inert = feedstock.decay_speed == "inert"
    return Ingredient(
        mass_kg=mass_kg,
        moisture_frac=feedstock.moisture_frac,
        carbon_frac_dry=0.0 if inert else feedstock.carbon_frac_dry,
        n_frac_dry=0.0 if inert else feedstock.n_frac_dry,
    )


def moisture_of_mix(parts: Iterable[Ingredient]) -> float:
    """Moisture (0 to 1) of a mix: ``sum(Q M) / sum(Q)``. Raises KeeperError when it is empty."""
    parts = tuple(parts)
    total_kg = sum(part.mass_kg for part in parts)
    if total_kg <= 0.0:
        raise KeeperError(say("there is nothing in the mix."),
                          fix=say("Add a material with its mass."))  # fmt: skip
    return sum(part.mass_kg * part.moisture_frac for part in parts) / total_kg


def c_to_n_of_mix(parts: Iterable[Ingredient]) -> float:
    """C:N of a mix, total carbon over total nitrogen. Raises KeeperError without nitrogen."""
    parts = tuple(parts)
    nitrogen_kg = sum(part.nitrogen_kg for part in parts)
    if nitrogen_kg <= 0.0:
        raise KeeperError(
            say("the mix holds no nitrogen, so it has no C:N."),
            fix=say("Add a feed or a manure."),
        )
    return sum(part.carbon_kg for part in parts) / nitrogen_kg


def mass_for_moisture_kg(first: Ingredient, second_moisture: float, goal: float) -> float:
    """Mass [kg] of a second material that brings the mix with ``first`` to moisture ``goal``.

    ``Q2 = Q1 (G - M1) / (M2 - G)``. By hand: 10 kg of grass at 77 % with leaves at 35 % for a
    mix of 60 % takes 6.8 kg (Cornell). Raises KeeperError when no amount can do it.
    """
    return _amount(
        first.mass_kg * (goal - first.moisture_frac),
        second_moisture - goal,
        f"no amount of a material at {second_moisture:.0%} water brings this mix to {goal:.0%}.",
        "Take a drier one to dry a mix, a wetter one to wet it.",
    )


def mass_for_c_to_n_kg(first: Ingredient, second: Ingredient, goal: float) -> float:
    """Mass [kg] of a second material that brings the mix with ``first`` to C:N ``goal``.

    ``second`` gives the analysis; its own mass does not matter. Total carbon over total nitrogen
    solved for the mass. By hand: 10 kg grass (77 %, C 45, N 2.4) and leaves (35 %, C 50,
    N 0.75) for 30 takes 3.47 kg. Raises KeeperError when no amount can do it.
    """
    per_kg = (1.0 - second.moisture_frac) * (second.carbon_frac_dry - goal * second.n_frac_dry)
    return _amount(
        goal * first.nitrogen_kg - first.carbon_kg,
        per_kg,
        f"no amount of the second material brings this mix to a C:N of {goal:g}.",
        "Take one richer in carbon to raise it, one richer in nitrogen to lower it.",
    )


def _amount(wanted: float, per_kg: float, problem: str, fix: str) -> float:
    if wanted == 0.0:
        return 0.0
    if wanted * per_kg <= 0.0:
        raise KeeperError(problem, fix=fix)
    return wanted / per_kg
