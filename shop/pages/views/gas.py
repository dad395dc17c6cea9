"""The steps that move gas: a leg of a recovery, a leg of a charge."""

from typing import Any
from urllib.parse import urlencode

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from inventory.book import weighing
from inventory.book.draft import Balances
from inventory.book.refusals import LedgerError
from inventory.book.weighing import Gross
from inventory.gases.cautions import cautions_for
from inventory.gases.hose import hose_content
from inventory.measure.displays import moved
from inventory.models import Cylinder, Weighing
from inventory.pages import comeback
from inventory.pages.access import writer_required
from inventory.pages.forms.act import page, read_back, see, written
from inventory.pages.forms.photos import sent_photos
from inventory.pages.forms.weighing import reading_of, scales_of
from inventory.pages.running import already_written, answered_before
from shop.bench import charging
from shop.bench.charging import ConversionEstimate
from shop.models import Visit
from shop.pages.forms.gas import leg_form
from shop.pages.forms.usual import leg_doubt
from shop.pages.forms.visits import Making, StepForm, nameplate_of
from shop.pages.middleware import ShopRequest
from shop.pages.views import choosing
from shop.pages.views.photos import photos_late
from shop.pages.views.visits import find_visit, shelf
from shop.pages.views.weigh import remembered_scale
from shop.visits import scale as scale_words
from shop.visits.acts import gas_in, gas_out
from shop.visits.acts.gas_out import Room
from shop.visits.doubts import charge_in_doubt
from shop.visits.gas import FromVehicle, gas_of, label_of, lines_of, living
from shop.visits.inputs import CANNOT
from shop.visits.log import units_of
from shop.visits.proofs import u_parts
from shop.visits.scale import Said, Target
from shop.visits.shown import Units, in_own_units

CANNOT_SHOW = (
    "The step stays open until you write it: go back and read the cylinder again on the scale of its first reading, or "
    "write these readings as they are."
)


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
def visit_recover(request: ShopRequest, number: int) -> HttpResponse:
    """Choose where the gas goes, seeing the room of each cylinder; then enter the leg."""
    visit = find_visit(request, number)
    gas = gas_of(visit)
    rooms = gas_out.rooms(visit, gas, request.access.jurisdiction, [one for one in shelf(request) if _may_show(one)])
    asked = request.GET.get("target", "")
    room = next((one for one in rooms if str(one.cylinder.account.number) == asked), None)
    happened = bool(request.GET.get("happened") or request.POST.get("happened"))
    if room is None or (room.refusal and not happened and already_written(request) is None):
        context = choosing.of_targets(request, visit, gas, rooms) | {"refused": room}
        return render(request, "shop/visit_recover.html", context, status=422 if room is not None else 200)
    return _leg(request, visit, "recovery", room.cylinder, gas=gas, room=room, happened=bool(room.refusal))


def _may_show(cylinder: Cylinder) -> bool:
    return cylinder.kind != Cylinder.CANS


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
def visit_charge(request: ShopRequest, number: int) -> HttpResponse:
    """Choose the cylinder that the gas is drawn from; then enter the leg."""
    visit = find_visit(request, number)
    cylinders, balances = shelf(request), Balances()
    balances.preload(one.account for one in cylinders)
    sources = [(one, *_content_of(balances, one)) for one in cylinders if balances.of(one.account)]
    asked = request.GET.get("source", "")
    cylinder = next((one[0] for one in sources if str(one[0].account.number) == asked), None)
    if cylinder is None:
        return render(request, "shop/visit_charge.html", choosing.of_sources(request, visit, sources))
    return _leg(request, visit, "charge", cylinder)


def _content_of(balances: Balances, cylinder: Cylinder) -> tuple[str, str, int]:
    (code, grade), mass_mg = next(iter(balances.of(cylinder.account).items()))
    return code, grade, mass_mg


