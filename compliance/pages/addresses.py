"""The pages that show what findings and documents are about, and the page that issues a document."""

from urllib.parse import urlencode

from django.urls import reverse

from compliance.documents.subjects import Choice, slug_of
from inventory.models import Gauge, Scale
from inventory.models.access import Access
from inventory.pages import comeback

# By kind of record, with its number (of a person the handle) in the address.
_PAGES = {
    "visit": "visit",
    "cylinder": "cylinder",
    "vehicle": "vehicle",
    "partner": "partner",
    "line": "entry",
    "consignment": "entry",
    "person": "person",
}


def record_address(access: Access, about: str) -> str:
    """Return the address of what ``visit:12``, ``people:2026-03-04`` or ``period:...`` names; empty where none is."""
    kind, _, rest = about.partition(":")
    if kind in _PAGES and (rest.isdigit() or kind == "person"):
        return reverse(_PAGES[kind], args=[access.slug, rest])
    if kind == "period" and rest.count(":") in (1, 2):
        return reverse("statement", args=[access.slug, *rest.split(":")[:2]])
    if kind in ("people", "cylinders"):
        return reverse(kind, args=[access.slug])
    return _check_address(access, rest) if kind == "instrument" else ""


def _check_address(access: Access, name: str) -> str:
    """Return where the check of the instrument called `name` is entered; the settings for a reader.

    That page leads back to the findings, since they alone are about an instrument.
    """
    back = f"?{urlencode({comeback.BACK: reverse('findings', args=[access.slug])})}"
    if access.may_write:
        scale = Scale.objects.filter(book=access.book, name=name, retired=False).first()
        if scale is not None:
            return reverse("scale-check", args=[access.slug, scale.number]) + back
        gauge = Gauge.objects.filter(book=access.book, name=name, retired=False).first()
        if gauge is not None:
            return reverse("gauge-check", args=[access.slug, gauge.pk]) + back
    return reverse("settings", args=[access.slug])


def issue_address(access: Access, choice: Choice) -> str:
    """Return the address of the page that issues a document."""
    return reverse("document-issue", args=[access.slug, slug_of(choice.kind), choice.about])
