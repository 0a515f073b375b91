"""What in a farm file is allowed but deserves a word of caution.

These are the usual cautions of the trade; they do not replace local codes, a licensed
electrician, or a look at the bed.
"""

from __future__ import annotations

from collections.abc import Iterator

from bedlore.errors import Fault
from bedlore.facts import feedstocks
from bedlore.farm.bed import Bed, HeatMat
from bedlore.farm.model import Farm
from bedlore.say import capital, clause, say

MAT_WATTS_PER_M2_HIGH = 200.0  # propagation mats are 100-200 W/m2 (from memory)
MAT_SETPOINT_HIGH_C = 25.0  # common practice, no source
# About 2 lb/ft2 (9.8 kg/m2); starting density is 1 lb/ft2 (NC State). The doubling is assumed.
WORMS_KG_PER_M2_HIGH = 9.8
_TROPICAL = ("perionyx_excavatus", "eudrilus_eugeniae")


def cautions(farm: Farm) -> list[Fault]:
    """A word of caution for each thing in ``farm`` that calls for one."""
    found = [caution for bed in farm.beds for caution in _of_bed(bed, farm)]
    found += list(_of_store(farm))
    return found


def _of_bed(bed: Bed, farm: Farm) -> Iterator[Fault]:
    path = f"beds.{bed.id}"
    if bed.heat_mat is not None:
        yield from _of_mat(bed.heat_mat, bed, f"{path}.heat_mat")
    worms = sum(zone.worms_kg for zone in bed.zones)
    if bed.kind != "stack" and worms / bed.area_m2 > WORMS_KG_PER_M2_HIGH:
        yield Fault(path, say("{worms} kg of worms on {area_m2} m2 is crowded. About 5 kg/m2 is"
                              " usual at the start.", worms=f"{worms:.3g}",
                              area_m2=f"{bed.area_m2:.2g}"))
    if bed.lid_sealed and bed.drainage.kind == "liner":
        yield Fault(path, say("A sealed lid over a liner keeps all water and lets little air"
                              " in. Give it vents, and look for standing water."))
    if bed.kind != "wedge" and not bed.walls:
        yield Fault(f"{path}.walls", say("No walls are described, so the bed is worked out as"
                                         " if its sides were bare. Name the material and its"
                                         " thickness."))
    if bed.species in _TROPICAL and min(farm.site.normals.daily_low_c) < 5:
        yield Fault(f"{path}.species", say("{species} comes from warm countries and does badly in"
                                           " the cold. Is the species right?",
                                           species=bed.species.replace("_", " ").capitalize()))


def _of_mat(mat: HeatMat, bed: Bed, path: str) -> Iterator[Fault]:
    yield Fault(path, say("Electric heat in a wet place: use a residual-current device, sealed"
                          " fittings, a drip loop and a cut-out apart from the thermostat, and"
                          " have the wiring done by a qualified person under the local code."))
    if mat.share_of_floor > 0.5:
        yield Fault(f"{path}.share_of_floor", say("Heat at most half the floor, so that the"
                                                  " worms have somewhere to go when it is too"
                                                  " warm."))
    density = mat.watts / (mat.share_of_floor * bed.area_m2)
    if density > MAT_WATTS_PER_M2_HIGH:
        yield Fault(f"{path}.watts", say("{density} W/m2 is strong; 100 to 200 W/m2 is usual."
                                         " The bed over the mat may cook.",
                                         density=f"{density:.0f}"))
    if mat.setpoint_c > MAT_SETPOINT_HIGH_C:
        yield Fault(f"{path}.setpoint_c", say("A thermostat at {setpoint_c} degC leaves little"
                                              " room below the heat limit. 10 to 15 degC is"
                                              " usual in winter.",
                                              setpoint_c=f"{mat.setpoint_c:.0f}"))


def _of_store(farm: Farm) -> Iterator[Fault]:
    for item in farm.store:
        stock = feedstocks.load()[item.material]
        if stock.advice and not item.hold:
            yield Fault(f"store.{item.name or stock.name}",
                        say("{material}: {caution}.", caution=clause(say(stock.caution)),
                            material=capital(item.name or say(stock.name))))  # fmt: skip
