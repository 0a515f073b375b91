"""The farm file: every fault at once, in sentences, and nothing lost on the way back."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from bedlore.errors import FaultList, KeeperError
from bedlore.farm.load import MAX_FARM_BYTES, dump_farm, load_farm, parse_farm
from bedlore.farm.model import Farm

DEMO = files("bedlore.demo").joinpath("farm.toml").read_text("utf-8")

SMALL = """
name = "Small"
[site]
latitude = 46
[site.normals]
daily_low_c = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11]
daily_high_c = [5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16]
[[beds]]
id = "box"
length = "1.2 m"
width = "60 cm"
depth = "16 in"
started = 2024-09-01
walls = [{ material = "pine", thickness = "1 in" }]
"""


def fault_texts(text: str) -> dict[str, str]:
    with pytest.raises(FaultList) as caught:
        parse_farm(text)
    return {fault.path: fault.sentence for fault in caught.value.faults}


def changed(old: str, new: str) -> str:
    assert old in SMALL
    return SMALL.replace(old, new)


def test_the_demo_farm_loads() -> None:
    farm = parse_farm(DEMO)
    stocked = {bed.id: sum(zone.worms_kg for zone in bed.zones) for bed in farm.beds}
    assert stocked == pytest.approx({"sluice": 1.8, "ladder": 0.6, "weir": 2.0})
    assert farm.site.building.time_constant_h == 30.0
    assert farm.site.building.offset_k == 2.5


def test_dumping_and_reading_gives_the_same_farm() -> None:
    for text in (DEMO, SMALL):
        farm = parse_farm(text)
        assert parse_farm(dump_farm(farm)) == farm


def test_what_is_left_out_is_filled_in() -> None:
    bed = parse_farm(SMALL).beds[0]
    assert bed.place == "outdoors"
    assert bed.floor == bed.walls
    assert [(zone.id, zone.length_m) for zone in bed.zones] == [("all", 1.2)]
    assert bed.depth_m == pytest.approx(0.4064)


def test_a_building_takes_the_beds_in_with_its_priors() -> None:
    farm = parse_farm(SMALL + '[site.building]\nkind = "attached"\n')
    assert farm.beds[0].place == "indoors"
    building = farm.site.building
    assert (building.time_constant_h, building.offset_k, building.offset_sd_k) == (24.0, 6.0, 2.5)


def test_zones_without_length_share_what_is_left() -> None:
    zones = '[[beds.zones]]\nid="a"\nlength="60 cm"\n[[beds.zones]]\nid="b"\n[[beds.zones]]\nid="c"'
    bed = parse_farm(SMALL + zones).beds[0]
    assert [zone.length_m for zone in bed.zones] == pytest.approx([0.6, 0.3, 0.3])
    assert bed.side_names == ("a", "b", "c")


@pytest.mark.parametrize(
    ("lengths", "word"), [(("0.7 m", "0.7 m"), "overlap"), (("0.5 m", "0.5 m"), "gap")]
)
def test_zones_must_fit(lengths: tuple[str, str], word: str) -> None:
    zones = "".join(f'[[beds.zones]]\nid="z{i}"\nlength="{x}"\n' for i, x in enumerate(lengths))
    assert word in fault_texts(SMALL + zones)["beds.box.zones"]


def test_zones_fit_within_a_centimetre() -> None:
    zones = "".join(f'[[beds.zones]]\nid="{i}"\nlength="{x}"\n' for i, x in
                    (("a", "60 cm"), ("b", "609 mm")))
    assert len(parse_farm(SMALL + zones).beds[0].zones) == 2


def test_a_full_bed_has_no_room_for_another_zone() -> None:
    zones = '[[beds.zones]]\nid="a"\nlength="1.2 m"\n[[beds.zones]]\nid="b"\n'
    assert "No room" in fault_texts(SMALL + zones)["beds.box.zones.b.length_m"]


def test_a_stack_gets_its_depth_from_its_trays() -> None:
    text = changed('depth = "16 in"', 'kind = "stack"')
    trays = "".join(f'[[beds.zones]]\nid="t{i}"\ndepth="15 cm"\n' for i in range(4))
    assert parse_farm(text + trays).beds[0].depth_m == pytest.approx(0.60)


def test_every_fault_is_reported_at_once_with_its_path() -> None:
    text = changed('width = "60 cm"', 'width_m = 9\nfabrik = true').replace(
        'material = "pine"', 'material = "pien"').replace("latitude = 46", "latitude = 460")
    found = fault_texts(text + '[[beds.zones]]\nid="a"\nlength="1 m"\n[[beds.zones]]\nid="a"\n'
                        'length="1 m"\nworms="-1 kg"\n[[containers]]\nid="pot"\n'
                        '[[store]]\nmaterial="cofee grounds"\n')
    assert set(found) == {
        "site.latitude_deg", "beds.box.width_m", "beds.box.fabrik", "beds.box.walls.pien.material",
        "beds.box.zones.a.worms_kg", "containers.pot", "store.cofee grounds.material",
    }
    assert "unit" in found["beds.box.width_m"]
    assert '"fabric"' in found["beds.box.fabrik"]
    assert '"pine"' in found["beds.box.walls.pien.material"]
    assert '"coffee grounds"' in found["store.cofee grounds.material"]


def test_zones_are_checked_though_other_keys_are_wrong() -> None:
    text = changed('width = "60 cm"', "width_m = 9")
    found = fault_texts(text + '[[beds.zones]]\nid="a"\nlength="1 m"\n[[beds.zones]]\nid="a"\n'
                        'length="1 m"\n')
    assert {"beds.box.width_m", "beds.box.zones", "beds.box.zones.a.id"} <= set(found)


def test_ids_are_unique_and_indoors_needs_a_building() -> None:
    bed = SMALL[SMALL.index("[[beds]]"):]
    text = SMALL + bed.replace("started", 'place = "indoors"\nstarted')
    found = fault_texts(text)
    assert "Rename" in found["beds.box"]
    assert "no building" in found["beds.box.place"]


def test_months_count_and_lows_lie_below_highs() -> None:
    swapped = SMALL.replace("daily_low_c", "x").replace("daily_high_c", "daily_low_c").replace(
        "x =", "daily_high_c =")
    assert "swapped" in fault_texts(swapped)["site.normals"]
    short = changed(", 10, 11]", "]")
    assert "12 months" in fault_texts(short)["site.normals.daily_low_c"]


def test_limits_must_be_in_order() -> None:
    found = fault_texts(SMALL + "[limits]\nmoisture_low = 0.8\nmoisture_high = 0.7\n")
    assert "dry limit" in found["limits.moisture_low"]


def test_a_time_zone_is_suggested() -> None:
    found = fault_texts(changed("latitude = 46", 'latitude = 46\ntime_zone = "Europe/Viena"'))
    assert '"Europe/Vienna"' in found["site.time_zone"]


def test_a_later_format_is_refused_in_words() -> None:
    assert "format 1" in fault_texts("format = 2\n" + SMALL)["format"]


@pytest.mark.parametrize(
    ("text", "words"),
    [("", "empty"), ("  \n", "empty"), ("a = [", "TOML"), ("name = 'x\n", "missing quote"),
     ("a = " + "[" * 3000, "nested"), ("a = 1\na = 2\n", "line 2"), ("d = 2024-13-45", "TOML")],
)
def test_broken_toml_is_a_sentence(text: str, words: str) -> None:
    with pytest.raises(KeeperError, match=words):
        parse_farm(text)


def test_files_that_are_none(tmp_path: Path) -> None:
    with pytest.raises(KeeperError, match="folder"):
        load_farm(tmp_path)
    with pytest.raises(KeeperError, match="no such file"):
        load_farm(tmp_path / "farm.toml")
    for name, data, words in (
        ("latin.toml", b'x = 1\nname = "Caf\xe9"', "Line 2"),
        ("wide.toml", "name = 'x'".encode("utf-16"), "UTF-16"),
    ):
        (tmp_path / name).write_bytes(data)
        with pytest.raises(KeeperError, match=words):
            load_farm(tmp_path / name)


def test_a_huge_file_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "farm.toml"
    with path.open("wb") as file:
        file.truncate(MAX_FARM_BYTES + 1)
    with pytest.raises(KeeperError, match="20 MB"):
        load_farm(path)


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "farm.toml"
    path.write_text("\ufeff" + SMALL, "utf-8")
    assert isinstance(load_farm(path), Farm)
