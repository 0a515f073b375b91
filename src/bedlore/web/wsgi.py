"""The application as granian and other WSGI servers start it."""

from __future__ import annotations

import os

from django.core.wsgi import get_wsgi_application

from bedlore.web import warmth

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "bedlore.web.settings")
application = get_wsgi_application()
warmth.begin()
