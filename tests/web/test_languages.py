"""Pages in the reader's language and units: who decides, and that no English is left."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser

import pytest
from django.test import Client

from bedlore.decide.advise import advise
from bedlore.decide.card import find_card
from bedlore.decide.harm import harms_of
from bedlore.decide.lifeboat import lifeboat_of
from bedlore.decide.pantry import pantry_of
from bedlore.decide.records import Advice, FindCard, Harm, Lifeboat, Pantry
from bedlore.say import say, speaking
from bedlore.service.book import LogFilter
from bedlore.service.doors import open_calendar
from bedlore.service.morning import BedMorning
from bedlore.store.db.farm_store import DbFarmStore, farm_of_row
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import Account, AdviceGiven, FarmRow
from bedlore.web import wiring
from bedlore.web.entry_fields import FORM_KINDS
from tests import morning_fake
from tests.unit.decide import conftest as small
from tests.web.conftest import INES
from tests.web.test_change import sendable
from tools import catalogues

Browser = Callable[..., Client]
PAGES = ("today/", "beds/sluice/", "beds/ladder/", "log/", "farm/", "write/", "score-card/",
         "build/", "build/?pattern=trays", "people/", "aid/", "carried/",
         *(f"write/{kind}/?bed=sluice" for kind in FORM_KINDS))  # fmt: skip


def url(path: str) -> str:
    return f"/farms/mill/{path}"


def settle(account: Account, **own: str) -> None:
    Account.objects.filter(pk=account.pk).update(**own)


# --- Whose language and units ------------------------------------------------------------------


def language_of(client: Client, path: str = url("log/"), **headers: str) -> str:
    answer = client.get(path, headers=headers)
    found = re.search(r'<html lang="(\w+)"', answer.content.decode())
    assert found is not None
    assert answer.headers["Content-Language"] == found[1]
    assert "Accept-Language" in answer.headers["Vary"]
    return found[1]


def test_the_browser_asks_and_the_account_decides(
    as_: Browser, people: dict[str, Account], farm_row: FarmRow
) -> None:
    client = as_("keeper")
    assert language_of(client) == "en"
    assert language_of(client, accept_language="es-MX,es;q=0.9,en;q=0.5") == "es"
    assert language_of(client, accept_language="fr,es;q=0.3") == "es"
    assert language_of(client, accept_language="*;q=0.1, xx") == "en"
    settle(people["keeper"], language="en")
    assert language_of(client, accept_language="es") == "en"
    assert language_of(as_("nobody"), "/sign-in/", accept_language="es") == "es"


def test_the_farm_speaks_where_nobody_asks(
    as_: Browser, people: dict[str, Account], farm_row: FarmRow
) -> None:
    farm = farm_of_row(farm_row)
    liked = farm.preferences.model_copy(update={"language": "es", "units": "us"})
    DbFarmStore(farm_row).save_farm(farm.model_copy(update={"preferences": liked}), by=INES)
    client = as_("keeper")
    assert language_of(client) == "es"
    assert language_of(client, accept_language="en") == "en"
    assert "°F" in client.get(url("write/probe/?bed=sluice")).content.decode()
    settle(people["keeper"], units="metric")
    assert "°C" in client.get(url("write/probe/?bed=sluice")).content.decode()


def test_one_page_sets_both(as_: Browser, people: dict[str, Account], farm_row: FarmRow) -> None:
    client = as_("helper")
    page = client.get("/reading/").content.decode()
    assert "Español" in page
    answer = client.post("/reading/", {"language": "es", "units": "us"}, follow=True)
    text = answer.content.decode()
    assert "Idioma y unidades" in text
    assert "Anotado." in text
    people["helper"].refresh_from_db()
    assert (people["helper"].language, people["helper"].units) == ("es", "us")
    odd = client.post("/reading/", {"language": "xx", "units": "cubits"})
    assert odd.status_code == 200
    assert odd.content.decode().count('role="alert"') == 2
    people["helper"].refresh_from_db()
    assert people["helper"].language == "es"
    client.post("/reading/", {"language": "", "units": ""})
    people["helper"].refresh_from_db()
    assert (people["helper"].language, people["helper"].units) == ("", "")


def test_a_household_without_an_account_of_its_own_reads_as_its_phone_asks(
    as_: Browser, people: dict[str, Account], farm_row: FarmRow
) -> None:
    Account.objects.filter(pk=people["viewer"].pk).update(is_household=True)
    assert language_of(as_("viewer"), accept_language="es") == "es"
    assert language_of(as_("viewer"), accept_language="en") == "en"


def test_what_is_wrong_is_said_in_the_readers_language(
    as_: Browser, farm_row: FarmRow, settings: object
) -> None:
    form = {"when": "now", "temp_c": "900", "depth_m": "10"}
    answer = as_("helper").post(url("write/probe/?bed=sluice"), form,
                                headers={"accept-language": "es"})  # fmt: skip
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "es más de lo más alto que puede ser aquí" in text
    assert "can be right here" not in text


# --- No English left ---------------------------------------------------------------------------


@cache
def decided() -> tuple[Advice, FindCard, Pantry, Lifeboat, Harm]:
    """What is decided for a bed before a cold snap: most of what there is to say."""
    bed = small.bed_of()
    feeds = [small.feed(20.0, bed, 2.0)]
    case = small.case_of(bed, past_c=8.0, ahead_c=-6.0, feeds=feeds)
    return advise(case), find_card(case), pantry_of(case), lifeboat_of(case), harms_of(case)


@pytest.fixture
def spoken(farm_row: FarmRow) -> FarmRow:
    """The made-up morning, with the words of real decisions in place of the made-up ones."""
    farm_row.as_of = morning_fake.NOW
    farm_row.save()
    advice, card, pantry, boat, harm = decided()
    beds = []
    for fake in morning_fake.morning(farm_of_row(farm_row)).beds:
        bed = BedMorning(**vars(fake))
        name = bed.bed_id
        beds.append(replace(
            bed, notes=(), advice=replace(advice, bed_id=name), card=replace(card, bed_id=name),
            pantry=replace(bed.pantry, words=pantry.words), lifeboat=replace(boat, bed_id=name),
            harm=tuple(replace(one, bed_id=name) for one in harm),
        ))  # fmt: skip
    keeping = wiring.stores_of(farm_row).keeping
    keeping.keep_advice(bed.advice for bed in beds)
    keeping.keep_morning(morning_fake.NOW, tuple(beds))
    keeping.note(say("Weather recorded up to yesterday."), [])
    return farm_row


class Texts(HTMLParser):
    """What a page shows or reads out, piece by piece."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self._hidden = 0
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        # Charts carry remarks of their renderer; the image around them is what is read out.
        self._hidden += tag in ("script", "style")
        for name, value in attrs:
            if name in ("aria-label", "title", "alt", "placeholder") and value:
                self.found.append(value)

    def handle_endtag(self, tag: str) -> None:
        self._hidden -= tag in ("script", "style")

    def handle_data(self, data: str) -> None:
        text = " ".join(data.split())
        if text and not self._hidden:
            self.found.append(text)


