"""The invented farm comes from its open seeds, and nobody who learns sees its truth."""

from __future__ import annotations

import ast
import datetime as dt
import hashlib
from pathlib import Path

import numpy as np

import bedlore
from bedlore.facts.parameters import BY_NAME, defaults
from bedlore.outlook.twin import load_snapshot
from tools import make_demo
from tools.demo_world import truth, weather
from tools.demo_world.keeper import Keeper

SRC = Path(bedlore.__file__).parent
SHIPPED = SRC / "demo"
PREFIX_UNTIL = dt.date(2024, 9, 30)


def digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def test_the_first_month_is_made_again_byte_for_byte() -> None:
    """The whole is made again in tests/prove. After a change of the model run
    ``python -m tools.make_demo``."""
    farm = make_demo.parse_farm((SHIPPED / "farm.toml").read_text("utf-8"))
    outdoor = weather.outdoor(farm.site)
    made = "".join(Keeper(farm, outdoor).live(PREFIX_UNTIL).lines)
    shipped = (SHIPPED / "log.csv").read_text("utf-8").split("\n", 1)[1]
    assert made.count("\n") > 15
    assert digest(shipped[: len(made)]) == digest(made)
    days = weather.daily(outdoor, farm.site.zone_info())
    notebook = (SHIPPED / "weather.csv").read_text("utf-8")
    assert digest(notebook) == digest(weather.notebook(days))


def test_a_stored_state_is_made_again() -> None:
    """Six members of the smallest bed: what each member comes to does not depend on the rest."""
    stored = load_snapshot(SHIPPED / "snapshots" / "ladder.npz")
    assert stored is not None
    again = make_demo.stored_states(6, ("ladder",))["ladder"]
    assert stored.at == again.at
    arrays = again.state.arrays()
    for name, array in stored.state.arrays().items():
        assert np.allclose(array[:6], arrays[name], rtol=1e-4, atol=1e-9), name


def test_learning_never_reads_the_demo() -> None:
    for package in ("bed", "outlook", "learn", "decide", "service", "lab", "facts", "weather"):
        for path in (SRC / package).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text("utf-8"))):
                names = []
                if isinstance(node, ast.Import):
                    names = [alias.name for alias in node.names]
                elif isinstance(node, ast.ImportFrom):
                    stem = node.module or ""
                    names = [stem, *(f"{stem}.{alias.name}" for alias in node.names)]
                elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                    assert "demo_world" not in node.value, path
                assert not any(n.startswith(("bedlore.demo", "tools")) for n in names), path


def test_no_truth_ships() -> None:
    allowed = {"farm.toml", "log.csv", "weather.csv", "days-ahead.txt", "as_of.txt",
               "outlooks.jsonl", "ladder.npz", "sluice.npz", "weir.npz"}  # fmt: skip
    files = [path for path in SHIPPED.rglob("*") if path.is_file()]
    shipped = {path.name for path in files if path.suffix not in (".py", ".pyc")}
    assert shipped <= allowed
    for path in SHIPPED.rglob("*"):
        if path.suffix in (".toml", ".csv", ".txt", ".py"):
            text = path.read_text("utf-8")
            assert not any(name in text for name in truth.OFF_BY), path.name
    # What was stored is the product's own ensemble, spread as its priors are, not the truth.
    stored = load_snapshot(SHIPPED / "snapshots" / "sluice.npz")
    assert stored is not None
    assert stored.state.members > 100
    assert np.ptp(stored.state.herd.adult_kg.sum(axis=1)) > 0.1


def test_the_truth_is_another_model() -> None:
    """By hand (physics of composting, Haug's form): 10 degC 0.528, 5 degC 0.383."""
    assert abs(truth.haug_response(10.0) - 0.528) < 0.001
    assert abs(truth.haug_response(5.0) - 0.383) < 0.001
    table = defaults()
    for name, value in truth.true_parameters().items():
        parameter = BY_NAME[name]
        assert parameter.low <= value <= parameter.high, f"{name} is outside its prior"
        assert value != table[name][0], name


def test_the_millrace_freezes_and_thaws() -> None:
    cold = np.concatenate([np.full(480, 5.0), np.full(480, -10.0), np.full(480, 5.0)])
    frozen = truth.millrace_frozen(cold)
    assert frozen[470] < 0.01
    assert frozen[950] > 0.95
    assert frozen[-1] < 0.05
