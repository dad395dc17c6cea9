"""The people of a workshop as its pages look them up, and what the person of a request may do for them."""

from django.shortcuts import get_object_or_404

from shop.models import Membership
from shop.pages.middleware import ShopRequest
from shop.pages.tables.people import members_of


def find_member(request: ShopRequest, handle: str) -> Membership:
    """Return a person of the workshop by handle, or 404; those who left are found too."""
    return get_object_or_404(members_of(request).select_related("user", "workshop"), user__handle=handle)


def is_self(request: ShopRequest, member: Membership) -> bool:
    """Whether the person of the request is `member`."""
    return member.user_id == request.user.pk


def may_certify(request: ShopRequest, member: Membership) -> bool:
    """Whether the person of the request may enter certificates of `member`: the owner, or a writer their own."""
    return request.access.is_owner or (request.access.may_write and is_self(request, member))


def belongs_elsewhere(member: Membership) -> bool:
    """Whether a person belongs to another workshop too."""
    return Membership.objects.filter(user=member.user_id).exclude(pk=member.pk).exists()
