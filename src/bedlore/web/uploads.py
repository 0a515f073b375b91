"""How much may be sent at once; what is larger is refused before a byte of it is kept."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import RequestDataTooBig
from django.core.files.uploadhandler import FileUploadHandler

ARCHIVE_BYTES = 1_000_000_000
OTHER_BYTES = 60_000_000  # a photograph of 50 MB still comes through, to be refused by name
_ARCHIVES = ("/restore/",)


class Bounded(FileUploadHandler):
    """The first of the upload handlers: looks at the length alone."""

    def handle_raw_input(self, input_data: Any, META: Any, content_length: int, boundary: Any,
                         encoding: str | None = None) -> None:  # fmt: skip
        """Refuses what is too long for its address."""
        is_archive = str(META.get("PATH_INFO", "")).endswith(_ARCHIVES)
        if content_length > (ARCHIVE_BYTES if is_archive else OTHER_BYTES):
            raise RequestDataTooBig("more was sent than is taken at once")

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes:
        """Hands on to the next handler."""
        return raw_data

    def file_complete(self, file_size: int) -> None:
        """Leaves the file to the next handler."""
