"""The way in: one's farms; and whether the server is up."""

from __future__ import annotations

from django.db import connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render

from bedlore import __version__
from bedlore.store.db.models import Membership


def home(request: HttpRequest) -> HttpResponse:
    """The farms of the account; the only one opens at today, unless all are asked for."""
    rows = Membership.objects.filter(account=request.user).select_related("farm")
    memberships = list(rows.order_by("farm__name"))
    if len(memberships) == 1 and "all" not in request.GET:
        return redirect("today", farm=memberships[0].farm.slug)
    return render(request, "home.html", {"memberships": memberships})


def up(request: HttpRequest) -> HttpResponse:
    """Whether server and database answer."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return JsonResponse({"up": True, "version": __version__})
