"""Pages of cylinders: the list, one cylinder, receiving, editing, the label."""

import csv
import io
import json
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any
from uuid import uuid4

import pytest
import zxingcpp
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.acts import onscale
from inventory.book.weighing import Gross
from inventory.models import Cylinder, Entry, Movement
from tests.answers import confirm, words

pytestmark = pytest.mark.django_db
BASE = "/w/port-ellery"
G = 1_000


def queries_of(client: Client, at: str) -> int:
    client.get(at)  # what is read once per process is read
    with CaptureQueriesContext(connection) as found:
        assert client.get(at).status_code == 200
    return len(found)


# The list


def test_the_list_says_what_each_holds_of_its_limit(technician_client: Client, cylinder: Cylinder) -> None:
    page = words(technician_client.get(f"{BASE}/cylinders/"))
    assert cylinder.serial in page
    assert "5.000" in page  # kg held
    assert "43 %" in page  # 5.000 of 11.58 kg: 0.8 x 12 L x 0.999 x 1.208, the strictest where no rules are set
    assert "1 cylinder" in page


def test_an_empty_list_names_the_way_on(technician_client: Client) -> None:
    page = words(technician_client.get(f"{BASE}/cylinders/"))
    assert "None in the book yet" in page
    assert f"{BASE}/cylinders/receive/" in page


@pytest.mark.parametrize(
    ("fields", "word"),
    [
        ({}, "ready"),
        ({"mass_mg": 300 * G}, "heel only"),
        ({"mass_mg": 11_550 * G}, "at its limit"),
        ({"grade": "suspect", "mass_mg": 3_000 * G}, "suspect"),
        ({"kind": "recovery", "grade": "recovered", "requalify_by": date(2021, 5, 1)}, "past its test date"),
        ({"state": "put aside"}, "put aside"),
        ({"state": "away"}, "away"),
        ({"state": "done with"}, "done with"),
    ],
)
def test_each_state_has_its_word_and_can_be_filtered(
    technician_client: Client, make_cylinder: Callable[..., Cylinder], fields: dict[str, Any], word: str
) -> None:
    make_cylinder("WANTED", **fields)
    make_cylinder("OTHER", state="put aside" if word != "put aside" else "away")
    page = words(technician_client.get(f"{BASE}/cylinders/?state={word}"))
    assert "WANTED" in page
    assert "OTHER" not in page


def test_a_cylinder_with_its_reading_before_is_on_the_scale(
    technician_client: Client, book: Any, act: Any, cylinder: Cylinder, scale: Any
) -> None:
    onscale.weigh(book, act(), Gross(cylinder, scale, 11_200 * G, "11.2"), "before")
    assert cylinder.serial in words(technician_client.get(f"{BASE}/cylinders/?state=on the scale"))


def test_filters_and_order_are_the_query_string(technician_client: Client, make_cylinder: Any) -> None:
    make_cylinder("A-1", mass_mg=1_000 * G, place="rack 1")
    make_cylinder("B-2", refrigerant="R-12", grade="recovered", mass_mg=2_000 * G, kind="recovery")
    assert "B-2" not in words(technician_client.get(f"{BASE}/cylinders/?place=rack 1"))
    assert "A-1" not in words(
        technician_client.get(f"{BASE}/cylinders/?refrigerant=R-12&grade=recovered&kind=recovery")
    )
    assert "A-1" not in words(technician_client.get(f"{BASE}/cylinders/?text=b-"))
    page = words(technician_client.get(f"{BASE}/cylinders/?sort=-held"))
    assert page.index("B-2") < page.index("A-1")


def test_files_have_all_rows_with_units(technician_client: Client, make_cylinder: Any) -> None:
    for number in range(60):
        make_cylinder(f"N-{number:02}", mass_mg=1_000 * G)
    answer = technician_client.get(f"{BASE}/cylinders/?format=csv")
    rows = list(csv.DictReader(io.StringIO(b"".join(answer.streaming_content).decode())))
    assert len(rows) == 60
    assert rows[0]["held_kg"] == "1.000"
    answer = technician_client.get(f"{BASE}/cylinders/?format=json&text=N-00")
    assert [row["serial"] for row in json.loads(b"".join(answer.streaming_content))] == ["N-00"]


def test_the_list_does_not_grow(technician_client: Client, make_cylinder: Any) -> None:
    make_cylinder(mass_mg=1_000 * G)
    few = queries_of(technician_client, f"{BASE}/cylinders/")
    for _ in range(20):
        make_cylinder(mass_mg=1_000 * G)
    assert queries_of(technician_client, f"{BASE}/cylinders/") == few


# One cylinder