def _leg(
    request: ShopRequest,
    visit: Visit,
    kind: str,
    cylinder: Cylinder,
    *,
    gas: FromVehicle | None = None,
    room: Room | None = None,
    happened: bool = False,
) -> HttpResponse:
    """Show, read back or write one leg between the vehicle and `cylinder`."""
    before = weighing.open_before(cylinder)
    if before is None and (away := _only_before(request, cylinder)) is not None:
        return away
    form = _leg_form(request, visit, kind, cylinder, before, happened=happened)
    if (again := answered_before(request, form, ("visit", visit.number), photos_late(form))) is not None:
        return again
    if request.method == "POST" and form.is_valid():
        try:
            response = _enter(request, visit, form, cylinder, before, gas, becomes=room.becomes if room else "")
        except LedgerError as error:
            form.add_error("after" if "after" in form.fields else None, str(error))
        else:
            if response is not None:
                return response
    places = [kind, *(("recovery-slow",) if kind == "recovery" else ("charge-high-side", "charge-liquid-low-side"))]
    return page(
        request,
        "shop/visit_leg.html",
        form,
        visit=visit,
        cylinder=cylinder,
        before=before,
        leg=kind,
        room=room,
        gas=gas,
        cautions=cautions_for(*places),
        estimate=_estimate(visit, cylinder) if kind == "charge" else None,
        hose=_hose(cylinder, units_of(request.workshop)) if kind == "charge" else "",
        in_doubt=charge_in_doubt(visit, cylinder) if kind == "charge" else "",
    )


def _only_before(request: ShopRequest, cylinder: Cylinder) -> HttpResponse | None:
    """Lead to the reading before by itself with what was typed of it; the rest is kept until it stands.

    None where this was not asked for, or what was typed cannot be kept.
    """
    asked = request.method == "POST" and request.POST.get(comeback.GO) == "before"
    token = comeback.keep(request) if asked else None
    if token is None:
        return None
    typed = {f"gross{end}": request.POST.get(f"before{end}", "") for end in ("", "_unit", "_ounces")}
    query = {comeback.BACK: token, "scale": request.POST.get("scale", ""), **typed}
    response = see(request, "cylinder-weigh", cylinder.account.number)
    response["Location"] += f"?{urlencode({name: value for name, value in query.items() if value})}"
    return response


def _leg_form(
    request: ShopRequest,
    visit: Visit,
    kind: str,
    cylinder: Cylinder,
    before: Weighing | None,
    *,
    happened: bool = False,
    data: Any = None,
) -> StepForm:
    scales = scales_of(request.book)
    echo = reverse("visit-leg-echo", args=[request.access.slug, visit.number, cylinder.account.number])
    form = leg_form(
        kind, Making(request.workshop), cylinder, scales, is_open=before is not None, echo=echo, happened=happened
    )
    initial: dict[str, Any] = {
        "doer": request.member.user.handle,
        "scale": str(remembered_scale(request, scales, before)),
        "happened": happened,
    }
    if kind == "charge" and label_of(visit)[0] == _holds(cylinder):
        initial |= nameplate_of(visit.vehicle, units_of(request.workshop))
    sent = data if data is not None else request.POST or None
    files = request.FILES if data is None else None
    return form(sent, files or None, access=request.access, initial=initial).about(visit.vehicle)


def _readings(
    form: StepForm, cylinder: Cylinder, *, visit: Visit, gains: bool | None, in_doubt: bool = False
) -> tuple[Gross | None, Gross | None]:
    """Return the readings before (None where it stands already) and after; what is wrong is on the form."""
    scale = form.cleaned_data.get("scale")
    before = reading_of(form, "before", cylinder, scale, in_doubt=in_doubt) if "before" in form.fields else None
    target = _target(form, visit) or Target(label_of(visit)[1] or 0)
    expected = scale_words.leg_expected(before, gains=gains, label_mg=target.mass_mg, already_mg=target.already_mg)
    return before, reading_of(form, "after", cylinder, scale, expected, in_doubt=in_doubt)


def _target(form: StepForm, visit: Visit) -> Target | None:
    """Return what is to be charged in all, with what the legs before have put in."""
    target, tolerance = form.cleaned_data.get("target"), form.cleaned_data.get("tolerance")
    if not target:
        return None
    before = lines_of(living(visit, "charge"), "charge")
    return Target(target.mg, tolerance.mg if tolerance else 0, sum(int(one.mass_mg) for one in before), u_parts(before))


