"""learn, herd and score on a small farm of a folder."""

from __future__ import annotations

import json
from io import StringIO
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from rich.console import Console

from bedlore.cli.learning import render_herd
from bedlore.cli.main import cli
from bedlore.learn.herd import Band, Herd
from bedlore.learn.verify import past_outlook
from bedlore.say import again, speaking
from bedlore.service.fields import FIELDS
from bedlore.service.learnt_words import herd_words
from bedlore.store.learnings import Learnings
from tests.small_farm import SPRING, feed, write_farm
from tests.unit.cli.json_keys import keys_of

NOW = "2025-03-13 12:00"


@pytest.fixture(scope="module")
def farm(tmp_path_factory) -> Path:
    return write_farm(tmp_path_factory.mktemp("mill"), SPRING, [
        feed("f1", "2025-03-03T09:00:00Z", 1.0),
        *({"kind": "probe", "id": f"p{i}", "at": f"2025-03-{4 + i:02d}T08:00:00Z",
           "temp_c": 8.0 + 0.3 * i, "device": "stick"} for i in range(7)),
        {"kind": "core", "id": "c1", "at": "2025-03-11T09:00:00Z", "volume_l": 1.0,
         "adults": 9, "juveniles": 4},
    ])  # fmt: skip


def run(*words: str):
    return CliRunner().invoke(cli, list(words))


def test_learn_says_what_the_log_told(farm: Path, monkeypatch) -> None:
    few_members(monkeypatch)
    done = run("learn", str(farm), "--at", NOW, "--json")
    assert done.exit_code == 0, done.output
    account = json.loads(done.stdout)
    bed = account["beds"][0]
    assert bed["readings_n"] == 8
    assert set(keys_of(account)) <= set(FIELDS)
    assert bed["method"] in ("smoother", "corrected")
    assert (farm / "learnt" / "sluice.npz").exists()
    text = run("learn", str(farm), "--at", NOW)
    assert "8 readings" in text.output
    assert "Traceback" not in text.output


def few_members(monkeypatch) -> None:
    """24 members are quick; the commands use the full number."""
    from bedlore.service import learn as module

    whole = module.learn

    def fewer(*args, **options):
        return whole(*args, **{**options, "members": 24})

    monkeypatch.setattr(module, "learn", fewer)


def test_herd_gives_a_range_and_what_counting_adds(farm: Path, monkeypatch) -> None:
    few_members(monkeypatch)
    account = json.loads(run("herd", str(farm), "--at", NOW, "--json").stdout)
    assert set(keys_of(account)) <= set(FIELDS)
    band = account["beds"][0]["worms_n"]
    assert band == sorted(band)
    assert band[0] > 0
    assert account["beds"][0]["notes"][0].startswith("Learnt from")
    text = run("herd", str(farm), "--at", NOW).output
    assert "handfuls" in text
    assert "Learnt from" in text


def test_score_without_and_with_outlooks(farm: Path) -> None:
    empty = run("score", str(farm), "--at", NOW)
    assert "No outlook of this bed can be checked" in empty.output
    from datetime import UTC, datetime, timedelta

    temp = np.random.default_rng(1).normal(9.0, 1.0, (40, 14 * 24))
    first = datetime(2025, 3, 2, 8, tzinfo=UTC)
    store = Learnings(farm)
    store.keep_outlooks(
        past_outlook("sluice", "race", first + timedelta(days=i), temp) for i in range(8)
    )
    with (farm / "outlooks.jsonl").open("a") as file:
        file.write("{not json\n")
    assert len(store.outlooks()) == 8
    account = json.loads(run("score", str(farm), "--at", NOW, "--json").stdout)
    assert set(keys_of(account)) <= set(FIELDS)
    cards = account["beds"][0]["cards"]
    assert cards[0]["group"] == "all"
    assert cards[0]["count"] > 8
    assert 0.0 < cards[0]["crps_k"] < 3.0
    text = run("score", str(farm), "--at", NOW).output
    assert "9-in-10 band" in text


def test_an_unknown_bed_is_a_sentence(farm: Path) -> None:
    done = run("score", str(farm), "--at", NOW, "--bed", "nowhere")
    assert done.exit_code == 1
    assert "There is no bed" in done.output


