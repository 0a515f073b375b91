"""Changing what is described: nothing is lost, nothing else changes, two at once are told."""

from __future__ import annotations

import datetime as dt
import random
import re
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from django.test import Client

from bedlore.errors import FaultList
from bedlore.farm.model import Farm
from bedlore.service.book import Author, LogFilter
from bedlore.service.morning import Morning, beds_alive
from bedlore.service.record_entry import record_entry
from bedlore.store.db.farm_store import DbFarmStore, farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import Account, BedVersion, FarmRow
from tests import morning_fake
from tests.web.conftest import INES
from tests.web.test_pages import NASTY, Outline

Browser = Callable[..., Client]
AT = "/farms/mill/"
FORMS = ("change/limits/", "change/site/", "change/store/", "change/containers/",
         "beds/sluice/rebuild/", "beds/ladder/rebuild/", "beds/weir/rebuild/")  # fmt: skip


def sendable(text: str) -> dict[str, str]:
    """What a browser would send of the page's first long form."""
    form = max(re.findall(r"<form method=\"post\".*?</form>", text, re.S), key=len)
    sent: dict[str, str] = {}
    for tag in re.findall(r"<input [^>]*>", form):
        found = dict(re.findall(r'(\w+)="([^"]*)"', tag))
        if found.get("type") in ("radio", "checkbox") and " checked" not in tag:
            continue
        if "name" in found:
            sent[found["name"]] = unescape(found.get("value", "on"))
    lists = re.findall(r'<select [^>]*name="([\w-]+)"[^>]*>(.*?)</select>', form, re.S)
    for name, options in lists:
        chosen = re.search(r'<option value="([^"]*)" selected', options)
        sent[name] = chosen[1] if chosen else re.findall(r'value="([^"]*)"', options)[0]
    sent.pop("csrfmiddlewaretoken", None)
    return sent


def described(row: FarmRow) -> Farm:
    row.refresh_from_db()
    return farm_of_row(row)


@pytest.fixture
def mend(as_: Browser, farm_row: FarmRow) -> Callable[..., Any]:
    """Opens a form as the keeper, changes some of its fields, and sends it."""

    def sent(path: str, **changes: str) -> Any:
        browser = as_("keeper")
        page = browser.get(AT + path)
        return browser.post(AT + path, {**sendable(page.content.decode()), **{
            name.replace("__", "-"): value for name, value in changes.items()}})  # fmt: skip

    return sent


@pytest.mark.parametrize("path", FORMS)
def test_forms_are_well_formed_and_sent_back_untouched_change_nothing(
    path: str, as_: Browser, mend: Callable[..., Any], farm_row: FarmRow, people: dict[str, Account]
) -> None:
    people["keeper"].units = "us"
    people["keeper"].save()
    before = described(farm_row)
    text = as_("keeper").get(AT + path).content.decode()
    outline = Outline(text)
    assert (outline.faults, outline.open) == ([], [])
    assert len(outline.ids) == len(set(outline.ids))
    assert set(outline.fields) <= outline.labels
    answer = mend(path)
    assert answer.status_code == 302, re.findall(r'class="fault".*', answer.content.decode())
    assert described(farm_row) == before


def test_only_keepers_change_the_description(as_: Browser, farm_row: FarmRow) -> None:
    for path in FORMS:
        for role, status in (("helper", 403), ("viewer", 403), ("stranger", 404), ("nobody", 302)):
            assert as_(role).get(AT + path).status_code == status
            assert as_(role).post(AT + path, {"version": "1"}).status_code == status
    for path in ("change/beds/", "beds/none/rebuild/"):
        assert as_("keeper").get(AT + path).status_code == 404


def test_limits_are_kept_or_refused_beside_their_fields(
    mend: Callable[..., Any], farm_row: FarmRow
) -> None:
    before = described(farm_row)
    assert mend("change/limits/", cold_c="6,5", hot_c="29", risk_cold="15").status_code == 302
    after = described(farm_row)
    assert (after.limits.cold_c, after.limits.hot_c, after.limits.risk_cold) == (6.5, 29.0, 0.15)
    assert after.limits.moisture_low == before.limits.moisture_low
    assert after.beds == before.beds
    wrong = mend("change/limits/", cold_c="99", moisture_low="wet", hot_c="")
    text = wrong.content.decode()
    assert wrong.status_code == 422
    assert 'value="99"' in text
    assert 'value="wet"' in text
    assert re.search(r'name="hot_c"[^>]*aria-invalid="true">\s*<div class="fault"', text)
    assert described(farm_row) == after


