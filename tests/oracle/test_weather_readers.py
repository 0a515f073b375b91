"""TMY3 and EPW readers against pvlib's (an independent reader of the same layouts)."""

from __future__ import annotations

import csv
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from pvlib.iotools import read_epw as pvlib_epw
from pvlib.iotools import read_tmy3 as pvlib_tmy3

from bedlore.errors import KeeperError
from bedlore.weather.epw import read_epw
from bedlore.weather.read import read_weather
from bedlore.weather.tmy3 import read_tmy3
from tests.weather_files import SEATTLE, greensboro_tmy3, sand_point_tmy3

COLUMNS = {"temp_c": ("temp_air", 1.0), "rh_frac": ("relative_humidity", 0.01),
           "wind_m_s": ("wind_speed", 1.0), "ghi_w_m2": ("ghi", 1.0)}


def assert_same(series, frame):
    assert len(series) == len(frame)
    assert series.start == frame.index[0].to_pydatetime().astimezone(UTC)
    for name, (column, factor) in COLUMNS.items():
        assert getattr(series, name) == pytest.approx(frame[column].to_numpy() * factor, abs=1e-9)


@pytest.mark.parametrize("path", [greensboro_tmy3(), sand_point_tmy3()], ids=lambda p: p.stem)
def test_tmy3_as_pvlib_reads_it(path):
    frame, meta = pvlib_tmy3(path, coerce_year=2023, map_variables=True)
    station = read_tmy3(path, 2023)
    assert_same(station.series, frame)
    assert station.series.notes == ()
    assert (station.latitude_deg, station.longitude_deg, station.altitude_m) == (
        meta["latitude"], meta["longitude"], meta["altitude"])


def write_epw(path: Path, hours: int = 8760, offset_h: float = 1.0, year: int = 2023) -> None:
    """A small EPW file of invented weather, one value of each kind changed every hour."""
    rows = [["LOCATION", "Testfeld", "-", "XXX", "invented", "000000", "47.1", "9.5",
             str(offset_h), "460.0"]]
    rows += [[name] for name in ("DESIGN CONDITIONS", "TYPICAL/EXTREME PERIODS",
                                 "GROUND TEMPERATURES", "HOLIDAYS/DAYLIGHT SAVINGS",
                                 "COMMENTS 1", "COMMENTS 2", "DATA PERIODS")]
    day0 = np.datetime64(f"{year}-01-01")
    for hour in range(hours):
        day = (day0 + hour // 24).astype(object)
        temp = round(10 - 12 * np.cos(2 * np.pi * hour / hours) + 5 * np.sin(hour / 3.8), 1)
        fields = ["0"] * 35
        fields[:6] = [str(day.year), str(day.month), str(day.day), str(hour % 24 + 1), "60", "?9"]
        fields[6], fields[7] = str(temp), str(temp - 3)
        fields[8], fields[9] = str(40 + hour % 55), "96000"
        fields[13], fields[21] = str(hour % 24 * 30), str(round(hour % 70 / 10, 1))
        rows.append(fields)
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(rows)


def test_epw_as_pvlib_reads_it(tmp_path):
    path = tmp_path / "field.epw"
    write_epw(path)
    frame, meta = pvlib_epw(path)
    station = read_epw(path, 2023)
    # pvlib stamps the start of each hour, we its end; the values are the same.
    assert_same(station.series, frame.set_index(frame.index + np.timedelta64(1, "h")))
    assert station.altitude_m == meta["altitude"]


def test_leap_day_of_an_epw_file_is_left_out(tmp_path):
    path = tmp_path / "leap.epw"
    write_epw(path, hours=8784, year=2024)
    series = read_epw(path, 2023).series
    assert len(series) == 8760
    after = np.flatnonzero([h.astimezone(UTC) == datetime(2023, 3, 1, 0, tzinfo=UTC)
                            for h in series.hours()])[0]
    frame, _ = pvlib_epw(path)
    assert series.temp_c[after] == frame["temp_air"].to_numpy()[60 * 24]


def test_half_hour_zone_moves_to_whole_hours_and_says_so(tmp_path):
    path = tmp_path / "half.epw"
    write_epw(path, offset_h=5.5)
    series = read_epw(path, 2023).series
    assert series.start.minute == 0
    assert any("30 minutes" in note for note in series.notes)


def test_leap_year_repeats_a_day(tmp_path):
    path = tmp_path / "field.epw"
    write_epw(path)
    assert len(read_epw(path, 2024).series) == 8784




def test_missing_tmy3_hours_are_filled_and_noted(tmp_path):
    lines = greensboro_tmy3().read_text().splitlines()
    columns = lines[1].split(",")
    at = columns.index("Dry-bulb (C)")
    for line in range(2000, 2004):
        fields = lines[line].split(",")
        fields[at] = "-9900"
        lines[line] = ",".join(fields)
    path = tmp_path / "gap.csv"
    path.write_text("\n".join(lines))
    series = read_tmy3(path).series
    assert series.notes == ("temperature: 4 missing hours filled by straight lines.",)
    whole = read_tmy3(greensboro_tmy3()).series
    assert series.temp_c[2000:2003] == pytest.approx(
        np.interp([2000, 2001, 2002], [1997, 2002], whole.temp_c[[1997, 2002]]), abs=3.0)
    assert (series.temp_c[:1998] == whole.temp_c[:1998]).all()


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda text: text[:200_000], "hours instead of 8760"),
        (lambda text: text.replace("Dry-bulb (C)", "Other"), "column Dry-bulb (C) is missing"),
        (lambda text: text.replace("36.100", "north"), "no numbers for the place"),
        (lambda text: text.replace("01/01/1988,03:00", "01/01/1988,05:00"), "out of order"),
        (lambda text: text[:0], "empty"),
    ],
)
def test_damaged_tmy3_is_refused_with_a_sentence(tmp_path, change, sentence):
    path = tmp_path / "bad.csv"
    path.write_text(change(greensboro_tmy3().read_text()))
    with pytest.raises(KeeperError, match=sentence.replace("(", r"\(").replace(")", r"\)")):
        read_tmy3(path)


@pytest.mark.parametrize("content", [b"", b"LOCATION,x\n", b"\x00\x01\x02", b"\xff\xfe,,,"])
def test_damaged_epw_is_refused_with_a_sentence(tmp_path, content):
    path = tmp_path / "bad.epw"
    path.write_bytes(content)
    with pytest.raises(KeeperError):
        read_epw(path)


def test_files_are_told_apart(tmp_path):
    epw, table = tmp_path / "a.txt", tmp_path / "b.txt"
    write_epw(epw)
    table.write_text("date,low_c,high_c\n2026-01-01,-3,2\n2026-01-02,-4,1\n")
    sources = [read_weather(path, SEATTLE).source for path in (greensboro_tmy3(), epw, table)]
    assert sources == ["TMY3 typical year, Greensboro Piedmont Triad Int",
                       "EPW weather year, Testfeld", "table of days b.txt"]
