"""Pages of the acts on cylinders: read back where they must, write once, refuse beside the field."""

from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inventory.acts import onscale
from inventory.book.weighing import Gross
from inventory.models import Analysis, Consignment, Cylinder, Entry, Movement, Remark
from inventory.pages.fields.sent import INSISTED
from tests.answers import confirm, words

pytestmark = pytest.mark.django_db
BASE = "/w/port-ellery"
G = 1_000


def form(**fields: Any) -> dict[str, Any]:
    return {"key": str(uuid4()), **fields}


def page_of(cylinder: Cylinder, act: str) -> str:
    return f"{BASE}/cylinders/{cylinder.account.number}/{act}/"


@pytest.fixture
def recovered(make_cylinder: Any) -> Cylinder:
    made: Cylinder = make_cylinder("C-35", kind="recovery", grade="recovered", mass_mg=5_000 * G)
    return made


@pytest.fixture
def client(technician_client: Client) -> Client:
    return technician_client


# Every act that must be read back is


def always_read_back(scale: Any, partner: Any) -> dict[str, dict[str, Any]]:
    reading = {"scale": scale.number, "gross": "11.2 kg"}
    return {
        "loss": {"cause": "leaked-from-stock", "how": "rest", "reason": "valve seen bubbling"},
        "send-away": {**reading, "partner": partner.account.number, "purpose": "reclaim"},
        "regrade": {"grade": "suspect", "evidence": "smells of sealant"},
        "identified": {"refrigerant": "MIXED", "parts": "R-134a 90, R-1234yf 9.5, air 0.5"},
    }


@pytest.mark.parametrize("name", ["loss", "send-away", "regrade", "identified"])
def test_air_away_and_suspect_are_read_back_first(
    client: Client, recovered: Cylinder, scale: Any, partner: Any, name: str
) -> None:
    data = form(**always_read_back(scale, partner)[name])
    lines = Entry.objects.count()
    asked = client.post(page_of(recovered, name), data)
    assert asked.status_code == 200
    assert "Read this back" in words(asked)
    assert Entry.objects.count() == lines
    pressed = {**data, "read_back": asked.context["signature"]}
    first, second = (client.post(page_of(recovered, name), pressed) for _ in range(2))
    assert (first.status_code, second.status_code) == (303, 303)
    assert first["Location"] == second["Location"]
    assert Entry.objects.count() == lines + 1


def test_a_loss_by_two_readings_goes_to_the_air(client: Client, cylinder: Cylinder, scale: Any) -> None:
    data = form(
        cause="purge", how="pair", scale=scale.number, before="11.200 kg", after="11.150 kg", reason="8 psi over"
    )
    assert confirm(client, page_of(cylinder, "loss"), data).status_code == 303
    assert Movement.objects.get(cause="purge").mass_mg == 50 * G
    assert Remark.objects.get().text == "8 psi over"


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"reason": ""}, "Enter the reason."),
        ({"how": "rest"}, "known by readings before and after"),
        ({"before": ""}, "was not weighed before"),
        ({"after": ""}, "Enter the gross mass after."),
        ({"after": "11.300 kg"}, "nothing left the cylinder"),
        ({"after": "11.151 kg"}, "lies between the steps"),
        ({"scale": ""}, "Choose the scale."),
        ({"cause": "missing"}, "The whole cylinder is gone then"),
    ],
)
def test_a_loss_that_cannot_be_is_refused_and_kept(
    client: Client, cylinder: Cylinder, scale: Any, fields: dict[str, Any], sentence: str
) -> None:
    working = {"cause": "purge", "how": "pair", "before": "11.200 kg", "after": "11.150 kg", "reason": "over by 8 psi"}
    data = form(**{**working, "scale": scale.number, **fields})
    answer = confirm(client, page_of(cylinder, "loss"), data)
    assert answer.status_code == 422
    assert sentence in words(answer)
    assert data["before"] in words(answer)
    assert Movement.objects.count() == 1


