"""A phone that several people share: a PIN changes who writes, and what it does not open."""

from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import quote_plus

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Entry
from shop.models import Membership, User
from shop.people import hands
from tests.answers import confirm, words

HOME = "/w/port-ellery/"
PASSWORD = "four unrelated words"

pytestmark = pytest.mark.django_db


@pytest.fixture
def phone(client: Client, workshop: Any, owner: Any, technician: Any) -> Client:
    """A phone on which the owner signed in, then the technician; both have a PIN."""
    for person, pin in ((owner, "5093"), (technician, "2847")):
        person.set_password(PASSWORD)
        person.save()
        hands.set_pin(person, pin)
    for person in (owner, technician):
        sign_in(client, person)
    return client


def sign_in(phone: Client, person: User) -> None:
    answer = phone.post("/sign-in/?other=1", {"username": person.username, "password": PASSWORD})
    assert answer.status_code == 303


def take_over(phone: Client, person: User, pin: str, following: str = "") -> Any:
    return phone.post(f"{HOME}who-writes/", {"person": person.handle, "pin": pin, "next": following})


def writes_now(phone: Client) -> str:
    return str(phone.get(f"{HOME}cylinders/").context["user"])


def test_a_pin_changes_who_writes_and_leads_back_to_the_page(phone: Client, owner: Any, technician: Any) -> None:
    assert writes_now(phone) == str(technician)
    assert take_over(phone, owner, "5093", f"{HOME}cylinders/").headers["Location"] == f"{HOME}cylinders/"
    assert writes_now(phone) == str(owner)
    assert take_over(phone, technician, "2847").status_code == 303
    assert writes_now(phone) == str(technician)


def test_the_line_says_who(phone: Client, owner: Any, cylinder: Any, scale: Any) -> None:
    take_over(phone, owner, "5093")
    sent = {"gross": "11.2", "gross_unit": "kg", "scale": str(scale.number)}
    assert confirm(phone, f"{HOME}cylinders/{cylinder.account.number}/weigh/", sent).status_code == 303
    assert Entry.objects.order_by("seq").last().actor == owner.handle


def test_a_wrong_pin_changes_nothing_and_five_ask_for_the_password(phone: Client, owner: Any, technician: Any) -> None:
    for left in range(hands.MOST_HERE - 1, 0, -1):
        assert f"{left} more wrong one" in words(take_over(phone, owner, "1111"))
    assert "is asked for the password here, once" in words(take_over(phone, owner, "1111"))
    assert take_over(phone, owner, "5093").status_code == 422
    assert writes_now(phone) == str(technician)
    page = phone.get(f"{HOME}who-writes/")
    assert owner not in page.context["people"]
    assert f"{owner}: too many wrong PINs were given" in words(page)
    sign_in(phone, technician)  # whoever tried cannot begin anew
    assert take_over(phone, owner, "5093").status_code == 422
    sign_in(phone, owner)
    take_over(phone, technician, "2847")
    assert take_over(phone, owner, "5093").status_code == 303


def test_wrong_pins_on_one_phone_take_nothing_from_the_person_on_another(
    phone: Client, owner: Any, technician: Any
) -> None:
    other = Client()
    for person in (owner, technician):
        sign_in(other, person)
    for _ in range(hands.MOST_HERE + 1):
        take_over(phone, owner, "1111")
    assert take_over(other, owner, "5093").status_code == 303
    assert take_over(phone, owner, "5093").status_code == 422


def test_many_phones_together_are_tried_out_and_a_sign_in_in_full_goes_on(
    phone: Client, owner: Any, technician: Any
) -> None:
    User.objects.filter(pk=owner.pk).update(pin_tries=hands.MOST_IN_ALL - 1)
    assert "is asked for the password here, once" in words(take_over(phone, owner, "1111"))
    assert take_over(phone, owner, "5093").status_code == 422
    sign_in(phone, owner)
    take_over(phone, technician, "2847")
    assert take_over(phone, owner, "5093").status_code == 303


def test_a_pin_opens_the_workshop_of_the_phone_alone(phone: Client, owner: Any, make_workshop: Any) -> None:
    elsewhere = make_workshop("South Yard")
    Membership.objects.create(user=owner, workshop=elsewhere, role="technician")
    there = f"/w/{elsewhere.slug}/"
    take_over(phone, owner, "5093")
    assert writes_now(phone) == str(owner)
    for answer in (phone.get(there), phone.post(f"{there}cylinders/receive/", {})):
        assert answer.status_code == 303
        assert answer.headers["Location"].startswith("/sign-in/?other=1")
    move = phone.get(f"{HOME}cylinders/")
    assert move.wsgi_request.access.other_books() == []
    sign_in(phone, owner)
    assert phone.get(there).status_code == 200


