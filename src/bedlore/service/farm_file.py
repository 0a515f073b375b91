"""The farm file in and out, with a look at what would change before it is taken over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from bedlore.errors import Fault, KeeperError
from bedlore.farm.cautions import cautions
from bedlore.farm.load import MAX_FARM_BYTES, decode, dump_farm, parse_farm
from bedlore.farm.model import Farm
from bedlore.say import say
from bedlore.service.book import Author


class VersionedFarm(Protocol):
    """Keeps the description of one farm, and every one it had before."""

    def load_farm(self) -> Farm:
        """The farm as described now."""
        ...

    @property
    def version(self) -> int:
        """Grows with each save; 0 before the first."""
        ...

    def save_farm(self, farm: Farm, expected: int | None = None, by: Author = ...,
                  why: str = "") -> None:  # fmt: skip
        """Replaces the description. Raises :class:`~bedlore.service.book.Changed` when the
        version is no longer ``expected``."""
        ...


@dataclass(frozen=True)
class FarmPreview:
    """A farm file as understood: what to look at, and how it differs from what is kept."""

    farm: Farm
    cautions: tuple[Fault, ...]
    beds_added: tuple[str, ...] = ()
    beds_changed: tuple[str, ...] = ()
    beds_removed: tuple[str, ...] = ()


def preview_farm(data: bytes, where: str = "farm.toml", before: Farm | None = None) -> FarmPreview:
    """What the farm file ``data`` says; raises :class:`KeeperError` with every fault."""
    if len(data) > MAX_FARM_BYTES:
        raise KeeperError(say("The file is larger than any farm file."), where)
    farm = parse_farm(decode(data, where), where)
    old = {bed.id: bed for bed in before.beds} if before else {}
    new = {bed.id: bed for bed in farm.beds}
    return FarmPreview(
        farm, tuple(cautions(farm)),
        beds_added=tuple(i for i in new if i not in old),
        beds_changed=tuple(i for i in new if i in old and old[i] != new[i]),
        beds_removed=tuple(i for i in old if i not in new),
    )  # fmt: skip


def import_farm(
    store: VersionedFarm, data: bytes, by: Author, expected: int | None = None,
    where: str = "farm.toml",
) -> Farm:  # fmt: skip
    """Makes the farm file ``data`` the description of the farm; the one before is kept."""
    farm = preview_farm(data, where).farm
    store.save_farm(farm, expected, by, f"from the file {where}")
    return farm


def export_farm(store: VersionedFarm) -> str:
    """The farm file (TOML) that :func:`import_farm` reads back to an equal farm."""
    return dump_farm(store.load_farm())
