"""The first set-up: the owner, the workshop, and the steps that follow, each done or put off."""

from typing import Any

import pytest
from django.core.management import call_command
from django.db import transaction
from django.test import Client

from inventory.book import ledger
from inventory.models import Book, Cylinder
from inventory.models.access import OWNER
from shop.models import Membership, User, Workshop
from shop.people import setup
from tests.answers import words

PASSWORD = "four unrelated words"

pytestmark = pytest.mark.django_db


OWNER_SAID = {"username": "maren", "display_name": "Maren Holt", "password": PASSWORD}
WORKSHOP_SAID = {
    "name": "Port Ellery",
    "address": "1 Quay",
    "zone": "Europe/Berlin",
    "height": "210",
    "height_unit": "m",
    "jurisdiction": "eu",
}
UNITS_SAID = {"gwp_basis": "AR4", "mass_unit": "kg", "pressure_unit": "bar", "temperature_unit": "C"}
UNITS_SAID |= {"vacuum_unit": "mbar", "volume_unit": "L", "day_order": "ymd"}
SCALE_SAID = {"name": "S1", "step": "5", "step_unit": "g", "capacity": "100 kg"}
GAUGE_SAID = {"name": "G1", "kind": "pressure gauge", "step": "1 psi"}
HERE = "/w/port-ellery/set-up/"


def first(client: Client, **changes: str) -> Any:
    return client.post("/set-up/", {"code": setup.setup_code(), **OWNER_SAID, **changes})


def opened(client: Client, **changes: str) -> Workshop:
    """Play the set-up up to its second step."""
    first(client)
    assert client.post("/set-up/", {**WORKSHOP_SAID, **changes}).status_code == 303
    return Workshop.objects.get()


def sign_in_again() -> Client:
    client = Client()
    assert client.post("/sign-in/", OWNER_SAID).status_code == 303
    return client


def resumed(client: Client) -> str:
    """Return where a person comes to who opens the book."""
    return str(client.get("/").headers["Location"])


class TestOwner:
    def test_everything_leads_to_it_while_there_is_nobody(self, client):
        assert client.get("/").headers["Location"] == "/set-up/"
        assert client.get("/sign-in/").headers["Location"] == "/set-up/"
        assert client.get("/set-up/").status_code == 200

    def test_asks_for_the_code_on_the_console(self, client, capsys):
        call_command("setup_code")
        assert setup.setup_code() in capsys.readouterr().out
        assert first(client, code="0000-0000").status_code == 422
        assert not User.objects.exists()
        assert first(client, code=setup.setup_code().lower().replace("-", " ")).status_code == 303

    def test_the_code_is_the_same_in_every_process_and_follows_the_secret(self, settings):
        code = setup.setup_code()
        assert setup.setup_code() == code
        settings.SECRET_KEY = "another"
        assert setup.setup_code() != code

    def test_a_weak_password_is_refused_and_nothing_is_half_made(self, client):
        response = first(client, password="12345")
        assert response.status_code == 422
        assert 'value="maren"' in response.content.decode()
        assert not User.objects.exists()

    def test_a_second_press_goes_on_and_makes_no_second_owner(self, client):
        first(client)
        other = Client()  # the answer to the first press was lost, with the cookie in it
        assert first(other).headers["Location"] == "/set-up/"
        assert "The workshop" in other.get("/set-up/").content.decode()
        assert User.objects.count() == 1

    def test_the_code_alone_lets_nobody_in_once_the_owner_stands(self, client):
        first(client)
        other = Client()
        assert first(other, password="four other words").headers["Location"] == "/sign-in/?next=/set-up/"
        assert "_auth_user_id" not in other.session

    def test_who_left_half_way_signs_in_and_goes_on(self, client):
        first(client)
        assert Client().get("/set-up/").headers["Location"] == "/sign-in/?next=/set-up/"
        assert resumed(sign_in_again()) == "/set-up/"

    def test_is_not_there_once_the_book_is_in_use(self, client, owner, technician_client):
        assert client.get("/set-up/").status_code == 404
        assert first(client).status_code == 404
        assert technician_client.get("/set-up/").status_code == 404


