"""How much may be sent at once. Of a form that is longer the files are passed over, unkept, so
that what was typed arrives and the page can say beside the field what was too much."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import RequestDataTooBig
from django.core.files.uploadhandler import FileUploadHandler, SkipFile
from django.http import HttpRequest

ARCHIVE_BYTES = 1_000_000_000
OTHER_BYTES = 60_000_000  # a photograph of 50 MB still comes through, to be refused by name
READ_BYTES = 2_000_000_000  # of what is longer nothing is read at all
_ARCHIVES = ("/restore/",)


class Bounded(FileUploadHandler):
    """The first of the upload handlers: looks at the length alone."""

    request: HttpRequest

    def handle_raw_input(self, input_data: Any, META: Any, content_length: int, boundary: Any,
                         encoding: str | None = None) -> None:  # fmt: skip
        """Notes what is too long for its address."""
        if content_length > READ_BYTES:
            raise RequestDataTooBig("more was sent than is read at once")
        is_archive = str(META.get("PATH_INFO", "")).endswith(_ARCHIVES)
        if content_length > (ARCHIVE_BYTES if is_archive else OTHER_BYTES):
            self.request.too_long_bytes = content_length

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        """Passes over a file of what is too long."""
        super().new_file(*args, **kwargs)
        if hasattr(self.request, "too_long_bytes"):
            raise SkipFile

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes:
        """Hands on to the next handler."""
        return raw_data

    def file_complete(self, file_size: int) -> None:
        """Leaves the file to the next handler."""


def too_long_bytes(request: HttpRequest) -> int:
    """How much was sent when its files were passed over for it; 0 when they were not."""
    _ = request.FILES  # what was sent is read when it is first asked for
    return int(getattr(request, "too_long_bytes", 0))
