"""A column of text that can be said again in each reader's language."""

from __future__ import annotations

from typing import Any

from django.db import models

from bedlore.say import from_text, to_text


class SaidField(models.TextField):
    """Keeps how a :class:`~bedlore.say.Said` was made; reads it for whoever listens then."""

    def from_db_value(self, value: str | None, *_: Any) -> str | None:
        """The text, as whoever listens now reads it."""
        return None if value is None else from_text(value)

    def get_prep_value(self, value: Any) -> Any:
        """What the database is given."""
        prepared = super().get_prep_value(value)
        return to_text(value) if isinstance(value, str) else prepared

    def deconstruct(self) -> Any:
        """To the database it is a text column like any other."""
        name, _, args, kwargs = super().deconstruct()
        return name, "django.db.models.TextField", args, kwargs
