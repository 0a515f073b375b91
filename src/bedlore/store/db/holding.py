"""Which entries of a chain of corrections hold."""

from __future__ import annotations

from collections.abc import Sequence

from bedlore.farm.log import AnyEntry, current_entries


def which_hold(entries: Sequence[AnyEntry]) -> set[str]:
    """Ids of the entries that hold, by :func:`~bedlore.farm.log.current_entries`; and of the
    voids that stand, that is, were not themselves taken back."""
    held = {entry.id for entry in current_entries(entries)}
    voids = [entry for entry in entries if entry.kind == "void"]
    against: dict[str, list[str]] = {}
    for void in voids:
        against.setdefault(void.amends or "", []).append(void.id)
    standing: dict[str, bool] = {}

    def stands(void_id: str) -> bool:
        if void_id not in standing:
            standing[void_id] = False  # a circle of voids takes itself back
            standing[void_id] = not any(stands(other) for other in against.get(void_id, ()))
        return standing[void_id]

    return held | {void.id for void in voids if stands(void.id)}
