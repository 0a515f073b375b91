"""What beds are built and covered with, and how well layers of it hold heat.

Figures come from ``building.csv`` beside this file, each with its source. Temperatures do not
enter: the figures are for 0 to 30 degC and dry material unless the name says wet.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal, cast

from bedlore.errors import KeeperError
from bedlore.say import say

Use = Literal["wall", "cover", "ground"]
Known = Literal["read", "memory", "mixed", "assumed"]
Surface = Literal["up", "side", "down"]

# Surface film resistances, still air and emittance 0.9 [m2 K/W]: ASHRAE Fundamentals, thermal
# transmission data, from memory (sure). ``up`` is a horizontal face losing heat upwards.
FILM_M2KW: Mapping[Surface, float] = {"up": 0.11, "side": 0.12, "down": 0.16}
# Moving air, any face, same source: 6.7 m/s in winter and 3.4 m/s in summer.
FILM_WIND_WINTER_M2KW = 0.03
FILM_WIND_SUMMER_M2KW = 0.044
# ISO 6946 values for walls as given on an informal page, unnamed (read).
FILM_INSIDE_ISO_M2KW = 0.13
FILM_OUTSIDE_ISO_M2KW = 0.04


@dataclass(frozen=True)
class Material:
    """A building or cover material.

    ``k_w_mk`` conductivity [W/m K] with its usual range (None: not known), ``rho_kg_m3`` density,
    ``c_j_kgk`` specific heat, ``vapour_frac`` the share of the vapour diffusivity of still air
    that passes (1 for air, 0 for a tight sheet).
    """

    id: str
    name: str
    use: Use
    k_w_mk: float
    k_low_w_mk: float | None
    k_high_w_mk: float | None
    rho_kg_m3: float
    c_j_kgk: float
    vapour_frac: float
    source: str
    known: Known
    aliases: tuple[str, ...]

    @property
    def heat_capacity_j_m3k(self) -> float:
        """Heat capacity of a cubic metre [J/m3 K]."""
        return self.rho_kg_m3 * self.c_j_kgk

    def resistance_m2k_w(self, thickness_m: float) -> float:
        """Thermal resistance [m2 K/W] of a layer of ``thickness_m``.

        By hand: 50 mm extruded polystyrene, 0.05 / 0.029 = 1.724 (lecture notes, read).
        """
        if thickness_m < 0.0:
            raise KeeperError(
                say("a layer of {name} is {thickness} m thick.", name=say(self.name),
                    thickness=float(thickness_m)),
                fix=say("Write a thickness of 0 or more."),
            )
        return thickness_m / self.k_w_mk


def _read() -> dict[str, Material]:
    text = files("bedlore.facts").joinpath("building.csv").read_text("utf-8")
    lines = (line for line in text.splitlines() if not line.startswith("#"))
    return {row["id"]: _material(row) for row in csv.DictReader(lines)}


def _material(row: Mapping[str, str]) -> Material:
    return Material(
        id=row["id"],
        name=row["name"],
        use=cast(Use, row["use"]),
        k_w_mk=float(row["k_w_mk"]),
        k_low_w_mk=float(row["k_low"]) if row["k_low"] else None,
        k_high_w_mk=float(row["k_high"]) if row["k_high"] else None,
        rho_kg_m3=float(row["rho_kg_m3"]),
        c_j_kgk=float(row["c_j_kgk"]),
        vapour_frac=float(row["vapour_frac"]),
        source=row["source"],
        known=cast(Known, row["known"]),
        aliases=tuple(word for word in row["aliases"].split(";") if word),
    )


MATERIALS: Mapping[str, Material] = _read()


@cache
def names() -> Mapping[str, str]:
    """Every name a building material may be called by -> its id."""
    found = {id_: id_ for id_ in MATERIALS}
    found |= {material.name: id_ for id_, material in MATERIALS.items()}
    found |= {alias: id_ for id_, material in MATERIALS.items() for alias in material.aliases}
    return found


def material(id_: str) -> Material:
    """The material with this id. Raises :class:`KeeperError` when there is none."""
    if id_ not in MATERIALS:
        raise KeeperError(
            say("{name} is not a {what} that is known.{hint}", name=repr(id_[:60]),
                what=say("building material"), hint=""),
            fix=say("The list of names is in docs/materials.md."),
        )
    return MATERIALS[id_]


def wall_resistance_m2k_w(layers: Iterable[tuple[str, float]], surface: Surface) -> float:
    """Resistance [m2 K/W] from the bed's face to the air through ``layers`` (id, thickness [m]).

    The sum of the layers and the film at ``surface``. By hand: 12 mm plywood on the side,
    0.012 / 0.12 + 0.12 = 0.22.
    """
    return FILM_M2KW[surface] + sum(material(id_).resistance_m2k_w(d) for id_, d in layers)