def test_a_taste_for_risk_fills_the_odds_in_and_saves_nothing(
    mend: Callable[..., Any], farm_row: FarmRow
) -> None:
    text = mend("change/limits/", act="preset:careful", cold_c="7").content.decode()
    values = dict(re.findall(r'name="(\w+)" value="([^"]*)"', text))
    assert (values["risk_cold"], values["risk_hot"], values["cold_c"]) == ("5", "1", "7")
    assert described(farm_row).limits.cold_c != 7


def test_materials_come_change_and_go(mend: Callable[..., Any], farm_row: FarmRow) -> None:
    before = described(farm_row)
    count = len(before.store)
    done = mend("change/store/", **{
        "store__0__mass_kg": "12,5", "store__1__gone": "1", "store__2__hold": "1",
        f"store__{count}__material": "food_bread", f"store__{count}__name": "old rolls",
        f"store__{count}__mass_kg": "2",
    })  # fmt: skip
    assert done.status_code == 302, done.content.decode()[-3000:]
    after = described(farm_row).store
    assert after[0].mass_kg == 12.5
    assert after[0].model_copy(update={"mass_kg": before.store[0].mass_kg}) == before.store[0]
    assert after[1] == before.store[2].model_copy(update={"hold": True})
    assert (after[-1].name, after[-1].mass_kg) == ("old rolls", 2.0)
    wrong = mend("change/store/", **{"store__0__mass_kg": "lots", f"store__{count}__name": "x"})
    text = wrong.content.decode()
    assert wrong.status_code == 422
    assert 'value="lots"' in text
    assert "Say what it is." in text
    usual = mend("change/store/", act="preset:usual").content.decode()
    assert usual.count("<fieldset class=\"row\">") > count


def test_containers_keep_their_ids_when_they_are_renamed(
    mend: Callable[..., Any], farm_row: FarmRow
) -> None:
    before = described(farm_row).containers
    count = len(before)
    done = mend("change/containers/", **{"container__0__name": "Green pail",
                f"container__{count}__name": "Tin", f"container__{count}__mass_kg": "900 g"})
    assert done.status_code == 302
    after = described(farm_row).containers
    assert after[0] == before[0].model_copy(update={"name": "Green pail"})
    assert (after[-1].id, after[-1].mass_kg) == ("tin", 0.9)
    wrong = mend("change/containers/", **{f"container__{count + 1}__name": "Jar"})
    assert wrong.status_code == 422
    assert "Say how much it holds" in wrong.content.decode()


def test_the_place_and_its_building_change(mend: Callable[..., Any], farm_row: FarmRow) -> None:
    before = described(farm_row).site
    done = mend("change/site/", farm="Old Mill", low__0="-12", hours="40")
    assert done.status_code == 302
    after = described(farm_row)
    assert after.name == "Old Mill"
    assert after.site.normals.daily_low_c == (-12.0, *before.normals.daily_low_c[1:])
    assert after.site.building.time_constant_h == 40.0
    assert after.site.building.offset_k == before.building.offset_k
    mend("change/site/", kind="attached")
    assert described(farm_row).site.building.offset_k == 6.0
    wrong = mend("change/site/", low__0="80", high__3="", time_zone="Mars/Base",
                 latitude="north", farm=" ")  # fmt: skip
    text = wrong.content.decode()
    assert wrong.status_code == 422
    for name in ("low-0", "high-3"):
        assert re.search(rf'name="{name}"[^>]*>\s*<div class="fault"', text), name
    assert 'value="80"' in text
    open_air = mend("change/site/", kind="none")
    assert open_air.status_code == 422
    assert "stands indoors" in open_air.content.decode()


