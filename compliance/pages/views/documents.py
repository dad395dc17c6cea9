"""Issued documents as a list and one by one, their files, the page that issues one, and the choice of labels."""

from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from compliance.documents.issuing import issue, paper_of
from compliance.documents.signing import shown_signatures
from compliance.documents.subjects import Choice, choices_of, kind_of, slug_of, words_of
from compliance.documents.verifying import answer_of, content_of
from compliance.models import Document
from compliance.pages import labelasking
from compliance.pages.addresses import issue_address, record_address
from compliance.pages.forms.documents import IssueForm
from compliance.pages.forms.labels import LabelsForm, about_of
from compliance.pages.handing import handed_out
from compliance.pages.tables.documents import DocumentFilter, DocumentTable, documents_of, state_of
from compliance.papers.paper import CONVERSION, KINDS, LABELS, NothingToIssue, Paper, blocks_of
from compliance.papers.sheet import address_on, shown
from inventory.book.refusals import LedgerError
from inventory.measure.codes import digest_of
from inventory.measure.reach import stays_here
from inventory.output.stock import STOCKS
from inventory.pages.access import writer_required
from inventory.pages.forms.act import page, see
from inventory.pages.tables.table import export
from inventory.shelf import queries
from shop.pages.middleware import ShopRequest

FILES = {"pdf": "application/pdf", "json": "application/json"}
CHANGED = "The record has changed since this page was shown. Look at it again, then press."
CHANGED_SINCE = "The record has changed since: issue it anew to have that in it."
LABELS_SLUG = "cylinder-labels"


@require_GET
def documents(request: ShopRequest) -> HttpResponseBase:
    """The issued documents of the workshop, and what else can be issued here."""
    chosen = DocumentFilter(request)
    rows = chosen.narrow(documents_of(request.workshop))
    table = DocumentTable(rows, request=request, filter=chosen, workshop=request.workshop)
    return export(request, table, "documents") or render(
        request, "compliance/documents.html", {"table": table, "choices": _general(request)}
    )


@require_GET
def document(request: ShopRequest, number: int) -> HttpResponse:
    """One document: what it is, its files, what it replaces, and what was written since."""
    one: Any = get_object_or_404(documents_of(request.workshop), number=number)
    found = answer_of(one)
    context = {
        "document": one,
        "state": state_of(one),
        "answer": found,
        **_record(request, one.about),
        "sheets": [
            {"number": place, "href": reverse("document-page", args=[request.access.slug, number, place])}
            for place in range(1, one.pages + 1)
        ],
        "file_name": f"{slug_of(one.kind)}-{number}.pdf",
        "signatures": shown_signatures(one),
        "text": [shown(block) for block in blocks_of(content_of(one))],
        "again": issue_address(request.access, Choice(one.kind, one.about)) if request.access.may_write else "",
    }
    return render(request, "compliance/document.html", context)


@require_GET
def document_file(request: ShopRequest, number: int, form: str) -> HttpResponseBase:
    """Hand a document out as it was issued: the PDF, or the facts it was made from."""
    if form not in FILES:
        raise Http404("No such file.")
    one = get_object_or_404(Document, workshop=request.workshop, number=number)
    content = bytes(one.file) if form == "pdf" else one.content.encode()
    return handed_out(content, FILES[form], f"{slug_of(one.kind)}-{one.number}.{form}")


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
def document_issue(request: ShopRequest, kind: str, about: str) -> HttpResponse:
    """Show what a document would say, and issue it."""
    name = kind_of(kind)
    if name not in KINDS:
        raise Http404("No such document.")
    if name == CONVERSION and (asked := labelasking.answer(request, about)) is not None:
        return asked
    try:
        paper = paper_of(request.workshop, name, about, today=timezone.localdate())
    except NothingToIssue as error:
        return _nothing(request, name, about, str(error))
    sent = request.POST if request.method == "POST" else None
    form = IssueForm(sent, access=request.access, initial={"key": uuid4(), "seen": _mark(paper)})
    if sent is not None:
        if form.is_valid() and (made := _issue(request, form, name, about, paper)) is not None:
            return made
        form.show_again(uuid4(), _mark(paper))
    return _issue_page(request, form, name, about, paper)


