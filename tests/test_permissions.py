"""Who may see and do what: every address of a workshop, walked as a stranger, without signing in, and as a reader."""

import re
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from PIL import Image

from inventory.acts import onscale
from inventory.acts.away import Dispatch, send_away
from inventory.book.weighing import Gross
from inventory.shelf import photos

pytestmark = pytest.mark.django_db
PARAMETER = re.compile(r"<(?:(?P<converter>[^:>]+):)?(?P<name>[^>]+)>")


def routes(resolver: URLResolver, before: str = "") -> Iterator[tuple[str, URLPattern]]:
    for pattern in resolver.url_patterns:
        here = before + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from routes(pattern, here)
        else:
            yield here, pattern


def of_a_workshop() -> list[str]:
    found = [route for route, _ in routes(get_resolver()) if route.startswith("w/<slug:slug>/")]
    assert len(found) >= 30  # the walk found the pages
    return found


@pytest.fixture
def everything(
    workshop: Any,
    owner: Any,
    technician: Any,
    reader: Any,
    book: Any,
    cylinder: Any,
    make_cylinder: Any,
    partner: Any,
    scale: Any,
    make_vehicle: Any,
    act: Any,
    settings: Any,
    tmp_path: Path,
    arrive: Any,
) -> dict[tuple[str, str], object]:
    """One of each thing in the workshop; returns what stands in an address, by its first part and its name."""
    from compliance.documents.issuing import issue
    from compliance.models import Finding
    from compliance.papers.paper import VISIT
    from compliance.readers.links import Wanted, make_link
    from inventory.models import Gauge, PartnerList
    from inventory.shelf.camera import read_picture
    from shop.models import Customer, ImportJob

    onscale.weigh(book, act(), Gross(cylinder, scale, 11_000_000, "11 kg"))
    away = make_cylinder(mass_mg=1_000_000)
    sent = send_away(
        book, act(), Gross(away, scale, 7_200_000, "7.2 kg"), Dispatch(partner, "sent-away", "reclaim", "1")
    )
    vehicle = make_vehicle()
    visit = arrive(vehicle)
    customer = Customer.objects.create(workshop=workshop, name="A customer")
    settings.MEDIA_ROOT = tmp_path / "media"
    white = BytesIO()
    Image.new("RGB", (8, 8), "white").save(white, "JPEG")
    white.seek(0)
    photo = photos.add_photo(book, act(), read_picture(white), shows="plate", account=cylinder.account)
    document = issue(workshop, VISIT, f"visit:{visit.number}", by=technician, key=uuid4(), now=datetime.now(UTC))
    finding = Finding.objects.create(
        workshop=workshop,
        rule="us-certified-person",
        about=f"visit:{visit.number}",
        state="open",
        words="Looked at.",
        law_of=date(2025, 1, 1),
        day=date(2025, 1, 1),
        judged_at=datetime.now(UTC),
    )
    until = datetime.now(UTC) + timedelta(days=1)
    link, _ = make_link(
        workshop,
        Wanted("vehicle", f"vehicle:{vehicle.account.number}"),
        for_whom="X",
        ends_at=until,
        by=owner,
        key=uuid4(),
    )
    brought = ImportJob.objects.create(
        workshop=workshop, started_by=owner, request_key=uuid4(), what="sheet", state="done", file_name="log.csv"
    )
    kept = PartnerList.objects.create(
        partner=partner,
        first=date(2025, 1, 1),
        last=date(2025, 3, 31),
        file_name="list.csv",
        digest="0" * 64,
        actor=technician.handle,
        kept_at=datetime.now(UTC),
    )
    gauge = Gauge.objects.create(book=book, name="G1", kind="pressure gauge", step=1000.0)
    from shop.visits.acts import watching
    from shop.visits.watches import WATCH_BY_NAME

    read = {"pressure": {"text": "100", "unit": "psi", "si": 790_800.0, "echo": "100 psi"}}
    running = watching.start(
        visit,
        WATCH_BY_NAME["pressure hold"],
        key=uuid4(),
        by=technician.handle,
        started_at=datetime.now(UTC),
        planned_s=600.0,
        data={},
        reading=read,
    )
    return {
        ("visits", "watch"): running.pk,
        ("visits", "reading"): running.readings.get().pk,
        ("visits", "hold"): "vacuum-hold",
        ("cylinders", "number"): cylinder.account.number,
        ("partners", "number"): partner.account.number,
        ("vehicles", "number"): vehicle.account.number,
        ("visits", "number"): visit.number,
        ("documents", "number"): document.number,
        ("documents", "form"): "pdf",
        ("documents", "kind"): "visit-record",
        ("documents", "about"): document.about,
        ("findings", "pk"): finding.pk,
        ("links", "pk"): link.pk,
        ("import", "pk"): brought.pk,
        ("lines", "seq"): sent.seq,
        ("photos", "seq"): photo.entry.seq,
        ("visits", "step"): visit.steps.get().pk,
        ("people", "handle"): technician.handle,
        ("customers", "pk"): customer.pk,
        ("scales", "pk"): scale.pk,
        ("settings", "gauge"): gauge.pk,
        ("visits", "kind"): "repair",
        ("visits", "cylinder"): cylinder.account.number,
        ("settings", "pk"): scale.pk,
        ("partners", "pk"): kept.pk,
    }


