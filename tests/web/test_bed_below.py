"""What stands lower on a bed's page: what was learnt, the herd, dates and shelter, as stored."""

from __future__ import annotations

import datetime as dt
import html
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any
from unittest.mock import Mock

import numpy as np
import pytest
from django.test import Client

from bedlore.decide.date_words import brief
from bedlore.farm.load import parse_farm
from bedlore.learn.misfit import complaints
from bedlore.learn.record import Learnt, from_bytes, to_bytes
from bedlore.service import beds_now, shelter
from bedlore.service.book import ToWrite
from bedlore.service.learnt_told import learnt_told
from bedlore.service.morning import farm_members
from bedlore.service.shown import Shown
from bedlore.store.db.doors import give_role
from bedlore.store.db.farm_store import add_farm, farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import Account, FarmRow, JobRun
from bedlore.web import errands, wiring
from tests.small_farm import farm_text
from tests.web.below_cases import NOW, PAGE, learnt_bed, probe, rest_dates, shelters, spring_row
from tests.web.conftest import INES, tell_morning

pytestmark = pytest.mark.django_db
Browser = Callable[[str], Client]
@pytest.fixture(autouse=True)
def own_folder(settings: Any, tmp_path: Path) -> None:
    """What one test keeps is not found by the next."""
    settings.DATA_FOLDER = tmp_path


@pytest.fixture(scope="module")
def learnt_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return to_bytes(learnt_bed(tmp_path_factory.mktemp("learnt")))


@pytest.fixture
def learnt(learnt_bytes: bytes) -> Learnt:
    found = from_bytes(learnt_bytes)
    assert found is not None
    return found


@pytest.fixture
def row(people: dict[str, Account]) -> FarmRow:
    row = spring_row()
    for role in ("keeper", "helper", "viewer"):
        give_role(people[role].pk, row.pk, role, NOW)
    return row


def page_of(client: Client) -> str:
    answer = client.get(PAGE)
    assert answer.status_code == 200
    return html.unescape(answer.content.decode())


def section(page: str, name: str) -> str:
    """One section of the page, by the id of its heading."""
    found = re.search(rf'<section aria-labelledby="{name}">.*?</section>', page, re.DOTALL)
    return found[0] if found else ""


def test_a_bed_that_was_not_learnt_says_what_it_takes(row: FarmRow, as_: Browser) -> None:
    page = page_of(as_("viewer"))
    assert "Not learnt yet" in section(page, "learnt")
    assert "It takes 5 entries or more" in section(page, "learnt")
    assert section(page, "herd") == ""


def test_where_time_stands_still_no_night_is_promised(row: FarmRow, as_: Browser) -> None:
    def told() -> tuple[str, str]:
        scores = html.unescape(as_("viewer").get("/farms/spring/score-card/").content.decode())
        return section(page_of(as_("viewer")), "learnt"), section(scores, "learning")

    for said in told():
        assert "a keeper asks for" in said
        assert "night's work" not in said
        assert "It happens at night" not in said
    FarmRow.objects.update(as_of=None)
    bed, scores = told()
    assert "Then a night's work learns it" in bed
    assert "It happens at night" in scores


def test_what_was_learnt_is_shown_with_what_does_not_fit_and_what_weighs_little(
    row: FarmRow, learnt: Learnt, as_: Browser
) -> None:
    wiring.keeping_of(row).keep_learnt(learnt)
    told = section(page_of(as_("viewer")), "learnt")
    bed = farm_of_row(row).beds[0]
    found = complaints(learnt, [zone.called for zone in bed.zones])
    assert found
    for complaint in found:
        assert complaint.sentence in told.replace("\xa0", " ")
    assert "slip" in learnt.outliers
    assert "far from anything expected" in told
    assert 'href="/farms/spring/log/slip/"' in told
    assert "61 °C" in told.replace("\xa0", " ")
    assert "Learnt from 18 readings up to 20 Mar." in told
    assert "Sat 22 Mar, 12:00" in told
    assert "W/m2" not in told  # no unit that no keeper knows
    farm = farm_of_row(row)
    account = learnt_told(farm, farm.beds[0], learnt, Shown())
    assert account is not None
    assert account["rows"]
    for what, now, before in account["rows"]:
        assert f'<th scope="row">{what}</th><td>{now}</td><td>{before}</td>' in told


def test_the_herd_is_told_by_stage_with_what_counting_would_add(
    row: FarmRow, learnt: Learnt, as_: Browser
) -> None:
    wiring.keeping_of(row).keep_learnt(learnt)
    told = section(page_of(as_("helper")), "herd")
    farm = farm_of_row(row)
    account = learnt_told(farm, farm.beds[0], learnt, Shown())
    assert account is not None
    herd = account["herd"]
    assert herd["words"] in told
    assert herd["counting"] in told
    assert "handfuls" in herd["counting"]
    assert [one[0] for one in herd["stages"]] == ["Adults", "Juveniles", "Hatchlings", "Cocoons",
                                                  "Worms of all stages"]  # fmt: skip
    worms = learnt.state.herd
    all_kg = (worms.adult_kg + worms.juvenile_kg + worms.hatchling_kg).sum(axis=1)
    assert herd["stages"][-1][2].startswith(Shown().mass(float(np.median(all_kg))))
    for what, count, kg in herd["stages"]:
        assert f'<th scope="row">{what}</th><td>{count}</td><td>{kg}</td>' in told


