"""Photographs: only the picture is kept, upright and small; what is none is refused."""

from __future__ import annotations

import io
import struct
import zlib

import pytest
from PIL import Image

from bedlore.errors import FaultList
from bedlore.service.photographs import (
    LONGEST_PX,
    MAX_BYTES,
    SMALL_PX,
    Photograph,
    is_photograph,
    photograph,
    small,
)

GPS, ORIENTATION, MAKE = 0x8825, 0x0112, 0x010F


def picture(size: tuple[int, int] = (60, 40), form: str = "JPEG", **more: object) -> io.BytesIO:
    """A picture with a red left half and a blue right half."""
    image = Image.new("RGB", size, "blue")
    image.paste("red", (0, 0, size[0] // 2, size[1]))
    target = io.BytesIO()
    image.save(target, form, **more)
    target.seek(0)
    return target


def taken(size: tuple[int, int] = (60, 40)) -> Photograph:
    return photograph(picture(size), 1000)


def opened(found: Photograph) -> Image.Image:
    return Image.open(io.BytesIO(found.content))


def test_nothing_but_the_picture_is_left() -> None:
    exif = Image.Exif()
    exif[MAKE] = "a phone of somebody"
    exif[ORIENTATION] = 1
    exif.get_ifd(GPS).update({1: "N", 2: (46.0, 30.0, 1.0)})
    sent = picture(exif=exif, comment=b"at home")
    assert b"a phone of somebody" in sent.getvalue()
    found = photograph(sent, 1000)
    image = opened(found)
    assert not image.getexif()
    assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    for word in (b"a phone of somebody", b"at home", b"Exif", b"GPS"):
        assert word not in found.content


def test_it_is_turned_upright() -> None:
    exif = Image.Exif()
    exif[ORIENTATION] = 6  # held sideways: to be turned right by a quarter
    image = opened(photograph(picture(exif=exif), 1000))
    assert image.size == (40, 60)
    red, _, blue = image.getpixel((20, 5))
    assert red > 200 > 60 > blue  # the left half is on top


def test_it_is_made_smaller_and_never_larger() -> None:
    large = photograph(picture((4000, 3000)), 10_000)
    assert (large.width_px, large.height_px) == (LONGEST_PX, 1200)
    assert opened(taken((60, 40))).size == (60, 40)
    assert max(Image.open(io.BytesIO(small(large.content))).size) == SMALL_PX


@pytest.mark.parametrize("form", ["PNG", "WEBP", "JPEG"])
def test_other_kinds_become_jpeg(form: str) -> None:
    found = photograph(picture(form=form), 1000)
    assert opened(found).format == "JPEG"
    assert is_photograph(found.content)


def test_what_can_be_seen_through_stands_on_white() -> None:
    target = io.BytesIO()
    Image.new("RGBA", (8, 8), (0, 0, 0, 0)).save(target, "PNG")
    target.seek(0)
    assert min(opened(photograph(target, 100)).getpixel((4, 4))) > 250


def bomb(width: int, height: int) -> bytes:
    """A PNG of a few bytes that says it is very large."""
    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(
            ">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"0" * 99))
            + chunk(b"IEND", b""))


@pytest.mark.parametrize(("content", "size", "sentence"), [
    (b"GIF89a....", 10, "no photograph"),
    (b"<svg xmlns='http://www.w3.org/2000/svg'/>", 40, "no photograph"),
    (b"", 0, "no photograph"),
    (picture().getvalue()[:300], 300, "no photograph"),
    (picture().getvalue(), MAX_BYTES + 1, "at most 50 MB"),
    (bomb(9_000, 9_000), 200, "at most 60 million"),
    (bomb(60_000, 60_000), 200, "no photograph"),  # the library itself refuses to look at it
], ids=["gif", "svg", "nothing", "cut", "50 MB", "large", "bomb"])  # fmt: skip
def test_what_is_no_photograph_is_refused(content: bytes, size: int, sentence: str) -> None:
    with pytest.raises(FaultList) as caught:
        photograph(io.BytesIO(content), size)
    (fault,) = caught.value.faults
    assert fault.path == "photo"
    assert sentence in fault.sentence
