"""Findings by what closes them, as a table and one by one, the owner's decisions, and the rules as a page."""

from django.contrib import messages
from django.http import HttpResponse, HttpResponseBase, HttpResponseRedirect
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods

from compliance.findings import decisions, judging
from compliance.findings.decisions import records_words
from compliance.models import Finding
from compliance.pages.addresses import record_address
from compliance.pages.forms.findings import DecisionForm, FindingFilter, TickedDecisionForm
from compliance.pages.grouped import groups_of
from compliance.pages.tables.findings import FindingTable
from compliance.rules.all import rules_of
from compliance.rules.rule import MEMORY
from inventory.book.refusals import LedgerError
from inventory.pages.access import owner_required
from inventory.pages.forms.act import page, see
from inventory.pages.tables.table import export
from inventory.shelf.listing import names_of
from shop.models import Workshop
from shop.pages.middleware import ShopRequest

GROUPED_BY = {"state", "text", "first", "last", "again", "rule"}  # what an address may ask of the groups


@require_http_methods(["GET", "HEAD", "POST"])
def findings(request: ShopRequest) -> HttpResponseBase:
    """The findings of the workshop by what closes them, or as a table; judged again if anything has changed.

    What is met, and what is asked for by sort or leaf, is shown as the table. What is ticked is decided here.
    """
    if request.method == "POST":
        return _decide_ticked(request)
    looked = (judging.again if "again" in request.GET else judging.look)(request.workshop)
    chosen, table = _chosen(request)
    return export(request, table, "findings") or _listed(request, chosen, table, behind=looked.behind)


def _chosen(request: ShopRequest) -> tuple[FindingFilter, FindingTable]:
    chosen = FindingFilter(request)
    rows = chosen.narrow(decisions.with_decisions(Finding.objects.filter(workshop=request.workshop)))
    return chosen, FindingTable(rows, request=request, filter=chosen, workshop=request.workshop)


def _listed(
    request: ShopRequest,
    chosen: FindingFilter,
    table: FindingTable,
    sent: tuple[str, TickedDecisionForm] | None = None,
    *,
    behind: bool = False,
) -> HttpResponse:
    kept = chosen.chosen.get("state") in ("any", Finding.MET)
    as_groups = request.GET.keys() <= GROUPED_BY and not kept
    groups = groups_of(request, table.all_rows, sent) if as_groups else []
    context = {"table": table, "groups": groups, "form": sent[1] if sent else None, "behind": behind}
    return render(request, "compliance/findings.html", context, status=sent[1].status if sent else 200)


@owner_required
def _decide_ticked(request: ShopRequest) -> HttpResponse:
    """Write what the owner says of all that is ticked in one group, in one transaction, a reason with each."""
    name = slugify(request.POST.get("group", ""))  # as groups are named; it begins the names of the form's parts
    form = TickedDecisionForm(request.POST, access=request.access, auto_id=f"{name}_%s")
    if form.is_valid():
        said, by = form.cleaned_data, request.member.user
        try:
            made = decisions.decide_many(
                request.workshop, said["finding"], said["kind"], said["reason"], by=by, key=form.request_key
            )
        except LedgerError as error:
            form.add_error(None, str(error))
        else:
            of = "1 finding" if len(made) == 1 else f"{len(made)} findings"
            messages.info(request, f"Written of {of}: {made[0].kind}. The reason stays with each.")
            return HttpResponseRedirect(request.get_full_path(), status=303)
    return _listed(request, *_chosen(request), (name, form))


@require_http_methods(["GET", "HEAD", "POST"])
def finding(request: ShopRequest, pk: int) -> HttpResponse:
    """One finding: what the rule asks, what the book shows, how to close it, what was decided."""
    rows = decisions.with_decisions(Finding.objects.filter(workshop=request.workshop))
    one = decisions.shown(get_object_or_404(rows, pk=pk))
    if request.method != "POST" and one.owed and judging.look(request.workshop).changed:
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
            form.refuse(error)
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
        record=records_words(request.workshop, [finding.about])[finding.about],
        record_href=record_address(request.access, finding.about) or reverse("entries", args=[request.access.slug]),
        person=names_of([finding.person]).get(finding.person, "") if finding.person else "",
        from_memory=bool(one.rule and one.rule.known == MEMORY),
    )


@require_GET
def rules(request: ShopRequest) -> HttpResponse:
    """Every rule that is applied here: its duty, where it stands, since when, law or practice, how it is known."""
    where = request.workshop.jurisdiction
    shown = {"rules": rules_of(where), "jurisdiction": Workshop.JURISDICTIONS[where]}
    return render(request, "compliance/rules.html", shown)
