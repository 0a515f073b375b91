"""Runs an experiment by its name from plain JSON values."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from bedlore.errors import KeeperError
from bedlore.farm.fields import Record
from bedlore.farm.materials import nearest
from bedlore.lab.boxes import BoxSpec, run_box
from bedlore.lab.buildings import ShedSpec, run_shed
from bedlore.lab.choices import ChoiceSpec, run_choice
from bedlore.lab.cocoons import HatchSpec, run_hatch
from bedlore.lab.cultures import CultureSpec, run_culture
from bedlore.lab.inputs import checked
from bedlore.lab.reactors import ReactorSpec, run_reactor
from bedlore.lab.result import Json, Result
from bedlore.lab.slabs import SlabSpec, run_slab
from bedlore.lab.waters import DrainSpec, DrySpec, run_drain, run_dry

EXPERIMENTS: Mapping[str, tuple[type[Record], Callable[[Any], Result]]] = {
    "slab": (SlabSpec, run_slab),
    "box": (BoxSpec, run_box),
    "shed": (ShedSpec, run_shed),
    "drain": (DrainSpec, run_drain),
    "dry": (DrySpec, run_dry),
    "reactor": (ReactorSpec, run_reactor),
    "culture": (CultureSpec, run_culture),
    "hatch": (HatchSpec, run_hatch),
    "choice": (ChoiceSpec, run_choice),
}


def run(name: str, spec: Mapping[str, Any]) -> dict[str, Json]:
    """The experiment ``name`` with the arguments of its function in ``spec``; JSON values out.

    Keys of ``spec`` are the parameter names of the function, keys of the answer the fields of
    its result. Raises KeeperError for an unknown name, FaultList naming every field of ``spec``
    that is missing, unknown or cannot be.
    """
    if name not in EXPERIMENTS:
        near = nearest(name, tuple(EXPERIMENTS))
        hint = f'Did you mean "{near}"?' if near else "Experiments: " + ", ".join(EXPERIMENTS) + "."
        raise KeeperError(f"{name[:60]!r} is not an experiment.", fix=hint)
    if not isinstance(spec, Mapping):
        raise KeeperError("An experiment is described by an object of keys and values.")
    record, runner = EXPERIMENTS[name]
    return runner(checked(record, spec)).as_dict()
