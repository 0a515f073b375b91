"""The usual cautions beside what a keeper describes."""

from __future__ import annotations

from importlib.resources import files

from bedlore.farm.cautions import cautions
from bedlore.farm.load import parse_farm

DEMO = files("bedlore.demo").joinpath("farm.toml").read_text("utf-8")


def said(text: str) -> dict[str, str]:
    return {caution.path: caution.sentence for caution in cautions(parse_farm(text))}


def test_a_strong_mat_under_the_whole_floor() -> None:
    mat = 'heat_mat = { watts = "400 W", setpoint = "28 degC", share_of_floor = 0.9 }\n'
    own = 'heat_mat = { watts = "60 W", setpoint = "5 degC", share_of_floor = 0.5 }\n'
    assert own in DEMO
    found = said(DEMO.replace(own, mat))
    path = "beds.sluice.heat_mat"
    assert "residual-current" in found[path]
    assert "half the floor" in found[f"{path}.share_of_floor"]
    assert "329 W/m2" in found[f"{path}.watts"]  # 400 W / (0.9 x 1.35 m2)
    assert "heat limit" in found[f"{path}.setpoint_c"]


def test_doubtful_materials_unless_held() -> None:
    found = said(DEMO)
    assert found["store.stale rye"].startswith("Stale rye: ")
    assert "store.walnut leaf" not in found
    assert "store.Walnut leaf" not in found
    released = said(DEMO.replace('mass = "5 kg"\nhold = true', 'mass = "5 kg"'))
    assert any("alnut" in path for path in released)


def test_a_tropical_species_in_the_cold() -> None:
    found = said(DEMO.replace('id = "sluice"', 'id = "sluice"\nspecies = "eudrilus_eugeniae"'))
    assert "warm countries" in found["beds.sluice.species"]


def test_crowding() -> None:
    found = said(DEMO.replace('worms = "0.5 kg"', 'worms = "9 kg"'))
    assert "crowded" in found["beds.sluice"]


def test_no_word_that_promises() -> None:
    for sentence in said(DEMO).values():
        assert not {"safe", "guaranteed", "cures", "kills"} & set(sentence.lower().split())
