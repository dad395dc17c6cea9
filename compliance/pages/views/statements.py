"""Pages of the usage report: choose a period, look at it, take it away as a file. A reader may see them too."""

from dataclasses import dataclass
from datetime import date, timedelta
from urllib.parse import urlencode

from django.http import Http404, HttpResponse, HttpResponseBase, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from compliance.pages.forms.statements import PeriodForm
from compliance.pages.handing import handed_out
from compliance.papers import usage
from compliance.statement import files
from compliance.statement.balance import Balance
from compliance.statement.emissions import lacking
from compliance.statement.figures import Statement, lines_of_period, read_statement
from compliance.statement.layout import IN_FILES, Layout
from compliance.statement.period import LISTED, WrongPeriod, day_in
from compliance.statement.sums import vehicle_holdings
from inventory.gases.potentials import GWP_BASES
from inventory.models.access import Access
from inventory.pages.forms.act import page
from shop.pages.middleware import ShopRequest

LINES = "lines"  # the register of the period, beside the report


@dataclass(frozen=True)
class Preset:
    """A period that is often wanted."""

    words: str
    first: date
    last: date
    href: str


@require_GET
def statements(request: ShopRequest) -> HttpResponse:
    """Choose the period and the basis of a report."""
    basis = request.workshop.gwp_basis
    asked = request.GET if "from" in request.GET or "to" in request.GET else None
    presets = _presets(timezone.localdate(), request.access, basis)
    initial = {"from": presets[1].first, "to": presets[1].last, "basis": basis}
    form = PeriodForm(asked, access=request.access, initial=initial)
    if form.is_valid():
        chosen = form.cleaned_data
        return HttpResponseRedirect(_address(request.access, chosen["from"], chosen["to"], chosen["basis"]), status=303)
    return page(request, "compliance/statements.html", form, presets=presets, closed=request.book.closed_through)


@require_GET
def statement(request: ShopRequest, first: str, last: str) -> HttpResponse:
    """Show the report of a period."""
    try:
        report = read_statement(request.book, _day(first), _day(last), _basis(request))
    except WrongPeriod:
        asked = {"from": first, "to": last, "basis": _basis(request)}
        return HttpResponseRedirect(
            f"{reverse('statements', args=[request.access.slug])}?{urlencode(asked)}", status=303
        )
    layout = Layout(report, request.workshop.units.column)
    found = vehicle_holdings(report)
    context = {
        "statement": report,
        "unit": layout.words,
        "overview": layout.overview() if report.refrigerants else None,
        "emitted": layout.emitted_words(),
        "together": layout.masses(report.refrigerants, "All refrigerants") if len(report.refrigerants) > 1 else None,
        "sections": [_section(layout, each) for each in report.refrigerants],
        **layout.two_totals,
        "purposes": layout.purposes() if report.purposes else None,
        "vehicles": [(each, layout.mass(each.mass_mg)) for each in found],
        "vehicles_cut": len({each.number for each in found}) >= LISTED,
        "files": _files(request.access, report),
        "bases": [
            (basis, _address(request.access, report.first, report.last, basis), lacking(report.impacts, basis))
            for basis in GWP_BASES
        ],
        "about": usage.about_of(report.first, report.last, report.basis, request.workshop.gwp_basis).partition(":")[2],
        "in_files": IN_FILES,
        "lines_of_period": urlencode({"from": report.first.isoformat(), "to": report.last.isoformat()}),
    }
    return render(request, "compliance/statement.html", context)


@require_GET
def statement_file(request: ShopRequest, first: str, last: str, form: str) -> HttpResponseBase:
    """Hand the report out as a file: pdf, csv, xlsx, json, or the lines of the period as CSV."""
    if form not in (*files.FORMATS, LINES):
        raise Http404("No such file.")
    try:
        report = read_statement(request.book, _day(first), _day(last), _basis(request))
    except WrongPeriod as error:
        raise Http404(str(error)) from error
    if form == LINES:
        rows = lines_of_period(report).iterator(chunk_size=2_000)
        name = files.file_name(report, "csv").replace("usage", "lines", 1)
        return handed_out(files.lines_csv(rows, request.book.zone), files.FORMATS["csv"], name)
    return handed_out(usage.as_file(report, form), files.FORMATS[form], files.file_name(report, form))


def _section(layout: Layout, each: Balance) -> dict[str, object]:
    """Return what the page shows of one refrigerant."""
    code, report = each.refrigerant, layout.statement
    return {
        "code": code,
        "name": code.lower().replace(".", "-"),
        "picture": layout.picture(each),
        "closing": layout.said(each.closing_mg),
        "masses": layout.masses((each,), code),
        "grades": layout.grades(code),
        "one_grade": report.grades_of(code)[0].grade,
        "behind": [layout.behind(each), layout.bridge(each), layout.worths(code)],
        "unexplained": layout.unexplained_words(each),
        "exact": layout.exact_words(each),
        "notes": report.impacts[code].notes,
    }


def _day(text: str) -> date:
    """Return the day of an address; only the plain form is one."""
    if (day := day_in(text)) is None:
        raise Http404("No such period.")
    return day


def _basis(request: ShopRequest) -> str:
    return request.GET.get("basis", "") or request.workshop.gwp_basis


def _address(access: Access, first: date, last: date, basis: str) -> str:
    path = reverse("statement", args=[access.slug, first.isoformat(), last.isoformat()])
    return f"{path}?{urlencode({'basis': basis})}"


def _files(access: Access, report: Statement) -> list[tuple[str, str]]:
    days = [access.slug, report.first.isoformat(), report.last.isoformat()]
    asked = urlencode({"basis": report.basis})
    forms = [("PDF", "pdf"), ("CSV", "csv"), ("XLSX", "xlsx"), ("JSON", "json"), ("every line, CSV", LINES)]
    return [(words, f"{reverse('statement-file', args=[*days, form])}?{asked}") for words, form in forms]


def _presets(today: date, access: Access, basis: str) -> list[Preset]:
    year, quarter = date(today.year, 1, 1), date(today.year, 3 * ((today.month - 1) // 3) + 1, 1)
    month, one = today.replace(day=1), timedelta(days=1)
    last_quarter = _quarter_start(quarter - one)
    periods = [
        ("This year", year, today),
        ("Last year", date(today.year - 1, 1, 1), date(today.year - 1, 12, 31)),
        ("This quarter", quarter, today),
        ("Last quarter", last_quarter, quarter - one),
        ("This month", month, today),
        ("Last month", (month - one).replace(day=1), month - one),
    ]
    return [Preset(words, first, last, _address(access, first, last, basis)) for words, first, last in periods]


def _quarter_start(day: date) -> date:
    return date(day.year, 3 * ((day.month - 1) // 3) + 1, 1)
