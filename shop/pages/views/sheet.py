"""A bay sheet typed in: the lines that a person has written by hand, on one page."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from inventory.models import Cylinder
from inventory.pages.access import writer_required
from inventory.shelf.queries import scales_of
from shop.pages.bysheet import Row, Sheet
from shop.pages.forms.sheet import ROWS, RowForm, SheetForm
from shop.pages.forms.stepfields import Making
from shop.pages.found import find_visit, remembered_scale, shelf
from shop.pages.middleware import ShopRequest


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
def visit_sheet(request: ShopRequest, number: int) -> HttpResponse:
    """Type in a bay sheet: first its lines are read back, then written one after the other as late lines."""
    visit = find_visit(request, number)
    making, scales = Making(request.workshop), scales_of(request.book)
    cylinders = [one for one in shelf(request) if one.kind != Cylinder.CANS]
    sent = request.POST or None
    initial = {"doer": request.member.user.handle, "scale": str(remembered_scale(request, scales))}
    whole = SheetForm(sent, access=request.access, making=making, scales=scales, initial=initial)
    forms = [RowForm(sent, access=request.access, cylinders=cylinders, prefix=f"row{n}") for n in range(ROWS)]
    sheet = Sheet(request, visit, [Row(form) for form in forms], making, cylinders, scales)
    valid = [form.is_valid() for form in forms] if sent else []
    if sent and whole.is_valid():
        sheet.doer, sheet.scale = sent.get("doer", ""), sent.get("scale", "")
        sheet.enter()
    errors = bool(whole.errors or any(form.errors for form in forms)) if valid else False
    context = {"visit": visit, "whole": whole, "rows": sheet.rows, "put_right": errors, **_counts(sheet)}
    return render(request, "shop/visit_sheet.html", context, status=422 if errors else 200)


def _counts(sheet: Sheet) -> dict[str, int]:
    """Return how many lines are written, and how many are read back and wait for the button."""
    written = sum(bool(row.written) for row in sheet.rows)
    return {"written": written, "waiting": sum(bool(row.told) and not row.written for row in sheet.rows)}
