"""A trusted time beside a witness, from a server of time stamps on this machine."""

import subprocess
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from io import StringIO
from shutil import which
from socket import create_server
from threading import Thread
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
from django.core import mail
from django.core.management import CommandError, call_command

from inventory.book import stamp
from inventory.models import Book

pytestmark = [pytest.mark.django_db, pytest.mark.any_database]
DER, PEM = serialization.Encoding.DER, serialization.Encoding.PEM
NOW = datetime(2026, 3, 4, 20, 30, tzinfo=UTC)


class Authority:
    """Somebody who says what time it was: a key with its certificate, and a server."""

    def __init__(self, name: str, usage: Any = ExtendedKeyUsageOID.TIME_STAMPING) -> None:
        self.key = rsa.generate_private_key(public_exponent=65_537, key_size=2_048)
        called = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
        self.certificate = (
            x509.CertificateBuilder()
            .subject_name(called)
            .issuer_name(called)
            .public_key(self.key.public_key())
            .serial_number(x509.random_serial_number())
            .not_valid_before(NOW - timedelta(days=30))
            .not_valid_after(NOW + timedelta(days=300))
            .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
            .add_extension(x509.ExtendedKeyUsage([usage]), critical=True)
            .sign(self.key, hashes.SHA256())
        )

    def answer(self, asked: bytes) -> bytes:
        from asn1crypto import keys, tsp
        from asn1crypto import x509 as asn1_x509
        from pyhanko.sign.timestamps import DummyTimeStamper

        private = self.key.private_bytes(DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
        stamper = DummyTimeStamper(
            asn1_x509.Certificate.load(self.certificate.public_bytes(DER)),
            keys.PrivateKeyInfo.load(private),
            fixed_dt=NOW,
        )
        return bytes(stamper.request_tsa_response(tsp.TimeStampReq.load(asked)).dump())


class Served(HTTPServer):
    """A server of time stamps that answers as it is told to."""

    say: Any = None
    kind = "application/timestamp-reply"
    status = 200

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.server_port}/"


class Asked(BaseHTTPRequestHandler):
    def do_POST(self) -> None:
        server: Any = self.server
        content = server.say(self.rfile.read(int(self.headers["Content-Length"])))
        self.send_response(server.status)
        self.send_header("Content-Type", server.kind)
        self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        self.wfile.write(content)

    def log_message(self, *words: Any) -> None:
        pass


@pytest.fixture(scope="module")
def authority() -> Authority:
    return Authority("Clock of Example Town")


@pytest.fixture
def served(authority: Authority) -> Iterator[Served]:
    server = Served(("127.0.0.1", 0), Asked)
    server.say = authority.answer
    thread = Thread(target=server.serve_forever, args=(0.05,))
    thread.start()
    yield server
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.fixture
def story(post: Any, cylinder: Any, vehicle_account: Any) -> Book:
    post("charge", cylinder, vehicle_account, 1_000_000)
    return Book.objects.get()


