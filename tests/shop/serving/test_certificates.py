"""The machine's own authority and certificate: true for its names, kept, made anew when they change or run out."""

import socket
import ssl
import stat
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from hypothesis import given, settings
from hypothesis import strategies as st

from shop.serving.certificates import AUTHORITY_LASTS, RENEWED_BEFORE, SERVER_LASTS, Made, certified

NAMES = ("localhost", "127.0.0.1", "::1", "bench", "bench.local", "192.168.1.20")


def made(folder: Path, *names: str, later: timedelta = timedelta()) -> Made:
    return certified(str(folder / "book"), "bench", names or NAMES, now=datetime.now(UTC) + later)


def shakes_hands(found: Made, name: str) -> bool:
    """Whether OpenSSL, which trusts the authority alone, takes the server's certificate for a name."""
    mine, theirs = socket.socketpair()
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(found.certificate, found.key)

    def answer() -> None:
        try:
            server.wrap_socket(theirs, server_side=True).close()
        except (ssl.SSLError, OSError):
            theirs.close()

    other = threading.Thread(target=answer)
    other.start()
    client = ssl.create_default_context(cafile=str(found.authority))
    client.verify_flags |= ssl.VERIFY_X509_STRICT
    try:
        client.wrap_socket(mine, server_hostname=name).close()
    except ssl.SSLCertVerificationError:
        mine.close()
        return False
    finally:
        other.join()
    return True


@pytest.mark.parametrize("name", NAMES)
def test_it_is_taken_for_each_of_its_names(tmp_path: Path, name: str) -> None:
    assert shakes_hands(made(tmp_path), name)


@pytest.mark.parametrize("name", ["elsewhere.lan", "192.168.1.21", "bench.example"])
def test_it_is_taken_for_no_other(tmp_path: Path, name: str) -> None:
    assert not shakes_hands(made(tmp_path), name)


def test_its_keys_are_for_this_account_alone(tmp_path: Path) -> None:
    made(tmp_path)
    assert {stat.S_IMODE(file.stat().st_mode) for file in tmp_path.iterdir()} == {0o600}
    assert {file.name for file in tmp_path.iterdir()} == {
        *("book-authority.crt", "book-authority.key", "book-https.crt", "book-https.key")
    }


def contents(folder: Path) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in folder.iterdir()}


def test_both_are_kept_while_nothing_changes(tmp_path: Path) -> None:
    first = made(tmp_path)
    before = contents(tmp_path)
    again = made(tmp_path, *reversed(NAMES))
    assert (first.new_authority, first.new_certificate) == (True, True)
    assert (again.new_authority, again.new_certificate) == (False, False)
    assert contents(tmp_path) == before


def test_other_names_make_another_certificate_by_the_same_authority(tmp_path: Path) -> None:
    made(tmp_path)
    before = contents(tmp_path)
    changed = made(tmp_path, "localhost", "192.168.1.77", "10.1.2.3", "book.lan")
    assert (changed.new_authority, changed.new_certificate) == (False, True)
    assert contents(tmp_path)["book-authority.crt"] == before["book-authority.crt"]
    assert shakes_hands(changed, "192.168.1.77")
    assert shakes_hands(changed, "book.lan")
    assert not shakes_hands(changed, "192.168.1.20")


def test_a_name_for_which_the_authority_may_not_speak_makes_another_authority(tmp_path: Path) -> None:
    made(tmp_path)
    changed = made(tmp_path, "book.workshop.example", "203.0.113.7")
    assert (changed.new_authority, changed.new_certificate) == (True, True)
    assert shakes_hands(changed, "book.workshop.example")
    assert shakes_hands(changed, "203.0.113.7")
    assert not made(tmp_path, "book.workshop.example").new_authority


def test_an_authority_speaks_for_no_name_of_the_world(tmp_path: Path) -> None:
    """Whoever had its key could still pretend to be nobody else: a browser refuses what it signs for others."""
    from cryptography.hazmat.primitives import serialization

    from shop.serving.certificates import _make_server, _name, _Pair, _write

    found = made(tmp_path)
    key = serialization.load_pem_private_key((tmp_path / "book-authority.key").read_bytes(), None)
    stolen = _Pair(x509.load_pem_x509_certificate(found.authority.read_bytes()), key)  # type: ignore[arg-type]
    for name in ("bank.example", "203.0.113.9"):
        _write(str(tmp_path / "book"), "https", _make_server(stolen, frozenset([_name(name)]), datetime.now(UTC)))
        assert not shakes_hands(found, name)


def test_a_certificate_that_runs_out_is_made_anew_and_in_the_end_the_authority_too(tmp_path: Path) -> None:
    made(tmp_path)
    assert not made(tmp_path, later=SERVER_LASTS - RENEWED_BEFORE - timedelta(days=1)).new_certificate
    renewed = made(tmp_path, later=SERVER_LASTS - RENEWED_BEFORE + timedelta(days=1))
    assert (renewed.new_authority, renewed.new_certificate) == (False, True)
    assert made(tmp_path, later=AUTHORITY_LASTS - RENEWED_BEFORE + timedelta(days=1)).new_authority


def test_no_certificate_outlives_its_authority_or_lasts_longer_than_phones_take(tmp_path: Path) -> None:
    made(tmp_path)
    found = made(tmp_path, later=AUTHORITY_LASTS - RENEWED_BEFORE - timedelta(days=30))
    one, whole = (x509.load_pem_x509_certificate(file.read_bytes()) for file in (found.certificate, found.authority))
    assert one.not_valid_after_utc <= whole.not_valid_after_utc
    assert SERVER_LASTS + timedelta(days=1) <= timedelta(days=825)


@pytest.mark.parametrize("file", ["book-authority.key", "book-authority.crt", "book-https.key", "book-https.crt"])
@pytest.mark.parametrize("content", [b"", b"no certificate"])
def test_what_cannot_be_read_is_made_anew(tmp_path: Path, file: str, content: bytes) -> None:
    made(tmp_path)
    (tmp_path / file).write_bytes(content)
    found = made(tmp_path)
    assert found.new_certificate
    assert found.new_authority == ("authority" in file)
    assert shakes_hands(found, "bench")


NAME = st.from_regex(r"[a-z][a-z0-9-]{0,20}[a-z0-9](\.(lan|local|example))?", fullmatch=True)


@settings(max_examples=15)
@given(st.sets(NAME | st.ip_addresses().map(str), min_size=1, max_size=6))
def test_whatever_a_machine_is_called_its_certificate_is_true(
    tmp_path_factory: pytest.TempPathFactory, names: set[str]
) -> None:
    found = made(tmp_path_factory.mktemp("names"), *names)
    assert all(shakes_hands(found, name) for name in names)
