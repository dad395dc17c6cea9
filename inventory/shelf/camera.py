"""What a camera sends, read: upright, reduced, freed of everything but the picture.

NotAPicture     a file that is not taken, with the sentence for the person
"""

import hashlib
import math
import os
import struct
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from threading import Lock
from typing import IO, Any

from PIL import ExifTags, Image, ImageFile
from PIL.JpegImagePlugin import JpegImageFile
from PIL.PngImagePlugin import PngImageFile
from PIL.WebPImagePlugin import WebPImageFile
from pillow_heif import HeifImageFile

from inventory.measure.figures import parted

MOST_BYTES = 12_000_000
# Decoded, a pixel takes four bytes and more. A JPEG is decoded no larger than needed, the others only whole.
MOST_PIXELS = 64_000_000
MOST_PIXELS_WHOLE = 26_000_000  # with HEIC of 24 million, as phones take it
LONGEST_SIDE = 2_048  # pixels; a stamp or a display is still read at that
SMALL_SIDE = 320
QUALITY = 85
LEAST_CONTRAST = 24  # of 255 levels
FIRST_YEAR = 2000  # a camera whose clock was never set says an earlier one

_TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
# What decoders raise on bytes that are not what their head says.
_BROKEN = (OSError, SyntaxError, ValueError, TypeError, LookupError, EOFError, ArithmeticError, AttributeError)
_BROKEN_INSIDE = (*_BROKEN, RuntimeError, struct.error, zlib.error)
_HEIC = (b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1")


class NotAPicture(ValueError):
    """A file that is not taken as a photo; the text is a sentence for the person."""


@dataclass(frozen=True)
class Picture:
    """A picture as it is kept: JPEG bytes without any metadata, its sides in pixels."""

    content: bytes
    width: int
    height: int
    look: str = ""  # see `look_of`; empty of one in which nothing is to be told apart
    taken_at: datetime | None = None  # as the camera had noted it, without a zone where it named none

    @property
    def digest(self) -> str:
        """The SHA-256 of the bytes as kept."""
        return hashlib.sha256(self.content).hexdigest()


def read_picture(file: IO[bytes]) -> Picture:
    """Return the picture of an uploaded file: upright, at most 2,048 px long, JPEG, nothing but the picture in it.

    Takes JPEG, PNG, WebP and HEIC by what the bytes are, whatever the name says, up to 12 MB and 64 million pixels (all
    but JPEG: 26 million). Raises NotAPicture with a sentence for anything else: too large, another type, cut short.
    """
    content = file.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        size_mb = math.ceil(file.seek(0, os.SEEK_END) / 100_000) / 10
        raise NotAPicture(
            f"The file has {size_mb:.1f} MB; at most {MOST_BYTES // 1_000_000} MB are taken. "
            "Take the photo with fewer pixels."
        )
    image = _opened(content)
    try:
        with _to_its_end():
            image.load()
        orientation, taken_at, coloured = _orientation(image), _taken_at(image), _coloured(image)
        coloured.thumbnail((LONGEST_SIDE, LONGEST_SIDE), Image.Resampling.LANCZOS)  # first: the rest is then cheap
        upright = _turned(_on_white(coloured), orientation)
    except _BROKEN_INSIDE as error:
        raise NotAPicture("The file is cut short or damaged, and cannot be read to its end. Send it again.") from error
    bare = Image.new("RGB", upright.size)  # a new one: what the old one knows beside its pixels stays behind
    bare.paste(upright)
    return Picture(_jpeg(bare, QUALITY), *bare.size, look_of(bare), taken_at)


def look_of(image: Image.Image) -> str:
    """Return what a picture looks like in 64 bits, as 16 hexadecimal digits: it stays when it is saved or made small.

    Each bit says whether a field of a grid of nine by eight is brighter than the next one in its row. Empty where the
    whole grid is of nearly one brightness: such pictures are all alike.
    """
    grid = list(image.convert("L").resize((9, 8), Image.Resampling.LANCZOS).tobytes())
    if max(grid) - min(grid) < LEAST_CONTRAST:
        return ""
    bits = [grid[row * 9 + at] > grid[row * 9 + at + 1] for row in range(8) for at in range(8)]
    return f"{int(''.join(str(int(bit)) for bit in bits), 2):016x}"


def small(content: bytes) -> bytes:
    """Return a kept picture made small, for lists; at most 320 px long."""
    image = Image.open(BytesIO(content), formats=["JPEG"])
    image.thumbnail((SMALL_SIDE, SMALL_SIDE))
    return _jpeg(image, QUALITY)


_whole = Lock()


@contextmanager
def _to_its_end() -> Iterator[None]:
    """Let Pillow refuse what is cut short: the library that makes PDFs tells it, for the whole process, not to."""
    with _whole:
        before, ImageFile.LOAD_TRUNCATED_IMAGES = ImageFile.LOAD_TRUNCATED_IMAGES, False
        try:
            yield
        finally:
            ImageFile.LOAD_TRUNCATED_IMAGES = before


def _opened(content: bytes) -> Image.Image:
    """Return the picture with its head read and its sides checked, not yet decoded."""
    kind = _kind(content)
    try:
        image = kind(BytesIO(content))
    except _BROKEN_INSIDE as error:
        raise NotAPicture("The file begins like a picture, yet cannot be read as one. Send another.") from error
    most = MOST_PIXELS if kind is JpegImageFile else MOST_PIXELS_WHOLE
    if (pixels := image.width * image.height) > most:
        raise NotAPicture(
            f"The picture has {parted(image.width)} by {parted(image.height)} pixels, {parted(pixels / 1e6)} million; "
            f"at most {most // 1_000_000} million are taken of this type. Take the photo with fewer pixels, as JPEG."
        )
    if isinstance(image, JpegImageFile):
        image.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))  # decoded no larger than needed
    return image


