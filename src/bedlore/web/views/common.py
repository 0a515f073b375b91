"""What every page of a farm stands in: its bearings, the reader's units, the beds' marks."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from dataclasses import dataclass
from ipaddress import ip_address
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from bedlore.errors import FaultList, KeeperError
from bedlore.farm.bed import Bed
from bedlore.farm.model import Farm
from bedlore.service.marks import marked_beds
from bedlore.service.rights import may
from bedlore.service.shown import Shown
from bedlore.store.db.farm_store import farm_of_row
from bedlore.web import wiring
from bedlore.web.leaves.part import Part
from bedlore.web.leaves.today import chores_of
from bedlore.web.speech import shown_to

Context = dict[str, Any]
_STALE_H = 30.0  # a night was missed


def bed_or_404(farm: Farm, bed: str) -> Bed:
    """The bed of that id; raises Http404 when the farm has none."""
    found = farm.bed(bed)
    if found is None:
        raise Http404
    return found


def shown_for(request: HttpRequest, farm: Farm) -> Shown:
    """The reader's own units, or the farm's."""
    return shown_to(str(getattr(request.user, "units", "")), farm)


def frame(request: HttpRequest, here: str, **more: Any) -> Context:
    """The context that ``farm_page.html`` needs; ``here`` names the board to light up."""
    row = request.farm_row
    farm = farm_of_row(row)
    marked = marked_beds(farm)
    day = wiring.now_of(row).astimezone(farm.site.zone_info()).date()
    return {
        "slug": row.slug, "farm": farm, "here": here, "marked": marked,
        "standing": [one for one in marked if one.bed.stands(day)],
        "boards": _boards(row.slug, request), "can_log": may(request.role, "log", None),
        "can_keep": may(request.role, "keep", None), "is_still": row.as_of is not None, **more,
    }  # fmt: skip


def _boards(slug: str, request: HttpRequest) -> list[tuple[str, str, str]]:
    """(name, address, words) of each page one can go to."""
    boards = [("today", _("Today")), ("write", _("Write down")), ("log", _("Log")),
              ("farm", _("Farm")), ("scores", _("Score card"))]  # fmt: skip
    if not may(request.role, "log", None):
        boards = [board for board in boards if board[0] != "write"]
    return [(name, reverse(name, args=[slug]), words) for name, words in boards]


def unbroken(response: HttpResponse) -> HttpResponse:
    """The page with no line ending between a figure and its degree sign."""
    response.content = response.content.replace(b" \xc2\xb0", b"\xc2\xa0\xc2\xb0")
    return response


def in_units(found: Any, shown: Shown) -> Any:
    """Every sentence in the reader's units."""
    if isinstance(found, str):
        return shown.sentence(found)
    if isinstance(found, dict):
        return {key: in_units(value, shown) for key, value in found.items()}
    if isinstance(found, list | tuple):
        return [in_units(value, shown) for value in found]
    return found


def age_words(told: wiring.Told | None) -> Context:
    """How old what the page shows is, and whether it still fits what was written."""
    if told is None:
        return {"age": "", "is_stale": True, "is_current": False}
    hours = max(told.age_h, 0.0)
    if hours < 1:
        age = _("Worked out within the last hour.")
    elif hours < 48:
        count = round(hours)
        age = ngettext("Worked out %(count)d hour ago.", "Worked out %(count)d hours ago.",
                       count) % {"count": count}  # fmt: skip
    else:
        days = round(hours / 24)
        age = ngettext("Worked out %(count)d day ago.", "Worked out %(count)d days ago.",
                       days) % {"count": days}  # fmt: skip
    return {"age": age, "is_stale": hours > _STALE_H, "is_current": told.is_current}


def part_of(request: HttpRequest, count: int, size: int) -> Part:
    """The page that ``?part=`` asks for, or the nearest that there is."""
    text = request.GET.get("part", "")
    asked = int(text) if text.isascii() and text.isdecimal() and len(text) < 5 else 0
    return Part(min(asked, max(count - 1, 0) // size), count, size)


def beds_page(request: HttpRequest, told: wiring.Told | None, shown: Shown, size: int,
              make: Callable[[wiring.Told, Part, list[Context], Shown], Any],
              ) -> tuple[list[Context], Part, Any]:  # fmt: skip
    """The chores at all beds, which ``size`` of them stand on this page, and what ``make`` shows of
    those; None for that when there is no morning that can be read."""
    chores = chores_of(told, shown) if told else None
    part = part_of(request, len(chores or ()), size)
    found = make(told, part, chores, shown) if told and chores is not None else None
    return chores or [], part, found


def new_client_id() -> str:
    """A name for what a form will send, so that two taps write it once."""
    return f"page-{secrets.token_hex(8)}"


def role_words() -> dict[str, str]:
    """What each role is called."""
    return {"keeper": _("keeper"), "helper": _("helper"), "viewer": _("viewer")}


def number_of(text: str) -> int | None:
    """The number of a row as a form sends it, or None when it is none."""
    fits = text.isascii() and text.isdecimal() and len(text) < 16
    return int(text) if fits else None


@dataclass(frozen=True)
class Outside:
    """Where others find the pages: a scheme and host; ``only_here`` when that means nothing on
    any other machine."""

    origin: str
    only_here: bool

    def page(self, name: str, *args: str) -> str:
        """The whole address of a page."""
        return f"{self.origin}{reverse(name, args=args)}"


def outside(request: HttpRequest) -> Outside:
    """The address in use, unless that is this machine's own and the server knows a better one."""
    here, known = f"{request.scheme}://{request.get_host()}", str(settings.ADDRESS)
    origin = known if _is_this_machine(here) and not _is_this_machine(known) else here
    return Outside(origin, _is_this_machine(origin))


def _is_this_machine(origin: str) -> bool:
    name = urlsplit(origin).hostname or ""
    try:
        return ip_address(name).is_loopback
    except ValueError:
        return name == "localhost"


def faults_by_field(problem: KeeperError) -> dict[str, list[str]]:
    """Sentences by the field they belong beside; "" for the form as a whole."""
    faults = problem.faults if isinstance(problem, FaultList) else ()
    found: dict[str, list[str]] = {}
    for fault in faults:
        path = fault.path.replace(" ", ".").split(".")[-1]
        found.setdefault(path, []).append(fault.sentence)
    return found or {"": [str(problem)]}