def test_a_rebuilt_bed_keeps_its_history(mend: Callable[..., Any], farm_row: FarmRow,
                                         as_: Browser) -> None:  # fmt: skip
    before = described(farm_row)
    done = mend("beds/sluice/rebuild/", name="Great sluice", wall__1__thickness_m="5",
                wall__1__material="expanded_polystyrene", cover="wool", cover_m="1",
                zone__0__name="Race, low")  # fmt: skip
    assert done.status_code == 302, re.findall(r'class="fault".*', done.content.decode())
    after = described(farm_row)
    bed, old = after.bed("sluice"), before.bed("sluice")
    assert bed is not None
    assert old is not None
    assert bed.walls[1].thickness_m == 0.05
    assert (bed.walls[0], bed.walls[2:]) == (old.walls[0], old.walls[2:])
    assert (bed.cover and bed.cover.material) == "wool"
    assert bed.zones[0].id == old.zones[0].id
    assert bed.zones[0].bedding == old.zones[0].bedding
    assert after.beds[1:] == before.beds[1:]
    text = as_("keeper").get(AT + "beds/sluice/rebuild/").content.decode()
    assert "<del>Sluice</del> → <ins>Great sluice</ins>" in text
    assert BedVersion.objects.filter(bed__slug="sluice").count() == 2


def test_a_bed_made_longer_takes_its_zones_along(
    mend: Callable[..., Any], farm_row: FarmRow
) -> None:
    assert mend("beds/sluice/rebuild/", length_m="240").status_code == 302
    bed = described(farm_row).bed("sluice")
    assert bed is not None
    assert sum(zone.length_m or 0 for zone in bed.zones) == pytest.approx(2.4)
    gap = mend("beds/sluice/rebuild/", zone__0__size="5")
    assert gap.status_code == 422
    assert "leave a gap" in gap.content.decode()


def test_a_tray_is_added_on_top(mend: Callable[..., Any], farm_row: FarmRow) -> None:
    before = described(farm_row).bed("ladder")
    assert before is not None
    more = sendable(mend("beds/ladder/rebuild/", act="preset:zone-above").content.decode())
    assert more["zone-0-name"] == ""
    assert more["zone-1-key"] == before.zones[0].id
    more = {name.replace("-", "__"): value for name, value in more.items()}
    done = mend("beds/ladder/rebuild/", **{**more, "zone__0__name": "Sixth", "zone__0__size": "15"})
    assert done.status_code == 302, re.findall(r'class="fault".*', done.content.decode())
    bed = described(farm_row).bed("ladder")
    assert bed is not None
    assert (bed.zones[0].id, bed.zones[0].active) == ("sixth", False)
    assert bed.zones[0].added is not None
    assert bed.zones[1:] == before.zones
    assert bed.depth_m == pytest.approx(before.depth_m + 0.15)


def test_a_zone_of_the_log_is_taken_out_only_when_asked_twice(
    mend: Callable[..., Any], farm_row: FarmRow, book: DbLog
) -> None:
    bed = described(farm_row).bed("ladder")
    assert bed is not None
    last = len(bed.zones) - 1
    raw = {"kind": "note", "bed": "ladder", "zone": bed.zones[last].id, "note": "x",
           "at": "2026-01-05 08:00"}  # fmt: skip
    record_entry(book, described(farm_row), raw, INES, morning_fake.NOW)
    first = mend("beds/ladder/rebuild/", **{f"zone__{last}__gone": "1"})
    assert first.status_code == 422
    assert "1 entries of the log" in first.content.decode()
    assert mend("beds/ladder/rebuild/", **{f"zone__{last}__gone": "sure"}).status_code == 302
    assert len(described(farm_row).bed("ladder").zones) == last  # type: ignore[union-attr]
    assert len(book.page(LogFilter(bed="ladder"), 5)) == 1


def test_a_bed_is_taken_down_and_set_up_again(
    as_: Browser, farm_row: FarmRow, told: Morning
) -> None:
    browser, at = as_("keeper"), AT + "beds/sluice/rebuild/"
    old = described(farm_row)
    sent = {"act": "take-down", "version": farm_row.version, "ended": "2026-01-05"}
    assert browser.post(at, {**sent, "ended": ""}).status_code == 422
    assert browser.post(at, {**sent, "ended": "1999-01-01"}).status_code == 422
    assert browser.post(at, sent).status_code == 302
    farm = described(farm_row)
    assert [bed.id for bed in beds_alive(farm, morning_fake.NOW)[0]] == ["ladder", "weir"]
    for path in ("today/", "farm/", "write/", "beds/sluice/", "log/"):
        assert browser.get(AT + path).status_code == 200
    assert "Sluice" not in browser.get(AT + "write/").content.decode()
    assert "taken down on" in browser.get(AT + "farm/").content.decode()
    late = {"kind": "note", "bed": "sluice", "note": "x", "at": "2026-01-10 08:00"}
    with pytest.raises(FaultList, match="taken down"):
        record_entry(DbLog(farm_row), farm, late, INES, morning_fake.NOW)
    for other in ("ladder", "weir"):
        version = described(farm_row) and farm_row.version
        got = browser.post(f"{AT}beds/{other}/rebuild/", {**sent, "version": version})
    assert got.status_code == 422
    assert "No bed would stand" in got.content.decode()
    browser.post(at, {"act": "stand-again", "version": farm_row.version})
    assert described(farm_row).bed("sluice") == old.bed("sluice")


