"""Pictures for an invented book, drawn by code: a gauge and a display of a scale. Nobody is to take one for a photo."""

from collections.abc import Callable, Mapping
from io import BytesIO
from math import cos, pi, sin

from PIL import Image, ImageDraw, ImageFont

from inventory.shelf.camera import Picture, read_picture

SIDE = 480
PAPER, INK, METAL, SHOWN = "#f4f1e8", "#1b1d22", "#9a9a94", "#c9d6c2"


def gauge(reading: str) -> Picture:
    """Return a low-side gauge; its needle rests at nothing."""
    image, draw = _sheet()
    middle, radius = SIDE // 2, 170
    box = (middle - radius, middle - radius, middle + radius, middle + radius)
    draw.ellipse(box, fill="white", outline=METAL, width=14)
    for mark in range(11):
        draw.line((_around(mark, 140), _around(mark, 154 if mark % 5 else 160)), fill=INK, width=4)
    draw.line(((middle, middle), _around(0, 128)), fill="#8c2f57", width=7)
    draw.ellipse((middle - 12, middle - 12, middle + 12, middle + 12), fill=INK)
    _write(draw, reading, SIDE - 165, 36)
    return _taken(image)


def scale(reading: str) -> Picture:
    """Return a cylinder on a platform, and what the display shows."""
    image, draw = _sheet()
    draw.rounded_rectangle((175, 60, 305, 300), radius=45, fill="#7d8aa0", outline=INK, width=4)
    draw.rectangle((215, 36, 265, 62), fill=METAL, outline=INK, width=3)
    draw.rectangle((110, 300, 370, 322), fill=METAL, outline=INK, width=3)
    draw.rectangle((90, 340, 390, 425), fill=SHOWN, outline=INK, width=5)
    _write(draw, reading, 358, 46)
    return _taken(image)


SKETCHES: Mapping[str, Callable[[str], Picture]] = {"gauge": gauge, "scale": scale}


def _sheet() -> tuple[Image.Image, ImageDraw.ImageDraw]:
    image = Image.new("RGB", (SIDE, SIDE), PAPER)
    draw = ImageDraw.Draw(image)
    _write(draw, "invented", SIDE - 40, 20)
    return image, draw


def _around(mark: int, radius: int) -> tuple[float, float]:
    """Return a place on the dial, from seven o'clock round to five."""
    angle = pi * (0.75 + 0.15 * mark)
    return SIDE / 2 + radius * cos(angle), SIDE / 2 + radius * sin(angle)


def _write(draw: ImageDraw.ImageDraw, text: str, top: int, size: int) -> None:
    draw.text((SIDE / 2, top), text, fill=INK, font=ImageFont.load_default(size), anchor="ma")


def _taken(image: Image.Image) -> Picture:
    """Return the picture as a camera would have sent it."""
    file = BytesIO()
    image.save(file, "PNG")
    file.seek(0)
    return read_picture(file)
