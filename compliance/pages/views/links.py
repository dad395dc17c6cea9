"""Links for readers: the owner makes and revokes them; whoever holds one reads by it, and nothing else."""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, cast
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.views.decorators.http import require_GET, require_http_methods

from compliance.models import Document, ReaderLink
from compliance.pages.forms.links import LinkForm
from compliance.papers.usage import draft
from compliance.readers import links as reader_links
from compliance.statement import files
from compliance.statement.figures import Statement, read_statement, vehicle_holdings
from compliance.statement.layout import Layout
from inventory.book.ledger import LedgerError
from inventory.pages.access import owner_required
from inventory.pages.forms.act import page, see
from shop.models import Visit
from shop.pages.middleware import ShopRequest
from shop.visits import log as visitlog

SHOWN_ONCE = "reader-link"


@require_GET
@owner_required
def links(request: ShopRequest) -> HttpResponse:
    """The links that were made: for whom, until when, what was opened by each."""
    rows = ReaderLink.objects.filter(workshop=request.workshop).order_by("-made_at").prefetch_related("openings")
    shown = [(one, reader_links.state_of(one), list(one.openings.all()[:20])) for one in rows]
    fresh = request.session.pop(SHOWN_ONCE, None)
    return render(request, "compliance/links.html", {"links": shown, "fresh": fresh})


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def link_new(request: ShopRequest) -> HttpResponse:
    """Make a link; its address is shown once, on the page that follows."""
    form = LinkForm(request.POST or None, access=request.access, workshop=request.workshop, initial=_asked(request))
    if request.method == "POST" and form.is_valid():
        try:
            link, token = reader_links.make_link(
                request.workshop,
                form.wanted,
                for_whom=form.cleaned_data["for_whom"],
                ends_at=form.ends_at,
                by=request.member.user,
                key=form.request_key,
            )
        except LedgerError as error:
            form.add_error(None, str(error))
        else:
            if token:
                address = request.build_absolute_uri(reverse("read", args=[token]))
                request.session[SHOWN_ONCE] = {"address": address, "for_whom": link.for_whom}
            return see(request, "reader-links")
    return page(request, "compliance/link_new.html", form)


def _asked(request: ShopRequest) -> dict[str, str]:
    return {name: request.GET[name] for name in ("kind", "vehicle", "first", "last", "basis") if name in request.GET}


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def link_revoke(request: ShopRequest, pk: int) -> HttpResponse:
    """Let a link lead nowhere any more; whoever only looks is led to the list."""
    link = get_object_or_404(ReaderLink, workshop=request.workshop, pk=pk)
    if request.method == "POST":
        reader_links.revoke(link)
        messages.info(request, f"The link for {link.for_whom} leads nowhere any more.")
    return see(request, "reader-links")


# --- what a reader sees ---------------------------------------------------------------------------------------

P = ParamSpec("P")
Reading = Callable[Concatenate[HttpRequest, str, P], HttpResponse]


def by_link(view: Reading[P]) -> Reading[P]:
    """Let a view be reached without signing in; nothing of it is kept by browsers, and its address is not passed on."""

    @login_not_required
    @require_GET
    @wraps(view)
    def guarded(request: HttpRequest, token: str, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        try:
            answer = view(request, token, *args, **kwargs)
        except reader_links.NoLink as error:
            answer = render(request, "compliance/read_nothing.html", {"why": str(error)}, status=404)
        answer["Cache-Control"] = "no-store"
        answer["Referrer-Policy"] = "no-referrer"
        answer["X-Robots-Tag"] = "noindex"
        return answer

    return cast(Reading[P], guarded)


@by_link
def read(request: HttpRequest, token: str) -> HttpResponse:
    """What a link shows."""
    link = reader_links.opened(token, "the first page")
    timezone.activate(ZoneInfo(link.workshop.zone))
    shared = {"link": link, "token": token, "show_aside": False}
    if link.kind == ReaderLink.STATEMENT:
        return render(request, "compliance/read_statement.html", {**shared, **_statement_shown(link)})
    if link.kind == ReaderLink.VEHICLE:
        return render(request, "compliance/read_vehicle.html", {**shared, **_vehicle_shown(link)})
    issued = link.documents.defer("file").order_by("number")
    return render(request, "compliance/read_documents.html", {**shared, "documents": issued})


@by_link
def read_file(request: HttpRequest, token: str, form: str) -> HttpResponse:
    """The statement of a link as a file."""
    link = reader_links.opened(token, f"the statement as {form}")
    if link.kind != ReaderLink.STATEMENT or form not in files.FORMATS:
        raise Http404("No such file.")
    report = _report(link)
    held = vehicle_holdings(report, link.workshop.book)
    made: dict[str, Callable[[], str | bytes]] = {
        "json": lambda: files.as_json(report),
        "csv": lambda: files.as_csv(report),
        "xlsx": lambda: files.as_xlsx(report, held),
        "pdf": lambda: draft(report, held, unit=link.workshop.mass_unit),
    }
    answer = HttpResponse(made[form](), content_type=files.FORMATS[form])
    answer["Content-Disposition"] = f'attachment; filename="{files.file_name(report, form)}"'
    return answer


@by_link
def read_document(request: HttpRequest, token: str, number: int) -> HttpResponse:
    """A document of a link, as issued."""
    link = reader_links.opened(token, f"document no. {number}")
    allowed = link.documents.all()
    if link.kind == ReaderLink.VEHICLE:
        vehicle = reader_links.vehicle_of(link)
        allowed = Document.objects.filter(pk__in=[one.pk for one in reader_links.documents_of(vehicle, link.workshop)])
    found = get_object_or_404(allowed, workshop=link.workshop, number=number)
    answer = HttpResponse(bytes(found.file), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="document-{number}.pdf"'
    return answer


def _report(link: ReaderLink) -> Statement:
    return read_statement(link.workshop.book, *reader_links.period_of(link))


def _statement_shown(link: ReaderLink) -> dict[str, object]:
    report = _report(link)
    layout = Layout(report, link.workshop.mass_unit)
    parts = [
        (each.refrigerant, layout.picture(each), layout.masses((each,), each.refrigerant), layout.behind(each))
        for each in report.refrigerants
    ]
    return {"statement": report, "parts": parts, "forms": ("pdf", "csv", "xlsx", "json"), **files.two_totals(layout)}


def _vehicle_shown(link: ReaderLink) -> dict[str, object]:
    vehicle = reader_links.vehicle_of(link)
    visits = visitlog.with_log(Visit.objects.filter(vehicle=vehicle, workshop=link.workshop)).order_by("-number")
    logs = [
        (one, [line for line in visitlog.log_of(one) if line.stands], visitlog.open_points(one, link.workshop))
        for one in visits
    ]
    issued = reader_links.documents_of(vehicle, link.workshop)
    return {"vehicle": vehicle, "logs": logs, "documents": issued}


def panel(request: HttpRequest, about: str) -> SafeString:
    """Return the way to links for readers on the pages of a vehicle and of the people; for the owner alone."""
    access = getattr(request, "access", None)
    kind, _, number = about.partition(":")
    if access is None or not access.is_owner or kind not in ("vehicle", "people"):
        return SafeString("")
    if kind == "people":
        return _way(reverse("reader-links", args=[access.slug]), "Links for readers")
    asked = urlencode({"kind": ReaderLink.VEHICLE, "vehicle": number})
    return _way(f"{reverse('reader-link-new', args=[access.slug])}?{asked}", "Make a link for a reader of this vehicle")


def _way(href: str, words: str) -> SafeString:
    return format_html('<p class="acts"><a class="touch" href="{}">{}</a></p>', href, words)
