"""Guessing is slowed down by name and by address each; strangers keep nobody out of a browser that is known."""

from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client, RequestFactory

from shop.people import tries
from shop.people.tries import MOST_OF_ADDRESS, MOST_OF_NAME, address_of

pytestmark = pytest.mark.django_db
PASSWORD = "four unrelated words"


@pytest.fixture(autouse=True)
def forgotten() -> Any:
    cache.clear()
    yield
    cache.clear()


@pytest.fixture
def person(owner: Any) -> Any:
    owner.set_password(PASSWORD)
    owner.save()
    return owner


def sign_in(name: str, password: str = "", address: str = "192.0.2.1", client: Client | None = None) -> int:
    visitor = client or Client()
    sent = {"username": name, "password": password or "wrong"}
    return int(visitor.post("/sign-in/", sent, REMOTE_ADDR=address).status_code)


def test_many_names_from_one_address_wait_and_another_address_does_not(person: Any) -> None:
    answers = [sign_in(f"name-{number}") for number in range(MOST_OF_ADDRESS + 5)]
    assert answers == [422] * MOST_OF_ADDRESS + [429] * 5
    assert sign_in(person.username, PASSWORD) == 429
    assert sign_in(person.username, PASSWORD, "192.0.2.2") == 303


def test_one_name_from_many_addresses_waits_but_for_a_browser_that_is_known(person: Any) -> None:
    own = Client()
    assert sign_in(person.username, PASSWORD, client=own) == 303
    own.post("/sign-out/")
    for number in range(MOST_OF_NAME):
        assert sign_in(person.username, address=f"198.51.100.{number}") == 422
    assert sign_in(person.username, PASSWORD, "203.0.113.9") == 429
    assert sign_in(person.username, PASSWORD, client=own) == 303


def test_a_browser_is_known_no_longer_once_the_password_is_another(person: Any) -> None:
    own = Client()
    sign_in(person.username, PASSWORD, client=own)
    asked = RequestFactory().get("/")
    asked.COOKIES = {name: one.value for name, one in own.cookies.items()}
    assert tries.is_known(asked, person)
    person.set_password("another four words")
    assert not tries.is_known(asked, person)
    asked.COOKIES[tries.KNOWN] = asked.COOKIES[tries.KNOWN][:-1]
    assert not tries.is_known(asked, person)


@pytest.mark.parametrize("kind", ["read", "car", "calendar"])
def test_secret_addresses_are_guessed_seldom(kind: str) -> None:
    visitor = Client(REMOTE_ADDR="192.0.2.3")
    answers = [visitor.get(f"/{kind}/wrong-{number}/").status_code for number in range(62)]
    assert answers == [404] * 60 + [429] * 2
    assert Client(REMOTE_ADDR="192.0.2.4").get(f"/{kind}/wrong/").status_code == 404


def test_the_code_of_the_console_is_guessed_seldom(db: None) -> None:
    visitor = Client(REMOTE_ADDR="192.0.2.5")
    answers = [visitor.post("/set-up/", {"code": f"WRONG{number}"}).status_code for number in range(22)]
    assert answers == [422] * 20 + [429] * 2


@pytest.mark.parametrize(
    ("remote", "forwarded", "front", "found"),
    [
        ("192.0.2.1", "", False, "192.0.2.1"),
        ("192.0.2.1", "198.51.100.1", False, "192.0.2.1"),  # anyone may write that header
        ("127.0.0.1", "203.0.113.1, 198.51.100.1", True, "198.51.100.1"),  # the last is the front server's word
        ("2001:db8:1:2:3::4", "", False, "2001:db8:1:2::"),
        ("fe80::1%eth0", "", False, "fe80::"),
        ("", "rubbish", True, "0.0.0.0"),  # noqa: S104
    ],
)
def test_who_asks_is_whom_the_connection_or_the_front_server_names(
    settings: Any, remote: str, forwarded: str, front: bool, found: str
) -> None:
    settings.BEHIND_FRONT = front
    asked = RequestFactory().get("/", REMOTE_ADDR=remote, HTTP_X_FORWARDED_FOR=forwarded)
    assert address_of(asked) == found