def _record(request: ShopRequest, about: str) -> dict[str, str]:
    return {"record": words_of(about), "record_href": record_address(request.access, about)}


def _general(request: ShopRequest) -> list[tuple[str, str]]:
    """Return words and addresses for issuing what belongs to no one record."""
    if not request.access.may_write:
        return []
    register = choices_of("people", today=timezone.localdate())[0]
    slug = request.access.slug
    return [
        ("Issue the certificate register", issue_address(request.access, register)),
        ("Choose cylinders and issue their labels", reverse("cylinder-labels", args=[slug])),
        ("Choose the period of a usage report", reverse("statements", args=[slug])),
    ]


def _issue(request: ShopRequest, form: IssueForm, kind: str, about: str, paper: Paper) -> HttpResponse | None:
    """Issue what was shown; None where the page has to be shown again, with the reason on the form."""
    key = form.cleaned_data["key"]
    before = Document.objects.filter(request_key=key).exists()
    changed = form.cleaned_data["seen"] != _mark(paper)
    if changed and not before:
        form.add_error(None, CHANGED)
        return None
    address = address_on(paper)
    answered = before or request.access.here_alone or form.cleaned_data["address"] == address
    if address and stays_here(address) and not answered:
        return _ask_about_address(request, form, kind, address)
    try:
        made = issue(request.workshop, kind, about, by=request.member.user, key=key, now=timezone.now())
    except (NothingToIssue, LedgerError) as error:
        form.refuse(error)
        return None
    words = f"Already issued as no. {made.number}, once." if before else f"Issued as no. {made.number}."
    messages.info(request, f"{words} {CHANGED_SINCE}" if changed else words)
    return see(request, "document", made.number)


def _ask_about_address(request: ShopRequest, form: IssueForm, kind: str, address: str) -> HttpResponse:
    """Ask whether a paper is to bear an address that no phone reaches; nothing is written yet."""
    kept = {**form.cleaned_data, "address": address}
    context = {"kind": kind, "address": address, "is_labels": kind == LABELS, "kept": kept.items()}
    return render(request, "compliance/document_address.html", context)


def _mark(paper: Paper) -> str:
    """Return what tells one paper from another."""
    return digest_of(repr(paper).encode())


def _issue_page(request: ShopRequest, form: IssueForm, kind: str, about: str, paper: Paper) -> HttpResponse:
    earlier = documents_of(request.workshop).filter(kind=kind, about=paper.about).order_by("-number").first()
    return page(
        request,
        "compliance/document_issue.html",
        form,
        kind=kind,
        paper=paper,
        stock=STOCKS[paper.size].words,
        blocks=[shown(block) for block in paper.blocks],
        earlier=earlier,
        **_record(request, about),
    )


def _nothing(request: ShopRequest, kind: str, about: str, reason: str) -> HttpResponse:
    context = {"kind": kind, "reason": reason, **_record(request, about)}
    return render(request, "compliance/document_nothing.html", context, status=422)


@writer_required
@require_http_methods(["GET", "HEAD", "POST"])
def choose_labels(request: ShopRequest) -> HttpResponse:
    """Choose cylinders, then go to the page that shows and issues their labels."""
    here = list(queries.standing_here(request.book))
    ticked = {"cylinders": request.GET.getlist("cylinder")}
    sent = request.POST if request.method == "POST" else None  # one that is empty is judged too: nothing was ticked
    form = LabelsForm(sent, access=request.access, cylinders=here, initial=ticked)
    if form.is_valid():
        return see(request, "document-issue", LABELS_SLUG, about_of(form.cleaned_data["cylinders"]))
    return page(request, "compliance/labels.html", form, cylinders=here)
