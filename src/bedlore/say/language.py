"""Who listens: the language and the units that are spoken just now, and what a language calls
its days and months."""

from __future__ import annotations

import gettext
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

Units = Literal["metric", "us"]
_UNITS: dict[str, Units] = {"metric": "metric", "us": "us"}
SOURCE = "en"  # the language of the message ids
LANGUAGES: dict[str, str] = {"en": "English", "es": "Español"}  # each by its own name
LOCALE = Path(__file__).parents[1] / "locale"
DOMAIN = "django"  # one catalogue for all floors; Django looks for it under this name


@dataclass(frozen=True)
class Listener:
    """The language (a key of :data:`LANGUAGES`) and the units of whoever reads."""

    language: str = SOURCE
    units: Units = "metric"


_LISTENER: ContextVar[Listener] = ContextVar("listener", default=Listener())  # noqa: B039


def listener() -> Listener:
    """Who listens now."""
    return _LISTENER.get()


@contextmanager
def speaking(language: str = "", units: str = "") -> Iterator[Listener]:
    """Everything said within is in this language and these units; what is left out stays.

    A language that is not spoken here (``es-MX`` is, as ``es``) leaves the language as it is.
    """
    token = _LISTENER.set(_LISTENER.get())
    try:
        yield listen(language, units)
    finally:
        _LISTENER.reset(token)


def listen(language: str = "", units: str = "") -> Listener:
    """Somebody else listens from now on, to the end of the :func:`speaking` around it."""
    before = _LISTENER.get()
    now = Listener(spoken(language) or before.language, _UNITS.get(units, before.units))
    _LISTENER.set(now)
    return now


def spoken(language: str) -> str:
    """The language of ours that a tag such as ``es-MX`` or ``es_ES.UTF-8`` means, or ""."""
    name = language.replace("_", "-").partition("-")[0].partition(".")[0].lower()
    return name if name in LANGUAGES else ""


def of_environment(env: Mapping[str, str]) -> str:
    """The language that a terminal's environment asks for, "" when we do not speak it."""
    asked = ("LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG")
    first = next((env[name] for name in asked if env.get(name)), "")
    return spoken(first.partition(":")[0])


@cache
def catalogue(language: str) -> gettext.NullTranslations:
    """The messages of a language; the source language needs none."""
    if language == SOURCE:
        return gettext.NullTranslations()
    return gettext.translation(DOMAIN, str(LOCALE), [language])


@dataclass(frozen=True)
class Names:
    """Days from Monday and months from January, whole and short; the decimal sign and the one
    between thousands."""

    days: tuple[str, ...]
    short_days: tuple[str, ...]
    months: tuple[str, ...]
    short_months: tuple[str, ...]
    decimal: str
    thousands: str


@cache
def names(language: str) -> Names:
    """The names of a language, from the Unicode CLDR by way of Babel.

    Those of the source language stand here, so that nothing needs to be read for them.
    """
    if language == SOURCE:
        days = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
        months = ("January", "February", "March", "April", "May", "June", "July", "August",
                  "September", "October", "November", "December")  # fmt: skip
        return Names(days, tuple(day[:3] for day in days), months,
                     tuple(month[:3] for month in months), ".", ",")  # fmt: skip
    from babel import Locale

    known = Locale.parse(language)

    def listed(table: object, first: int, count: int) -> tuple[str, ...]:
        return tuple(str(table[i]) for i in range(first, first + count))  # type: ignore[index]

    days, months = known.days["format"], known.months["format"]
    return Names(
        listed(days["wide"], 0, 7), listed(days["abbreviated"], 0, 7),
        listed(months["wide"], 1, 12), listed(months["abbreviated"], 1, 12),
        str(known.number_symbols["latn"]["decimal"]),
        str(known.number_symbols["latn"]["group"]),
    )  # fmt: skip


def decimal(text: str) -> str:
    """A number written with a point, with the decimal sign of whoever listens."""
    sign = names(_LISTENER.get().language).decimal
    return text if sign == "." else text.replace(".", sign)


def count(value: float) -> str:
    """A whole number with a sign between its thousands: ``2,700``, or ``2.700``."""
    return f"{value:,.0f}".replace(",", names(_LISTENER.get().language).thousands)