def _holds(cylinder: Cylinder) -> str:
    held = Balances().of(cylinder.account)
    return next(iter(held))[0] if held else ""


def _estimate(visit: Visit, cylinder: Cylinder) -> ConversionEstimate | None:
    """Return what common practice makes of the old label where another refrigerant is charged; None elsewhere."""
    (old, label_mg), new = label_of(visit), _holds(cylinder)
    if not label_mg or old == new:
        return None
    try:
        return charging.from_old_label(old_refrigerant=old, new_refrigerant=new, label_g=label_mg / 1000)
    except CANNOT:
        return None


HOSE_BORE_M, HOSE_K, YARD_M = 0.0048, 293.15, 0.9144  # the bore is 3/16 inch to a hundredth


def _hose(cylinder: Cylinder, units: Units) -> str:
    """Say what stands in a metre or yard of hose, as the scale counts it as charged; empty without property data."""
    code, customary = _holds(cylinder), units.mass == "lb"
    try:
        held = hose_content(code, length_m=YARD_M if customary else 1.0, bore_m=HOSE_BORE_M, temperature_k=HOSE_K)
    except (*CANNOT, ValueError):
        return ""
    hose = "A yard of hose of 3/16 inch bore" if customary else "A metre of hose of 4.8 mm bore"
    return in_own_units(
        f"{hose} holds about {held.liquid_g:.0f} g {code} as liquid, {held.vapour_g:.1f} g as "
        "vapour, at 20 C. The scale counts it as charged: pull the hose empty before the reading after.",
        units,
    )


def _enter(
    request: ShopRequest,
    visit: Visit,
    form: StepForm,
    cylinder: Cylinder,
    open_before: Weighing | None,
    gas: FromVehicle | None,
    *,
    becomes: str = "",
) -> HttpResponse | None:
    """Write the leg, or answer with what is read back; None where the readings are to be put right."""
    if "after" not in form.fields:
        return _enter_shown(request, visit, form, cylinder, gas, becomes=becomes)
    before, after = _readings(form, cylinder, visit=visit, gains=gas is not None)
    if after is None or form.errors:
        return None
    request.session[f"scale-{request.book.pk}"] = after.scale.number
    said = scale_words.second_reading(
        request.book, before, after, form.occurred, request.access.mass_unit, _target(form, visit)
    )
    much = leg_doubt(form, "after", visit, said.change_mg, after, gains=gas is not None)
    if form.errors:
        return None
    facts = [*said.facts, open_before.pk if open_before else 0]
    open_yet = gas is None and not said.shows
    doubt = " ".join(filter(None, (charge_in_doubt(visit, cylinder) if gas is None else "", much)))
    always = open_yet or bool(doubt or becomes) or (gas is not None and gas.grade == "suspect")
    if form.needs_read_back(facts=facts, always=always):
        then = " ".join([*((doubt,) if doubt else ()), *said.lines, *((CANNOT_SHOW,) if open_yet else ())])
        rows = [*_rows(visit, cylinder, said, form, gas, request.access.mass_unit), *_becomes(cylinder, becomes)]
        return read_back(request, form, rows, then=then, facts=facts, files=sent_photos(form))
    act = form.act(request.access, context=visit.context, remark=form.cleaned_data["note"])
    if gas is None:
        entry, _ = gas_in.charge(visit, act, form.facts, before=before, after=after)
    else:
        entry, _ = gas_out.recover(
            visit,
            act,
            form.facts,
            gas=gas,
            before=before,
            after=after,
            jurisdiction=request.access.jurisdiction,
            happened=bool(form.cleaned_data.get("happened")),
        )
    return written(request, form, entry, "visit", visit.number)


