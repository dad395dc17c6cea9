"""Choosing the cylinder of a leg: those that serve first, the others folded with the reason and a way out of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone

from inventory.gases.catalogue import MIXED
from inventory.gases.cautions import cautions_for, places_of
from inventory.measure.displays import in_book
from inventory.models import Cylinder
from inventory.pages import comeback
from inventory.pages.links import WITH_GAS, WITHOUT_GAS, Link
from inventory.shelf import origins
from inventory.shelf.queries import on_the_scale
from shop.models import Visit
from shop.pages.begun import Beginning
from shop.pages.middleware import ShopRequest
from shop.visits.acts.gas_out import Room
from shop.visits.gas import FromVehicle, built_for, held_in, label_of

GRADES = {"recycled": 0, "reclaimed": 1, "virgin": 2}  # what is charged first
Source = tuple[Cylinder, str, str, int]  # with refrigerant, grade and milligrams of what it holds


@dataclass(frozen=True)
class NoRoom:
    """A cylinder that may not take the gas, and a link to what would change that, where there is one."""

    room: Room
    way_out: Link | None


def of_targets(request: ShopRequest, visit: Visit, gas: FromVehicle, rooms: Sequence[Room]) -> dict[str, Any]:
    """Return what the page of a recovery shows: the cylinders with room, those without, and how to bring one in."""
    expected_mg = _expected_mg(visit, gas)

    def order(room: Room) -> tuple[bool, bool, bool, str]:
        too_small = room.room_mg is not None and room.room_mg < (expected_mg or 0)
        return bool(room.becomes), room.room_mg is None, too_small, str(room.cylinder)

    refused = sorted((room for room in rooms if room.refusal), key=lambda room: str(room.cylinder))
    here, today = request.path, timezone.localdate()
    bring_in = {
        "origin": origins.EMPTY,
        "kind": origins.RECOVERY,
        "only": WITHOUT_GAS,
        "refrigerant": gas.refrigerant,
        "grade": gas.grade,
        comeback.BACK: f"{here}?target={comeback.NEW}",
    }
    return {
        "visit": visit,
        "gas": gas,
        "expected_mg": expected_mg,
        "rooms": sorted((room for room in rooms if not room.refusal), key=order),
        "others": [NoRoom(room, _way_out(request, room, here, today)) for room in refused],
        "bring_in": _receive(request, bring_in),
        "cautions": cautions_for("recovery", *places_of([gas.refrigerant])),
        "cautions_of": visit.context,
    }


def of_sources(request: ShopRequest, visit: Visit, sources: Sequence[Source]) -> dict[str, Any]:
    """Return what the page of a charge shows: the cylinders of the vehicle's gas, the others, how to receive one."""
    label_code, label_mg = label_of(visit)
    wanted = built_for(visit)
    every = sorted(sources, key=lambda one: (one[1], GRADES.get(one[2], len(GRADES)), str(one[0])))
    fitting = [one for one in every if one[1] == wanted and one[2] != "suspect"] if wanted else every
    known = {"refrigerant": wanted} if wanted else {}
    receive = {"only": WITH_GAS, **known, comeback.BACK: f"{request.path}?source={comeback.NEW}"}
    return {
        "visit": visit,
        "sources": fitting,
        "others": [one for one in every if one not in fitting],
        "wanted": wanted,
        "label_code": label_code,
        "label_mg": label_mg,
        "receive": _receive(request, receive),
        "cautions": cautions_for("charge", *places_of([wanted])),
        "cautions_of": visit.context,
    }


def not_here(request: ShopRequest, number: str) -> str:
    """Return why a cylinder of the book cannot be chosen at all; empty where none was."""
    asked = Cylinder.objects.filter(account__book=request.book, account__number=number) if number.isdecimal() else None
    one = asked.first() if asked is not None else None
    if one is None:
        return ""
    if one.is_gone:
        return f"{one} is {one.state}, and does not stand here."
    return f"{one} cannot serve here: {'cans hold no recovered gas' if one.kind == one.CANS else 'it is empty'}."


