"""The year of all the workshops that a person belongs to, for the head office of a chain; it only looks."""

from datetime import date

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from compliance.pages.handing import handed_out
from compliance.statement.chain import Chain, as_csv, read_chain
from compliance.statement.period import EARLIEST, LATEST, LISTED
from inventory.measure.displays import in_words
from inventory.output.files import TYPES
from shop.models import Membership, User
from shop.pages.answers import to


@require_safe
def chain_now(request: HttpRequest) -> HttpResponse:
    """Lead to this year."""
    return to("chain", timezone.localdate().year)


@require_safe
def chain(request: HttpRequest, year: int) -> HttpResponse:
    """Show the year of every workshop that the person belongs to, together and side by side."""
    members, found = _read(request, year)
    units = members[0].units
    sections = [
        {
            "code": each.refrigerant,
            "between": found.between(each.refrigerant, units.column),
            "shares": [(share, share.cells(units.column)) for share in found.shares_of(each.refrigerant)[:LISTED]],
            "more": max(0, len(found.shares_of(each.refrigerant)) - LISTED),
        }
        for each in found.refrigerants
    ]
    context = {
        "chain": found,
        "overview": found.overview(units.column) if sections else None,
        "unit": in_words(units.column),
        "sections": sections,
        "workshops": len(members),
        "years": [one for one in (year - 1, year + 1) if EARLIEST.year <= one <= timezone.localdate().year],
        "year": year,
        "units": units,
    }
    return render(request, "compliance/chain.html", context)


@require_safe
def chain_file(request: HttpRequest, year: int) -> HttpResponseBase:
    """Hand the year out as CSV, a row for each workshop and refrigerant."""
    _, found = _read(request, year)
    return handed_out(as_csv(found), TYPES["csv"], f"workshops-{year}.csv")


def _read(request: HttpRequest, year: int) -> tuple[list[Membership], Chain]:
    assert isinstance(request.user, User)  # noqa: S101 signed in
    if not EARLIEST.year <= year <= LATEST.year:
        raise Http404("No such year.")
    members = list(request.user.memberships.filter(active=True).select_related("workshop__book"))
    if len(members) < 2:  # with one, its own statement says it all
        raise Http404("Nothing to set side by side.")
    return members, read_chain([one.workshop for one in members], date(year, 1, 1), date(year, 12, 31))
