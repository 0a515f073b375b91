"""Plain weather tables: units, clock changes, gaps, and sentences for what cannot be used."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedlore.errors import KeeperError
from bedlore.weather.diurnal import daily_low_high
from bedlore.weather.gaps import fill_hourly
from bedlore.weather.sun import solar_clock
from bedlore.weather.tables import read_table
from tests.weather_files import SEATTLE, Spot, seattle_daily

VIENNA = Spot(48.2, 16.4, 170.0, "Europe/Vienna")


@pytest.fixture
def table(tmp_path):
    def write(*lines: str, name: str = "weather.csv"):
        path = tmp_path / name
        path.write_text("\n".join(lines), encoding="utf-8")
        return path

    return write


def hourly_lines(header: str, day: str, hours: range, value=lambda hour: str(hour)) -> list[str]:
    return [header] + [f"{day} {hour:02d}:00,{value(hour)}" for hour in hours]


@pytest.mark.parametrize(
    ("header", "cell"),
    [("time,temp_c", "10"), ("time,temp_degF", "50"), ("when,Temperature (degF)", "50"),
     ("datetime,air_temp [°C]", "10"), ("Time,temp degC", "10.0"), ("timestamp,temp_f", "50")],
)
def test_unit_in_the_header(table, header, cell):
    lines = hourly_lines(header, "2026-02-03", range(24), lambda _: cell)
    series = read_table(table(*lines), VIENNA)
    assert len(series) == 24
    assert series.start == datetime(2026, 2, 2, 23, tzinfo=UTC)
    assert series.temp_c == pytest.approx(10.0)
    assert any("Humidity is not given" in note for note in series.notes)


def test_header_without_unit_is_refused_unless_told(table):
    path = table(*hourly_lines("time,temp", "2026-02-03", range(24)))
    with pytest.raises(KeeperError, match="does not say degC or degF"):
        read_table(path, VIENNA)
    assert read_table(path, VIENNA, "degC").temp_c[5] == 5.0


def test_other_columns_and_their_units(table):
    lines = ["time;temp_c;rh_pct;wind_km_h;ghi_w_m2;colour"]
    lines += [f"2026-02-03T{hour:02d}:00;4,5;80;36;{hour};red" for hour in range(24)]
    series = read_table(table(*lines), VIENNA)
    assert series.temp_c == pytest.approx(4.5)
    assert series.rh_frac == pytest.approx(0.8)
    assert series.wind_m_s == pytest.approx(10.0)
    assert series.ghi_w_m2.tolist() == list(range(24))
    assert series.notes == ("Columns not used: colour.",)


def test_autumn_hour_twice_and_spring_hour_skipped(table):
    local = [*range(3), 2, *range(3, 24)]  # 25 October 2026 has 25 hours in Vienna
    lines = ["time,temp_c"]
    lines += [f"2026-10-25 {hour:02d}:00,{n}" for n, hour in enumerate(local)]
    series = read_table(table(*lines), VIENNA)
    assert series.temp_c.tolist() == list(range(25))
    lines = hourly_lines("time,temp_c", "2026-03-29", range(24))
    series = read_table(table(*lines), VIENNA)
    assert len(series) == 23
    assert any("clock skips in spring" in note for note in series.notes)


def test_offsets_win_over_the_farm_clock(table):
    lines = ["time,temp_c"] + [f"2026-02-03T{hour:02d}:00:00Z,{hour}" for hour in range(24)]
    assert read_table(table(*lines), VIENNA).start == datetime(2026, 2, 3, tzinfo=UTC)


def test_odd_minutes_disorder_and_repeats(table):
    lines = hourly_lines("time,temp_c", "2026-02-03", range(23, -1, -1))
    lines = [line.replace(":00,", ":30,") for line in lines]
    series = read_table(table(*lines, "2026-02-03 00:30,0"), VIENNA)
    assert series.temp_c == pytest.approx(np.arange(23) + 0.5)
    assert any("out of order" in note for note in series.notes)
    assert any("repeats a time" in note for note in series.notes)


def test_short_gaps_are_filled_and_long_ones_refused(table):
    lines = hourly_lines("time,temp_c", "2026-02-03", range(24))
    del lines[6:9]
    series = read_table(table(*lines), VIENNA)
    assert series.temp_c.tolist() == list(range(24))
    assert "temperature: 3 missing hours filled by straight lines." in series.notes
    far = lines + hourly_lines("", "2026-02-20", range(24))[1:]
    with pytest.raises(KeeperError, match="temperature is missing for 384 hours from 2026-02-03"):
        read_table(table(*far), VIENNA)


def test_day_long_gap_keeps_the_daily_swing():
    hours = np.arange(240)
    truth = 3 + 6 * np.sin(2 * np.pi * hours / 24)
    holed = truth.copy()
    holed[100:140] = np.nan
    filled, notes = fill_hourly(holed, "temperature", datetime(2026, 1, 1, tzinfo=UTC), "x")
    assert filled == pytest.approx(truth, abs=1e-9)
    assert notes == ["temperature: 40 missing hours filled from the days around them."]


@given(st.integers(0, 119), st.integers(1, 72))
def test_filled_gaps_stay_near_their_surroundings(first, length):
    values = 5 * np.sin(2 * np.pi * np.arange(120) / 24)
    holed = values.copy()
    holed[first:first + length] = np.nan
    if np.isnan(holed).all():
        return
    filled, _ = fill_hourly(holed, "temperature", datetime(2026, 1, 1, tzinfo=UTC), "x")
    assert np.isfinite(filled).all()
    assert np.abs(filled).max() < 16


def test_days_become_hours_with_the_same_lows_and_highs():
    series = read_table(seattle_daily(), SEATTLE, "degC")
    assert len(series) == 24 * 1461
    clock = solar_clock(series.start, len(series), SEATTLE.longitude_deg)
    low, high = daily_low_high(series.temp_c, clock)
    rows = [line.split(",") for line in seattle_daily().read_text().splitlines()[1:]]
    given_high = np.array([float(row[2]) for row in rows])
    given_low = np.array([float(row[3]) for row in rows])
    whole = np.isfinite(low)
    assert whole.sum() == 1461
    assert np.abs(high[whole] - given_high).max() < 1.0
    # The night curve of Parton & Logan stops a tenth short of the low, and evenings may fall
    # below it towards a colder morning.
    assert np.median(np.abs(low[whole] - given_low)) < 0.6
    assert abs(np.mean(low[whole] - given_low)) < 0.5
    assert any("Sunshine is not given" in note for note in series.notes)


def test_daily_gaps(table):
    lines = ["date,low_c,high_c"] + [f"2026-02-{day:02d},{day},{day + 5}" for day in range(1, 25)]
    del lines[5:7]
    series = read_table(table(*lines), VIENNA)
    assert "temperature: 2 missing days filled by straight lines." in series.notes
    del lines[10:15]
    with pytest.raises(KeeperError, match="missing for 5 days from 2026-02-12"):
        read_table(table(*lines), VIENNA)


@pytest.mark.parametrize(
    ("lines", "sentence"),
    [
        (["time,colour", "2026-02-03 00:00,1"], "no column holds temperatures"),
        (["temp_c,rh", "1,2"], "no column holds the time"),
        (["time,temp_c"], "header but no row"),
        (["time,temp_c", "3.2.26,1", "2026-02-03 01:00,2"], "line 2: '3.2.26' is no time"),
        (["time,temp_c", "2026-02-03 00:00,warm", "2026-02-03 01:00,2"], "'warm' is no number"),
        (["time,temp_c", "2026-02-03 00:00,400", "2026-02-03 01:00,2"], "no outdoor temperature"),
        (["time,temp_c", "2026-02-03 00:00,1"], "fewer than two hours"),
        (["date,low_c,high_c", "2026-02-03,9,1"], "the low is above the high"),
        (["date,low_c", "2026-02-03,9"], "needs a low and a high"),
        (["date,temp_c", "2026-02-03,9", "2026-02-04,9"], "a date but no hour"),
        (["time,temp_c,rh_pct", "2026-02-03 00:00,1,300"], "no humidity"),
        (["date,low_c,high_c", "0001-01-01,1,2", "2026-02-03,1,2"], "the year 1 cannot be"),
        (["time,temp_c", '"' + "x" * 200_000], "no table of text"),
        ([""], "empty"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_sentences(table, lines, sentence):
    with pytest.raises(KeeperError, match=sentence):
        read_table(table(*lines), VIENNA)


def test_a_thousand_faults_are_not_all_printed(table):
    lines = hourly_lines("time,temp_c", "2026-02-03", range(24), lambda _: "x") * 50
    with pytest.raises(KeeperError, match="more faults of this kind") as caught:
        read_table(table(*lines), VIENNA)
    assert str(caught.value).count("\n") == 20


def test_missing_and_oversized_files(tmp_path):
    with pytest.raises(KeeperError, match="cannot be read"):
        read_table(tmp_path / "none.csv", VIENNA)
    big = tmp_path / "big.csv"
    with big.open("wb") as file:
        file.truncate(100 * 2**20)
    with pytest.raises(KeeperError, match="too large"):
        read_table(big, VIENNA)


@given(st.binary(max_size=300))
def test_no_bytes_bring_a_traceback(tmp_path_factory, content):
    path = tmp_path_factory.mktemp("bytes") / "any.csv"
    path.write_bytes(b"time,temp_c\n2026-02-03 00:00," + content)
    try:
        series = read_table(path, VIENNA)
    except KeeperError:
        return
    assert np.isfinite(series.temp_c).all()
