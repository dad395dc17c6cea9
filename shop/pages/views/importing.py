"""Import of a year kept elsewhere: the file, and the page of the work on a file, read or written."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods

from inventory.causes import ACCOUNT_KINDS, BASES, CAUSES, GRADES
from inventory.pages.access import owner_required
from inventory.pages.forms.act import page, see
from shop.importing import jobs as importjobs
from shop.importing.read import OPTIONAL, REQUIRED
from shop.models import ImportJob
from shop.pages.forms.importing import ImportForm
from shop.pages.middleware import ShopRequest

ENDS_ASKING = 286  # htmx asks no more after this status


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def bring(request: ShopRequest) -> HttpResponse:
    """Take a file and set the work on it going."""
    form = ImportForm(request.POST or None, request.FILES or None, access=request.access)
    if request.method == "POST" and form.is_valid():
        user = request.member.user
        job = importjobs.start(request.workshop, user, form.cleaned_data["key"], form.cleaned_data["file"])
        return see(request, "import-job", job.pk)
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


@require_GET
@never_cache
@owner_required
def job(request: ShopRequest, pk: int) -> HttpResponse:
    """Say how far the work on a file is, and how it ended."""
    one = get_object_or_404(ImportJob, workshop=request.workshop, pk=pk)
    progress = importjobs.look(one)
    running = one.state in (ImportJob.WAITING, ImportJob.AT_WORK)
    part = bool(request.htmx)
    status = ENDS_ASKING if part and not running else 200
    template = "shop/_import_job.html" if part else "shop/import_job.html"
    said = {"job": one, "progress": progress, "running": running, "ready": importjobs.ready(one) is not None}
    response = render(request, template, said, status=status)
    response["Vary"] = "HX-Request"
    return response
