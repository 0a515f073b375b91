"""Without a signal: what makes the pages an app, and the page that gathers what a shed needs."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.csrf import ensure_csrf_cookie

from bedlore import __version__
from bedlore.service.first_aid import unasked_account
from bedlore.service.rights import may
from bedlore.store.db.farm_store import farm_of_row
from bedlore.store.db.keeping import latest_run
from bedlore.store.db.models import Membership
from bedlore.web import wiring
from bedlore.web.leaves.carried import BEDS_A_PAGE, carried_leaves
from bedlore.web.phone import account_mark
from bedlore.web.views.common import age_words, beds_page, frame, in_units, shown_for, unbroken

Context = dict[str, Any]
MOST_FARMS = 3  # whose pages are taken along unasked; others once they were seen
_WORKER = Path(__file__).parents[1] / "static" / "worker.js"
_PARTS = ("base.css", "mark.svg", "pages.js", "queue.js", "phone.js", "icon-192.png",
          "django_htmx/htmx-2.min.js")  # fmt: skip


def manifest(request: HttpRequest) -> HttpResponse:
    """What a phone needs to put bedlore on its home screen (W3C web application manifest)."""
    icons = [(192, "any"), (512, "any"), (512, "maskable")]
    told = {
        "id": "/", "start_url": "/", "scope": "/", "name": "bedlore", "short_name": "bedlore",
        "description": _("Worm beds: what to do today, and the log."), "lang": get_language(),
        "display": "standalone", "background_color": "#F7F2E8", "theme_color": "#F7F2E8",
        "icons": [
            {"src": static(f"icon-{'mask-' if purpose == 'maskable' else ''}{size}.png"),
             "sizes": f"{size}x{size}", "type": "image/png", "purpose": purpose}
            for size, purpose in icons
        ],
    }  # fmt: skip
    return JsonResponse(told, content_type="application/manifest+json")


def parts() -> list[str]:
    """Addresses of our own files that the worker takes along at once."""
    return [static(name) for name in _PARTS]


def worker(request: HttpRequest) -> HttpResponse:
    """The service worker, with the names that our own files have in this version."""
    source = _WORKER.read_text("utf-8")
    build = hashlib.sha256(json.dumps([parts(), source, __version__, get_language()]).encode())
    told = {
        "PARTS": parts(), "BUILD": build.hexdigest()[:16], "STATIC": settings.STATIC_URL,
        "NO_SIGNAL": reverse("no-signal"), "PHONE": reverse("phone"),
        "SIGN_OUT": reverse("sign-out"),
    }  # fmt: skip
    head = "".join(f"const {name} = {json.dumps(value)};\n" for name, value in told.items())
    queue = json.dumps(static("queue.js"))
    response = HttpResponse(f"{head}importScripts({queue});\n{source}",
                            content_type="text/javascript; charset=utf-8")  # fmt: skip
    response["Cache-Control"] = "no-cache"
    return response


def no_signal(request: HttpRequest) -> HttpResponse:
    """What is shown in place of a page that is not on the phone; the same for everybody."""
    return render(request, "pages/no_signal.html")


@ensure_csrf_cookie
def phone(request: HttpRequest) -> HttpResponse:
    """Who is signed in and the form's secret, for what waits; with ``?take=1`` also which pages
    to take along."""
    told: Context = {"account": account_mark(request.user), "who": "", "secret": ""}
    if request.user.is_authenticated:
        told.update(who=request.user.shown_name, secret=get_token(request))
        if "take" in request.GET:
            told.update(_to_take(request))
    response = JsonResponse(told)
    response["Cache-Control"] = "no-store"
    return response


def _to_take(request: HttpRequest) -> Context:
    """One's farms; the pages to take along, with what tells that they have changed; and how they
    are to be read. The worker takes the forms that these pages lead to as well."""
    rows = Membership.objects.filter(account=request.user).select_related("farm")
    taken = []
    for member in rows.order_by("farm__name")[:MOST_FARMS]:
        run = latest_run(member.farm)
        stamp = f"{run.pk}-{run.worked_at.timestamp():.0f}" if run else ""
        names = ["today", "log", *(["write"] if may(member.role, "log", None) else [])]
        carried = reverse("carried", args=[member.farm.slug])
        more = range(1, -(-len(farm_of_row(member.farm).beds) // BEDS_A_PAGE))
        taken.append(
            {
                "stamp": f"{member.farm.version}-{stamp}",
                "pages": [
                    *(reverse(name, args=[member.farm.slug]) for name in names),
                    carried,
                    *(f"{carried}?part={place}" for place in more),
                ],
            }
        )
    return {
        "farms": list(rows.values_list("farm__slug", flat=True)),
        "taken": taken,
        "speech": f"{get_language()}-{request.user.units}",
    }


def carried(request: HttpRequest, farm: str) -> HttpResponse:
    """What a shed without a signal needs: cards, cooling curves and first aid on one page."""
    row = request.farm_row
    described = farm_of_row(row)
    shown = shown_for(request, described)
    told = wiring.last_morning(row, ())
    _, part, leaves = beds_page(request, told, shown, BEDS_A_PAGE, carried_leaves)
    if leaves is None:
        told = None
    aid = in_units(unasked_account(), shown)
    context: Context = {"told": told, "shown": shown, "aid": aid, "part": part, "leaves": leaves,
                        **age_words(told)}  # fmt: skip
    return unbroken(render(request, "pages/carried.html", frame(request, "today", **context)))
