"""The page of reminders: a person's own choice, the mail of today, the calendar address."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.core import mail
from django.test import Client
from django.utils import timezone

from compliance.models import CalendarAddress, Reminded

pytestmark = [pytest.mark.django_db, pytest.mark.any_database]
PAGE = "/w/port-ellery/reminders/"


def text(client: Client) -> str:
    answer = client.get(PAGE)
    assert answer.status_code == 200
    return str(answer.content.decode())


def choose(client: Client, email: str = "anna@example.org") -> Any:
    return client.post(PAGE, {"by_mail": "on", "email": email})


def test_a_person_chooses_mail_and_gets_that_of_today_once(
    technician_client: Client, technician: Any, make_scale: Any
) -> None:
    make_scale("S7", calibrated_until=timezone.localdate() - timedelta(days=3))
    assert choose(technician_client).status_code == 303
    technician.refresh_from_db()
    assert technician.email == "anna@example.org"
    for _ in range(2):
        assert technician_client.post(f"{PAGE}send/").status_code == 303
    assert [one.to for one in mail.outbox] == [["anna@example.org"]]
    assert "Scale S7: its check ran out" in mail.outbox[0].body
    shown = text(technician_client)
    assert "The mail of today has been sent already." in shown
    assert "sent, 1 thing due" in shown


@pytest.mark.parametrize("email", ["", "anna", "anna@example.org\nBcc: b@example.org", "a" * 250 + "@example.org"])
def test_an_address_that_is_none_is_asked_for_again(email: str, technician_client: Client) -> None:
    answer = choose(technician_client, email)
    assert answer.status_code == 422
    assert 'id="id_email"' in answer.content.decode()
    assert not Reminded.objects.exists()


def test_the_mail_server_that_is_away_is_said_on_the_page(
    technician_client: Client, make_scale: Any, settings: Any
) -> None:
    make_scale("S7", calibrated_until=timezone.localdate())
    choose(technician_client)
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    assert "No mail server is set" in text(technician_client)
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 9  # nothing listens there
    technician_client.post(f"{PAGE}send/")
    shown = text(technician_client)
    assert shown.count("The mail server 127.0.0.1 does not answer. The next run tries again.") == 2


def test_a_calendar_address_is_shown_once_replaced_and_revoked(technician_client: Client, client: Client) -> None:
    addresses = []
    for _ in range(2):
        technician_client.post(f"{PAGE}calendar/")
        found = re.search(r"http://testserver(/calendar/[\w-]{43}/)", text(technician_client))
        assert found
        addresses.append(found[1])
        assert found[1] not in text(technician_client)
    assert [client.get(one).status_code for one in addresses] == [410, 200]
    technician_client.post(f"{PAGE}calendar/revoke/")
    assert "leads nowhere any more" in text(technician_client)
    assert [client.get(one).status_code for one in addresses] == [410, 410]
    assert CalendarAddress.objects.count() == 2


def test_looking_changes_nothing(technician_client: Client) -> None:
    for way in ("send/", "calendar/", "calendar/revoke/"):
        assert technician_client.get(f"{PAGE}{way}").status_code == 303
    assert not CalendarAddress.objects.exists()


def test_the_owner_sees_who_gets_mail_and_nobody_else_does(owner_client: Client, technician_client: Client) -> None:
    choose(technician_client)
    assert "anna@example.org" in text(owner_client)
    assert "Who gets mail here" not in text(technician_client)


def test_a_reader_has_no_reminders(reader_client: Client) -> None:
    assert reader_client.get(PAGE).status_code == 403
    assert PAGE not in reader_client.get("/w/port-ellery/settings/").content.decode()


def test_the_settings_lead_there(technician_client: Client) -> None:
    assert f'href="{PAGE}"' in technician_client.get("/w/port-ellery/settings/").content.decode()
