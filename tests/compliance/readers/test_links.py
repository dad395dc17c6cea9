"""Links for readers: what they show and to whom, until when, and what is written down."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from compliance.models import Opening, ReaderLink
from compliance.papers.paper import VISIT
from compliance.readers.links import LinkRefused, Wanted, make_link, revoke
from shop.models import Customer, Vehicle

pytestmark = pytest.mark.django_db
LINKS = "/w/port-ellery/links/"


@pytest.fixture
def make(workshop: Any, owner: Any) -> Callable[..., str]:
    """Make a link and return its address below this server."""

    def link(kind: str = "statement", about: str = "period:2025-01-01:2025-12-31:AR4", **more: Any) -> str:
        ends = more.pop("ends_at", timezone.now() + timedelta(days=14))
        wanted = Wanted(kind, about, more.pop("documents", ()))
        _, token = make_link(workshop, wanted, for_whom="The inspector", ends_at=ends, by=owner, key=uuid4(), **more)
        return f"/read/{token}/"

    return link


def test_a_stranger_with_the_link_reads_the_statement_and_its_files(make: Callable[..., str], client: Client) -> None:
    address = make()
    answer = client.get(address)
    assert answer.status_code == 200
    assert "2025-12-31" in answer.content.decode() or "31 December 2025" in answer.content.decode()
    assert answer["Cache-Control"] == "no-store"
    assert answer["Referrer-Policy"] == "no-referrer"
    assert client.get(f"{address}statement/json/").json()["from"] == "2025-01-01"
    assert client.get(f"{address}statement/pdf/").content.startswith(b"%PDF")


def test_what_was_opened_is_written_down_and_shown_to_the_owner(
    make: Callable[..., str], client: Client, owner_client: Client
) -> None:
    address = make()
    client.get(address)
    client.get(f"{address}statement/csv/")
    assert list(Opening.objects.values_list("what", flat=True)) == ["the statement as csv", "the first page"]
    assert "the statement as csv" in owner_client.get(LINKS).content.decode()


def test_a_link_opens_nothing_else(make: Callable[..., str], client: Client, make_vehicle: Any) -> None:
    vehicle = make_vehicle("PE 14 ABC")
    by_statement, by_vehicle = make(), make("vehicle", f"vehicle:{vehicle.account.number}")
    assert client.get(f"{by_statement}documents/1/").status_code == 404
    assert client.get(f"{by_vehicle}statement/json/").status_code == 404
    assert client.get("/w/port-ellery/").status_code == 302
    assert "PE 14 ABC" not in client.get(by_statement).content.decode()


def test_a_vehicle_is_shown_without_whose_it_is(
    make: Callable[..., str], client: Client, make_vehicle: Any, workshop: Any
) -> None:
    from shop.models import Customer

    customer = Customer.objects.create(workshop=workshop, name="Ansel Quill", phone="0150 333")
    vehicle = make_vehicle("PE 14 ABC", customer=customer)
    shown = client.get(make("vehicle", f"vehicle:{vehicle.account.number}")).content.decode()
    assert "PE 14 ABC" in shown
    assert "Quill" not in shown
    assert "0150 333" not in shown


def test_the_label_of_a_converted_vehicle_is_named_by_its_refrigerant(
    make: Callable[..., str], client: Client, make_vehicle: Any
) -> None:
    vehicle = make_vehicle("OLD 1", refrigerant="R-134a", original_refrigerant="R-12", nameplate_mg=1_020_000)
    shown = client.get(make("vehicle", f"vehicle:{vehicle.account.number}")).content.decode()
    assert "<dt>Mass on its R-12 label</dt>" in shown


def test_an_ended_link_leads_nowhere_and_says_why(
    make: Callable[..., str], client: Client, clock: Callable[[datetime], None]
) -> None:
    address = make(ends_at=timezone.now() + timedelta(days=1))
    clock(datetime.now(UTC) + timedelta(days=2))
    answer = client.get(address)
    assert answer.status_code == 404
    assert "This link ended on" in answer.content.decode()


def test_the_day_of_a_revoked_or_ended_link_is_the_workshops(
    make: Callable[..., str], client: Client, owner_client: Client, clock: Callable[[datetime], None]
) -> None:
    late = datetime(2026, 7, 1, 22, 30, tzinfo=UTC)  # half past midnight on the 2nd where the workshop is
    clock(late - timedelta(days=1))
    ended, revoked = make(ends_at=late), make(ends_at=late + timedelta(days=9))
    clock(late)
    revoke(ReaderLink.objects.latest("ends_at"))
    assert "ended on 2026-07-02" in client.get(ended).content.decode()
    assert "was revoked on 2026-07-02" in client.get(revoked).content.decode()
    listed = owner_client.get(LINKS).content.decode()
    assert "ended on 2026-07-02" in listed
    assert "was revoked on 2026-07-02" in listed


def test_a_revoked_link_leads_nowhere_at_once(make: Callable[..., str], client: Client, owner_client: Client) -> None:
    address = make()
    link = ReaderLink.objects.get()
    assert owner_client.post(f"{LINKS}{link.pk}/revoke/").status_code == 303
    assert "was revoked on" in client.get(address).content.decode()
    assert client.get(f"{address}statement/json/").status_code == 404


def test_a_token_that_was_never_given_leads_nowhere(client: Client, db: None) -> None:
    answer = client.get("/read/abc/")
    assert answer.status_code == 404
    assert "leads nowhere" in answer.content.decode()


def test_the_owner_makes_a_link_and_sees_its_address_once(owner_client: Client, client: Client, workshop: Any) -> None:
    sent = {
        "key": str(uuid4()),
        "kind": "statement",
        "first": "2025-01-01",
        "last": "2025-12-31",
        "basis": "AR4",
        "for_whom": "The inspector",
        "until": (timezone.localdate() + timedelta(days=5)).isoformat(),
    }
    assert owner_client.post(f"{LINKS}new/", sent).status_code == 303
    first, second = (owner_client.get(LINKS).content.decode() for _ in range(2))
    address = re.search(r"/read/[\w-]{40,}/", first)
    assert address
    assert client.get(address.group()).status_code == 200
    assert address.group() not in second
    assert owner_client.post(f"{LINKS}new/", sent).status_code == 303
    assert ReaderLink.objects.count() == 1


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"until": "2020-01-01"}, "has passed"),
        ({"for_whom": ""}, "Enter the name or office"),
        ({"kind": "vehicle"}, "Choose the vehicle"),
        ({"kind": "documents"}, "Choose the documents"),
        ({"first": "2026-01-01"}, "ends before it begins"),
        ({"until": "2099-01-01"}, "within a year"),
    ],
)
def test_a_wrong_form_says_what_is_wrong_and_makes_no_link(
    owner_client: Client, workshop: Any, changed: dict[str, str], said: str
) -> None:
    day = (timezone.localdate() + timedelta(days=5)).isoformat()
    sent = {"key": str(uuid4()), "kind": "statement", "first": "2025-01-01", "last": "2025-12-31", "basis": "AR4"}
    answer = owner_client.post(f"{LINKS}new/", {**sent, "for_whom": "X", "until": day, **changed})
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not ReaderLink.objects.exists()


def test_only_the_owner_makes_links(technician_client: Client, reader_client: Client) -> None:
    assert technician_client.get(f"{LINKS}new/").status_code == 403
    assert reader_client.get(LINKS).status_code == 403


def test_no_documents_no_link(workshop: Any, owner: Any) -> None:
    with pytest.raises(LinkRefused, match="Choose the documents"):
        make_link(
            workshop,
            Wanted("documents"),
            for_whom="X",
            ends_at=timezone.now() + timedelta(days=1),
            by=owner,
            key=uuid4(),
        )


def test_a_vehicles_link_hands_out_no_record_that_names_its_customer(
    make: Callable[..., str], client: Client, arrive: Any, issued: Any, make_vehicle: Any, workshop: Any
) -> None:
    vehicle = make_vehicle("PE 14 ABC")
    visit = arrive(vehicle)
    before = issued(visit.context, kind=VISIT)
    somebody = Customer.objects.create(workshop=workshop, name="Aldous Penrake")
    Vehicle.objects.filter(pk=vehicle.pk).update(customer=somebody)
    named = issued(visit.context, kind=VISIT)
    address = make("vehicle", f"vehicle:{vehicle.account.number}")
    assert client.get(f"{address}documents/{before.number}/").status_code == 200
    assert client.get(f"{address}documents/{named.number}/").status_code == 404
    assert "Penrake" not in client.get(address).content.decode()
