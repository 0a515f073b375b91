"""Files on their way in: kept between looking at one and taking it over, for a day at most.

A file is named by what it holds and found again only with a signed word that names the account
and the farm it was sent for.
"""

from __future__ import annotations

import hashlib
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core import signing
from django.http import HttpRequest
from django.utils.translation import gettext as _

from bedlore.errors import Fault, FaultList
from bedlore.store.durable import replace_file
from bedlore.web.uploads import too_long_bytes

KEPT_S = 24 * 3600
MOST_BYTES = 400_000_000  # of all files that wait
_SALT = "incoming"


@dataclass(frozen=True)
class Incoming:
    """A file that was sent: its name, what it holds, and the word it is found by again."""

    name: str
    data: bytes
    word: str


def received(request: HttpRequest, field: str, most_bytes: int) -> Incoming:
    """The file in ``field``, or the one sent before whose word is in ``kept``; raises a fault
    beside the field when there is none or it is too large."""
    too_long, sent = too_long_bytes(request), request.FILES.get(field)
    if sent is None and not too_long:
        return _kept(request, field)
    if sent is None or sent.size is None or sent.size > most_bytes:
        raise FaultList([Fault(field, _("The file is larger than %d MB. Split it and bring the"
                                        " parts in one after the other.")
                               % (most_bytes // 1_000_000))])  # fmt: skip
    data = sent.read()
    if not data.strip():
        raise FaultList([Fault(field, _("The file is empty."))])
    digest = hashlib.sha256(data).hexdigest()
    _make_room(len(data), field)
    replace_file(_folder() / digest, [data])
    name = Path(str(sent.name)).name[:120]
    word = signing.dumps([digest, name, *_owner(request)], salt=_SALT, compress=True)
    return Incoming(name, data, word)


def _kept(request: HttpRequest, field: str) -> Incoming:
    word = request.POST.get("kept", "")
    if not word:
        raise FaultList([Fault(field, _("Choose a file."))])
    gone = FaultList([Fault(field, _("The file is no longer here. Choose it again."))])
    try:
        digest, name, *owner = signing.loads(word, salt=_SALT, max_age=KEPT_S)
        data = (_folder() / digest).read_bytes()
    except (signing.BadSignature, OSError, ValueError):
        raise gone from None
    if owner != _owner(request):
        raise gone
    return Incoming(name, data, word)


def _owner(request: HttpRequest) -> list[Any]:
    return [request.user.pk, request.farm_row.pk]


def _folder() -> Path:
    folder: Path = settings.DATA_FOLDER / "incoming"
    folder.mkdir(mode=0o700, exist_ok=True)
    return folder


def _make_room(size: int, field: str) -> None:
    """Drops what has waited for a day, and refuses a file that there is no room for."""
    waiting = 0
    for path in _folder().iterdir():
        try:
            about = path.stat()
            if time.time() - about.st_mtime > KEPT_S:
                path.unlink()
            else:
                waiting += about.st_size
        except FileNotFoundError:  # another request dropped it
            continue
    if waiting + size > MOST_BYTES:
        raise FaultList([Fault(field, _("Too many files wait to be taken in. Take those in first,"
                                        " or try again tomorrow."))])  # fmt: skip
