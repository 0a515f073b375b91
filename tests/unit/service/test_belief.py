"""What a morning rests on: as learnt, with a new reading, after changes, and from odd logs."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from bedlore.farm import log
from bedlore.farm.load import parse_farm
from bedlore.farm.model import Farm
from bedlore.farm.reading import LogReading
from bedlore.learn.misfit import complaints
from bedlore.learn.record import bed_key
from bedlore.learn.verify import SeenTemp, past_outlook
from bedlore.service.belief import Rests, beliefs_of
from bedlore.service.learn import learn, learn_account
from bedlore.service.learnt_words import few_words, rests_words
from bedlore.service.morning import farm_members, morning, situation_of, surround
from bedlore.service.score import bed_spread
from bedlore.service.surroundings import Recorded
from bedlore.store.learnings import Learnings
from tests.small_farm import SPRING

NOW = dt.datetime(2025, 3, 22, 12, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)
M = 24


def probe(number: int, hours: float, temp_c: float = 8.0, **more: object) -> log.Probe:
    return log.Probe(id=f"p{number}", at=NOW - hours * HOUR, bed="sluice", temp_c=temp_c,
                     device="stick", **more)  # fmt: skip


FEED = log.Feed(id="f1", at=NOW - 400 * HOUR, bed="sluice",
                parts=(log.Part(material="food_mixed_kitchen", mass_kg=1.0),))  # fmt: skip
READ = [probe(i, 60 + 48 * i, 8.0 - 0.2 * i) for i in range(7)]


@pytest.fixture(scope="module")
def farm() -> Farm:
    return parse_farm(SPRING)


def reading(*entries: log.AnyEntry) -> LogReading:
    return LogReading(tuple(entries), (), ())


@pytest.fixture
def store(farm: Farm, tmp_path: Path) -> Learnings:
    found = Learnings(tmp_path)
    learn(farm, reading(FEED, *READ), Recorded(), NOW, found, members=M)
    return found


def believe(farm: Farm, entries, store: Learnings, now: dt.datetime = NOW):
    usual = farm_members(M)
    around = surround(farm, Recorded(), usual, now)
    return beliefs_of(farm, farm.beds, entries, around, usual, store)["sluice"]


def test_nothing_learnt_is_what_is_usual(farm: Farm, tmp_path: Path) -> None:
    found = believe(farm, [FEED, *READ], Learnings(tmp_path))
    assert np.array_equal(found.params, farm_members(M))
    assert found.snapshot is None
    # It wanders from the model as much as learning takes it to before it has read anything.
    assert found.rests.doubt.wander_k == 0.5
    assert found.rests.wants_learning
    assert "Not learnt yet" in rests_words(found.rests, dt.UTC)


def test_what_was_learnt_is_used_with_its_state_and_its_wander(farm: Farm, store) -> None:
    found = believe(farm, [FEED, *READ], store)
    assert not np.array_equal(found.params, farm_members(M))
    assert found.snapshot is not None
    assert found.rests.model_error_k > 0.0
    assert "Learnt from 7 readings up to 20 Mar." in rests_words(found.rests, dt.UTC)
    bed, log_ = farm.beds[0], reading(FEED, *READ)
    there = situation_of(farm, bed, log_, found.surroundings, found.params, found.snapshot,
                         rests=found.rests)  # fmt: skip
    kept = store.learnt("sluice")
    assert there.twin.snapshot is found.snapshot  # nothing was replayed from the start
    assert np.allclose(there.twin.state.cells.temp_c, kept.state.cells.temp_c, atol=0.05)
    bare = situation_of(farm, bed, log_, found.surroundings, found.params, found.snapshot,
                        rests=Rests(model_error_k=0.0))  # fmt: skip
    wander = np.subtract(*(s.ahead.run.series("temp_probe_c")[:, ::24, 0] for s in (there, bare)))
    assert wander.std() == pytest.approx(found.rests.model_error_k, rel=0.25)


def test_a_new_reading_is_taken_in_and_kept(farm: Farm, store) -> None:
    found = believe(farm, [FEED, *READ, probe(9, 5, 12.0)], store)
    assert found.rests.readings == 8
    assert "p9" in store.learnt("sluice").read


def test_a_late_feed_leaves_the_parameters_and_says_so(farm: Farm, store) -> None:
    late = FEED.model_copy(update={"id": "f2", "at": NOW - 450 * HOUR})
    found = believe(farm, [FEED, late, *READ], store)
    assert found.snapshot is None
    assert not found.rests.whole
    assert not np.array_equal(found.params, farm_members(M))
    assert "has changed" in rests_words(found.rests, dt.UTC)


def test_a_bed_rebuilt_since_falls_back_on_what_is_usual(farm: Farm, store) -> None:
    bed = farm.beds[0]
    named = bed.model_copy(update={"name": "Other name", "note": "painted"})
    assert bed_key(named) == bed_key(bed)
    wider = farm.model_copy(update={"beds": (bed.model_copy(update={"width_m": 0.9}),)})
    found = believe(wider, [FEED, *READ], store)
    assert found.rests.standing == "rebuilt"
    assert np.array_equal(found.params, farm_members(M))
    assert "rebuilt since it was learnt" in rests_words(found.rests, dt.UTC)


def test_another_model_or_another_ensemble_is_not_used(farm: Farm, store, monkeypatch) -> None:
    usual = farm_members(M + 6)
    around = surround(farm, Recorded(), usual, NOW)
    found = beliefs_of(farm, farm.beds, [FEED, *READ], around, usual, store)["sluice"]
    assert found.rests.standing == "not_learnt"
    monkeypatch.setattr("bedlore.learn.record.model_hash", lambda: "another")
    assert believe(farm, [FEED, *READ], store).rests.standing == "not_learnt"


def test_outlooks_that_were_too_sure_widen_the_next(farm: Farm, tmp_path: Path) -> None:
    store, rng = Learnings(tmp_path), np.random.default_rng(4)
    seen = [probe(i, 24 * i + 3, float(8.0 + 2.0 * rng.standard_normal()), error_k=0.2)
            for i in range(15)]  # fmt: skip
    store.keep_outlooks(
        past_outlook("sluice", "race", one.at - 24 * HOUR, rng.normal(8.0, 0.7, (50, 14 * 24)))
        for one in seen
    )
    found = believe(farm, [FEED, *seen], store)
    assert found.rests.spread > 1.2
    assert found.rests.doubt.spread == found.rests.spread
    assert "wider" in rests_words(found.rests, dt.UTC)


def test_nothing_is_drawn_narrower_while_a_far_band_is_too_narrow() -> None:
    rng, made = np.random.default_rng(6), NOW - 40 * 24 * HOUR

    def spread(far_k: float) -> float:
        outlooks, seen = [], []
        for day in range(16):
            temp = 8.0 + rng.normal(0.0, 2.0, (80, 14 * 24 + 12))
            outlooks.append(past_outlook("sluice", "race", made + day * 24 * HOUR, temp))
            at = made + day * 24 * HOUR
            seen += [SeenTemp("sluice", "race", at + 23 * HOUR, 8.0 + 0.2 * rng.normal(), 0.2),
                     SeenTemp("sluice", "race", at + (14 * 24 - 2) * HOUR,
                              8.0 + far_k * rng.normal(), 0.2)]  # fmt: skip
        return bed_spread(seen, outlooks)

    assert spread(0.2) < 0.8
    assert spread(9.0) >= 1.0


def test_every_outlook_is_kept_before_its_outcome(
    farm: Farm, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    few = farm_members(M)
    monkeypatch.setattr("bedlore.service.morning.farm_members", lambda: few)

    class Keeping(Learnings):
        def snapshot(self, bed_id: str) -> None:
            return None

        def keep_snapshot(self, bed_id: str, snapshot: object) -> None:
            pass

        def advice_before(self, bed_id: str, day: dt.date) -> None:
            return None

        def keep_advice(self, advice: object) -> None:
            pass

        def morning(self, now: dt.datetime) -> None:
            return None

        def keep_morning(self, now: dt.datetime, beds: object) -> None:
            pass

    keeping = Keeping(tmp_path)
    told = morning(farm, reading(FEED, *READ), Recorded(), NOW, keeping)
    (kept,) = keeping.outlooks()
    assert (kept.bed_id, kept.zone_id, kept.made_at) == ("sluice", "race", NOW)
    middle = told.beds[0].outlook.zones["race"]["temp_probe_c"][2]
    assert kept.temp_c[0][5] == pytest.approx(middle[5], abs=0.1)
    morning(farm, reading(FEED, *READ), Recorded(), NOW, keeping)
    assert len(keeping.outlooks()) == 1


# --- logs that are not as they should be: wide, a sentence, never a fault ---------------------


@pytest.mark.parametrize(
    ("entries", "words"),
    [
        ([], "Without a reading"),
        ([probe(1, 30)], "One reading tells little"),
        ([probe(1, 30, -20.0), probe(2, 31, 60.0)], "2 readings tell little"),
    ],
)
def test_little_or_nonsense_is_said(farm: Farm, tmp_path: Path, entries, words: str) -> None:
    store = Learnings(tmp_path)
    learning = learn(farm, reading(FEED, *entries), Recorded(), NOW, store, members=M)
    (bed,) = learn_account(learning)["beds"]
    assert words in " ".join(bed["notes"])
    assert believe(farm, [FEED, *entries], store).params["wall_r_scale"].std() > 0.1


def test_a_gap_of_a_year_is_said_and_leaves_the_bed_wide(farm: Farm, tmp_path: Path) -> None:
    later = NOW + dt.timedelta(days=370)
    last = log.Probe(id="late", at=later - 30 * HOUR, bed="sluice", temp_c=7.0, device="stick")
    store = Learnings(tmp_path)
    learning = learn(farm, reading(FEED, *READ, last), Recorded(), later, store, members=8)
    learnt = learning.beds["sluice"]
    notes = few_words(learnt, last.at)
    assert any("days nothing was read" in note for note in notes)
    assert np.isfinite(learnt.state.cells.temp_c).all()
    worms = learnt.state.herd.adult_n.sum(axis=1) + learnt.state.herd.juvenile_n.sum(axis=1)
    assert np.log(np.maximum(worms, 1.0)).std() > 0.15


def test_a_bed_that_was_rebuilt_midway_is_noticed(farm: Farm, tmp_path: Path) -> None:
    """After a week its readings are those of a bed that something warms by 9 K."""
    before = [probe(i, 480 - 24 * i, 6.0) for i in range(8)]
    after = [probe(20 + i, 250 - 24 * i, 16.0 + 0.3 * (i % 3)) for i in range(10)]
    steady = [replace_temp(one, 6.0) for one in after]
    found = {}
    for name, entries in (("rebuilt", after), ("steady", steady)):
        store = Learnings(tmp_path / name)
        log_ = reading(FEED, *before, *entries)
        found[name] = learn(farm, log_, Recorded(), NOW, store, members=M).beds["sluice"]
    rebuilt, plain = found["rebuilt"], found["steady"]
    assert rebuilt.model_error_k > plain.model_error_k
    assert complaints(rebuilt, ["race"])
    assert np.isfinite(rebuilt.z).all()


def replace_temp(one: log.Probe, temp_c: float) -> log.Probe:
    return one.model_copy(update={"temp_c": temp_c})


def test_notes_are_silent_of_a_good_log(farm: Farm, store) -> None:
    assert few_words(replace(store.learnt("sluice")), NOW - 60 * HOUR) == ()
