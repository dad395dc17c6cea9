"""Settings of a workshop: what stands on its papers, its rules and units, its scales and other instruments."""

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from inventory.book import ledger
from inventory.models import Gauge, Scale
from inventory.pages import comeback
from inventory.pages.access import owner_required, writer_required
from inventory.pages.forms.act import PlainForm, page, see
from shop.models import Backup
from shop.pages.forms.account import RulesForm
from shop.pages.forms.inside import RangesForm, ranges_said
from shop.pages.forms.instruments import GaugeForm
from shop.pages.forms.questions import QuestionsForm, always_asked
from shop.pages.forms.settings import CheckForm, FactsForm, ManyChecksForm, PapersForm, ScaleForm
from shop.pages.middleware import ShopRequest
from shop.pages.reaching import reached
from shop.people import setup
from shop.people.instruments import due_for_check, enter_check, enter_checks
from shop.people.migrations import waiting
from shop.serving.version import version
from shop.visits.inputs import ranges_of
from shop.visits.questions import left_out

EDITS = require_http_methods(["GET", "HEAD", "POST"])


@require_GET
def settings(request: ShopRequest) -> HttpResponse:
    """Show everything that is set, with the way to each."""
    context = {
        "scales": Scale.objects.filter(book=request.book).prefetch_related("checks").order_by("retired", "name"),
        "gauges": Gauge.objects.filter(book=request.book)
        .prefetch_related("checks")
        .order_by("retired", "kind", "name"),
        "inside_ranges": ranges_said(request.workshop, request.access.units),
        "not_asked": _not_asked(request),
        "last_copy": Backup.objects.first(),
        "version": version(),
        "waiting": waiting() if request.access.is_owner else [],
        **reached(request),
    }
    return render(request, "shop/settings.html", context)


@EDITS
def phone(request: ShopRequest) -> HttpResponse:
    """Show how phones reach these pages; the owner chooses the machine alone, or takes that back."""
    if request.method == "POST":
        return _choose_here_alone(request)
    return render(request, "shop/phone.html", reached(request))


@owner_required
def _choose_here_alone(request: ShopRequest) -> HttpResponse:
    alone = "alone" in request.POST
    setup.keep_here_alone(request.workshop, alone=alone)
    messages.info(request, "Kept: papers ask no more." if alone else "Kept: a paper asks before it bears that address.")
    return see(request, "phone")


def _kept(request: ShopRequest, said: str) -> HttpResponse:
    """Say what was kept, on the page that led here; the settings where none did."""
    messages.info(request, said)
    return comeback.back(request, "") or see(request, "settings")


def _form_page(request: ShopRequest, form: PlainForm, title: str) -> HttpResponse:
    return page(request, "shop/settings_form.html", form, title=title)


@EDITS
@owner_required
def workshop(request: ShopRequest) -> HttpResponse:
    """Change what stands on the papers, and where the workshop is."""
    shop = request.workshop
    form = FactsForm(request.POST or None, access=request.access, initial=FactsForm.initial_of(shop))
    if request.method == "POST" and form.is_valid():
        with transaction.atomic():
            for name, value in form.facts().items():
                setattr(shop, name, value)
            shop.save()
            shop.book.zone = shop.zone
            shop.book.save(update_fields=["zone"])
        return _kept(request, "Kept.")
    return _form_page(request, form, "The workshop")


@EDITS
@owner_required
def rules(request: ShopRequest) -> HttpResponse:
    """Change whose rules, which basis and which units."""
    shop = request.workshop
    form = RulesForm(request.POST or None, access=request.access, initial=RulesForm.initial_of(shop))
    if request.method == "POST" and form.is_valid():
        for name, value in form.cleaned_data.items():
            setattr(shop, name, value)
        shop.save()
        return _kept(request, "Kept.")
    return _form_page(request, form, "Rules and units")


@EDITS
@owner_required
def papers(request: ShopRequest) -> HttpResponse:
    """Change what papers and labels are printed on."""
    shop = request.workshop
    chosen = {"paper": shop.paper, "labels": shop.labels}
    form = PapersForm(request.POST or None, access=request.access, initial=chosen)
    if request.method == "POST" and form.is_valid():
        shop.paper, shop.labels = form.cleaned_data["paper"], form.cleaned_data["labels"]
        shop.save(update_fields=["paper", "labels"])
        return _kept(request, "Kept.")
    return _form_page(request, form, "Papers and labels")


@EDITS
@owner_required
def ranges(request: ShopRequest) -> HttpResponse:
    """Change the ranges of inside volumes by class."""
    shop = request.workshop
    form = RangesForm(request.POST or None, access=request.access, ranges=ranges_of(shop))
    if request.method == "POST" and form.is_valid():
        shop.inside_ranges = form.changed()
        shop.save(update_fields=["inside_ranges"])
        return _kept(request, "Kept.")
    return _form_page(request, form, "Inside volumes by class")