@pytest.mark.django_db(transaction=True)
class TestSetUp:
    def test_leads_from_the_owner_to_an_open_book(self, client):
        assert first(client).status_code == 303
        assert "The workshop" in client.get("/set-up/").content.decode()
        assert client.post("/set-up/", WORKSHOP_SAID).headers["Location"] == f"{HERE}rules/"
        workshop = Workshop.objects.get()
        assert (workshop.slug, workshop.altitude_m, workshop.book.zone) == ("port-ellery", 210.0, "Europe/Berlin")
        assert Membership.objects.get().role == OWNER
        assert workshop.book.accounts.count() == 4
        assert client.post(f"{HERE}rules/", UNITS_SAID).headers["Location"] == f"{HERE}scales/"
        assert client.post(f"{HERE}scales/", SCALE_SAID).status_code == 303
        assert (workshop.book.scales.get().step_mg, workshop.book.scales.get().capacity_mg) == (5_000, 100_000_000)
        assert "S1" in client.get(f"{HERE}scales/").content.decode()
        assert client.get("/set-up/").headers["Location"] == f"{HERE}gauges/"
        assert client.post(f"{HERE}gauges/", {"later": "1"}).headers["Location"] == f"{HERE}phone/"
        assert client.post(f"{HERE}phone/").headers["Location"] == f"{HERE}cylinders/"
        assert client.post(f"{HERE}cylinders/").headers["Location"] == f"{HERE}machine/"
        assert client.post(f"{HERE}machine/").headers["Location"] == f"{HERE}certificate/"
        assert client.post(f"{HERE}certificate/", {"none": "1"}).headers["Location"] == f"{HERE}people/"
        assert client.post(f"{HERE}people/").headers["Location"] == "/w/port-ellery/"
        assert resumed(client) == "/w/port-ellery/"

    def test_goes_on_where_it_was_left_whoever_signs_in_on_another_machine(self, client):
        opened(client)
        assert resumed(sign_in_again()) == f"{HERE}rules/"
        client.post(f"{HERE}rules/", UNITS_SAID)
        assert resumed(sign_in_again()) == f"{HERE}scales/"
        client.post(f"{HERE}scales/", SCALE_SAID)
        assert resumed(sign_in_again()) == f"{HERE}gauges/"
        client.post(f"{HERE}gauges/", GAUGE_SAID)
        assert resumed(sign_in_again()) == f"{HERE}phone/"
        client.post(f"{HERE}phone/")
        assert resumed(sign_in_again()) == f"{HERE}cylinders/"

    def test_is_over_when_scales_and_a_first_cylinder_stand(self, client):
        workshop = opened(client)
        client.post(f"{HERE}rules/", UNITS_SAID)
        client.post(f"{HERE}scales/", SCALE_SAID)
        client.post(f"{HERE}gauges/", GAUGE_SAID)
        client.post(f"{HERE}phone/")
        with transaction.atomic():
            account = ledger.open_account(workshop.book, "cylinder", "C-1")
            facts = {"kind": "refillable", "refrigerant": "R-134a", "grade": "virgin", "tare_mg": 6_200_000}
            Cylinder.objects.create(account=account, serial="C-1", **facts)
        assert resumed(client) == "/w/port-ellery/"
        text = client.get("/w/port-ellery/").content.decode()
        assert "nobody else who works here is entered" in text
        assert "no cylinder is entered" not in text

    def test_what_is_put_off_is_on_the_list_of_the_owner_with_a_link_to_its_step(self, client, make_user):
        workshop = opened(client, address="", height="")
        for step in ("rules", "scales", "gauges", "phone", "cylinders", "machine", "certificate", "people"):
            assert client.post(f"{HERE}{step}/", {"later": "1"}).status_code == 303
        assert resumed(client) == "/w/port-ellery/"
        text = client.get("/w/port-ellery/").content.decode()
        for step in ("rules", "scales", "gauges", "phone", "cylinders", "machine", "certificate", "people"):
            assert f'href="{HERE}{step}/"' in text
            assert client.get(f"{HERE}{step}/").status_code == 200
        assert "The address is not entered" in text
        assert "The height of the workshop is not entered; 750 to 1040 hPa is reckoned with" in text
        other = Client()
        other.force_login(
            make_user("tomas", workshop, "technician"), backend="django.contrib.auth.backends.ModelBackend"
        )
        assert HERE not in other.get("/w/port-ellery/").content.decode()
        assert other.get(f"{HERE}scales/").status_code == 403

    def test_what_was_put_off_and_then_done_is_owed_no_more(self, client):
        opened(client)
        client.post(f"{HERE}scales/", {"later": "1"})
        assert "no scale is entered" in client.get("/w/port-ellery/").content.decode()
        client.post(f"{HERE}scales/", SCALE_SAID)
        assert "no scale is entered" not in client.get("/w/port-ellery/").content.decode()

    def test_a_second_press_of_any_step_writes_once(self, client):
        workshop = opened(client)
        assert client.post("/set-up/", WORKSHOP_SAID).headers["Location"] == f"{HERE}rules/"
        for _ in range(2):
            assert client.post(f"{HERE}rules/", UNITS_SAID).status_code == 303
            assert client.post(f"{HERE}scales/", SCALE_SAID).status_code == 303
        assert (Workshop.objects.count(), Book.objects.count(), workshop.book.scales.count()) == (1, 1, 1)
        other = client.post(f"{HERE}scales/", {**SCALE_SAID, "step": "2"})
        assert other.status_code == 422
        assert "There is a scale S1 already" in other.content.decode()

    def test_asks_for_the_owners_own_certificate_and_says_what_it_is_for(self, client):
        opened(client, jurisdiction="us", zone="America/Chicago")
        at = f"{HERE}certificate/"
        assert "certified for it (section 609)" in words(client.get(at))
        assert "no certificate of the owner is entered" in words(client.get("/w/port-ellery/"))
        held = {"scheme": "section 609", "number": "M-1", "never_expires": "on"}
        missing = client.post(at, {**held, "number": ""})
        assert missing.status_code == 422
        assert 'value="section 609"' in missing.content.decode()
        for _ in range(2):  # pressed twice
            assert client.post(at, held).headers["Location"] == f"{HERE}rules/"
        assert [str(one) for one in User.objects.get().certifications.all()] == ["section 609 M-1"]
        assert "section 609 M-1" in words(client.get(at))
        assert "no certificate of the owner is entered" not in words(client.get("/w/port-ellery/"))

    def test_this_machine_alone_is_kept_where_no_phone_reaches_the_address(self, client, settings):
        workshop = opened(client)
        for address, alone in (("http://192.168.1.20:8000", False), ("http://127.0.0.1:8000", True)):
            settings.ADDRESS = address
            client.post(f"{HERE}phone/")
            workshop.refresh_from_db()
            assert workshop.here_alone is alone

    def test_who_holds_no_certificate_says_so_and_is_asked_no_more(self, client):
        opened(client)
        client.post(f"{HERE}certificate/", {"none": "1"})
        assert "no certificate of the owner is entered" not in words(client.get("/w/port-ellery/"))
        assert not User.objects.get().certifications.exists()

    def test_a_gauge_for_pressures_is_proposed_first_and_then_one_for_vacuum(self, client):
        workshop = opened(client, jurisdiction="us", zone="America/Chicago")
        at = f"{HERE}gauges/"

        def proposed() -> tuple[Any, Any]:
            form = client.get(at).context["form"]
            return form["kind"].value(), form.fields["step"].own_unit

        assert proposed() == ("pressure gauge", "psi")
        for _ in range(2):  # pressed twice
            assert client.post(at, GAUGE_SAID).status_code == 303
        assert workshop.book.gauges.get().step == pytest.approx(6894.757, rel=1e-6)
        assert proposed() == ("vacuum gauge", "micron")
        assert "G1, pressure gauge, steps of 1 psi" in words(client.get(at))
        other = client.post(at, {**GAUGE_SAID, "step": "2 psi"})
        assert other.status_code == 422
        assert "There is an instrument G1 already" in words(other)
        client.post(at, {"name": "M1", "kind": "vacuum gauge", "step": ""})
        assert proposed()[0] == ""
        assert "no gauge is entered" not in words(client.get("/w/port-ellery/"))

    def test_going_back_shows_what_stands_and_changes_it(self, client):
        workshop = opened(client)
        client.post(f"{HERE}rules/", UNITS_SAID)
        text = client.get(f"{HERE}workshop/").content.decode()
        assert 'value="Port Ellery"' in text
        assert 'name="height" id="id_height" value="210"' in text
        changed = client.post("/set-up/", {**WORKSHOP_SAID, "address": "2 Quay", "height": ""})  # by the browser's back
        assert changed.status_code == 303
        workshop.refresh_from_db()
        assert (workshop.address, workshop.altitude_m, workshop.slug) == ("2 Quay", None, "port-ellery")
        client.post(f"{HERE}workshop/", {**WORKSHOP_SAID, "zone": "Europe/Athens"})
        workshop.refresh_from_db()
        assert (workshop.zone, workshop.book.zone, workshop.mass_unit) == ("Europe/Athens", "Europe/Athens", "kg")

    def test_a_workshop_in_the_united_states_is_proposed_its_units_and_chooses(self, client):
        workshop = opened(client, jurisdiction="us", zone="America/Chicago")
        form = client.get(f"{HERE}rules/").context["form"]
        chosen = {name: (form[name].value(), form.fields[name].choices[0][0]) for name in form.fields}
        assert chosen == {
            "mass_unit": ("lb oz", "lb oz"),
            "vacuum_unit": ("micron", "micron"),
            "volume_unit": ("fl oz", "fl oz"),
            "day_order": ("mdy", "mdy"),
            "pressure_unit": ("psi", "psi"),
            "temperature_unit": ("F", "F"),
            "gwp_basis": ("AR6", "AR6"),
        }
        assert workshop.vacuum_unit == "micron"
        client.post(f"{HERE}rules/", {**UNITS_SAID, "mass_unit": "lb", "pressure_unit": "psi"})
        step = client.get(f"{HERE}scales/").context["form"].fields["step"]
        assert step.default_unit == "lb"
        client.post(f"{HERE}workshop/", {**WORKSHOP_SAID, "jurisdiction": "eu"})  # units that were chosen stay
        workshop.refresh_from_db()
        assert (workshop.jurisdiction, workshop.mass_unit, workshop.pressure_unit) == ("eu", "lb", "psi")

    @pytest.mark.parametrize(
        ("wrong", "said"),
        [
            ({"name": " "}, "Enter the name of the workshop"),
            ({"zone": ""}, "Choose the time zone"),
            ({"zone": "Mars/Base"}, "Choose a time zone from the list"),
            ({"height": "21000"}, "outside the heights"),
            ({"height": "high"}, "no number"),
            ({"jurisdiction": "moon"}, "not one of the choices"),
        ],
    )
    def test_a_wrong_workshop_is_a_sentence_and_what_was_typed_stays(self, client, wrong, said):
        first(client)
        response = client.post("/set-up/", {**WORKSHOP_SAID, **wrong})
        assert response.status_code == 422
        text = response.content.decode()
        assert said in text
        assert "1 Quay" in text
        assert not Workshop.objects.exists()

    def test_a_workshop_that_came_otherwise_has_no_set_up(self, owner_client):
        assert owner_client.get("/set-up/").status_code == 404
        assert owner_client.get(f"{HERE}scales/")["Location"] == "/w/port-ellery/settings/"
        assert resumed(owner_client) == "/w/port-ellery/"

    def test_people_and_cylinders_come_back_to_their_step(self, client):
        opened(client)
        text = client.get(f"{HERE}people/").content.decode()
        assert "/w/port-ellery/people/new/?back=/w/port-ellery/set-up/people/" in text
        made = client.post(
            "/w/port-ellery/people/new/?back=/w/port-ellery/set-up/people/",
            {"display_name": "Hanne Berg", "role": "technician"},
        )
        assert made.headers["Location"] == f"{HERE}people/"
        assert "Hanne Berg" in client.get(f"{HERE}people/").content.decode()
        assert (
            "cylinders/receive/?only=opening-stock&amp;back=/w/port-ellery/set-up/cylinders/"
            in client.get(f"{HERE}cylinders/").content.decode()
        )

    def test_two_workshops_of_one_name_are_refused_and_of_like_names_get_addresses_of_their_own(self):
        place: dict[str, Any] = {"jurisdiction": "us", "address": "", "zone": "UTC", "altitude_m": None}

        def create(name: str, **changes: Any) -> Workshop:
            owner = User.objects.create_user(f"maren{User.objects.count()}")
            return setup.create_workshop(name=name, **{**place, **changes}, owner=owner)

        create("Port Ellery")
        assert (create("Port-Ellery").slug, create("港").slug) == ("port-ellery-2", "workshop")
        with pytest.raises(setup.SetUpError, match="already"):
            create("Port Ellery")
        with pytest.raises(setup.SetUpError, match="time zone"):
            create("Elsewhere", zone="Mars/Base")
        assert Book.objects.count() == 3
