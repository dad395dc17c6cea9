"""Visits: the list, the start, the log, and every step that moves no mass."""

from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse, HttpResponseBase, QueryDict
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.datastructures import MultiValueDict
from django.views.decorators.http import require_GET, require_http_methods

from inventory.book.refusals import LedgerError, Refused
from inventory.gases.cautions import Caution, cautions_for
from inventory.models import Cylinder
from inventory.pages import comeback
from inventory.pages.access import writer_required
from inventory.pages.fields.readings import ReadingsField
from inventory.pages.fields.sent import Sent
from inventory.pages.forms.act import BookForm, page, read_back, see, written
from inventory.pages.links import Link
from inventory.pages.running import answered_before
from inventory.pages.tables.export import export
from inventory.shelf.photos import Shown, of_visit, shown
from shop.bench.leakrate import BetweenVisitsAnswer
from shop.bench.recovery import Remainder
from shop.models import Step, Vehicle, Visit
from shop.pages.forms.gas import filled, remainder_form, split
from shop.pages.forms.plates import judged, plate_field
from shop.pages.forms.visits import PHOTOS, Making, StepForm, initial_of, step_form
from shop.pages.middleware import ShopRequest
from shop.pages.pictures import drawing_of
from shop.pages.tables.visits import VisitFilter, VisitTable, state_words
from shop.pages.views.photos import photos_late
from shop.visits import asked, endings, oil, proofs, steps
from shop.visits.acts import entering, gas_out
from shop.visits.doubts import may_hold_gas, wait_first
from shop.visits.gas import held_in, living
from shop.visits.heads import air_said, head_of_visit
from shop.visits.inputs import CANNOT, inside_of
from shop.visits.kinds import BY_NAME, BY_SLUG
from shop.visits.log import log_of, open_points, photo_context, spoken_in, units_of, with_log
from shop.visits.shown import Units, in_own_units
from shop.visits.steps import StepKind
from shop.visits.verdicts.all import around, told_of
from shop.visits.verdicts.recovered import proof_in
from shop.visits.verdicts.told import Told

ROUNDED_MG = 60  # the figure in the form is rounded to a tenth of a gram, or finer


@require_GET
def visits(request: ShopRequest) -> HttpResponseBase:
    """All visits, by state, plate and period."""
    every = Visit.objects.filter(workshop=request.workshop)
    chosen = VisitFilter(request)
    table = VisitTable(
        chosen.narrow(with_log(every)),
        request=request,
        filter=chosen,
        workshop=request.workshop,
        unfiltered=every.count,
        none_act=_start_link(request),
    )
    return export(request, table, "visits") or render(request, "shop/visits.html", {"table": table})


def _start_link(request: ShopRequest) -> Link | None:
    return Link("Start a visit", reverse("visit-new", args=[request.access.slug])) if request.access.may_write else None


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
                form.add_error(None, str(error))
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
    return comeback.back(request, f"visit-{visit.number}") or see(request, "visit", visit.number)


def _already(form: BookForm) -> bool:
    return Step.objects.filter(request_key=form.request_key).exists()


def find_visit(request: ShopRequest, number: int) -> Visit:
    """Return a visit of the workshop with its log fetched, or 404."""
    visits_here = with_log(Visit.objects.filter(workshop=request.workshop)).select_related("workshop__book")
    return get_object_or_404(visits_here, number=number)


@require_http_methods(["GET", "HEAD", "POST"])
def visit(request: ShopRequest, number: int) -> HttpResponse:
    """The log of one visit, what is still asked, and the next step."""
    one = find_visit(request, number)
    one.vehicle.account.book = request.book
    if request.method == "POST":
        return _change_state(request, one)
    points = open_points(one, request.workshop)
    if slug := request.GET.get("step", ""):
        kind = BY_SLUG.get(slug)
        if kind is None:
            raise Http404("No such step.")
        return _to_step(request, one, kind)
    told, units = told_of(around(one, request.access.atmosphere_pa)), units_of(request.workshop)
    proof = proof_in(one, told)
    context = {
        "visit": one,
        "state": state_words(one),
        "points": points,
        "log": log_of(one, told),
        "proof": spoken_in(proof, units) if proof else None,
        "emptied": endings.is_emptied(one, request.access.atmosphere_pa),
        "proof_rows": _proof_rows(proof, units),
        "kinds": asked.next_kinds(points),
        "wanted": {point.kind for point in points},
        "head": head_of_visit(one, told),
        "air": air_said(one.steps.all()),
        "inside": inside_of(one.vehicle, request.workshop),
        "cautions": _visit_cautions(one),
        "states": Visit.STATES[:3],
    }
    return render(request, "shop/visit.html", context)


def _proof_rows(proof: Told | None, units: Units) -> list[tuple[str, str]]:
    """Return the figures of a recovery's proof that stand beside the log."""
    rows = proof.answer.workings if proof and proof.answer else ()
    return [(name, in_own_units(said, units)) for at, (name, said) in enumerate(rows) if at < 3 or name == "Limit"]