def test_the_page_names_limit_rule_room_and_tare(technician_client: Client, cylinder: Cylinder) -> None:
    page = words(technician_client.get(f"{BASE}/cylinders/{cylinder.account.number}/"))
    assert "80 per cent rule" in page
    assert "11.58" in page
    assert "6.200" in page
    assert "never entered" in page  # its test date
    assert cylinder.label in page


def test_the_page_says_when_no_limit_is_known(technician_client: Client, make_cylinder: Any) -> None:
    bare = make_cylinder(mass_mg=1_000 * G, water_capacity_m3=None)
    page = words(technician_client.get(f"{BASE}/cylinders/{bare.account.number}/"))
    assert "no filling limit known: neither water capacity nor a filling limit is entered" in page


def test_a_cylinder_over_its_limit_says_so(technician_client: Client, make_cylinder: Any) -> None:
    full = make_cylinder(mass_mg=13_000 * G)
    assert "over its limit" in words(technician_client.get(f"{BASE}/cylinders/{full.account.number}/"))


def test_what_burns_is_said_with_the_cylinder(
    technician_client: Client, make_cylinder: Any, cylinder: Cylinder
) -> None:
    burns = make_cylinder(refrigerant="R-1234yf", mass_mg=1_000 * G)
    assert "This can burn" in words(technician_client.get(f"{BASE}/cylinders/{burns.account.number}/"))
    assert "This can burn" not in words(technician_client.get(f"{BASE}/cylinders/{cylinder.account.number}/"))


def test_past_its_test_date_it_says_that_it_takes_nothing(technician_client: Client, make_cylinder: Any) -> None:
    past = make_cylinder(requalify_by=date(2020, 1, 1), mass_mg=1_000 * G)
    assert "has gone by" in words(technician_client.get(f"{BASE}/cylinders/{past.account.number}/"))


def test_its_lines_show_what_it_held_after_each(
    technician_client: Client, cylinder: Cylinder, post: Any, vehicle_account: Any
) -> None:
    for _ in range(30):
        post("charge", cylinder, vehicle_account, 100 * G)
    first = words(technician_client.get(f"{BASE}/cylinders/{cylinder.account.number}/"))
    assert "2.000" in first
    assert "Earlier" in first
    oldest = Movement.objects.order_by("pk")[6]  # 25 a leaf: 31 lines leave 6 for the next
    later = words(technician_client.get(f"{BASE}/cylinders/{cylinder.account.number}/?lines-after={oldest.pk}"))
    assert "Opening stock" in later
    assert "4.900" in later


def test_the_page_does_not_grow_with_its_lines(
    technician_client: Client, cylinder: Cylinder, post: Any, vehicle_account: Any
) -> None:
    at = f"{BASE}/cylinders/{cylinder.account.number}/"
    post("charge", cylinder, vehicle_account, 10 * G)
    few = queries_of(technician_client, at)
    for _ in range(20):
        post("charge", cylinder, vehicle_account, 10 * G)
    assert queries_of(technician_client, at) == few


def test_a_reader_sees_the_page_without_its_acts(reader_client: Client, cylinder: Cylinder) -> None:
    page = words(reader_client.get(f"{BASE}/cylinders/{cylinder.account.number}/"))
    assert "5.000" in page
    assert "Send away" not in page


def test_no_page_has_a_style_or_script_of_its_own(technician_client: Client, cylinder: Cylinder) -> None:
    for at in ("", "label/", "loss/", "transfer/"):
        page = technician_client.get(f"{BASE}/cylinders/{cylinder.account.number}/{at}").content.decode()
        assert " style=" not in page
        assert "<style" not in page
        assert "<script>" not in page


# Receiving


def received(supplier: Any, on: Any, **fields: Any) -> dict[str, Any]:
    working = {
        "key": str(uuid4()),
        "serial": "C-34",
        "kind": "refillable",
        "refrigerant": "R-134a",
        "grade": "virgin",
        "origin": "purchase",
        "partner": supplier.account.number,
        "tare": "6.200",
        "tare_unit": "kg",
        "tare_source": "stamped",
        "tare_limit": "50 g",
        "water_capacity": "12.0",
        "water_capacity_unit": "L",
        "manner": "single",
        "scale": on.number,
        "gross": "17.190",
        "gross_unit": "kg",
        "paper_mass": "11",
        "paper_mass_unit": "kg",
        "paper_number": "HG-1",
    }
    return {name: value for name, value in {**working, **fields}.items() if value is not None}


