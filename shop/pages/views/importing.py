"""Import of a year kept elsewhere: the file, and the page of the work on a file, read or written."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods

from inventory.causes import ACCOUNT_KINDS, BASES, CAUSES, GRADES
from inventory.output.files import TYPES, csv_of
from inventory.pages.access import owner_required
from inventory.pages.forms.act import page, see
from shop.importing import jobs as importjobs
from shop.importing.read import OPTIONAL, REQUIRED
from shop.importing.sheets.opening import NotASheet, sheets_of
from shop.models import ImportJob
from shop.pages.forms.importing import ImportForm
from shop.pages.middleware import ShopRequest

ENDS_ASKING = 286  # htmx asks no more after this status
PROGRESS = "progress"  # the part of the page that asks again


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def bring(request: ShopRequest) -> HttpResponse:
    """Take a file: one in the plain form is set going at once, the columns of any other are matched first."""
    importjobs.remove_old()
    form = ImportForm(request.POST or None, request.FILES or None, access=request.access)
    if request.method == "POST" and form.is_valid() and (job := _received(request, form)) is not None:
        return see(request, "import-match" if job.state == ImportJob.TO_MATCH else "import-job", job.pk)
    return page(
        request,
        "shop/import.html",
        form,
        required=REQUIRED,
        optional=OPTIONAL,
        kinds=ACCOUNT_KINDS,
        grades=GRADES,
        bases=BASES,
        causes=CAUSES.values(),
        jobs=ImportJob.objects.filter(workshop=request.workshop).exclude(what=ImportJob.EXPORT)[:20],
    )


def _received(request: ShopRequest, form: ImportForm) -> ImportJob | None:
    """Return the job of a file that was sent; None where it is no sheet, which the form then says."""
    said = form.cleaned_data
    if form.is_plain:
        return importjobs.start(request.workshop, request.member.user, said["key"], said["file"])
    job = importjobs.receive(request.workshop, request.member.user, said["key"], said["file"])
    try:
        sheets_of(importjobs.file_of(job))
    except FileNotFoundError:
        return job  # the same press again, of a sheet that has gone in
    except NotASheet as error:
        importjobs.put_away(job)
        form.add_error("file", str(error))
        return None
    return job


@require_GET
@never_cache
@owner_required
def job(request: ShopRequest, pk: int) -> HttpResponse:
    """Say how far the work on a file is, and how it ended."""
    one = get_object_or_404(ImportJob, workshop=request.workshop, pk=pk)
    progress = importjobs.look(one)
    running = one.state in (ImportJob.WAITING, ImportJob.AT_WORK)
    part = request.htmx.target == PROGRESS  # a form that led here asks for the whole page, by htmx too
    status = ENDS_ASKING if part and not running else 200
    template = "shop/_import_job.html" if part else "shop/import_job.html"
    if one.state == ImportJob.TO_MATCH:
        return see(request, "import-match", one.pk)
    said = {
        "faults": _parted(one),
        "faulty_rows": len({line for line, _ in one.faults}),
        "job": one,
        "progress": progress,
        "running": running,
        "part": PROGRESS,
        "ready": importjobs.ready(one) is not None,
    }
    said["may_go_on"] = one.state == ImportJob.STOPPED and importjobs.file_of(one).is_file()
    response = render(request, template, said, status=status)
    response["Vary"] = "HX-Request, HX-Target"
    return response


@require_GET
@never_cache
@owner_required
def listed(request: ShopRequest, pk: int) -> HttpResponse:
    """Give what is to be put right in a sheet, or what was left out of it, as a CSV file: row, column, why."""
    one = get_object_or_404(ImportJob, workshop=request.workshop, pk=pk, what=ImportJob.SHEET)
    left_out = [(row, *_column(why)) for row, why in one.told.get("left_out", ())]
    rows = _parted(one) or left_out
    response = HttpResponse("".join(csv_of(("row", "column", "why"), rows)), content_type=TYPES["csv"])
    response["Content-Disposition"] = f'attachment; filename="rows-{one.pk}.csv"'
    return response


def _parted(job: ImportJob) -> list[tuple[int, str, str]]:
    """Return each fault as its row, its column and a sentence."""
    return [(line, *_column(reason)) for line, reason in job.faults]


def _column(reason: str) -> tuple[str, str]:
    """Return the column that a reason begins with, and the sentence; no column where it is of the row."""
    column, _, words = reason.partition(": ")
    return (column, words) if words else ("", column)