def test_a_transfer_through_the_page(
    client: Client, cylinder: Cylinder, make_cylinder: Any, scale: Any, held: Any
) -> None:
    target = make_cylinder()
    data = form(
        target=target.account.number, weighed="source", scale=scale.number, before="11.200 kg", after="10.200 kg"
    )
    asked = client.post(page_of(cylinder, "transfer"), data)
    assert "can take 11.58" in words(asked)
    assert confirm(client, page_of(cylinder, "transfer"), data).status_code == 303
    assert held(target) == {("R-134a", "virgin"): 1_000 * G}


def test_scenario_4_cylinders_that_may_not_take_a_gas_are_refused_with_the_way_out(
    client: Client, cylinder: Cylinder, make_cylinder: Any, scale: Any
) -> None:
    single = make_cylinder("C-37", kind="single-trip")
    other = make_cylinder("T-1", refrigerant="R-1234yf", mass_mg=1_000 * G)
    for target, sentence in ((single, "Choose a refillable or recovery cylinder"), (other, "Use another cylinder")):
        data = form(
            target=target.account.number, weighed="source", scale=scale.number, before="11.200 kg", after="10.700 kg"
        )
        answer = confirm(client, page_of(cylinder, "transfer"), data)
        assert answer.status_code == 422
        assert sentence in words(answer)


def test_an_identifier_below_98_per_cent_asks_for_mixed(client: Client, recovered: Cylinder) -> None:
    data = form(refrigerant="R-1234yf", parts="R-1234yf 91.5, R-134a 8.0, air 0.5", instrument="no. 3")
    answer = confirm(client, page_of(recovered, "identified"), data)
    assert answer.status_code == 422
    assert "92.0 % of it is R-1234yf" in words(answer)
    assert confirm(client, page_of(recovered, "identified"), {**data, "refrigerant": "MIXED"}).status_code == 303
    assert Analysis.objects.get().parts == {"R-1234yf": "0.915", "R-134a": "0.08", "air": "0.005"}


@pytest.mark.parametrize("parts", ["R-134a 50", "R-134a", "R-134a 50, R-134a 50", "R-999 100", "60 40"])
def test_parts_that_cannot_be_read_are_said(client: Client, recovered: Cylinder, parts: str) -> None:
    answer = confirm(client, page_of(recovered, "identified"), form(refrigerant="MIXED", parts=parts))
    assert answer.status_code == 422
    assert Movement.objects.count() == 1


def test_scenario_6_a_heel_is_not_empty(client: Client, make_cylinder: Any, scale: Any, partner: Any) -> None:
    cylinder = make_cylinder("C-34", mass_mg=415 * G)
    data = form(
        partner=partner.account.number,
        purpose="return to supplier",
        scale=scale.number,
        gross="6.615 kg",
        temperature="22",
        temperature_unit="C",
    )
    asked = words(client.post(page_of(cylinder, "send-away"), data))
    assert "a 12 L bottle whose liquid is gone still holds about 354 g of vapour at 22 °C" in asked
    # The scenario's 62 g is the liquid that must be there beside the vapour above it.
    liquid_g = int(asked.split("; some ")[1].split(" g")[0])
    assert liquid_g == pytest.approx(62, abs=2)
    assert confirm(client, page_of(cylinder, "send-away"), data).status_code == 303
    assert Movement.objects.get(cause="heel-returned").mass_mg == 415 * G
    page = words(client.get(f"{BASE}/cylinders/{cylinder.account.number}/"))
    assert "away" in page


def test_a_cylinder_that_is_sent_away_is_chosen_first(client: Client, cylinder: Cylinder) -> None:
    assert cylinder.serial in words(client.get(f"{BASE}/send-away/"))
    answer = client.get(f"{BASE}/send-away/?cylinder={cylinder.account.number}")
    assert (answer.status_code, answer["Location"]) == (303, page_of(cylinder, "send-away"))
    assert client.get(f"{BASE}/send-away/?cylinder=9999").status_code == 422


