"""Checks: every measurement alone. An answer has an address, and nothing is written."""

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from inventory.forms import PlainForm, page
from shop.checks import CHECKS, Check, CheckAnswer, CheckFault, find, reckon
from shop.forms.checks import check_form, put_fault, set_aside, typed_of
from shop.middleware import ShopRequest
from shop.models import Visit
from shop.pictures import drawing_of
from shop.steps import BY_NAME

MOST_VISITS = 12


@require_safe
def checks(request: ShopRequest) -> HttpResponse:
    """All checks with one line each."""
    return render(request, "shop/checks.html", {"checks": CHECKS.values()})


@require_safe
def check(request: ShopRequest, name: str) -> HttpResponse:
    """One check: its form, and below it the answer to what stands in the address."""
    if name not in CHECKS:
        raise Http404("No such check.")
    one = find(name)
    form = check_form(one)(request.GET if request.GET else None, access=request.access)
    answer = _answer(request, one, form) if request.GET and form.is_valid() else None
    context: dict[str, object] = {
        "check": one,
        "answer": answer,
        "drawing": drawing_of(answer.picture) if answer else None,
        "copies": _copies(request, one, answer),
    }
    aside = set_aside(form)
    context |= {"aside": aside, "aside_open": any(field.value() or field.errors for field in aside)}
    return page(request, "shop/check.html", form, **context)


def _answer(request: ShopRequest, one: Check, form: PlainForm) -> CheckAnswer | None:
    try:
        return reckon(one.name, typed_of(form), atmosphere_pa=request.access.atmosphere_pa)
    except CheckFault as fault:
        put_fault(form, fault)
        return None


def _copies(request: ShopRequest, one: Check, answer: CheckAnswer | None) -> list[tuple[Visit, str]]:
    """Return the open visits into which the typed values can be taken, each with its address."""
    if answer is None or not one.step or not request.access.may_write:
        return []
    visits = Visit.objects.filter(workshop=request.workshop, state__in=(Visit.OPEN, Visit.WAITING))
    sent = request.GET.copy()
    if one.step == "vacuum hold":
        sent["coldest"] = sent.get("temperature", "")
    slug, typed = BY_NAME[one.step].slug, sent.urlencode()
    return [
        (visit, f"{reverse('visit-step', args=[request.access.slug, visit.number, slug])}?{typed}")
        for visit in visits.select_related("vehicle").order_by("-number")[:MOST_VISITS]
    ]
