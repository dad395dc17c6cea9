"""What every page tells the browser, and what no page holds: walked over every address of a workshop."""

import re
from typing import Any

import pytest
from django.test import Client

from tests.test_permissions import everything, walk  # noqa: F401 - fixtures of the walk over all addresses

pytestmark = pytest.mark.django_db
SCRIPT = re.compile(r"<script\b([^>]*)>(.*?)</script>", re.DOTALL)
HANDLER = re.compile(r"<[a-z][^>]*\son[a-z]+\s*=", re.IGNORECASE)
STYLE = re.compile(r"<style\b|<[a-z][^>]*\sstyle\s*=", re.IGNORECASE)
ELSEWHERE = re.compile(r"\b(?:src|href|action|hx-get|hx-post)=\"(?:https?:)?//", re.IGNORECASE)


def wrong_on(text: str) -> list[str]:
    """Return what the policy would refuse on a page."""
    found = [f"inline script {body[:40]!r}" for attributes, body in SCRIPT.findall(text) if body.strip()]
    found += [
        f"script without a file {attributes!r}" for attributes, _ in SCRIPT.findall(text) if "src=" not in attributes
    ]
    for what, pattern in (("a handler", HANDLER), ("a style", STYLE), ("another host", ELSEWHERE)):
        found += [f"{what}: {match[0][-80:]}" for match in pattern.finditer(text)]
    return found


def test_no_page_holds_a_script_or_a_style_or_reaches_elsewhere(walk: Any, owner_client: Client) -> None:  # noqa: F811
    found = {}
    for at, answer in walk(owner_client):
        if answer.headers["Content-Type"].startswith("text/html") and (wrong := wrong_on(answer.content.decode())):
            found[at] = wrong
    assert found == {}


@pytest.mark.parametrize("method", ["get", "post"])
def test_every_answer_bears_the_whole_policy(walk: Any, owner_client: Client, method: str) -> None:  # noqa: F811
    for at, answer in walk(owner_client, method):
        policy = answer.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy, at
        assert "unsafe" not in policy, at
        assert answer.headers["Referrer-Policy"] == "same-origin", at
        assert answer.headers["Permissions-Policy"].endswith("camera=(self), geolocation=()"), at
        assert answer.headers["X-Frame-Options"] == "DENY", at
        assert answer.headers["X-Content-Type-Options"] == "nosniff", at


def test_cookies_stay_out_of_the_reach_of_scripts_and_of_other_sites(client: Client, owner: Any) -> None:
    client.get("/sign-in/")
    client.post("/sign-in/", {"username": owner.username, "password": "a long password"})
    assert set(client.cookies) == {"csrftoken", "sessionid", "known"}
    for cookie in client.cookies.values():
        assert cookie["httponly"]
        assert cookie["samesite"] == "Lax"
    assert 0 < int(client.cookies["sessionid"]["max-age"]) <= 24 * 3600


def test_a_form_from_elsewhere_is_refused(owner: Any, workshop: Any, cylinder: Any, book: Any) -> None:
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    book.refresh_from_db()
    head = book.head_seq
    answer = strict.post(f"/w/{workshop.slug}/cylinders/{cylinder.account.number}/loss/", {"cause": "missing"})
    assert answer.status_code == 403
    book.refresh_from_db()
    assert book.head_seq == head


def test_a_machine_asked_under_a_name_not_its_own_says_that_it_does_not_understand(client: Client) -> None:
    client.raise_request_exception = False
    answer = client.get("/sign-in/", headers={"host": "elsewhere.example"})
    assert answer.status_code == 400
    assert "elsewhere" not in answer.content.decode()
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
