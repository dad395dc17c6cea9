"""A disk that is full is said in words, with what was typed; once there is room the same form is written, once."""

import re
from html import unescape
from typing import Any

import pytest
from django.db import connection
from django.test import Client

from inventory.models import Partner
from shop.pages.refusing import is_full


def of_the_disk() -> OSError:
    try:
        with open("/dev/full", "w") as full:
            full.write("x")
    except OSError as fault:
        return fault
    raise AssertionError("/dev/full took something")


def test_a_full_disk_is_known_by_its_number_however_deep() -> None:
    assert is_full(of_the_disk())
    outer = ValueError("could not be kept")
    outer.__cause__ = of_the_disk()
    assert is_full(outer)
    assert not is_full(OSError(13, "may not"))
    assert not is_full(None)


@pytest.mark.django_db(transaction=True)
def test_what_was_typed_waits_on_the_page_for_room(workshop: Any, owner_client: Client) -> None:
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL's disk cannot be filled from here; its number is known above.")
    owner_client.raise_request_exception = False
    at = f"/w/{workshop.slug}/partners/new/"
    page = owner_client.get(at).content.decode()
    sent = dict(re.findall(r'name="([^"]+)"[^>]*value="([^"]*)"', page)) | {
        "name": "Gas & Co <Ltd>",
        "address": "x" * 200_000,
        "does": ["supplier"],
        "roles": ["supplier"],
    }
    with connection.cursor() as cursor:
        most = cursor.execute("PRAGMA max_page_count").fetchone()[0]
        cursor.execute("PRAGMA max_page_count = 1")  # no more than there are
        try:
            full = owner_client.post(at, sent)
        finally:
            cursor.execute(f"PRAGMA max_page_count = {most}")
    text = full.content.decode()
    assert full.status_code == 503
    assert "full" in text
    assert not Partner.objects.filter(account__label="Gas & Co <Ltd>").exists()
    kept = [
        (unescape(name), unescape(value)) for name, value in re.findall(r'hidden" name="([^"]+)" value="([^"]*)"', text)
    ]
    assert ("name", "Gas & Co <Ltd>") in kept
    again: dict[str, list[str]] = {}
    for name, value in kept:
        again.setdefault(name, []).append(value)
    assert owner_client.post(at, again).status_code == 303
    assert owner_client.post(at, again).status_code < 500
    assert Partner.objects.filter(account__label="Gas & Co <Ltd>").count() == 1
