"""What an action means in the model: its acts, and foam counted with the walls."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from bedlore.bed import plan
from bedlore.bed.cells import Floats
from bedlore.decide.case import Case
from bedlore.decide.records import Action
from bedlore.facts.building import MATERIALS
from bedlore.facts.feedstocks import load

MOVE_SHARE = 0.5
FOAM_M = 0.05
FOAM = "extruded_polystyrene"
FOOD_COVER_W_MK = 0.05  # the model's cover is counted in thickness of this conductivity


def rows(case: Case, action: Action) -> list[Floats]:
    """The acts of the model that an action means."""
    hour = 24 * action.on_day
    zones = _zones_of(case, action)
    match action.kind:
        case "feed" | "bedding":
            return list(_laid(case, action, hour, zones))
        case "water":
            area = sum(case.area_m2(z) for z in zones)
            temp = _air_at(case, hour)
            return [
                plan.give_water(hour, z, action.mass_kg * case.area_m2(z) / area, temp)
                for z in zones
            ]
        case "cover":
            known = MATERIALS.get(action.material)
            k = known.k_w_mk if known else FOOD_COVER_W_MK
            metres = action.thickness_m * FOOD_COVER_W_MK / k
            lying = np.median(case.twin.state.zones.cover_m, axis=0)
            return [plan.set_cover(hour, z, float(lying[z]) + metres) for z in zones]
        case "uncover":
            off = [plan.set_cover(hour, z, 0.0) for z in zones]
            return off + [plan.set_foam(hour, z, 0.0, 0.0) for z in zones]
        case "insulate":
            r = action.thickness_m / MATERIALS[action.material].k_w_mk
            around, over = (
                np.median(laid, axis=0)
                for laid in (case.twin.state.zones.foam_r, case.twin.state.zones.foam_top_r)
            )
            more = r if goes_under(case) else 0.0  # the walls: :func:`walled`
            return [
                plan.set_foam(hour, z, float(around[z]) + more, float(over[z]) + r) for z in zones
            ]
        case "mat":
            mat = case.twin.bed.heat_mat
            setpoint = mat.setpoint_c if mat else 0.0
            setpoint = setpoint if action.setpoint_c is None else action.setpoint_c
            return [plan.set_mat(hour, z, action.material == "on", setpoint) for z in zones]
        case "move":
            target = case.position(action.to_zone)
            return [plan.carry_worms(hour, z, target, share=MOVE_SHARE) for z in zones]
        case _:
            return []


def goes_under(case: Case) -> bool:
    """Whether foam can be put under the bed: not where it stands on a floor, or on the ground,
    which keeps it warm from below in the cold."""
    return case.twin.bed.stand == "legs"


def foamed(case: Case, actions: Sequence[Action]) -> Case:
    """``case`` as ``actions`` insulate its walls, to run them in.

    The model's own added foam lies round the walls and below alike. Where none goes under the bed
    it is counted with the walls instead, for as long as the run.
    """
    r = sum(a.thickness_m / MATERIALS[a.material].k_w_mk for a in actions if a.kind == "insulate")
    return walled(case, r) if r and not goes_under(case) else case


def walled(case: Case, r_m2kw: float) -> Case:
    """The bed with that much more insulation round its walls alone [m2 K/W]."""
    geometry = case.twin.geometry
    thicker = geometry._replace(side_r=geometry.side_r + r_m2kw)
    return replace(case, twin=replace(case.twin, geometry=thicker))


def _zones_of(case: Case, action: Action) -> list[int]:
    return [case.position(action.zone_id)] if action.zone_id else list(case.living)


def _laid(case: Case, action: Action, hour: int, zones: list[int]) -> Iterator[Floats]:
    """Feed or dry bedding, in proportion to area when it goes over the whole bed."""
    area = sum(case.area_m2(z) for z in zones)
    moisture = {item.material: item.moisture_frac for item in case.store}
    temp_c = _air_at(case, hour)
    for z in zones:
        share = case.area_m2(z) / area
        parts = [(load()[m], kg * share, moisture.get(m)) for m, kg in action.parts]
        yield plan.add_material(hour, z, parts, temp_c=temp_c, feed=action.kind == "feed",
                                lump=action.place == "lump")  # fmt: skip


def _air_at(case: Case, hour: int) -> float:
    """Feed and water come about as warm as the air; water is not ice."""
    return max(0.5, float(case.air.air_c[:, min(hour, case.hours - 1)].mean()))
