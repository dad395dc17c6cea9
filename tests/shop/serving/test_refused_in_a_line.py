"""What is refused writes a line to the log, without a way through the code; what breaks writes all of it."""

import logging
from io import StringIO

import pytest
from django.conf import settings
from django.test import Client

from shop.serving.secret import RefusedInALine

pytestmark = pytest.mark.django_db


@pytest.fixture
def log() -> StringIO:
    """What the console says, filtered as the settings have it."""
    said = StringIO()
    handler = logging.StreamHandler(said)
    assert settings.LOGGING["handlers"]["console"]["filters"] == ["refused", "secret"]
    handler.addFilter(RefusedInALine())
    root = logging.getLogger()
    root.addHandler(handler)
    yield said
    root.removeHandler(handler)


def lines_of(log: StringIO) -> list[str]:
    return log.getvalue().splitlines()


def test_a_refused_request_is_one_line(log: StringIO, reader_client: Client, workshop: object) -> None:
    reader_client.raise_request_exception = False
    place = f"/w/{workshop.slug}/"  # type: ignore[attr-defined]
    for number, asked in enumerate(
        (
            lambda: reader_client.get(f"{place}weigh/"),
            lambda: reader_client.get(f"{place}cylinders/%00/"),
            lambda: reader_client.get("/nowhere/"),
            lambda: reader_client.get("/", headers={"host": "elsewhere.example"}),
            lambda: reader_client.generic("POST", "/verify/", b"x", "application/x-www-form-urlencoded; charset=hex"),
            lambda: reader_client.generic("POST", "/verify/", b"a=1&" * 2_000, "application/x-www-form-urlencoded"),
        ),
        start=1,
    ):
        assert 400 <= asked().status_code < 500
        assert len(lines_of(log)) == number, log.getvalue()


def test_a_fault_of_ours_is_told_in_full(log: StringIO) -> None:
    try:
        raise ZeroDivisionError("ours")
    except ZeroDivisionError:
        logging.getLogger("django.request").exception("Internal Server Error: /", extra={"status_code": 500})
    assert "Traceback" in log.getvalue()
