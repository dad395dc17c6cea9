"""How phones reach the pages: the address with its code, what it lacks, and the authority that they are to trust."""

import hashlib
import io
import re
from pathlib import Path
from typing import Any

import pytest
import segno
import zxingcpp
from cryptography import x509
from django.test import Client
from PIL import Image

from shop.people import setup
from shop.serving.certificates import certified

pytestmark = pytest.mark.django_db
PAGE = "/w/port-ellery/settings/phone/"
LACKS = "What a phone lacks without https"


def words(answer: Any) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


def test_a_loopback_address_is_said_to_reach_no_phone_and_both_ways_on_are_named(reader_client, settings) -> None:
    settings.ADDRESS = "http://127.0.0.1:8000"
    said = words(reader_client.get(PAGE))
    assert "http://127.0.0.1:8000/" in said
    assert "A phone cannot reach it" in said
    assert "HOST=0.0.0.0 make run" in said
    assert "make run HTTPS=1" in said
    assert LACKS in said
    assert "<svg" not in reader_client.get(PAGE).content.decode()  # a code that opens nothing
    assert "no phone reaches it" in words(reader_client.get("/w/port-ellery/settings/"))


def test_an_address_of_the_net_stands_there_as_a_code_too(reader_client, settings) -> None:
    settings.ADDRESS = "http://192.168.1.20:8000"
    answer = reader_client.get(PAGE)
    assert "cannot reach" not in words(answer)
    assert "a number which the net’s router gave" in words(answer)
    assert LACKS in words(answer)
    drawn = io.BytesIO()
    segno.make("http://192.168.1.20:8000/", error="m", micro=False).save(drawn, kind="png", scale=4, border=4)
    drawn.seek(0)
    assert [one.text for one in zxingcpp.read_barcodes(Image.open(drawn))] == ["http://192.168.1.20:8000/"]
    path = segno.make("http://192.168.1.20:8000/", error="m", micro=False).svg_inline(scale=4, border=4, dark="#000")
    shape = re.search(r' d="([^"]+)"', path)
    assert shape
    assert shape[1] in answer.content.decode()


def test_over_https_under_a_name_nothing_is_lacking(reader_client, settings) -> None:
    settings.ADDRESS = "https://book.lan"
    said = words(reader_client.get(PAGE))
    assert LACKS not in said
    assert "router" not in said
    assert "trust" not in said


def test_without_a_setting_it_is_the_address_of_the_page_itself(reader_client, settings) -> None:
    settings.ALLOWED_HOSTS = ["bench.lan"]
    assert "http://bench.lan/" in words(reader_client.get(PAGE, headers={"host": "bench.lan"}))


@pytest.fixture
def beginner(owner_client: Client, workshop: Any) -> Client:
    """The owner, in a set-up that came to its step of the phone."""
    workshop.set_up = {"rules": setup.DONE, "scales": setup.LATER, "gauges": setup.LATER}
    workshop.save()
    return owner_client


def test_the_step_of_the_set_up_is_put_off_into_the_list_of_the_owner_and_done(beginner, workshop, settings) -> None:
    settings.ADDRESS = "http://127.0.0.1:8000"
    here = "/w/port-ellery/set-up/phone/"
    assert beginner.get("/").headers["Location"] == here
    assert "A phone cannot reach it" in words(beginner.get(here))
    assert beginner.post(here, {"later": "1"}).headers["Location"] == "/w/port-ellery/set-up/cylinders/"
    assert f'href="{here}"' in beginner.get("/w/port-ellery/").content.decode()
    settings.ADDRESS = "http://192.168.1.20:8000"
    assert 'class="qr"' in beginner.get(here).content.decode()
    assert beginner.post(here).status_code == 303
    assert f'href="{here}"' not in beginner.get("/w/port-ellery/").content.decode()


class TestAuthority:
    @pytest.fixture
    def certificate(self, tmp_path: Path, settings: Any) -> x509.Certificate:
        made = certified(str(tmp_path / "book"), "bench", ["bench"])
        settings.AUTHORITY, settings.ADDRESS = str(made.authority), "https://192.168.1.20:8000"
        return x509.load_pem_x509_certificate(made.authority.read_bytes())

    def test_everyone_may_take_its_certificate_and_compare_it(self, client, certificate) -> None:
        page = client.get("/trust/")
        assert page.status_code == 200
        taken = client.get("/trust/tarebook-authority.crt")
        assert taken["Content-Type"] == "application/x-x509-ca-cert"
        assert x509.load_der_x509_certificate(taken.content) == certificate
        shown = "".join(re.findall(r"(?:[0-9A-F]{2}:){7}[0-9A-F]{2}", page.content.decode()))
        assert shown.replace(":", "").lower() == hashlib.sha256(taken.content).hexdigest()

    def test_the_page_of_the_phone_leads_to_it(self, reader_client, certificate) -> None:
        assert 'href="/trust/"' in reader_client.get(PAGE).content.decode()

    @pytest.mark.parametrize("file", ["", "nowhere.crt"])
    def test_without_one_there_is_no_such_page(self, client, settings, file: str) -> None:
        settings.AUTHORITY = file
        assert client.get("/trust/").status_code == 404
        assert client.get("/trust/tarebook-authority.crt").status_code == 404
