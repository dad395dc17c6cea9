"""The steps of a visit that move no mass: entering one, entering one anew, handing the vehicle over."""

from typing import Any

from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.datastructures import MultiValueDict
from django.views.decorators.http import require_http_methods

from inventory.book.refusals import LedgerError, Refused
from inventory.pages.access import writer_required
from inventory.pages.addphoto import Target, add_to
from inventory.pages.fields.readings import ReadingsField
from inventory.pages.fields.sent import Sent
from inventory.pages.forms.act import page, see
from inventory.shelf.photos import Shown, of_visit, shown
from shop.models import Step, Vehicle, Visit
from shop.pages.around import around
from shop.pages.forms.keeping import initial_of
from shop.pages.forms.stepfields import Making
from shop.pages.forms.visits import StepForm, step_form
from shop.pages.forms.watches import filled
from shop.pages.found import find_visit
from shop.pages.middleware import ShopRequest
from shop.pages.onward import onward
from shop.pages.settling import NOTHING_LEFT, only_evidence, settle
from shop.pages.watched import elsewhere, instrument_alone, running_at
from shop.visits import gas, proofs, steps
from shop.visits.acts import entering
from shop.visits.kinds import BY_NAME, BY_SLUG
from shop.visits.log import asked_here, open_points
from shop.visits.seconds import check_refused
from shop.visits.spotcheck import SPOT_CHECK
from shop.visits.steps import StepKind
from shop.visits.underway import under_way
from shop.visits.watches import WATCH_BY_NAME

OF_A_STEP = ("gauge", "joint", "label", "scale", "plate", "paper", "other")


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
def visit_step(request: ShopRequest, number: int, kind: str) -> HttpResponse:
    """Enter a step that moves no mass, or enter one anew; what is left is settled here too."""
    one, step_kind = find_visit(request, number), BY_SLUG.get(kind)
    if step_kind is None:
        raise Http404("No such step.")
    old = _replaced(one, step_kind, request.GET.get("replaces", ""))
    if old is None and step_kind.at in ("visit-recover", "visit-charge", "visit-hand-over"):
        return see(request, step_kind.at, number)
    settles = old is None and step_kind.name == "remainder settled"
    if settles and not only_evidence(request, one):
        return settle(request, one, step_kind)
    making, running = Making(request.workshop), running_at(one, step_kind) if old is None else None
    if (there := elsewhere(request, one, running)) is not None:
        return there
    finishes = running is not None and request.GET.get("watch") == str(running.watch.pk)
    initial = _initial(request, one.vehicle, step_kind, old, making)
    form = step_form(step_kind, making, photos=True)(
        request.POST or None,
        request.FILES or None,
        access=request.access,
        initial=initial | filled(running) if running and finishes else initial,
    ).about(one.vehicle)
    if step_kind.name == "oil balance" and old is None:
        _begin_with_oil(form, one)
    if request.method == "POST" and form.is_valid() and _believed(request, one, step_kind, form):
        try:
            _write(one, step_kind, form, old)
        except LedgerError as error:
            form.refuse(error)
        else:
            return see(request, *onward(request, one, step_kind.name))
    context = {**around(one, step_kind, request.access.units), "old": old, "old_photos": _photos_of(one, old)}
    context |= {"running": running, "finishes": finishes, "watched": None if old else WATCH_BY_NAME.get(step_kind.name)}
    context["lead"] = NOTHING_LEFT if settles else step_kind.lead
    return page(request, "shop/visit_step.html", form, **context)


def _photos_of(visit: Visit, step: Step | None) -> list[Shown]:
    """Return the photos of a step that is entered anew, with those of what it replaced itself."""
    if step is None:
        return []
    found = of_visit(visit.workshop.book, visit.context)
    kept = [photo for one in proofs.with_replaced(step) for photo in found.get(one.context, ())]
    return shown(kept, step.occurred_at)


def _believed(request: ShopRequest, visit: Visit, kind: StepKind, form: StepForm) -> bool:
    """Refuse "arrived empty" beside a standing pressure that says what is inside, and a check of one's own work."""
    if kind.name == SPOT_CHECK:
        people = (form.cleaned_data["doer"], request.member.user)
        refused = next(filter(None, (check_refused(visit, person) for person in people)), "")
        if refused:
            form.add_error("doer", refused)
        return not refused
    if kind.name != "standing pressure" or steps.text_of(form.step_data, "empty") != steps.YES:
        return True
    why = proofs.arrived_empty_refused(visit, form.step_data, request.access.atmosphere_pa)
    if why:
        form.add_error("empty", form.spoken(f"Not empty. {why}"))
    return not why