def test_what_the_paper_accepts_is_noted_and_comes_with_the_line(
    client: Client, recovered: Cylinder, scale: Any, partner: Any
) -> None:
    data = form(partner=partner.account.number, purpose="destruction", scale=scale.number, gross="11.2 kg")
    confirm(client, page_of(recovered, "send-away"), {**data, "paper_number": "OURS-4"})
    line = Consignment.objects.get().entry.seq
    at = f"{BASE}/lines/{line}/accepted/"
    late = client.post(at, {"accepted": "4.9 kg", "accepted_on": "2100-01-01"})
    assert late.status_code == 422
    good = {"accepted": "4.9 kg", "oil": "100 g", "accepted_on": "2025-12-01", "paper_number": "K-9"}
    assert client.post(at, good).status_code == 303
    page = words(client.get(f"{BASE}/lines/{line}/"))
    assert "4.900 kg and 100 g oil" in page
    assert "OURS-4" in page
    assert "K-9" in page
    assert "They count 5.000 kg together: as much as was sent." in page
    assert client.post(at, {**good, "accepted": "4.5 kg"}).status_code == 303
    assert "0.400 kg less than was sent" in words(client.get(f"{BASE}/lines/{line}/"))
    for number in ("OURS-4", "K-9"):
        assert client.get(f"{BASE}/search/?q={number}")["Location"] == f"{BASE}/lines/{line}/"


def test_a_gross_typed_as_accepted_is_asked_about_and_taken_once_insisted_on(
    client: Client, recovered: Cylinder, scale: Any, partner: Any
) -> None:
    data = form(partner=partner.account.number, purpose="destruction", scale=scale.number, gross="11.2 kg")
    confirm(client, page_of(recovered, "send-away"), data)
    sent = Consignment.objects.get()
    at, paper = f"{BASE}/lines/{sent.entry.seq}/accepted/", {"accepted_on": "2025-12-01"}
    asked = client.post(at, {**paper, "accepted": "11.2 kg"})
    assert asked.status_code == 422
    assert "5.000 kg was sent by weighing, and 11.200 kg accepted?" in words(asked).replace(
        "\N{NARROW NO-BREAK SPACE}", " "
    )
    assert 'value="11.2 kg"' in asked.content.decode()
    insisted = {**paper, "accepted": "11.2 kg", "accepted_reading": f"{INSISTED}11.2 kg"}
    assert client.post(at, insisted).status_code == 303
    sent.refresh_from_db()
    assert sent.accepted_mg == 11_200_000
    assert "Noted so far: 11.200 kg" in words(client.get(at)).replace("\N{NARROW NO-BREAK SPACE}", " ")


def test_a_cylinder_comes_back_from_its_last_partner(
    client: Client, recovered: Cylinder, scale: Any, partner: Any, held: Any
) -> None:
    away = form(partner=partner.account.number, purpose="reclaim", scale=scale.number, gross="11.2 kg")
    confirm(client, page_of(recovered, "send-away"), away)
    assert client.get(page_of(recovered, "came-back")).context["form"].initial["partner"] == str(partner.account.number)
    back = form(partner=partner.account.number, cause="returned-reclaimed", scale=scale.number, gross="11.1 kg")
    assert confirm(client, page_of(recovered, "came-back"), back).status_code == 303
    assert held(recovered) == {("R-134a", "reclaimed"): 4_900 * G}


def test_a_missing_cylinder_turns_up(client: Client, cylinder: Cylinder, scale: Any, held: Any) -> None:
    gone = form(cause="missing", how="rest", reason="report 12")
    assert confirm(client, page_of(cylinder, "loss"), gone).status_code == 303
    assert confirm(client, page_of(cylinder, "turned-up"), form(scale=scale.number, gross="11.1 kg")).status_code == 303
    assert held(cylinder) == {("R-134a", "virgin"): 4_900 * G}


