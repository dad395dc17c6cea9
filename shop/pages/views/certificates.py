"""Certificates of people."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods

from inventory.pages.access import writer_required
from inventory.pages.forms.act import page, see
from shop.models import Certification, Membership
from shop.pages.forms.people import CertificateForm
from shop.pages.members import find_member, may_certify
from shop.pages.middleware import ShopRequest

EDITS = require_http_methods(["GET", "HEAD", "POST"])


def _find_certified(request: ShopRequest, handle: str) -> Membership:
    member = find_member(request, handle)
    if not may_certify(request, member):
        raise PermissionDenied("Certificates are entered by the owner of the workshop or by the person who holds them.")
    return member


@EDITS
@writer_required
def certificate_new(request: ShopRequest, handle: str) -> HttpResponse:
    """Enter a certificate of a person."""
    member = _find_certified(request, handle)
    form = CertificateForm(request.POST or None, access=request.access)
    if request.method == "POST" and form.is_valid():
        Certification.objects.create(user=member.user, **form.cleaned_data)
        messages.info(request, "The certificate is entered.")
        return see(request, "person", handle)
    return page(request, "shop/certificate_form.html", form, person=member.user)


@EDITS
@writer_required
def certificate(request: ShopRequest, handle: str, pk: int) -> HttpResponse:
    """Put right what was entered of a certificate."""
    member = _find_certified(request, handle)
    one = get_object_or_404(Certification, user=member.user, pk=pk)
    form = CertificateForm(request.POST or None, access=request.access, certificate=one)
    if request.method == "POST" and form.is_valid():
        Certification.objects.filter(pk=one.pk).update(**form.cleaned_data)
        messages.info(request, "Kept.")
        return see(request, "person", handle)
    return page(request, "shop/certificate_form.html", form, person=member.user, certificate=one)
