"""The bay sheet: a blank for one visit, filled in by hand where no page is at hand, and typed in later as late lines.

It is no document: it has no number and no code, and nothing of it stands in the book.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.template.loader import render_to_string

from compliance.papers.sheet import fetch_nothing, qr_code
from inventory.measure.displays import moved
from inventory.models import Cylinder, Scale
from inventory.shelf.queries import contents, scales_of, standing_here
from shop.models import Visit, Workshop
from shop.visits.gas import built_for, label_of

_STYLES = Path(settings.BASE_DIR) / "templates" / "compliance" / "bay_sheet.css"
BLANK_LEGS = 3  # lines for a cylinder that nobody thought of
READINGS = 5


@dataclass(frozen=True)
class BaySheet:
    """What is printed ahead; the rest is lines to write on. `cylinders` come with what the book has in them."""

    visit: Visit
    gas: str
    label: str
    cylinders: Sequence[tuple[Cylinder, str]]
    scales: Sequence[Scale]
    units: dict[str, str]
    size: str
    address: str


def bay_sheet(visit: Visit, address: str) -> BaySheet:
    """Return the sheet of a visit; `address` is that of the page on which it is typed in."""
    shop = visit.workshop
    code, label_mg = label_of(visit)
    gas = built_for(visit) or code
    scales = scales_of(shop.book)
    reading = sorted({scale.step.reading_unit for scale in scales}) or [shop.mass_unit]
    return BaySheet(
        visit=visit,
        gas=gas,
        label=moved(label_mg, shop.mass_unit) if label_mg else "",
        cylinders=_fitting(shop, gas),
        scales=scales,
        units={
            "mass": " or ".join(reading),
            "oil": shop.units.oil,
            "pressure": shop.pressure_unit,
            "vacuum": shop.vacuum_unit,
            "temperature": shop.temperature_unit,
        },
        size=shop.paper.lower(),
        address=address,
    )


def _fitting(shop: Workshop, gas: str) -> list[tuple[Cylinder, str]]:
    """Return the cylinders here that hold the gas of the vehicle, or are empty and for it."""
    here = list(standing_here(shop.book).exclude(kind=Cylinder.CANS).select_related("account").order_by("serial"))
    held = contents(one.account_id for one in here)
    found = []
    for one in here:
        code, grade, mass_mg = held.get(one.account_id, (one.refrigerant, "empty", 0))
        if gas and code == gas:
            found.append((one, f"{code} {grade}" + (f", {moved(mass_mg, shop.mass_unit)}" if mass_mg else "")))
    return found[:8]


def as_html(sheet: BaySheet) -> str:
    """Return the sheet as HTML; `as_pdf` gives it its style."""
    context = {
        "sheet": sheet,
        "code": qr_code(sheet.address) if sheet.address else "",
        "blank": range(BLANK_LEGS),
        "readings": range(READINGS),
    }
    return render_to_string("compliance/bay_sheet.html", context)


def as_pdf(sheet: BaySheet) -> bytes:
    """Return the sheet as a tagged PDF."""
    from weasyprint import CSS, HTML  # imported when first needed: it is slow to load

    page = HTML(string=as_html(sheet), url_fetcher=fetch_nothing)
    made: bytes = page.write_pdf(stylesheets=[CSS(filename=str(_STYLES))], pdf_variant="pdf/ua-1")
    return made
