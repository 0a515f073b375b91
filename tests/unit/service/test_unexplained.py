"""What learning cannot explain in a bed's log stands among the reasons of its advice."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest

from bedlore.decide.plan_advice import led_by
from bedlore.decide.records import Advice
from bedlore.farm import log
from bedlore.farm.load import parse_farm
from bedlore.farm.reading import LogReading
from bedlore.learn.misfit import complaints
from bedlore.service.learn import learn
from bedlore.service.morning import Morning, farm_members, morning
from bedlore.service.surroundings import Recorded
from bedlore.service.unexplained import bearing, unexplained
from bedlore.service.why import why_account
from bedlore.store.keepsakes import Keepsakes
from tests import morning_fake
from tests.small_farm import SPRING
from tests.unit.decide.plan_cases import COVERED, plan_of

NOW = dt.datetime(2025, 3, 22, 12, tzinfo=dt.UTC)
M = 24


def probes(*temps_c: float) -> LogReading:
    """A reading a day, the last one on the day before ``NOW``."""
    first = NOW - dt.timedelta(days=len(temps_c))
    every = [log.Probe(id=f"p{i}", at=first + dt.timedelta(days=i), bed="sluice", temp_c=temp_c,
                       device="stick") for i, temp_c in enumerate(temps_c)]  # fmt: skip
    return LogReading(tuple(every), (), ())


def told(log_: LogReading, folder: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[
    Morning, Keepsakes
]:  # fmt: skip
    few = farm_members(M)
    monkeypatch.setattr("bedlore.service.morning.farm_members", lambda: few)
    keeping = Keepsakes(folder)
    farm = parse_farm(SPRING)
    learn(farm, log_, Recorded(), NOW, keeping, members=M)
    return morning(farm, log_, Recorded(), NOW, keeping), keeping


def test_a_complaint_is_a_reason_on_the_page_and_in_why(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After a week the readings are those of a bed that something warms by 10 K."""
    log_ = probes(*[6.0] * 8, *[16.0, 16.3, 16.6] * 3)
    found, keeping = told(log_, tmp_path, monkeypatch)
    (bed,) = found.farm.beds
    learnt = keeping.learnt("sluice")
    assert learnt is not None
    strongest = complaints(learnt, [zone.called for zone in bed.zones])[0]
    reason = found.beds[0].advice.reasons[-1]
    assert reason.text == unexplained(learnt, bed)
    assert reason.text.startswith("The twin does not explain all of this bed's readings:")
    assert strongest.sentence in reason.text
    (why,) = why_account(found, log_.current, keeping)["beds"]
    assert reason.text in [one["text"] for one in why["reasons"]]
    assert keeping.morning(NOW) == found.beds  # kept, and read back


def test_a_log_that_is_explained_adds_no_reason(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found, _ = told(probes(8.0, 7.8, 7.6), tmp_path, monkeypatch)
    assert found.beds[0].rests.unexplained == ""
    assert not any("does not explain" in one.text for one in found.beds[0].advice.reasons)


def test_the_reason_stays_where_the_plan_leads() -> None:
    quick: Advice = replace(morning_fake.morning().beds[0].advice, made_at=morning_fake.NOW)
    assert bearing(quick, "") is quick
    doubted = bearing(quick, "The twin does not explain this.")
    led = led_by(plan_of(COVERED, bed_id=quick.bed_id, made_at=morning_fake.NOW), doubted)
    assert "The twin does not explain this." in [one.text for one in led.reasons]