def test_scenario_1_a_cylinder_is_received_through_the_page(
    technician_client: Client, partner: Any, scale: Any
) -> None:
    data = received(partner, scale)
    asked = technician_client.post(f"{BASE}/cylinders/receive/", data)
    assert asked.status_code == 200
    assert "within what the readings can tell (61" in words(asked)
    assert not Cylinder.objects.exists()  # nothing is written yet
    answer = confirm(technician_client, f"{BASE}/cylinders/receive/", data)
    assert answer.status_code == 303
    made = Cylinder.objects.get()
    assert Movement.objects.get().mass_mg == 10_990 * G
    assert (made.paper_mass_mg, made.paper_number, made.tare_u_mg) == (11_000 * G, "HG-1", 28_868)
    page = words(technician_client.get(answer["Location"]))
    assert "within what the readings can tell" in page


def test_an_empty_cylinder_names_the_line_by_which_it_was_entered(
    technician_client: Client, partner: Any, scale: Any
) -> None:
    left_out = ("partner", "manner", "scale", "gross", "gross_unit", "paper_mass", "paper_mass_unit", "paper_number")
    data = received(partner, scale, origin="empty", kind="recovery", grade="recovered", **dict.fromkeys(left_out))
    answer = confirm(technician_client, f"{BASE}/cylinders/receive/", data)
    assert answer.status_code == 303
    page = words(technician_client.get(answer["Location"]))
    line = Entry.objects.latest("seq").seq
    assert f'<dt>Entered</dt><dd><a href="{BASE}/lines/{line}/">line {line}</a></dd>' in page
    assert "Nothing has gone in or out yet." in page
    assert "None in the book yet" not in page


def test_received_twice_is_received_once(technician_client: Client, partner: Any, scale: Any) -> None:
    data = received(partner, scale)
    for _ in range(2):
        assert confirm(technician_client, f"{BASE}/cylinders/receive/", data).status_code == 303
    assert Cylinder.objects.count() == 1
    other = confirm(technician_client, f"{BASE}/cylinders/receive/", {**data, "gross": "17.2"})
    assert other.status_code == 409
    assert Cylinder.objects.count() == 1


def test_a_capacity_in_pounds_of_water_is_understood(technician_client: Client, partner: Any, scale: Any) -> None:
    data = received(partner, scale, water_capacity="26.2", water_capacity_unit="lb")
    confirm(technician_client, f"{BASE}/cylinders/receive/", data)
    # 26.2 lb x 0.45359237 kg / 0.999 kg a litre
    assert Cylinder.objects.get().water_capacity_m3 == pytest.approx(0.011896, abs=1e-6)


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"serial": ""}, "Enter the number on the cylinder."),
        ({"gross": "1,234 kg"}, "1,234"),
        ({"gross": "17.191"}, "lies between the steps"),
        ({"gross": "5"}, "less than the empty mass"),
        ({"gross": "", "paper_mass": ""}, "Where it cannot be weighed, the mass on the paper counts."),
        ({"scale": None}, "Choose the scale that it stands on."),
        ({"partner": ""}, "Choose from whom it comes."),
        ({"refrigerant": ""}, "Choose the refrigerant."),
        ({"manner": "machine"}, "Choose the how its content is known."),
        ({"manner": "paper", "paper_mass": ""}, "Enter the mass on the paper."),
        ({"kind": "can lot", "can_content": "340 g"}, "Enter how many cans there are."),
        ({"tare": "six"}, "six"),
        (
            {"requalify_by": "soon"},
            "is not a day that can be read. Write it such as 14/3/2026 (day first) or 2026-03-14.",
        ),
    ],
)
def test_what_cannot_be_is_said_beside_the_field_and_kept(
    technician_client: Client, partner: Any, scale: Any, fields: dict[str, Any], sentence: str
) -> None:
    data = received(partner, scale, **fields)
    answer = confirm(technician_client, f"{BASE}/cylinders/receive/", data)
    assert answer.status_code == 422
    page = words(answer)
    assert sentence in page
    assert 'value="HG-1"' in page  # what was typed stays
    assert not Cylinder.objects.exists()
    assert not Entry.objects.exists()


def test_opening_stock_after_the_first_day_is_a_question(
    technician: Any, client: Client, partner: Any, scale: Any, cylinder: Cylinder, clock: Any
) -> None:
    clock(timezone.now() + timedelta(days=40))
    client.force_login(technician, backend="django.contrib.auth.backends.ModelBackend")
    data = received(partner, scale, origin="opening-stock", partner="")
    asked = confirm(client, f"{BASE}/cylinders/receive/", data)
    assert asked.status_code == 422
    assert "Did this one stand here before that day?" in words(asked)
    data |= {"stood_before": "on", "note": "found behind the compressor"}
    assert confirm(client, f"{BASE}/cylinders/receive/", data).status_code == 303
    assert Movement.objects.filter(cause="opening-stock").count() == 2


