"""What the server says to a phone: which pages it may keep and for whom, and whether a form stands in the book."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.staticfiles import finders
from django.test import Client
from django.utils import timezone

from inventory.acts import onscale
from inventory.book.weighing import Gross
from inventory.models import Entry
from shop.models import Step
from shop.pages.shell import shell_files, state_of

pytestmark = pytest.mark.django_db
HOME = "/w/port-ellery/"


def test_the_worker_reaches_every_page_and_names_the_files_of_the_pages(client: Client, owner: Any) -> None:
    answer = client.get("/worker.js")
    assert answer["Content-Type"].startswith("text/javascript")
    assert answer["Service-Worker-Allowed"] == "/"
    assert answer["Cache-Control"] == "no-cache"
    assert "worker-src 'self'" in answer["Content-Security-Policy"]
    first = answer.content.decode().splitlines()[0]
    assert "/static/shop/book.css" in first
    assert "/net-away/" in first
    files = re.findall(r'"/static/([^"]+)"', first)
    assert [one for one in files if not finders.find(one)] == []
    assert client.get("/net-away/").status_code == 200


def test_a_changed_file_is_another_shell(tmp_path: Path) -> None:
    files = {**shell_files(), "shop/book.css": tmp_path / "book.css"}
    (tmp_path / "book.css").write_text("a {}")
    before = state_of(files)
    assert before == state_of(files)
    (tmp_path / "book.css").write_text("b {}")
    assert state_of(files) != before


def test_pages_of_an_open_visit_may_be_kept_for_their_person_and_others_not(
    technician_client: Client, technician: Any, reader_client: Client, arrive: Any, cylinder: Any
) -> None:
    visit = arrive()
    for path in (f"visits/{visit.number}/", f"visits/{visit.number}/add/repair/", "weigh/", "visits/new/"):
        answer = technician_client.get(HOME + path)
        assert answer["Tarebook-Person"] == technician.handle
        assert "Tarebook-Keep" in answer, path
    for path in ("people/", "settings/", "documents/", "vehicles/", f"visits/{visit.number}/?kept=x", ""):
        assert "Tarebook-Keep" not in technician_client.get(HOME + path), path
    assert "Tarebook-Keep" not in reader_client.get(f"{HOME}visits/{visit.number}/")
    assert Client().get("/sign-in/")["Tarebook-Person"] == "nobody"
    visit.state = visit.CLOSED
    visit.save()
    assert "Tarebook-Keep" not in technician_client.get(f"{HOME}visits/{visit.number}/")


def test_a_phone_hears_who_is_signed_in_and_what_of_theirs_stands_in_the_book(
    technician_client: Client, technician: Any, owner_client: Client, arrive: Any
) -> None:
    visit, key = arrive(), uuid4()
    assert Client().get("/sending/").json()["person"] == ""
    assert technician_client.get("/sending/").json()["person"] == technician.handle
    asked = f"/sending/?key={key}"
    assert technician_client.get(asked).json()["written"] is False
    path = f"{HOME}visits/{visit.number}/add/circuit-opened/"
    technician_client.post(path, {"key": str(key), "what": "hose", "doer": technician.handle})
    assert technician_client.get(asked).json()["written"] is True
    assert Client().get(asked).json()["written"] is False
    assert technician_client.get("/sending/?key=nothing").json()["written"] is False


def pressed_now() -> dict[str, str]:
    at = f"{timezone.now():%Y-%m-%dT%H:%M:%S+00:00}"
    return {"occurred_at": at, "pressed_at": at}


def test_a_form_sent_again_with_the_time_of_its_pressing_is_the_same_request(
    technician_client: Client, cylinder: Any, scale: Any
) -> None:
    sent = {"key": str(uuid4()), "gross": "11 kg", "scale": str(scale.number), "occurred_at": "", "note": ""}
    path = f"{HOME}cylinders/{cylinder.account.number}/weigh/"
    sent["read_back"] = technician_client.post(path, sent).context["signature"]
    before = Entry.objects.count()
    assert technician_client.post(path, sent).status_code == 303
    assert technician_client.post(path, {**sent, **pressed_now()}).status_code == 303
    assert Entry.objects.count() == before + 1
    assert technician_client.post(path, {**sent, "gross": "11.2 kg"}).status_code == 409


def test_what_was_pressed_without_net_counts_for_that_time_and_shows_it_when_it_comes_back(
    technician_client: Client, technician: Any, arrive: Any
) -> None:
    visit, pressed = arrive(), pressed_now()
    path = f"{HOME}visits/{visit.number}/add/circuit-opened/"
    sent = {"key": str(uuid4()), "doer": technician.handle, **pressed}
    refused = technician_client.post(path, sent)
    assert refused.status_code == 422
    assert refused.content.decode().count(pressed["pressed_at"]) == 2
    assert technician_client.post(path, {**sent, "what": "hose"}).status_code == 303
    assert f"{Step.objects.get(kind='circuit opened').occurred_at:%H:%M:%S}" in pressed["pressed_at"]


def test_a_reading_after_whose_first_stands_open_no_more_is_not_written_as_another_first(
    technician_client: Client, cylinder: Any, scale: Any
) -> None:
    sent = {"key": str(uuid4()), "gross": "11 kg", "scale": str(scale.number), "went": "nothing"}
    before = Entry.objects.count()
    answer = technician_client.post(f"{HOME}cylinders/{cylinder.account.number}/weigh/", sent)
    assert answer.status_code == 422
    assert "stands open no more" in answer.content.decode()
    assert Entry.objects.count() == before


def test_a_leg_says_which_reading_before_was_written_meanwhile(
    technician_client: Client,
    technician: Any,
    arrive: Any,
    cylinder: Any,
    scale: Any,
    book: Any,
    act: Callable[..., Any],
) -> None:
    visit = arrive()
    onscale.weigh(book, act(), Gross(cylinder, scale, 11_200_000, "11.2 kg"), "before")
    sent = {"key": str(uuid4()), "doer": technician.handle, "scale": str(scale.number)}
    path = f"{HOME}visits/{visit.number}/charge/?source={cylinder.account.number}"
    answer = technician_client.post(path, {**sent, "before": "11.200", "after": "10.650"})
    assert answer.status_code == 422
    assert "A reading before was written meanwhile: 11.2" in answer.context["form"].errors.as_text()


@pytest.mark.parametrize(
    ("gross", "status"),
    [("11.2 kg", 303), ("11.195 kg", 303), ("10.9 kg", 200)],  # as the book has it; a step beside it; 300 g missing
)
def test_a_reading_from_the_queue_is_written_where_there_is_nothing_to_decide(
    gross: str, status: int, technician_client: Client, cylinder: Any, scale: Any
) -> None:
    sent = {"key": str(uuid4()), "gross": gross, "scale": str(scale.number), **pressed_now()}
    path = f"{HOME}cylinders/{cylinder.account.number}/weigh/"
    assert technician_client.post(path, sent).status_code == 200  # pressed on a page, unseen: read back
    answer = technician_client.post(path, {**sent, "queued": "1"})
    assert answer.status_code == status
    if status == 200:
        assert "unexplained" in answer.content.decode()
        assert "queued" not in answer.content.decode()


@pytest.mark.parametrize(("after", "status"), [("10.650 kg", 303), ("10.580 kg", 200)])
def test_a_charge_from_the_queue_stops_where_it_missed_its_target(
    after: str,
    status: int,
    technician_client: Client,
    technician: Any,
    arrive: Callable[..., Any],
    make_vehicle: Callable[..., Any],
    cylinder: Any,
    scale: Any,
) -> None:
    visit = arrive(make_vehicle(nameplate_tolerance_mg=50_000))
    path = f"{HOME}visits/{visit.number}/charge/?source={cylinder.account.number}"
    readings = {"before": "11.200 kg", "after": after, "target": "550 g", "tolerance": "50 g", "queued": "1"}
    who = {"key": str(uuid4()), "doer": technician.handle, "scale": str(scale.number)}
    assert technician_client.post(path, {**who, **readings, **pressed_now()}).status_code == status
