"""What a conversion label lacks is asked before it is issued: on its page, or where it is entered."""

from uuid import uuid4

from django.http import HttpResponse
from django.urls import reverse

from compliance.pages.addresses import record_address
from compliance.pages.forms.labels import ConversionForm
from compliance.papers.conversions import OF_STEP, converted_in, still_asked
from compliance.papers.ofvisit import OfVisit
from compliance.papers.paper import NothingToIssue
from inventory.book.refusals import LedgerError
from inventory.pages.comeback import BACK
from inventory.pages.forms.act import page
from shop.models import Step
from shop.pages.middleware import ShopRequest
from shop.visits.acts.entering import complete_conversion

HERE = (*OF_STEP, "from")  # what is asked on this page


def answer(request: ShopRequest, about: str) -> HttpResponse | None:
    """Return the page that asks what a label lacks, or the answer to it; None where nothing is asked."""
    try:
        one, step = converted_in(request.workshop, about)
    except NothingToIssue:
        return None
    asked = still_asked(one, step)
    if not asked:
        return None
    sent = request.POST if "asked" in request.POST else None
    form = ConversionForm(
        sent,
        access=request.access,
        asked=[name for name in HERE if name in asked],
        initial={"key": uuid4(), "asked": "1"},
    )
    if form.is_valid() and _written(form, step):
        return see_again(request)
    elsewhere = [_elsewhere(request, one, name, words) for name, words in asked.items() if name not in HERE]
    return page(request, "compliance/label_asked.html", form, visit=one.visit, elsewhere=elsewhere)


def see_again(request: ShopRequest) -> HttpResponse:
    """Answer 303 to this very page: it shows the label now, or what else is asked."""
    return HttpResponse(status=303, headers={"Location": request.path})


def _written(form: ConversionForm, step: Step) -> bool:
    key, texts = form.cleaned_data["key"], {name: form.cleaned_data[name] for name in form.fields if name in OF_STEP}
    try:
        complete_conversion(step, key=key, texts=texts, came_from=form.cleaned_data.get("from") or "")
    except LedgerError as error:
        form.add_error(None, str(error))
    return not form.errors


def _elsewhere(request: ShopRequest, one: OfVisit, name: str, words: str) -> tuple[str, str, str]:
    """Return what is asked on another page: the sentence, the words of the link there, and its address."""
    back = f"?{BACK}={request.path}"
    if name == "charge":
        there = record_address(request.access, f"visit:{one.visit.number}")
        return "The charge is not entered: the label says how much is in.", "Enter the charge in its visit", there
    if request.access.is_owner:
        there = reverse("settings-workshop", args=[request.access.slug])
        return "The address of the workshop is not entered.", "Enter the address", f"{there}{back}"
    return "The address of the workshop is not entered. The owner enters it in the settings.", "", ""