def test_a_pin_that_is_right_at_the_last_try_counts_and_is_taken_again(
    phone: Client, owner: Any, technician: Any
) -> None:
    for _ in range(hands.MOST_HERE - 1):
        assert take_over(phone, owner, "1111").status_code == 422
    for person, pin in ((owner, "5093"), (technician, "2847"), (owner, "5093")):
        assert take_over(phone, person, pin).status_code == 303


def test_a_session_ends_when_it_says_whatever_is_kept_in_it(
    phone: Client, owner: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    ends = phone.session["ends"]
    later = timezone.now() + timedelta(minutes=30)
    monkeypatch.setattr(timezone, "now", lambda: later)
    take_over(phone, owner, "5093")
    kept = phone.session
    kept["more"] = 1
    kept.save()
    assert phone.session.get_expiry_date().timestamp() == pytest.approx(ends, abs=1)
    over = datetime.fromtimestamp(ends + 60, UTC)
    monkeypatch.setattr(timezone, "now", lambda: over)
    assert phone.get(f"{HOME}cylinders/").headers["Location"].startswith("/sign-in/")


def test_only_who_signed_in_here_may_take_over(phone: Client, owner: Any, technician: Any) -> None:
    elsewhere = Client()
    sign_in(elsewhere, technician)
    assert take_over(elsewhere, owner, "5093").status_code == 422


def test_a_sign_in_of_the_day_before_is_none(phone: Client, owner: Any) -> None:
    """The session runs on past midnight; who signed in before that gives the password again."""
    session = phone.session
    session[hands.HERE][str(owner.pk)][0] -= timedelta(days=1).total_seconds()
    session.save()
    assert take_over(phone, owner, "5093").status_code == 422


@pytest.mark.parametrize("change", ["password", "left", "reads only", "barred", "no pin", "signed out"])
def test_what_ends_a_way_in_by_pin(change: str, phone: Client, owner: Any, technician: Any) -> None:
    if change == "password":
        owner.set_password("another four words here")
        owner.save()
    elif change == "left":
        owner.memberships.update(active=False)
    elif change == "reads only":
        owner.memberships.update(role="reader")
    elif change == "barred":
        User.objects.filter(pk=owner.pk).update(is_active=False)
    elif change == "no pin":
        hands.set_pin(owner, "")
    else:
        phone.post("/sign-out/")
        sign_in(phone, technician)
    assert take_over(phone, owner, "5093").status_code == 422


@pytest.mark.parametrize("pin", ["", "6174"])
def test_a_pin_taken_off_or_changed_ends_what_it_opened(pin: str, phone: Client, owner: Any) -> None:
    take_over(phone, owner, "5093")
    hands.set_pin(owner, pin)
    answer = phone.get(f"{HOME}cylinders/")
    assert answer.headers["Location"] == f"/sign-in/?next={HOME}cylinders/"
    assert "_auth_user_id" not in phone.session


@pytest.mark.parametrize("path", [f"{HOME}settings/workshop/", f"{HOME}people/new/", "/second-factor/", "/pin/"])
def test_what_an_owner_alone_does_asks_for_the_password(path: str, phone: Client, owner: Any) -> None:
    take_over(phone, owner, "5093")
    answer = phone.get(path)
    assert answer.status_code == 303
    assert answer.headers["Location"].startswith("/sign-in/?other=1")
    assert "You came by a PIN" in phone.get(answer.headers["Location"]).content.decode()
    sign_in(phone, owner)
    assert phone.get(path).status_code == 200


def test_what_was_sent_to_a_page_of_the_owner_leads_back_to_that_page(phone: Client, owner: Any) -> None:
    take_over(phone, owner, "5093")
    answer = phone.post(f"{HOME}people/new/", {"display_name": "Ines Farrow"})
    assert answer.headers["Location"] == f"/sign-in/?other=1&next={quote_plus(f'{HOME}people/new/')}"


@pytest.mark.parametrize("pin", ["123", "123456789", "12a4", "7777", "3456", "9876"])
def test_a_pin_that_is_tried_first_is_refused(pin: str, owner_client: Client, owner: Any) -> None:
    answer = owner_client.post("/pin/", {"pin": pin})
    assert answer.status_code == 422
    assert not User.objects.get(pk=owner.pk).pin


def test_a_pin_is_kept_hashed_and_taken_off(owner_client: Client, owner: Any) -> None:
    assert owner_client.post("/pin/", {"pin": "5093"}).status_code == 303
    assert "5093" not in User.objects.get(pk=owner.pk).pin
    owner_client.post("/pin/", {"pin": ""})
    assert User.objects.get(pk=owner.pk).pin == ""


def test_a_strange_address_is_not_followed(phone: Client, owner: Any) -> None:
    assert take_over(phone, owner, "5093", "https://elsewhere.example/").headers["Location"] == HOME
