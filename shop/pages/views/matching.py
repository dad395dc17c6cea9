"""The page on which the columns of a sheet are matched, with its first rows as they would be written."""

from dataclasses import replace
from zoneinfo import ZoneInfo

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods

from inventory.pages.access import owner_required
from inventory.pages.forms.act import page, see
from shop.importing import jobs
from shop.importing.people import people_of
from shop.importing.sheets import looking
from shop.importing.sheets.columns import Matching
from shop.importing.sheets.opening import NotASheet, Sheet, opened, sheets_of
from shop.models import ImportJob
from shop.pages.forms.matching import MatchForm
from shop.pages.middleware import ShopRequest
from shop.pages.preview import preview

WHOLE, REST = "write", "rest"
WRITES = (WHOLE, REST)
OPEN = (ImportJob.TO_MATCH, ImportJob.STOPPED)


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def match(request: ShopRequest, pk: int) -> HttpResponse:
    """Take what the columns mean; show the first rows so; set the work on the whole file going."""
    job = get_object_or_404(ImportJob, workshop=request.workshop, pk=pk, what=ImportJob.SHEET)
    path = jobs.file_of(job)
    if job.state not in OPEN or not path.is_file():
        return see(request, "import-job", job.pk)
    try:
        sheet = opened(path, job.matching.get("sheet", ""))
        matching = (
            Matching.of(job.matching)
            if job.matching
            else looking.first_matching(sheet, request.workshop, str(request.member.user))
        )
        return _page(request, job, sheet, matching)
    except NotASheet as error:
        ImportJob.objects.filter(pk=job.pk).update(state=ImportJob.STOPPED, reason=str(error))
        return see(request, "import-job", job.pk)


def _page(request: ShopRequest, job: ImportJob, sheet: Sheet, matching: Matching) -> HttpResponse:
    columns = looking.columns_of(sheet, matching.head)
    found = looking.look(sheet, matching, ZoneInfo(request.workshop.book.zone))
    form = MatchForm(
        request.POST or None,
        initial=MatchForm.initial_of(matching),
        columns=columns,
        sheets=sheets_of(sheet.path),
        names=found.names,
        people=people_of(request.workshop),
        access=request.access,
    )
    if request.method == "POST" and _elsewhere(form, matching):
        return _begin_anew(request, job, form)
    if request.method == "POST" and form.is_valid():
        return _taken(request, job, form, matching)
    seen = preview(found, request.access.units) if job.matching and not form.is_bound else None
    return page(request, "shop/match.html", form, job=job, seen=seen, matching=matching, head=matching.head)


def _elsewhere(form: MatchForm, matching: Matching) -> bool:
    """Whether the headers are said to stand elsewhere than the form was made for."""
    form.full_clean()
    head, name = (form.cleaned_data.get(one, getattr(matching, one)) for one in ("head", "sheet"))
    return bool(head != matching.head or name != matching.sheet)


def _begin_anew(request: ShopRequest, job: ImportJob, form: MatchForm) -> HttpResponse:
    """Look at the headers where they are said to stand."""
    sheet = opened(jobs.file_of(job), form.cleaned_data.get("sheet", ""))
    by = str(request.member.user)
    job.matching = looking.first_matching(sheet, request.workshop, by, form.cleaned_data["head"]).kept()
    job.save(update_fields=["matching"])
    return see(request, "import-match", job.pk)


def _taken(request: ShopRequest, job: ImportJob, form: MatchForm, matching: Matching) -> HttpResponse:
    chosen = replace(form.matching, sheet=form.cleaned_data.get("sheet", matching.sheet))
    job.matching = chosen.kept()
    job.save(update_fields=["matching"])
    looking.remember(request.workshop, [one.header for one in form.columns], chosen)
    if request.POST.get("press") in WRITES and _as_looked_at(chosen, matching):
        if request.POST["press"] == REST:
            job.matching = {**job.matching, "leave_out": True}
            job.save(update_fields=["matching"])
        jobs.begin_sheet(job)
        return see(request, "import-job", job.pk)
    return see(request, "import-match", job.pk)


def _as_looked_at(chosen: Matching, matching: Matching) -> bool:
    """Whether the rows are still read as they were looked at; whom names mean changes no row."""
    return replace(chosen, people={}) == replace(matching, people={}, leave_out=False)


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def match_rest(request: ShopRequest, pk: int) -> HttpResponse:
    """Write the rows without faults, where a whole sheet was stopped by some."""
    job = get_object_or_404(ImportJob, workshop=request.workshop, pk=pk, what=ImportJob.SHEET)
    stopped = job.state == ImportJob.STOPPED and job.matching and jobs.file_of(job).is_file()
    if request.method == "POST" and stopped:
        job.matching = {**job.matching, "leave_out": True}
        job.save(update_fields=["matching"])
        jobs.begin_sheet(job)
    return see(request, "import-job", job.pk)
