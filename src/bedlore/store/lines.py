"""Lines of a file that may be huge, torn or not text, one at a time and bounded."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

MAX_LINE_BYTES = 65_536
# Put behind a line that a power cut left unfinished, so that nobody takes it for a whole one.
TORN_MARK = b" #torn"


@dataclass(frozen=True)
class Line:
    """Line ``number`` (from 1); ``data`` without its line end, cut at ``MAX_LINE_BYTES``;
    ``whole`` False when the file ends without a line end behind it."""

    number: int
    data: bytes
    whole: bool = True
    too_long: bool = False

    @property
    def shown(self) -> str:
        """The line as text that can always be printed, cut to 2,000 characters."""
        text = self.data[:2000].decode("utf-8", "backslashreplace")
        return "".join(c if c.isprintable() or c == "\t" else repr(c)[1:-1] for c in text)


def read_lines(path: Path, max_bytes: int) -> Iterator[Line]:
    """The lines of ``path``, streamed, up to ``max_bytes``. May raise :class:`OSError`."""
    read, number = 0, 0
    with path.open("rb") as file:
        while read < max_bytes:
            data = file.readline(MAX_LINE_BYTES + 2)
            if not data:
                return
            number += 1
            read += len(data)
            too_long = not data.endswith(b"\n") and len(data) > MAX_LINE_BYTES
            while too_long and read < max_bytes:
                rest = file.readline(1 << 20)
                read += len(rest)
                if not rest or rest.endswith(b"\n"):
                    break
            whole = data.endswith(b"\n") or too_long
            if number == 1:
                data = data.removeprefix(b"\xef\xbb\xbf")
            yield Line(number, data.rstrip(b"\r\n")[:MAX_LINE_BYTES], whole, too_long)
