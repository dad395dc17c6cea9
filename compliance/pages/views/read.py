"""What whoever holds a link reads by it, and nothing else."""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, cast
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_not_required
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from compliance.models import Document, ReaderLink
from compliance.pages.handing import handed_out, seldom_guessed, unlisted
from compliance.papers.usage import as_file
from compliance.readers.links import NoLink, documents_of, opened, vehicle_of
from compliance.statement import files
from compliance.statement.figures import Statement, read_statement
from compliance.statement.layout import Layout
from compliance.statement.period import named_days
from shop.models import Visit
from shop.visits import log as visitlog

P = ParamSpec("P")
Reading = Callable[Concatenate[HttpRequest, str, P], HttpResponseBase]


def by_link(view: Reading[P]) -> Reading[P]:
    """Let a view be reached without signing in; nothing of it is kept by browsers, and its address is not passed on."""

    @login_not_required
    @require_GET
    @seldom_guessed
    @wraps(view)
    def guarded(request: HttpRequest, token: str, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
        try:
            answer = view(request, token, *args, **kwargs)
        except NoLink as error:
            answer = render(request, "compliance/read_nothing.html", {"why": str(error)}, status=404)
        return unlisted(answer)

    return cast(Reading[P], guarded)


@by_link
def read(request: HttpRequest, token: str) -> HttpResponse:
    """What a link shows."""
    link = opened(token, "the first page")
    timezone.activate(ZoneInfo(link.workshop.zone))
    shared = {"link": link, "token": token, "show_aside": False, "units": link.workshop.units}
    if link.kind == ReaderLink.STATEMENT:
        return render(request, "compliance/read_statement.html", {**shared, **_statement_shown(link)})
    if link.kind == ReaderLink.VEHICLE:
        return render(request, "compliance/read_vehicle.html", {**shared, **_vehicle_shown(link)})
    issued = link.documents.defer("file").order_by("number")
    return render(request, "compliance/read_documents.html", {**shared, "documents": issued})


@by_link
def read_file(request: HttpRequest, token: str, form: str) -> HttpResponseBase:
    """The statement of a link as a file."""
    link = opened(token, f"the statement as {form}")
    if link.kind != ReaderLink.STATEMENT or form not in files.FORMATS:
        raise Http404("No such file.")
    report = _report(link)
    return handed_out(as_file(report, form), files.FORMATS[form], files.file_name(report, form))


@by_link
def read_document(request: HttpRequest, token: str, number: int) -> HttpResponseBase:
    """A document of a link, as issued."""
    link = opened(token, f"document no. {number}")
    allowed: QuerySet[Document] = link.documents.all()
    if link.kind == ReaderLink.VEHICLE:
        allowed = documents_of(vehicle_of(link), link.workshop)
    found = get_object_or_404(allowed, workshop=link.workshop, number=number)
    return handed_out(bytes(found.file), "application/pdf", f"document-{number}.pdf", beside=False)


def _report(link: ReaderLink) -> Statement:
    if (named := named_days(link.about)) is None:
        raise Http404("No such period.")
    return read_statement(link.workshop.book, *named)


def _statement_shown(link: ReaderLink) -> dict[str, object]:
    report = _report(link)
    layout = Layout(report, link.workshop.units.column)
    parts = [
        (each.refrigerant, layout.picture(each), layout.masses((each,), each.refrigerant), layout.behind(each))
        for each in report.refrigerants
    ]
    shown = {"overview": layout.overview() if parts else None, "emitted": layout.emitted_words()}
    forms = ("pdf", "csv", "xlsx", "json")
    return {"statement": report, "parts": parts, "forms": forms, **shown, **layout.two_totals}


def _vehicle_shown(link: ReaderLink) -> dict[str, object]:
    vehicle, units = vehicle_of(link), link.workshop.units
    visits = visitlog.with_log(Visit.objects.filter(vehicle=vehicle, workshop=link.workshop)).order_by("-number")
    logs = [
        (one, [line for line in visitlog.log_of(one, units) if line.stands], visitlog.open_points(one, units))
        for one in visits
    ]
    issued = documents_of(vehicle, link.workshop)
    return {"vehicle": vehicle, "logs": logs, "documents": issued}
