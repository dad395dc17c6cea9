"""Pictures for the tests: made, saved in every type, read as a photo."""

import struct
import zlib
from io import BytesIO
from typing import Any

from PIL import ExifTags, Image

from inventory.shelf.camera import Picture, read_picture

RED, BLUE, GREY = (200, 20, 20), (20, 20, 200), (120, 120, 120)


def image(width: int = 60, height: int = 40, colour: tuple[int, ...] = GREY, mode: str = "RGB") -> Image.Image:
    return Image.new(mode, (width, height), colour)


def saved(one: Image.Image, kind: str = "JPEG", **options: Any) -> bytes:
    out = BytesIO()
    one.save(out, kind, **options)
    return out.getvalue()


def read(content: bytes) -> Picture:
    return read_picture(BytesIO(content))


def opened(picture: Picture) -> Image.Image:
    return Image.open(BytesIO(picture.content))


def is_near(found: Any, colour: tuple[int, ...]) -> bool:
    """Whether a pixel is a colour, as far as JPEG keeps it."""
    return all(abs(one - other) < 25 for one, other in zip(found, colour, strict=True))


def with_place(one: Image.Image, **more: Any) -> bytes:
    """Return a JPEG that says where, when and with what it was taken, in every way that a camera has."""
    notes = Image.Exif()
    notes[ExifTags.Base.Make] = "Camera maker"
    notes[ExifTags.Base.DateTime] = "2025:03:04 10:58:00"
    place = notes.get_ifd(ExifTags.IFD.GPSInfo)
    place[ExifTags.GPS.GPSLatitudeRef], place[ExifTags.GPS.GPSLatitude] = "N", (51.0, 30.0, 0.0)
    place[ExifTags.GPS.GPSLongitudeRef], place[ExifTags.GPS.GPSLongitude] = "W", (0.0, 7.0, 0.0)
    kept = {"exif": notes, "comment": b"taken at home", "icc_profile": b"a profile", "dpi": (300, 300), **more}
    return saved(one, **kept)


def png_head(width: int, height: int) -> bytes:
    """Return a PNG of some ten bytes that says it is huge."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body
