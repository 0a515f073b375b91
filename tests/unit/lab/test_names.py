"""The names and signatures that other people's scripts rely on."""

from __future__ import annotations

import inspect
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from bedlore import lab
from bedlore.errors import FaultList, KeeperError
from bedlore.lab.runner import EXPERIMENTS

SIGNATURES = {
    "slab": "layers top base hours cell_m=0.005 step_s=300.0 every_h=1.0 freezing_range_k=0.6",
    "box": "length_m width_m depth_m walls=() floor=() lid=() cover_m=0.0 foam_r_m2k_w=0.0 "
    "foam_top_r_m2k_w=0.0 stand='legs' zones=1 heat_w=0.0 air_c=0.0 rh_frac=None start_c=None "
    "days=None moisture_frac=0.75 conductivity_w_mk=None params=None",
    "shed": "outdoor_c time_constant_h=6.0 offset_k=0.0 hours=None start_c=None ghi_w_m2=0.0 "
    "sun_k_per_w_m2=0.0 rh_frac=0.8 air_change_h=1.0",
    "drain": "depth_m moisture_frac hours area_m2=1.0 water_kg=0.0 liner=False temp_c=15.0 "
    "cells=12 params=None",
    "dry": "depth_m moisture_frac days air_c=15.0 rh_frac=0.8 cover_m=0.0 area_m2=1.0 "
    "start_c=None cells=12 params=None",
    "reactor": "mix days temp_c=None vessel=None area_m2=None start_c=20.0 air_c=20.0 "
    "rh_frac=0.7 worms_kg=0.0 again_every_d=None ample_water=False ample_nitrogen=False "
    "every_h=24 params=None",
    "culture": "worms stage mass_g area_m2 depth_m temp_c moisture_pct material food_g events "
    "days params=None",
    "hatch": "temp_c days=None params=None",
    "choice": "left right days area_m2=0.06 params=None",
    "run": "name spec",
}
CULTURE_ARRAYS = [
    "mean_mass_g", "cocoons", "hatched", "n_hatchling", "n_juvenile", "n_adult", "n_clitellate",
    "dead", "food_left_g",
]  # fmt: skip
SMALL: dict[str, dict[str, Any]] = {
    "slab": {
        "layers": [{"thickness": "10 cm", "dry_kg_m3": 200, "water_kg_m3": 500},
                   {"thickness_m": 0.012, "material": "plywood"}],
        "top": {"kind": "series", "temps_c": [5, 0, -5], "h_w_m2k": 9},
        "base": {"kind": "fixed", "temp_c": 5}, "hours": 2,
    },
    "box": {"length": "4 ft", "width_m": 0.6, "depth_m": 0.2, "heat_w": 5.0, "days": 0.5,
            "walls": [{"material": "plywood", "thickness": "12 mm"}], "zones": 2},
    "shed": {"outdoor_c": [0.0, 1.0, 2.0, 5.0]},
    "drain": {"depth_m": 0.2, "moisture_frac": 0.85, "hours": 3},
    "dry": {"depth_m": 0.2, "moisture_frac": 0.75, "days": 0.25},
    "reactor": {"mix": [{"material": "kitchen scraps", "mass_kg": 1}], "days": 2, "temp_c": 20},
    "culture": {"worms": 5, "stage": "adult", "mass_g": 0.4, "area_m2": 0.01, "depth_m": 0.05,
                "temp_c": 20, "moisture_pct": 75, "material": "cow manure", "food_g": 100,
                "events": [{"day": 1, "food_g": 10}], "days": 3},
    "hatch": {"temp_c": 25},
    "choice": {"left": {"worms_kg": 0.05}, "right": {}, "days": 2},
}  # fmt: skip


@pytest.mark.parametrize("name", SIGNATURES)
def test_signature(name: str) -> None:
    found = [
        p.name if p.default is p.empty else f"{p.name}={p.default!r}"
        for p in inspect.signature(getattr(lab, name)).parameters.values()
    ]
    assert " ".join(found) == SIGNATURES[name]


def test_nothing_else_is_public() -> None:
    assert sorted(lab.__all__) == sorted(SIGNATURES)


@pytest.mark.parametrize("name", SMALL)
def test_json_and_function_agree(name: str) -> None:
    """`run` gives what the function gives, and JSON can hold it."""
    answer = lab.run(name, SMALL[name])
    assert json.loads(json.dumps(answer, allow_nan=False)) == answer
    spec, _ = EXPERIMENTS[name]
    direct = getattr(lab, name)(**spec.with_full_names(dict(SMALL[name])))
    assert list(direct) == list(answer)
    assert direct.as_dict() == answer


