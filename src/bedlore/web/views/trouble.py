"""Pages for what went wrong: always a sentence and what to do."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse

from bedlore.say import say
from bedlore.web.rights import refuse


def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form came without its secret, or with an old one."""
    return refuse(request, 403, say("This form is stale. Go back, load the page again and send"
                                    " it once more; what you typed is still there."))  # fmt: skip


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """What was sent cannot be read."""
    return refuse(request, 400, say("What was sent cannot be read, or it is too large."))


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Not allowed."""
    return refuse(request, 403, say("This is not open to you."))


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Nothing there."""
    return refuse(request, 404, say("There is nothing at this address."))


def broken(request: HttpRequest) -> HttpResponse:
    """A fault of ours."""
    return refuse(request, 500, say("Something broke on our side. Nothing you wrote before is"
                                    " lost; try again, and tell whoever looks after this"
                                    " machine."))  # fmt: skip