@require_GET
def visit_step_workings(request: ShopRequest, number: int, step: int) -> HttpResponse:
    """Show how the verdict of one step was reached: drawing, formula, figures, sources, cautions."""
    one = find_visit(request, number)
    told = told_of(around(one, request.access.atmosphere_pa))
    for row in log_of(one, told):
        if row.step.pk == step:
            drawing = drawing_of(row.told.picture) if row.told else None
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
def visit_step(request: ShopRequest, number: int, kind: str) -> HttpResponse:
    """Enter a step that moves no mass, or enter one anew; what is left is settled here too."""
    one, step_kind = find_visit(request, number), BY_SLUG.get(kind)
    if step_kind is None:
        raise Http404("No such step.")
    old = _replaced(one, step_kind, request.GET.get("replaces", ""))
    if old is None and step_kind.at in ("visit-recover", "visit-charge", "visit-hand-over"):
        return see(request, step_kind.at, number)
    if old is None and step_kind.name == "remainder settled":
        return _settle(request, one, step_kind)
    making = Making(request.workshop)
    form = step_form(step_kind, making, photos=True)(
        request.POST or None,
        request.FILES or None,
        access=request.access,
        initial=_initial(request, one.vehicle, step_kind, old, making),
    ).about(one.vehicle)
    if step_kind.name == "oil balance" and old is None:
        _begin_with_oil(form, one)
    if request.method == "POST" and form.is_valid() and _believed(one, step_kind, form, request.access.atmosphere_pa):
        try:
            _write(one, step_kind, form, old)
        except LedgerError as error:
            form.add_error(None, str(error))
        else:
            return see(request, "visit", number)
    around = {**_around(request, one, step_kind), "old": old, "old_photos": _photos_of(one, old)}
    return page(request, "shop/visit_step.html", form, **around)


def _photos_of(visit: Visit, step: Step | None) -> list[Shown]:
    """Return the photos of a step that is entered anew, with those of what it replaced itself."""
    if step is None:
        return []
    found = of_visit(visit.workshop.book, visit.context)
    kept = [photo for one in proofs.with_replaced(step) for photo in found.get(photo_context(one), ())]
    return shown(kept, step.occurred_at)


def _believed(visit: Visit, kind: StepKind, form: StepForm, atmosphere_pa: float) -> bool:
    """Refuse "arrived empty" beside a standing pressure that says what is inside."""
    if kind.name != "standing pressure" or steps.text_of(form.step_data, "empty") != steps.YES:
        return True
    why = proofs.arrived_empty_refused(visit, form.step_data, atmosphere_pa)
    if why:
        form.add_error("empty", f"Not empty. {why}")
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
    for one in kind.fields:
        if one.type == "instrument":
            fitting = [gauge for gauge in making.gauges if gauge.kind in one.instruments]
            initial |= {one.name: str(fitting[0].pk)} if len(fitting) == 1 else {}
    return initial | carried(request.GET, kind)


def _begin_with_oil(form: StepForm, visit: Visit) -> None:
    """Let a balance begin with the oil that the log holds, and say from which steps that was taken."""
    for name, found in oil.taken(visit).items():
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


def _around(request: ShopRequest, visit: Visit, kind: StepKind) -> dict[str, Any]:
    places = list(kind.cautions)
    if visit.vehicle.electric_compressor and kind.name in ("received", "circuit opened", "oil balance", "flush"):
        places.append("electric")
    if kind.name == "circuit opened" and may_hold_gas(visit):
        places.append("part-recovered")
    if visit.vehicle.refrigerant == "R-744":
        places.append("r-744")
    cautions = cautions_for(*places) if places else []
    if kind.name == "circuit opened" and (words := wait_first(visit)):
        cautions.append(Caution("wait-first", words, frozenset()))
    return {"visit": visit, "kind": kind, "cautions": cautions}


def _settle(request: ShopRequest, visit: Visit, kind: StepKind) -> HttpResponse:
    """Settle what the book still has in the vehicle: always read back, since it goes to air or to unexplained."""
    held = {code: mass for code, mass in held_in(visit.vehicle).items() if mass > 0}
    suggested = _suggested(visit, held, request.access.atmosphere_pa)
    making = Making(request.workshop)
    form = remainder_form(making, list(held))(
        request.POST or None,
        request.FILES or None,
        access=request.access,
        initial={
            "doer": request.member.user.handle,
            **filled(suggested.remainder, units_of(request.workshop), stays=suggested.charged_since),
        },
    )
    context = {**_around(request, visit, kind), "held": held, "suggested": suggested, "says": _says(visit)}
    if (again := answered_before(request, form, ("visit", visit.number), photos_late(form))) is not None:
        return again
    if request.method == "POST" and form.is_valid():
        code = form.cleaned_data.get("refrigerant") or next(iter(held), visit.vehicle.refrigerant)
        parts = split(form.cleaned_data, held.get(code, 0))
        if not _refused_split(form, visit, code, held.get(code, 0), parts, suggested):
            facts = [code, held.get(code, 0)]
            if form.needs_read_back(always=True, facts=facts):
                then = suggested.loss_sentence
                rows = _settled_rows(visit, code, parts)
                return read_back(request, form, rows, then=then, facts=facts, files=[form[PHOTOS]])
            return _write_settled(request, visit, form, code, parts, context)
    return page(request, "shop/visit_settle.html", form, **context)


