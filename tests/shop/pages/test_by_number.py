"""A cylinder is chosen by its number or its scanned label, typed, wherever one is chosen."""

from typing import Any

import pytest
from django.test import Client

HOME = "/w/port-ellery/"


def ways_to_say(cylinder: Any) -> tuple[str, ...]:
    """Return what a hand or a scanner types for a cylinder."""
    return cylinder.serial.lower(), cylinder.label.lower(), f"HTTPS://OTHER.LAN/C/{cylinder.label}"


@pytest.mark.parametrize(("page", "into"), [("charge", "source"), ("recover", "target")])
def test_a_leg_begins_by_a_number_or_a_label(
    technician_client: Client, arrive: Any, make_cylinder: Any, page: str, into: str
) -> None:
    one = make_cylinder("C-44", mass_mg=5_000_000)
    at = f"{HOME}visits/{arrive().number}/{page}/"
    for said in (*ways_to_say(one), "c44"):
        assert technician_client.get(at, {"said": said})["Location"] == f"?{into}={one.account.number}"
    text = technician_client.get(at, {"said": "Q-9"}).content.decode()
    assert "No cylinder of this book has “Q-9” as its number or on its label." in text
    assert 'value="Q-9"' in text


def test_a_charge_from_an_empty_cylinder_says_so(technician_client: Client, arrive: Any, make_cylinder: Any) -> None:
    one = make_cylinder("E-1")
    at = f"{HOME}visits/{arrive().number}/charge/"
    text = technician_client.get(at, {"source": one.account.number}).content.decode()
    assert "E-1 cannot serve here: it is empty." in text


def test_the_scale_takes_the_exact_one_and_says_where_a_cylinder_is_that_went(
    technician_client: Client, workshop: Any, make_cylinder: Any
) -> None:
    one, gone = make_cylinder("C-4", mass_mg=5_000_000), make_cylinder("G-1", state="away")
    make_cylinder("C-44")
    for said in ways_to_say(one):
        answer = technician_client.get(f"{HOME}weigh/", {"q": said})
        assert answer["Location"] == f"{HOME}cylinders/{one.account.number}/weigh/"
    text = technician_client.get(f"{HOME}weigh/", {"q": gone.label}).content.decode()
    assert "G-1 is away, and does not stand here." in text
    assert (
        "is an address and no label"
        in technician_client.get(f"{HOME}weigh/", {"q": "https://elsewhere.invalid/"}).content.decode()
    )


def test_a_scan_in_a_round_of_the_floor_leads_to_its_reading_and_keeps_what_was_typed(
    technician_client: Client, workshop: Any, book: Any, make_cylinder: Any, scale: Any
) -> None:
    one, other = make_cylinder("C-1", mass_mg=5_000_000), make_cylinder("C-2", mass_mg=4_000_000)
    sent = {f"gross_{other.account.number}": "9.005", "scan": one.label.lower(), "note": "with the owner"}
    book.refresh_from_db()
    head = book.head_seq
    answer = technician_client.post(f"{HOME}stock-take/", sent)
    text = answer.content.decode()
    assert answer.status_code == 200
    assert 'value="9.005"' in text
    assert "with the owner" in text
    began = next(tag for tag in text.split("<input") if "autofocus" in tag)
    assert f'name="gross_{one.account.number}"' in began
    text = technician_client.post(f"{HOME}stock-take/", {**sent, "scan": "Q-9"}).content.decode()
    assert "No cylinder of this book has “Q-9”" in text
    book.refresh_from_db()
    assert book.head_seq == head
