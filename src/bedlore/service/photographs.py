"""Photographs of a log: made anew from what a phone sends, and nothing left but the picture.

Where and when it was taken, by which phone, thumbnails, comments: none of it is kept. The picture
is turned the right way up, made smaller, and written as a plain JPEG.
"""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass
from typing import IO

from PIL import Image, ImageCms, ImageOps

from bedlore.errors import Fault, FaultList
from bedlore.say import say

MAX_BYTES = 50_000_000
MAX_PIXELS = 60_000_000  # more than any phone takes; beyond it lies what is made to fill a memory
LONGEST_PX = 1600
SMALL_PX = 320
MOST_AT_ONCE = 4
_FORMATS = ("JPEG", "PNG", "WEBP")
_QUALITY = 82
Image.init()  # all of Pillow's formats are known from here on
_SRGB = ImageCms.createProfile("sRGB")
_UNREADABLE = (OSError, ValueError, SyntaxError, EOFError, ArithmeticError, MemoryError, TypeError,
               Image.DecompressionBombError, Image.DecompressionBombWarning)  # fmt: skip


@dataclass(frozen=True)
class Photograph:
    """A picture ready to be kept: JPEG, named by its digest (SHA-256)."""

    content: bytes
    width_px: int
    height_px: int

    @property
    def digest(self) -> str:
        """The name it is kept under."""
        return hashlib.sha256(self.content).hexdigest()


def photograph(source: IO[bytes], size_bytes: int) -> Photograph:
    """What a phone sent, made anew; raises :class:`FaultList` with a sentence for ``photo``."""
    if size_bytes > MAX_BYTES:
        _refuse(say("The photograph has {size} MB; at most {most} MB are taken.",
                    size=round(size_bytes / 1e6), most=round(MAX_BYTES / 1e6)))  # fmt: skip
    try:
        with Image.open(source, formats=_FORMATS) as image:
            if image.width * image.height > MAX_PIXELS:
                _refuse(say("The photograph has {size} million points; at most {most} million are"
                            " taken.", size=round(image.width * image.height / 1e6),
                            most=round(MAX_PIXELS / 1e6)))  # fmt: skip
            image.draft("RGB", (LONGEST_PX, LONGEST_PX))  # a JPEG is read small at once
            return _written(_plain(image), LONGEST_PX)
    except _UNREADABLE:
        _refuse(say("This is no photograph that can be read. Send a JPEG, PNG or WebP picture."))
        raise  # never reached: _refuse raises


def small(content: bytes) -> bytes:
    """A small picture of a kept one, for lists."""
    with Image.open(io.BytesIO(content), formats=("JPEG",)) as image:
        image.draft("RGB", (SMALL_PX, SMALL_PX))
        return _written(image.convert("RGB"), SMALL_PX).content


def is_photograph(content: bytes) -> bool:
    """Whether ``content`` is a JPEG of ours, such as an archive brings back."""
    try:
        with Image.open(io.BytesIO(content), formats=("JPEG",)) as image:
            return max(image.size) <= LONGEST_PX
    except _UNREADABLE:
        return False


def _refuse(sentence: str) -> None:
    raise FaultList([Fault("photo", sentence)])


def _plain(image: Image.Image) -> Image.Image:
    """Upright, in sRGB, on white where it could be seen through."""
    profile = image.info.get("icc_profile")
    upright = ImageOps.exif_transpose(image)
    if upright.mode in ("RGBA", "LA", "PA") or "transparency" in upright.info:
        clear = upright.convert("RGBA")
        ground = Image.new("RGBA", clear.size, "white")
        upright = Image.alpha_composite(ground, clear)
    plain = upright.convert("RGB")
    if profile:
        try:
            known = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            plain = ImageCms.profileToProfile(plain, known, _SRGB) or plain
        except (ImageCms.PyCMSError, OSError, ValueError):
            pass  # a colour profile that cannot be read costs a shade, not the picture
    return plain


def _written(image: Image.Image, longest_px: int) -> Photograph:
    image.thumbnail((longest_px, longest_px))
    fresh = Image.new("RGB", image.size)  # takes the points over and nothing else
    fresh.paste(image)
    target = io.BytesIO()
    fresh.save(target, "JPEG", quality=_QUALITY, optimize=True)
    return Photograph(target.getvalue(), fresh.width, fresh.height)
