"""Building blocks of the farm and log records: quantities, names, and friendly keys.

Every record is frozen, refuses unknown keys and holds SI numbers. A keeper may write the same
field in several ways, all of which end up as the same number::

    length_m = 0.6096          # the field's own name, SI
    length_m = "24 in"         # the field's own name, number with unit
    length = "24 in"           # short name, number with unit
    length_in = 24             # short name with the unit in the key
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, GetCoreSchemaHandler, model_validator
from pydantic_core import PydanticCustomError, core_schema

from bedlore.errors import KeeperError
from bedlore.say import joined, say
from bedlore.units import Kind, parse_quantity

_UNIT_SUFFIX = re.compile(r"_(m|m3|m2|kg|c|k|h|frac|l|w|deg)$")
_SLUG = re.compile(r"[a-z0-9][a-z0-9_.:+-]{0,79}")
MAX_TEXT = 2000
ASK_UNIT = say("Was another unit meant? Write the number with its unit.")


def keeper_error(sentence: str) -> PydanticCustomError:
    """A validation error that carries a finished sentence for the keeper."""
    return PydanticCustomError("keeper", "{sentence}", {"sentence": sentence})


def many_faults(faults: list[tuple[tuple[str | int, ...], str]]) -> PydanticCustomError:
    """One validation error for several (path below the record, sentence) faults."""
    text = joined([sentence for _, sentence in faults], " ")
    return PydanticCustomError("keeper_many", "{sentence}", {"sentence": text, "faults": faults})


@dataclass(frozen=True)
class Wrong:
    """A value already known to be wrong, carried to its field so that its path is right."""

    sentence: str


@dataclass(frozen=True)
class Quantity:
    """How a field is read: kind of quantity, sensible range in SI, and the advice outside it.

    Used as the metadata of an annotated type: ``Annotated[float, quantity("length", 0, 6)]``.
    ``unit`` is what a bare number means when that is not the SI unit (``"L"``; the field then
    holds litres), or ``""`` for a plain number that no unit is converted for.
    """

    kind: Kind
    low: float
    high: float
    advice: str = ASK_UNIT
    unit: str | None = None

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_before_validator_function(self.read, handler(source))

    def read(self, value: object) -> float:
        """The field's number for ``value``; raises a sentence when it is none or out of range."""
        if isinstance(value, Wrong):
            raise keeper_error(value.sentence)
        try:
            number = self._number(value)
        except KeeperError as problem:
            raise keeper_error(problem.said) from None
        except OverflowError:
            raise keeper_error(say("This number is too large.")) from None
        if not self.low <= number <= self.high:
            raise keeper_error(self._out_of_range(value, number))
        return number + 0.0  # turns -0.0 into 0.0

    def _number(self, value: object) -> float:
        if self.unit is None:
            return parse_quantity(value, self.kind)
        if self.unit == "":
            return _plain_number(value)
        if isinstance(value, str) and not _BARE.fullmatch(value):
            return parse_quantity(value, self.kind) / parse_quantity(f"1 {self.unit}", self.kind)
        return _plain_number(value)

    def _out_of_range(self, value: object, number: float) -> str:
        written, read_as = str(value)[:40], self._spoken(number)
        shown = written if _squeezed(written) == _squeezed(read_as) else (
            say("{written} (read as {read_as})", written=written, read_as=read_as)
            if read_as != written else written
        )
        if number < self.low:
            return say("{shown} is less than the lowest that can be right here, {limit}. {advice}",
                       shown=shown, limit=self._spoken(self.low), advice=self.advice)  # fmt: skip
        return say("{shown} is more than the highest that can be right here, {limit}. {advice}",
                   shown=shown, limit=self._spoken(self.high), advice=self.advice)  # fmt: skip

    def _spoken(self, number: float) -> str:
        if self.unit is not None:
            return f"{number:.6g} {self.unit}".strip()
        if self.kind == "fraction":
            return f"{number * 100:.6g} %"
        return f"{number:.6g} {_SI_UNIT[self.kind]}"


_BARE = re.compile(r"\s*[\d.,eE+-]+\s*")
_SI_UNIT = {
    "length": "m", "area": "m2", "volume": "m3", "mass": "kg", "temperature": "degC",
    "temperature_difference": "K", "power": "W", "duration": "h",
}


def _plain_number(value: object) -> float:
    number = value
    if isinstance(value, str) and _BARE.fullmatch(value):
        try:
            number = float(value.replace(",", "."))
        except ValueError:
            number = None
    if isinstance(number, bool) or not isinstance(number, (int, float)) or number != number:
        raise KeeperError(say("{value} is not a number.", value=repr(str(value)[:40])))
    return float(number)


def _squeezed(text: str) -> str:
    return re.sub(r"[\s°]", "", text).lower()


def quantity(kind: Kind, low: float, high: float, advice: str = ASK_UNIT) -> Quantity:
    """Metadata of a field that holds a quantity between ``low`` and ``high`` (SI)."""
    return Quantity(kind, low, high, advice)


def number(low: float, high: float, advice: str = say("Check the number.")) -> Quantity:
    """Metadata of a field that holds a plain number between ``low`` and ``high``."""
    return Quantity("fraction", low, high, advice, unit="")


def litres(low: float, high: float) -> Quantity:
    """Metadata of a volume field kept in litres; a bare number is litres."""
    return Quantity("volume", low, high, unit="L")


