"""Leaving a form to create what is missing, and coming back to it with what was typed."""

from html import unescape
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from inventory.models import Entry, Scale
from inventory.pages import comeback
from shop.models import Customer, Step, User, Visit
from tests.answers import confirm, words

pytestmark = pytest.mark.django_db

SCALE = {"name": "S7", "step": "0.5", "step_unit": "oz"}
SETTINGS = "/w/port-ellery/settings/scales/new/"


def weigh_page(cylinder: Any) -> str:
    return f"/w/port-ellery/cylinders/{cylinder.account.number}/weigh/"


def leave(client: Client, page: str, **typed: Any) -> Any:
    return client.post(page, {"gross": "16.43", "gross_unit": "lb", "note": "by the door", **typed})


def test_a_scale_is_entered_from_the_weighing_and_what_was_typed_stays(owner_client: Client, cylinder: Any) -> None:
    page = weigh_page(cylinder)
    before, text = Entry.objects.count(), owner_client.get(page).content.decode()
    assert 'name="go" value="scale scale"' in text
    away = leave(owner_client, page, go="scale scale")
    assert away.status_code == 303
    assert urlsplit(away["Location"]).path == SETTINGS
    assert Entry.objects.count() == before
    assert "?kept=" in owner_client.get(away["Location"]).content.decode()  # the quiet link leads back too
    made = owner_client.post(away["Location"], SCALE)
    assert made.status_code == 303
    assert made["Location"].startswith(f"{page}?kept=")
    back = owner_client.get(made["Location"])
    text = unescape(back.content.decode())
    assert back.status_code == 200
    assert 'value="16.43"' in text
    assert "by the door" in text
    assert "To put right" not in text
    assert back.context["form"]["scale"].value() == str(Scale.objects.get(name="S7").number)
    again = owner_client.get(made["Location"])  # back and forward, or loaded again
    assert 'value="16.43"' in again.content.decode()


def test_the_form_that_comes_back_writes_once(owner_client: Client, cylinder: Any, scale: Any) -> None:
    page = weigh_page(cylinder)
    key = owner_client.get(page).context["form"]["key"].value()
    away = leave(owner_client, page, go="scale scale", key=str(key), gross="11.2", gross_unit="kg", scale=scale.number)
    made = owner_client.post(away["Location"], SCALE)
    form = owner_client.get(made["Location"]).context["form"]
    assert form["key"].value() == str(key)


def test_two_forms_left_one_within_another_both_come_back(owner_client: Client, cylinder: Any) -> None:
    first = leave(owner_client, weigh_page(cylinder), go="scale scale")["Location"]
    second = owner_client.post(first, {"name": "typed here", "go": "person x"})["Location"]
    back = owner_client.post(second, {"display_name": "Hanne Berg", "role": "technician"})["Location"]
    assert 'value="typed here"' in owner_client.get(back).content.decode()
    made = owner_client.post(first, SCALE)["Location"]
    assert 'value="16.43"' in owner_client.get(made).content.decode()


def test_a_person_is_added_from_a_step(owner_client: Client, make_vehicle: Any, workshop: Any, now: Any) -> None:
    Visit.objects.create(workshop=workshop, number=1, vehicle=make_vehicle(), opened_at=now)
    page = "/w/port-ellery/visits/1/add/standing-pressure/"
    assert 'value="person doer"' in owner_client.get(page).content.decode()
    away = owner_client.post(page, {"pressure": "70 psi", "note": "cold", "go": "person doer"})["Location"]
    made = owner_client.post(away, {"display_name": "Hanne Berg", "role": "technician"})["Location"]
    form = owner_client.get(made).context["form"]
    assert form["doer"].value() == User.objects.get(display_name="Hanne Berg").handle
    assert form["note"].value() == "cold"
    assert not Step.objects.exists()


def test_a_customer_is_entered_from_the_vehicle(owner_client: Client, make_vehicle: Any) -> None:
    page = f"/w/port-ellery/vehicles/{make_vehicle().account.number}/edit/"
    assert 'value="car-owner customer"' in owner_client.get(page).content.decode()
    away = owner_client.post(page, {"registration": "KX 4471", "make_model": "Invented", "go": "car-owner customer"})[
        "Location"
    ]
    made = owner_client.post(away, {"name": "Hanne Berg"})["Location"]
    assert made.startswith(f"{page}?kept=")
    form = owner_client.get(made).context["form"]
    assert form["make_model"].value() == "Invented"
    assert form["customer"].value() == str(Customer.objects.get(name="Hanne Berg").pk)


def test_another_person_cannot_see_what_was_left(
    owner_client: Client, technician_client: Client, cylinder: Any
) -> None:
    away = leave(owner_client, weigh_page(cylinder), go="scale scale")["Location"]
    token = parse_qs(urlsplit(away).query)["back"][0]
    text = technician_client.get(f"{weigh_page(cylinder)}?kept={token}").content.decode()
    assert "16.43" not in text


def test_a_technician_is_told_who_enters_a_scale(technician_client: Client, owner: User, cylinder: Any) -> None:
    text = technician_client.get(weigh_page(cylinder)).content.decode()
    assert "A scale is entered by the owner: Olga Moreau." in text
    assert 'value="scale ' not in text


