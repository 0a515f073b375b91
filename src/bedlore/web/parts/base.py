"""What every part's form is made of: values by field, rows of a list, numbers in one's units."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from pydantic import BaseModel, ValidationError

from bedlore.errors import Fault, FaultList
from bedlore.farm.faults import faults_of
from bedlore.farm.fields import Record
from bedlore.farm.load import farm_of
from bedlore.farm.model import Farm
from bedlore.service.shown import Shown
from bedlore.web.entry_fields import Unit, Values, in_unit, units_of, with_unit

Raw = dict[str, Any]
Row = dict[str, str]
MAX_ROWS = 60
_ROW = re.compile(r"([a-z]+)-(\d{1,2})-([a-z_]+)")


@dataclass(frozen=True)
class Part:
    """A part of a farm that is changed on a page of its own.

    ``values`` is what its form shows of a farm; ``changed`` the farm with what the form says,
    or a :class:`FaultList` whose paths are names of its fields. ``preset`` fills the form in:
    it gives the values with the preset called so in them, and saves nothing.
    """

    key: str
    values: Callable[[Farm, Shown], Values]
    changed: Callable[[Farm, Values, Shown], Farm]
    preset: Callable[[Values, str, Shown], Values] = lambda sent, _name, _shown: sent


@dataclass(frozen=True)
class Typed:
    """The fields of one record as typed. A number that was left as it was shown keeps its exact
    value: what is shown is rounded."""

    sent: Mapping[str, str]
    was: Mapping[str, str]
    shown: Shown

    def text(self, name: str) -> str:
        """The words in a field."""
        return self.sent.get(name, "").strip()

    def ticked(self, name: str) -> bool:
        """Whether a box is ticked."""
        return bool(self.sent.get(name))

    def number(self, name: str, unit: Unit, exact: object = None) -> Any:
        """``exact`` when nothing was changed, else what was typed, with its unit; None if empty."""
        text = self.text(name)
        if exact is not None and text == self.was.get(name):
            return exact
        return with_unit(text, units_of(self.shown)[unit][1]) if text else None


def shown_number(value: float | None, unit: Unit, shown: Shown) -> str:
    """``value`` as a field shows it; empty for none."""
    return "" if value is None else in_unit(value, unit, shown)


def ticked(value: bool) -> str:
    """What a ticked box sends."""
    return "1" if value else ""


def filled(raw: Raw) -> Raw:
    """``raw`` without what was left empty, so that defaults stand in."""
    return {key: value for key, value in raw.items() if value not in (None, "")}


def rows_of(values: Mapping[str, str], prefix: str) -> list[Row]:
    """The rows of the list ``prefix`` among ``prefix-3-name`` fields, in order."""
    found: dict[int, Row] = {}
    for name, value in values.items():
        match = _ROW.fullmatch(name)
        if match and match[1] == prefix and int(match[2]) < MAX_ROWS:
            found.setdefault(int(match[2]), {})[match[3]] = value
    return [found[place] for place in sorted(found)]


def flat(prefix: str, rows: Iterable[Mapping[str, str]]) -> Values:
    """Rows as ``prefix-3-name`` fields."""
    return {f"{prefix}-{place}-{name}": value
            for place, row in enumerate(rows) for name, value in row.items()}  # fmt: skip


def without(values: Values, prefix: str) -> Values:
    """``values`` without the rows of a list."""
    return {name: value for name, value in values.items() if not name.startswith(f"{prefix}-")}


def checked(record: type[Record], raw: Raw, prefix: str = "") -> list[Fault]:
    """What is wrong with ``raw`` as a ``record``, by the fields ``prefix`` + name."""
    try:
        record.model_validate(raw)
    except ValidationError as problem:
        return [Fault(prefix + _field(fault.path, record), fault.sentence)
                for fault in faults_of(problem, raw, record)]  # fmt: skip
    return []


def _field(path: str, record: type[BaseModel]) -> str:
    """The field of ``record`` that a fault's path ends in; "" for the record as a whole."""
    name = re.split(r"[ .\[]", path)[0]
    return name if name in record.model_fields else "row"


def farm_with_part(farm: Farm, faults: list[Fault], **parts: Any) -> Farm:
    """``farm`` with some of its parts replaced; raises all that is wrong."""
    if faults:
        raise FaultList(faults)
    raw = farm.model_dump(mode="json", exclude_none=True)
    try:
        return farm_of({**raw, **parts})
    except FaultList as problem:
        # Each record was looked at above: what is left lies between them.
        raise FaultList(Fault("", fault.sentence) for fault in problem.faults) from None


def too_many(rows: list[Row]) -> list[Fault]:
    """A fault when a list is at its longest."""
    if len(rows) < MAX_ROWS:
        return []
    return [Fault("", _("There is no room for more than %d rows here.") % MAX_ROWS)]
