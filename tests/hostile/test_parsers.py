"""What no parser can read is answered by 400, 404 or 413, signed in or not; nothing is written."""

from typing import Any
from urllib.parse import quote

import pytest
from django.test import Client

pytestmark = pytest.mark.django_db
FORM = "application/x-www-form-urlencoded"
UNREADABLE = [
    (f"{FORM}; charset=utf-16", b"username=x&password=y"),
    (f"{FORM}; charset=bogus", b"username=x"),
    (f"{FORM}; charset=idna", b"username=x.\xff"),
    (f"{FORM}; charset=zip", b"username=x"),
    (f"{FORM}; charset=hex", b"username=x"),
    (f"{FORM}; charset=unicode_escape", b"username=%5Cx"),
    (FORM, b"&".join(b"a%d=1" % number for number in range(2_000))),
    (FORM, b"a=" + b"x" * 2_600_000),
    (FORM, b"username=\xff\xfe&password=%ff%fe"),
    ("multipart/form-data", b"x"),
    ("multipart/form-data; boundary=", b"x"),
    ("multipart/form-data; boundary=\xe9", b"x"),
    (
        "multipart/form-data; boundary=x; charset=utf-16",
        b'--x\r\nContent-Disposition: form-data; name="a"\r\n\r\n1\r\n--x--\r\n',
    ),
    (
        "multipart/form-data; boundary=x; charset=bogus",
        b'--x\r\nContent-Disposition: form-data; name="a"\r\n\r\n1\r\n--x--\r\n',
    ),
    (
        "multipart/form-data; boundary=x",
        b'--x\r\nContent-Disposition: form-data; name="a"\r\nContent-Transfer-Encoding: base64\r\n\r\n!\r\n--x--\r\n',
    ),
    (
        "multipart/form-data; boundary=x",
        b'--x\r\nContent-Disposition: form-data; name="a"; filename="../../x\x00"\r\n\r\n1',
    ),
    ("application/json", b"{"),
    ("; charset", b"x"),
    ("\x00", b"x"),
]


@pytest.mark.parametrize("number", range(len(UNREADABLE)))
@pytest.mark.parametrize("strict", [True, False])
def test_a_body_that_cannot_be_read_is_not_understood(owner: Any, workshop: Any, number: int, strict: bool) -> None:
    content_type, body = UNREADABLE[number]
    outside, inside = Client(enforce_csrf_checks=strict), Client(enforce_csrf_checks=strict)
    inside.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    for asking, at in (
        (outside, "/sign-in/"),
        (outside, "/verify/"),
        (inside, f"/w/{workshop.slug}/partners/new/"),
        (inside, f"/w/{workshop.slug}/weigh/"),
    ):
        asking.raise_request_exception = False
        answer = asking.generic("POST", at, body, content_type)
        assert answer.status_code in (200, 400, 403, 413, 422, 302, 303, 405), (at, answer.status_code)


PLACES = (
    "people/{}/",
    "people/{}/edit/",
    "people/{}/certificate/",
    "people/{}/data/",
    "checks/{}/",
    "statements/{}/{}/",
    "statements/2025-01-01/2025-12-31/{}/",
    "year/{}/2025-12-31/",
    "year/2025-01-01/2025-12-31/{}/csv/",
    "documents/issue/visit-record/{}/",
    "documents/1/{}/",
    "visits/1/add/{}/",
    "search/?q={}",
    "lines/?account={}&cause={}",
    "cylinders/?q={}&sort={}",
    "vehicles/?q={}",
    "scanned/?text={}",
    "labels/?cylinder={}",
)
OUTSIDE = ("/car/{}/", "/read/{}/", "/read/{}/statement/csv/", "/calendar/{}/", "/c/{}/", "/verify/?code={}")
MARKS = ("\x00", "a\x00b", "\ud800", "\u202e", "..", "%", "x" * 3_000, "99999999999999999999", "\r\nX: y")


@pytest.mark.parametrize("mark", MARKS, ids=ascii)
def test_marks_that_no_name_has_lead_to_no_fault(owner_client: Client, workshop: Any, mark: str) -> None:
    owner_client.raise_request_exception = False
    written = quote(mark.encode("utf-8", "surrogatepass"), safe="")
    for place in (*(f"/w/{workshop.slug}/{one}" for one in PLACES), *OUTSIDE):
        answer = owner_client.get(place.replace("{}", written))
        assert answer.status_code < 500, place
