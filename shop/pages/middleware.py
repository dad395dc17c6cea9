"""The workshop of a request: its slug is in the address, membership is resolved here, once."""

from collections.abc import Callable
from functools import partial
from typing import Any
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.auth.views import redirect_to_login
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import patch_vary_headers

from inventory.measure.own import Units
from inventory.models import Book, Weighing
from inventory.models.access import OWNER, TECHNICIAN, Access
from inventory.models.kept import acting
from inventory.pages import cautions, comeback
from inventory.pages.access import BookRequest, ask_for_password
from inventory.shelf.queries import on_the_scale
from shop.models import Membership, User, Visit, Workshop
from shop.pages import kept
from shop.pages.goingon import goes_on_at
from shop.people import hands, signing

PERMISSIONS = "hid=(self), camera=(self), geolocation=()"


class ShopRequest(BookRequest):
    """A request inside a workshop, with the workshop and the person's membership."""

    member: Membership
    workshop: Workshop
    visit: Visit  # of a page of a visit


class WorkshopMiddleware:
    """Give a view below /w/<slug>/ its workshop, book and access; a stranger gets 404, as for no such workshop."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        timezone.deactivate()
        nobody = acting.set("")
        try:
            return self.get_response(request)
        finally:
            acting.reset(nobody)

    def process_view(
        self, request: Any, view: Callable[..., HttpResponse], args: list[Any], kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        slug = kwargs.pop("slug", None)
        if request.user.is_authenticated:
            acting.set(request.user.handle)
        if slug is None or not request.user.is_authenticated:
            return None
        if hands.is_over(request.session, request.user):
            logout(request)
            return redirect_to_login(request.get_full_path())
        member = (
            Membership.objects.filter(user=request.user, workshop__slug=slug, active=True)
            .select_related("workshop__book")
            .first()
        )
        if member is None:
            raise Http404("No such workshop here.")
        shop, air = member.workshop, member.workshop.air
        if shop.second_factor and not signing.has_second_factor(request.user):
            messages.info(request, f"{shop} asks for a second factor of everybody. Turn yours on to go on.")
            return HttpResponseRedirect(reverse("second-factor"), status=303)
        if not hands.opens(request.session, shop):
            return ask_for_password(request)
        request.member, request.workshop, request.book = member, shop, shop.book
        owner_by_pin = member.role == OWNER and bool(request.session.get(hands.BY_PIN))
        request.access = Access(
            book=shop.book,
            slug=shop.slug,
            role=TECHNICIAN if owner_by_pin else member.role,
            owner_by_pin=owner_by_pin,
            actor=request.user.handle,
            atmosphere_pa=air.pressure_pa,
            atmosphere_low_pa=air.low_pa,
            atmosphere_high_pa=air.high_pa,
            atmosphere_words=air.words,
            jurisdiction=shop.jurisdiction,
            here_alone=shop.here_alone,
            units=member.units,
            other_books=partial(_other_books, member) if hands.BY_PIN not in request.session else list,
            owners=partial(_owners, shop),
        )
        timezone.activate(ZoneInfo(shop.zone))
        if (there := cautions.take(request) or comeback.leave(request)) is not None:
            return there
        comeback.restore(request)
        return None


def _other_books(member: Membership) -> list[Book]:
    """Return the books of the other workshops in which the person may write."""
    others = Membership.objects.filter(user=member.user, active=True, role__in=(OWNER, TECHNICIAN))
    return [one.workshop.book for one in others.exclude(pk=member.pk).select_related("workshop__book")]


def _owners(shop: Workshop) -> list[str]:
    """Return the names of the owners of a workshop who can sign in."""
    rows = Membership.objects.filter(workshop=shop, role=OWNER, active=True, user__is_active=True)
    return [str(one.user) for one in rows.select_related("user")]


class PolicyMiddleware:
    """Say what a page may ask of the machine; answer a live part of a page whose session is over without a page."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Permissions-Policy", PERMISSIONS)
        patch_vary_headers(response, ["HX-Request"])
        kept.mark(request, response)
        if self._led_to_sign_in(request, response):
            return HttpResponse(status=204, headers={"HX-Trigger": "signedOut", "Permissions-Policy": PERMISSIONS})
        return response

    def _led_to_sign_in(self, request: HttpRequest, response: HttpResponse) -> bool:
        asked_by_part = request.method == "GET" and request.headers.get("HX-Request") == "true"
        return asked_by_part and response.status_code == 302 and response["Location"].startswith(reverse("sign-in"))


def page_context(request: HttpRequest) -> dict[str, object]:
    """What every page shows: the workshop, the access of the person and the units in which the person reads."""
    access: Access | None = getattr(request, "access", None)
    return {
        "workshop": getattr(request, "workshop", None),
        "access": access,
        "units": access.units if access else Units(),
        "way_back": lambda: comeback.way_back(request) if hasattr(request, "access") else "",
        "left_here": lambda: comeback.left_here(request) if hasattr(request, "access") else None,
        "open_weighings": lambda: _open_weighings(request),  # asked only by a page that shows them
    }


def _open_weighings(request: HttpRequest) -> list[dict[str, object]]:
    """Return the cylinders that stand open on a scale, and where each is weighed again.

    On a page of no workshop: those of all workshops of the person that are open to this session.
    """
    here: Membership | None = getattr(request, "member", None)
    back = urlencode({comeback.BACK: request.path if here else ""})
    return [
        _open_weighing(one, member, back)
        for member in _members(request, here)
        for one in on_the_scale(member.workshop.book)
    ]


def _members(request: HttpRequest, here: Membership | None) -> list[Membership]:
    if here is not None or not isinstance(person := getattr(request, "user", None), User):
        return [here] if here else []
    rows = Membership.objects.filter(user=person, active=True).select_related("workshop__book").order_by("pk")
    return [one for one in rows if hands.opens(request.session, one.workshop)]


def _open_weighing(one: Weighing, member: Membership, back: str) -> dict[str, object]:
    shop, may_write = member.workshop, member.role in (OWNER, TECHNICIAN)
    drop = reverse("cylinder-drop", args=[shop.slug, one.account.number])
    return {
        "since": member.units.clock_said(timezone.localtime(one.entry.occurred_at, ZoneInfo(shop.zone))),
        "label": one.account.label,
        "said": one.said,
        "url": goes_on_at(shop, one) if may_write else "",
        "drop": f"{drop}?{back}",
    }
