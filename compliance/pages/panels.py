"""What this floor shows beside a record on pages of the floors below: findings, documents, links, the check list.

Each panel is a function of the request and the record's name, such as ``visit:12``, and returns markup, empty where it
has nothing to say. `ComplianceConfig.ready` hands them over.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any, cast
from urllib.parse import urlencode

from django.http import HttpRequest
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from compliance.documents.subjects import choices_of
from compliance.findings import decisions, judging
from compliance.findings.decisions import records_words
from compliance.models import ReaderLink
from compliance.pages.addresses import issue_address
from compliance.pages.owed import check_list
from compliance.pages.tables.documents import documents_of, state_of
from compliance.papers.ownerlink import standing_link
from inventory.models import Consignment, PartnerList
from shop.models import Visit, Workshop
from shop.pages.middleware import ShopRequest

SHOWN = 20  # findings, and documents, that stand beside a record
NOTHING = SafeString("")

Panel = Callable[[HttpRequest, str], SafeString]


def within(panel: Callable[[ShopRequest, str], SafeString]) -> Panel:
    """Let a panel say nothing on pages that are of no workshop."""

    @wraps(panel)
    def shown(request: HttpRequest, about: str) -> SafeString:
        return panel(cast(ShopRequest, request), about) if hasattr(request, "workshop") else NOTHING

    return shown


@within
def findings(request: ShopRequest, about: str) -> SafeString:
    """The findings of a record."""
    workshop = request.workshop
    abouts, person = _with_parts(workshop, about), about.partition("person:")[2]
    found = decisions.of_record(workshop, *abouts, person=person)
    if any(one.owed for one in found) and judging.look(workshop).changed:
        found = decisions.of_record(workshop, *abouts, person=person)
    if not found:
        return NOTHING
    words = records_words(workshop, [one.finding.about for one in found[:SHOWN]])
    rows = [
        (
            one,
            "" if one.finding.about == about else words[one.finding.about],
            reverse("finding", args=[workshop.slug, one.finding.pk]),
        )
        for one in found[:SHOWN]
    ]
    context = {"rows": rows, "count": len(found), "all": reverse("findings", args=[workshop.slug])}
    return render_to_string("compliance/_findings_panel.html", context, request=request)


def _with_parts(workshop: Workshop, about: str) -> list[str]:
    """Return a record and what belongs to it: a line's consignment, a vehicle's visits."""
    kind, _, number = about.partition(":")
    if kind == "line":
        return [about, f"consignment:{number}"]
    if kind == "vehicle":
        visits = Visit.objects.filter(workshop=workshop, vehicle__account__number=number)
        return [about, *(f"visit:{one}" for one in visits.values_list("number", flat=True))]
    return [about]


@within
def documents(request: ShopRequest, about: str) -> SafeString:
    """The documents of a record, and those that can be issued of it."""
    workshop, access = request.workshop, request.access
    kind, _, seq = about.partition(":")
    consigned = kind == "line" and Consignment.objects.filter(entry__book=workshop.book_id, entry__seq=seq).exists()
    choices = choices_of(about, today=timezone.localdate(), consigned=consigned)
    named = documents_of(workshop).filter(about__in=[about, *(one.about for one in choices)])
    if kind == "line":
        named |= documents_of(workshop).filter(entry__seq=seq)
    found: list[Any] = list(named.order_by("-number")[:SHOWN]) if choices or kind == "line" else []
    offered = [(one, issue_address(access, one)) for one in choices] if access.may_write else []
    if not found and not offered:
        return NOTHING
    context = {"found": [(one, state_of(one)) for one in found], "offered": offered}
    return render_to_string("compliance/_document_panel.html", context, request=request)


@within
def closing(request: ShopRequest, about: str) -> SafeString:
    """The check list on the page that closes a year."""
    if about != "close":
        return NOTHING
    points = check_list(request.workshop, judging.today_of(request.workshop))
    return render_to_string("compliance/_close_list.html", {"points": points}, request=request)


@within
def links(request: ShopRequest, about: str) -> SafeString:
    """The way to links for readers on the pages of a vehicle and of the people; for the owner alone."""
    slug, (kind, _, number) = request.access.slug, about.partition(":")
    if not request.access.is_owner:
        return NOTHING
    if kind == "people":
        return _way(reverse("reader-links", args=[slug]), "Links for readers")
    if kind == "vehicle":
        asked = urlencode({"kind": ReaderLink.VEHICLE, "vehicle": number})
        return _way(f"{reverse('reader-link-new', args=[slug])}?{asked}", "Make a link for a reader of this vehicle")
    return NOTHING


@within
def for_the_owner(request: ShopRequest, about: str) -> SafeString:
    """The link by which the owner of the car reads the visit, for those who write."""
    kind, _, number = about.partition(":")
    if kind != "visit" or not request.access.may_write:
        return NOTHING
    link = standing_link(request.workshop, about)
    context = {"number": number, "link": link, "units": request.access.units}
    return render_to_string("compliance/_owner_link_panel.html", context, request=request)


@within
def matching(request: ShopRequest, about: str) -> SafeString:
    """The lists that a partner sent, and the way to matching another."""
    kind, _, number = about.partition(":")
    if kind != "partner":
        return NOTHING
    kept = PartnerList.objects.filter(partner__account__book=request.workshop.book_id, partner__account__number=number)
    context = {"lists": kept[:SHOWN], "number": number, "units": request.access.units}
    return render_to_string("compliance/_lists_panel.html", context, request=request)


@within
def reminders(request: ShopRequest, about: str) -> SafeString:
    """The way to one's own reminders, among the settings."""
    if about != "settings" or not request.access.may_write:
        return NOTHING
    way = _way(reverse("reminders", args=[request.access.slug]), "Mail and calendar of what falls due")
    return format_html("<h2>Reminders</h2>{}", way)


@within
def on_paper(request: ShopRequest, about: str) -> SafeString:
    """The bay sheet of an open visit: a blank to print, and the page on which it is typed in."""
    kind, _, number = about.partition(":")
    if kind != "visit" or not request.access.may_write or request.visit.state == Visit.CLOSED:
        return NOTHING
    return render_to_string("compliance/_bay_sheet_panel.html", {"number": number}, request=request)


def _way(href: str, words: str) -> SafeString:
    return format_html('<p class="acts"><a class="touch" href="{}">{}</a></p>', href, words)


ALL: tuple[Panel, ...] = (findings, documents, closing, links, for_the_owner, matching, reminders, on_paper)
