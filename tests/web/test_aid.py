"""First aid's pages: what is asked, what is answered, what is taken back."""

from __future__ import annotations

from collections.abc import Callable

from django.test import Client

from tests.web.conftest import Morning

PAGE = "/farms/mill/beds/sluice/aid/"


def test_before_anything_is_known_there_are_careful_defaults(
    told: Morning, as_: Callable[..., Client]
) -> None:
    page = as_("viewer").get("/farms/mill/aid/").content.decode()
    assert "Stop feeding for a week" in page
    assert f'href="{PAGE}"' in page
    listed = as_("viewer").get(PAGE).content.decode()
    assert listed.count("?yes=") == 22


def test_a_symptom_gives_causes_and_the_next_question(
    told: Morning, as_: Callable[..., Client]
) -> None:
    page = as_("viewer").get(f"{PAGE}?yes=rotten").content.decode()
    for said in ("Too much food", "Likely causes", "Cannot tell", "Take care", "Sluice"):
        assert said in page
    answered = as_("viewer").get(f"{PAGE}?yes=rotten&yes=base&yes=water&no=uneaten")
    assert "Blocked drain" in answered.content.decode().split("suspect")[1]


def test_what_is_not_known_in_the_address_is_passed_over(
    told: Morning, as_: Callable[..., Client]
) -> None:
    odd = as_("viewer").get(f"{PAGE}?yes=haunted&no=<b>&skip=young_bed")
    assert odd.status_code == 200
    assert "What do you see or smell?" in odd.content.decode()


def test_it_works_before_the_first_outlook(
    farm_row: object, as_: Callable[..., Client]
) -> None:
    page = as_("keeper").get(f"{PAGE}?yes=heat")
    assert page.status_code == 200
    assert "Heating up" in page.content.decode()
