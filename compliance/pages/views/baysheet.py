"""The bay sheet of a visit, to be printed."""

from django.conf import settings
from django.http import HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_safe

from compliance.papers.baysheet import as_pdf, bay_sheet
from inventory.pages.access import writer_required
from shop.pages.found import find_visit
from shop.pages.middleware import ShopRequest


@require_safe
@writer_required
def print_bay_sheet(request: ShopRequest, number: int) -> HttpResponse:
    """A blank for the visit as PDF; its code leads to where it is typed in."""
    visit = find_visit(request, number)
    page = reverse("visit-sheet", args=[request.access.slug, number])
    address = f"{settings.ADDRESS}{page}" if settings.ADDRESS else request.build_absolute_uri(page)
    name = {"Content-Disposition": f'inline; filename="bay-sheet-{number}.pdf"'}
    return HttpResponse(as_pdf(bay_sheet(visit, address)), content_type="application/pdf", headers=name)