def begin_charge(request: ShopRequest, visit: Visit, sources: Sequence[Source], asked: str) -> HttpResponse:
    """Answer the page that asks from which cylinder, and for its reading before."""
    context = of_sources(request, visit, sources)
    ready, read = _to_weigh(request, [(one[0], one) for one in context["sources"]])
    unit = request.access.units.mass
    fitting = [(one, f"{one}, {code} {grade}, {in_book(mass, unit)}") for one, code, grade, mass in ready]
    context |= {"read": read, "not_here": not_here(request, asked)}
    return Beginning(visit, "charge", fitting, "shop/visit_charge.html", context).answer(request)


def begin_recovery(
    request: ShopRequest, visit: Visit, gas: FromVehicle, rooms: Sequence[Room], asked: str
) -> HttpResponse:
    """Answer the page that asks into which cylinder, and for its reading before."""
    context = of_targets(request, visit, gas, rooms)
    ready, read = _to_weigh(request, [(room.cylinder, room) for room in context["rooms"]])
    fitting = [(room.cylinder, _room_said(request, room, context["expected_mg"])) for room in ready]
    context |= {"read": read, "not_here": not_here(request, asked)}
    comes = gas.refrigerant, gas.grade
    return Beginning(visit, "recovery", fitting, "shop/visit_recover.html", context, comes).answer(request)


def _to_weigh(request: ShopRequest, found: Sequence[tuple[Cylinder, Any]]) -> tuple[list[Any], list[Any]]:
    """Return what is to be weighed before, and what is entered by a figure or stands on the scale already."""
    open_yet = {one.account_id for one in on_the_scale(request.book)}
    ready = [cylinder.is_weighed and cylinder.account_id not in open_yet for cylinder, _ in found]
    pairs = list(zip(ready, found, strict=True))
    return [one for is_ready, (_, one) in pairs if is_ready], [one for is_ready, (_, one) in pairs if not is_ready]


def _room_said(request: ShopRequest, room: Room, expected_mg: int | None) -> str:
    """Return the words by which a cylinder is chosen: what is in it and what it may still take."""
    unit = request.access.units.mass
    held = f"{room.content[0]} {room.content[1]} {in_book(room.content[2], unit)}" if room.content else "empty"
    words = [f"{room.cylinder} {room.cylinder.kind}", held, *([room.becomes] if room.becomes else [])]
    if room.room_mg is None:
        return ", ".join([*words, "how much it may take is not known"])
    rule = f" ({room.limit.words})" if room.limit else ""
    words.append(f"can take {in_book(room.room_mg, unit)} more{rule}")
    said = ", ".join(words)
    small = expected_mg and expected_mg > room.room_mg
    return f"{said}; what is expected will not fit, have a second cylinder ready" if small else said


def _receive(request: ShopRequest, known: dict[str, str]) -> str:
    return f"{reverse('cylinder-receive', args=[request.access.slug])}?{urlencode(known)}"


def _way_out(request: ShopRequest, room: Room, here: str, today: date) -> Link | None:
    """Return where a refusal can be answered; None for a cylinder that is never filled."""
    cylinder, args = room.cylinder, [request.access.slug, room.cylinder.account.number]
    if cylinder.kind == Cylinder.SINGLE_TRIP:
        return None
    if cylinder.is_past_requalification(today):
        back = urlencode({comeback.BACK: here})
        return Link("It was tested: enter the new date", f"{reverse('cylinder-edit', args=args)}?{back}")
    if room.content is not None and cylinder.kind != Cylinder.TANK:
        return Link("Move its gas into another", reverse("cylinder-transfer", args=args))
    return None


def _expected_mg(visit: Visit, gas: FromVehicle) -> int | None:
    """What is expected to come out: what the book has in it, else the label, unless that is for another refrigerant."""
    held = sum(mass_mg for mass_mg in held_in(visit.vehicle).values() if mass_mg > 0)
    code, label_mg = label_of(visit)
    return held or (label_mg if code in ("", gas.refrigerant) or gas.refrigerant == MIXED else None)
