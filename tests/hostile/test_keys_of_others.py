"""The key of a form that another workshop has used opens nothing there, and is refused here."""

from typing import Any

import pytest
from django.test import Client

from shop.models import Step, Visit
from shop.people.setup import create_workshop

pytestmark = [pytest.mark.django_db, pytest.mark.any_database]


def test_an_arrival_with_the_key_of_another_workshops_step_is_refused(
    arrive: Any, make_vehicle: Any, stranger: Any, client: Client
) -> None:
    theirs = arrive(make_vehicle("V7")).steps.get()
    far = create_workshop(name="Far away", address="", zone="UTC", altitude_m=None, jurisdiction="eu", owner=stranger)
    client.force_login(stranger)
    sent = {"registration": "FAR 1", "state": "runs", "doer": stranger.handle, "key": str(theirs.request_key)}
    answer = client.post(f"/w/{far.slug}/visits/new/", sent)
    assert answer.status_code == 422
    assert "already used for another step" in answer.content.decode()
    assert not Visit.objects.filter(workshop=far).exists()
    assert Step.objects.get() == theirs