def _not_asked(request: ShopRequest) -> int:
    return len(left_out(request.workshop.not_asked, request.workshop.jurisdiction))


@EDITS
@owner_required
def questions(request: ShopRequest) -> HttpResponse:
    """Choose which questions a visit does not ask; those of law and safety are listed and stay."""
    shop = request.workshop
    sent = request.POST if request.method == "POST" else None
    form = QuestionsForm(sent, access=request.access, workshop=shop)
    if request.method == "POST" and form.is_valid():
        shop.not_asked = form.chosen()
        shop.save(update_fields=["not_asked"])
        return _kept(request, "Kept.")
    context = {"always": always_asked(shop), "not_asked": _not_asked(request)}
    return page(request, "shop/settings_questions.html", form, **context)


@EDITS
@owner_required
def scale(request: ShopRequest, number: int | None = None) -> HttpResponse:
    """Enter a scale, or change one; readings already written keep the step that they were read with."""
    one = None if number is None else get_object_or_404(Scale, book=request.book, number=number)
    form = ScaleForm(request.POST or None, access=request.access, book=request.book, scale=one)
    if request.method == "POST" and form.is_valid():
        if one is not None:
            Scale.objects.filter(pk=one.pk).update(**form.facts())
            return _kept(request, f"Scale {form.cleaned_data['name']} is kept.")
        with transaction.atomic():
            made = ledger.open_scale(request.book, **form.facts())
        messages.info(request, f"{made} is entered.")
        return comeback.back(request, made.number) or see(request, "settings")
    return _form_page(request, form, "Enter a scale" if one is None else f"Scale {one}")


@EDITS
@owner_required
def gauge(request: ShopRequest, pk: int | None = None) -> HttpResponse:
    """Enter or change a gauge, thermometer, identifier or leak detector; steps entered already keep what it was."""
    one = None if pk is None else get_object_or_404(Gauge, book=request.book, pk=pk)
    begun = {"kind": request.GET.get("kind", "")} if one is None else {}
    form = GaugeForm(request.POST or None, access=request.access, book=request.book, gauge=one, initial=begun)
    if request.method == "POST" and form.is_valid():
        if one is not None:
            Gauge.objects.filter(pk=one.pk).update(**form.facts())
            return _kept(request, f"{form.cleaned_data['name']} is kept.")
        made = Gauge.objects.create(book=request.book, **form.facts())
        return comeback.back(request, made.pk) or _kept(request, f"{made} is entered.")
    return _form_page(request, form, "Enter an instrument" if one is None else str(one))


@EDITS
@writer_required
def scale_check(request: ShopRequest, number: int) -> HttpResponse:
    """Enter that a scale was checked; its step and accuracy stay the owner's to change."""
    return _check(request, get_object_or_404(Scale, book=request.book, number=number), "Scale")


@EDITS
@writer_required
def gauge_check(request: ShopRequest, pk: int) -> HttpResponse:
    """Enter that another instrument was checked."""
    one = get_object_or_404(Gauge, book=request.book, pk=pk)
    return _check(request, one, one.kind.capitalize())


@EDITS
@writer_required
def checks(request: ShopRequest) -> HttpResponse:
    """Enter one check of several instruments that are due, in one transaction."""
    today = timezone.localdate()
    due = due_for_check(request.book, today)
    form = ManyChecksForm(request.POST or None, access=request.access, due=due, today=today)
    if request.method == "POST" and form.is_valid():
        facts = dict(form.cleaned_data)
        which = facts.pop("which")
        many = enter_checks([one.instrument for one in due if one.key in which], **facts, actor=request.access.actor)
        return _kept(request, f"{many} checked until {request.access.units.day_said(facts['until'])}.")
    lead = "" if due else "No instrument is past its check, and none soon will be."
    return page(request, "shop/settings_form.html", form, title="Checks of instruments", lead=lead)


def _check(request: ShopRequest, one: Scale | Gauge, kind: str) -> HttpResponse:
    form = CheckForm(request.POST or None, access=request.access)
    if request.method == "POST" and form.is_valid():
        check = enter_check(one, **form.cleaned_data, actor=request.access.actor)
        return _kept(request, f"{kind} {one}: checked until {request.access.units.day_said(check.until)}.")
    known = one.calibrated_until
    lead = "" if known is None else f"The check that is known ends on {request.access.units.day_said(known)}."
    return page(request, "shop/settings_form.html", form, title=f"Check of {kind.lower()} {one}", lead=lead)
