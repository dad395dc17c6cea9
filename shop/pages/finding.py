"""What the Find box answers of this floor: vehicles, visits, customers, people and instruments.

Compliance appends its finders to `MORE`, and to `MORE_WAYS` what it knows to do where nothing fits; nothing here knows
of it. What a finder is, `inventory.pages.finding` says.
"""

from collections.abc import Iterable, Iterator
from urllib.parse import urlencode

from django.db.models import Prefetch, Q
from django.urls import reverse

from inventory.measure.marks import likeness, same
from inventory.models import Cylinder, Gauge
from inventory.models.likeness import words_in, written_in
from inventory.output.days import day
from inventory.pages import finding
from inventory.pages.finding import MOST, Asked, Finder, Hit, Way, joined, named
from inventory.pages.links import Link
from shop.models import Customer, Membership, Vehicle, Visit
from shop.pages.forms.vehicles import LONGEST_PLATE
from shop.pages.middleware import ShopRequest
from shop.pages.tables.people import members_of, role_said
from shop.people.identity import COLUMNS, all_of, kept

LEAST_DIGITS, TELLING_DIGITS = 4, 7  # of a telephone number: fewer say nothing, more may be an area's or a country's


def vehicles(request: ShopRequest, asked: Asked) -> Iterator[Hit]:
    """Yield the vehicles by plate, identification number, make and model; a joined one leads to the one it is."""
    near = written_in("registration_likeness", asked.text) | written_in("vin_likeness", asked.text)
    every = all_of(request.book).order_by("registration", "pk")
    key = likeness(asked.text)
    alike = Q(registration_likeness=key) | Q(vin_likeness=key) if key else Q(pk__in=())
    rows = [*every.filter(alike)[: MOST + 1], *every.filter(near)[: MOST + 1]]
    rows += every.filter(words_in("make_model_likeness", asked.text))[: MOST + 1]
    found: dict[int, Hit] = {}
    for one in rows:
        to, exact = kept(one), any(same(getattr(one, by), asked.text) for by in COLUMNS)
        other = f"joined: once {one}" if one != to else ""
        words = joined(to.make_model, to.vehicle_class, to.refrigerant, other)
        href = reverse("vehicle", args=[request.access.slug, to.account.number])
        if exact or to.pk not in found:
            found[to.pk] = Hit("vehicle", to.registration, href, words, exact)
    yield from found.values()


def visits(request: ShopRequest, asked: Asked) -> Iterator[Hit]:
    """Yield the visit of a number."""
    number, is_named = asked.number_of("visit")
    if number is None:
        return
    for one in Visit.objects.filter(workshop=request.workshop, number=number).select_related("vehicle"):
        words = joined(one.vehicle, one.state, day(one.opened_at), one.purpose)
        yield Hit("visit", f"visit {number}", reverse("visit", args=[request.access.slug, number]), words, is_named)


def customers(request: ShopRequest, asked: Asked) -> Iterator[Hit]:
    """Yield the customers by name or telephone, for those who write; one that was removed is not found."""
    if not request.access.may_write:
        return
    digits = "".join(char for char in asked.text if char.isdigit()).lstrip("0")[-TELLING_DIGITS:]
    is_phone = len(digits) >= LEAST_DIGITS and not any(char.isalpha() for char in asked.text)
    by_phone = Q(phone_likeness__contains=digits) if is_phone else Q(pk__in=())
    rows = Customer.objects.filter(words_in("likeness", asked.text) | by_phone, workshop=request.workshop)
    own = Vehicle.objects.filter(account__joined_to=None).order_by("registration")
    shown = rows.filter(removed_at=None).prefetch_related(Prefetch("vehicles", own)).order_by("name", "pk")
    for one in shown[: MOST + 1]:
        plates = [str(vehicle) for vehicle in one.vehicles.all()]
        more = f"and {len(plates) - 3} more" if len(plates) > 3 else ""
        exact = same(one.name, asked.text) or same(one.phone, asked.text)
        href = reverse("customer", args=[request.access.slug, one.pk])
        yield Hit("customer", one.name, href, joined(one.phone, *plates[:3], more), exact)


