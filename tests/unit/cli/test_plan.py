"""``bedlore plan`` on a small farm of a folder: JSON, text, what is kept, and who follows it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from bedlore.cli.main import cli
from bedlore.decide.plan_advice import OUTDATED
from bedlore.service.fields import FIELDS
from bedlore.store.ahead_files import FolderAhead
from tests.small_farm import TWO_SIDES, feed, write_farm
from tests.unit.cli.json_keys import keys_of
from tests.unit.cli.test_dates import NOW


@pytest.fixture
def farm(tmp_path: Path, monkeypatch) -> Path:  # type: ignore[no-untyped-def]
    from bedlore.decide import plan_search
    from bedlore.decide.plan_search import Effort
    from bedlore.service import beds_now, morning

    few = morning.farm_members(8)
    for module in (beds_now, morning):
        monkeypatch.setattr(module, "farm_members", lambda: few)
    quick = Effort(few=3, some=4, together=4, least=0, kept_some=4, feeds=6, fresh=20)
    monkeypatch.setattr(plan_search, "Effort", lambda: quick)
    store = '[[store]]\nmaterial = "kitchen scraps"\nmass = "5 kg"\nper_week = "3 kg"\n'
    prefs = '[preferences]\nprice_per_kwh = 0.3\ncurrency = "EUR"\n'
    meal = feed("f1", "2025-05-12T09:00:00Z", 0.8, zone="race")
    return write_farm(tmp_path, TWO_SIDES + store + prefs, [meal])


def test_a_plan_is_told_kept_and_registered(farm: Path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    done = CliRunner().invoke(cli, ["plan", str(farm), "--at", NOW, "--json"])
    assert done.exit_code == 0, done.output
    account = json.loads(done.stdout)
    assert set(keys_of(account)) - set(FIELDS) == set()
    (bed,) = account["beds"]
    assert bed["told_from"] == 20
    assert bed["steps"]
    assert [r["reading"] for r in bed["readings_worth"]]
    kept = FolderAhead(farm).plan("sluice")
    assert kept is not None
    assert [a.words for a in kept.actions] == [s["words"] for s in bed["steps"]]

    from bedlore.service import plan

    monkeypatch.setattr(plan, "plan_of", None)  # working out again would fail
    text = CliRunner().invoke(cli, ["plan", str(farm), "--at", NOW])
    assert text.exit_code == 0, text.output
    assert bed["steps"][0]["words"] in " ".join(text.output.split())


def told(farm: Path, *words: str, at: str = NOW) -> dict[str, Any]:
    """The first bed of what a command prints as JSON."""
    name, *more = words
    done = CliRunner().invoke(cli, [name, str(farm), "--at", at, "--json", *more])
    assert done.exit_code == 0, done.output
    found: dict[str, Any] = json.loads(done.stdout)["beds"][0]
    return found


def test_what_tells_of_today_follows_the_plan_while_it_is_fresh(farm: Path) -> None:
    quick = told(farm, "today")["advice"]
    assert (quick["leads"], quick["lead_words"]) == ("quick", "")
    plan = told(farm, "plan")

    led = told(farm, "today")["advice"]
    assert led["leads"] == "plan"
    assert led["headline"] == plan["headline"]
    assert (led["effect"], led["without"]) == (plan["effect"], plan["without"])
    steps = [led["action"], *led["also"], *led["planned"]]
    assert steps == plan["steps"]
    assert led["lead_words"].startswith("This follows the fortnight's plan.")
    assert set(keys_of(led)) - set(FIELDS) == set()
    assert told(farm, "why")["headline"] == plan["headline"]
    text = CliRunner().invoke(cli, ["today", str(farm), "--at", NOW]).output
    assert "This follows the fortnight's plan." in " ".join(text.split())
    page = CliRunner().invoke(cli, ["report", str(farm), "--at", NOW, "--no-pdf", "--out", "-"])
    assert "This follows the fortnight&#39;s plan." in page.output

    given = (farm / "advice.jsonl").read_text("utf-8").splitlines()
    last = json.loads(given[-1])
    assert last["leads"] == "plan"  # tomorrow it is this that was said
    told(farm, "today")
    assert (farm / "advice.jsonl").read_text("utf-8").splitlines() == given


def test_the_plan_leads_all_day_until_something_is_written_down(farm: Path) -> None:
    headline = told(farm, "plan")["headline"]
    later = told(farm, "today", at="2025-05-20 17:30")["advice"]
    assert (later["leads"], later["headline"]) == ("plan", headline)
    earlier = told(farm, "today", at="2025-05-20 08:00")["advice"]
    assert (earlier["leads"], earlier["lead_words"]) == ("quick", "")  # it was not yet made
    write = feed("f2", "2025-05-20T17:40:00Z", 0.3, zone="race")
    with (farm / "log.jsonl").open("a", encoding="utf-8") as log:
        log.write(json.dumps({"bed": "sluice", **write}) + "\n")
    fallen = told(farm, "today", at="2025-05-20 17:45")["advice"]
    assert (fallen["leads"], fallen["lead_words"]) == ("quick", OUTDATED)
    told(farm, "plan", at="2025-05-20 18:05")
    assert told(farm, "today", at="2025-05-20 18:10")["advice"]["leads"] == "plan"
    tomorrow = told(farm, "today", at="2025-05-21 12:00")["advice"]
    assert (tomorrow["leads"], tomorrow["lead_words"]) == ("quick", "")


def test_other_weather_ahead_takes_the_lead_from_the_plan(farm: Path) -> None:
    told(farm, "plan")
    (farm / "days-ahead.txt").write_text("2025-05-22: -2 to 9\n", "utf-8")
    assert told(farm, "today")["advice"]["lead_words"] == OUTDATED
