"""A partner's own list held against the book; nothing is written."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from compliance.matching.lists import ours_of
from compliance.matching.pairs import match
from compliance.pages.forms.matching import MatchForm
from inventory.pages.access import partner_of, writer_required
from inventory.pages.forms.act import page
from shop.pages.middleware import ShopRequest


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
def partner_match(request: ShopRequest, number: int) -> HttpResponse:
    """Match a partner's list: what both have, what only they have, what only the book has."""
    partner = partner_of(request, number)
    form = MatchForm(request.POST or None, request.FILES or None, access=request.access)
    if request.method == "POST" and form.is_valid():
        cleaned = form.cleaned_data
        theirs = [one for one in cleaned["file"] if cleaned["first"] <= one.on <= cleaned["last"]]
        context = {
            "partner": partner,
            "found": match(theirs, ours_of(partner, cleaned["first"], cleaned["last"])),
            "outside": len(cleaned["file"]) - len(theirs),
            "first": cleaned["first"],
            "last": cleaned["last"],
        }
        return render(request, "compliance/match_answer.html", context)
    return page(request, "compliance/match.html", form, partner=partner)
