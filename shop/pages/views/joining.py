"""Pages on which two records of one vehicle are joined, and parted again; for the owner."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.book.refusals import LedgerError
from inventory.measure.own import Units
from inventory.pages.access import owner_required
from inventory.pages.forms.act import page, read_back, see
from inventory.pages.joined import NO_LINE, SUBMIT, PartForm
from shop.models import Vehicle
from shop.pages.forms.vehicles import JoinVehicleForm
from shop.pages.middleware import ShopRequest
from shop.pages.tables.vehicles import content_words, held_words
from shop.people import identity, joining

FACTS = {
    "registration": "Plate",
    "vin": "VIN",
    "make_model": "Make and model",
    "vehicle_class": "Class",
    "first_registered": "First registered",
    "type_approved": "Type approved",
    "refrigerant": "Refrigerant",
    "nameplate_mg": "Charge on its label",
    "customer": "Customer",
}


def _named(request: ShopRequest, number: int) -> Vehicle:
    found: Vehicle = get_object_or_404(identity.all_of(request.book), account__number=number)
    found.account.book = request.book
    return found


@owner_required
@require_http_methods(["GET", "HEAD", "POST"])
def join(request: ShopRequest, number: int) -> HttpResponse:
    """Say that a vehicle's record is another one's; read back first."""
    found = _named(request, number)
    if found.account.joined_to_id is not None:
        return see(request, "vehicle", number)
    likely = {one.account.number: one for one in _likely(found)}
    form = JoinVehicleForm(request.POST or None, access=request.access, vehicle=found, likely=likely)
    if request.method == "POST" and form.is_valid():
        kept: Vehicle = form.cleaned_data["vehicle"]
        twice = joining.counted_twice(found.account, kept.account)
        facts = [kept.pk, sorted(twice.items())]
        if form.needs_read_back(always=True, facts=facts):
            then = _then(twice, request.access.units)
            return read_back(
                request, form, _rows(found, kept, request.access.units), then=then, facts=facts, submit=SUBMIT
            )
        try:
            remark = f"Counted twice, found in account {number}: the two records are one vehicle" if twice else ""
            act = form.act(request.access, context=f"vehicle:{kept.account.number}", remark=remark)
            joining.join(found, kept, act, request.member.user)
        except LedgerError as error:
            form.refuse(error)
        else:
            return see(request, "vehicle", kept.account.number)
    back = reverse("vehicle", args=[request.access.slug, number])
    return page(request, "inventory/join.html", form, record=found, back=back)


def _likely(vehicle: Vehicle) -> list[Vehicle]:
    book = vehicle.account.book
    found = identity.vehicles_like(book, vehicle.registration, vehicle)
    found += identity.vehicles_like(book, vehicle.vin, vehicle, by="vin")
    return list({identity.kept(one).pk: identity.kept(one) for one in found}.values())


def _rows(vehicle: Vehicle, kept: Vehicle, units: Units) -> list[tuple[str, object]]:
    """Return what is joined, with every fact in which the two records differ: that of the kept one goes on."""
    rows: list[tuple[str, object]] = [("Goes on under", kept), ("Is joined to it", vehicle)]
    for name, words in FACTS.items():
        one, other = _said(kept, name, units), _said(vehicle, name, units)
        if one != other:
            rows.append((words, f"{one}; of the joined one {other}"))
    rows.append(("Visits that go along", vehicle.visits.count()))
    rows.append(
        ("In it by the book", f"{content_words(kept, units)}; of the joined one {content_words(vehicle, units)}")
    )
    return rows


def _said(vehicle: Vehicle, name: str, units: Units) -> str:
    value = getattr(vehicle, name)
    if name == "nameplate_mg" and value is not None:
        return units.small_mass_said(int(value))
    return str(value or "not entered")


def _then(twice: dict[str, int], units: Units) -> str:
    if not twice:
        return NO_LINE
    said = " and ".join(f"{units.small_mass_said(mass_mg)} {code}" for code, mass_mg in sorted(twice.items()))
    return (
        f"{said} was found in one of them while the other one held it, and so stands in the book "
        "twice. One new line takes it out again, as out of sight. No line that stands is changed. "
        "They can be parted again."
    )


@owner_required
@require_http_methods(["GET", "HEAD", "POST"])
def part(request: ShopRequest, number: int) -> HttpResponse:
    """Let a joined vehicle stand by itself again; read back first."""
    found = _named(request, number)
    kept = identity.kept(found)
    if kept.pk == found.pk:
        return see(request, "vehicle", number)
    form = PartForm(request.POST or None, access=request.access)
    if request.method == "POST" and form.is_valid():
        if form.needs_read_back(always=True):
            both = held_words(kept, request.access.units) or "nothing"
            rows = [("Stands by itself again", found), ("And so does", kept), ("In both by the book", both)]
            return read_back(request, form, rows, submit="Part them")
        try:
            joining.part(found, form.act(request.access, context=f"vehicle:{kept.account.number}"))
        except LedgerError as error:
            form.refuse(error)
        else:
            return see(request, "vehicle", number)
    back = reverse("vehicle", args=[request.access.slug, number])
    return page(request, "inventory/part.html", form, record=found, kept=kept, back=back)
