"""The record of outlooks given: each is kept once, whatever stands in the file."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from pathlib import Path

import pytest

from bedlore.learn.verify import PastOutlook
from bedlore.store import durable
from bedlore.store.learnings import JUDGED_D, OUTLOOKS, WHOLE_D, Learnings

HOUR = dt.datetime(2026, 3, 1, 6, tzinfo=dt.UTC)
GIVEN = PastOutlook("sluice", 'race, "front"', HOUR, ((4.0, 5.0), (4.5, 5.5)))


def test_an_outlook_is_kept_once_and_as_it_was_first_given(tmp_path: Path) -> None:
    store = Learnings(tmp_path)
    later = replace(GIVEN, made_at=HOUR + dt.timedelta(days=1))
    store.keep_outlooks([GIVEN])
    store.keep_outlooks([replace(GIVEN, temp_c=((9.0, 9.0), (9.0, 9.0))), later])
    store.keep_outlooks([GIVEN, later])
    assert store.outlooks() == [GIVEN, later]
    assert len((tmp_path / OUTLOOKS).read_text("utf-8").splitlines()) == 2


@pytest.mark.parametrize("spoilt", ["", "[1, 2]", '{"bed_id": "sluice"}', "torn"])
def test_a_spoilt_line_hides_no_outlook(tmp_path: Path, spoilt: str) -> None:
    store = Learnings(tmp_path)
    store.keep_outlooks([GIVEN])
    file = tmp_path / OUTLOOKS
    line = file.read_text("utf-8")
    file.write_text(line[:-9] + "\n" if spoilt == "torn" else spoilt + "\n", "utf-8")
    store.keep_outlooks([GIVEN])
    assert store.outlooks() == [GIVEN]


def test_a_spoilt_byte_spoils_its_own_line_only(tmp_path: Path) -> None:
    store = Learnings(tmp_path)
    store.keep_outlooks([GIVEN])
    with (tmp_path / OUTLOOKS).open("ab") as file:
        file.write(b"\xff\n")
    assert store.outlooks() == [GIVEN]


def test_the_record_is_not_written_beside_another_program(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(durable, "LOCK_WAIT_S", 0.05)
    store = Learnings(tmp_path)
    with durable.locked(tmp_path):
        store.keep_outlooks([GIVEN])
    assert store.outlooks() == []
    store.keep_outlooks([GIVEN])
    assert store.outlooks() == [GIVEN]


def test_lines_written_otherwise_are_known(tmp_path: Path) -> None:
    """Spaced or ordered by another hand, it is the same record."""
    store = Learnings(tmp_path)
    store.keep_outlooks([GIVEN])
    file = tmp_path / OUTLOOKS
    raw = json.loads(file.read_text("utf-8"))
    file.write_text(json.dumps(raw, sort_keys=True, separators=(",", ":")) + "\n", "utf-8")
    store.keep_outlooks([GIVEN])
    assert len(file.read_text("utf-8").splitlines()) == 1


def given(days: float) -> PastOutlook:
    return replace(GIVEN, made_at=HOUR + dt.timedelta(days=days))


def test_what_is_past_its_time_goes_so_that_the_record_ends_somewhere(tmp_path: Path) -> None:
    """All of the last weeks stay, before them the first of each day, nothing of the year before."""
    store = Learnings(tmp_path)
    hours = [day + hour / 24 for day in range(-500, 0) for hour in (0, 5)]
    for first in range(0, len(hours), 50):
        store.keep_outlooks([given(day) for day in hours[first:first + 50]])
    newest = hours[-1]
    wanted = [given(day) for day in hours
              if newest - day <= (JUDGED_D if day == int(day) else WHOLE_D)]  # fmt: skip
    assert store.outlooks() == wanted
    assert len((tmp_path / OUTLOOKS).read_bytes().splitlines()) < 1.2 * len(wanted)


def test_a_mistyped_year_throws_nothing_away(tmp_path: Path) -> None:
    store = Learnings(tmp_path)
    now = dt.datetime.now(dt.UTC)
    mine = [replace(GIVEN, made_at=now - dt.timedelta(hours=hours)) for hours in (30, 29, 1)]
    far = replace(GIVEN, made_at=now + dt.timedelta(days=9000))
    store.keep_outlooks(mine)
    store.keep_outlooks([far])
    assert store.outlooks() == [*mine, far]


def test_an_hour_of_no_place_spoils_its_own_line_only(tmp_path: Path) -> None:
    store = Learnings(tmp_path)
    store.keep_outlooks([GIVEN])
    file = tmp_path / OUTLOOKS
    line = file.read_text("utf-8")
    file.write_text(line.replace("+00:00", "") + line, "utf-8")
    assert store.outlooks() == [GIVEN]
