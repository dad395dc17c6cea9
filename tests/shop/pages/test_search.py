"""The search box."""

from typing import Any

from django.test import Client

HOME = "/w/port-ellery/"


def test_one_hit_leads_straight_there_and_none_says_so(technician_client: Client, make_vehicle: Any) -> None:
    one = make_vehicle("V1")
    found = technician_client.get(HOME + "search/", {"q": "v1"})
    assert found["Location"] == f"{HOME}vehicles/{one.account.number}/"
    assert "Nothing here fits" in technician_client.get(HOME + "search/", {"q": "zzz"}).content.decode()


def test_a_serial_a_label_and_a_line_are_found(technician_client: Client, workshop: Any, cylinder: Any) -> None:
    there = f"{HOME}cylinders/{cylinder.account.number}/"
    for said in (cylinder.serial, cylinder.label, f"https://book.invalid/c/{cylinder.label}/"):
        assert technician_client.get(HOME + "search/", {"q": said})["Location"] == there
    assert technician_client.get(HOME + "search/", {"q": "line 1"})["Location"] == f"{HOME}lines/1/"
