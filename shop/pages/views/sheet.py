"""A bay sheet typed in: the lines that a person has written by hand, on one page."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from inventory.models import Cylinder
from inventory.pages.access import writer_required
from inventory.shelf.queries import scales_of
from shop.pages.bysheet import Row, Sheet, written_by
from shop.pages.forms.sheet import Blank, SheetForm
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
    blank = Blank(request.access, number, making, cylinders, scales)
    parts = [
        (words, [Row(form, written_by(visit, form) if sent else "") for form in forms])
        for words, forms in blank.parts(sent)
    ]
    rows = [row for _, those in parts for row in those]
    sheet = Sheet(request, visit, rows, making, cylinders, scales)
    valid = [row.form.is_valid() for row in rows] if sent else []
    if sent and whole.is_valid():
        sheet.doer, sheet.scale = sent.get("doer", ""), sent.get("scale", "")
        sheet.enter()
    errors = bool(whole.errors or any(row.form.errors for row in rows)) if valid else False
    shown = [(words, any(row.form.typed for row in those), those) for words, those in parts]
    context = {"visit": visit, "whole": whole, "parts": shown, "put_right": errors, **_counts(sheet)}
    return render(request, "shop/visit_sheet.html", context, status=422 if errors else 200)


def _counts(sheet: Sheet) -> dict[str, int]:
    """Return how many lines are written, and how many are read back and wait for the button."""
    written = sum(bool(row.written) for row in sheet.rows)
    return {"written": written, "waiting": sum(bool(row.told) and not row.written for row in sheet.rows)}
