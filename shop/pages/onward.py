"""Where a visit goes on once a step is written: to the visit, or straight to what is asked next of it."""

from inventory.pages.forms.act import THEN, THEN_TO
from shop.models import Visit
from shop.pages.found import find_visit
from shop.pages.middleware import ShopRequest
from shop.visits.kinds import BY_SLUG, KINDS
from shop.visits.log import asked_here

NEXT = "next"  # what the second button of a step's form sends
_PLACE = {kind.name: place for place, kind in enumerate(KINDS)}


def onward(request: ShopRequest, visit: Visit, kind: str) -> tuple[str, *tuple[object, ...]]:
    """Return the name of the page to go on at after a step of this kind, and its arguments.

    The person may have chosen a kind of step. Else what is asked after it in the order of the work comes first: what
    was passed over before is not insisted on.
    """
    if request.POST.get(THEN) != NEXT:
        return "visit", visit.number
    if (chosen := request.POST.get(THEN_TO, "")) in BY_SLUG:
        return "visit-step", visit.number, chosen
    points = asked_here(find_visit(request, visit.number), request.access.units)
    asked = [point for point in points if point.step is None and point.kind != kind]
    later = [point for point in asked if _PLACE[point.kind] > _PLACE[kind]]
    if not asked:
        return "visit", visit.number
    return "visit-step", visit.number, (later or asked)[0].kind_slug
