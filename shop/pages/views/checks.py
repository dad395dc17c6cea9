"""Checks: every measurement alone. An answer has an address, and nothing is written."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from urllib.parse import urlencode

from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from inventory.gases import catalogue
from inventory.models import Cylinder
from inventory.pages.forms.act import PlainForm, page
from inventory.shelf import queries
from shop.checks.registry import CHECKS, find, reckon
from shop.checks.values import Check, CheckAnswer, CheckFault, spoken
from shop.models import Visit
from shop.pages.forms.checks import answered, check_form, put_fault
from shop.pages.middleware import ShopRequest
from shop.pages.pictures import drawing_of
from shop.visits.kinds import BY_NAME

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
    sent = answered(request.GET)
    form = check_form(one)(sent or None, access=request.access)
    answer = _answer(request, one, form) if sent and form.is_valid() else None
    context: dict[str, object] = {
        "check": one,
        "answer": answer,
        "drawing": drawing_of(answer.picture, request.access.units) if answer else None,
        "copies": _copies(request, one, answer, sent),
        "cylinders": _cylinders(request, one, answer, sent),
    }
    aside = [field for field in form.visible_fields() if not field.field.required]
    context |= {"aside": aside, "aside_open": any(field.value() or field.errors for field in aside)}
    return page(request, "shop/check.html", form, **context)


def _answer(request: ShopRequest, one: Check, form: PlainForm) -> CheckAnswer | None:
    try:
        air = request.access.air
        typed = {key: text for key, text in form.cleaned_data.items() if text}
        answer = reckon(one.name, typed, atmosphere_pa=air.pressure_pa, air=None if air.is_known else air)
    except CheckFault as fault:
        put_fault(form, fault)
        return None
    return spoken(answer, request.access.units)


@dataclass(frozen=True)
class Copied:
    """The step that takes the values of a check, and which of its fields take which value under another name."""

    step: str
    fields: Mapping[str, str] = field(default_factory=dict)


COPIED = {
    "hold": Copied("pressure hold"),
    "vacuum": Copied("vacuum hold", {"coldest": "temperature"}),
    "identify": Copied("standing pressure", {"coldest": "temperature"}),
    "performance": Copied("running test", {"air": "ambient", "suction": "suction_line", "liquid": "liquid_line"}),
}


def _copies(request: ShopRequest, one: Check, answer: CheckAnswer | None, sent: QueryDict) -> list[tuple[Visit, str]]:
    """Return the open visits into which the typed values can be taken, each with its address."""
    copied = COPIED.get(one.name)
    if answer is None or copied is None or not request.access.may_write:
        return []
    visits = Visit.objects.filter(workshop=request.workshop, state__in=(Visit.OPEN, Visit.WAITING))
    typed = sent.copy()
    for name, key in copied.fields.items():
        typed[name] = sent.get(key, "")
    slug = BY_NAME[copied.step].slug
    return [
        (visit, f"{reverse('visit-step', args=[request.access.slug, visit.number, slug])}?{typed.urlencode()}")
        for visit in visits.select_related("vehicle").order_by("-number")[:MOST_VISITS]
    ]


def _cylinders(
    request: ShopRequest, one: Check, answer: CheckAnswer | None, sent: QueryDict
) -> list[tuple[Cylinder, str]]:
    """Return the cylinders that a check for air may be of, each with the address of its own page for air."""
    if one.name != "air" or answer is None or not request.access.may_write:
        return []
    code = catalogue.find(sent.get("refrigerant", "")).code
    here = list(queries.standing_here(request.book))
    held = queries.contents([cylinder.account_id for cylinder in here])
    typed = urlencode({name: sent.get(name, "") for name in ("pressure", "temperature")})
    return [
        (cylinder, f"{reverse('cylinder-air', args=[request.access.slug, cylinder.account.number])}?{typed}")
        for cylinder in here
        if (content := held.get(cylinder.account_id)) is not None and content[0] == code
    ][:MOST_VISITS]
