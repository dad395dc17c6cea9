"""What the tests of visits look at in common: a visit with its log, what is asked of it, a picture to add to it."""

from collections.abc import Callable
from io import BytesIO
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from inventory.models import Gauge
from shop.models import Visit
from shop.visits.log import open_points, with_log
from shop.visits.verdicts import Told, around, told_of

Make = Callable[..., Any]  # what a builder is
HOME = "/w/port-ellery/"
SEA_LEVEL_PA = 101_325.0
CLASS_D = "D: the customer’s word, or a reading without a photo"
LABEL = {"label": "label read", "refrigerant": "R-12", "mass": "900", "tolerance": "25"}
ENDED = {
    "stopped": "done",
    "final_pressure": "-4",
    "final_pressure_unit": "inHg",
    "pressure_after_wait": "-4",
    "pressure_after_wait_unit": "inHg",
    "waited": "5",
}


def fetched(visit: Visit) -> Visit:
    """Return a visit with its log as the pages fetch it."""
    return with_log(Visit.objects.filter(pk=visit.pk)).select_related("workshop__book").get()


def asked(visit: Visit) -> str:
    """Return in words what is still asked of a visit."""
    found = fetched(visit)
    return " ".join(point.words for point in open_points(found, found.workshop.units))


def picture(shade: int = 120, name: str = "IMG_1.jpg", side: int = 40) -> SimpleUploadedFile:
    """Return a photo of one shade of grey."""
    out = BytesIO()
    Image.new("RGB", (side, side), (shade, shade, shade)).save(out, "JPEG")
    return SimpleUploadedFile(name, out.getvalue(), "image/jpeg")


def verdicts(visit: Visit) -> dict[str, Told]:
    """The verdict of the last step of each kind that has one."""
    found = fetched(visit)
    told = told_of(around(found, found.workshop.units))
    return {step.kind: told[step.pk] for step in found.steps.all() if step.pk in told}


def stood(pressure: str, celsius: str, gauges: dict[str, Gauge], **fields: Any) -> dict[str, Any]:
    """A standing pressure with all parts alike."""
    return {
        "pressure": pressure,
        "pressure_unit": "bar",
        "coldest": celsius,
        "warmest": celsius,
        "gauge": str(gauges["G1"].pk),
        **fields,
    }


def held_vacuum(rows: list[tuple[str, str]], gauges: Any, coldest: str = "17") -> dict[str, Any]:
    """Return the form of a vacuum hold, read in mbar on G2."""
    fields = {
        "readings_rows": str(len(rows)),
        "readings_pressure_unit": "mbar",
        "coldest": coldest,
        "gauge": str(gauges["G2"].pk),
        "gauge_type": "absolute",
    }
    for row, (minute, mbar) in enumerate(rows):
        fields |= {f"readings_{row}_time": minute, f"readings_{row}_pressure": mbar}
    return fields