def test_the_herd_is_told_in_the_readers_units() -> None:
    """0.27 kg is 9.5 oz, in the sentence itself to two figures at most."""
    none = {f"{stage}_n": [1.0, 2.0, 3.0] for stage in ("adults", "juveniles", "hatchlings",
                                                        "cocoons")}  # fmt: skip
    bed = {"bed": "sluice", "name": "Sluice", "zones": [], "feed_kg_day": [0.1, 0.1, 0.1], **none,
           "words": herd_words(Herd({}, Band(*[2700.0] * 5), Band(*[0.27] * 5), {},
                                    Band(*[2.0] * 5), Band(*[0.1] * 5), 0.0, 24)),
           "counting": {"words": ""}, "notes": []}  # fmt: skip
    for units, mass in (("metric", "0.3 kg;"), ("us", "10 oz;")):
        page = StringIO()
        with speaking(units=units):
            Console(file=page, width=200).print(render_herd({"farm": "Mill", "beds": [bed]}))
            said = str(again(bed["words"]))
        assert f"About 2,700 worms, {mass}" in page.getvalue()
        assert f"About 2,700 worms, {mass}" in said


# --- What a sale or a split leaves ---------------------------------------------------------------


def few_ahead(monkeypatch) -> None:
    few_members(monkeypatch)
    from bedlore.service import beds_now
    from bedlore.service.morning import farm_members

    monkeypatch.setattr(beds_now, "farm_members", lambda: farm_members(24))
    monkeypatch.setattr(beds_now, "HORIZON_D", 35)


def test_herd_tells_what_a_sale_leaves_and_when_it_is_back(farm: Path, monkeypatch) -> None:
    few_ahead(monkeypatch)
    done = run("herd", str(farm), "--at", NOW, "--take-share", "50%", "--json")
    assert done.exit_code == 0, done.output
    account = json.loads(done.stdout)
    assert set(keys_of(account)) <= set(FIELDS)
    after = account["beds"][0]["herd_after"]
    stages = {one["stage"]: one for one in after["stages"]}
    assert stages["adults"]["after_n"][1] == pytest.approx(0.5 * stages["adults"]["before_n"][1],
                                                           rel=0.01)  # fmt: skip
    assert stages["cocoons"]["after_n"] == stages["cocoons"]["before_n"]
    text = " ".join(run("herd", str(farm), "--at", NOW, "--take", "100g").output.split())
    assert "Taking about 0.1 kg" in text
    assert "of the adults and juveniles" in text
    whole = " ".join(run("herd", str(farm), "--at", NOW, "--take-share", "0.3", "--split")
                     .output.split())  # fmt: skip
    assert "(30 % of all worms)" in whole


STARTED = "started = 2025-03-01"
NEXT = SPRING[SPRING.index("[[beds]]"):].replace('"sluice"', '"weir"').replace("Sluice", "Weir")


@pytest.mark.parametrize(
    ("text", "said"),
    [(SPRING.replace(STARTED, "started = 2025-04-01"), "begins on 2025-04-01"),
     (SPRING.replace(STARTED, "started = 2025-01-01\nended = 2025-03-01") + NEXT,
      "has been taken down")],
)  # fmt: skip
def test_no_worms_are_taken_from_a_bed_that_does_not_stand(tmp_path: Path, monkeypatch, text: str,
                                                           said: str) -> None:  # fmt: skip
    few_ahead(monkeypatch)
    done = run("herd", str(write_farm(tmp_path, text, [])), "--at", NOW, "--take-share", "50%",
               "--bed", "sluice")  # fmt: skip
    assert done.exit_code == 1
    assert said in done.output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--take", "500g", "--take-share", "50%"), "either how much or what share"),
        (("--stage", "adults"), "either how much or what share"),
        (("--take-share", "150%"), "between 0 and 100 %"),
        (("--take", "-1 kg"), "Nothing would be taken"),
        (("--take", "many"), "many"),
        (("--take", "1 kg", "--split", "--stage", "adults"), "every size"),
    ],
)
def test_what_cannot_be_taken_is_refused_in_a_sentence(farm: Path, words, said: str) -> None:
    done = run("herd", str(farm), "--at", NOW, *words)
    assert done.exit_code == 1
    assert said in done.output
