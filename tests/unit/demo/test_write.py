"""The invented farm in a folder: complete, readable, and never over somebody's own."""

from __future__ import annotations

import datetime as dt
import itertools
from collections import Counter
from pathlib import Path

import pytest

from bedlore.demo import demo_days, write_demo
from bedlore.errors import KeeperError
from bedlore.store.files import FarmFolder
from bedlore.store.weather_files import recorded_weather


def test_the_whole_story_is_read_without_a_fault(tmp_path: Path) -> None:
    written = write_demo(tmp_path / "mill")
    store = FarmFolder(tmp_path / "mill")
    farm = store.load_farm()
    now = dt.datetime.fromisoformat((tmp_path / "mill" / "as_of.txt").read_text().strip())
    log = store.read_log(farm, now)
    assert now == dt.datetime(2026, 3, 1, 6, tzinfo=dt.UTC)
    assert not log.faults
    assert not log.kept_aside
    assert all(path.is_file() for path in written)
    kinds = Counter(entry.kind for entry in log.current)
    assert 140 <= kinds["feed"] <= 160
    assert 180 <= kinds["look"] + kinds["squeeze"] <= 200
    assert (kinds["core"], kinds["harvest"], kinds["switch"] + kinds["move"]) == (26, 9, 14)
    assert sum(entry.amends is not None for entry in log.entries) == 11
    assert 620 <= len(log.entries) <= 660
    assert {entry.bed for entry in log.current} == {"sluice", "ladder", "weir"}


def test_the_sensor_hangs_for_nine_days(tmp_path: Path) -> None:
    write_demo(tmp_path / "mill")
    store = FarmFolder(tmp_path / "mill")
    entries = store.read_log(store.load_farm()).current
    shown = {e.at.date(): e.temp_c for e in entries
             if e.kind == "probe" and e.device == "sluice sensor"}  # fmt: skip
    hanging = [shown[dt.date(2026, 1, day)] for day in range(11, 20)]
    assert len(set(hanging)) == 1
    rest = [temp for day, temp in shown.items() if day > dt.date(2026, 1, 19)]
    same = sum(a == b for a, b in itertools.pairwise(rest))
    assert same < len(rest) / 3


def test_the_weather_is_understood(tmp_path: Path) -> None:
    write_demo(tmp_path / "mill")
    farm = FarmFolder(tmp_path / "mill").load_farm()
    recorded = recorded_weather(tmp_path / "mill", farm.site)
    assert recorded.series is not None
    assert recorded.series.temp_c.min() == pytest.approx(-19.0, abs=1.0)  # between whole hours
    assert len(recorded.known.typed) == 6
    assert recorded.known.typed[0].day == dt.date(2026, 3, 1)


def test_an_earlier_morning_knows_nothing_of_later(tmp_path: Path) -> None:
    today = dt.date(2025, 7, 12)
    write_demo(tmp_path / "mill", today)
    store = FarmFolder(tmp_path / "mill")
    farm = store.load_farm()
    entries = store.read_log(farm).entries
    morning = dt.datetime(2025, 7, 12, tzinfo=farm.site.zone_info())
    assert max(entry.at for entry in entries) < morning
    assert entries[-1].at > morning - dt.timedelta(days=2)
    recorded = recorded_weather(tmp_path / "mill", farm.site)
    assert recorded.series is not None
    assert recorded.series.end <= morning + dt.timedelta(hours=3)
    assert [typed.day.day for typed in recorded.known.typed] == [12, 13, 14, 15, 16, 17]
    assert (tmp_path / "mill" / "as_of.txt").read_text() == "2025-07-12T07:00+02:00\n"


def test_the_last_morning_is_the_same_as_none(tmp_path: Path) -> None:
    first, last = demo_days()
    write_demo(tmp_path / "a")
    write_demo(tmp_path / "b", last)
    for path in (tmp_path / "a").rglob("*.*"):
        assert path.read_bytes() == (tmp_path / "b" / path.relative_to(tmp_path / "a")).read_bytes()
    with pytest.raises(KeeperError, match="knows"):
        write_demo(tmp_path / "c", last + dt.timedelta(days=1))
    with pytest.raises(KeeperError, match="knows"):
        write_demo(tmp_path / "c", first - dt.timedelta(days=1))
    assert not (tmp_path / "c").exists()


def test_a_keepers_farm_is_left_alone(tmp_path: Path) -> None:
    own = tmp_path / "farm.toml"
    own.write_text("mine")
    with pytest.raises(KeeperError, match="kept in this folder already"):
        write_demo(tmp_path)
    assert own.read_text() == "mine"
    assert [path.name for path in tmp_path.iterdir()] == ["farm.toml"]


def test_a_folder_with_other_things_or_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("dear")
    with pytest.raises(KeeperError, match="not empty"):
        write_demo(tmp_path)
    with pytest.raises(KeeperError, match="file of this name"):
        write_demo(tmp_path / "letter.txt")