def test_a_bed_rebuilt_since_shows_nothing_of_the_old_one(row: FarmRow, learnt: Learnt,
                                                          as_: Browser) -> None:  # fmt: skip
    wiring.keeping_of(row).keep_learnt(replace(learnt, bed_key="another"))
    page = page_of(as_("keeper"))
    assert section(page, "herd") == ""
    assert "It takes 5 entries or more" in section(page, "learnt")


def test_dates_are_told_whole_with_how_to_fetch_the_last_worms(
    row: FarmRow, as_: Browser
) -> None:
    kept = rest_dates()
    wiring.keeping_of(row).keep_dates("k", kept)
    told = section(page_of(as_("viewer")), "dates")
    for each in kept.milestones:
        assert told.count(each.words) == 1
    short, _, details = told.partition("<details>")
    assert all(words in short for words in brief(kept))
    assert kept.last_feeds is not None
    assert kept.last_feeds.words in details
    assert "The dry of it" in details
    ways = kept.takings[0].rescues
    assert [way.name for way in ways] == ["bait strip", "light", "cones"]
    assert all(way.words in details for way in ways)
    assert "The bed is taken to be kept as now." in details
    assert "Worked out for Mon 12 Jan, 06:00." in told
    Account.objects.filter(username="viewer").update(units="us")
    assert "About 1 lb of worms" in section(page_of(as_("viewer")), "dates")


def test_shelter_is_shown_with_its_age_and_its_cautions(row: FarmRow, as_: Browser) -> None:
    assert "Not looked at yet" in section(page_of(as_("viewer")), "shelter")
    keeping = wiring.keeping_of(row)
    keeping.keep_shelters("k", shelters())
    told = section(page_of(as_("viewer")), "shelter")
    assert "down to 0 °C" in told.replace("\xa0", " ")
    assert told.index("Straw: 2 K") < told.index("Foam: 1 K")
    for words in ("Burn nothing", "After a power cut", "Take in 300 g", "12 Jan, 06:00"):
        assert words in told
    assert "The outlook above is newer" not in told
    keeping.keep_shelters("k", shelters(NOW - dt.timedelta(days=1)))
    told = section(page_of(as_("viewer")), "shelter")
    assert "Worked out for Sun 11 Jan, 06:00. The outlook above is newer." in told
    keeping.keep_shelters("k", shelters(NOW - dt.timedelta(days=3)))  # another forecast's
    assert "Not looked at yet" in section(page_of(as_("viewer")), "shelter")
    Account.objects.filter(username="viewer").update(units="us")
    keeping.keep_shelters("k", shelters())
    told = section(page_of(as_("viewer")), "shelter").replace("\xa0", " ")
    assert "down to 32 °F" in told
    assert "Straw: 3.6 °F warmer" in told


def test_the_page_works_nothing_out(
    row: FarmRow, as_: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: object, **__: object) -> None:
        raise AssertionError("the page worked something out")

    for name in ("shelter.shelters_of", "dates.rest_dates", "learn.calibrate", "learn.refresh"):
        monkeypatch.setattr(f"bedlore.service.{name}", never)
    page_of(as_("keeper"))


def test_the_job_keeps_shelter_and_does_the_same_day_once(
    row: FarmRow, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = Mock(side_effect=lambda case: replace(shelters(), bed_id=case.twin.bed.id))
    monkeypatch.setattr(shelter, "shelters_of", asked)
    monkeypatch.setattr(shelter, "BedsNow", lambda *_: Mock(
        case=lambda bed: Mock(twin=Mock(bed=bed))))
    job = JobRun(farm=row, kind=errands.SHELTER, key="2026-01-12")
    assert (errands.SHELTER, job.key) in list(errands.after_night(job))
    said = errands.ERRANDS[errands.SHELTER](job, wiring.clock())
    assert said == "Shelter from cold and heat was looked at for 1 bed."
    keeping = wiring.keeping_of(row)
    assert keeping.shelters("sluice") == shelters()
    errands.ERRANDS[errands.SHELTER](job, wiring.clock())
    assert asked.call_count == 1
    entry = probe("later", 0.0, 9.0)
    DbLog(row).write([ToWrite(entry)], INES, NOW)
    errands.ERRANDS[errands.SHELTER](job, wiring.clock())
    assert asked.call_count == 2  # what was written since may matter


def test_what_the_job_works_out_in_winter_stands_on_the_page(
    people: dict[str, Account], as_: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    few = farm_members(8)
    monkeypatch.setattr(beds_now, "farm_members", lambda: few)
    cold = parse_farm(farm_text("2026-01-05", race="0.5 kg"))
    row = add_farm(cold, INES, NOW, slug="spring", as_of=NOW)
    give_role(people["viewer"].pk, row.pk, "viewer", NOW)
    tell_morning(row)
    errands.ERRANDS[errands.SHELTER](JobRun(farm=row, kind=errands.SHELTER, key="k"), NOW)
    kept = wiring.keeping_of(row).shelters("sluice")
    assert kept is not None
    assert (kept.threat, kept.made_at) == ("cold", NOW)
    told = section(page_of(as_("viewer")), "shelter").replace("\xa0", " ")
    assert len(kept.ways) > 2
    for words in (kept.words, *(way.words for way in kept.ways), kept.harm, *kept.cautions):
        assert Shown().sentence(words) in told


def test_nobody_changes_anything_here(row: FarmRow, as_: Browser) -> None:
    for role in ("viewer", "helper", "keeper"):
        assert as_(role).post(PAGE).status_code == 405
    assert as_("stranger").get(PAGE).status_code == 404
    assert as_("nobody").get(PAGE).status_code == 302
