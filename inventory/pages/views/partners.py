"""Pages of partners: the list, one partner with its lines and consignments, new, edit."""

from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.views.decorators.http import require_GET

from inventory.acts.partners import add_partner, change_partner
from inventory.book.refusals import LedgerError
from inventory.models import Consignment, Partner
from inventory.pages import comeback, links
from inventory.pages.access import BookRequest, writer_page
from inventory.pages.forms.act import page, see
from inventory.pages.forms.partners import PartnerForm
from inventory.pages.joined import joined_page
from inventory.pages.links import Link
from inventory.pages.records import partner_of
from inventory.pages.tables.export import export
from inventory.pages.tables.lines import AccountLines
from inventory.pages.tables.partners import ConsignmentTable, PartnerTable


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
            form.add_error("name", str(error))
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
            form.add_error("name", str(error))
        else:
            return see(request, "partner", number)
    return page(request, "inventory/partner_form.html", form, partner=found)
