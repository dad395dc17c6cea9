"""Pages of cylinders: the list, one cylinder with what may be done with it, and its label."""

from collections import OrderedDict
from collections.abc import Iterable, Iterator

import segno
from django.conf import settings
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from inventory.book import ledger
from inventory.book.holdings import Content
from inventory.gases import catalogue, filling
from inventory.gases.cautions import cautions_for, places_of
from inventory.measure.codes import label_address
from inventory.measure.reach import stays_here
from inventory.models import Cylinder, Entry, Movement, Tare
from inventory.models.access import Access
from inventory.output.masses import Weighed, cylinder_level, mass_over_time
from inventory.pages import links
from inventory.pages.access import BookRequest, cylinder_of
from inventory.pages.links import Link
from inventory.pages.tables.cylinders import CylinderFilter, CylinderTable
from inventory.pages.tables.lines import AccountLines
from inventory.pages.tables.table import export
from inventory.shelf import airchecks, listing, queries
from inventory.shelf.limits import filling_limit, measured_parts
from inventory.shelf.queries import content_of
from inventory.shelf.sentences import paper_sentence

STEPS_DRAWN = 200
AIR_CHECKS_SHOWN = 20

FIRST, GAS, WHAT_IT_IS, AWAY = "", "Its gas: fill, move, change", "What it is: label, empty mass", "Away and end"


@require_GET
def cylinders(request: BookRequest) -> HttpResponseBase:
    """Show the cylinders of the book."""
    chosen = CylinderFilter(request)
    rows = chosen.narrow(queries.cylinders(request.book, request.access.jurisdiction))
    receive = links.address(request.access, "cylinder-receive") if request.access.may_write else ""
    table = CylinderTable(
        rows,
        request=request,
        filter=chosen,
        unfiltered=lambda: Cylinder.objects.filter(account__book=request.book).count(),
        none_words="None in the book yet. Weigh one and it has its first line.",
        none_act=Link("Receive a cylinder", receive) if receive else None,
    )
    return export(request, table, "cylinders") or render(request, "inventory/cylinders.html", {"table": table})


@require_GET
def cylinder(request: BookRequest, number: int) -> HttpResponse:
    """Show one cylinder: level, limit, tare, lines, and what may be done with it."""
    found = get_object_or_404(
        queries.cylinders(request.book, request.access.jurisdiction).select_related("account__book"),
        account__number=number,
    )
    content = content_of(found.account)
    held_mg = content[2] if content else 0
    code = content[0] if content else found.refrigerant
    limit = filling_limit(found, code, request.access.jurisdiction)
    limit_mg = limit.max_net_mg if limit else None
    room_mg = None if limit_mg is None else limit_mg - held_mg
    unit = request.access.units.column
    steps = _steps(found)
    history = mass_over_time(steps, name=str(found), limit_mg=limit_mg, units=request.access.units)
    bought = _bought(found)
    acts = _grouped(_acts(found, content, request.access))
    context = {
        "cylinder": found,
        "content": content,
        "held_mg": held_mg,
        "limit": limit,
        "limit_mg": limit_mg,
        "room_mg": room_mg,
        "refusal": filling.refusal(found.kind, found.requalify_by, timezone.localdate()),
        "over_mg": -room_mg if room_mg is not None and room_mg < 0 else None,
        "level": cylinder_level(held_mg, limit_mg, name=str(found), unit=unit),
        "history": history,
        "entered": None if steps else Entry.objects.filter(book=request.book, context=f"cylinder:{number}").first(),
        "last": ledger.last_weighing(found.account),
        "tares": Tare.objects.filter(cylinder=found).order_by("-since", "-id"),
        "paper": paper_sentence(int(bought.mass_mg), bought.u_mg, found.paper_mass_mg, unit) if bought else "",
        "cautions": cautions_for(*places_of([code])) if content else [],
        "cautions_of": f"cylinder:{number}",
        "parts": measured_parts(found.account) if content and code == catalogue.MIXED else {},
        "table": AccountLines(found.account, request=request),
        "lines_files": links.address(request.access, "entries", query={"account": number}),
        "acts": acts.pop(FIRST, []),
        "folded_acts": acts,
        "air_checks": [(one, airchecks.headline(one)) for one in found.account.air_checks.all()[:AIR_CHECKS_SHOWN]],
        "consignment": found.consignments.select_related("partner", "entry").order_by("-pk").first(),
    }
    return render(request, "inventory/cylinder.html", context)


def _grouped(acts: Iterable[tuple[str, Link]]) -> dict[str, list[Link]]:
    """Return acts by their purpose, in the order in which they come."""
    groups: dict[str, list[Link]] = {}
    for purpose, act in acts:
        groups.setdefault(purpose, []).append(act)
    return groups


def _bought(cylinder: Cylinder) -> Movement | None:
    """Return the weighed movement by which a cylinder's paper can be compared, or None."""
    if cylinder.paper_mass_mg is None:
        return None
    received = Movement.objects.standing().filter(target=cylinder.account, basis="single")
    return received.filter(cause__in=("purchase", "returned-reclaimed")).order_by("pk").first()


