"""Headers of every answer: no script or style but our own files, no frames, nothing kept by the
browser itself; what the phone's own worker may keep is said in ``X-Bedlore-Keep``."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from bedlore.web.phone import account_mark, may_be_kept

Handler = Callable[[HttpRequest], HttpResponse]

CONTENT_POLICY = "; ".join((
    "default-src 'none'", "script-src 'self'", "style-src 'self'", "img-src 'self' data: blob:",
    "font-src 'self'", "connect-src 'self'", "manifest-src 'self'", "worker-src 'self'",
    "form-action 'self'", "base-uri 'none'", "frame-ancestors 'none'",
))  # fmt: skip
PERMISSIONS = "camera=(self), geolocation=(), microphone=(), payment=(), usb=()"


class StrictHeaders:
    """Adds what Django's own middleware does not."""

    def __init__(self, get_response: Handler) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """The answer with its headers."""
        response = self._get_response(request)
        response.headers.setdefault("Content-Security-Policy", CONTENT_POLICY)
        response.headers.setdefault("Permissions-Policy", PERMISSIONS)
        response.headers.setdefault("X-Frame-Options", "DENY")
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        user = getattr(request, "user", None)
        if user is not None and user.is_authenticated:
            response.headers.setdefault("Cache-Control", "private, no-store")
        if user is not None:
            response.headers.setdefault("X-Bedlore-Account", account_mark(user))
            if may_be_kept(request):
                response.headers.setdefault("X-Bedlore-Keep", "1")
        return response
