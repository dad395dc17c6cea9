"""Choosing the cylinders whose labels are printed on one sheet."""

from django.http import HttpResponse
from django.views.decorators.http import require_http_methods

from compliance.pages.forms.labels import LabelsForm, about_of
from inventory.pages.access import writer_required
from inventory.pages.forms.act import page, see
from inventory.shelf import queries
from shop.pages.middleware import ShopRequest

LABELS_SLUG = "cylinder-labels"


@writer_required
@require_http_methods(["GET", "HEAD", "POST"])
def choose(request: ShopRequest) -> HttpResponse:
    """Choose cylinders, then go to the page that shows and issues their labels."""
    here = list(queries.standing_here(request.book))
    ticked = {"cylinders": request.GET.getlist("cylinder")}
    sent = request.POST if request.method == "POST" else None  # one that is empty is judged too: nothing was ticked
    form = LabelsForm(sent, access=request.access, cylinders=here, initial=ticked)
    if form.is_valid():
        return see(request, "document-issue", LABELS_SLUG, about_of(form.cleaned_data["cylinders"]))
    return page(request, "compliance/labels.html", form, cylinders=here)