def test_two_who_change_the_same_part_are_told_and_lose_nothing(
    as_: Browser, farm_row: FarmRow
) -> None:
    browser, at = as_("keeper"), AT + "change/limits/"
    mine = {**sendable(browser.get(at).content.decode()), "cold_c": "7"}
    store = DbFarmStore(farm_row)
    farm = store.load_farm()
    limits = farm.limits.model_copy(update={"hot_c": 27.0, "cold_c": 5.0})
    store.save_farm(farm.model_copy(update={"limits": limits}), None, Author("Mara"), "limits")
    answer = browser.post(at, mine)
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "changed meanwhile by Mara" in text
    assert 'name="cold_c" value="7"' in text
    assert "Meanwhile it was changed to “5”." in text
    assert "Meanwhile it was changed to “27”." in text
    again = sendable(text)
    assert browser.post(at, {**again, "hot_c": "27"}).status_code == 302
    assert (described(farm_row).limits.cold_c, described(farm_row).limits.hot_c) == (7.0, 27.0)


def test_two_who_change_different_parts_do_not_hinder_each_other(
    as_: Browser, farm_row: FarmRow
) -> None:
    browser = as_("keeper")
    limits = {**sendable(browser.get(AT + "change/limits/").content.decode()), "cold_c": "7"}
    weir = sendable(browser.get(AT + "beds/weir/rebuild/").content.decode())
    assert browser.post(AT + "change/limits/", limits).status_code == 302
    assert browser.post(AT + "beds/weir/rebuild/", {**weir, "note": "sunny"}).status_code == 302
    farm = described(farm_row)
    assert farm.limits.cold_c == 7.0
    assert farm.bed("weir").note == "sunny"  # type: ignore[union-attr]


def test_a_form_that_names_no_version_saves_nothing(as_: Browser, farm_row: FarmRow) -> None:
    before = described(farm_row)
    for version in ("", "x", "99999999", "9" * 15, "-1"):
        sent = {"version": version, "cold_c": "9"}
        assert as_("keeper").post(AT + "change/limits/", sent).status_code == 422
    assert described(farm_row) == before


@pytest.mark.parametrize("path", FORMS)
def test_whatever_is_typed_it_is_saved_or_answered_with_a_sentence(
    path: str, as_: Browser, farm_row: FarmRow
) -> None:
    browser = as_("keeper")
    fair = sendable(browser.get(AT + path).content.decode())
    pairs = [(name, value) for name in [*fair, "act", "wall-99-material", "zone-7-name"]
             for value in NASTY]  # fmt: skip
    for name, value in random.Random(path).sample(pairs, 10):
        farm_row.refresh_from_db()
        sent = {**fair, "version": str(farm_row.version), name: value}
        answer = browser.post(AT + path, sent)
        assert answer.status_code in (200, 302, 422), (name, value)
        if answer.status_code == 422:
            assert 'class="fault"' in answer.content.decode(), (name, value)


def test_a_new_zone_is_dated(farm_row: FarmRow, mend: Callable[..., Any]) -> None:
    sizes = {f"zone__{k}__size": "36" for k in range(5)}
    done = mend("beds/sluice/rebuild/", **sizes, zone__4__name="End", zone__4__side="end")
    assert done.status_code == 302, re.findall(r'class="fault".*', done.content.decode())
    zone = described(farm_row).bed("sluice").zones[-1]  # type: ignore[union-attr]
    assert zone.added == dt.datetime.now(dt.UTC).date()
