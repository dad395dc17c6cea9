"""The Find box: what it answers to, who sees what, and the ways on where nothing fits."""

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inventory.measure.codes import check_character
from inventory.models import Gauge
from shop.models import Customer
from shop.people import privacy

HOME = "/w/port-ellery/"
FIND = HOME + "search/"


def page(client: Client, said: str) -> str:
    answer = client.get(FIND, {"q": said})
    assert answer.status_code == 200, answer.headers.get("Location")
    return answer.content.decode()


def leads(client: Client, said: str) -> str:
    answer = client.get(FIND, {"q": said})
    assert answer.status_code == 302, answer.content.decode()
    return str(answer["Location"])


def test_one_hit_leads_straight_there_and_none_says_so(technician_client: Client, make_vehicle: Any) -> None:
    one = make_vehicle("V1")
    assert leads(technician_client, "v1") == f"{HOME}vehicles/{one.account.number}/"
    assert "Nothing here fits “zzz”" in page(technician_client, "zzz")


def test_a_serial_a_label_and_a_line_are_found(technician_client: Client, workshop: Any, cylinder: Any) -> None:
    there = f"{HOME}cylinders/{cylinder.account.number}/"
    for said in (cylinder.serial, cylinder.label, f"https://book.invalid/c/{cylinder.label}/", f"]Q3{cylinder.label}"):
        assert leads(technician_client, said) == there
    assert leads(technician_client, "line 1") == f"{HOME}lines/1/"


def test_signs_do_not_count_and_the_exact_one_comes_first(
    technician_client: Client, make_cylinder: Any, make_vehicle: Any, workshop: Any
) -> None:
    one = make_cylinder("C-44", mass_mg=5_000_000)
    make_cylinder("C-441")
    assert leads(technician_client, "c44") == f"{HOME}cylinders/{one.account.number}/"
    text = page(technician_client, "44")
    assert f"{HOME}cylinders/{one.account.number}/weigh/" in text
    assert "R-134a virgin 5.000" in text
    plated = make_vehicle("AB 12 CDE")
    assert leads(technician_client, "ab12cde") == f"{HOME}vehicles/{plated.account.number}/"


def test_vehicles_by_make_customers_by_name_and_telephone(
    technician_client: Client, reader_client: Client, make_vehicle: Any, workshop: Any
) -> None:
    customer = Customer.objects.create(workshop=workshop, name="Zoë Ödegård", phone="+44 (1496) 555 0167")
    make_vehicle("K 1", make_model="Citadel Škarpa 2", customer=customer)
    make_vehicle("K 2", make_model="Citadel Mole", customer=customer)
    assert "K 1" in page(technician_client, "citadel")
    assert "K 2" in page(technician_client, "CITADEL")
    assert leads(technician_client, "skarpa citadel").startswith(f"{HOME}vehicles/")
    there = f"{HOME}customers/{customer.pk}/"
    for said in ("odegard", "Ödegård Zoë", "01496 555-0167", "5550167"):
        assert leads(technician_client, said) == there
        assert "Nothing here fits" in page(reader_client, said)


def test_a_customer_that_was_removed_is_not_found(technician_client: Client, make_vehicle: Any, workshop: Any) -> None:
    customer = Customer.objects.create(workshop=workshop, name="Ossian Thrale", phone="555 0188")
    make_vehicle("QQ 77", customer=customer)
    assert leads(technician_client, "thrale")
    privacy.remove_customer(customer)
    for said in ("thrale", "5550188", "qq77", "removed"):
        assert "Nothing here fits" in page(technician_client, said)


def test_papers_partners_people_and_instruments(
    owner_client: Client, make_cylinder: Any, make_partner: Any, make_scale: Any, book: Any, technician: Any
) -> None:
    come = make_cylinder("P-1", mass_mg=4_000_000, paper_number="INV/2026-118")
    line = come.account.received.get().entry.seq
    assert leads(owner_client, "inv 2026 118") == f"{HOME}lines/{line}/"
    partner = make_partner("Nordlys Gas")
    assert leads(owner_client, "gas nordlys") == f"{HOME}partners/{partner.account.number}/"
    make_scale("Bench scale", serial="SN-4471")
    assert leads(owner_client, "sn4471").startswith(f"{HOME}settings/scales/")
    gauge = Gauge.objects.create(book=book, name="Red manifold", kind="pressure gauge")
    assert leads(owner_client, "red manifold") == f"{HOME}settings/instruments/{gauge.pk}/"
    assert leads(owner_client, technician.username) == f"{HOME}people/{technician.handle}/"


