"""What opens a page to whoever knows it does not stand in the log."""

import logging
from typing import Any

import pytest
from django.test import Client

from shop.serving.secret import SecretAddresses, without_secrets


@pytest.mark.parametrize("kind", ["read", "car", "calendar"])
def test_the_secret_part_of_an_address_is_left_out(kind: str) -> None:
    told = without_secrets(f'"GET /{kind}/Zm9v-_x/statement/csv/?a=1 HTTP/1.1" 200')
    assert told in (f'"GET /{kind}/.../statement/csv/?a=1 HTTP/1.1" 200',)


def test_other_addresses_stay() -> None:
    for text in ("/w/a/visits/7/", "/already/x/", "/read/", "/readings/abc/"):
        assert without_secrets(text) == text


@pytest.mark.django_db
def test_a_wrong_address_is_logged_without_its_secret(client: Client, caplog: pytest.LogCaptureFixture) -> None:
    caplog.handler.addFilter(SecretAddresses())
    with caplog.at_level(logging.WARNING, "django.request"):
        client.get("/calendar/Zm9vYmFyYmF6/")
        client.post("/calendar/Zm9vYmFyYmF6/")
    assert "/calendar/.../" in caplog.text
    assert "Zm9v" not in caplog.text


@pytest.mark.django_db
def test_what_was_typed_into_an_address_is_not_logged(
    reader_client: Client, workshop: Any, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.handler.addFilter(SecretAddresses())
    with caplog.at_level(logging.WARNING, "django.request"):
        for typed in ("people/Jane Doe/", "Jane Doe/", "vehicles/new/"):
            assert 400 <= reader_client.get(f"/w/{workshop.slug}/{typed}").status_code < 500
        assert reader_client.get("/Jane Doe").status_code == 404
    assert "Jane" not in caplog.text
    assert "Forbidden (Permission denied): /w/<slug:slug>/vehicles/new/" in caplog.text
    assert "Not Found: an address that is not there" in caplog.text
