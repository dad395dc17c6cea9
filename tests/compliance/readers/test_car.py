"""The owner's view of one visit: what it shows, and everything that it must not, played by somebody who tries."""

import logging
import re
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from compliance.models import Opening, ReaderLink
from compliance.papers.ownerlink import path_of, secret_of, standing_link
from compliance.papers.paper import VISIT, Label
from compliance.papers.visits import visit_record
from compliance.readers import owners
from compliance.readers.links import LinkRefused, Wanted, make_link
from inventory.measure.codes import digest_of
from shop.models import Step, Visit
from shop.serving.secret import SecretAddresses

pytestmark = pytest.mark.django_db
DAYS = timedelta(days=1)


@pytest.fixture
def make(technician: Any) -> Callable[..., str]:
    """Make the link of a visit and return its address below this server."""

    def link(visit: Visit, *, ends_at: datetime | None = None, on_paper: bool = False) -> str:
        until = ends_at or timezone.now() + 14 * DAYS
        return path_of(owners.make(visit, ends_at=until, on_paper=on_paper, by=technician, key=uuid4()))

    return link


def noted(visit: Visit, words: str, *, by: Any) -> None:
    """Write a repair with words that are found again."""
    data = {"joint": {"text": words}, "what": {"text": "renewed"}}
    Step.objects.create(
        visit=visit, kind="repair", data=data, occurred_at=visit.opened_at, doer=by, request_key=uuid4()
    )