def _write(visit: Visit, kind: StepKind, form: StepForm, old: Step | None) -> None:
    facts, key = form.facts, form.request_key
    if old is not None:
        entering.amend_step(old, occurred_at=form.cleaned_data["occurred_at"] or old.occurred_at, key=key, facts=facts)
    elif kind.name == "conversion done":
        to = steps.text_of(form.step_data, "to")
        entering.convert(visit, occurred_at=form.occurred, key=key, facts=facts, to_refrigerant=to)
    else:
        entering.add_step(visit, kind.name, occurred_at=form.occurred, key=key, facts=facts)


def _replaced(visit: Visit, kind: StepKind, asked: str) -> Step | None:
    """Return the step that is entered anew, or None; 404 for one that is not of this visit and kind."""
    if not asked:
        return None
    for step in visit.steps.all():
        if str(step.pk) == asked and step.kind == kind.name and kind.name != "hand-over":
            return step
    raise Http404("No such step in this visit.")


def _initial(
    request: ShopRequest, vehicle: Vehicle, kind: StepKind, old: Step | None, making: Making
) -> dict[str, Any]:
    if old is not None:
        return initial_of(old, kind)
    initial: dict[str, Any] = {"doer": request.member.user.handle}
    names = {one.name for one in kind.fields}
    if "volume" in names and vehicle.volume_m3:
        initial["volume"] = Sent(text=f"{vehicle.volume_m3 * 1000:g}", unit="L")
    if "allowed" in names and vehicle.weakest_side_pa:
        initial["allowed"] = Sent(text=f"{vehicle.weakest_side_pa / 1e5:g} bar absolute", unit="bar")
    return initial | instrument_alone(kind, making) | carried(request.GET, kind)


def _begin_with_oil(form: StepForm, visit: Visit) -> None:
    """Let a balance begin with the oil that the log holds, and say from which steps that was taken."""
    for name, found in gas.oil_taken(visit).items():
        form.initial.setdefault(name, Sent(text=found.text, unit=found.unit))
        form.fields[name].help_text = found.words


def carried(sent: QueryDict, kind: StepKind) -> dict[str, Any]:
    """Return what an address brings into a step's form, such as the values typed on a page of checks."""
    found: dict[str, Any] = {}
    for one in kind.fields:
        if one.type in ("readings", "rises") and "readings_rows" in sent:
            field = ReadingsField(with_temperature=one.type == "readings")
            found[one.name] = field.widget.value_from_datadict(sent, MultiValueDict(), "readings")
        elif one.name in sent and one.type in ("volume", "pressure", "temperature", "mass", "percent"):
            found[one.name] = Sent(text=str(sent[one.name]))
        elif one.type == "choice" and sent.get(one.name) in one.choices:
            found[one.name] = str(sent[one.name])
    return found


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
def visit_hand_over(request: ShopRequest, number: int) -> HttpResponse:
    """Hand the vehicle over; what is still asked is said on this page and on the paper."""
    one = find_visit(request, number)
    kind = BY_NAME["hand-over"]
    form = step_form(kind, Making(request.workshop), photos=True)(
        request.POST or None,
        request.FILES or None,
        access=request.access,
        initial={"doer": request.member.user.handle},
    )
    points = [point for point in asked_here(one, request.access.units) if point.kind != "hand-over"]
    if request.method == "POST" and form.is_valid():
        try:
            if one.state == Visit.CLOSED and not Step.objects.filter(request_key=form.request_key).exists():
                raise Refused(f"Visit {number} is handed over already.")
            entering.hand_over(one, occurred_at=form.occurred, key=form.request_key, facts=form.facts)
        except LedgerError as error:
            form.refuse(error)
        else:
            return see(request, "visit", number)
    now = timezone.now()
    context = {
        "visit": one,
        "kind": kind,
        "points": points,
        "more_on_paper": set(open_points(one, request.access.units)) - set(asked_here(one, request.access.units)),
        "running": under_way(request.workshop, now, one),
    }
    return page(request, "shop/visit_hand_over.html", form, now=now, **context)


@writer_required
@require_http_methods(["GET", "HEAD", "POST"])
def step_photo(request: ShopRequest, number: int, step: int) -> HttpResponse:
    """Add a photo to a step of a visit."""
    rows = Step.objects.select_related("visit")
    found = get_object_or_404(rows, visit__workshop=request.workshop, visit__number=number, pk=step)
    kind = BY_NAME.get(found.kind)
    words, likely = (kind.done, kind.shows) if kind else (found.kind, OF_A_STEP[0])
    target = Target(
        f"Add a photo to visit {number}: {words.lower()}",
        {"context": found.context},
        (likely, *(one for one in OF_A_STEP if one != likely)),
        ("visit", number),
    )
    return add_to(request, target)