def test_what_was_left_is_bounded(owner_client: Client, cylinder: Any) -> None:
    page = weigh_page(cylinder)
    for number in range(9):
        leave(owner_client, page, go="scale scale", note=f"number {number}")
    left = owner_client.session[comeback.IN_SESSION]
    assert len(left) == comeback.MOST_KEPT
    assert "number+8" in list(left.values())[-1]["sent"]
    long = leave(owner_client, page, go="scale scale", note="x" * 40_000)
    assert long.status_code == 200
    assert comeback.TOO_MUCH in long.content.decode()
    assert 'value="16.43"' in long.content.decode()
    assert len(owner_client.session[comeback.IN_SESSION]) == comeback.MOST_KEPT


def test_files_are_said_to_be_chosen_again_and_passwords_are_not_kept(owner_client: Client, cylinder: Any) -> None:
    photo = SimpleUploadedFile("a.jpg", b"x")
    away = leave(owner_client, weigh_page(cylinder), go="scale scale", photo=photo, password="secret")["Location"]
    assert "secret" not in str(owner_client.session[comeback.IN_SESSION])
    made = owner_client.post(away, SCALE)["Location"]
    assert comeback.FILES_AGAIN in owner_client.get(made).content.decode()


@pytest.mark.parametrize("bad", ["//elsewhere.example/", "https://elsewhere.example/", "/w/highmoor/", "nonsense"])
def test_nothing_leads_off_the_workshop(owner_client: Client, bad: str) -> None:
    made = owner_client.post(f"{SETTINGS}?back={bad}", SCALE)
    assert made["Location"] == "/w/port-ellery/settings/"


def test_a_page_without_a_form_is_come_back_to_with_what_was_made(owner_client: Client) -> None:
    there = "/w/port-ellery/weigh/%3Fq%3DNEW"
    text = owner_client.get(f"{SETTINGS}?back={there}").content.decode()
    assert 'href="/w/port-ellery/weigh/"' in text
    made = owner_client.post(f"{SETTINGS}?back={there}", SCALE)
    assert made["Location"] == f"/w/port-ellery/weigh/?q={Scale.objects.get().number}"


def test_a_made_up_wish_leaves_no_form(owner_client: Client, cylinder: Any) -> None:
    answer = leave(owner_client, weigh_page(cylinder), go="castle x")
    assert answer.status_code == 200
    assert 'value="16.43"' in answer.content.decode()
    assert comeback.IN_SESSION not in owner_client.session


# Left while it was read back


@pytest.fixture
def read_back(owner_client: Client, cylinder: Any, scale: Any) -> str:
    """A reading that was read back and then left; its key."""
    page = weigh_page(cylinder)
    key = str(owner_client.get(page).context["form"]["key"].value())
    answer = leave(owner_client, page, key=key, gross="11.2", gross_unit="kg", scale=scale.number)
    assert "Read this back" in answer.content.decode()
    return key


def test_what_was_read_back_and_left_is_shown_when_its_page_is_opened_again(
    owner_client: Client, technician_client: Client, cylinder: Any, read_back: str
) -> None:
    page = weigh_page(cylinder)
    owner_client.get("/w/port-ellery/cylinders/")  # by another link, and then back
    shown = owner_client.get(page)
    assert "and it is not written" in words(shown)
    assert "and it is not written" not in words(technician_client.get(page))
    assert "and it is not written" not in words(owner_client.get("/w/port-ellery/cylinders/"))
    again = owner_client.get(shown.context["left_here"]()["href"])
    assert 'value="11.2"' in again.content.decode()
    assert "by the door" in again.content.decode()
    assert again.context["form"]["key"].value() == read_back
    sent = {name: value for name, value in again.wsgi_request.POST.items() if name != "change"}
    written = confirm(owner_client, page, sent)
    assert written.status_code == 303
    assert "and it is not written" not in words(owner_client.get(page))


def test_it_is_dropped_by_a_button(owner_client: Client, cylinder: Any, read_back: str) -> None:
    page, before = weigh_page(cylinder), Entry.objects.count()
    drop = owner_client.get(page).context["left_here"]()["drop"]
    assert owner_client.post(page, {"go": drop})["Location"] == page
    assert "and it is not written" not in words(owner_client.get(page))
    assert Entry.objects.count() == before


def test_read_back_twice_it_is_kept_once_as_it_was_typed_last(
    owner_client: Client, cylinder: Any, scale: Any, read_back: str
) -> None:
    page = weigh_page(cylinder)
    leave(owner_client, page, key=read_back, gross="11.195", gross_unit="kg", scale=scale.number)
    assert len(owner_client.session[comeback.IN_SESSION]) == 1
    again = owner_client.get(owner_client.get(page).context["left_here"]()["href"])
    assert 'value="11.195"' in again.content.decode()


def test_what_another_tab_has_written_meanwhile_is_not_offered(
    owner_client: Client, cylinder: Any, scale: Any, read_back: str
) -> None:
    page, session = weigh_page(cylinder), owner_client.session
    kept = session[comeback.IN_SESSION]
    sent = {"key": read_back, "gross": "11.2", "gross_unit": "kg", "note": "by the door", "scale": scale.number}
    assert confirm(owner_client, page, sent).status_code == 303
    session = owner_client.session
    session[comeback.IN_SESSION] = kept
    session.save()
    assert "and it is not written" not in words(owner_client.get(page))