def seen(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", answer.content.decode().replace("\N{NARROW NO-BREAK SPACE}", " "))


# What it shows


def test_what_was_not_done_is_said(arrive: Callable[..., Visit], make: Callable[..., str], client: Client) -> None:
    text = seen(client, make(arrive(state="warm")))
    for words in (
        "The work is not at its end by the book",
        "blowing warm air",
        "Nothing was taken out.",
        "No refrigerant was put in.",
        "No test for leaks is in the book, so nothing here shows that the system holds its gas.",
        "Nobody has entered:",
    ):
        assert words in text
    assert "carries" not in text


def test_odd_words_are_text(
    arrive: Callable[..., Visit], make: Callable[..., str], make_vehicle: Any, technician: Any, client: Client
) -> None:
    visit = arrive(make_vehicle("<b>&1", make_model="<script>alert(1)</script>"))
    noted(visit, "</dd><script src=//x>", by=technician)
    text = seen(client, make(visit))
    assert "<script" not in text
    assert "&lt;b&gt;&amp;1" in text
    assert "&lt;/dd&gt;&lt;script src=//x&gt;" in text


# Who may make it


@pytest.mark.parametrize("role", ["owner", "technician"])
def test_owner_and_technician_make_show_and_revoke_it_at_the_visit(
    role: str, request: pytest.FixtureRequest, arrive: Callable[..., Visit], client: Client
) -> None:
    own, visit = request.getfixturevalue(f"{role}_client"), arrive()
    page = f"/w/port-ellery/visits/{visit.number}/owner/"
    assert f'href="{page}"' in own.get(f"/w/port-ellery/visits/{visit.number}/").content.decode()
    sent = {"until": (timezone.localdate() + 7 * DAYS).isoformat(), "key": str(uuid4())}
    assert own.post(page, sent).status_code == 303
    assert own.post(page, sent).status_code == 303  # pressed twice
    (found,) = set(re.findall(r"http://testserver(/car/[\w-]{43}/)", own.get(page).content.decode()))
    seen(client, found)
    assert "1 time, last" in own.get(page).content.decode()
    assert own.get(f"{page}revoke/").status_code == 303
    assert client.get(found).status_code == 200
    own.post(f"{page}revoke/")
    assert client.get(found).status_code == 404
    assert ReaderLink.objects.count() == 1


def test_a_reader_can_neither_make_nor_see_it(reader_client: Client, arrive: Any, make: Callable[..., str]) -> None:
    visit = arrive()
    make(visit)
    page = f"/w/port-ellery/visits/{visit.number}/owner/"
    for answer in (reader_client.get(page), reader_client.post(page), reader_client.post(f"{page}revoke/")):
        assert answer.status_code == 403
    assert page not in reader_client.get(f"/w/port-ellery/visits/{visit.number}/").content.decode()
    assert standing_link(visit.workshop, visit.context) is not None


@pytest.mark.parametrize("until", ["", "soon", "2020-01-01", "9999-12-31"])
def test_a_day_that_cannot_be_is_asked_for_again(until: str, technician_client: Client, arrive: Any) -> None:
    page = f"/w/port-ellery/visits/{arrive().number}/owner/"
    answer = technician_client.post(page, {"until": until, "key": str(uuid4())})
    assert answer.status_code == 422
    assert not ReaderLink.objects.exists()


def test_a_new_link_takes_the_place_of_the_old_one_and_leaves_other_visits_alone(
    arrive: Callable[..., Visit], make: Callable[..., str], make_vehicle: Any, client: Client
) -> None:
    visit, other = arrive(make_vehicle("V1")), arrive(make_vehicle("V2"))
    first, elsewhere, second = make(visit), make(other), make(visit)
    assert [client.get(one).status_code for one in (first, elsewhere, second)] == [404, 200, 200]


def test_no_link_lasts_longer_than_a_year(arrive: Callable[..., Visit], make: Callable[..., str]) -> None:
    with pytest.raises(LinkRefused):
        make(arrive(), ends_at=timezone.now() + 400 * DAYS)


# Somebody who tries


@pytest.fixture
def dead(
    arrive: Callable[..., Visit], make: Callable[..., str], make_vehicle: Any, owner: Any, clock: Callable[..., Any]
) -> dict[str, str]:
    """Addresses that lead nowhere, by what is wrong with them; the links stand until tomorrow."""
    now = timezone.now()
    ended, revoked, good = (arrive(make_vehicle(f"V{one}")) for one in range(3))
    after = make(ended, ends_at=now + timedelta(minutes=5))
    taken_back = make(revoked)
    owners.revoke(revoked)
    address = make(good)
    vehicle = Wanted("vehicle", f"vehicle:{good.vehicle.account.number}")
    _, readers = make_link(good.workshop, vehicle, for_whom="X", ends_at=now + DAYS, by=owner, key=uuid4())
    gone = make(arrive(make_vehicle("V9")))
    ReaderLink.objects.filter(token_digest=digest_of(gone.split("/")[2].encode())).update(about="visit:999")
    clock(now + timedelta(hours=1))
    changed = address[:-3] + ("A" if address[-3] != "A" else "B") + address[-2:]
    return {
        "after its day": after,
        "revoked": taken_back,
        "changed": changed,
        "shortened": address[:-5] + "/",
        "in capitals": f"/car/{address.split('/')[2].upper()}/",
        "made up": f"/car/{'x' * 43}/",
        "of a reader": f"/car/{readers}/",
        "by number": f"/car/{good.number}/",
        "of a visit that is gone": gone,
        "odd": "/car/%F0%9F%9A%97'%20OR%201=1--/",
        "very long": f"/car/{'x' * 3000}/",
        "with another's query": f"{changed}?about=visit:1&units=us",
    }


def test_every_address_that_leads_nowhere_has_the_same_answer(dead: dict[str, str], client: Client) -> None:
    answers = {name: client.get(address) for name, address in dead.items()}
    assert {name: one.status_code for name, one in answers.items() if one.status_code != 404} == {}
    assert len({one.content for one in answers.values()}) == 1
    assert len({tuple(sorted(one.headers.items())) for one in answers.values()}) == 1
    assert owners.LEADS_NOWHERE in next(iter(answers.values())).content.decode()
    assert not Opening.objects.exists()


def test_the_link_of_a_visit_opens_no_page_of_readers(
    arrive: Callable[..., Visit], make: Callable[..., str], client: Client, owner_client: Client
) -> None:
    address = make(arrive())
    secret = address.split("/")[2]
    for path in (f"/read/{secret}/", f"/read/{secret}/statement/csv/", f"/read/{secret}/documents/1/"):
        assert client.get(path).status_code == 404
    link = ReaderLink.objects.get()
    assert owner_client.post(f"/w/port-ellery/links/{link.pk}/revoke/").status_code == 404
    assert client.get("/w/port-ellery/").status_code == 302


def test_nothing_of_another_visit_or_car_is_shown(
    arrive: Callable[..., Visit],
    make: Callable[..., str],
    make_vehicle: Any,
    technician: Any,
    now: datetime,
    client: Client,
) -> None:
    car = make_vehicle("PE 14 ABC", nameplate_mg=550_000)
    before, this, after = (arrive(car, now - days * DAYS) for days in (30, 20, 10))
    other = arrive(make_vehicle("QQ 99 ZZZ"), now - 20 * DAYS)
    for visit, words in ((before, "evaporator"), (this, "condenser"), (after, "compressor"), (other, "drier")):
        noted(visit, words, by=technician)
    text = seen(client, make(this))
    assert "condenser" in text
    for hidden in ("evaporator", "compressor", "drier", "QQ 99", f"visit {this.number}", f"/visits/{this.number}"):
        assert hidden not in text


def test_the_visit_of_another_workshop_with_the_same_number_is_not_shown(
    arrive: Callable[..., Visit], make: Callable[..., str], other_workshop: Any, technician: Any, client: Client
) -> None:
    visit = arrive()
    address = make(visit)
    ReaderLink.objects.update(workshop=other_workshop)
    assert client.get(address).status_code == 404


def test_nobody_keeps_lists_or_passes_on_the_page_and_it_needs_no_cookie(
    arrive: Callable[..., Visit], make: Callable[..., str], client: Client, technician_client: Client
) -> None:
    address = make(arrive())
    answer = client.get(address)
    assert answer["Cache-Control"] == "no-store"
    assert answer["Referrer-Policy"] == "no-referrer"
    assert answer["X-Robots-Tag"] == "noindex"
    assert not answer.cookies
    assert not client.cookies
    text = answer.content.decode()
    assert '<meta name="robots" content="noindex">' in text
    assert "<script" not in text
    assert "csrf" not in text
    assert "Tarebook-Keep" not in answer
    assert "Tarebook-Keep" not in technician_client.get(address)  # on a phone that may keep pages
    assert {link for link in re.findall(r'href="([^"]+)"', text) if not link.startswith(("?", "/static/"))} == set()


def test_other_ways_to_ask_are_refused_and_looking_ahead_is_not_written_down(
    arrive: Callable[..., Visit], make: Callable[..., str], client: Client
) -> None:
    address = make(arrive())
    assert client.head(address).status_code == 200
    assert not Opening.objects.exists()
    for method in ("post", "put", "patch", "delete"):
        assert getattr(client, method)(address).status_code == 405
    strict = Client(enforce_csrf_checks=True)
    assert strict.post(address).status_code == 403
    assert client.get(address).status_code == 200
    assert Opening.objects.count() == 1


def test_the_secret_is_neither_kept_nor_logged(
    arrive: Callable[..., Visit], make: Callable[..., str], client: Client, caplog: pytest.LogCaptureFixture
) -> None:
    address = make(arrive())
    secret = address.split("/")[2]
    assert len(secret) == 43  # of 64 signs each: 256 bits
    kept = ReaderLink.objects.values().get()
    assert secret not in repr(kept)
    assert kept["token_digest"] == digest_of(secret.encode())
    caplog.handler.addFilter(SecretAddresses())
    with caplog.at_level(logging.INFO):
        client.post(address)
        client.get(f"{address}x")
    assert "/car/.../" in caplog.text
    assert secret not in caplog.text


def test_with_another_key_of_the_server_the_link_still_leads_there_and_is_told_no_more(
    arrive: Callable[..., Visit], make: Callable[..., str], client: Client, settings: Any
) -> None:
    address = make(arrive())
    settings.SECRET_KEY = "another"
    link = ReaderLink.objects.get()
    assert path_of(link) == ""
    assert secret_of(link.request_key) not in address
    assert client.get(address).status_code == 200


# On paper


def test_the_record_bears_the_code_only_where_that_was_chosen(
    arrive: Callable[..., Visit], make: Callable[..., str], settings: Any
) -> None:
    settings.ADDRESS = "https://book.example"
    visit = arrive()

    def codes() -> list[str]:
        paper = visit_record(visit.workshop, visit.context, today=date(2026, 3, 4))
        return [one.code for one in paper.blocks if isinstance(one, Label)]

    assert codes() == []
    make(visit)
    assert codes() == []
    address = make(visit, on_paper=True)
    assert codes() == [f"https://book.example{address}"]
    owners.revoke(visit)
    assert codes() == []


def test_an_issued_record_keeps_the_code_that_it_bore(
    arrive: Callable[..., Visit], make: Callable[..., str], settings: Any, technician: Any, client: Client
) -> None:
    from compliance.documents.issuing import issue
    from compliance.documents.verifying import answer_of

    settings.ADDRESS = "https://book.example"
    visit = arrive()
    address = make(visit, on_paper=True)
    made = issue(visit.workshop, VISIT, visit.context, by=technician, key=uuid4(), now=datetime.now(UTC))
    assert f"https://book.example{address}" in made.content
    owners.revoke(visit)
    assert answer_of(made).stands
    assert client.get(address).status_code == 404
