"""Checks: every measurement alone. An answer has an address, and nothing is written."""

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from inventory import drawings
from inventory.drawings import Drawing
from inventory.forms import PlainForm, page
from shop import hold, performance, vacuum
from shop.checks import CHECKS, Check, CheckAnswer, CheckFault, find, reckon
from shop.forms.checks import check_form, put_fault, set_aside, typed_of
from shop.middleware import ShopRequest
from shop.models import Visit
from shop.steps import BY_NAME

MOST_VISITS = 12
PA_PER_BAR = 1e5


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
        "drawing": _drawing(answer),
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


def _drawing(answer: CheckAnswer | None) -> Drawing | None:
    match answer and answer.picture:
        case hold.HoldPicture() as picture:
            return _hold_drawing(picture)
        case vacuum.VacuumPicture() as picture:
            fits = [drawings.Fit(name, _minutes_mbar(points)) for name, points in picture.curves]
            sentence = "Absolute pressure after the pump was shut off, and water's own pressure."
            points = _minutes_mbar(picture.points)
            return drawings.vacuum(points, water_mbar=picture.water_pa / 100, fits=fits, sentence=sentence)
        case performance.Diagram() as picture:
            return _cycle_drawing(picture)
    return None


def _minutes_mbar(points: tuple[tuple[float, float], ...]) -> list[tuple[float, float]]:
    return [(time_s / 60, pressure_pa / 100) for time_s, pressure_pa in points]


def _hold_drawing(picture: hold.HoldPicture) -> Drawing:
    (_, start_pa), (end_s, end_pa) = picture.trend
    hours = end_s / 3600
    limit_pa = 0.0 if picture.limit is None else picture.limit[0][1] - picture.limit[1][1]
    return drawings.hold(
        drawings.HoldPicture(
            minutes=[time_s / 60 for time_s, _, _ in picture.points],
            pressures=[pressure_pa / PA_PER_BAR for _, pressure_pa, _ in picture.points],
            u=picture.points[0][2] / PA_PER_BAR,
            slope=(end_pa - start_pa) / PA_PER_BAR / hours,
            blind=abs(picture.blind[0][1] - picture.blind[1][1]) / PA_PER_BAR,
            limit_slope=limit_pa / PA_PER_BAR / hours,
            limit_words="" if picture.limit is None else f"{hold.LIMIT_G_PER_YEAR:g} g a year",
            unit="bar absolute",
            sentence="Pressure as at the first temperature; a leak inside the band would not have been seen.",
        )
    )


def _cycle_drawing(picture: performance.Diagram) -> Drawing:
    liquid = [(enthalpy / 1000, pa / PA_PER_BAR) for pa, enthalpy, _ in picture.dome]
    vapour = [(enthalpy / 1000, pa / PA_PER_BAR) for pa, _, enthalpy in reversed(picture.dome)]
    states = [
        drawings.State(str(one.number), one.enthalpy_j_kg / 1000, one.pressure_pa / PA_PER_BAR)
        for one in picture.states
    ]
    ambient = None if picture.ambient_pa is None else picture.ambient_pa / PA_PER_BAR
    sentence = "The ideal cycle between the two pressures as read: a drawing to compare with, not a measurement."
    return drawings.pressure_enthalpy([*liquid, *vapour], states, ambient_bar=ambient, sentence=sentence)
