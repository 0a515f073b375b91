"""The way in: one's farms; and whether the server is up."""

from __future__ import annotations

from django.db import connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render

from bedlore import __version__
from bedlore.store.db.models import Membership


def home(request: HttpRequest) -> HttpResponse:
    """The farms of the account."""
    memberships = Membership.objects.filter(account=request.user).select_related("farm")
    return render(request, "home.html", {"memberships": memberships.order_by("farm__name")})


def up(request: HttpRequest) -> HttpResponse:
    """Whether server and database answer."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return JsonResponse({"up": True, "version": __version__})
