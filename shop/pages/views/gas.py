"""The steps that move gas: a leg of a recovery, a leg of a charge."""

from typing import Any
from urllib.parse import urlencode

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from inventory.book import weighing
from inventory.gases.cautions import cautions_for, places_of
from inventory.models import Cylinder, Weighing
from inventory.pages import comeback
from inventory.pages.access import writer_required
from inventory.pages.fields.sent import Sent
from inventory.pages.forms.act import see
from inventory.pages.running import ActPage, already_written, run
from inventory.pages.scanning import chosen_by_scan
from inventory.shelf.queries import contents, scales_of
from shop.models import Visit
from shop.pages import choosing
from shop.pages.answers import echoed
from shop.pages.around import photos_late
from shop.pages.forms.gas import leg_form
from shop.pages.forms.stepfields import Making
from shop.pages.forms.visits import StepForm
from shop.pages.forms.watches import filled
from shop.pages.found import find_visit, remembered_scale, shelf
from shop.pages.legs import (
    LegByFigure,
    LegByReadings,
    estimate,
    holds,
    hose_words,
    readings,
    stop_words,
    target_known,
    target_of,
)
from shop.pages.middleware import ShopRequest
from shop.pages.onward import onward
from shop.pages.watched import running_at
from shop.visits.acts import gas_out
from shop.visits.acts.gas_out import Room
from shop.visits.doubts import charge_in_doubt, untreated
from shop.visits.gas import FromVehicle, gas_of
from shop.visits.kinds import BY_NAME
from shop.visits.scale import second_reading


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
@chosen_by_scan("target")
def visit_recover(request: ShopRequest, number: int, target: int | None = None) -> HttpResponse:
    """Choose where the gas goes, seeing the room of each cylinder, with its reading before; then enter the leg."""
    visit = find_visit(request, number)
    gas = gas_of(visit)
    targets = [one for one in shelf(request) if one.kind != Cylinder.CANS]
    rooms = gas_out.rooms(visit, gas, request.access.jurisdiction, targets)
    asked = str(target or request.GET.get("target", ""))
    room = next((one for one in rooms if str(one.cylinder.account.number) == asked), None)
    happened = bool(request.GET.get("happened") or request.POST.get("happened"))
    if room is None:
        return choosing.begin_recovery(request, visit, gas, rooms, asked)
    if room.refusal and not happened and already_written(request) is None:
        context = choosing.of_targets(request, visit, gas, rooms) | {"refused": room}
        return render(request, "shop/visit_recover.html", context, status=422)
    return _leg(request, visit, "recovery", room.cylinder, gas=gas, room=room, happened=bool(room.refusal))


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
@chosen_by_scan("source")
def visit_charge(request: ShopRequest, number: int, source: int | None = None) -> HttpResponse:
    """Choose the cylinder that the gas is drawn from, with its reading before; then enter the leg."""
    visit = find_visit(request, number)
    cylinders = shelf(request)
    held = contents(one.account_id for one in cylinders)
    sources = [(one, *held[one.account_id]) for one in cylinders if one.account_id in held]
    asked = str(source or request.GET.get("source", ""))
    cylinder = next((one[0] for one in sources if str(one[0].account.number) == asked), None)
    if cylinder is None:
        return choosing.begin_charge(request, visit, sources, asked)
    return _leg(request, visit, "charge", cylinder)


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
    if before is None and (away := _only_before(request, visit, kind, cylinder)) is not None:
        return away
    form = _leg_form(request, visit, kind, cylinder, before, happened=happened)
    facts = (request, visit, form, cylinder, gas, room.becomes if room else "")
    by_readings = "after" in form.fields
    leg: LegByReadings | LegByFigure = LegByReadings(*facts, open_before=before) if by_readings else LegByFigure(*facts)
    charging = kind == "charge"
    places = (kind, "charge-high-side", "charge-liquid-low-side") if charging else (kind, "recovery-slow")
    moved = holds(cylinder) if gas is None else gas.refrigerant
    return run(
        request,
        form,
        ActPage(),
        understood=leg.understood,
        write=leg.write,
        to=lambda _: onward(request, visit, kind),
        late=photos_late(form),
        beside=lambda _: "after" if by_readings else None,
        template="shop/visit_leg.html",
        context={
            "visit": visit,
            "cylinder": cylinder,
            "before": before,
            "leg": kind,
            "room": room,
            "gas": gas,
            "cautions": cautions_for(*places, *places_of([moved])),
            "cautions_of": visit.context,
            "estimate": estimate(visit, cylinder) if charging else "",
            "hose": hose_words(cylinder, request.access.units) if charging else "",
            "stop": stop_words(form, visit, before, request.access.units.mass) if charging and before else "",
            "in_doubt": (charge_in_doubt(visit, cylinder) or untreated(visit, cylinder)) if charging else "",
            "waited": running_at(visit, BY_NAME[kind]),
        },
    )


def _only_before(request: ShopRequest, visit: Visit, kind: str, cylinder: Cylinder) -> HttpResponse | None:
    """Lead to the reading before by itself with what was typed of it; the rest is kept until it stands.

    None where this was not asked for, or what was typed cannot be kept.
    """
    asked = request.method == "POST" and request.POST.get(comeback.GO) == "before"
    token = comeback.keep(request) if asked else None
    if token is None:
        return None
    typed = Sent.of(request.POST, "before").named("gross")
    query = {
        comeback.BACK: token,
        "visit": str(visit.number),
        "leg": kind,
        "scale": request.POST.get("scale", ""),
        **typed,
    }
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
    if (waited := running_at(visit, BY_NAME[kind])) is not None:
        initial |= filled(waited)
    if kind == "charge":
        initial |= target_known(visit, cylinder, request.access.units)
    sent = data if data is not None else request.POST or None
    files = request.FILES if data is None else None
    return form(sent, files or None, access=request.access, initial=initial).about(visit.vehicle)


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

    def told() -> list[str] | None:
        first, after = readings(form, one, visit=visit, gains=None, in_doubt=True)
        if after is None or (first is None and before is None):
            return None
        unit, target = request.access.units.mass, target_of(form, visit)
        return list(second_reading(request.book, first, after, timezone.now(), unit, target).lines)

    return echoed(request, form, "after", told)
