"""Signing in and out, the second factor, labels, how it looks."""

import time
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client
from django_otp.oath import TOTP
from django_otp.plugins.otp_totp.models import TOTPDevice

from shop.models import User

PASSWORD = "four unrelated words"

pytestmark = pytest.mark.django_db


@pytest.fixture
def person(owner):
    owner.set_password(PASSWORD)
    owner.save()
    return owner


def sign_in(client: Client, person: User, password: str = PASSWORD, **more: str) -> Any:
    return client.post("/sign-in/", {"username": person.username, "password": password, **more})


def code_of(device: TOTPDevice, steps: int = 0) -> str:
    totp = TOTP(device.bin_key, device.step, device.t0, device.digits, device.drift)
    totp.time = time.time() + steps * device.step
    return f"{totp.token():06d}"


class TestSignIn:
    def test_leads_to_the_workshop(self, client, person, workshop):
        assert sign_in(client, person).headers["Location"] == "/"
        assert client.get("/").headers["Location"] == f"/w/{workshop.slug}/"

    @pytest.mark.parametrize("typed", ["Olga", "OLGA", "olga"])
    def test_capitals_of_the_name_do_not_matter(self, client, person, typed):
        assert client.post("/sign-in/", {"username": typed, "password": PASSWORD}).status_code == 303

    def test_old_names_that_differ_by_capitals_alone_are_told_apart_as_they_are_written(self, person, make_user):
        other = make_user("Olga")
        other.set_password("another four words")
        other.save()
        for typed, password, status in (
            ("Olga", "another four words", 303),
            ("olga", PASSWORD, 303),
            ("Olga", PASSWORD, 422),
            ("OLGA", PASSWORD, 422),
        ):
            assert Client().post("/sign-in/", {"username": typed, "password": password}).status_code == status

    def test_wrong_tries_are_counted_together_however_the_name_is_written(self, client, person):
        for number in range(10):
            typed = "OLGA" if number % 2 else "olga"
            last = client.post("/sign-in/", {"username": typed, "password": "wrong"})
        assert last.status_code == 429

    def test_goes_on_to_the_page_that_was_asked_for(self, client, person):
        assert sign_in(client, person, next="/second-factor/").headers["Location"] == "/second-factor/"

    @pytest.mark.parametrize("bad", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:x"])
    def test_never_leads_off_the_book(self, client, person, bad):
        assert sign_in(client, person, next=bad).headers["Location"] == "/"

    def test_a_wrong_password_is_said_without_saying_which_was_wrong(self, client, person):
        known = sign_in(client, person, "wrong")
        unknown = client.post("/sign-in/", {"username": "nobody", "password": "wrong"})
        assert known.status_code == unknown.status_code == 422
        words = "That name and password do not belong together."
        assert words in known.content.decode()
        assert words in unknown.content.decode()

    def test_a_password_is_never_sent_back(self, client, person):
        assert "a wrong password" not in sign_in(client, person, "a wrong password").content.decode()

    def test_ten_wrong_tries_close_the_door_for_a_while(self, client, person):
        for _ in range(10):
            last = sign_in(client, person, "wrong")
        assert last.status_code == 429
        assert "Wait a quarter of an hour" in last.content.decode()
        assert sign_in(client, person).status_code == 429

    def test_a_page_of_a_workshop_asks_strangers_to_sign_in(self, client, person, workshop):
        response = client.get(f"/w/{workshop.slug}/")
        assert response.headers["Location"].startswith("/sign-in/?next=")

    def test_a_live_part_of_a_page_is_told_that_the_session_is_over(self, client, person, workshop):
        response = client.get(f"/w/{workshop.slug}/", headers={"HX-Request": "true"})
        assert response.status_code == 204
        assert response.headers["HX-Trigger"] == "signedOut"

    def test_signing_out_asks_first(self, owner_client):
        assert owner_client.get("/sign-out/").status_code == 200
        assert owner_client.get("/second-factor/").status_code == 200
        assert "Signed out" in owner_client.post("/sign-out/").content.decode()
        assert owner_client.get("/second-factor/").status_code == 302

    def test_a_person_of_no_workshop_is_told_so(self, client, person, make_user):
        lonely = make_user("lonely")
        client.force_login(lonely)
        assert "You belong to no workshop yet" in client.get("/").content.decode()


class TestSecondFactor:
    def test_is_turned_on_with_a_code_and_then_asked_for(self, client, person):
        client.force_login(person)
        page = client.get("/second-factor/").content.decode()
        assert "style=" not in page
        device = TOTPDevice.objects.get(user=person)
        assert client.post("/second-factor/", {"code": code_of(device)}).status_code == 303
        device.refresh_from_db()
        assert device.confirmed
        other = Client()
        assert sign_in(other, person).headers["Location"] == "/second-factor/check/"
        assert other.get("/second-factor/").status_code == 302  # not signed in by the password alone

    def test_lets_in_with_the_right_code_only(self, client, person):
        device = TOTPDevice.objects.create(user=person, confirmed=True)
        sign_in(client, person, next="/appearance/")
        right = code_of(device)
        wrong = f"{(int(right) + 1) % 1_000_000:06d}"
        assert client.post("/second-factor/check/", {"code": wrong}).status_code == 422
        TOTPDevice.objects.update(throttling_failure_count=0, throttling_failure_timestamp=None)
        response = client.post("/second-factor/check/", {"code": f"{right[:3]} {right[3:]}"})
        assert response.headers["Location"] == "/appearance/"
        assert client.get("/second-factor/").status_code == 200

    def test_a_code_counts_once(self, client, person):
        device = TOTPDevice.objects.create(user=person, confirmed=True)
        code = code_of(device)
        sign_in(client, person)
        assert client.post("/second-factor/check/", {"code": code}).status_code == 303
        other = Client()
        sign_in(other, person)
        assert other.post("/second-factor/check/", {"code": code}).status_code == 422

    def test_is_not_open_to_anyone_without_the_password(self, client, person):
        TOTPDevice.objects.create(user=person, confirmed=True)
        assert client.get("/second-factor/check/").headers["Location"] == "/sign-in/"

    def test_waits_five_minutes_and_no_longer(self, client, person):
        TOTPDevice.objects.create(user=person, confirmed=True)
        sign_in(client, person)
        session = client.session
        session["half_way"] = [person.pk, time.time() - 301, "/"]
        session.save()
        assert client.get("/second-factor/check/").headers["Location"] == "/sign-in/"

    def test_is_taken_off_with_a_code(self, client, person):
        device = TOTPDevice.objects.create(user=person, confirmed=True)
        client.force_login(person)
        assert client.post("/second-factor/", {"code": code_of(device)}).status_code == 303
        assert not TOTPDevice.objects.filter(user=person).exists()

    def test_can_be_taken_off_at_the_machine(self, person, capsys):
        TOTPDevice.objects.create(user=person, confirmed=True)
        call_command("second_factor_off", person.username)
        assert not TOTPDevice.objects.filter(user=person).exists()


class TestLabel:
    def test_leads_a_member_to_the_cylinder(self, owner_client, workshop, cylinder):
        address = f"/w/{workshop.slug}/cylinders/{cylinder.account.number}/"
        assert owner_client.get(f"/c/{cylinder.label}/").headers["Location"] == address
        assert owner_client.get(f"/C/{cylinder.label}").headers["Location"] == address
        assert owner_client.get(f"/c/{cylinder.label.lower()}/").headers["Location"] == address

    def test_says_nothing_to_a_stranger(self, stranger_client, client, workshop, cylinder):
        assert stranger_client.get(f"/c/{cylinder.label}/").status_code == 404
        assert client.get(f"/c/{cylinder.label}/").headers["Location"].startswith("/sign-in/")

    @pytest.mark.parametrize("bad", ["7K3MQ2X", "IIIIII", "000001", "%00", "ÄÖÜ"])
    def test_a_mistyped_label_is_not_found(self, owner_client, cylinder, bad):
        assert owner_client.get(f"/c/{bad}/").status_code == 404


class TestAppearance:
    def test_is_kept_in_the_browser_and_stands_on_the_page(self, client, owner):
        assert client.post("/appearance/", {"appearance": "dark"}).status_code == 303
        assert '<html lang="en" class="dark">' in client.get("/appearance/").content.decode()
        client.post("/appearance/", {"appearance": ""})
        assert '<html lang="en" class="">' in client.get("/appearance/").content.decode()

    def test_a_made_up_choice_reaches_no_page(self, client, owner):
        assert client.post("/appearance/", {"appearance": '"><script>'}).status_code == 422
        client.cookies["appearance"] = "purple"
        assert '<html lang="en" class="">' in client.get("/appearance/").content.decode()


def test_every_answer_names_what_a_page_may_do(client, owner):
    response = client.get("/sign-in/")
    policy = response.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "camera=(self)" in response.headers["Permissions-Policy"]
    assert "HX-Request" in response.headers["Vary"]


def test_a_missing_page_keeps_the_head_and_names_a_way_on(client, owner):
    response = client.get("/nowhere/")
    assert response.status_code == 404
    assert "Nothing was written" in response.content.decode()
    assert "To the logbook" in response.content.decode()
