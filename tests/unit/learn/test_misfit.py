"""What the model cannot explain, in words a keeper knows."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from bedlore.cli.learning import group_words
from bedlore.facts.parameters import BY_NAME
from bedlore.farm import log
from bedlore.learn.calibrate import calibrate
from bedlore.learn.misfit import complaints
from bedlore.learn.plain import PLAIN
from bedlore.learn.record import Fit, Learnt
from bedlore.learn.unknowns import learnt_parameters
from bedlore.say import again, speaking
from bedlore.service.learnt_words import read_words
from bedlore.service.shown import Shown
from tests.twin_world import make_world

BED = "sluice"
NAMES = ("the race", "the bank")


@pytest.fixture(scope="module")
def learnt() -> Learnt:
    """A bed that the model is right about, all of its readings close."""
    world = make_world(5, days=8, per_fortnight=10)
    known = calibrate([world.lesson(24)])[BED]
    return replace(known, z=np.zeros_like(known.z), fits=(), trace=None, model_error_k=0.4)


def fit(hour: int, away: float, *, outlier: bool = False, series: str = "temp:stick",
        zone: int = 0, about: str = "temp") -> Fit:  # fmt: skip
    """A reading ``away`` standard deviations of 1 K above what was expected."""
    return Fit(f"{series}{hour}", hour, (zone,), about, series, 10.0 + away, 10.0, 1.0, away, away,
               outlier)  # fmt: skip


def said(learnt: Learnt, fits: list[Fit]) -> list[str]:
    return [c.sentence for c in complaints(replace(learnt, fits=tuple(fits)), NAMES)]


def test_whatever_may_be_learnt_has_plain_words() -> None:
    assert set(learnt_parameters()) == set(PLAIN)


def test_a_pinned_parameter_is_said_in_plain_words(learnt) -> None:
    z = learnt.z.copy()
    z[:, learnt.unknowns.index[f"{BED}:wall_r_scale"]] = -3.1
    told = [c.sentence for c in complaints(replace(learnt, z=z), NAMES)]
    assert told == ["The log fits only if this goes beyond anything known: walls, floor and lid"
                    " keep heat in worse."]  # fmt: skip
    assert BY_NAME["wall_r_scale"].meaning not in told[0]


def test_what_a_keeper_has_no_words_for_is_no_complaint(learnt) -> None:
    hidden = next(n for n in BY_NAME if n not in PLAIN and n in learnt.unknowns.index)
    z = learnt.z.copy()
    z[:, learnt.unknowns.index[hidden]] = 4.0
    assert complaints(replace(learnt, z=z), NAMES) == ()


def test_zones_go_by_the_keepers_names(learnt) -> None:
    told = said(learnt, [fit(48 * i, 2.4) for i in range(8)])
    assert len(told) == 1
    assert "the race" in told[0]
    assert "'stick'" in told[0]


def shown(hours: Sequence[int], seen: Sequence[float], expected: Sequence[float]) -> list[Fit]:
    return [replace(fit(h, 0.0), seen=s, expected=e, away=s - e, prior_away=s - e)
            for h, s, e in zip(hours, seen, expected, strict=True)]  # fmt: skip


def test_a_thermometer_that_stays_put_while_the_bed_moves_is_called_stuck(learnt) -> None:
    """9 degC five times while the bed went from 11 to 5 degC: by 6 K, where 1 K may hide in a
    scale of 2 K, and the rest is 6.6 standard errors of two readings, 0.67 K."""
    hours, moves = (0, 40, 90, 130, 170, 210), (11.0, 10.0, 9.0, 7.5, 5.0, 5.5)
    told = said(learnt, shown(hours, (11.0, *(9.0,) * 5), (11.5, *moves[:-1])))
    assert [line for line in told if "stuck" in line] == [
        "The thermometer 'stick' showed 9 degC 5 times in a row while the model's bed moved by 6 K"
        " there: it may be stuck. Hold it in your hand, then in ice water: it should move within"
        " minutes."
    ]


@pytest.mark.parametrize(
    ("seen", "expected"),
    [
        ((9.0, 9.0, 9.0, 9.0, 9.0), (9.2, 9.0, 8.6, 8.2, 8.0)),  # a quiet bed
        ((9.0, 9.0, 9.0, 9.0, 9.0), (11.0, 10.0, 9.5, 8.5, 8.2)),  # as a coarse scale may hide
        ((11.0, 9.0, 9.0, 9.0, 5.0), (11.0, 10.0, 9.0, 5.0, 5.0)),  # too few in a row
        ((9.0, 9.0, 10.0, 9.0, 9.0), (12.0, 11.0, 9.0, 7.0, 5.0)),  # it does move
    ],
)
def test_what_may_be_chance_is_not_called_stuck(learnt, seen, expected) -> None:
    assert not [line for line in said(learnt, shown((0, 40, 90, 130, 170), seen, expected))
                if "stuck" in line]  # fmt: skip


def test_a_lone_thermometer_that_is_always_off_is_named(learnt) -> None:
    """Every reading is 5 K over, an outlier each time: none is left to test the rest by."""
    told = said(learnt, [fit(30 * i, 5.0, outlier=True, zone=i % 2) for i in range(9)])
    assert "The thermometer 'stick' in the race and the bank reads about 5 K warmer than anything" \
           " this bed could do." in told  # fmt: skip
    colder = said(learnt, [fit(30 * i, -5.0, outlier=True, series="offset:") for i in range(9)])
    assert any(line.startswith("The thermometer in the race reads about 5 K colder")
               for line in colder)  # fmt: skip
    assert len([line for line in told if "stick" in line]) == 1


def test_a_probe_left_in_the_air_now_and_then_accuses_no_thermometer(learnt) -> None:
    good = [fit(30 * i, 0.3 * (-1) ** i) for i in range(9)]
    left = [fit(300 + 30 * i, -6.0, outlier=True) for i in range(3)]
    assert said(learnt, [*good, *left]) == []
    both_ways = [fit(30 * i, 6.0 * (-1) ** i, outlier=True) for i in range(8)]
    assert not any("stick" in line for line in said(learnt, both_ways))
    twice = [fit(30 * i, 6.0, outlier=True) for i in range(2)]
    assert said(learnt, twice) == []


def test_a_third_of_the_readings_in_fahrenheit_accuse_no_thermometer(learnt) -> None:
    good = [fit(30 * i, 0.3 * (-1) ** i) for i in range(8)]
    wrong = [fit(300 + 30 * i, 30.0, outlier=True) for i in range(4)]
    assert not any("thermometer" in line for line in said(learnt, [*good, *wrong]))


def test_a_thermometer_to_which_learning_bends_the_bed_is_named(learnt) -> None:
    """After learning it fits; before, it lay beyond anything such a bed does."""
    bent = [replace(fit(48 * i, 0.1), prior_away=4.9) for i in range(8)]
    assert "warmer than anything this bed could do" in said(learnt, bent)[0]
    possible = [replace(fit(48 * i, 0.1), prior_away=2.5) for i in range(8)]
    assert said(learnt, possible) == []


def test_an_offset_that_no_thermometer_has_is_told_with_what_to_try(learnt) -> None:
    z = learnt.z.copy()
    z[:, learnt.unknowns.index["offset:stick"]] = 3.0
    told = complaints(replace(learnt, z=z, fits=(fit(5, 0.0, series="offset:stick"),)), NAMES)
    assert "1.5 K or more too warm" in told[0].sentence
    assert "at 0 degC" in told[0].sentence
    z[:, learnt.unknowns.index["offset:stick"]] = 1.5
    assert complaints(replace(learnt, z=z, fits=(fit(5, 0.0, series="offset:stick"),)), NAMES) == ()


def test_how_far_off_a_thermometer_reads_counts_what_was_learnt_of_it(learnt) -> None:
    """Learning has taken 1.5 K of 6.5 K already: it reads 6.5 K too warm all the same."""
    z = learnt.z.copy()
    z[:, learnt.unknowns.index["offset:stick"]] = 3.0
    off = [fit(30 * i, 5.0, outlier=True, series="offset:stick") for i in range(9)]
    told = said(replace(learnt, z=z), off)
    assert any("reads about 6.5 K warmer than anything" in line for line in told)


def test_two_keepers_who_write_opposite_words_of_one_handful_are_named(learnt) -> None:
    keepers = [s for s in learnt.unknowns.index if s.startswith("squeeze:")]
    z = learnt.z.copy()
    z[:, learnt.unknowns.index[keepers[0]]] = -5.0
    squeezes = [fit(30 * i, 0.3, series=keepers[0], about="moisture") for i in range(4)]
    (line,) = said(replace(learnt, z=z), squeezes)
    assert "15 points of water or more too dry" in line
    assert "agree on the word" in line
    z[:, learnt.unknowns.index[keepers[0]]] = 2.0
    assert said(replace(learnt, z=z), squeezes) == []


def test_how_far_a_bed_wanders_is_said_in_the_readers_degrees(learnt) -> None:
    sentence = complaints(replace(learnt, model_error_k=2.0), NAMES)[0].sentence
    assert "about 2 K" in sentence
    with speaking(units="us"):
        assert "about 3.5 degF" in again(sentence)


def test_an_odd_reading_is_told_in_the_readers_language_and_degrees() -> None:
    probe = log.Probe(id="p", at=dt.datetime(2025, 2, 12, 8, tzinfo=dt.UTC), bed=BED, temp_c=38.0)
    words = read_words(probe, dt.date(2025, 2, 12))
    assert Shown().sentence(words) == "a thermometer reading of 38 °C on 12 Feb"
    assert "100 °F" in Shown("us").sentence(words)
    count = log.Core(id="c", at=probe.at, bed=BED, volume_l=1.0, adults=0)
    assert read_words(count, dt.date(2025, 2, 12)) == "a count of worms on 12 Feb"


def test_one_reading_is_not_one_readings() -> None:
    card = {"group": "1 d ahead", "count": 1, "crps_k": 0.5, "covered_90": 1.0}
    assert group_words(card).startswith("1 day ahead: 1 reading, off by")
    assert "12 readings" in group_words({**card, "count": 12, "group": "Dec-Feb"})


def test_readings_in_the_other_unit_are_named_with_what_to_do(learnt) -> None:
    two = [replace(fit(h, 40.0, outlier=True), seen=50.0) for h in (30, 90)]  # 10 degC is 50 degF
    told = [c for c in complaints(replace(learnt, fits=tuple(two)), NAMES) if "°F" in c.sentence]
    assert [c.sentence for c in told] == [
        "2 readings of thermometers fit if they were in °F and were written down as °C: correct"
        " them in the log."
    ]
    assert told[0].entries == ("temp:stick30", "temp:stick90")
