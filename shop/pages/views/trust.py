"""The certificate of the server's own authority, for phones that are to trust it: open to everyone, it is no secret."""

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import cache_control, never_cache
from django.views.decorators.http import require_safe

from shop.pages.reaching import authority, reached

KIND = "application/x-x509-ca-cert"  # what phones offer to install


@never_cache
@require_safe
@login_not_required
def trust(request: HttpRequest) -> HttpResponse:
    """Say how a phone comes to trust this server, with what its certificate can be compared by."""
    if authority() is None:
        raise Http404("This server has no authority of its own.")
    return render(request, "shop/trust.html", reached(request))


@cache_control(no_cache=True)  # not "no-store": a phone stores it before it offers to install it
@require_safe
@login_not_required
def certificate(request: HttpRequest) -> HttpResponse:
    """Hand the certificate out."""
    found = authority()
    if found is None:
        raise Http404("This server has no authority of its own.")
    return HttpResponse(found.content, content_type=KIND)
