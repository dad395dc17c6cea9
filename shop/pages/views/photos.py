"""Adding a photo to a vehicle, or to a step of a visit, or to what was written before the photo came."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods

from inventory.pages.access import writer_required
from inventory.pages.addphoto import Target, add_to
from shop.models import Step
from shop.pages.found import find_vehicle
from shop.pages.middleware import ShopRequest
from shop.visits.kinds import BY_NAME

OF_A_STEP = ("gauge", "joint", "label", "scale", "plate", "paper", "other")


@writer_required
@require_http_methods(["GET", "HEAD", "POST"])
def vehicle_photo(request: ShopRequest, number: int) -> HttpResponse:
    """Add a photo to a vehicle."""
    found = find_vehicle(request, number)
    shows = ("plate", "label", "joint", "other")
    return add_to(request, Target(f"Add a photo of {found}", {"account": found.account}, shows, ("vehicle", number)))


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
