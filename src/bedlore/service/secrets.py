"""Secrets that open a door: made once, shown once, kept as a digest."""

from __future__ import annotations

import hashlib
import secrets as random
from dataclasses import dataclass


@dataclass(frozen=True)
class Secret:
    """``text`` is for the person, ``digest`` for the store."""

    text: str
    digest: str


def new_secret(prefix: str) -> Secret:
    """A secret of 256 random bits; ``prefix`` says what it is for where it turns up by mistake."""
    text = f"{prefix}_{random.token_urlsafe(32)}"
    return Secret(text, digest_of(text))


def digest_of(text: str) -> str:
    """What the store keeps of a secret. So many random bits cannot be guessed, so a plain hash
    is enough; it is not for words that people choose."""
    return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()