def test_an_empty_cylinder_is_received_without_a_movement(technician_client: Client, partner: Any, scale: Any) -> None:
    data = received(partner, scale, origin="empty", gross="", manner="", partner="", paper_mass="")
    assert confirm(technician_client, f"{BASE}/cylinders/receive/", data).status_code == 303
    assert not Movement.objects.exists()
    assert Cylinder.objects.get().serial == "C-34"


# Editing, done with, label


def test_editing_changes_no_mass(technician_client: Client, cylinder: Cylinder, held: Any) -> None:
    at = f"{BASE}/cylinders/{cylinder.account.number}/edit/"
    data = {
        "serial": "C-99",
        "kind": "refillable",
        "state": "put aside",
        "place": "yard",
        "water_capacity": "12.5",
        "water_capacity_unit": "L",
        "tare": "1",
        "refrigerant": "R-12",
    }
    assert technician_client.post(at, data).status_code == 303
    cylinder.refresh_from_db()
    assert (cylinder.serial, cylinder.state, cylinder.place) == ("C-99", "put aside", "yard")
    assert cylinder.water_capacity_m3 == pytest.approx(0.0125)
    assert (cylinder.tare_mg, cylinder.refrigerant) == (6_200 * G, "R-134a")
    assert held(cylinder) == {("R-134a", "virgin"): 5_000 * G}


def test_a_number_in_use_is_refused_beside_the_form(technician_client: Client, make_cylinder: Any) -> None:
    one, two = make_cylinder("ONE"), make_cylinder("TWO")
    at = f"{BASE}/cylinders/{two.account.number}/edit/"
    facts = {"serial": "ONE", "kind": "refillable", "state": "ready", "refrigerant": "R-134a", "grade": "virgin"}
    answer = technician_client.post(at, facts)
    assert answer.status_code == 422
    assert f"A cylinder numbered {one} is on the shelf already" in words(answer)


def test_a_cylinder_with_gas_is_not_done_with(
    technician_client: Client, cylinder: Cylinder, make_cylinder: Any
) -> None:
    answer = technician_client.post(f"{BASE}/cylinders/{cylinder.account.number}/done/")
    assert answer.status_code == 422
    assert "still holds gas" in words(answer)
    empty = make_cylinder()
    assert technician_client.post(f"{BASE}/cylinders/{empty.account.number}/done/").status_code == 303
    empty.refresh_from_db()
    assert empty.state == "done with"


def test_the_code_of_a_label_reads_as_its_address_in_capitals(technician_client: Client, cylinder: Cylinder) -> None:
    import segno
    from PIL import Image

    page = technician_client.get(f"{BASE}/cylinders/{cylinder.account.number}/label/")
    text = page.context["text"]
    assert text == f"HTTP://TESTSERVER/C/{cylinder.label}"
    picture = technician_client.get(f"{BASE}/cylinders/{cylinder.account.number}/label/code.svg")
    assert picture["Content-Type"] == "image/svg+xml"
    assert b'xmlns="http://www.w3.org/2000/svg"' in picture.content
    assert b"style=" not in picture.content
    same = segno.make(text, error="q", boost_error=False, micro=False)
    drawn = io.BytesIO()
    same.save(drawn, kind="png", scale=6, border=4)
    drawn.seek(0)
    assert [one.text for one in zxingcpp.read_barcodes(Image.open(drawn).convert("L"))] == [text]
    modules = same.symbol_size(border=4)[0]
    width_mm = float(picture.content.split(b'width="')[1].split(b"mm")[0])
    assert width_mm / modules >= 0.6
    assert technician_client.get(f"/C/{cylinder.label}")["Location"].endswith(f"/cylinders/{cylinder.account.number}/")


def test_a_label_whose_address_no_phone_reaches_is_asked_about_before_it_is_shown(
    technician_client: Client, cylinder: Cylinder, settings: Any
) -> None:
    at = f"{BASE}/cylinders/{cylinder.account.number}/label/"
    settings.ADDRESS = "http://127.0.0.1:8000"
    asked = technician_client.get(at)
    assert "No phone reaches this address" in words(asked)
    assert "code.svg" not in asked.content.decode()
    assert 'href="/w/port-ellery/settings/phone/"' in asked.content.decode()
    assert "code.svg" not in technician_client.get(at, {"address": "http://localhost"}).content.decode()
    shown = technician_client.get(at, {"address": "http://127.0.0.1:8000"})
    assert shown.context["text"] == f"HTTP://127.0.0.1:8000/C/{cylinder.label}"
    settings.ADDRESS = "http://192.168.1.20:8000"
    assert "code.svg" in technician_client.get(at).content.decode()
