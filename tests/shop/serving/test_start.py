"""What a start decides from its environment, before anything is written."""

import socket
from pathlib import Path

import pytest

from shop.serving import machine
from shop.serving.start import Plan, planned


def free_port() -> str:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        return str(listener.getsockname()[1])


def plan(**environment: str) -> Plan:
    return planned("run", {"PORT": free_port(), **environment})


def test_alone_it_listens_on_loopback_without_https() -> None:
    found = plan()
    assert found.bind.startswith("127.0.0.1:")
    assert found.address == f"http://{found.bind}"
    assert not found.https


def test_with_https_it_listens_to_the_net_under_all_its_names() -> None:
    found = plan(HTTPS="1", TAREBOOK_ADDRESS="https://book.lan:8443/", ALLOWED_HOSTS="shop.example,.wild.example")
    assert found.bind.startswith("0.0.0.0:")
    assert found.address.startswith("https://")
    assert {"localhost", "127.0.0.1", "book.lan", "shop.example", *machine.own_names()} <= set(found.certified)
    assert ".wild.example" not in found.certified
    assert {".wild.example", *machine.own_names()} <= set(found.names)


def test_a_host_that_is_named_is_kept_with_https_too() -> None:
    assert plan(HTTPS="1", HOST="127.0.0.1").bind.startswith("127.0.0.1:")


@pytest.mark.parametrize(
    ("environment", "said"),
    [({"HTTPS": "yes"}, "must be 1 or 0"), ({"PORT": "http"}, "Nothing can be served"), ({"PORT": "99999"}, "Nothing")],
)
def test_what_cannot_be_ends_with_a_sentence(environment: dict[str, str], said: str) -> None:
    with pytest.raises(SystemExit, match=said):
        plan(**environment)


def test_a_short_lived_address_of_the_world_is_in_no_certificate() -> None:
    addresses = ["192.168.1.20", "203.0.113.7", "fd00::2", "2606:4700::1111"]
    assert machine.lasting(addresses) == addresses[:3]


@pytest.mark.parametrize(
    ("url", "begins"),
    [
        ("sqlite:////srv/book.sqlite3", "/srv/book.sqlite3"),
        ("sqlite:///book.sqlite3?timeout=5", "/here/book.sqlite3"),
        ("postgres://owner@host/name", "/here/.postgres/run"),
    ],
)
def test_secrets_lie_beside_the_database(url: str, begins: str) -> None:
    assert machine.beside(url, Path("/here"), "run") == begins
