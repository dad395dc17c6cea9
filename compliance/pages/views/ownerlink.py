"""The link of a visit for the owner of the car: made, shown with its code, revoked by whoever works here."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from compliance.pages.forms.ownerlink import OwnerLinkForm
from compliance.papers.ownerlink import path_of, standing_link
from compliance.readers import owners
from inventory.book.refusals import LedgerError
from inventory.pages.access import writer_required
from inventory.pages.forms.act import page, see
from shop.models import Visit
from shop.pages.middleware import ShopRequest
from shop.pages.reaching import qr_code, reached

EDITS = require_http_methods(["GET", "HEAD", "POST"])


@never_cache
@EDITS
@writer_required
def owner_link(request: ShopRequest, number: int) -> HttpResponse:
    """Show the link with its code, or make one; a new one takes the place of the one before."""
    visit = get_object_or_404(Visit.objects.select_related("vehicle"), workshop=request.workshop, number=number)
    form = OwnerLinkForm(request.POST or None, access=request.access)
    if request.method == "POST" and form.is_valid():
        made = {"ends_at": form.ends_at, "on_paper": form.cleaned_data["on_paper"], "key": form.request_key}
        try:
            owners.make(visit, **made, by=request.member.user)
        except LedgerError as error:
            form.add_error(None, str(error))
        else:
            return see(request, "owner-link", number)
    return page(request, "compliance/owner_link.html", form, visit=visit, **_link(request, visit))


def _link(request: ShopRequest, visit: Visit) -> dict[str, object]:
    link, there = standing_link(request.workshop, visit.context), reached(request)
    path = path_of(link) if link else ""
    address = f"{str(there['address']).rstrip('/')}{path}" if path else ""
    return {
        "link": link,
        "address": address,
        "code": qr_code(address) if address else "",
        "here_alone": there["here_alone"],
        "openings": link.openings.count() if link else 0,
        "last": link.openings.first() if link else None,
    }


@EDITS
@writer_required
def owner_link_revoke(request: ShopRequest, number: int) -> HttpResponse:
    """Let the link of a visit lead nowhere any more; whoever only looks is led to its page."""
    visit = get_object_or_404(Visit, workshop=request.workshop, number=number)
    if request.method == "POST" and owners.revoke(visit):
        messages.info(request, "The link for the owner of the car leads nowhere any more.")
    return see(request, "owner-link", number)
