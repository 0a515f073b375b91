"""What was learnt of a bed, as a record that can be stored."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from dataclasses import asdict, dataclass
from io import BytesIO
from typing import Any, Literal
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from bedlore.bed.engine import State
from bedlore.bed.loop import model_hash
from bedlore.facts.parameters import PARAMETER_DTYPE
from bedlore.farm.bed import Bed
from bedlore.learn.unknowns import Unknown, Unknowns, learnt_parameters
from bedlore.outlook.twin import Past, Snapshot, history_key

Floats = NDArray[np.float64]
Method = Literal["prior", "smoother", "partly", "corrected", "particles"]
BANDS = (0.05, 0.50, 0.95)
# Of chance alone, the share of beds whose thermometers would be said to go with something. Set on
# 40 + 40 invented farms (docs/learning.md); learning takes up a part of what is left over, so that
# fewer are.
BY_CHANCE = 0.07


@dataclass(frozen=True)
class Fit:
    """How one reading sits in the ensemble.

    ``seen`` and ``expected`` are on the scale of the reading's latent (degC, moisture fraction,
    logarithm of counts); ``away`` is the distance in standard deviations ``sd`` of reading, model
    and ensemble together, ``prior_away`` the same before learning.
    """

    entry_id: str
    hour: int
    zones: tuple[int, ...]
    about: str
    series: str
    seen: float
    expected: float
    sd: float
    away: float
    prior_away: float
    outlier: bool


@dataclass(frozen=True)
class Trace:
    """What is left over of the bed's or the air's thermometers (``about``) goes with a
    ``direction``, along it or against it by ``strength`` (Student's t); ``chance`` is that of as
    much in a bed that the model is right about."""

    about: str
    direction: str
    strength: float
    chance: float
    entries: tuple[str, ...]

    @property
    def found(self) -> bool:
        """Whether it is more than chance."""
        return self.chance < BY_CHANCE


@dataclass(frozen=True)
class Learnt:
    """A bed as its log shows it: ensemble of parameters, state, and how it was come by.

    ``params`` ``[M]``, ``z`` ``[M, K]`` the unknowns of the farm, ``origin`` ``[M]`` the member
    of the prior that the rest comes from. ``kept`` is the state at hour ``kept_at``, ``state`` at
    ``at``. ``litres`` is the usual volume of each zone's material now; ``past_key`` names what
    ``kept`` rests on, ``bed_key`` the bed as it was built. ``khat`` and ``ess`` tell how far the
    correction by exact likelihoods went; ``dropped`` is the most members of any run that came to
    no number and gave way to others.
    """

    bed_id: str
    at: dt.datetime
    params: NDArray[np.void]
    origin: NDArray[np.int64]
    unknowns: Unknowns
    z: Floats
    kept_at: int
    kept: State
    state: State
    litres: tuple[float, ...]
    past_key: str
    read: tuple[str, ...]
    model_error_k: float
    khat: float
    ess: float
    method: Method
    fits: tuple[Fit, ...]
    bed_key: str = ""
    dropped: int = 0
    trace: Trace | None = None  # None with few readings

    @property
    def outliers(self) -> tuple[str, ...]:
        """Entries that nothing this bed could do explains; they weigh little, but are shown."""
        return tuple(dict.fromkeys(fit.entry_id for fit in self.fits if fit.outlier))

    def bands(self) -> dict[str, tuple[float, float, float]]:
        """5, 50 and 95 % points of every learnt parameter."""
        low, middle, high = (
            {n: float(np.quantile(self.params[n], q)) for n in learnt_parameters()} for q in BANDS
        )
        return {name: (low[name], middle[name], high[name]) for name in low}

    def told_by_log(self) -> dict[str, float]:
        """Share of each parameter's prior variance that the log has taken away (0..1)."""
        return {
            name: float(np.clip(1.0 - self.unknowns.of_bed(self.z, name, self.bed_id).var(), 0, 1))
            for name in learnt_parameters()
        }

    def moved_sd(self, name: str) -> float:
        """How far the middle of a parameter lies from where it was, in prior spreads."""
        return float(self.unknowns.of_bed(self.z, name, self.bed_id).mean())


def bed_key(bed: Bed) -> str:
    """Name of everything that makes ``bed`` this bed: not its names, limits, notes and end."""
    built = bed.model_dump_json(exclude={"name", "limits", "note", "ended"})
    return hashlib.sha256(built.encode()).hexdigest()


def snapshot_of(learnt: Learnt, past: Past) -> Snapshot:
    """The kept state as a twin's snapshot; ``past.air`` must be that of ``learnt.params``."""
    hours = dt.timedelta(hours=learnt.kept_at)
    key = history_key(past, learnt.params, learnt.kept_at)
    return Snapshot(past.start + hours, key, learnt.kept)


def to_bytes(learnt: Learnt) -> bytes:
    """A compressed archive of everything; states in single precision."""
    arrays: dict[str, NDArray[np.float32] | NDArray[np.float64] | NDArray[np.int64]] = {
        "z": learnt.z, "origin": learnt.origin,
        **{f"params.{n}": np.asarray(learnt.params[n]) for n in PARAMETER_DTYPE.names or ()},
    }  # fmt: skip
    for prefix, state in (("kept", learnt.kept), ("state", learnt.state)):
        arrays |= {f"{prefix}.{n}": a.astype(np.float32) for n, a in state.arrays().items()}
    about = {
        "code": model_hash(), "bed_id": learnt.bed_id, "at": learnt.at.isoformat(),
        "kept_at": learnt.kept_at, "litres": learnt.litres, "past_key": learnt.past_key,
        "read": learnt.read, "model_error_k": learnt.model_error_k,
        "khat": learnt.khat, "ess": learnt.ess, "method": learnt.method,
        "bed_key": learnt.bed_key, "dropped": learnt.dropped,
        "trace": asdict(learnt.trace) if learnt.trace else None,
        "unknowns": [asdict(unknown) for unknown in learnt.unknowns.all],
        "fits": [asdict(fit) for fit in learnt.fits],
    }  # fmt: skip
    buffer = BytesIO()
    np.savez_compressed(buffer, allow_pickle=False, about=np.array(json.dumps(about)), **arrays)
    return buffer.getvalue()


def from_bytes(data: bytes) -> Learnt | None:
    """Inverse of :func:`to_bytes`; None for anything else, or when the model has changed."""
    try:
        with np.load(BytesIO(data), allow_pickle=False) as stored:
            about = json.loads(str(stored["about"]))
            if about["code"] != model_hash():
                return None
            arrays = {name: np.array(stored[name]) for name in stored.files if name != "about"}
        params = np.zeros(len(arrays["z"]), dtype=PARAMETER_DTYPE)
        for name in PARAMETER_DTYPE.names or ():
            params[name] = arrays[f"params.{name}"]
        return Learnt(
            bed_id=about["bed_id"], at=dt.datetime.fromisoformat(about["at"]), params=params,
            origin=arrays["origin"],
            unknowns=Unknowns(tuple(Unknown(**u) for u in about["unknowns"])), z=arrays["z"],
            kept_at=about["kept_at"], kept=_state(arrays, "kept"), state=_state(arrays, "state"),
            litres=tuple(about["litres"]), past_key=about["past_key"],
            read=tuple(about["read"]), model_error_k=about["model_error_k"],
            khat=about["khat"], ess=about["ess"], method=about["method"],
            bed_key=about["bed_key"], dropped=about.get("dropped", 0),
            fits=tuple(Fit(**{**fit, "zones": tuple(fit["zones"])}) for fit in about["fits"]),
            trace=_trace(about.get("trace")),
        )  # fmt: skip
    except (OSError, ValueError, KeyError, TypeError, EOFError, BadZipFile):
        return None


def _trace(told: dict[str, Any] | None) -> Trace | None:
    return Trace(**{**told, "entries": tuple(told["entries"])}) if told else None


def _state(arrays: dict[str, NDArray[np.float64]], prefix: str) -> State:
    return State.from_arrays(
        {
            name.removeprefix(f"{prefix}."): array.astype(np.float64)
            for name, array in arrays.items()
            if name.startswith(f"{prefix}.")
        }
    )
