"""Garbage sent to every address that takes a sending: always an answer, never a fault, nothing written in the book."""

import os
import random
import re
import subprocess
from collections.abc import Iterator
from html import unescape
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from shop.importing import jobs
from shop.visits.kinds import KINDS
from tests.test_permissions import address, everything, of_a_workshop  # noqa: F401 - a fixture among them

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def no_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let no job begin that a form sets going: it would read the database of the test from beside."""
    begun = {"Popen": lambda command, **_: SimpleNamespace(pid=os.getpid())}
    monkeypatch.setattr(jobs, "subprocess", SimpleNamespace(**{**vars(subprocess), **begun}))


FIELD = re.compile(r"<(?:input|select|textarea)\b[^>]*\bname=\"([^\"]+)\"")
FILLED = re.compile(r"<(?:input\b[^>]*|option\b[^>]*)\bvalue=\"([^\"]+)\"")
GARBAGE = [
    "",
    " ",
    "letters",
    "-5 kg",
    "1,234 kg",
    "250 bar",
    "NaN",
    "inf kg",
    "1e400 kg",
    "9" * 60 + " kg",
    "99999999999999999999999",
    "1e9 C",
    "0 kg",
    "-1",
    "\U0001f9ca\U0001f525 kg",
    "a\x00b",
    "\ud800".encode("utf-8", "surrogatepass").decode("utf-8", "replace"),
    "x" * 10_000,
    "'; DROP TABLE x; --",
    "<script>x</script>",
    "2026-13-45",
    "0001-01-01T00:00",
    "9999-12-31T23:59",
    "9999-12-31",
    "0001-01-01",
    "\u00b2",
    "24:99",
    "{}",
    "[]",
    "../../etc/passwd",
    "R-999",
    "0 min 250 psi 20 C; 20 min",
    "\u0661\u0662 kg",
    "\u202e12 kg",
    "1 lb 99 oz",
    "3/0 kg",
]


QUERIES = [
    "day",
    "visit",
    "q",
    "step",
    "replaces",
    "watch",
    "min",
    "plate",
    "sort",
    "page",
    "basis",
    "from",
    "to",
    "first",
    "last",
    "state",
    "target",
    "source",
    "happened",
    "account",
    "cause",
    "lines-after",
    "lines-before",
    "format",
    "kind",
    "name",
    "what",
    "gross",
    "refrigerant",
    "grade",
    "text",
    "next",
    "cylinder",
]
Page = tuple[str, list[str], list[str]]


@pytest.fixture
def addresses(everything: Any, workshop: Any, make_cylinder: Any) -> list[str]:  # noqa: F811
    """Return every address of the workshop, and further ones behind a choice: each step, each leg."""
    found = [address(route, everything, workshop.slug) for route in of_a_workshop()]
    visit, cylinder = everything["visits", "number"], everything["cylinders", "number"]
    taker = make_cylinder(kind="recovery", grade="recovered").account.number
    at = f"/w/{workshop.slug}/visits/{visit}"
    found += [f"{at}/add/{kind.slug}/" for kind in KINDS]
    found += [f"{at}/add/pressure-hold/?watch={everything['visits', 'watch']}"]
    found += [f"{at}/charge/?source={cylinder}", f"{at}/recover/?target={taker}"]
    found += [f"{at}/recover/?target={cylinder}&happened=1"]
    return found


@pytest.fixture
def pages(addresses: list[str], owner_client: Client) -> list[Page]:
    """Return the addresses that take a sending, with the names and the values that their forms have."""
    found = []
    for at in addresses:
        if owner_client.post(at).status_code == 405:
            continue
        text = owner_client.get(at, follow=True).content.decode(errors="replace")
        names = sorted(set(FIELD.findall(text)) - {"csrfmiddlewaretoken"})
        found.append((at, names, [unescape(value) for value in FILLED.findall(text)]))
    assert sum(bool(names) for _, names, _ in found) >= 40  # the walk found the forms
    return found


def rubbish(names: list[str], chance: random.Random) -> Iterator[dict[str, Any]]:
    """Yield what is sent: one field that nobody knows, the same rubbish in all fields, other rubbish in each."""
    yield {"nobody": "knows"}
    yield dict.fromkeys(names, chance.choice(GARBAGE)) | {"key": str(uuid4())}
    yield {name: [chance.choice(GARBAGE), chance.choice(GARBAGE)] for name in names} | {"key": str(uuid4())}


def half_rubbish(names: list[str], values: list[str], chance: random.Random) -> dict[str, Any]:
    """Return what is half of the page's own choices and half rubbish, with one field left out."""
    sent = {name: chance.choice(values if values and chance.random() < 0.5 else GARBAGE) for name in names}
    if names:
        del sent[chance.choice(names)]
    return sent | {"key": str(uuid4())}


def fault_of(answer: Any, at: str, sent: object) -> list[object]:
    """Return what is to be told of an answer that is a fault of ours; nothing of any other."""
    if answer.status_code < 500:
        return []
    return [at, sent, repr(answer.exc_info[1]) if getattr(answer, "exc_info", None) else answer.status_code]


def test_rubbish_gets_an_answer_everywhere_and_writes_nothing_and_half_rubbish_an_answer(
    pages: list[Page], owner_client: Client, book: Any
) -> None:
    owner_client.raise_request_exception = False
    book.refresh_from_db()
    head, chance, wrong = book.head_seq, random.Random(1), []  # noqa: S311 - not a secret
    for at, names, _ in pages:
        for sent in rubbish(names, chance):
            wrong += fault_of(owner_client.post(at, sent), at, sent)
        book.refresh_from_db()
        if book.head_seq != head:
            wrong.append([at, "wrote in the book"])
            head = book.head_seq
    wrong += faults_of_half_rubbish(pages, owner_client)
    assert wrong == []


def faults_of_half_rubbish(pages: list[Page], owner_client: Client) -> list[object]:
    """Send half of sense and half of rubbish everywhere; it may be written, where it happens to be sense."""
    chance, wrong = random.Random(2), []  # noqa: S311 - not a secret
    for at, names, values in pages:
        for _ in range(2):
            sent = half_rubbish(names, values, chance)
            wrong += fault_of(owner_client.post(at, sent), at, sent)
    return wrong


def test_rubbish_behind_an_address_gets_an_answer(addresses: list[str], owner_client: Client) -> None:
    owner_client.raise_request_exception = False
    chance, wrong = random.Random(3), []  # noqa: S311 - not a secret
    for at in addresses:
        asked = {name: chance.choice(GARBAGE) for name in chance.sample(QUERIES, 12)}
        wrong += fault_of(owner_client.get(at.split("?")[0], asked), at, asked)
    assert wrong == []


@pytest.mark.parametrize("sent", GARBAGE)
def test_rubbish_at_the_door_gets_an_answer(client: Client, owner: Any, sent: str) -> None:
    client.raise_request_exception = False
    asked = {"username": sent, "password": sent, "next": sent, "code": sent, "appearance": sent}
    for at in ("/", "/sign-in/", "/sign-out/", "/appearance/", "/second-factor/check/", "/set-up/"):
        assert client.post(at, asked).status_code < 500, at
        assert client.get(at, asked).status_code < 500, at