def address(route: str, known: dict[tuple[str, str], object], slug: str) -> str:
    """Return a route with its parameters filled from what exists; a plausible value where the walk knows of none."""
    first = route.removeprefix("w/<slug:slug>/").split("/")[0]

    def value(match: re.Match[str]) -> str:
        name = match["name"]
        if name == "slug":
            return slug
        if name == "pk" and "/instruments/" in route:
            name = "gauge"
        plain = {"int": "1", "uuid": str(uuid4())}.get(match["converter"] or "", "")
        if name in ("from", "since", "first", "start"):
            plain = "2025-01-01"
        elif name in ("to", "until", "last", "end"):
            plain = "2025-12-31"
        elif name in ("format", "form"):
            plain = "csv"
        return str(known.get((first, name), plain or "1"))

    query = "?kind=mass&name=gross&gross=1" if route.endswith("echo/") else ""
    return "/" + PARAMETER.sub(value, route) + query


@pytest.fixture
def walk(everything: dict[tuple[str, str], object], workshop: Any) -> Callable[..., list[tuple[str, Any]]]:
    """Ask for every address of the workshop with one client and method."""

    def ask(client: Client, method: str = "get") -> list[tuple[str, Any]]:
        found = []
        for route in of_a_workshop():
            at = address(route, everything, workshop.slug)
            found.append((at, getattr(client, method)(at)))
        return found

    return ask


@pytest.mark.parametrize("method", ["get", "post"])
def test_a_member_of_another_workshop_finds_nothing_anywhere(walk: Any, stranger_client: Client, method: str) -> None:
    wrong = [(at, answer.status_code) for at, answer in walk(stranger_client, method) if answer.status_code != 404]
    assert wrong == []


@pytest.mark.parametrize("method", ["get", "post"])
def test_without_signing_in_every_address_leads_to_the_sign_in(walk: Any, client: Client, method: str) -> None:
    wrong = [
        (at, answer.status_code)
        for at, answer in walk(client, method)
        if answer.status_code != 302 or not answer["Location"].startswith("/sign-in/")
    ]
    assert wrong == []


def test_the_owner_meets_no_fault_anywhere(walk: Any, owner_client: Client) -> None:
    wrong = [(at, answer.status_code) for at, answer in walk(owner_client) if answer.status_code >= 400]
    # What the walk cannot name exactly may be missing, and what is only sent to is not looked at; nothing may break.
    assert [pair for pair in wrong if pair[1] not in (404, 405)] == []
    assert len(wrong) <= 7, wrong


def test_things_of_another_book_are_not_found_under_the_own_workshop(
    everything: dict[tuple[str, str], object],
    workshop: Any,
    owner_client: Client,
    sister_book: Any,
    make_cylinder: Any,
    make_partner: Any,
) -> None:
    for _ in range(40):  # so that numbers differ from those in use here
        last = make_partner(f"Partner {_}", book=sister_book)
    far = make_cylinder("FAR", book=sister_book, mass_mg=1_000_000)
    for at in (
        f"/w/{workshop.slug}/cylinders/{far.account.number}/",
        f"/w/{workshop.slug}/cylinders/{far.account.number}/loss/",
        f"/w/{workshop.slug}/partners/{last.account.number}/",
        f"/w/{workshop.slug}/lines/?account={far.account.number}",
    ):
        assert owner_client.get(at).status_code == 404, at
