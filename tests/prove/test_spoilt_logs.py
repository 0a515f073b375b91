"""Fifty spoilt logs: the truth lies inside the 95 % band, or the tool says that it cannot tell.

Ten ways in which logs go wrong, five farms each. "Says" is a complaint of the check
(:mod:`bedlore.learn.misfit`) or a refusal in a sentence.

The truth is three numbers: two temperatures and the herd. Each must lie in its own 95 % band,
which a learner without fault brings about in some 45 logs of 50 (0.95 once for the herd, and about
once and a half for two zones that go together). So what it takes to hold all three at once, each in
a band of 1 - 0.05/3 (Bonferroni), is filed beside it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from bedlore.errors import KeeperError
from bedlore.farm.log import AnyEntry
from benchmarks.filing import file_section, table
from tests.twin_trials import Trial, judge
from tests.twin_world import Cores, World, make_world

pytestmark = pytest.mark.prove
FARMS_EACH = 5
Entries = Sequence[AnyEntry]
Rng = np.random.Generator


def _changed(entries: Entries, kind: str, share: float, rng: Rng,
             change: Callable[[AnyEntry], dict[str, object]]) -> Entries:  # fmt: skip
    return [
        e.model_copy(update=change(e)) if e.kind == kind and rng.random() < share else e
        for e in entries
    ]


def _warm(temp_c: float) -> float:
    return float(np.clip(round(temp_c * 2) / 2, -39.0, 89.0))


def contradictory(entries: Entries, world: World, rng: Rng) -> Entries:
    """Half of the readings have a twin an hour on that reads 12 K more."""
    hour = (world.weather.end - world.weather.start) / len(world.weather)
    twins = [
        e.model_copy(update={"id": f"{e.id}-again", "at": e.at + hour,
                             "temp_c": _warm(e.temp_c + 12)})
        for e in entries if e.kind == "probe" and rng.random() < 0.5
    ]  # fmt: skip
    return [*entries, *(e for e in twins if e.at < world.now)]


def with_gap(entries: Entries, world: World, rng: Rng) -> Entries:
    """Nothing was written from a fifth of the time to nine tenths of it."""
    first, last = (world.start + f * (world.now - world.start) for f in (0.2, 0.9))
    return [e for e in entries if not first < e.at < last]


def stuck(entries: Entries, world: World, rng: Rng) -> Entries:
    """The thermometer shows one figure from the middle on."""
    since = world.start + 0.5 * (world.now - world.start)
    return [
        e.model_copy(update={"temp_c": 17.5}) if e.kind == "probe" and e.at > since else e
        for e in entries
    ]


def other_zone(entries: Entries, world: World, rng: Rng) -> Entries:
    """Half of the readings are written down for the wrong zone."""
    ids = [zone.id for zone in world.bed.zones]
    return _changed(_changed(entries, "probe", 0.5, rng, lambda e: {"zone": ids[e.zone == ids[0]]}),
                    "squeeze", 0.5, rng, lambda e: {"zone": ids[e.zone == ids[0]]})  # fmt: skip


def wrong_day(entries: Entries, world: World, rng: Rng) -> Entries:
    """Readings were written down up to three days late, as if just taken."""
    day = (world.now - world.start) / 60
    late = _changed(entries, "probe", 1.0, rng, lambda e: {"at": e.at + rng.uniform(0, 3) * day})
    return [e for e in late if e.at < world.now]


def any_words(entries: Entries, world: World, rng: Rng) -> Entries:
    """Squeezes and looks say anything."""
    entries = _changed(entries, "squeeze", 1.0, rng, lambda _: {
        "word": str(rng.choice(["crumbly", "damp", "drops", "runs"]))})  # fmt: skip
    return _changed(entries, "look", 1.0, rng, lambda _: {
        "food_left": str(rng.choice(["none", "some", "lots"]))})  # fmt: skip


def no_reading(entries: Entries, world: World, rng: Rng) -> Entries:
    """What was done is all that was written."""
    return [e for e in entries if e.kind in ("feed", "water")]


def one_reading(entries: Entries, world: World, rng: Rng) -> Entries:
    """A single reading."""
    return [e for e in entries if e.kind in ("feed", "water") or e.id == "r3"]


def fahrenheit(entries: Entries, world: World, rng: Rng) -> Entries:
    """Some figures are in the other unit."""
    return _changed(entries, "probe", 0.3, rng, lambda e: {"temp_c": _warm(1.8 * e.temp_c + 32)})


def slips(entries: Entries, world: World, rng: Rng) -> Entries:
    """A third of the readings are far off."""
    return _changed(entries, "probe", 0.33, rng, lambda e: {
        "temp_c": _warm(e.temp_c + float(rng.choice([-9, -6, 6, 9])))})  # fmt: skip


SPOILS: dict[str, Callable[[Entries, World, Rng], Entries]] = {
    "no reading": no_reading, "one reading": one_reading,
    "contradictory readings": contradictory, "Fahrenheit as Celsius": fahrenheit,
    "a stuck thermometer": stuck, "a third are slips": slips, "the wrong zone": other_zone,
    "a long gap": with_gap, "the wrong day": wrong_day, "words at random": any_words,
}  # fmt: skip


def within(trial: Trial, share: float = 0.95) -> bool:
    """Whether the temperatures in three days and the herd lie in the central band."""
    edge = 0.5 * (1.0 - share)
    return all(edge <= r <= 1.0 - edge for r in (*trial.temp_ranks[3], trial.herd_rank))


def test_fifty_spoilt_logs() -> None:
    rows, good, at_once = [], 0, 0
    for number, (name, spoil) in enumerate(SPOILS.items()):
        inside = said = 0
        for farm in range(FARMS_EACH):
            seed = 40_000 + number * FARMS_EACH + farm
            world = make_world(seed, days=60, per_fortnight=10, cores=Cores(6))
            spoilt = spoil(world.entries, world, np.random.default_rng([seed, 5]))
            try:
                trial = judge(replace(world, entries=tuple(spoilt)))
            except KeeperError:
                said, at_once = said + 1, at_once + 1
                continue
            inside += within(trial)
            at_once += within(trial, 1.0 - 0.05 / 3.0) or trial.complaints > 0
            said += not within(trial) and trial.complaints > 0
        good += inside + said
        rows.append((name, inside, said, FARMS_EACH))
    file_section("Spoilt logs", f"All three at once, or said: {at_once}.\n\n" + table(
        ("log", "truth within 95 %", "else said so", "of"),
        [*rows, ("all", sum(r[1] for r in rows), sum(r[2] for r in rows), 5 * len(rows))],
    ))  # fmt: skip
    assert good >= 47
