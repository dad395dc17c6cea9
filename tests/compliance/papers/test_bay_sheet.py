"""The printed blank of a visit: what it names ahead, in the workshop's units, on the paper of its country."""

import io
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from pypdf import PdfReader

from compliance.models import Document

pytestmark = pytest.mark.django_db
METRIC = ("kg", "bar", 210.0, ("bar gauge", "mL"))
CUSTOMARY = ("lb", "psi", 215.9, ("psi gauge", "fl oz", "micron"))


@pytest.mark.parametrize(("unit", "pressure", "width_mm", "words"), [METRIC, CUSTOMARY])
def test_a_blank_names_car_gas_and_cylinders_and_is_no_document(
    technician_client: Client,
    workshop: Any,
    arrive: Callable[..., Any],
    make_cylinder: Callable[..., Any],
    unit: str,
    pressure: str,
    width_mm: float,
    words: tuple[str, ...],
) -> None:
    workshop.mass_unit, workshop.pressure_unit = unit, pressure
    workshop.vacuum_unit = "micron" if pressure == "psi" else "mbar"
    workshop.paper = "letter" if unit == "lb" else "A4"
    workshop.volume_unit = "fl oz" if unit == "lb" else "L"
    workshop.save()
    make_cylinder("C-RIGHT", mass_mg=5_000_000)
    make_cylinder("C-WRONG", refrigerant="R-1234yf", mass_mg=5_000_000)
    visit = arrive()
    answer = technician_client.get(f"/w/{workshop.slug}/visits/{visit.number}/bay-sheet/")
    assert answer["Content-Type"] == "application/pdf"
    read = PdfReader(io.BytesIO(answer.content))
    assert float(read.pages[0].mediabox.width) / 72 * 25.4 == pytest.approx(width_mm, abs=0.5)
    text = " ".join(page.extract_text() for page in read.pages)
    assert f"Bay sheet, visit {visit.number}" in text
    assert visit.vehicle.registration in text
    assert "C-RIGHT" in text
    assert "C-WRONG" not in text
    assert [one for one in words if one not in text] == []
    assert not Document.objects.exists()
