"""What if: the coming fortnight of one bed as it is, and with something changed today.

Both futures run on the same members in the same weather (common random numbers), so that what
differs between them is the change and not chance; a few members are then enough. They start from
the state of the bed that the last morning kept.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Annotated, Literal

import numpy as np
from pydantic import ValidationError

from bedlore.bed import plan
from bedlore.bed.build import bed_geometry
from bedlore.bed.cells import Floats
from bedlore.bed.history import COVER_W_MK, INSULATION_W_MK
from bedlore.decide.action_rows import FOAM, rows
from bedlore.decide.case import Case
from bedlore.decide.meals import fed_positions
from bedlore.decide.records import Action, Band, Effect
from bedlore.decide.score import band, effect, moisture_at_end, worst_places
from bedlore.errors import Fault, FaultList, KeeperError
from bedlore.facts.building import MATERIALS
from bedlore.farm.amounts import weigh
from bedlore.farm.bed import Bed, HeatMat
from bedlore.farm.faults import faults_of
from bedlore.farm.fields import Record, quantity
from bedlore.farm.log import OptionalSlug
from bedlore.farm.materials import CoverMaterial, Feedstock
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading
from bedlore.outlook.ahead import Ahead, look_ahead
from bedlore.say import say
from bedlore.service.beds_now import FEW, BedsNow, StatesKeeping
from bedlore.service.surroundings import Recorded
from bedlore.service.views import TOGETHER, OutlookView, outlook_of

MEMBERS = FEW
STEP_H = 3
Switch = Literal["as it is", "on", "off"]


class Change(Record):
    """What a keeper would change today; what is left out stays as it is.

    ``feed_kg`` of ``material`` goes to ``zone`` (a zone or side; None: where is fed now).
    ``cover`` "on" lays ``cover_material`` of ``cover_m`` in place of the present cover. Foam is
    added to what insulates walls and floor (``foam_walls_m``) and the top (``foam_lid_m``).
    ``mat_watts`` and ``mat_setpoint_c`` stand for the bed's own mat where they are left out.
    """

    feed_kg: Annotated[float, quantity("mass", 0, 500)] = 0.0
    material: Feedstock = "food_mixed_kitchen"
    zone: OptionalSlug = None
    place: Literal["spread", "lump"] = "spread"
    cover: Switch = "as it is"
    cover_material: CoverMaterial = "straw_loose"
    cover_m: Annotated[float, quantity("length", 0.0005, 1)] = 0.05
    lid: Switch = "as it is"
    foam_walls_m: Annotated[float, quantity("length", 0, 0.5)] = 0.0
    foam_lid_m: Annotated[float, quantity("length", 0, 0.5)] = 0.0
    mat: Switch = "as it is"
    mat_watts: Annotated[float, quantity("power", 1, 3000)] | None = None
    mat_setpoint_c: Annotated[float, quantity("temperature", 0, 30)] | None = None

    @property
    def is_nothing(self) -> bool:
        """Whether everything would stay as it is."""
        amounts = (self.feed_kg, self.foam_walls_m, self.foam_lid_m)
        return not any(amounts) and {self.cover, self.lid, self.mat} == {"as it is"}


def read_change(raw: Mapping[str, str], farm: Farm, bed: Bed) -> Change:
    """The change that ``raw`` tells in the keeper's words: the fields of :class:`Change`, and
    ``feed`` as an amount ("4 kg", "half a bucket").

    Raises :class:`FaultList` with a sentence for each field that cannot be used.
    """
    told = {key: value for key, value in raw.items() if value.strip() and key != "feed"}
    faults = []
    named = told.get("material", "") or Change.model_fields["material"].default
    told["material"] = farm.material(named) or named
    if raw.get("feed", "").strip():
        try:
            known = farm.material(named)
            if known is not None:  # else the fault of the material is told
                told["feed_kg"] = f"{weigh(raw['feed'], known, farm).mass_kg} kg"
        except KeeperError as problem:
            faults.append(Fault("feed", problem.said))
    try:
        change = Change.model_validate(told)
    except ValidationError as problem:
        raise FaultList([*faults, *faults_of(problem, told, Change)]) from None
    faults += _misfits(change, bed)
    if not faults and change.is_nothing:
        faults.append(Fault("", say("Change something: nothing here differs from how the bed"
                                    " is.")))
    if faults:
        raise FaultList(faults)
    return change


def _misfits(change: Change, bed: Bed) -> list[Fault]:
    """What does not fit this bed."""
    faults = []
    if change.zone is not None and not bed.zones_of(change.zone):
        known = ", ".join(dict.fromkeys([*bed.side_names, *(zone.id for zone in bed.zones)]))
        faults.append(Fault("zone", say("This bed has no part called {zone}. It has: {known}.",
                                        zone=change.zone, known=known)))
    if change.mat == "on" and bed.heat_mat is None:
        if change.mat_watts is None:
            faults.append(Fault("mat_watts", say("This bed has no heat mat. Say how strong one"
                                                 " would be, such as 60 W.")))  # fmt: skip
        if change.mat_setpoint_c is None:
            faults.append(Fault("mat_setpoint_c", say("Say at what temperature its"
                                                      " thermostat would stand, such as"
                                                      " 10 degC.")))  # fmt: skip
    return faults


@dataclass(frozen=True)
class Start:
    """A bed now, in ``MEMBERS`` members, ready for any number of changes."""

    farm: Farm
    bed: Bed
    case: Case

    @cached_property
    def as_it_is(self) -> Ahead:
        """The fortnight with nothing changed."""
        return look_ahead(self.case.twin, self.case.air, hours=self.case.hours, every=STEP_H)


@dataclass(frozen=True)
class Future:
    """One of the two futures: what it comes to, and day by day."""

    effect: Effect
    outlook: OutlookView


@dataclass(frozen=True)
class WhatIf:
    """Both futures, and what differs between them member by member (with it less as it is).

    ``probe_k``, ``coldest_mean_k`` and ``warmest_mean_k`` are means of the fortnight (at the
    thermometer, and where worms live), ``coldest_k`` and ``warmest_k`` the worst of it,
    ``moisture_frac`` and ``food_left_kg`` its end.
    """

    bed: Bed
    made_at: dt.datetime
    members: int
    change: Change
    as_is: Future
    with_it: Future
    probe_k: Band
    coldest_mean_k: Band
    coldest_k: Band
    warmest_mean_k: Band
    warmest_k: Band
    moisture_frac: Band
    food_left_kg: Band


def start_what_if(farm: Farm, bed: Bed, log: LogReading, recorded: Recorded, now: dt.datetime,
                  keeping: StatesKeeping, *, fresh: bool = False) -> Start:  # fmt: skip
    """``MEMBERS`` of the farm's members brought up to ``now``, from the state in ``keeping`` where
    it holds and ``fresh`` does not ask for a new one.

    Raises KeeperError before the bed began.
    """
    work = BedsNow(farm, [bed], log, recorded, now, keeping)
    return Start(farm, bed, work.few_case(bed, fresh=fresh))


def what_if(start: Start, change: Change) -> WhatIf:
    """Both futures of a bed."""
    case = start.case
    twin = case.twin
    if change.mat_watts is not None:
        mat = HeatMat(watts=change.mat_watts, setpoint_c=_setpoint_c(change, start.bed))
        altered = start.bed.model_copy(update={"heat_mat": mat})
        twin = replace(twin, bed=altered, geometry=bed_geometry(altered))
    with_it = look_ahead(twin, case.air, acts_of(case, change), hours=case.hours, every=STEP_H)
    as_is = start.as_it_is

    def came(ahead: Ahead) -> Future:
        return Future(effect(ahead, case.limits), outlook_of(ahead, start.bed.id))

    (cold_a, warm_a), (cold_b, warm_b) = worst_places(as_is.run), worst_places(with_it.run)

    def mean_k(name: str) -> Band:
        return band(_mean(with_it, name) - _mean(as_is, name))

    return WhatIf(
        bed=start.bed, made_at=twin.now, members=twin.members, change=change, as_is=came(as_is),
        with_it=came(with_it), probe_k=mean_k("temp_probe_c"),
        coldest_mean_k=mean_k("temp_coldest_c"), coldest_k=band(cold_b - cold_a),
        warmest_mean_k=mean_k("temp_warmest_c"), warmest_k=band(warm_b - warm_a),
        moisture_frac=band(moisture_at_end(with_it.run) - moisture_at_end(as_is.run)),
        food_left_kg=band(_food_kg(with_it) - _food_kg(as_is)),
    )  # fmt: skip


def _mean(ahead: Ahead, name: str) -> Floats:
    """An output ``[M]`` of the bed, mean over the fortnight; as in the outlook of the bed."""
    told = np.where(ahead.run.series("depth_m") > 0.0, ahead.run.series(name), np.nan)
    return np.asarray(TOGETHER[name](told, axis=-1).mean(axis=-1))


def _food_kg(ahead: Ahead) -> Floats:
    return np.asarray(ahead.run.series("food_left_kg")[:, -1].sum(axis=1))


def acts_of(case: Case, change: Change) -> list[Floats]:
    """The acts of the model that a change means, all in the first hour."""
    found = [row for action in _feeds(case, change) for row in rows(case, action)]
    found += _covers(case, change)
    every = range(len(case.twin.zone_ids))
    if change.lid != "as it is":
        found += [plan.set_lid(0, z, change.lid == "on") for z in every]
    if change.mat != "as it is" or change.mat_setpoint_c is not None:
        setpoint = _setpoint_c(change, case.twin.bed)
        found += [plan.set_mat(0, z, change.mat != "off", setpoint) for z in every]
    return found


def _feeds(case: Case, change: Change) -> Sequence[Action]:
    """The feed, shared out by area."""
    if not change.feed_kg:
        return ()
    zones = [case.position(zone.id) for zone in case.twin.bed.zones_of(change.zone or "")]
    zones = zones if change.zone else list(fed_positions(case))
    area = sum(case.area_m2(z) for z in zones)
    return [
        Action("feed", case.twin.zone_ids[z],
               ((change.material, change.feed_kg * case.area_m2(z) / area),), change.place)
        for z in zones
    ]  # fmt: skip


def _covers(case: Case, change: Change) -> list[Floats]:
    """Cover in place of the present one; foam besides what insulates the bed already."""
    foam_k = MATERIALS[FOAM].k_w_mk
    around = np.median(case.twin.state.zones.foam_r, axis=0) + change.foam_walls_m / foam_k
    top = np.median(case.twin.state.zones.foam_top_r, axis=0)
    found = []
    laid = MATERIALS.get(change.cover_material)
    stays_dry = laid is not None and laid.use == "wall" and laid.k_w_mk < INSULATION_W_MK
    if change.cover == "off":
        top = np.zeros_like(top)
    elif change.cover == "on" and laid is not None and stays_dry:
        top = np.full_like(top, change.cover_m / laid.k_w_mk)
    if change.cover != "as it is":
        k = laid.k_w_mk if laid is not None else COVER_W_MK
        loose = change.cover == "on" and not stays_dry
        thickness = change.cover_m * COVER_W_MK / k if loose else 0.0
        found += [plan.set_cover(0, z, thickness) for z in range(len(top))]
    top = top + change.foam_lid_m / foam_k
    if change.cover != "as it is" or change.foam_walls_m or change.foam_lid_m:
        found += [plan.set_foam(0, z, float(around[z]), float(top[z])) for z in range(len(top))]
    return found


def _setpoint_c(change: Change, bed: Bed) -> float:
    if change.mat_setpoint_c is not None:
        return change.mat_setpoint_c
    return bed.heat_mat.setpoint_c if bed.heat_mat else 0.0
