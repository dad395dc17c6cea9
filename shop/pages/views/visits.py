"""Visits: the list, the start, the log, and every step that moves no mass."""

from typing import Any

from django import forms
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse, HttpResponseBase, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from inventory.book.refusals import LedgerError
from inventory.gases.cautions import cautions_for
from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from inventory.pages import comeback
from inventory.pages.access import writer_required
from inventory.pages.forms.act import page, see
from inventory.pages.links import Link
from inventory.pages.tables.table import export
from shop.models import Vehicle, Visit
from shop.pages.forms.inside import InsideForm
from shop.pages.forms.stepfields import Making
from shop.pages.forms.vehicles import judged, plate_field
from shop.pages.forms.visits import StepForm, step_form
from shop.pages.found import find_visit
from shop.pages.middleware import ShopRequest
from shop.pages.onward import onward
from shop.pages.pictures import drawing_of
from shop.pages.tables.visits import VisitFilter, VisitTable, state_words
from shop.pages.watched import with_under_way
from shop.people.vehicles import change_vehicle
from shop.visits import asked, endings
from shop.visits.acts import entering
from shop.visits.doubts import may_hold_gas
from shop.visits.heads import air_said, head_of_visit
from shop.visits.inputs import inside_of, ranges_of
from shop.visits.kinds import BY_NAME, BY_SLUG
from shop.visits.log import asked_here, log_of, spoken_in, with_log
from shop.visits.spotcheck import SPOT_CHECK
from shop.visits.steps import StepKind
from shop.visits.verdicts import Told, around, proof_in, told_of

NEWEST = 3  # entries of a visit's log that stand open on a phone


@require_GET
def visits(request: ShopRequest) -> HttpResponseBase:
    """All visits, by state, plate and period."""
    every = Visit.objects.filter(workshop=request.workshop)
    chosen = VisitFilter(request)
    new = Link("Start a visit", reverse("visit-new", args=[request.access.slug]))
    table = VisitTable(
        chosen.narrow(with_log(every)),
        request=request,
        filter=chosen,
        workshop=request.workshop,
        unfiltered=every.count,
        none_act=new if request.access.may_write else None,
    )
    return export(request, table, "visits") or render(request, "shop/visits.html", {"table": table})


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
def visit_new(request: ShopRequest) -> HttpResponse:
    """Start a visit: the vehicle, and what it arrived like."""
    making = Making(request.workshop)
    vehicles = Vehicle.objects.filter(account__book=request.book).select_related("account").order_by("registration")
    fields: dict[str, forms.Field] = {"registration": plate_field()}
    kind = step_form(BY_NAME["received"], making, fields, photos=True)
    initial = {"doer": request.member.user.handle, "registration": request.GET.get("plate", "")}
    form = kind(request.POST or None, request.FILES or None, access=request.access, initial=initial)
    if request.method == "POST" and form.is_valid():
        plate = form.cleaned_data["registration"]
        if judged(form, request.book, plate):
            try:
                return _start(request, form, plate)
            except LedgerError as error:
                form.refuse(error)
    plates = [one.registration for one in vehicles[:200]]
    return page(request, "shop/visit_new.html", form, plates=plates)


def _start(request: ShopRequest, form: StepForm, plate: str) -> HttpResponse:
    visit = entering.open_visit(
        request.workshop,
        str(plate),
        opened_at=form.occurred,
        step_key=form.request_key,
        received=form.facts,
        purpose=form.cleaned_data["note"][:200],
    )
    return comeback.back(request, f"visit-{visit.number}") or see(request, *onward(request, visit, "received"))


