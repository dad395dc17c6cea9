"""The set-up below the workshop's address: each step is done, or put off by "Later".

The Logbook lists for the owner what is owed of it, with a link to the step. Going back shows what stands; sending a
step again writes nothing twice.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from inventory.book import ledger
from inventory.models import Cylinder, Gauge
from inventory.pages.access import owner_required
from inventory.pages.forms.act import PlainForm, see
from shop.models import Certification, Membership, Workshop
from shop.pages.answers import show_step
from shop.pages.forms.account import RulesForm, WorkshopForm
from shop.pages.forms.instruments import GaugeForm
from shop.pages.forms.people import CertificateForm
from shop.pages.forms.settings import ScaleForm
from shop.pages.middleware import ShopRequest
from shop.pages.reaching import reached
from shop.people import setup

PAGES = require_http_methods(["GET", "HEAD", "POST"])
SHOWN_AT_MOST = 20
FIRST_GAUGES = ("pressure gauge", "vacuum gauge")  # what a first visit reads from


def a_step(view: Callable[[ShopRequest], HttpResponse]) -> Callable[[ShopRequest], HttpResponse]:
    """Let the owner do a step of a set-up that was begun, or put it off; where the workshop is has been asked already.

    A workshop that came otherwise has it all in its settings.
    """
    name = view.__name__

    @never_cache
    @PAGES
    @owner_required
    @wraps(view)
    def wrapped(request: ShopRequest) -> HttpResponse:
        if request.workshop.set_up is None:
            return see(request, "settings")
        if "later" in request.POST and name != "workshop":
            return _go_on(request, name, setup.LATER)
        return view(request)

    return wrapped


def _go_on(request: ShopRequest, step: str, became: str) -> HttpResponse:
    """Keep what became of a step, and go to the one after it that is open, else to the Logbook."""
    setup.note_step(request.workshop, step, became)
    following = setup.next_step(request.workshop)
    return see(request, f"set-up-{following}") if following else see(request, "logbook")


@a_step
def workshop(request: ShopRequest) -> HttpResponse:
    """Put right where the workshop is and whose rules it works by."""
    shop = request.workshop
    form = WorkshopForm(request.POST or None, access=request.access, initial=WorkshopForm.initial_of(shop))
    if request.method == "POST" and form.is_valid():
        setup.change_workshop(shop, **form.facts())
        return _go_on(request, "workshop", setup.DONE)
    return show_step(request, form, "workshop")


@a_step
def rules(request: ShopRequest) -> HttpResponse:
    """Choose units and basis, as they are proposed under the workshop's rules or otherwise."""
    shop = request.workshop
    form = RulesForm(request.POST or None, access=request.access, initial=RulesForm.initial_of(shop))
    del form.fields["jurisdiction"]  # the step before has asked it
    form.put_first(setup.PROPOSED[shop.jurisdiction])
    if request.method == "POST" and form.is_valid():
        Workshop.objects.filter(pk=shop.pk).update(**form.cleaned_data)
        return _go_on(request, "rules", setup.DONE)
    return show_step(request, form, "rules", proposed_words=form.chosen_words())


@a_step
def scales(request: ShopRequest) -> HttpResponse:
    """Enter the scales, one after another."""
    book = request.workshop.book
    form = ScaleForm(request.POST or None, access=request.access, book=book)
    if request.method == "POST" and (form.is_valid() or form.stands_already()):
        if form.is_valid():
            with transaction.atomic():
                made = ledger.open_scale(book, **form.facts())
            messages.info(request, f"{made} is entered.")
        return see(request, "set-up-scales")
    return show_step(request, form, "scales", scales=list(book.scales.order_by("name")))


@a_step
def gauges(request: ShopRequest) -> HttpResponse:
    """Enter the gauges, one after another: for pressures first, then for vacuum."""
    book = request.workshop.book
    entered = list(book.gauges.order_by("name"))
    missing = next((kind for kind in FIRST_GAUGES if kind not in {one.kind for one in entered}), "")
    form = GaugeForm(request.POST or None, access=request.access, book=book, initial={"kind": missing})
    if request.method == "POST" and (form.is_valid() or form.stands_already()):
        if form.is_valid():
            made = Gauge.objects.create(book=book, **form.facts())
            messages.info(request, f"{made} is entered.")
        return see(request, "set-up-gauges")
    return show_step(request, form, "gauges", gauges=entered)


@a_step
def phone(request: ShopRequest) -> HttpResponse:
    """Show how a phone reaches these pages, or choose the machine alone, which is kept."""
    facts = reached(request)
    if request.method == "POST":
        setup.keep_here_alone(request.workshop, alone=bool(facts["here_alone"]))
        return _go_on(request, "phone", setup.DONE)
    return show_step(request, PlainForm(), "phone", **facts)


@a_step
def cylinders(request: ShopRequest) -> HttpResponse:
    """Lead to entering the first cylinders, and show which stand."""
    book = request.workshop.book
    if request.method == "POST":
        return _go_on(request, "cylinders", setup.LATER)
    found = Cylinder.objects.filter(account__book=book).select_related("account").order_by("serial")
    holdings: list[Any] = list(found.prefetch_related("account__holdings")[:SHOWN_AT_MOST])
    more = found.count() - len(holdings)
    return show_step(request, PlainForm(), "cylinders", cylinders=holdings, more=more, can_weigh=book.scales.exists())


@a_step
def machine(request: ShopRequest) -> HttpResponse:
    """Lead to entering the machines with a tank of their own, or say that there is none."""
    if request.method == "POST":
        return _go_on(request, "machine", setup.DONE)
    tanks = Cylinder.objects.filter(account__book=request.workshop.book, kind=Cylinder.TANK).select_related("account")
    return show_step(request, PlainForm(), "machine", machines=tanks.order_by("serial"))


@a_step
def certificate(request: ShopRequest) -> HttpResponse:
    """Enter the owner's own certificate, or say that there is none."""
    if "none" in request.POST:
        return _go_on(request, "certificate", setup.DONE)
    person = request.member.user
    held = list(person.certifications.order_by("pk"))
    form = CertificateForm(request.POST or None, access=request.access)
    if request.method == "POST" and form.is_valid():
        facts = {name: form.cleaned_data[name] for name in ("scheme", "number")}
        Certification.objects.get_or_create(user=person, **facts, defaults=form.cleaned_data)
        return _go_on(request, "certificate", setup.DONE)
    return show_step(request, form, "certificate", held=held)


@a_step
def people(request: ShopRequest) -> HttpResponse:
    """Lead to entering the other people, or say that there are none."""
    shop = request.workshop
    if request.method == "POST":
        return _go_on(request, "people", setup.DONE)
    members = Membership.objects.filter(workshop=shop).select_related("user").order_by("pk")
    return show_step(request, PlainForm(), "people", members=members)
