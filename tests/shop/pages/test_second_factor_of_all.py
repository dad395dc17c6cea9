"""An owner asks a second factor of everybody: who has none turns one on before anything of the book is shown."""

from typing import Any

import pytest
from django.test import Client
from django_otp.plugins.otp_totp.models import TOTPDevice

pytestmark = pytest.mark.django_db
HOME = "/w/port-ellery/"


def ask_of_all(client: Client, ask: str = "1") -> int:
    return int(client.post(f"{HOME}people/second-factor/", {"ask": ask}).status_code)


def test_whoever_has_none_is_led_to_turn_one_on_and_then_goes_on(
    owner_client: Client, technician_client: Client, owner: Any, technician: Any, workshop: Any
) -> None:
    TOTPDevice.objects.create(user=owner, confirmed=True)
    assert ask_of_all(owner_client) == 303
    for at in ("", "cylinders/", "people/"):
        assert technician_client.get(HOME + at).headers["Location"] == "/second-factor/"
        assert owner_client.get(HOME + at).status_code == 200
    assert (
        technician_client.post(f"{HOME}partners/new/", {"name": "Gas and Co"}).headers["Location"] == "/second-factor/"
    )
    TOTPDevice.objects.create(user=technician, confirmed=False)
    assert technician_client.get(HOME).status_code == 303
    assert "asks for a second factor of everybody" in technician_client.get("/second-factor/").content.decode()
    TOTPDevice.objects.filter(user=technician).update(confirmed=True)
    assert technician_client.get(HOME).status_code == 200
    assert ask_of_all(owner_client, "0") == 303
    TOTPDevice.objects.all().delete()
    assert technician_client.get(HOME).status_code == 200


def test_an_owner_without_one_cannot_ask_it_and_nobody_else_may(
    owner_client: Client, technician_client: Client, technician: Any, workshop: Any
) -> None:
    assert ask_of_all(owner_client) == 403
    assert "turn your own on" in owner_client.get(f"{HOME}people/").content.decode()
    TOTPDevice.objects.create(user=technician, confirmed=True)
    assert ask_of_all(technician_client) == 403
    workshop.refresh_from_db()
    assert not workshop.second_factor
