"""What somebody does to the rows by SQL with the triggers off, and what finds it; the README has the same table."""

import re
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction

from compliance.models import Finding
from inventory.acts import onscale
from inventory.book import audit, changed, guards, witness
from inventory.book.weighing import Gross
from inventory.models import AirCheck, Analysis, Book, Consignment, Entry, Remark, Tare, Trace
from shop.models import Certification, Customer, InstrumentCheck, Step
from shop.people.privacy import remove_customer

pytestmark = [pytest.mark.django_db, pytest.mark.tampers]
FOLDER = Path(__file__).parent

# What is done, what finds it, words of what is said (% stands for a number), and the SQL.
TAMPERING = [line.split("\t") for line in (FOLDER / "tampering.tsv").read_text().splitlines()[1:]]


@pytest.fixture
def full(
    book: Book, workshop: Any, owner: Any, technician: Any, cylinder: Any, scale: Any, partner: Any, make_vehicle: Any,
    arrive: Any, post: Any, issued: Callable[..., Any], now: datetime, act: Any, vehicle_account: Any,
) -> Book:  # fmt: skip
    """A book with one of each thing that a statement, a finding or a paper rests on."""
    vehicle = make_vehicle("V7")
    arrive(vehicle, note="came in")
    Certification.objects.create(user=technician, scheme="a scheme", number="12", expires_on=date(2027, 1, 1))
    Tare.objects.create(cylinder=cylinder, tare_mg=cylinder.tare_mg, source="stamped", since=now)
    InstrumentCheck.objects.create(
        scale=scale, checked_on=date(2026, 1, 2), until=date(2027, 1, 2), by="the office", actor="p-x"
    )
    AirCheck.objects.create(
        account=cylinder.account, occurred_at=now, actor="p-x", request_key=uuid4(), refrigerant="R-134a",
        pressure_pa=700_000.0, temperature_k=298.15, held_mg=1, verdict="air", words="some",
    )  # fmt: skip
    onscale.weigh(book, act(), Gross(cylinder, scale, cylinder.tare_mg + 5_000_000, "11.2 kg"))
    charged = post("charge", cylinder, vehicle_account, 450_000)
    Remark.objects.create(entry=charged, text="as agreed")
    Analysis.objects.create(account=cylinder.account, entry=charged, occurred_at=now, parts={"R-134a": "1"})
    Consignment.objects.create(entry=charged, number="1", purpose="sale", partner=partner, cylinder=cylinder)
    Finding.objects.create(
        workshop=workshop, rule="book-x", about="book", state="open", words="w", law_of=now.date(), day=now.date(),
        judged_at=now,
    )  # fmt: skip
    issued()
    post("charge", cylinder, vehicle_account, 100_000)
    assert Step.objects.exists()
    assert found() == ""
    return Book.objects.get(pk=book.pk)


def found() -> str:
    try:
        call_command("verify")
    except CommandError as error:
        return str(error)
    return ""


def test_what_was_changed_outside_the_product_is_said(full):
    """All on one book, each taken back before the next: a book with everything takes longer to fill than to prove."""
    missed = {}
    for what, _, words, sql in TAMPERING:
        before = transaction.savepoint()
        guards.remove()
        try:
            changed_rows = tamper(sql)
            guards.install()
            said = found() if changed_rows else "no row was changed"
        except DatabaseError as error:
            said = f"the database refuses it: {error}"
        transaction.savepoint_rollback(before)
        if not re.search(re.escape(words).replace("%", r"\d+"), said):
            missed[what] = said or "nothing was found"
    assert missed == {}
    assert found() == ""


def tamper(sql: str) -> int:
    """Do what the SQL says and return how many rows the last statement of it has changed."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET CONSTRAINTS ALL DEFERRED")
        for statement in sql.split("; "):
            cursor.execute(statement)
        return int(cursor.rowcount)


def test_a_tail_cut_with_its_head_is_for_a_witness(full):
    """The last line alone, which no document and no later line names: the one kind that the book cannot see itself."""
    seen = witness.of(full)
    guards.remove()
    last = Entry.objects.get(seq=full.head_seq)
    assert (last.kind, last.movements.count()) == ("post", 1)
    Book.objects.filter(pk=full.pk).update(head_seq=full.head_seq - 1)
    guards.install()
    assert [str(fault) for fault in witness.faults(seen, full)] != []


def test_the_readme_lists_every_kind_and_what_finds_it():
    rows = re.findall(r"^\| ([^|]+) \| ([^|]+) \|$", (FOLDER / "README.md").read_text(), re.MULTILINE)[2:]
    told = [(what, finder) for what, finder, *_ in TAMPERING]
    assert len(told) >= 16
    assert [row for row in rows if row[1] != "witness"] == told


def test_every_record_that_the_product_writes_has_a_history_or_a_reason(full):
    names = {str(model._meta.model_name) for model in changed.kept_models()}
    assert {"cylinder", "step", "certification", "membership", "user", "document", "finding"} <= names
    assert [*audit.faults(full), *changed.faults(full)] == []


def test_what_a_customer_has_removed_is_gone_from_the_history_too(full, workshop, make_vehicle):
    customer = Customer.objects.create(workshop=workshop, name="Ida Brandt", phone="555-0199")
    make_vehicle("IDA 77", customer=customer, vin="VIN0000000000IDA7")
    assert Trace.objects.filter(said__contains="IDA 77").count() >= 2
    remove_customer(customer)
    for gone in ("IDA 77", "IDA7", "Brandt"):
        assert not Trace.objects.filter(said__contains=gone).exists()
    assert found() == ""


def test_a_state_that_was_emptied_outside_the_product_is_said(full):
    with connection.cursor() as cursor:  # the triggers let it pass, as removing personal data does
        cursor.execute("UPDATE inventory_trace SET said = '', salt = '' WHERE model = 'certification'")
        cursor.execute("UPDATE shop_certification SET number = '13'")
    assert "certification" in found()
    assert Trace.objects.filter(model="certification", said="").exists()


def test_the_triggers_refuse_any_other_change_of_the_history(full):
    for sql in (
        "UPDATE inventory_trace SET said = '{}'",
        "UPDATE inventory_trace SET salt = 'other'",
        "UPDATE inventory_trace SET who = 'p-other'",
        "UPDATE inventory_trace SET content = ''",
        "DELETE FROM inventory_trace",
        "UPDATE inventory_book SET trace_seq = 1",
    ):
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(sql)


def test_who_and_when_stand_in_the_history(full, owner_client, workshop, owner, clock, now):
    moment = clock(now + timedelta(minutes=5))
    sent = {"paper": "letter" if workshop.paper != "letter" else "A4", "labels": workshop.labels}
    assert owner_client.post("/w/port-ellery/settings/papers/", sent).status_code == 303
    last = Trace.objects.filter(model="workshop").latest("seq")
    assert (last.who, last.at_ms) == (owner.handle, int(moment.timestamp() * 1000))
