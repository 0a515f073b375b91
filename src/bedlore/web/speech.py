"""Who reads a page: language and units, for pages, our own sentences and Django's alike.

Language: the account's own, else what the browser asks for, else the farm's. Units: the account's
own, else the farm's.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from django.http import HttpRequest, HttpResponse
from django.utils import translation
from django.utils.cache import patch_vary_headers
from django.utils.translation.trans_real import parse_accept_lang_header

from bedlore.farm.model import Farm
from bedlore.say import speaking
from bedlore.say.language import SOURCE, listen, spoken
from bedlore.service.shown import Shown
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.models import Account, FarmRow

Handler = Callable[[HttpRequest], HttpResponse]


class SpeechMiddleware:
    """Speaks to whoever asks for as long as the answer is made."""

    def __init__(self, get_response: Handler) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """The answer, in the reader's language."""
        language = _own_language(request) or _browser_language(request) or SOURCE
        with translation.override(language), speaking(language, _own_units(request)):
            response = self._get_response(request)
            patch_vary_headers(response, ("Accept-Language",))
            response.headers.setdefault("Content-Language", translation.get_language())
        return response


def speak_for(request: HttpRequest, row: FarmRow) -> None:
    """What the farm says where the reader does not, and the language of a token's owner; until
    the answer is made."""
    farm = farm_of_row(row).preferences
    language = _own_language(request) or _browser_language(request) or farm.language or SOURCE
    translation.activate(language)
    listen(language, _own_units(request) or farm.units)


@contextmanager
def speaking_to(account: Account, farm: Farm) -> Iterator[None]:
    """Speaks to somebody who asks through no browser: a mail, a calendar."""
    wanted = farm.preferences
    language = spoken(account.language) or wanted.language or SOURCE
    with translation.override(language), speaking(language, account.units or wanted.units):
        yield


def shown_to(units: str, farm: Farm) -> Shown:
    """Figures in somebody's own ``units``, or ("") in the farm's."""
    return Shown("us" if (units or farm.preferences.units) == "us" else "metric")


def _own_language(request: HttpRequest) -> str:
    return spoken(str(getattr(request.user, "language", "")))


def _own_units(request: HttpRequest) -> str:
    return str(getattr(request.user, "units", ""))


def _browser_language(request: HttpRequest) -> str:
    """The first language of ours that the browser asks for."""
    asked = parse_accept_lang_header(request.headers.get("Accept-Language", ""))
    return next((spoken(tag) for tag, _ in asked if spoken(tag)), "")
