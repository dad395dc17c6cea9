"""Where a cylinder on the scale is gone on with: which visit its reading before was taken for, and which leg.

The line of that reading keeps the visit as its context, and the reading keeps the leg beside it, so that any page and
any person can go on with it.
"""

from collections.abc import Sequence

from django.urls import reverse

from inventory.models import Cylinder, Weighing
from inventory.shelf.queries import content_of
from shop.models import Visit, Workshop
from shop.visits.gas import built_for, label_of, lines_of, living
from shop.visits.log import with_log

PAGES = {"charge": ("visit-charge", "source"), "recovery": ("visit-recover", "target")}


def visit_of(shop: Workshop, before: Weighing) -> Visit | None:
    """Return the open visit that a reading before was taken for; None where it was for none."""
    number = before.entry.context.removeprefix("visit:")
    if number == before.entry.context or not number.isdecimal():
        return None
    visits = with_log(Visit.objects.filter(workshop=shop).exclude(state=Visit.CLOSED))
    return visits.select_related("workshop__book").filter(number=int(number)).first()


def leg_of(visit: Visit, before: Weighing) -> str:
    """Return which leg a cylinder on the scale begins: what its reading before was taken for.

    Where that was not said: gas goes into one that is empty, suspect, of another gas, or for recovery.
    """
    if before.meant in PAGES:
        return before.meant
    cylinder = before.account.cylinder
    content = content_of(cylinder.account)
    if content is None or content[1] == "suspect" or content[0] != built_for(visit):
        return "recovery" if cylinder.is_filled else "charge"
    return "recovery" if cylinder.kind == Cylinder.RECOVERY and not living(visit, "recovery") else "charge"


def goes_on_at(shop: Workshop, before: Weighing) -> str:
    """Return the address at which the reading after is entered: within its visit, else at the scale."""
    number = before.account.number
    visit = visit_of(shop, before)
    if visit is None:
        return reverse("cylinder-weigh", args=[shop.slug, number])
    page = PAGES[leg_of(visit, before)][0]
    return reverse(f"{page}-with", args=[shop.slug, visit.number, number])


def meant_for(before: Weighing, visits: Sequence[Visit]) -> Visit | None:
    """Return the one of some open visits that a cylinder on the scale is meant for; None where that is not plain."""
    named = [one for one in visits if one.context == before.entry.context]
    fitting = named or [one for one in visits if wants(one, before.account.cylinder)]
    return fitting[0] if len(fitting) == 1 else None


def wants(visit: Visit, cylinder: Cylinder) -> bool:
    """Whether a visit is open for what a cylinder holds: its vehicle is for it and has not what its label says yet."""
    content = content_of(cylinder.account)
    label_mg, tolerance_mg = label_of(visit)[1], visit.vehicle.nameplate_tolerance_mg or 0
    if content is None or content[0] != built_for(visit) or content[1] == "suspect" or not label_mg:
        return False
    return label_of(visit)[0] == content[0] and charged_mg(visit) < label_mg - tolerance_mg


def charged_mg(visit: Visit) -> int:
    """Return what the legs of a charge that stand have put in."""
    return sum(int(one.mass_mg) for one in lines_of(living(visit, "charge"), "charge"))