def clean_text(value: object) -> object:
    """``value`` without control characters and outer blanks; anything but text as it is."""
    if not isinstance(value, str):
        return value
    text = value.replace("\r\n", "\n").replace("\r", "\n")
    kept = (c for c in text if c in "\n\t" or unicodedata.category(c) not in ("Cc", "Cs"))
    text = "".join(kept).strip()
    if len(text) > MAX_TEXT:
        raise keeper_error(say("This text is longer than {max_text} characters. Shorten it.",
                               max_text=MAX_TEXT))
    return text


def _clean_name(value: object) -> object:
    text = clean_text(value)
    if isinstance(text, str):
        text = " ".join(text.split())
        if len(text) > 120:
            raise keeper_error(say("This name is longer than 120 characters. Shorten it."))
    return text


def _clean_slug(value: object) -> object:
    if isinstance(value, int) and not isinstance(value, bool):
        value = str(value)  # a bed may be called 1 or 2
    if not isinstance(value, str):
        return value
    text = value.strip().lower()
    if not _SLUG.fullmatch(text):
        raise keeper_error(
            say("{strip} cannot be an id. Use up to 80 small letters, figures, - and _, such as"
                ' "north-bed".', strip=repr(value.strip()[:40]))
        )
    return text


def _slug_or_blank(value: object) -> object:
    return "" if isinstance(value, str) and not value.strip() else _clean_slug(value)


Text = Annotated[str, BeforeValidator(clean_text)]
Name = Annotated[str, BeforeValidator(_clean_name)]
Slug = Annotated[str, BeforeValidator(_clean_slug)]
SlugOrBlank = Annotated[str, BeforeValidator(_slug_or_blank)]


def slug_of(name: str) -> str:
    """An id made from a name: ``slug_of("North bed")`` is ``north-bed``."""
    ascii_text = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", ascii_text).strip("-")[:80]


def is_slug(text: str) -> bool:
    """Whether ``text`` is an id as it stands."""
    return _SLUG.fullmatch(text) is not None


class Record(BaseModel):
    """Base of all records: frozen, unknown keys refused, the keeper's way of units accepted."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    @model_validator(mode="before")
    @classmethod
    def _accept_unit_keys(cls, raw: Any) -> Any:
        return cls.with_full_names(raw) if isinstance(raw, dict) else raw

    @classmethod
    def with_full_names(cls, raw: dict[str, Any]) -> dict[str, Any]:
        """``raw`` with short and unit-bearing keys turned into the record's field names."""
        known = {}
        for key, value in raw.items():
            if not isinstance(key, str) or key in cls.model_fields:
                known[key] = value
        for key, value in raw.items():
            if key in known:
                continue
            field, new_value = cls._match_key(key, value)
            if field in known and field != key:
                new_value = Wrong(say("This is given twice, also as {key}. Keep one of the two.",
                                      key=repr(key)))
            known[field] = new_value
        return known

    @classmethod
    def _match_key(cls, key: str, value: Any) -> tuple[str, Any]:
        if f"{key}_deg" in cls.model_fields:  # latitude = 46.0
            return f"{key}_deg", value
        for field, kind in quantity_fields(cls).items():
            stem = _UNIT_SUFFIX.sub("", field)
            if key == stem:
                return field, value if kind == "fraction" else _needing_unit(value, field)
            unit = key.removeprefix(stem + "_")
            if unit != key and _is_unit(unit, kind):
                return field, _with_unit(value, unit)
        return key, value


@lru_cache(maxsize=256)
def _is_unit(text: str, kind: Kind) -> bool:
    try:
        parse_quantity(f"1 {text}", kind)
    except KeeperError:
        return False
    return True


@lru_cache(maxsize=64)
def quantity_fields(record: type[BaseModel]) -> dict[str, Kind]:
    """Field name -> kind of quantity, for the fields of ``record`` that hold quantities."""
    found: dict[str, Kind] = {}
    for name, info in record.model_fields.items():
        for item in [*info.metadata, *_inner_metadata(info.annotation)]:
            if isinstance(item, Quantity) and item.unit != "":
                found[name] = item.kind
    return found


def key_names(record: type[BaseModel]) -> tuple[str, ...]:
    """Every key ``record`` accepts without a unit in it: field names and their short names."""
    short = [_UNIT_SUFFIX.sub("", name) for name in quantity_fields(record)]
    return tuple(dict.fromkeys([*record.model_fields, *short]))


def _inner_metadata(annotation: Any) -> list[Any]:
    found = list(getattr(annotation, "__metadata__", ()))
    for inner in getattr(annotation, "__args__", ()):
        found.extend(_inner_metadata(inner))
    return found


def _needing_unit(value: Any, field: str) -> Any:
    if isinstance(value, list):
        return [_needing_unit(item, field) for item in value]
    bare = isinstance(value, (int, float)) and not isinstance(value, bool)
    if bare or (isinstance(value, str) and re.fullmatch(r"\s*[\d.,+-]+\s*", value)):
        return Wrong(say("{value} has no unit. Write it with one, or name the key {field}.",
                         value=value, field=field))
    return value


def _with_unit(value: Any, unit: str) -> Any:
    if isinstance(value, list):
        return [_with_unit(item, unit) for item in value]
    if value is None or value == "" or isinstance(value, bool):
        return value
    if isinstance(value, str) and re.search(r"[a-zA-Z%\"']", value):
        return Wrong(say("{value} carries a unit, and so does its key. Keep one of the two.",
                         value=repr(value[:40])))
    return f"{value} {unit}"
