"""An issued paper as it is seen, sent and signed; the paper itself is never changed by any of it."""

from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from compliance.documents.pictures import NoSuchPage, page_picture
from compliance.documents.sending import NotSent, send
from compliance.documents.signing import parts_of, sign, signed_copy
from compliance.documents.subjects import slug_of
from compliance.due.mailing import mail_is_set
from compliance.models import Document
from compliance.pages.forms.documents import MailForm, SignForm
from compliance.pages.handing import handed_out
from inventory.book.refusals import LedgerError
from inventory.pages.access import writer_required
from inventory.pages.forms.act import page, see
from shop.models import Visit
from shop.pages.middleware import ShopRequest

PAGES = require_http_methods(["GET", "HEAD", "POST"])


def _document(request: ShopRequest, number: int) -> Document:
    rows = Document.objects.select_related("workshop__book", "entry")
    return get_object_or_404(rows, workshop=request.workshop, number=number)


@require_safe
def document_page(request: ShopRequest, number: int, sheet: int) -> HttpResponseBase:
    """A page of an issued paper as a picture."""
    one = _document(request, number)
    try:
        picture = page_picture(bytes(one.file), sheet)
    except NoSuchPage as error:
        raise Http404(str(error)) from error
    return handed_out(picture, "image/png", f"document-{number}-page-{sheet}.png", beside=False)


@require_safe
def document_signed(request: ShopRequest, number: int) -> HttpResponseBase:
    """The copy of a paper with its signatures behind it."""
    one = _document(request, number)
    if not one.signatures.exists():
        raise Http404("Nobody signed it.")
    return handed_out(signed_copy(one), "application/pdf", f"{slug_of(one.kind)}-{number}-signed.pdf")


@PAGES
@writer_required
def document_mail(request: ShopRequest, number: int) -> HttpResponse:
    """Send an issued paper by e-mail; what was typed stays where it does not go out."""
    one = _document(request, number)
    sent = request.POST if request.method == "POST" else None
    form = MailForm(sent, access=request.access, initial={"key": uuid4(), "to": _address_of(one)})
    if mail_is_set() and form.is_valid():
        typed = form.cleaned_data
        try:
            send(
                one, to=typed["to"], words=typed["words"], by=request.member.user, key=typed["key"], now=timezone.now()
            )
        except NotSent as error:
            form.add_error(None, str(error))
        else:
            messages.info(request, f"No. {number} went out to {typed['to']}.")
            return see(request, "document", number)
    return page(request, "compliance/document_mail.html", form, document=one, mail_is_set=mail_is_set())


def _address_of(document: Document) -> str:
    """Return the address of the customer whose car a paper is about; empty where none is known."""
    kind, _, number = document.about.partition(":")
    if kind != "visit" or not number.isdigit():
        return ""
    rows = Visit.objects.filter(workshop=document.workshop, number=number).select_related("vehicle__customer")
    visit = rows.first()
    return visit.vehicle.customer.email if visit and visit.vehicle.customer else ""


@PAGES
@writer_required
def document_sign(request: ShopRequest, number: int) -> HttpResponse:
    """Have an issued paper signed on the screen."""
    one = _document(request, number)
    sent = request.POST if request.method == "POST" else None
    form = SignForm(sent, access=request.access, parts=parts_of(one), initial={"key": uuid4()})
    if form.is_valid():
        typed = form.cleaned_data
        who = {"name": typed["name"], "part": typed["part"], "strokes": typed["drawn"]}
        try:
            made = sign(one, **who, by=request.member.user, key=typed["key"], now=timezone.now())
        except LedgerError as error:
            form.add_error(None, str(error))
        else:
            messages.info(request, f"Signed by {made.name}, line {made.entry.seq}. The paper is as it was.")
            return see(request, "document", number)
    return page(request, "compliance/document_sign.html", form, document=one)