@require_http_methods(["GET", "HEAD", "POST"])
def visit(request: ShopRequest, number: int) -> HttpResponse:
    """The log of one visit, what is still asked, and the next step."""
    one = find_visit(request, number)
    one.vehicle.account.book = request.book
    if request.method == "POST":
        return _change_state(request, one)
    points = asked_here(one, request.access.units)
    if slug := request.GET.get("step", ""):
        kind = BY_SLUG.get(slug)
        if kind is None:
            raise Http404("No such step.")
        return _to_step(request, one, kind)
    told, units = told_of(around(one, request.access.units)), request.access.units
    proof, log, closed = proof_in(one, told), log_of(one, units, told), one.state == Visit.CLOSED
    context = {
        "visit": one,
        "state": state_words(one),
        "points": points,
        "log": log,
        "earlier": log[:-NEWEST],
        "latest": log[-NEWEST:],
        "newest": log[-1].step.pk if log else 0,
        "proof": spoken_in(proof, units) if proof else None,
        "emptied": endings.is_emptied(one, request.access.atmosphere_pa),
        "proof_rows": _proof_rows(proof, units),
        "kinds": [kind for kind in asked.next_kinds(points) if closed or kind.name != SPOT_CHECK],
        "wanted": {point.kind for point in points},
        "head": head_of_visit(one, told, units),
        "air": air_said(one.steps.all()),
        "inside": inside_of(one.vehicle, request.workshop),
        "cautions": _visit_cautions(one),
        "cautions_of": one.context,
        "states": Visit.STATES[:3],
    }
    return with_under_way(request, "shop/visit.html", context, one)


def _proof_rows(proof: Told | None, units: Units) -> list[tuple[str, str]]:
    """Return the figures of a recovery's proof that stand beside the log."""
    rows = proof.answer.workings if proof and proof.answer else ()
    return [(name, in_own_units(said, units)) for at, (name, said) in enumerate(rows) if at < 3 or name == "Limit"]


@require_GET
def visit_step_workings(request: ShopRequest, number: int, step: int) -> HttpResponse:
    """Show how the verdict of one step was reached: drawing, formula, figures, sources, cautions."""
    one = find_visit(request, number)
    units = request.access.units
    told = told_of(around(one, units))
    for row in log_of(one, units, told):
        if row.step.pk == step:
            drawing = drawing_of(row.told.picture, units) if row.told else None
            context = {"visit": one, "one": row, "drawing": drawing, "air": air_said([row.step])}
            return render(request, "shop/visit_step_workings.html", context)
    raise Http404("No such step in this visit.")


def _visit_cautions(visit: Visit) -> list[Any]:
    places = ["part-recovered"] if visit.state != Visit.CLOSED and may_hold_gas(visit) else []
    if visit.vehicle.electric_compressor:
        places.append("electric")
    return cautions_for(*places) if places else []


def _to_step(request: ShopRequest, visit: Visit, kind: StepKind) -> HttpResponse:
    if kind.at in ("visit-recover", "visit-charge", "visit-hand-over"):
        return see(request, kind.at, visit.number)
    return see(request, "visit-step", visit.number, kind.slug)


def _change_state(request: ShopRequest, visit: Visit) -> HttpResponse:
    """Say that the visit waits, goes on, or that the car went away unfinished."""
    if not request.access.may_write:
        raise PermissionDenied("A reader may look, not write.")
    state = request.POST.get("state", "")
    if state in Visit.STATES[:3]:
        entering.set_state(
            visit, state, request.POST.get("waiting_for", "").strip()[:120] if state == Visit.WAITING else ""
        )
    return see(request, "visit", visit.number)


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
def visit_inside(request: ShopRequest, number: int) -> HttpResponse:
    """Say what is known of the inside volume; the vehicle's record keeps it, and the visit is shown again."""
    one = find_visit(request, number)
    one.vehicle.account.book = request.book
    ranges = ranges_of(request.workshop)
    initial = InsideForm.initial_of(one.vehicle)
    form = InsideForm(request.POST or None, access=request.access, ranges=ranges, initial=initial)
    step = request.GET.get("step", "")
    place = f"#step-{step}" if step.isdecimal() and len(step) < 19 else ""
    back = reverse("visit", args=[request.access.slug, number]) + place
    if request.method == "POST" and form.is_valid():
        change_vehicle(one.vehicle, **form.facts(one.vehicle))
        return HttpResponseRedirect(back, status=303)
    said = inside_of(one.vehicle, request.workshop)
    return page(request, "shop/visit_inside.html", form, visit=one, back_to=back, inside=said)
