"""From log entries to acts: where, how much, and how sure."""

from __future__ import annotations

import datetime as dt

import numpy as np

from bedlore.bed import acts
from bedlore.bed.history import history_of, start_of
from bedlore.facts.parameters import draw
from bedlore.farm import log
from tests.unit.bed.beds import stack, two_sided

START = dt.datetime(2024, 9, 1, 12, tzinfo=dt.UTC)


def feed(**changes):
    part = log.Part(material="food_mixed_kitchen", mass_kg=2.0, mass_error_frac=0.3)
    given = {"id": "f1", "at": START + dt.timedelta(hours=30), "bed": "sluice", "parts": (part,)}
    return log.Feed(**(given | changes))


def rows_of(bed, entries):
    history = history_of(bed, entries, START, lambda _: 7.0)
    table = history.table()
    return history, table[table[:, acts.HOUR] > 0]


def test_the_start_is_noon_of_the_first_day() -> None:
    assert start_of(two_sided(), dt.UTC) == START


def test_a_feed_lands_in_its_zone_at_its_hour() -> None:
    _, rows = rows_of(two_sided(), [feed(zone="bank-1", place="lump")])
    (row,) = rows
    assert (row[acts.HOUR], row[acts.ZONE], row[acts.MASS_KG]) == (30, 2, 2.0)
    assert row[acts.LUMP_M] > 0.0
    assert row[acts.TEMP_C] == 7.0


def test_a_side_shares_what_it_is_given() -> None:
    _, rows = rows_of(two_sided(), [feed(zone="bank")])
    assert sorted(rows[:, acts.ZONE]) == [2, 3]
    assert rows[:, acts.MASS_KG].sum() == 2.0


def test_after_a_switch_a_feed_without_a_zone_goes_to_the_fed_side() -> None:
    switch = log.Switch(id="s", at=START + dt.timedelta(hours=5), bed="sluice", side="bank")
    _, rows = rows_of(two_sided(), [switch, feed()])
    assert set(rows[:, acts.ZONE]) == {2, 3}


def test_other_beds_are_passed_over() -> None:
    _, rows = rows_of(two_sided(), [feed(bed="weir")])
    assert len(rows) == 0


def test_a_new_line_never_changes_how_an_old_one_was_read() -> None:
    params = draw(50, 1)
    one, _ = rows_of(two_sided(), [feed(zone="bank-1")])
    later = feed(id="f2", at=START + dt.timedelta(hours=60), zone="bank-2")
    two, _ = rows_of(two_sided(), [feed(zone="bank-1"), later])
    a, b = one.factors(params), two.factors(params)
    assert np.array_equal(a, b[:, : a.shape[1]])
    assert 0.2 < np.log(b[:, -1]).std() < 0.5, "vague amounts spread over the members"


def test_trays_are_known_by_name_wherever_they_stand() -> None:
    move = log.Move(id="m", at=START + dt.timedelta(hours=3), bed="ladder", order=("c", "a", "b"))
    history, rows = rows_of(stack(), [move, feed(bed="ladder", zone="c")])
    assert history.position == {"c": 0, "a": 1, "b": 2}
    assert rows[-1, acts.ZONE] == 0


def test_insulating_board_is_no_cover_that_gets_wet() -> None:
    on = log.CoverChange(id="c", at=START + dt.timedelta(hours=3), bed="sluice",
                         material="extruded_polystyrene", thickness_m=0.05)  # fmt: skip
    _, rows = rows_of(two_sided(), [on])
    assert (rows[:, acts.KIND] == acts.FOAM).all()
    assert len(rows) == 4
    assert (rows[:, acts.VALUE_TOP] > 1.4).all()
