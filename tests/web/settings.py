"""Settings of the tests: the product's own, over a data folder that goes away."""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile

_FOLDER = tempfile.mkdtemp(prefix="bedlore-test-")
atexit.register(shutil.rmtree, _FOLDER, ignore_errors=True)
os.environ["BEDLORE_DATA"] = _FOLDER
os.environ["BEDLORE_HOSTS"] = "testserver"

from bedlore.web.settings import *  # noqa: E402, F403
from bedlore.web.settings import STORAGES  # noqa: E402

# Argon2 is slow on purpose; one test signs in with it, the others need not wait.
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.MD5PasswordHasher",
    "django.contrib.auth.hashers.Argon2PasswordHasher",
]
STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
