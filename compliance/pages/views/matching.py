"""A partner's own list held against the book, and kept where that is chosen."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods, require_POST

from compliance.matching import lists
from compliance.matching.pairs import match
from compliance.pages.forms.matching import MatchForm
from inventory.models import PartnerList
from inventory.pages.access import partner_of, writer_required
from inventory.pages.forms.act import page, see
from shop.pages.middleware import ShopRequest


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
def partner_match(request: ShopRequest, number: int) -> HttpResponse:
    """Match a partner's list: what both have, what only they have, what only the book has."""
    partner = partner_of(request, number)
    form = MatchForm(request.POST or None, request.FILES or None, access=request.access, partner=partner)
    if request.method == "POST" and form.is_valid():
        cleaned, sheet = form.cleaned_data, form.cleaned_data["file"]
        first, last = cleaned["first"], cleaned["last"]
        theirs = [one for one in sheet.rows if first <= one.on <= last]
        kept = None
        if cleaned["keep"]:
            said = {"first": first, "last": last, "actor": request.access.actor}
            kept = lists.keep(partner, sheet, form.content, name=form.file_name, **said)
        context = {
            "partner": partner,
            "found": match(theirs, lists.ours_of(partner, first, last)),
            "outside": len(sheet.rows) - len(theirs),
            "said": sheet.said,
            "kept": kept,
            "first": first,
            "last": last,
        }
        return render(request, "compliance/match_answer.html", context)
    return page(request, "compliance/match.html", form, partner=partner)


@require_POST
@writer_required
def partner_list_withdraw(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    """Let a list that was kept count no more."""
    partner = partner_of(request, number)
    lists.withdraw(get_object_or_404(PartnerList.objects.filter(partner=partner), pk=pk))
    messages.info(request, "The list counts no more. What it said stays in its history.")
    return see(request, "partner", number)