@cache
def english() -> list[tuple[str, re.Pattern[str]]]:
    """Each message that reads otherwise in Spanish, as a pattern of what it would look like."""
    found = []
    for message in catalogues.read("es"):
        plural = isinstance(message.id, tuple)
        for text, other in zip(message.id if plural else [message.id],
                               message.string if plural else [message.string],
                               strict=False):  # fmt: skip
            words = re.sub(r"\{\w+\}|%\(\w+\)[.\d]*[a-z]|%[sd]", "\0", str(text))
            if not text or text == other or len(re.findall(r"[A-Za-z]{2,}", words)) < 1:
                continue
            if words.count("\0") and len(re.findall(r"[A-Za-z]{2,}", words)) < 3:
                continue  # too little of it is left to know it by
            found.append((str(text), re.compile(re.escape(words).replace("\0", ".+?"))))
    return found


def own_words(farm_row: FarmRow) -> set[str]:
    """What people wrote: names and notes stay as they are, whole or broken into lines."""
    farm = farm_of_row(farm_row)
    own = {bed.name for bed in farm.beds} | {zone.name for bed in farm.beds for zone in bed.zones}
    own |= {side for bed in farm.beds for side in bed.side_names}
    own |= {text for item in farm.store for text in (item.name, item.note)}
    own |= {one.name for one in farm.containers} | {"English"}
    own |= {one.username for one in Account.objects.all()}
    return own | {word.strip(",") for text in own for word in text.split()}


def left_over(page: str, own: set[str]) -> Iterator[str]:
    for text in Texts(page).found:
        bare = text.strip(" .:,·–“”\"()")
        if bare in own or not re.search(r"[A-Za-z]{2}", bare):
            continue
        for message, pattern in english():
            if pattern.fullmatch(bare) or pattern.fullmatch(text):
                yield f"{text!r} is {message!r}"