def _kind(content: bytes) -> type[ImageFile.ImageFile]:
    """Return how to read the bytes, by their first ones."""
    if content.startswith(b"\xff\xd8\xff"):
        return JpegImageFile
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return PngImageFile
    if content.startswith(b"RIFF") and content[8:12] == b"WEBP":
        return WebPImageFile
    if content[4:8] == b"ftyp" and content[8:12] in _HEIC:
        return HeifImageFile
    if not content:
        raise NotAPicture("The file is empty: 0 bytes came. Choose it again, or take it again.")
    raise NotAPicture("This is not a type this can read. Send a photo as JPEG, PNG, WebP or HEIC.")


def _orientation(image: Image.Image) -> Any:
    try:
        return image.getexif().get(ExifTags.Base.Orientation)
    except _BROKEN_INSIDE:
        return None  # a damaged note about the picture is no reason to refuse the picture


def _taken_at(image: Image.Image) -> datetime | None:
    """Return when a picture was taken, as its camera noted it: Exif 2.32, tags 36867 and 36881."""
    try:
        notes = image.getexif().get_ifd(ExifTags.IFD.Exif)
        noted = str(notes[ExifTags.Base.DateTimeOriginal]).strip("\0 ")
        taken = datetime.strptime(noted, "%Y:%m:%d %H:%M:%S")  # noqa: DTZ007 - the camera names no zone here
    except _BROKEN_INSIDE:
        return None
    try:
        offset = datetime.strptime(str(notes.get(ExifTags.Base.OffsetTimeOriginal)).strip("\0 "), "%z").tzinfo
    except _BROKEN_INSIDE:
        offset = None
    return taken.replace(tzinfo=offset) if taken.year >= FIRST_YEAR else None


def _turned(image: Image.Image, orientation: Any) -> Image.Image:
    turn = _TURNS.get(orientation) if isinstance(orientation, int) else None
    return image if turn is None else image.transpose(turn)


def _coloured(image: Image.Image) -> Image.Image:
    """Return the picture in three colours of eight bits, with what shows through beside them where anything does."""
    if image.mode.startswith("I"):
        image = image.convert("I").point(lambda level: level / 256).convert("L")  # 16 bits of grey
    mode = "RGBA" if image.has_transparency_data else "RGB"
    return image if image.mode == mode else image.convert(mode)


def _on_white(image: Image.Image) -> Image.Image:
    if image.mode == "RGB":
        return image
    white = Image.new("RGB", image.size, "white")
    white.paste(image, mask=image.getchannel("A"))
    return white


def _jpeg(image: Image.Image, quality: int) -> bytes:
    out = BytesIO()
    image.save(out, "JPEG", quality=quality, optimize=True)
    return out.getvalue()
