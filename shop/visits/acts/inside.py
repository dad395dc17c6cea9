"""What the log of a vehicle says of what is in it, told again where a line was undone: only what stands counts."""

from django.db.models import F, Sum

from inventory.models import Movement
from shop.models import Step, Vehicle, Visit
from shop.people.vehicles import set_content
from shop.visits.gas import at_arrival
from shop.visits.inputs import is_evacuated
from shop.visits.kinds import MASS_STEPS

TELL = (*MASS_STEPS, "vacuum hold", "remainder settled")


def after_undoing(step: Step) -> None:
    """Say what is in a vehicle without a step whose line was reversed, unless a step after it has told since."""
    visit = step.visit
    told = Step.objects.standing().filter(visit__vehicle=visit.vehicle_id, visit__opened_at__gte=visit.opened_at)
    if told.filter(kind__in=MASS_STEPS, occurred_at__gt=step.occurred_at).exists():
        return
    vehicle = Vehicle.objects.get(pk=visit.vehicle_id)
    content = _at_first(visit)
    for one in told.filter(kind__in=TELL).select_related("visit__vehicle", "visit__workshop__book", "entry"):
        content = _after(one, content, _held_mg(vehicle, one))
    set_content(vehicle, content)


def _at_first(visit: Visit) -> str:
    """Return what was known of it when it came: by the book of then, as the arrival keeps it."""
    return at_arrival(visit).content or "unknown"


def _after(step: Step, content: str, held_mg: int) -> str:
    """Return what is known after a step that stands; `held_mg` is what the book had in the vehicle then."""
    if step.kind == "charge":
        return "known" if content in ("evacuated", "known") else "at least"
    if step.kind == "vacuum hold":
        empty = held_mg <= 0 and is_evacuated(step, step.visit.workshop.air.pressure_pa)
        return "evacuated" if empty else content
    if step.entry is None:
        return content  # evidence alone
    if step.kind == "remainder settled":
        return "evacuated" if held_mg <= 0 else "part recovered"
    return "part recovered" if step.entry.movements.exists() else content


def _held_mg(vehicle: Vehicle, step: Step) -> int:
    """Return what stands of the vehicle's lines up to a step, joined records with it, in milligrams."""
    accounts = [vehicle.account_id, *vehicle.account.joined.values_list("pk", flat=True)]
    lines = Movement.objects.standing().filter(entry__occurred_at__lte=step.occurred_at)
    came = lines.filter(target__in=accounts).aggregate(sum=Sum(F("mass_mg")))["sum"] or 0
    went = lines.filter(source__in=accounts).aggregate(sum=Sum(F("mass_mg")))["sum"] or 0
    return int(came - went)
