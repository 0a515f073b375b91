"""Who may do what on a farm."""

from __future__ import annotations

from typing import Literal

Role = Literal["keeper", "helper", "viewer"]
Right = Literal["view", "log", "keep"]
ROLES: tuple[Role, ...] = ("keeper", "helper", "viewer")

RIGHTS: dict[Role, frozenset[Right]] = {
    "keeper": frozenset({"view", "log", "keep"}),
    "helper": frozenset({"view", "log"}),
    "viewer": frozenset({"view"}),
}
# What a token may do at most, whatever its owner's role.
SCOPES: dict[str, frozenset[Right]] = {
    "read": frozenset({"view"}),
    "log": frozenset({"view", "log"}),
    "keep": frozenset({"view", "log", "keep"}),
}


def may(role: Role | None, right: Right, scopes: frozenset[str] | None = None) -> bool:
    """Whether ``role`` (None: no member) gives ``right``; ``scopes`` of a token narrow it."""
    if role is None or right not in RIGHTS[role]:
        return False
    return scopes is None or any(right in SCOPES[scope] for scope in scopes if scope in SCOPES)
