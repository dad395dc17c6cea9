"""A year at a look, with the files of each of its parts."""

from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from typing import cast
from urllib.parse import urlencode

from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from compliance.due.falling import CLOSING, Due
from compliance.due.standing import due_of
from compliance.pages import yearly
from compliance.pages.falling import falls_due
from compliance.pages.handing import handed_out
from compliance.pages.yearly import Look, Part
from compliance.statement.figures import Statement, read_statement
from compliance.statement.period import WrongPeriod, day_in
from inventory.book import audit
from inventory.models.access import Access
from inventory.output.files import TYPES, WRITERS
from inventory.pages.links import Link
from shop.pages.middleware import ShopRequest

MOST_MONTHS = 36
AHEAD = timedelta(days=90)
DUE = "due"


@require_GET
@audit.snapshot()  # every part shows one moment of the book
def year(request: ShopRequest, first: str = "", last: str = "") -> HttpResponse:
    """What came in, went out, was lost and is due, drawn; the last twelve months unless other days are asked for."""
    today = timezone.localdate()
    try:
        statement = _read(request, first, last, today)
    except WrongPeriod as error:
        return _page(request, today, {"error": str(error)}, status=400)
    look = Look(statement, request.access.units, _refrigerant(request, statement))
    parts = [(part, _files(request, statement, part.name)) for part in _parts(request, look)]
    due = _due(request, today)
    context = {
        "statement": statement,
        "parts": parts,
        "due": [falls_due(request.workshop, one, today, request.access.units) for one in due],
        "due_drawing": yearly.due_drawing(due, AHEAD) if due else None,
        "due_files": _files(request, statement, DUE),
        "chosen": look.refrigerant,
        "refrigerants": [each.refrigerant for each in statement.refrigerants],
    }
    return _page(request, today, context)


@require_GET
@audit.snapshot()
def year_file(request: ShopRequest, first: str, last: str, part: str, form: str) -> HttpResponseBase:
    """Hand a part's rows out as CSV, XLSX or JSON."""
    if form not in WRITERS or part not in (*yearly.PARTS, DUE) or not _may_see(request.access, part):
        raise Http404("No such file.")
    today = timezone.localdate()
    try:
        statement = _read(request, first, last, today)
    except WrongPeriod as error:
        raise Http404(str(error)) from error
    if part == DUE:
        names, rows = yearly.rows_due(_due(request, today))
    else:
        made = yearly.PARTS[part](Look(statement, request.access.units, _refrigerant(request, statement)))
        names, rows = made.names, made.rows
    days = str(today) if part == DUE else f"{statement.first}-{statement.last}"
    return handed_out(cast("Iterator[str]", WRITERS[form](names, rows)), TYPES[form], f"{part}-{days}.{form}")


def _page(request: ShopRequest, today: date, context: Mapping[str, object], *, status: int = 200) -> HttpResponse:
    periods = [
        Link("Last twelve months", reverse("year", args=[request.access.slug])),
        _of(request.access, "This year", date(today.year, 1, 1), today),
        _of(request.access, "Last year", date(today.year - 1, 1, 1), date(today.year - 1, 12, 31)),
    ]
    return render(request, "compliance/year.html", {"periods": periods, **context}, status=status)


def _of(access: Access, words: str, first: date, last: date) -> Link:
    return Link(words, reverse("year-of", args=[access.slug, first.isoformat(), last.isoformat()]))


def _read(request: ShopRequest, first: str, last: str, today: date) -> Statement:
    """Return the statement of the days asked for; raises WrongPeriod, and Http404 for what is no day."""
    days = (day_in(first), day_in(last)) if first or last else yearly.last_twelve_months(today)
    if days[0] is None or days[1] is None:
        raise Http404("No such period.")
    basis = request.GET.get("basis", "") or request.workshop.gwp_basis
    if days[1] - days[0] > MOST_MONTHS * timedelta(days=31):
        raise WrongPeriod(f"At most {MOST_MONTHS} months are shown at a look. A statement takes any period.")
    return read_statement(request.book, days[0], days[1], basis)


def _parts(request: ShopRequest, look: Look) -> list[Part]:
    return [make(look) for name, make in yearly.PARTS.items() if _may_see(request.access, name)]


def _may_see(access: Access, part: str) -> bool:
    return access.is_owner or part not in yearly.OWNERS


def _refrigerant(request: ShopRequest, statement: Statement) -> str:
    asked = request.GET.get("refrigerant", "")
    return asked if asked in statement.impacts else ""


def _files(request: ShopRequest, statement: Statement, part: str) -> list[Link]:
    days = (statement.first.isoformat(), statement.last.isoformat())
    asked = {name: request.GET[name] for name in ("basis", "refrigerant") if name in request.GET and part != DUE}
    query = f"?{urlencode(asked)}" if asked else ""
    addresses = {form: reverse("year-file", args=[request.access.slug, *days, part, form]) for form in WRITERS}
    return [Link(form.upper(), f"{address}{query}") for form, address in addresses.items()]


def _due(request: ShopRequest, today: date) -> list[Due]:
    found = due_of(request.workshop, today, ahead=AHEAD)
    return [one for one in found if request.access.is_owner or one.thing.kind != CLOSING]
