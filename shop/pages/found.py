"""What several pages look up: the visit or vehicle of an address, the cylinders here, the scale to begin with,
a person, and what the person of a request may do for that one.
"""

from django.shortcuts import get_object_or_404

from inventory.models import Cylinder, Scale, Weighing
from inventory.shelf.queries import standing_here
from shop.models import Membership, Vehicle, Visit
from shop.pages.middleware import ShopRequest
from shop.pages.tables.people import members_of
from shop.pages.tables.vehicles import vehicles_of
from shop.people import identity
from shop.visits.log import with_log


def find_visit(request: ShopRequest, number: int) -> Visit:
    """Return a visit of the workshop with its log fetched, or 404."""
    visits_here = with_log(Visit.objects.filter(workshop=request.workshop)).select_related("workshop__book")
    request.visit = get_object_or_404(visits_here, number=number)
    return request.visit


def find_vehicle(request: ShopRequest, number: int) -> Vehicle:
    """Return a vehicle of the book by its account's number, or 404."""
    named = get_object_or_404(identity.all_of(request.book), account__number=number)
    return get_object_or_404(vehicles_of(request).select_related("account__book"), pk=identity.kept(named).pk)


def shelf(request: ShopRequest) -> list[Cylinder]:
    """Return the cylinders that stand here, by number."""
    return list(standing_here(request.book).select_related("account__book").order_by("serial"))


def remembered_scale(request: ShopRequest, scales: list[Scale], before: Weighing | None = None) -> int | str:
    """Return the number of the scale to begin with: that of the first reading, the last one used, or the only one."""
    known = {scale.number for scale in scales}
    if before is not None and before.scale.number in known:
        return before.scale.number
    last = request.session.get(scale_key(request))
    if last in known:
        return int(last)
    return scales[0].number if len(scales) == 1 else ""


def remember_scale(request: ShopRequest, scale: Scale) -> None:
    """Keep which scale the person of the request has used last."""
    request.session[scale_key(request)] = scale.number


def scale_key(request: ShopRequest) -> str:
    """Return where the session keeps that: each book has scales of its own."""
    return f"scale-{request.book.pk}"


def find_member(request: ShopRequest, handle: str) -> Membership:
    """Return a person of the workshop by handle, or 404; those who left are found too."""
    return get_object_or_404(members_of(request).select_related("user", "workshop"), user__handle=handle)


def is_self(request: ShopRequest, member: Membership) -> bool:
    """Whether the person of the request is `member`."""
    return member.user_id == request.user.pk


def belongs_elsewhere(member: Membership) -> bool:
    """Whether a person belongs to another workshop too."""
    return Membership.objects.filter(user=member.user_id).exclude(pk=member.pk).exists()