def run(*words: str) -> tuple[str, str]:
    out, err = StringIO(), StringIO()
    call_command(*words, stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


def test_a_witness_is_stamped_and_its_token_is_kept_beside_it(story, served, authority, tmp_path):
    file = tmp_path / "seen.json"
    out, err = run("witness", "--output", str(file), "--stamp", served.url)
    digits = authority.certificate.fingerprint(hashes.SHA256()).hex()
    words = f"stamped 2026-03-04 20:30:00 UTC by Common Name: Clock of Example Town, SHA-256 {digits}."
    assert words in out
    assert err == ""
    assert stamp.beside(file).name == "seen.json.tst"
    said, _ = run("verify", "--witness", str(file))
    assert "still is the book" in said
    assert f"It was {words} Whether it is theirs, who knows that certificate can say" in said


def test_with_the_certificate_of_the_authority_it_must_follow_from_that(story, served, authority, tmp_path):
    file, theirs, others = (tmp_path / name for name in ("seen.json", "theirs.pem", "others.pem"))
    run("witness", "--output", str(file), "--stamp", served.url)
    theirs.write_bytes(authority.certificate.public_bytes(PEM))
    others.write_bytes(Authority("Clock of Example Town").certificate.public_bytes(PEM))
    said, _ = run("verify", "--witness", str(file), "--authority", str(theirs))
    assert said.endswith(f"{authority.certificate.fingerprint(hashes.SHA256()).hex()}.\n")
    with pytest.raises(CommandError, match="it follows from none of the certificates that were given: 2026-03-04"):
        run("verify", "--witness", str(file), "--authority", str(others))


def test_a_stamp_of_another_file_or_of_no_authority_of_time_is_refused(story, served, tmp_path):
    file = tmp_path / "seen.json"
    run("witness", "--output", str(file), "--stamp", served.url)
    said = file.read_text()
    file.write_text(said.replace('"day": "2', '"day": "1'))
    with pytest.raises(CommandError, match=r"seen\.json\.tst: it is of another file, or was changed"):
        run("verify", "--witness", str(file))
    file.write_text(said)
    token = bytearray(stamp.beside(file).read_bytes())
    token[-5] ^= 1
    stamp.beside(file).write_bytes(token)
    with pytest.raises(CommandError, match="it is of another file, or was changed"):
        run("verify", "--witness", str(file))
    served.say = Authority("Somebody", ExtendedKeyUsageOID.SERVER_AUTH).answer
    _, err = run("witness", "--output", str(file), "--stamp", served.url)
    assert "no time stamp: it is signed by a certificate that is not for time stamps" in err


@pytest.mark.parametrize("content", [b"", b"token", b"\x30\x80", b"\x30\x03\x02\x01\x01" * 50_000])
def test_what_is_no_token_is_said(story, served, content, tmp_path):
    file = tmp_path / "seen.json"
    run("witness", "--output", str(file))
    stamp.beside(file).write_bytes(content)
    with pytest.raises(CommandError, match="it is no time stamp that can be read"):
        run("verify", "--witness", str(file))


def test_without_an_authority_that_answers_the_witness_is_written_all_the_same(story, tmp_path):
    with create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    file = tmp_path / "seen.json"
    stamp.beside(file).write_bytes(b"of an older witness")
    out, err = run("witness", "--output", str(file), "--stamp", f"http://127.0.0.1:{port}/")
    assert err == (
        f"Port Ellery: no time stamp: http://127.0.0.1:{port}/ cannot be reached, or does not speak of time. "
        "The witness stands without it.\n"
    )
    assert f"in {file}." in out
    assert not stamp.beside(file).exists()
    assert "still is the book" in run("verify", "--witness", str(file))[0]
    with pytest.raises(CommandError, match="there is no time stamp beside it"):
        run("verify", "--witness", str(file), "--authority", str(file))


@pytest.mark.parametrize("url", ["ftp://clock.example/", "clock.example", "http://", "https://\x00/"])
def test_what_is_no_address_is_said(story, url, tmp_path):
    _, err = run("witness", "--output", str(tmp_path / "seen.json"), "--stamp", url)
    assert "no time stamp: " in err


@pytest.mark.parametrize(
    ("kind", "status", "content"),
    [
        ("text/html", 200, b"<p>Welcome"),
        ("application/timestamp-reply", 500, b""),
        ("application/timestamp-reply", 200, b"no token"),
        ("application/timestamp-reply", 200, b"\x30\x05\x30\x03\x02\x01\x02"),  # refused
    ],
)
def test_an_answer_that_is_no_time_stamp_is_said(story, served, kind, status, content, tmp_path):
    served.kind, served.status, served.say = kind, status, lambda asked: content
    _, err = run("witness", "--output", str(tmp_path / "seen.json"), "--stamp", served.url)
    assert "Port Ellery: no time stamp: " in err
    assert (tmp_path / "seen.json").exists()
    assert not stamp.beside(tmp_path / "seen.json").exists()


def test_an_answer_to_another_question_is_no_time_stamp(story, served, authority, tmp_path):
    from pyhanko.sign.timestamps import TimeStamper

    _, other = TimeStamper().request_cms(b"0" * 32, "sha256")
    served.say = lambda asked: authority.answer(other.dump())
    _, err = run("witness", "--output", str(tmp_path / "seen.json"), "--stamp", served.url)
    assert "answered with what is no time stamp" in err


def test_the_token_goes_out_with_the_mail(story, served):
    run("witness", "--mail", "books@example.org", "--stamp", served.url)
    [letter] = mail.outbox
    (_, text, _), (name, token, _) = letter.attachments
    assert name.endswith(".json.tst")
    assert stamp.told(text.encode(), token).at == NOW


@pytest.mark.skipif(which("openssl") is None, reason="no openssl here")
def test_another_program_proves_the_token_too(story, served, authority, tmp_path):
    file, theirs = tmp_path / "seen.json", tmp_path / "theirs.pem"
    run("witness", "--output", str(file), "--stamp", served.url)
    theirs.write_bytes(authority.certificate.public_bytes(PEM))
    words = ["openssl", "ts", "-verify", "-data", str(file), "-in", str(stamp.beside(file)), "-token_in"]
    proving = [*words, "-CAfile", str(theirs), "-partial_chain", "-attime", str(int(NOW.timestamp()))]
    done = subprocess.run(proving, capture_output=True, text=True, check=False)
    assert "Verification: OK" in done.stdout + done.stderr