def test_a_visit_by_its_number(technician_client: Client, arrive: Any) -> None:
    visit = arrive()
    assert leads(technician_client, f"visit {visit.number}") == f"{HOME}visits/{visit.number}/"
    assert f"visit {visit.number}" in page(technician_client, str(visit.number))


def test_other_books_stay_out_of_sight_but_for_who_works_there(
    technician_client: Client,
    technician: Any,
    make_cylinder: Any,
    other_workshop: Any,
    sister_book: Any,
    make_user: Any,
) -> None:
    there = make_cylinder("X-9", book=sister_book)
    for said in ("X-9", there.label):
        text = page(technician_client, said)
        assert "Nothing here fits" in text
        assert "Highmoor" not in text
    other_workshop.memberships.create(user=technician, role="technician")
    assert "Open cylinder X-9 of Highmoor" in page(technician_client, there.label)


def test_what_is_not_found_says_the_ways_on_to_who_may_write(
    technician_client: Client, reader_client: Client, workshop: Any
) -> None:
    text = page(technician_client, "GH 77")
    assert f"{HOME}cylinders/receive/?serial=GH+77" in text
    assert f"{HOME}vehicles/new/?registration=GH+77" in text
    assert "Receive a cylinder" not in page(reader_client, "GH 77")
    begun = technician_client.get(f"{HOME}vehicles/new/?registration=GH+77").content.decode()
    assert 'value="GH 77"' in begun
    begun = technician_client.get(f"{HOME}cylinders/receive/?serial=GH+77&origin=empty&kind=recovery").content.decode()
    assert 'value="GH 77"' in begun
    label = "7K3M9" + check_character("7K3M9")
    wrong = f"https://book.invalid/c/{label[:-1]}{'0' if label[-1] != '0' else '2'}"
    assert "a character read wrong" in page(technician_client, wrong)
    assert "is an address" in page(technician_client, "https://elsewhere.invalid/")


def test_more_than_the_page_lists_is_said_and_asks_no_more_of_the_database(
    technician_client: Client, make_cylinder: Any, make_vehicle: Any, workshop: Any
) -> None:
    for at in range(3):
        make_cylinder(f"Z-{at}", mass_mg=1_000_000, paper_number=f"Z/{at}")
        make_vehicle(f"Z V{at}")
    with CaptureQueriesContext(connection) as few:
        assert "There are more" not in page(technician_client, "z")
    for at in range(3, 15):
        make_cylinder(f"Z-{at}", mass_mg=1_000_000, paper_number=f"Z/{at}")
        make_vehicle(f"Z V{at}")
    with CaptureQueriesContext(connection) as many:
        text = page(technician_client, "z")
    assert "There are more. Type more of it." in text
    assert text.count(">vehicle<") == text.count(">cylinder<") == 10
    assert len(many) == len(few)


@pytest.mark.parametrize("said", [" ", "%", "'", "_", "line", "visit 99999999999", "9" * 300, "\ufb03\u0301"])
def test_any_text_is_answered(technician_client: Client, workshop: Any, cylinder: Any, said: str) -> None:
    assert technician_client.get(FIND, {"q": said}).status_code == 200


class TestScanned:
    """What the camera's dialog is told."""

    def ask(self, client: Client, said: str, **more: str) -> Any:
        return client.get(f"{HOME}scanned/", {"said": said, **more}).json()

    def test_a_label_names_its_cylinder(self, technician_client: Client, workshop: Any, cylinder: Any) -> None:
        found = self.ask(technician_client, f"HTTPS://OTHER.LAN/C/{cylinder.label}")
        assert (found["fill"], found["number"]) == (cylinder.serial, cylinder.account.number)

    def test_a_new_number_is_taken_and_a_known_one_is_not(
        self, technician_client: Client, workshop: Any, cylinder: Any
    ) -> None:
        assert self.ask(technician_client, "N-77", **{"for": "new"})["fill"] == "N-77"
        known = self.ask(technician_client, cylinder.label, **{"for": "new"})
        assert "fill" not in known
        assert f"is cylinder {cylinder}" in known["words"]
        assert "fill" not in self.ask(technician_client, "https://elsewhere.invalid/x", **{"for": "new"})

    def test_what_is_foreign_is_a_sentence_with_what_was_read(
        self, technician_client: Client, workshop: Any, make_cylinder: Any, sister_book: Any
    ) -> None:
        there = make_cylinder("X-9", book=sister_book)
        told = self.ask(technician_client, f"HTTPS://OTHER.LAN/C/{there.label}")
        assert "fill" not in told
        assert there.label in told["words"]
        assert "X-9" not in str(told)