def _steps(cylinder: Cylinder) -> list[Weighed]:
    """Return what a cylinder held after each of its last entries, in the order in which they happened."""
    lines = listing.lines_of(cylinder.account, listing.legs(cylinder.account, most=STEPS_DRAWN))
    if not lines:
        return []
    start_mg = (lines[-1].held_mg or 0) - lines[-1].gained_mg
    gained: OrderedDict[int, list[listing.AccountLine]] = OrderedDict()
    for line in reversed(lines):
        gained.setdefault(line.movement.entry_id, []).append(line)
    steps = []
    held_mg = start_mg
    for own in sorted(gained.values(), key=lambda own: (own[0].entry.occurred_at, own[0].entry.seq)):
        held_mg += sum(line.gained_mg for line in own)
        differed = sum(line.gained_mg for line in own if line.movement.cause == "weighing-difference")
        steps.append(Weighed(own[0].entry.occurred_at, max(held_mg, 0), differed))
    return steps


def _acts(cylinder: Cylinder, content: Content | None, access: Access) -> Iterator[tuple[str, Link]]:
    """Yield what may be done with a cylinder as it stands, each with its purpose."""

    def link(purpose: str, words: str, name: str) -> Iterator[tuple[str, Link]]:
        address = links.address(access, name, cylinder.account.number)
        if address:
            yield purpose, Link(words, address)

    here = cylinder.state not in ("away", "done with")
    if access.may_write and cylinder.state == "away":
        yield from link(FIRST, "It came back", "cylinder-back")
    elif access.may_write and cylinder.state == "done with":
        yield from link(FIRST, "It turned up", "cylinder-turned-up")
    elif access.may_write:
        yield from link(FIRST, "Weigh", "cylinder-weigh")
    if content is not None and not cylinder.is_gone and (air := _air_page(cylinder, content, access)):
        yield GAS, Link("Air in it", air)
    if access.may_write and here and content is not None:
        yield from link(GAS, "Move gas into another", "cylinder-transfer")
        yield from link(GAS, "Change of grade", "cylinder-regrade")
        yield from link(GAS, "Identified as another", "cylinder-identify")
        yield from link(GAS, "Gas was lost", "cylinder-loss")
    elif access.may_write and here:
        yield from link(GAS, "It turned up with gas", "cylinder-turned-up")
    yield from link(WHAT_IT_IS, "Label", "cylinder-label")
    if not access.may_write:
        return
    if here:
        yield from link(WHAT_IT_IS, "Correct the empty mass", "cylinder-tare")
    yield from link(WHAT_IT_IS, "Edit", "cylinder-edit")
    if not here:
        return
    yield from link(AWAY, "Send away", "cylinder-send")
    if content is not None and access.other_books():
        yield from link(AWAY, "Move to another workshop", "cylinder-sister")
    if content is None:
        yield from link(AWAY, "Done with it", "cylinder-done")


def _air_page(cylinder: Cylinder, content: Content, access: Access) -> str:
    """Return where air in it is judged: its own page for who may write, else the check on the bench.

    Empty for a mixture, which has no saturation pressure to compare with.
    """
    if content[0] == catalogue.MIXED:
        return ""
    own = links.address(access, "cylinder-air", cylinder.account.number) if access.may_write else ""
    return own or _air_check(cylinder, content, access)


def _air_check(cylinder: Cylinder, content: Content, access: Access) -> str:
    """Return the address of the check for air, with what is known of the cylinder filled in; empty where there is none.

    `change`: the form is shown, and not judged yet.
    """
    code, _, mass_mg = content
    known = {"refrigerant": code, "contents": f"{mass_mg / 1000:g} g", "change": "1"}
    if cylinder.water_capacity_m3:
        known["water_capacity"] = f"{cylinder.water_capacity_m3 * 1000:g} L"
    return links.address(access, "check", "air", query=known)


@require_GET
def label(request: BookRequest, number: int) -> HttpResponse:
    """Show a cylinder's label, made to be printed and stuck on; asked first is for an address that no phone reaches."""
    found = cylinder_of(request, number)
    address = label_origin(request)
    if stays_here(address) and not request.access.here_alone and request.GET.get("address") != address:
        asked = {"cylinder": found, "address": address, "phone": links.address(request.access, "phone")}
        return render(request, "inventory/cylinder_label_address.html", asked)
    content = content_of(found.account)
    code = content[0] if content else found.refrigerant
    context = {
        "cylinder": found,
        "content": content,
        "code": code,
        "facts": catalogue.refrigerant(code),
        "limit": filling_limit(found, code, request.access.jurisdiction),
        "text": label_text(request, found),
        "cautions": cautions_for(*places_of([code])),
    }
    return render(request, "inventory/cylinder_label.html", context)


@require_GET
def label_code(request: BookRequest, number: int) -> HttpResponse:
    """Answer with the code of a cylinder's label as a picture: level Q, four white modules around, 0.8 mm each."""
    found = cylinder_of(request, number)
    code = segno.make(label_text(request, found), error="q", boost_error=False, micro=False)
    svg = code.svg_inline(scale=0.8, unit="mm", border=4, light="#fff", dark="#000")
    head = '<svg xmlns="http://www.w3.org/2000/svg"'
    body = svg if "xmlns=" in svg else svg.replace("<svg", head, 1)
    return HttpResponse(body, content_type="image/svg+xml")


def label_text(request: BookRequest, cylinder: Cylinder) -> str:
    """Return what the code says: the page of the cylinder, where people reach it."""
    return label_address(label_origin(request), cylinder.label)


def label_origin(request: BookRequest) -> str:
    """Return where people reach the pages."""
    return str(settings.ADDRESS or request.build_absolute_uri("/")).rstrip("/")
