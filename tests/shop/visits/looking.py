"""What the tests of visits look at in common: a visit with its log, what is asked of it, a picture to add to it."""

from collections.abc import Callable
from io import BytesIO
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from shop.models import Visit
from shop.visits.log import open_points, with_log

Make = Callable[..., Any]  # what a builder is
SEA_LEVEL_PA = 101_325.0


def fetched(visit: Visit) -> Visit:
    """Return a visit with its log as the pages fetch it."""
    return with_log(Visit.objects.filter(pk=visit.pk)).select_related("workshop__book").get()


def asked(visit: Visit) -> str:
    """Return in words what is still asked of a visit."""
    found = fetched(visit)
    return " ".join(point.words for point in open_points(found, found.workshop))


def picture(shade: int = 120, name: str = "IMG_1.jpg", side: int = 40) -> SimpleUploadedFile:
    """Return a photo of one shade of grey."""
    out = BytesIO()
    Image.new("RGB", (side, side), (shade, shade, shade)).save(out, "JPEG")
    return SimpleUploadedFile(name, out.getvalue(), "image/jpeg")