def _says(visit: Visit) -> str:
    received = living(visit, "received")
    return steps.text_of(received[-1].data, "says") if received else ""


@dataclass(frozen=True)
class Suggested:
    """What the readings say of a remainder, and what keeps them from saying it."""

    remainder: Remainder | None
    why_not: str = ""
    loss: BetweenVisitsAnswer | None = None
    charged_since: bool = False

    @property
    def loss_sentence(self) -> str:
        """The loss since the last charge in its sentence; empty where there is none to be said."""
        return self.loss.sentence if self.loss else ""


def _suggested(visit: Visit, held: dict[str, int], atmosphere_pa: float) -> Suggested:
    """Return how the remainder would be split by what stands in the log."""
    held_mg = sum(held.values())
    left_mg = proofs.left_mg(visit, held_mg)
    try:
        proof = proofs.proof_of(visit, atmosphere_pa)
        remainder = proofs.remainder_of(visit, left_mg, proof, atmosphere_pa)
    except CANNOT as error:
        return Suggested(None, str(error))
    if remainder is None:
        return Suggested(None, "Nothing bounds what was left for the vacuum pump: liquid may be left, or no recovery.")
    residue = proofs.Amount(remainder.residue_g, remainder.u_residue_g)
    return Suggested(remainder, loss=proofs.loss_since_charge(visit, residue), charged_since=left_mg < held_mg)


def _refused_split(
    form: StepForm, visit: Visit, code: str, held_mg: int, parts: dict[str, int], suggested: Suggested
) -> bool:
    """Put on the form why these figures cannot be; return whether there is something."""
    units = units_of(visit.workshop)
    named = sum(parts[name] for name in ("residue", "road", "hands", "shortfall"))
    if named > held_mg:
        words = f"{units.small_mass_said(named)} is more than the {units.small_mass_said(held_mg)} that the book"
        form.add_error("bound", f"{words} has left in {visit.vehicle}. Read the figures again.")
    bound_mg = round(suggested.remainder.residue_bound_g * 1000) if suggested.remainder else None
    if bound_mg is not None and parts["bound"] > bound_mg + ROUNDED_MG:
        most = units.small_mass_said(bound_mg)
        form.add_error("bound", f"By final pressure, volume and oil at most {most} can still have been inside.")
    if parts["road"] and form.cleaned_data["evidence"].startswith("E"):
        form.add_error(
            "evidence", "With nothing to show for it, it is short and not lost on the road. Choose what speaks for it."
        )
    return bool(form.errors)


def _settled_rows(visit: Visit, code: str, parts: dict[str, int]) -> list[tuple[str, object]]:
    units = units_of(visit.workshop)

    def grams(name: str) -> str:
        return units.small_mass_said(parts[name])

    return [
        ("From", f"{visit.vehicle}, {code}"),
        ("Pumped out", f"{grams('residue')}, half of at most {grams('bound')}: to air, the workshop’s"),
        ("In our hands", f"{grams('hands')} to air, the workshop’s"),
        ("On the road", f"{grams('road')} to air, the vehicle’s"),
        ("Short", f"{grams('shortfall')} to unexplained"),
    ]


def _write_settled(
    request: ShopRequest, visit: Visit, form: StepForm, code: str, parts: dict[str, int], context: dict[str, Any]
) -> HttpResponse:
    remainder = gas_out.Remainder(
        residue_mg=parts["residue"],
        residue_u_mg=round(parts["bound"] / 12**0.5),
        road_mg=parts["road"],
        hands_mg=parts["hands"],
        shortfall_mg=parts["shortfall"],
    )
    try:
        act = form.act(request.access, context=visit.context, remark=form.cleaned_data["note"])
        entry, _ = gas_out.settle_remainder(visit, act, form.facts, code, remainder)
    except LedgerError as error:
        form.add_error(None, str(error))
        return page(request, "shop/visit_settle.html", form, **context)
    return written(request, form, entry, "visit", visit.number)


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
    points = [point for point in open_points(one, request.workshop) if point.kind != "hand-over"]
    if request.method == "POST" and form.is_valid():
        try:
            if one.state == Visit.CLOSED and not _already(form):
                raise Refused(f"Visit {number} is handed over already.")
            entering.hand_over(one, occurred_at=form.occurred, key=form.request_key, facts=form.facts)
        except LedgerError as error:
            form.add_error(None, str(error))
        else:
            return see(request, "visit", number)
    return page(request, "shop/visit_hand_over.html", form, visit=one, kind=kind, points=points, now=timezone.now())


def shelf(request: ShopRequest) -> list[Cylinder]:
    """Return the cylinders that stand here, by number."""
    here = Cylinder.objects.filter(account__book=request.book).exclude(state__in=("away", "done with"))
    return list(here.select_related("account__book").order_by("serial"))