def test_the_empty_mass_is_corrected_on_its_own_page(client: Client, make_cylinder: Any, scale: Any) -> None:
    cylinder = make_cylinder(mass_mg=40 * G)
    data = form(scale=scale.number, gross="6.240 kg", reason="stamp read from the photo")
    assert confirm(client, page_of(cylinder, "empty-mass"), data).status_code == 303
    cylinder.refresh_from_db()
    assert cylinder.tare_mg == 6_240 * G
    page = words(client.get(f"{BASE}/cylinders/{cylinder.account.number}/"))
    assert "measured evacuated" in page


# The round of the floor


def test_a_round_shows_each_difference_before_it_is_written(
    client: Client, make_cylinder: Any, scale: Any, book: Any
) -> None:
    first, second, third = (make_cylinder(mass_mg=5_000 * G) for _ in range(3))
    data = form(
        scale=scale.number,
        **{f"gross_{first.account.number}": "11.200 kg", f"gross_{second.account.number}": "11.000 kg"},
    )
    asked = words(client.post(f"{BASE}/stock-take/", data))
    assert "as the book has it" in asked
    assert "200 g less than the book" in asked
    assert "1 not weighed in this round." in asked
    answer = confirm(client, f"{BASE}/stock-take/", data)
    assert answer.status_code == 303
    entry = Entry.objects.get(kind=Entry.WEIGH)
    assert entry.weighings.count() == 2
    assert "200 g" in words(client.get(answer["Location"])) or "0.200 kg" in words(client.get(answer["Location"]))
    assert third.serial not in {str(one.account) for one in entry.weighings.all()}


def test_a_reading_below_the_empty_mass_is_said_beside_its_cylinder(
    client: Client, make_cylinder: Any, scale: Any
) -> None:
    one, two = make_cylinder(mass_mg=5_000 * G), make_cylinder(mass_mg=5_000 * G)
    data = form(
        scale=scale.number, **{f"gross_{one.account.number}": "5 kg", f"gross_{two.account.number}": "11.200 kg"}
    )
    answer = confirm(client, f"{BASE}/stock-take/", data)
    assert answer.status_code == 422
    assert f"gross_{one.account.number}" in answer.context["form"].errors
    assert not Entry.objects.filter(kind=Entry.WEIGH).exists()
    assert confirm(client, f"{BASE}/stock-take/", form(scale=scale.number)).status_code == 422


def test_the_page_of_a_round_does_not_grow(client: Client, make_cylinder: Any, scale: Any) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as found:
            assert client.get(f"{BASE}/stock-take/").status_code == 200
        return len(found)

    make_cylinder(mass_mg=1_000 * G)
    count()
    few = count()
    for _ in range(15):
        make_cylinder(mass_mg=1_000 * G)
    assert count() == few


# Sister workshops


def test_a_cylinder_moves_only_where_the_person_may_write_in_both(
    client: Client, technician: Any, other_workshop: Any, cylinder: Cylinder, scale: Any, held: Any
) -> None:
    from shop.models import Membership

    data = form(to=str(other_workshop.book.uid), scale=scale.number, gross="11.2 kg")
    membership = Membership.objects.create(user=technician, workshop=other_workshop, role="reader")
    assert confirm(client, page_of(cylinder, "move"), data).status_code == 422
    membership.role = "technician"
    membership.save()
    assert confirm(client, page_of(cylinder, "move"), data).status_code == 303
    twin = Cylinder.objects.get(account__book=other_workshop.book)
    assert held(twin) == {("R-134a", "virgin"): 5_000 * G}
    assert Entry.objects.filter(request_key=data["key"]).count() == 2


def test_what_the_page_said_is_shown_again_when_the_book_has_changed(
    client: Client, cylinder: Cylinder, scale: Any, book: Any, act: Any
) -> None:
    data = form(cause="leaked-from-stock", how="rest", reason="valve")
    asked = client.post(page_of(cylinder, "loss"), data)
    onscale.weigh(book, act(), Gross(cylinder, scale, 11_000 * G, "11 kg"))
    again = client.post(page_of(cylinder, "loss"), {**data, "read_back": asked.context["signature"]})
    assert again.status_code == 200
    assert "4.800 kg, all that it held" in words(again)
