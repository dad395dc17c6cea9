"""The search box: straight to the one thing that fits, else a list."""

from collections.abc import Iterable

from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from inventory.models import Cylinder, Entry
from inventory.models.likeness import exactly, written_in
from inventory.pages.links import Link
from shop.models import Vehicle, Visit
from shop.pages.middleware import ShopRequest
from shop.people.identity import COLUMNS, kept

MOST = 50


@require_GET
def search(request: ShopRequest) -> HttpResponse:
    """Find a serial, plate, line number, visit number, label code or the address on a label."""
    said = " ".join(request.GET.get("q", "").replace("\0", "").split())[:200]
    found = _found(request, said) if said else []
    if len(found) == 1:
        return HttpResponseRedirect(found[0].href)
    return render(request, "shop/search.html", {"said": said, "found": found[:MOST], "more": len(found) > MOST})


def _found(request: ShopRequest, said: str) -> list[Link]:
    slug = request.access.slug
    code = said.rstrip("/").rsplit("/", 1)[-1]
    cylinders = Cylinder.objects.filter(account__book=request.book).select_related("account")
    vehicles = Vehicle.objects.filter(account__book=request.book).select_related("account__joined_to__vehicle")
    numbered = [*exactly(cylinders, "serial", said), *cylinders.filter(label__iexact=code)]
    named = [one for by, like in COLUMNS.items() for one in exactly(vehicles, by, said, like)]
    links = _links(slug, numbered, named) + _numbered(request, said)
    if links:
        return links
    near = written_in("registration_likeness", said) | written_in("vin_likeness", said)
    return _links(
        slug,
        cylinders.filter(written_in("likeness", said)).order_by("serial")[: MOST + 1],
        vehicles.filter(near).order_by("registration")[: MOST + 1],
    )


def _links(slug: str, cylinders: Iterable[Cylinder], vehicles: Iterable[Vehicle]) -> list[Link]:
    found: dict[tuple[str, int], Cylinder | Vehicle] = {("cylinder", one.account.number): one for one in cylinders}
    found |= {("vehicle", kept(one).account.number): kept(one) for one in vehicles}
    return [Link(f"{name} {one}", reverse(name, args=[slug, number])) for (name, number), one in found.items()]


def _numbered(request: ShopRequest, said: str) -> list[Link]:
    word, _, rest = said.lower().rpartition(" ")
    if not (rest.isascii() and rest.isdigit() and len(rest) < 10 and word in ("", "line", "visit")):
        return []
    number, slug, found = int(rest), request.access.slug, []
    if word != "visit" and Entry.objects.filter(book=request.book, seq=number).exists():
        found.append(Link(f"line {number}", reverse("entry", args=[slug, number])))
    if word != "line" and Visit.objects.filter(workshop=request.workshop, number=number).exists():
        found.append(Link(f"visit {number}", reverse("visit", args=[slug, number])))
    return found
