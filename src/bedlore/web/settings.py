"""Django's settings. What depends on the machine comes from :mod:`bedlore.web.machine`."""

from __future__ import annotations

import os
from pathlib import Path

from bedlore.say import language
from bedlore.web import machine

_WEB = Path(__file__).parent

DATA_FOLDER = machine.data_folder(os.environ)
SECRET_KEY = machine.secret_key(DATA_FOLDER)
DATABASES = {"default": machine.database(os.environ.get("BEDLORE_DATABASE_URL", ""), DATA_FOLDER)}
ALLOWED_HOSTS = machine.hosts(os.environ.get("BEDLORE_HOSTS", ""))
TLS = os.environ.get("BEDLORE_TLS", "") == "1"
ADDRESS = machine.address(os.environ.get("BEDLORE_ADDRESS", ""))
CSRF_TRUSTED_ORIGINS = machine.origins(os.environ.get("BEDLORE_ADDRESS", ""))
globals().update(machine.mail(os.environ.get("BEDLORE_SMTP_URL", "")))
DEFAULT_FROM_EMAIL = os.environ.get("BEDLORE_MAIL_FROM", "bedlore@localhost")

DEBUG = False
USE_TZ = True
TIME_ZONE = "UTC"  # pages show the farm's own
ROOT_URLCONF = "bedlore.web.urls"
WSGI_APPLICATION = "bedlore.web.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

INSTALLED_APPS = [
    "django.contrib.contenttypes",
    "django.contrib.auth",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_htmx",
    "django_tasks",
    "django_tasks_db",
    "bedlore.store.db",
    "bedlore.web",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "bedlore.web.headers.StrictHeaders",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.middleware.gzip.GZipMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "bedlore.web.speech.SpeechMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "bedlore.web.rights.RightsMiddleware",
]

TEMPLATES = [{
    "BACKEND": "django.template.backends.django.DjangoTemplates",
    "DIRS": [_WEB / "templates"],
    "OPTIONS": {"context_processors": [
        "django.template.context_processors.request",
        "django.contrib.auth.context_processors.auth",
        "django.contrib.messages.context_processors.messages",
        "django.template.context_processors.i18n",
    ]},
}]  # fmt: skip

# People
AUTH_USER_MODEL = "store.Account"
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign-in"
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
_CHECKS = "django.contrib.auth.password_validation."
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": _CHECKS + "UserAttributeSimilarityValidator"},
    {"NAME": _CHECKS + "MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": _CHECKS + "CommonPasswordValidator"},
    {"NAME": _CHECKS + "NumericPasswordValidator"},
]

# Cookies and headers; headers.py adds the content policy
SESSION_COOKIE_NAME = "bedlore_session"
SESSION_COOKIE_AGE = 90 * 24 * 3600  # a phone in a shed stays signed in for a season
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = TLS
CSRF_COOKIE_NAME = "bedlore_csrf"
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SECURE = TLS
CSRF_COOKIE_HTTPONLY = False  # the page's own script sends queued entries with it
CSRF_FAILURE_VIEW = "bedlore.web.views.trouble.stale_form"
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SECURE_HSTS_SECONDS = 0  # a local certificate may go; a browser that insists would lock people out

# What may be sent
DATA_UPLOAD_MAX_MEMORY_SIZE = 5_000_000
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2_000
DATA_UPLOAD_MAX_NUMBER_FILES = 10
FILE_UPLOAD_MAX_MEMORY_SIZE = 2_500_000
FILE_UPLOAD_HANDLERS = [
    "bedlore.web.uploads.Bounded",
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
    "django.core.files.uploadhandler.TemporaryFileUploadHandler",
]

# Languages
LANGUAGE_CODE = "en"
LANGUAGES = list(language.LANGUAGES.items())
LOCALE_PATHS = [language.LOCALE]
USE_I18N = True

# Files of the pages
STATIC_URL = "/static/"
STATIC_ROOT = DATA_FOLDER / "static"
STATIC_ROOT.mkdir(exist_ok=True)
STATICFILES_DIRS = [_WEB / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage",
                "OPTIONS": {"location": str(DATA_FOLDER / "photos")}},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}  # fmt: skip
WHITENOISE_USE_FINDERS = False

# Work that pages do not wait for
TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend", "QUEUES": ["default"]}}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    # What strangers in a network try is answered, not written into the keeper's terminal.
    "loggers": {"django.security.DisallowedHost": {"level": "CRITICAL"},
                "django.request": {"level": "ERROR"}},
}