def people(request: ShopRequest, asked: Asked) -> Iterator[Hit]:
    """Yield the people of the workshop by name, of whom a workshop has few."""
    for one in sorted(members_of(request), key=lambda one: (not one.active, str(one.user))):
        if (exact := named(asked, str(one.user), one.user.username)) is not None:
            href = reverse("person", args=[request.access.slug, one.user.handle])
            yield Hit("person", str(one.user), href, role_said(one), exact)


def gauges(request: ShopRequest, asked: Asked) -> Iterator[Hit]:
    """Yield the instruments but scales by name or serial number, of which a workshop has few."""
    for one in Gauge.objects.filter(book=request.book).order_by("retired", "name"):
        if (exact := named(asked, one.name, one.serial)) is not None:
            args = [request.access.slug, *([one.pk] if request.access.is_owner else [])]
            href = reverse("gauge" if request.access.is_owner else "settings", args=args)
            words = joined(one.kind, one.serial, one.retired and "no longer used")
            yield Hit("instrument", one.name, href, words, exact)


def elsewhere(request: ShopRequest, asked: Asked) -> Iterator[Link]:
    """Yield the way to a cylinder whose label belongs to another workshop of the same person."""
    if not asked.scan.label:
        return
    mine = Membership.objects.filter(user=request.user.pk, active=True).values("workshop__book")
    there = Cylinder.objects.filter(label=asked.scan.label, account__book__in=mine).exclude(account__book=request.book)
    for one in there.select_related("account__book__workshop"):
        workshop = one.account.book.workshop
        href = reverse("cylinder", args=[workshop.slug, one.account.number])
        yield Link(f"Open cylinder {one} of {workshop}", href)


def new_vehicle(request: ShopRequest, asked: Asked) -> Iterator[Link]:
    """Yield the way to enter a vehicle with the plate that was not found."""
    if request.access.may_write and asked.text and len(asked.text) <= LONGEST_PLATE:
        page = reverse("vehicle-new", args=[request.access.slug])
        yield Link(f"Enter a vehicle with the plate {asked.text}", f"{page}?{urlencode({'registration': asked.text})}")


MORE: list[Finder] = []
MORE_WAYS: list[Way] = []

_RECORDS: tuple[Finder, ...] = (finding.cylinders, vehicles, visits, customers, finding.partners, people)
_INSTRUMENTS: tuple[Finder, ...] = (finding.scales, gauges)
_LINES: tuple[Finder, ...] = (finding.papers, finding.lines)
_WAYS: tuple[Way, ...] = (elsewhere, finding.receive_it, new_vehicle)


def records(request: ShopRequest, asked: Asked) -> tuple[list[Hit], bool]:
    """Return the records that fit, what is asked exactly first, and whether there are more."""
    return _of((*_RECORDS, *MORE, *_INSTRUMENTS), request, asked)


def lines(request: ShopRequest, asked: Asked) -> tuple[list[Hit], bool]:
    """Return the lines that fit, and whether there are more."""
    return _of(_LINES, request, asked)


def ways(request: ShopRequest, asked: Asked) -> list[Link]:
    """Return what can be done where nothing fits."""
    return [link for way in (*_WAYS, *MORE_WAYS) for link in way(request, asked)]


def _of(finders: Iterable[Finder], request: ShopRequest, asked: Asked) -> tuple[list[Hit], bool]:
    found, more = [], False
    for finder in finders:
        hits = list(finder(request, asked))
        more |= len(hits) > MOST
        found += sorted(hits, key=lambda hit: not hit.is_exact)[:MOST]
    return sorted(found, key=lambda hit: not hit.is_exact), more
