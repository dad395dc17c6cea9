"""Pages of partners: the list, one partner, new, edit; two records of one joined, and parted again, by the owner."""

from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.views.decorators.http import require_GET, require_http_methods

from inventory.acts import joining
from inventory.acts.partners import add_partner, change_partner, partners_like
from inventory.book.refusals import LedgerError
from inventory.models import Consignment, Partner
from inventory.pages import comeback, links
from inventory.pages.access import BookRequest, owner_required, partner_of, writer_page
from inventory.pages.forms.act import page, read_back, see
from inventory.pages.forms.partners import PartnerForm
from inventory.pages.joined import NO_LINE, SUBMIT, JoinForm, PartForm, joined_page
from inventory.pages.links import Link
from inventory.pages.tables.lines import AccountLines
from inventory.pages.tables.partners import ConsignmentTable, PartnerTable
from inventory.pages.tables.table import export


@require_GET
def partners(request: BookRequest) -> HttpResponseBase:
    """Show the partners of the book."""
    new = links.address(request.access, "partner-new") if request.access.may_write else ""
    table = PartnerTable(
        Partner.objects.filter(account__book=request.book, account__joined_to=None).select_related("account"),
        request=request,
        none_act=Link("Enter a partner", new) if new else None,
    )
    return export(request, table, "partners") or render(request, "inventory/partners.html", {"table": table})


@require_GET
def partner(request: BookRequest, number: int) -> HttpResponseBase:
    """Show one partner: what came from it and what went to it; of one that is joined to another, where it goes on."""
    found = partner_of(request, number)
    if found.account.joined_to_id is not None:
        return joined_page(request, found.account, "partner")
    sent = Consignment.objects.filter(partner__account__in=found.account.together()).select_related(
        "entry", "cylinder__account"
    )
    consignments = ConsignmentTable(sent, request=request, none_words="Nothing was sent there yet.")
    context = {
        "partner": found,
        "consignments": consignments,
        "lines": AccountLines(found.account, request=request),
        "lines_files": links.address(request.access, "entries", query={"account": number}),
    }
    return export(request, consignments, "consignments") or render(request, "inventory/partner.html", context)


@writer_page
def new(request: BookRequest) -> HttpResponse:
    """Enter a partner."""
    form = PartnerForm(request.POST or None, access=request.access, kind=request.GET.get("kind", ""))
    if request.method == "POST" and form.is_valid():
        try:
            made = add_partner(request.book, **form.cleaned_data)
        except LedgerError as error:
            form.refuse(error, "name")
        else:
            number = made.account.number
            return comeback.back(request, number) or see(request, "partner", number)
    return page(request, "inventory/partner_form.html", form)


@writer_page
def edit(request: BookRequest, number: int) -> HttpResponse:
    """Put right what a partner is called and where it is."""
    found = partner_of(request, number)
    form = PartnerForm(request.POST or None, access=request.access, partner=found)
    if request.method == "POST" and form.is_valid():
        try:
            change_partner(found, **{"kind": found.kind, **form.cleaned_data})
        except LedgerError as error:
            form.refuse(error, "name")
        else:
            return see(request, "partner", number)
    return page(request, "inventory/partner_form.html", form, partner=found)


def _others(found: Partner) -> list[Partner]:
    """Return the partners that it may be joined to, those with a name like it first."""
    rows = Partner.objects.filter(account__book=found.account.book, account__joined_to=None, sister=None)
    likely = [one.pk for one in partners_like(found.account.book, found.name, found)]
    every = rows.exclude(pk=found.pk).select_related("account__book").order_by("name")
    return sorted(every, key=lambda one: one.pk not in likely)


@owner_required
@require_http_methods(["GET", "POST"])
def join(request: BookRequest, number: int) -> HttpResponse:
    """Say that a partner's record is another one's; read back first."""
    found = partner_of(request, number)
    if found.account.joined_to_id is not None:
        return see(request, "partner", number)
    others = {one.account.number: one for one in _others(found)}
    named = [(key, f"{one}, {one.kind}") for key, one in others.items()]
    form = JoinForm(request.POST or None, access=request.access, others=named)
    if request.method == "POST" and form.is_valid():
        kept = others[int(form.cleaned_data["kept"])]
        if form.needs_read_back(always=True):
            rows = [("Goes on under", f"{kept}, {kept.kind}"), ("Is joined to it", f"{found}, {found.kind}")]
            return read_back(request, form, rows, then=NO_LINE, submit=SUBMIT)
        try:
            joining.join_partners(found, kept)
        except LedgerError as error:
            form.refuse(error)
        else:
            return see(request, "partner", kept.account.number)
    back = links.address(request.access, "partner", number)
    return page(request, "inventory/join.html", form, record=found, back=back, none=not others)


@owner_required
@require_http_methods(["GET", "POST"])
def part(request: BookRequest, number: int) -> HttpResponse:
    """Let a joined partner stand by itself again; read back first."""
    found = partner_of(request, number)
    kept = found.account.joined_to
    if kept is None:
        return see(request, "partner", number)
    form = PartForm(request.POST or None, access=request.access)
    if request.method == "POST" and form.is_valid():
        if form.needs_read_back(always=True):
            rows = [("Stands by itself again", found), ("And so does", kept)]
            return read_back(request, form, rows, submit="Part them")
        joining.part_partners(found)
        return see(request, "partner", number)
    back = links.address(request.access, "partner", number)
    return page(request, "inventory/part.html", form, record=found, kept=kept, back=back)
