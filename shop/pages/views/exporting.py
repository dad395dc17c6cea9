"""The whole book as files: asked for, made beside the server, and handed to the owner."""

from typing import cast

from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods

from inventory.pages.access import owner_required
from inventory.pages.forms.act import page, see
from shop.importing import jobs
from shop.models import ImportJob
from shop.pages.forms.importing import ExportForm
from shop.pages.middleware import ShopRequest


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def export(request: ShopRequest) -> HttpResponse:
    """Say what the file holds, and set the work on it going."""
    jobs.remove_old()
    form = ExportForm(request.POST or None, access=request.access)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        made = jobs.start_export(request.workshop, request.member.user, said["key"], pictures=said["pictures"])
        return see(request, "import-job", made.pk)
    earlier = ImportJob.objects.filter(workshop=request.workshop, what=ImportJob.EXPORT).select_related("started_by")
    return page(request, "shop/export.html", form, jobs=earlier[:20])


@require_GET
@never_cache
@owner_required
def export_file(request: ShopRequest, pk: int) -> HttpResponse:
    """Hand the file out while it lies ready."""
    job = get_object_or_404(ImportJob, workshop=request.workshop, pk=pk, what=ImportJob.EXPORT)
    path = jobs.ready(job)
    if path is None:
        raise Http404("The file is not here any more. Export the book again.")
    kind = {"content_type": "application/zip"}
    return cast(HttpResponse, FileResponse(path.open("rb"), as_attachment=True, filename=job.file_name, **kind))
