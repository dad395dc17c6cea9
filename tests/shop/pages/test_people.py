"""People, their certificates and their passwords through their pages."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.measure.own import Units
from shop.models import Certification, Membership, Step, User, Visit
from shop.pages.tables.people import good_until, latest_of

HOME = "/w/port-ellery/"
OLD, NEW = "a long password", "four unrelated words here"
PERSON = {"display_name": "Nils Invented", "role": "technician"}
CERTIFICATE = {"scheme": "course in vehicle gases", "number": "K 17", "expires_on": "2031-03-09"}


def days_on(days: int) -> date:
    return timezone.localdate() + timedelta(days=days)


def certify(user: User, scheme: str = "course", **fields: Any) -> Certification:
    return Certification.objects.create(user=user, scheme=scheme, number="K 1", **fields)


def page_of(user: User, more: str = "") -> str:
    return f"{HOME}people/{user.handle}/{more}"


def edited(user: User, **changes: Any) -> dict[str, Any]:
    """Return the whole edit form of a person who is here, with changes; None leaves a box empty."""
    member = Membership.objects.get(user=user)
    fields = {"display_name": str(user), "role": member.role, "active": "on", **changes}
    return {name: value for name, value in fields.items() if value is not None}


# The list


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"expires_on": date(2031, 3, 9)}, "good until 9 Mar 2031"),
        ({"expires_on": date(2028, 2, 13)}, "runs out in 12 days"),
        ({"expires_on": date(2028, 1, 29)}, "ran out 3 days ago"),
        ({"never_expires": True}, "never expires"),
        ({}, "never entered"),
    ],
)
def test_a_certificate_says_in_words_how_long_it_is_good(
    clock: Callable[[datetime], datetime], fields: dict[str, Any], words: str
) -> None:
    clock(datetime.fromisoformat("2028-02-01T12:00:00+00:00"))
    assert good_until(Certification(**fields), Units(days="dmy")) == words


def test_a_certificate_that_was_renewed_says_nothing_any_more() -> None:
    old = Certification(scheme="course", expires_on=date(2020, 1, 1))
    new = Certification(scheme="course", expires_on=date(2030, 1, 1))
    other = Certification(scheme="another", never_expires=True)
    assert latest_of([new, other, old]) == [other, new]


def test_a_reader_sees_the_list_and_the_pages_and_writes_nothing(reader_client: Client, technician: User) -> None:
    one = certify(technician, never_expires=True)
    listed = reader_client.get(HOME + "people/").content.decode()
    assert "Tomas Lind" in listed
    assert "never expires" in listed
    shown = reader_client.get(page_of(technician)).content.decode()
    assert "K 1" in shown
    assert "password" not in shown.lower()
    assert "tomas" not in shown, "the name to sign in with is not the reader's"
    for path in ("edit/", "certificate/", f"certificate/{one.pk}/", "password/"):
        assert reader_client.get(page_of(technician, path)).status_code == 403
        assert reader_client.post(page_of(technician, path), CERTIFICATE).status_code == 403
    assert reader_client.get(HOME + "people/new/").status_code == 403
    assert Certification.objects.count() == 1


def test_the_list_goes_out_as_a_file_and_is_sorted(owner_client: Client, technician: User, owner: User) -> None:
    response = owner_client.get(HOME + "people/?sort=-called&format=csv")
    lines = b"".join(response.streaming_content).decode("utf-8-sig").splitlines()  # type: ignore[attr-defined]
    assert [line.split(",")[0] for line in lines if line[:5] in ("Tomas", "Olga ")] == ["Tomas Lind", "Olga Moreau"]


def test_the_list_asks_no_more_of_the_database_with_more_people(
    owner_client: Client, make_user: Callable[..., User], workshop: Any
) -> None:
    counts = []
    for names in (("a1", "a2"), ("b1", "b2", "b3", "b4")):
        for name in names:
            certify(make_user(name, workshop), expires_on=days_on(5))
        with CaptureQueriesContext(connection) as asked:
            owner_client.get(HOME + "people/")
        counts.append(len(asked))
    assert counts[0] == counts[1]


@pytest.mark.parametrize("path", ["", "edit/", "certificate/", "password/"])
def test_people_of_another_workshop_are_not_found(owner_client: Client, stranger: User, path: str) -> None:
    assert owner_client.get(page_of(stranger, path)).status_code == 404


def test_a_certificate_is_found_only_with_the_person_who_holds_it(
    owner_client: Client, owner: User, stranger: User
) -> None:
    one = certify(stranger, never_expires=True)
    assert owner_client.post(page_of(owner, f"certificate/{one.pk}/"), CERTIFICATE).status_code == 404


def test_a_page_shows_the_last_steps_done_here_and_asks_no_more_with_more_of_them(
    owner_client: Client,
    technician: User,
    workshop: Any,
    other_workshop: Any,
    make_vehicle: Callable[..., Any],
    now: datetime,
) -> None:
    here = Visit.objects.create(workshop=workshop, number=7, vehicle=make_vehicle(), opened_at=now)
    there = Visit.objects.create(workshop=other_workshop, number=8, vehicle=make_vehicle("V2"), opened_at=now)
    working = {"kind": "leak search", "doer": technician, "data": {"method": {"text": "soap"}}}
    Step.objects.create(visit=there, occurred_at=now, request_key=uuid4(), **working)
    counts = []
    for fresh in (1, 24):
        for number in range(fresh):
            at = now - timedelta(hours=number)
            Step.objects.create(visit=here, occurred_at=at, request_key=uuid4(), **working)
        with CaptureQueriesContext(connection) as asked:
            shown = owner_client.get(page_of(technician)).content.decode()
        counts.append(len(asked))
    assert counts[0] == counts[1]
    assert shown.count("/visits/7/") == shown.count("Leak search, soap") == 20
    assert "/visits/8/" not in shown


# Coming, changing


def test_a_person_who_signs_in_is_entered_and_signs_in(owner_client: Client) -> None:
    fields = {**PERSON, "username": "nils", "password": NEW, "again": NEW}
    made = owner_client.post(HOME + "people/new/", fields)
    assert made.status_code == 303
    assert owner_client.get(made["Location"]).status_code == 200
    guest = Client()
    assert guest.post("/sign-in/", {"username": "nils", "password": NEW}).status_code == 303
    assert guest.get(HOME).status_code == 200


def test_a_name_to_sign_in_with_is_one_in_capitals_of_any_script(owner_client: Client, make_user: Any) -> None:
    make_user("\N{LATIN SMALL LETTER E WITH ACUTE}mile", None, "technician")
    again = {**PERSON, "username": "\N{LATIN CAPITAL LETTER E WITH ACUTE}MILE", "password": NEW, "again": NEW}
    refused = owner_client.post(HOME + "people/new/", again)
    assert refused.status_code == 422
    assert "somebody with that name" in refused.content.decode()


def test_a_person_without_a_password_does_not_sign_in(owner_client: Client) -> None:
    fields = {**PERSON, "is_trainee": "on", "enrolled_on": "2026-09-01"}
    assert owner_client.post(HOME + "people/new/", fields).status_code == 303
    member = Membership.objects.get(user__display_name="Nils Invented")
    assert (member.user.has_usable_password(), member.user.is_active) == (False, False)
    assert (member.is_trainee, member.enrolled_on) == (True, date(2026, 9, 1))


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"display_name": ""}, "Enter the name."),
        ({"display_name": "kept" * 40}, "longer than 120"),
        ({"role": "king"}, "Choose the role."),
        ({"username": "olga"}, "somebody with that name"),
        ({"username": "OLGA"}, "somebody with that name"),
        ({"username": "two words"}, "without spaces"),
        ({"username": ""}, "Enter the name to sign in with"),
        ({"again": "another"}, "The two passwords differ."),
        ({"password": "short", "again": "short"}, "too short"),
        ({"is_trainee": "on"}, "Enter the day on which the trainee was enrolled."),
        ({"is_trainee": "on", "enrolled_on": "soon"}, "or 2026-03-14."),
    ],
)
def test_what_is_wrong_of_a_person_is_said_and_what_was_typed_stays(
    owner_client: Client, wrong: dict[str, str], sentence: str
) -> None:
    fields = {**PERSON, "username": "kept-name", "display_name": "kept-name", "password": NEW, "again": NEW, **wrong}
    response = owner_client.post(HOME + "people/new/", fields)
    said = response.content.decode()
    assert response.status_code == 422
    assert sentence in said
    assert "kept" in said
    assert NEW not in said
    assert User.objects.count() == 1


def test_only_the_owner_enters_and_edits_people(technician_client: Client, technician: User) -> None:
    assert technician_client.post(HOME + "people/new/", PERSON).status_code == 403
    assert technician_client.post(page_of(technician, "edit/"), {**PERSON, "role": "owner"}).status_code == 403
    assert Membership.objects.get(user=technician).role == "technician"


def test_a_person_is_edited_and_one_who_is_no_longer_here_stays_on_the_list(
    owner_client: Client, technician: User, technician_client: Client
) -> None:
    fields = edited(technician, display_name="Tomas Renamed", role="reader", active=None)
    assert owner_client.post(page_of(technician, "edit/"), fields).status_code == 303
    listed = owner_client.get(HOME + "people/").content.decode()
    assert "Tomas Renamed" in listed
    assert "reader, no longer here" in listed
    assert technician_client.get(HOME).status_code == 404


@pytest.mark.parametrize("change", [{"role": "technician"}, {"active": None}])
def test_the_last_owner_who_is_here_stays_one(
    owner_client: Client, owner: User, make_user: Callable[..., User], workshop: Any, change: dict[str, Any]
) -> None:
    gone = make_user("gone", workshop, "owner")
    Membership.objects.filter(user=gone).update(active=False)
    make_user("silent", workshop, "owner", is_active=False)
    refused = owner_client.post(page_of(owner, "edit/"), edited(owner, **change))
    assert refused.status_code == 422
    assert "This is the last owner" in refused.content.decode()
    make_user("second", workshop, "owner")
    assert owner_client.post(page_of(owner, "edit/"), edited(owner, **change)).status_code == 303


def test_the_name_of_a_person_of_two_workshops_is_not_one_owners_to_change(
    owner_client: Client, technician: User, other_workshop: Any
) -> None:
    fields = edited(technician, display_name="Renamed")
    Membership.objects.create(user=technician, workshop=other_workshop, role="reader")
    assert owner_client.post(page_of(technician, "edit/"), {**fields, "role": "reader"}).status_code == 303
    technician.refresh_from_db()
    assert technician.display_name == "Tomas Lind"
    assert technician.memberships.get(workshop__slug="port-ellery").role == "reader"


# Certificates


def test_the_owner_enters_a_certificate_of_anybody_and_puts_it_right(owner_client: Client, technician: User) -> None:
    assert owner_client.post(page_of(technician, "certificate/"), CERTIFICATE).status_code == 303
    one = Certification.objects.get()
    again = {**CERTIFICATE, "expires_on": "", "never_expires": "on"}
    assert owner_client.get(page_of(technician, f"certificate/{one.pk}/")).status_code == 200
    assert owner_client.post(page_of(technician, f"certificate/{one.pk}/"), again).status_code == 303
    one.refresh_from_db()
    assert (one.user, one.expires_on, one.never_expires) == (technician, None, True)


def test_nobody_but_the_owner_rewrites_a_certificate_not_even_who_holds_it(
    technician_client: Client, technician: User, owner: User
) -> None:
    one = certify(technician, expires_on=days_on(5))
    forged = {**CERTIFICATE, "number": "forged", "expires_on": "2099-12-31"}
    for person in (technician, owner):
        assert technician_client.post(page_of(person, "certificate/"), forged).status_code == 403
    assert technician_client.post(page_of(technician, f"certificate/{one.pk}/"), forged).status_code == 403
    assert Certification.objects.get().number == "K 1"
    shown = technician_client.get(page_of(technician)).content.decode()
    assert f"certificate/{one.pk}/" not in shown
    assert "K 1" in shown


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"scheme": ""}, "Enter the name of the certificate."),
        ({"number": "9" * 81}, "longer than 80"),
        ({"expires_on": ""}, "Enter until when it is good"),
        ({"never_expires": "on"}, "not both"),
        ({"issued_on": "2020-03-10", "expires_on": "2020-03-09"}, "It cannot end before it was issued."),
        ({"issued_on": "2999-01-01", "expires_on": "2999-01-02"}, "That day is still to come."),
        ({"expires_on": "9/3/31x"}, "or 2026-03-14."),
    ],
)
def test_what_is_wrong_of_a_certificate_is_said_and_what_was_typed_stays(
    owner_client: Client, owner: User, wrong: dict[str, str], sentence: str
) -> None:
    response = owner_client.post(page_of(owner, "certificate/"), {**CERTIFICATE, "scope": "kept words", **wrong})
    said = response.content.decode()
    assert response.status_code == 422
    assert sentence in said
    assert "kept words" in said
    assert not Certification.objects.exists()


def test_a_certificate_may_end_on_the_day_it_was_issued(owner_client: Client, owner: User) -> None:
    fields = {**CERTIFICATE, "issued_on": "2020-03-09", "expires_on": "2020-03-09"}
    assert owner_client.post(page_of(owner, "certificate/"), fields).status_code == 303


# Passwords


def test_ones_own_password_needs_the_old_one_and_the_session_goes_on(
    technician_client: Client, technician: User
) -> None:
    path = page_of(technician, "password/")
    wrong = technician_client.post(path, {"old": "guessed", "password": NEW, "again": NEW})
    assert wrong.status_code == 422
    assert "That is not the old password." in wrong.content.decode()
    missing = technician_client.post(path, {"password": NEW, "again": NEW})
    assert missing.status_code == 422
    assert technician_client.post(path, {"old": OLD, "password": NEW, "again": NEW}).status_code == 303
    technician.refresh_from_db()
    assert technician.check_password(NEW)
    assert technician_client.get(HOME).status_code == 200


def test_the_owner_sets_a_password_and_sessions_begun_with_the_old_one_end(
    owner_client: Client, technician_client: Client, technician: User
) -> None:
    assert technician_client.get(HOME).status_code == 200
    sent = owner_client.post(page_of(technician, "password/"), {"password": NEW, "again": NEW})
    assert sent.status_code == 303
    assert technician_client.get(HOME).status_code == 302


def test_an_owner_sets_no_password_of_a_person_of_another_workshop_too(
    owner_client: Client, technician: User, other_workshop: Any
) -> None:
    Membership.objects.create(user=technician, workshop=other_workshop, role="technician", active=False)
    refused = owner_client.post(page_of(technician, "password/"), {"password": NEW, "again": NEW})
    assert refused.status_code == 403
    assert "belongs to another workshop too" in refused.content.decode()
    technician.refresh_from_db()
    assert technician.check_password(OLD)


def test_nobody_but_the_owner_sets_anothers_password(technician_client: Client, owner: User) -> None:
    sent = technician_client.post(page_of(owner, "password/"), {"old": OLD, "password": NEW, "again": NEW})
    assert sent.status_code == 403


def test_a_person_who_did_not_sign_in_gets_a_name_with_the_password(owner_client: Client) -> None:
    owner_client.post(HOME + "people/new/", PERSON)
    nils = User.objects.get(display_name="Nils Invented")
    fields = {"password": NEW, "again": NEW}
    assert owner_client.post(page_of(nils, "password/"), fields).status_code == 422
    assert owner_client.post(page_of(nils, "password/"), {**fields, "username": "olga"}).status_code == 422
    assert owner_client.post(page_of(nils, "password/"), {**fields, "username": "nils"}).status_code == 303
    assert Client().post("/sign-in/", {"username": "nils", "password": NEW}).status_code == 303


@pytest.mark.parametrize(
    ("password", "again"), [("short", "short"), (NEW, NEW + "x"), ("", ""), ("12345678901", "12345678901")]
)
def test_a_password_that_is_poor_or_typed_twice_unlike_is_refused(
    owner_client: Client, technician: User, password: str, again: str
) -> None:
    fields = {"password": password, "again": again}
    refused = owner_client.post(page_of(technician, "password/"), fields)
    technician.refresh_from_db()
    assert refused.status_code == 422
    assert technician.check_password(OLD)
