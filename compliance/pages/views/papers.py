"""An issued paper as it is seen, sent and signed; the paper itself is never changed by any of it."""

from django.http import Http404, HttpResponseBase
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from compliance.documents.pictures import NoSuchPage, page_picture
from compliance.models import Document
from compliance.pages.handing import handed_out
from shop.pages.middleware import ShopRequest


@require_safe
def document_page(request: ShopRequest, number: int, sheet: int) -> HttpResponseBase:
    """A page of an issued paper as a picture."""
    one = get_object_or_404(Document, workshop=request.workshop, number=number)
    try:
        picture = page_picture(bytes(one.file), sheet)
    except NoSuchPage as error:
        raise Http404(str(error)) from error
    return handed_out(picture, "image/png", f"document-{number}-page-{sheet}.png", beside=False)
