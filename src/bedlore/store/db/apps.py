"""The Django application that owns the tables, all named ``store_...``."""

from __future__ import annotations

from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class StoreConfig(AppConfig):
    """Tables of farms, logs, weather, outlooks, people and what they may do."""

    name = "bedlore.store.db"
    label = "store"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Guards are put back after every migration: SQLite drops triggers with old tables."""
        post_migrate.connect(_guard, sender=self)


def _guard(**said: Any) -> None:
    from bedlore.store.db.guards import make_log_append_only

    make_log_append_only(said["using"])