def _enter_shown(
    request: ShopRequest,
    visit: Visit,
    form: StepForm,
    cylinder: Cylinder,
    gas: FromVehicle | None,
    *,
    becomes: str = "",
) -> HttpResponse | None:
    """Write a leg by the figure that a machine shows, or by counted cans."""
    cleaned = form.cleaned_data
    if "cans" in form.fields:
        mass_mg, basis = round(cleaned["cans"][1]) * int(cylinder.can_content_mg or 0), "count"
        if mass_mg <= 0:
            form.add_error("cans", "Enter how many cans, and on the lot’s page what one can holds.")
            return None
    else:
        mass_mg, basis = cleaned["shown"].mg, "machine"
    if gas is None and mass_mg <= 0:
        form.add_error("shown", "Nothing was charged by this figure. Read the machine again.")
        return None
    field = "cans" if "cans" in form.fields else "shown"
    gains = gas is not None
    much = (
        leg_doubt(form, field, visit, mass_mg if gains else -mass_mg, gains=gains)
        if field == "shown" and mass_mg
        else ""
    )
    if form.errors:
        return None
    doubt = " ".join(filter(None, (charge_in_doubt(visit, cylinder) if gas is None else "", much)))
    if form.needs_read_back(always=bool(doubt or becomes)):
        rows: list[tuple[str, object]] = [
            ("From", cylinder if gas is None else visit.vehicle),
            ("To", visit.vehicle if gas is None else cylinder),
            ("Mass", moved(mass_mg, request.access.mass_unit)),
            *_becomes(cylinder, becomes),
        ]
        return read_back(request, form, rows, then=doubt, files=sent_photos(form))
    act = form.act(request.access, context=visit.context, remark=cleaned["note"])
    if gas is None:
        entry, _ = gas_in.charge_shown(visit, act, form.facts, source=cylinder, mass_mg=mass_mg, basis=basis)
    else:
        purged = cleaned.get("purged")
        entry, _ = gas_out.recover_by_machine(
            visit,
            act,
            form.facts,
            tank=cylinder,
            refrigerant=gas.refrigerant,
            recovered_mg=mass_mg,
            purged_mg=purged.mg if purged else 0,
        )
    return written(request, form, entry, "visit", visit.number)


def _becomes(cylinder: Cylinder, becomes: str) -> list[tuple[str, object]]:
    return [("Cylinder", f"{cylinder}, {becomes}")] if becomes else []


def _rows(
    visit: Visit, cylinder: Cylinder, said: Said, form: StepForm, gas: FromVehicle | None, unit: str
) -> list[tuple[str, object]]:
    vehicle = f"{visit.vehicle}, visit {visit.number}"
    ends = (cylinder, vehicle) if gas is None else (vehicle, f"{cylinder}, as {gas.refrigerant} {gas.grade}")
    return [
        ("From", ends[0]),
        ("To", ends[1]),
        ("Mass", scale_words.change_said(said.change_mg, said.u_mg, unit)),
        ("When", f"{timezone.localtime(form.occurred):%Y-%m-%d %H:%M}"),
    ]


@require_GET
@writer_required
def visit_leg_echo(request: ShopRequest, number: int, cylinder: int) -> HttpResponse:
    """Say what the reading after means while it is typed: mass, uncertainty, how it stands to the target."""
    visit = find_visit(request, number)
    one = next((each for each in shelf(request) if each.account.number == cylinder), None)
    if one is None:
        return render(request, "_echo.html", {"echo": {}})
    before = weighing.open_before(one)
    form = _leg_form(request, visit, "charge", one, before, data=request.GET)
    field = form.fields.get("after")
    if field is None:
        return render(request, "_echo.html", {"echo": {}})
    typed = field.widget.value_from_datadict(request.GET, form.files, "after")
    echo: dict[str, Any] = {**field.echo("after", typed), "cannot": field.doubt(typed)}  # type: ignore[attr-defined]
    form.is_valid()
    first, after = _readings(form, one, visit=visit, gains=None, in_doubt=True)
    if after is not None and (first is not None or before is not None):
        try:
            said = scale_words.second_reading(
                request.book, first, after, timezone.now(), request.access.mass_unit, _target(form, visit)
            )
            echo |= {"words": said.lines[0], "follows": [*said.lines[1:], *form.errors.get("after", [])]}
        except LedgerError as error:
            echo = {"cannot": str(error)}
    elif echo.get("words") and form.errors.get("after"):
        echo = {"cannot": form.errors["after"][0]}
    return render(request, "_echo.html", {"echo": echo})
