"""Papers, signatures and mails stand in the file of what is stored about a person, and about a customer."""

import json
from typing import Any
from uuid import uuid4

import pytest

from compliance.documents import stored
from compliance.documents.signing import sign
from compliance.models import Document, Sending
from shop.models import Customer
from shop.people.privacy import customer_data, person_data

pytestmark = pytest.mark.django_db
STROKES = [[[10, 20], [300, 150]]]


def mailed(document: Document, by: Any, now: Any) -> None:
    Sending.objects.create(document=document, by=by, at=now, state=Sending.SENT, request_key=uuid4())


def test_a_person_is_told_which_papers_they_mailed_and_which_signatures_name_them(
    document: Document, technician: Any, owner: Any, workshop: Any, now: Any
) -> None:
    mailed(document, technician, now)
    taken = sign(
        document, name="Petra Example", part="For the customer", strokes=STROKES, by=technician, now=now, key=uuid4()
    )
    own = sign(document, name=str(technician), part="For the workshop", strokes=STROKES, by=owner, now=now, key=uuid4())
    found = person_data(technician, workshop)
    moment = now.isoformat(timespec="seconds")
    assert found["papers_mailed"] == [{"paper": 1, "at": moment, "state": "sent"}]
    assert found["signatures"] == [
        {"paper": 1, "part": "took the signature", "line": taken.entry.seq, "at": moment},
        {
            "paper": 1,
            "part": "signed",
            "name": str(technician),
            "for": "For the workshop",
            "at": moment,
            "line": own.entry.seq,
            "strokes": STROKES,
        },
    ]
    assert "Petra Example" not in json.dumps(found)  # another's name and hand are not this person's
    assert stored.of_person(owner, workshop)["papers_mailed"] == []


def test_a_customer_is_told_of_the_papers_of_their_visits_and_who_signed_them(
    issued: Any, arrive: Any, make_vehicle: Any, technician: Any, workshop: Any, now: Any
) -> None:
    customer = Customer.objects.create(workshop=workshop, name="Petra Example")
    visit = arrive(make_vehicle("V9", customer=customer))
    document = issued(visit.context)
    sign(document, name="Petra Example", part="For the customer", strokes=STROKES, by=technician, now=now, key=uuid4())
    mailed(document, technician, now)
    (vehicle,) = customer_data(customer)["vehicles"]
    (paper,) = vehicle["visits"][0]["papers"]
    assert (paper["number"], paper["kind"]) == (1, document.kind)
    assert [(one["name"], one["strokes"]) for one in paper["signatures"]] == [("Petra Example", STROKES)]
    assert [one["state"] for one in paper["mails"]] == ["sent"]
