"""Whoever sends slowly, stops in the middle or reads nothing takes the server from nobody: played on a started one."""

import socket
import ssl
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, suppress

import pytest

from shop.serving.worker import MOST_FROM_ONE, is_too_many
from tests import databases
from tests.test_serving import Visitor, served

MANY = 40  # five times the threads that answer
HALF_A_BODY = (
    b"POST /sign-in/ HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/x-www-form-urlencoded\r\n"
    b"Content-Length: 5000\r\n\r\nusername=half"
)
HALF_A_HEADER = b"GET /sign-in/ HTTP/1.1\r\nHost: local"
UNREAD = b"GET /static/shop/book.css HTTP/1.1\r\nHost: localhost\r\n\r\n" * 200


@pytest.fixture(scope="module", params=["0", "1"], ids=["http", "https"])
def visitor(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, migrated: str
) -> Iterator[Visitor]:
    folder = tmp_path_factory.mktemp("slow")
    databases.copy(migrated, f"sqlite:///{folder}/book.sqlite3")
    with served("run", folder, HTTPS=request.param, HOST="127.0.0.1") as (found, _):
        yield found


@pytest.fixture
def call(visitor: Visitor) -> Iterator[Callable[[bytes], socket.socket]]:
    """Open a connection that stays open, and send what is given; over https once the cipher is agreed upon."""
    scheme, _, place = visitor.address.partition("://")
    context = ssl.create_default_context()
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    with ExitStack() as kept:

        def called(sent: bytes, plain: bool = False) -> socket.socket:
            line = socket.create_connection(("127.0.0.1", int(place.partition(":")[2])), timeout=10)
            if scheme == "https" and not plain:
                line = context.wrap_socket(line)
            kept.enter_context(line)
            line.settimeout(1)
            with suppress(TimeoutError):  # its answers fill the way back: that is what is meant
                line.sendall(sent)
            return line

        yield called


@pytest.mark.processes
@pytest.mark.any_database
@pytest.mark.parametrize("sent", [HALF_A_BODY, HALF_A_HEADER, UNREAD, b""], ids=["body", "header", "unread", "silent"])
def test_whoever_stops_in_the_middle_stops_nobody_else(
    visitor: Visitor, call: Callable[..., socket.socket], sent: bytes
) -> None:
    for _ in range(MANY):
        call(sent)
        call(sent[:5], plain=True)  # over https: a greeting that goes nowhere
    assert visitor.get("/sign-in/")[0] == "/set-up/"


@pytest.mark.processes
@pytest.mark.any_database
def test_a_body_that_comes_in_pieces_is_read_whole(visitor: Visitor, call: Callable[..., socket.socket]) -> None:
    line = call(HALF_A_BODY.replace(b"5000", b"17"))
    time.sleep(0.2)
    line.sendall(b"half")
    assert line.recv(12) == b"HTTP/1.1 403"  # read to its end, and refused for the token that it lacks


def test_one_machine_gets_a_share_of_the_connections_and_a_front_server_here_all() -> None:
    others = [("192.0.2.7", port) for port in range(MOST_FROM_ONE)]
    assert is_too_many(("192.0.2.7", 9), others)
    assert not is_too_many(("192.0.2.7", 9), others[1:])
    assert not is_too_many(("192.0.2.8", 9), others)
    assert is_too_many(("fe80::1%eth0", 9, 0, 2), [("fe80::1%eth0", port, 0, 2) for port in range(MOST_FROM_ONE)])
    assert not is_too_many(("127.0.0.1", 9), [("127.0.0.1", port) for port in range(MOST_FROM_ONE)])