@pytest.mark.parametrize("name", SMALL)
def test_the_record_has_the_arguments_of_the_function(name: str) -> None:
    spec, _ = EXPERIMENTS[name]
    defaults = {
        p.name: p.default for p in inspect.signature(getattr(lab, name)).parameters.values()
    }
    assert set(spec.model_fields) == set(defaults)
    for field, info in spec.model_fields.items():
        if not info.is_required() and field != "events":
            assert info.default == defaults[field], field


@pytest.mark.parametrize("name", SMALL)
def test_every_function_and_field_is_described(name: str) -> None:
    function = getattr(lab, name)
    assert "raises" in function.__doc__.lower()
    result = inspect.signature(function, eval_str=True).return_annotation
    text = f"{result.__doc__} {function.__doc__}"
    for field in result.__dataclass_fields__:
        assert f"``{field}``" in text, f"{name}: {field}"
    spec, _ = EXPERIMENTS[name]
    for field in spec.model_fields:
        assert f"``{field}``" in function.__doc__, field


def test_culture_arrays_by_day() -> None:
    run = lab.culture(5, "hatchling", 0.01, 0.01, 0.05, 25.0, 80, "cow manure", 100, [], 40)
    for name in CULTURE_ARRAYS:
        assert run[name].shape == (41,), name
    assert run.mean_mass_g[0] == pytest.approx(0.01)
    assert run.food_left_g[0] == pytest.approx(100.0)
    assert run.mean_mass_g[40] > 0.1


@pytest.mark.parametrize(
    ("name", "change", "sentence"),
    [
        ("hatch", {"temp_c": "warm"}, "temp_c: This is 'warm', which is not a number."),
        ("hatch", {"temp_c": []}, "empty"),
        ("hatch", {"temps": 3}, "'temps' is not a key that is known here."),
        ("drain", {"depth_m": -1}, "less than the lowest"),
        ("drain", {"moisture_frac": 75}, "more than 0.98"),
        ("reactor", {"mix": [{"materal": "x"}]}, 'Did you mean "material"?'),
        ("reactor", {"mix": [{"material": "kitchn scraps", "mass_kg": 1}]}, "kitchen scraps"),
        ("reactor", {"vessel": {}}, "Give either temp_c (held) or a vessel"),
        ("reactor", {"params": {"fast_rate": 1}}, "There is no parameter 'fast_rate'."),
        ("culture", {"stage": "egg"}, "'egg' is none of"),
        ("culture", {"temp_c": [20.0]}, "This series has 1 days, but the run 3."),
        ("culture", {"events": [{"day": 1, "feed": 2}]}, "events[1].feed"),
        ("box", {"walls": [{"material": "plywod", "thickness_m": 0.01}]}, '"plywood"'),
        ("box", {"heat_w": [1.0]}, "There are 1 figures for 2 zones."),
        ("slab", {"top": {"kind": "convective"}}, "needs h_w_m2k"),
        ("slab", {"hours": 5}, "ends before the run"),
        ("slab", {"hours": float("nan")}, "hours"),
    ],
)
def test_faults_are_sentences(name: str, change: dict[str, Any], sentence: str) -> None:
    with pytest.raises(KeeperError) as caught:
        lab.run(name, SMALL[name] | change)
    assert sentence in str(caught.value)


def test_all_faults_at_once() -> None:
    with pytest.raises(FaultList) as caught:
        lab.run("culture", {"worms": -1, "stage": "egg", "mass_g": 0, "wings": 2})
    assert len(caught.value.faults) >= 10


@pytest.mark.parametrize("name", ["slabs", "", "__init__"])
def test_unknown_experiment(name: str) -> None:
    with pytest.raises(KeeperError, match="is not an experiment"):
        lab.run(name, {})
    with pytest.raises(KeeperError, match="object of keys"):
        lab.run("slab", [1])  # type: ignore[arg-type]


def test_a_result_is_also_a_mapping_by_name() -> None:
    run = lab.hatch(25.0)
    assert run["mean_d"] == run.mean_d
    with pytest.raises(KeyError):
        run["nothing"]
    assert np.isnan(lab.hatch(5.0, days=3).mean_d)
    assert lab.run("hatch", {"temp_c": 5.0, "days": 3})["mean_d"] is None


@pytest.mark.parametrize("name", SMALL)
def test_every_field_stands_in_the_docs(name: str) -> None:
    page = (Path(__file__).parents[3] / "docs" / "lab.md").read_text("utf-8")
    section = page.split(f"\n## {name}\n")[1].split("\n## ")[0] + page.split("\n## ")[0]
    result = inspect.signature(getattr(lab, name), eval_str=True).return_annotation
    spec, _ = EXPERIMENTS[name]
    for field in [*spec.model_fields, *result.__dataclass_fields__]:
        assert f"`{field}`" in section or f'"{field}"' in section, f"{name}: {field}"
