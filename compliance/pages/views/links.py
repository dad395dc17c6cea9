"""Links for readers: the owner makes and revokes them."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from compliance.models import ReaderLink
from compliance.pages.forms.links import LinkForm
from compliance.readers.links import FOR_READERS, make_link, revoke, state_of
from inventory.book.refusals import LedgerError
from inventory.pages.access import owner_required
from inventory.pages.forms.act import page, see
from shop.pages.middleware import ShopRequest

SHOWN_ONCE = "reader-link"


@require_GET
@owner_required
def links(request: ShopRequest) -> HttpResponse:
    """The links that were made: for whom, until when, what was opened by each."""
    rows = (
        ReaderLink.objects.filter(workshop=request.workshop, kind__in=FOR_READERS)
        .order_by("-made_at")
        .select_related("workshop")
        .prefetch_related("openings")
    )
    shown = [(one, state_of(one), list(one.openings.all()[:20])) for one in rows]
    fresh = request.session.pop(SHOWN_ONCE, None)
    return render(request, "compliance/links.html", {"links": shown, "fresh": fresh})


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def link_new(request: ShopRequest) -> HttpResponse:
    """Make a link; its address is shown once, on the page that follows."""
    form = LinkForm(request.POST or None, access=request.access, workshop=request.workshop, initial=_asked(request))
    if request.method == "POST" and form.is_valid():
        try:
            link, token = make_link(
                request.workshop,
                form.wanted,
                for_whom=form.cleaned_data["for_whom"],
                ends_at=form.ends_at,
                by=request.member.user,
                key=form.request_key,
            )
        except LedgerError as error:
            form.refuse(error)
        else:
            if token:
                address = request.build_absolute_uri(reverse("read", args=[token]))
                request.session[SHOWN_ONCE] = {"address": address, "for_whom": link.for_whom}
            return see(request, "reader-links")
    return page(request, "compliance/link_new.html", form)


def _asked(request: ShopRequest) -> dict[str, str]:
    return {name: request.GET[name] for name in ("kind", "vehicle", "first", "last", "basis") if name in request.GET}


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def link_revoke(request: ShopRequest, pk: int) -> HttpResponse:
    """Let a link lead nowhere any more; whoever only looks is led to the list."""
    link = get_object_or_404(ReaderLink, workshop=request.workshop, pk=pk, kind__in=FOR_READERS)
    if request.method == "POST":
        revoke(link)
        messages.info(request, f"The link for {link.for_whom} leads nowhere any more.")
    return see(request, "reader-links")
