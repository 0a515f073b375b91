"""How a phone comes to trust this machine's certificate, and the certificate itself."""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from bedlore.store.certificates import fingerprint_of, root_file

_TYPE = "application/x-x509-ca-cert"


def _root() -> Path:
    """The root's file; raises Http404 where pages go without TLS or with another's certificate."""
    path = root_file(settings.DATA_FOLDER)
    if not settings.TLS or not path.is_file():
        raise Http404
    return path


def trust(request: HttpRequest) -> HttpResponse:
    """What to do on a phone or a computer, once."""
    pairs = fingerprint_of(_root()).split(":")
    lines = [" ".join(pairs[i : i + 8]) for i in range(0, len(pairs), 8)]
    return render(request, "entrance/trust.html", {"lines": lines, "host": request.get_host()})


def root_certificate(request: HttpRequest) -> HttpResponse:
    """The root's certificate; it holds no secret."""
    response = HttpResponse(_root().read_bytes(), content_type=_TYPE)
    response.headers["Content-Disposition"] = 'attachment; filename="bedlore-root.crt"'
    return response
