"""Findings as a table and one by one, the owner's decisions, and the rules as a page."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.safestring import SafeString
from django.views.decorators.http import require_GET, require_http_methods

from compliance.findings import decisions, judging
from compliance.findings.words import record_words, records_words
from compliance.models import Finding
from compliance.pages.forms.findings import DecisionForm, FindingFilter
from compliance.pages.tables.findings import FindingTable
from compliance.rules.all import rules_of
from compliance.rules.rule import MEMORY
from inventory.book.refusals import LedgerError
from inventory.models.access import Access
from inventory.pages.access import owner_required
from inventory.pages.forms.act import page, see
from inventory.pages.tables.export import export
from inventory.shelf.listing import names_of
from shop.models import Visit, Workshop
from shop.pages.middleware import ShopRequest
from shop.people.instruments import check_address

PANEL_MOST = 20  # findings on a record's own page


@require_GET
def findings(request: ShopRequest) -> HttpResponseBase:
    """The findings of the workshop, what is owed first shown alone; judged again if anything has changed."""
    judging.refresh(request.workshop, anyway="again" in request.GET)
    chosen = FindingFilter(request)
    rows = chosen.narrow(decisions.with_decisions(Finding.objects.filter(workshop=request.workshop)))
    table = FindingTable(rows, request=request, filter=chosen, workshop=request.workshop)
    return export(request, table, "findings") or render(request, "compliance/findings.html", {"table": table})


@require_http_methods(["GET", "HEAD", "POST"])
def finding(request: ShopRequest, pk: int) -> HttpResponse:
    """One finding: what the rule asks, what the book shows, how to close it, what was decided."""
    rows = decisions.with_decisions(Finding.objects.filter(workshop=request.workshop))
    one = decisions.shown(get_object_or_404(rows, pk=pk))
    if request.method != "POST" and one.owed and judging.refresh_if_acted_on(request.workshop):
        one = decisions.shown(rows.get(pk=pk))
    form = DecisionForm(request.POST or None, access=request.access)
    return _decide(request, one, form) if request.method == "POST" else _page(request, one, form)


@owner_required
def _decide(request: ShopRequest, one: decisions.Shown, form: DecisionForm) -> HttpResponse:
    if form.is_valid():
        try:
            made = decisions.decide(
                one.finding,
                form.cleaned_data["kind"],
                form.cleaned_data["reason"],
                by=request.member.user,
                key=form.request_key,
            )
        except LedgerError as error:
            form.add_error(None, str(error))
        else:
            messages.info(request, f"Written: {made.kind}. The reason stays with the finding.")
            return see(request, "finding", one.finding.pk)
    return _page(request, one, form)


def _page(request: ShopRequest, one: decisions.Shown, form: DecisionForm) -> HttpResponse:
    finding = one.finding
    return page(
        request,
        "compliance/finding.html",
        form,
        one=one,
        finding=finding,
        record=record_words(request.workshop, finding.about),
        record_href=_record_address(request.access, finding.about),
        person=names_of([finding.person]).get(finding.person, "") if finding.person else "",
        from_memory=bool(one.rule and one.rule.known == MEMORY),
    )


@require_GET
def rules(request: ShopRequest) -> HttpResponse:
    """Every rule that is applied here: its duty, where it stands, since when, law or practice, how it is known."""
    shown = {"rules": rules_of(request.workshop.jurisdiction), "jurisdiction": jurisdiction_words(request.workshop)}
    return render(request, "compliance/rules.html", shown)


def jurisdiction_words(workshop: Workshop) -> str:
    """Return whose rules are applied, in words."""
    return Workshop.JURISDICTIONS[workshop.jurisdiction]


def _with_parts(workshop: Workshop, about: str) -> list[str]:
    """Return a record and what belongs to it: a line's consignment, a vehicle's visits."""
    kind, _, number = about.partition(":")
    if kind == "line":
        return [about, f"consignment:{number}"]
    if kind == "vehicle":
        visits = Visit.objects.filter(workshop=workshop, vehicle__account__number=number)
        return [about, *(f"visit:{one}" for one in visits.values_list("number", flat=True))]
    return [about]


def panel(request: HttpRequest, about: str) -> SafeString:
    """Return the findings of a record, for the record's own page; empty where there are none."""
    workshop = getattr(request, "workshop", None)
    if workshop is None:
        return SafeString("")
    abouts, person = _with_parts(workshop, about), about.partition("person:")[2]
    found = decisions.of_record(workshop, *abouts, person=person)
    if any(one.owed for one in found) and judging.refresh_if_acted_on(workshop):
        found = decisions.of_record(workshop, *abouts, person=person)
    if not found:
        return SafeString("")
    words = records_words(workshop, [one.finding.about for one in found[:PANEL_MOST]])
    rows = [
        (one, "" if one.finding.about == about else words[one.finding.about], _address(workshop, one))
        for one in found[:PANEL_MOST]
    ]
    context = {"rows": rows, "count": len(found), "all": reverse("findings", args=[workshop.slug])}
    return render_to_string("compliance/_findings_panel.html", context, request=request)


def _address(workshop: Workshop, one: decisions.Shown) -> str:
    return reverse("finding", args=[workshop.slug, one.finding.pk])


_PAGES = {
    "visit": "visit",
    "cylinder": "cylinder",
    "vehicle": "vehicle",
    "partner": "partner",
    "line": "entry",
    "consignment": "entry",
    "person": "person",
}


def _record_address(access: Access, about: str) -> str:
    """Return the address of a finding's record; of the whole book, its lines; of an instrument, its check."""
    kind, _, rest = about.partition(":")
    if kind in _PAGES and rest:
        return reverse(_PAGES[kind], args=[access.slug, rest])
    return check_address(access, rest) if kind == "instrument" else reverse("entries", args=[access.slug])
