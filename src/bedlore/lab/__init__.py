"""Controlled experiments through the same model code as the beds; see docs/lab.md."""

from bedlore.lab.boxes import box
from bedlore.lab.buildings import shed
from bedlore.lab.choices import choice
from bedlore.lab.cocoons import hatch
from bedlore.lab.cultures import culture
from bedlore.lab.reactors import reactor
from bedlore.lab.runner import run
from bedlore.lab.slabs import slab
from bedlore.lab.waters import drain, dry

__all__ = ["box", "choice", "culture", "drain", "dry", "hatch", "reactor", "run", "shed", "slab"]