def test_the_check_knows_english_when_it_sees_it(as_: Browser, spoken: FarmRow) -> None:
    found = list(left_over(as_("keeper").get(url("today/")).content.decode(), own_words(spoken)))
    assert len(found) > 40


def test_no_spanish_page_has_english_left(as_: Browser, spoken: FarmRow) -> None:
    client, own = as_("keeper", headers={"accept-language": "es"}), own_words(spoken)
    left = {}
    for path in PAGES:
        answer = client.get(url(path))
        assert answer.status_code == 200, path
        left[path] = list(left_over(answer.content.decode(), own))
    assert {path: found for path, found in left.items() if found} == {}


def test_two_readers_of_one_morning(
    as_: Browser, people: dict[str, Account], spoken: FarmRow
) -> None:
    """What was worked out once is read by each in the own language and units."""
    settle(people["helper"], language="es", units="us")
    there = as_("helper").get(url("today/")).content.decode().replace("\N{NO-BREAK SPACE}", " ")
    here = as_("keeper").get(url("today/")).content.decode().replace("\N{NO-BREAK SPACE}", " ")
    assert "Feed alone cannot hold this bed above 4 °C." in here
    assert "La comida sola no puede mantener esta cama por encima de 39 °F." in there
    assert AdviceGiven.objects.first().headline == decided()[0].headline


def test_a_calendar_speaks_to_whose_it_is(
    as_: Browser, people: dict[str, Account], spoken: FarmRow
) -> None:
    for role, language in (("helper", "es"), ("viewer", "en")):
        settle(people[role], language=language)
    _, secret = open_calendar(wiring.DOORS, spoken.pk, people["helper"].pk, wiring.clock())
    _, other = open_calendar(wiring.DOORS, spoken.pk, people["viewer"].pk, wiring.clock())
    theirs = as_("nobody").get(f"/calendar/{secret.text}.ics").content.decode()
    ours = as_("nobody").get(f"/calendar/{other.text}.ics").content.decode()
    assert "lombrices" in theirs
    assert "worms" in ours


@pytest.mark.parametrize("units", ["metric", "us"])
def test_spanish_forms_sent_back_unchanged_change_nothing(
    units: str, as_: Browser, people: dict[str, Account], spoken: FarmRow
) -> None:
    """Decimal commas are shown and read: 1,5 kg comes back as one and a half."""
    settle(people["keeper"], language="es", units=units)
    before = farm_of_row(spoken).model_dump()
    client = as_("keeper")
    pages = [url(f"change/{part}/") for part in ("site", "limits", "store", "containers")]
    pages += [url(f"beds/{bed}/rebuild/") for bed in ("sluice", "ladder")]
    for page in pages:
        text = client.get(page).content.decode()
        answer = client.post(page, sendable(text))
        assert answer.status_code in (200, 302), (page, Texts(answer.content.decode()).found)
        assert answer.status_code == 302 or 'role="alert"' not in answer.content.decode(), page
    spoken.refresh_from_db()
    after = farm_of_row(spoken).model_dump()
    if units == "metric":  # other units are rounded for the eye
        assert after == before

    form = {"when": "now", "temp_c": "11,5", "depth_m": "7,5"}
    assert client.post(url("write/probe/?bed=sluice"), form).status_code == 302
    written = DbLog(spoken).page(LogFilter(kinds=("probe",)), 1)[0].entry
    assert written.temp_c == pytest.approx(11.5 if units == "metric" else (11.5 - 32) / 1.8)
    shown = client.get(url(f"log/{written.id}/")).content.decode()
    assert 'value="11,5"' in shown
    stepped = client.post(url(f"log/{written.id}/"), {**form, "step": "temp_c:1"})
    assert 'value="12,5"' in stepped.content.decode()
    kept = client.post(url(f"log/{written.id}/"), {**form, "when": "as-written"}, follow=True)
    assert "No se cambió nada." in kept.content.decode()


def test_a_bed_without_parts_is_whole_in_every_language() -> None:
    bed = small.bed_of().model_copy(update={"zones": ()})
    raw = bed.model_dump(exclude={"zones", "side_names"})
    whole = type(bed).model_validate(raw).zones[0]
    assert whole.called == "the whole bed"
    with speaking("es"):
        assert whole.called == "toda la cama"
