"""What is under way at a vehicle: starting its clock, reading, putting a reading right, another length, dropping it.

It is finished in the form of its step (`steps`, `gas`), which begins with all that was read.
"""

import re
from math import ceil
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.views.decorators.http import require_http_methods

from inventory.book.refusals import LedgerError
from inventory.output.days import clock
from inventory.pages.access import writer_page
from inventory.pages.forms.act import BookForm, page, see
from shop.models import Watch, WatchReading
from shop.pages.around import around
from shop.pages.forms import watches as forms
from shop.pages.forms.keeping import kept
from shop.pages.forms.stepfields import Making
from shop.pages.found import find_visit
from shop.pages.middleware import ShopRequest
from shop.pages.watched import instrument_alone
from shop.visits import underway
from shop.visits.acts import watching
from shop.visits.watches import WATCH_BY_SLUG


@writer_page
def watch_new(request: ShopRequest, number: int, hold: str) -> HttpResponse:
    """Start the clock of a hold or a pull, with its cautions and its first reading."""
    visit, kind = find_visit(request, number), WATCH_BY_SLUG.get(hold)
    if kind is None:
        raise Http404("Nothing of that name can be watched.")
    making = Making(request.workshop)
    last = Watch.objects.filter(visit__workshop=request.workshop, kind=kind.name).order_by("-started_at", "-pk").first()
    initial: dict[str, Any] = {"planned": forms.usual_typed(last.planned_s if last else kind.usual_s)}
    initial |= instrument_alone(kind.step, making)
    form = forms.start_form(kind, making)(request.POST or None, access=request.access, initial=initial)
    if request.method == "POST" and form.is_valid():
        data = {name: kept(form.cleaned_data.get(name)) for name in kind.instruments}
        try:
            watch = watching.start(
                visit,
                kind,
                key=form.request_key,
                by=request.access.actor,
                started_at=form.occurred,
                planned_s=form.cleaned_data["planned"].si,
                data={name: entry for name, entry in data.items() if entry is not None},
                reading=form.reading,
            )
        except LedgerError as error:
            form.refuse(error)
        else:
            return see(request, "watch", number, watch.pk)
    return page(request, "shop/watch_new.html", form, **around(visit, kind.step, request.access.units), watched=kind)


@require_http_methods(["GET", "HEAD", "POST"])
def watch(request: ShopRequest, number: int, watch: int) -> HttpResponse:
    """Show what is under way, with its countdown and readings; add a reading to it."""
    if request.method == "POST" and not request.access.may_write:
        raise PermissionDenied("A reader may look, not write.")
    one = _find(request, number, watch)
    form = forms.reading_form(one.kind, Making(request.workshop))(request.POST or None, access=request.access)
    if request.method == "POST" and form.is_valid() and (there := _read(request, one, form)) is not None:
        return there
    visit = find_visit(request, number)
    context = {
        **around(visit, one.kind.step, request.access.units),
        "one": one,
        "people": underway.people_of(one),
        "finish": _finish(request, one),
        **_length_to_see(one),
        "above": underway.above_allowed(one),
    }
    response = page(request, "shop/watch.html", form, **context)
    patch_cache_control(response, no_store=True)  # its countdown begins with the server's time
    return response


def _length_to_see(one: underway.UnderWay) -> dict[str, Any]:
    """Return what a hold’s page says of the length that shows the yardstick, and that length where it is longer."""
    words, seconds = underway.to_see(one) or ("", 0.0)
    minutes = ceil(seconds / 60)
    longer = one.watch.planned_s < minutes * 60 <= forms.MOST_S
    return {"to_see": words, "to_see_min": minutes if longer else None}


def _finish(request: ShopRequest, one: underway.UnderWay) -> str:
    """Return where it is finished: in the form of its step, or by choosing the cylinder of the recovery."""
    at, kind = [request.access.slug, one.watch.visit.number], one.kind.step
    if kind.at:
        return reverse(kind.at, args=at)
    return f"{reverse('visit-step', args=[*at, kind.slug])}?watch={one.watch.pk}"


def _read(request: ShopRequest, one: underway.UnderWay, form: forms.WatchForm) -> HttpResponse | None:
    """Add the reading of a valid form and show the page anew; None where it is refused, which the form then says."""
    at, start = form.occurred, one.watch.started_at
    at = forms.to_the_second(at, start) if at < start else at
    try:
        reading = watching.add_reading(
            one.watch, key=form.request_key, by=request.access.actor, taken_at=at, data=form.reading
        )
    except LedgerError as error:
        form.refuse(error)
        return None
    messages.info(request, f"Read at {clock(reading.taken_at, request.access.units)}.")
    return see(request, "watch", one.watch.visit.number, one.watch.pk)


@writer_page
def watch_reading(request: ShopRequest, number: int, watch: int, reading: int) -> HttpResponse:
    """Put a reading right, or drop it."""
    one = _find(request, number, watch)
    found = get_object_or_404(WatchReading, pk=reading, watch=one.watch)
    found.watch = one.watch
    initial = forms.initial_of_reading(found)
    form = forms.reading_form(one.kind, Making(request.workshop))(
        request.POST or None, access=request.access, initial=initial
    )
    form.fields["occurred_at"].optional_words = "(left out: as it stands)"  # type: ignore[attr-defined]
    dropping = "drop" in request.POST
    if request.method == "POST" and (dropping or form.is_valid()):
        try:
            if dropping:
                watching.drop_reading(found)
            else:
                typed = form.cleaned_data["occurred_at"]
                at = forms.to_the_second(typed, found.taken_at) if typed else found.taken_at
                watching.put_reading_right(found, taken_at=at, data=form.reading)
        except LedgerError as error:
            form.refuse(error)
        else:
            return see(request, "watch", number, watch)
    return page(request, "shop/watch_reading.html", form, one=one, reading=found)


@writer_page
def watch_length(request: ShopRequest, number: int, watch: int) -> HttpResponse:
    """Change how long it is meant to run."""
    one = _find(request, number, watch)
    proposed = request.GET.get("min", "")
    seconds = int(proposed) * 60.0 if re.fullmatch(r"[0-9]{1,5}", proposed) else one.watch.planned_s
    initial = {"planned": forms.usual_typed(seconds)}
    form = forms.length_form(one.kind)(request.POST or None, access=request.access, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            watching.plan(one.watch, form.cleaned_data["planned"].si)
        except LedgerError as error:
            form.refuse(error)
        else:
            return see(request, "watch", number, watch)
    return page(request, "shop/watch_length.html", form, one=one)


@writer_page
def watch_drop(request: ShopRequest, number: int, watch: int) -> HttpResponse:
    """Say what would be dropped, and drop it."""
    one = _find(request, number, watch)
    form = BookForm(request.POST or None, access=request.access)
    del form.fields["occurred_at"]
    if request.method == "POST" and form.is_valid():
        try:
            watching.drop(one.watch, by=request.access.actor)
        except LedgerError as error:
            form.refuse(error)
        else:
            messages.info(request, f"{one.name}: dropped.")
            return see(request, "visit", number)
    return page(request, "shop/watch_drop.html", form, one=one)


def _find(request: ShopRequest, number: int, watch: int) -> underway.UnderWay:
    """Return a watch of the visit of an address as it stands now, or 404."""
    rows = underway.all_of(request.workshop).select_related("step")
    found: Watch = get_object_or_404(rows, visit__number=number, pk=watch)
    return underway.looked_at(found, timezone.now())
