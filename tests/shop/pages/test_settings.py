"""Settings: the workshop's papers, rules and units, scales and other instruments."""

from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.test import Client

from inventory.models import Gauge, Scale
from shop.models import Backup, InstrumentCheck, Workshop

pytestmark = pytest.mark.django_db

HERE = "/w/port-ellery/settings/"
FACTS = {"name": "Port Ellery", "address": "Slipway 3", "zone": "Europe/Athens", "height": "640", "height_unit": "m"}
RULES = {"jurisdiction": "eu", "gwp_basis": "AR5", "mass_unit": "lb", "pressure_unit": "psi", "temperature_unit": "F"}
RULES |= {"vacuum_unit": "micron", "volume_unit": "fl oz", "day_order": "mdy"}
SCALE = {"name": "S9", "step": "2", "step_unit": "g", "capacity": "50", "capacity_unit": "kg"}
GAUGE = {"name": "G9", "kind": "pressure gauge", "step": "1 psi"}


def test_the_page_shows_what_is_set(reader_client: Client, scale: Any, workshop: Workshop) -> None:
    text = reader_client.get(HERE).content.decode()
    assert "steps of 5" in text
    assert "1013 mbar" in text
    assert "Enter a scale" not in text


def test_the_workshop_moves_and_its_book_follows(owner_client: Client, workshop: Workshop) -> None:
    assert owner_client.post(f"{HERE}workshop/", FACTS).status_code == 303
    workshop.refresh_from_db()
    assert (workshop.zone, workshop.book.zone, workshop.altitude_m) == ("Europe/Athens", "Europe/Athens", 640)
    assert "938.7 mbar" in owner_client.get(HERE).content.decode()  # 101,325 (1 - 0.0065 x 640 / 288.15)^5.25588


def test_the_height_may_be_left_out_and_then_a_range_is_reckoned_with(owner_client: Client, workshop: Workshop) -> None:
    assert owner_client.post(f"{HERE}workshop/", {**FACTS, "height": ""}).status_code == 303
    workshop.refresh_from_db()
    assert workshop.altitude_m is None
    assert "750 to 1040 hPa is reckoned with" in owner_client.get(HERE).content.decode()
    assert "None" not in owner_client.get(f"{HERE}workshop/").content.decode()


def test_access_knows_what_the_air_lies_between(owner_client: Client, workshop: Workshop) -> None:
    access = owner_client.get(HERE).wsgi_request.access
    assert access.atmosphere_pa == access.atmosphere_low_pa == access.atmosphere_high_pa == 101_325
    assert access.atmosphere_words == ""
    Workshop.objects.update(altitude_m=None)
    access = owner_client.get(HERE).wsgi_request.access
    assert (access.atmosphere_low_pa, access.atmosphere_pa, access.atmosphere_high_pa) == (75_000, 101_325, 104_000)
    assert "the height of the workshop is not entered" in access.atmosphere_words


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"name": ""}, "Enter the name"),
        ({"height": "90000"}, "outside the heights"),
        ({"zone": "Mars/Base"}, "Select a valid choice"),
    ],
)
def test_wrong_facts_change_nothing(
    owner_client: Client, workshop: Workshop, wrong: dict[str, str], words: str
) -> None:
    answer = owner_client.post(f"{HERE}workshop/", {**FACTS, **wrong})
    assert answer.status_code == 422
    if "zone" not in wrong:
        assert words in answer.content.decode()
    workshop.refresh_from_db()
    assert workshop.address != "Slipway 3"


def test_rules_and_units_are_kept(owner_client: Client, workshop: Workshop) -> None:
    assert owner_client.post(f"{HERE}rules/", RULES).status_code == 303
    workshop.refresh_from_db()
    assert {name: getattr(workshop, name) for name in RULES} == RULES


def test_a_scale_is_entered_and_changed(owner_client: Client, workshop: Workshop) -> None:
    assert owner_client.post(f"{HERE}scales/new/", {**SCALE, "span": "0.05"}).status_code == 303
    scale = Scale.objects.get(name="S9")
    assert (scale.step_mg, scale.capacity_mg, scale.zero_mg) == (2_000, 50_000_000, None)
    assert scale.span == pytest.approx(0.0005)
    address = f"{HERE}scales/{scale.number}/"
    assert "2 g" in owner_client.get(address).content.decode()
    change = {**SCALE, "calibrated_until": "2027-03-01", "retired": "on"}
    assert owner_client.post(address, change).status_code == 303
    scale.refresh_from_db()
    assert (scale.calibrated_until, scale.retired, scale.span) == (date(2027, 3, 1), True, 0.001)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"step": "0"}, "A step of nothing cannot be"),
        ({"step": "fine"}, "fine"),
        ({"capacity": "1", "capacity_unit": "g"}, "It carries less than one step"),
        ({"accuracy_class": "IIII"}, "Look at the plate"),
        ({"name": "s1"}, "There is a scale s1 already"),
        ({"calibrated_until": "soon"}, "not a day"),
    ],
)
def test_a_wrong_scale_is_a_sentence_and_no_scale(
    owner_client: Client, scale: Any, wrong: dict[str, str], words: str
) -> None:
    answer = owner_client.post(f"{HERE}scales/new/", {**SCALE, **wrong})
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert Scale.objects.count() == 1


@pytest.mark.parametrize(
    ("kind", "step", "si"),
    [
        ("pressure gauge", "1 psi", 6894.757),  # 1 psi = 6,894.757 Pa: NIST SP 811, from memory
        ("vacuum gauge", "0.1 mbar", 10.0),
        ("thermometer", "0.5 C", 0.5),
        ("thermometer", "1 F", 5 / 9),
        ("leak detector", "5 g a year", 5.0),
    ],
)
def test_a_step_is_typed_in_the_unit_of_its_kind(
    owner_client: Client, workshop: Workshop, kind: str, step: str, si: float
) -> None:
    sent = {**GAUGE, "kind": kind, "step": step, "accuracy": step}
    assert owner_client.post(f"{HERE}instruments/new/", sent).status_code == 303
    gauge = Gauge.objects.get()
    assert gauge.step == pytest.approx(si, rel=1e-6)
    assert gauge.typed == {"step": step, "accuracy": step}
    assert owner_client.post(f"{HERE}instruments/{gauge.pk}/", {**sent, "retired": "on"}).status_code == 303
    gauge.refresh_from_db()
    assert gauge.retired


@pytest.mark.parametrize("step", ["0 psi", "1 kg", "-1 bar", "much"])
def test_a_wrong_step_is_a_sentence(owner_client: Client, workshop: Workshop, step: str) -> None:
    answer = owner_client.post(f"{HERE}instruments/new/", {**GAUGE, "step": step})
    assert answer.status_code == 422
    assert not Gauge.objects.exists()


def test_others_look_and_do_not_change(technician_client: Client, reader_client: Client, scale: Any) -> None:
    for client in (technician_client, reader_client):
        assert client.get(HERE).status_code == 200
        for part in ("workshop/", "rules/", "scales/new/", f"scales/{scale.number}/", "instruments/new/"):
            assert client.post(HERE + part, {}).status_code == 403


CHECK = {"checked_on": "2026-03-04", "until": "2027-03-04", "by": "Harbour Weights", "paper": "W 118"}


def test_a_technician_enters_a_check_and_changes_nothing_else(
    technician_client: Client, workshop: Workshop, scale: Any, clock: Any
) -> None:
    clock(datetime(2026, 3, 5, 9, tzinfo=UTC))
    address = f"{HERE}scales/{scale.number}/check/"
    assert f'href="{address}"' in technician_client.get(HERE).content.decode()
    for _ in range(2):
        assert technician_client.post(address, CHECK).status_code == 303
    scale.refresh_from_db()
    assert scale.calibrated_until == date(2027, 3, 4)
    check = InstrumentCheck.objects.get()
    assert (check.by, check.paper, check.actor[:2]) == ("Harbour Weights", "W 118", "p-")
    assert "by Harbour Weights, paper W 118" in technician_client.get(HERE).content.decode()
    assert technician_client.get(f"{HERE}scales/{scale.number}/").status_code == 403


def test_an_older_check_is_kept_and_shortens_nothing(technician_client: Client, workshop: Workshop, book: Any) -> None:
    gauge = Gauge.objects.create(book=book, name="G1", kind="pressure gauge", calibrated_until=date(2028, 1, 1))
    assert technician_client.post(f"{HERE}instruments/{gauge.pk}/check/", CHECK).status_code == 303
    gauge.refresh_from_db()
    assert gauge.calibrated_until == date(2028, 1, 1)
    assert InstrumentCheck.objects.get().gauge == gauge


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"until": "2026-03-04"}, "end before it begins"),
        ({"until": "2062-03-04"}, "No check holds for more than 10 years"),
        ({"until": "soon"}, "not a day that can be read"),
        ({"checked_on": "2026-03-09"}, "has not come yet"),
        ({"checked_on": ""}, "Enter the day of the check"),
        ({"by": ""}, "Enter the firm or the person that checked it"),
        ({"by": "x" * 200}, "at most 120"),
    ],
)
def test_a_wrong_check_is_a_sentence(
    technician_client: Client, scale: Any, workshop: Workshop, clock: Any, wrong: dict[str, str], words: str
) -> None:
    clock(datetime(2026, 3, 5, 9, tzinfo=UTC))
    answer = technician_client.post(f"{HERE}scales/{scale.number}/check/", {**CHECK, **wrong})
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert 'value="W 118"' in answer.content.decode()
    assert not InstrumentCheck.objects.exists()


def test_an_instrument_without_a_check_is_in_the_form_of_many(technician_client: Client, book: Any) -> None:
    gauge = Gauge.objects.create(book=book, name="G7", kind="pressure gauge", step=1000.0)
    page = technician_client.get(f"{HERE}checks/").content.decode()
    assert "Pressure gauge G7: no check entered" in page
    assert technician_client.post(f"{HERE}checks/", {**CHECK, "which": [f"gauge-{gauge.pk}"]}).status_code == 303
    gauge.refresh_from_db()
    assert gauge.calibrated_until == date(2027, 3, 4)


def test_several_instruments_past_their_check_are_one_line_and_one_form(
    technician_client: Client, make_scale: Any, book: Any, workshop: Any, clock: Any
) -> None:
    clock(datetime(2026, 3, 5, 9, tzinfo=UTC))
    ran_out = date(2026, 2, 24)
    scales = [make_scale(name, calibrated_until=ran_out) for name in ("S1", "S2", "S3")]
    gauge = Gauge.objects.create(book=book, name="G1", kind="pressure gauge", calibrated_until=ran_out)
    text = technician_client.get("/w/port-ellery/").content.decode()
    assert "4 instruments past their check: S1, S2, S3, G1." in text
    form = technician_client.get(f"{HERE}checks/").context["form"]
    assert len(form.initial["which"]) == 4
    left_out = f"scale-{scales[2].pk}"
    chosen = [key for key in form.initial["which"] if key != left_out]
    assert technician_client.post(f"{HERE}checks/", {**CHECK, "which": ["scale-999"]}).status_code == 422
    assert technician_client.post(f"{HERE}checks/", CHECK).status_code == 422
    assert not InstrumentCheck.objects.exists()
    assert technician_client.post(f"{HERE}checks/", {**CHECK, "which": chosen}).status_code == 303
    assert InstrumentCheck.objects.count() == 3
    for one in (*scales, gauge):
        one.refresh_from_db()
    assert [one.calibrated_until > ran_out for one in (*scales, gauge)] == [True, True, False, True]
    assert "Scale S3: its check ran out 9 days ago" in technician_client.get("/w/port-ellery/").content.decode()


def test_papers_and_labels_are_printed_on_what_the_workshop_has(owner_client: Client, workshop: Workshop) -> None:
    assert owner_client.post(f"{HERE}papers/", {"paper": "letter", "labels": "62"}).status_code == 303
    text = owner_client.get(HERE).content.decode()
    assert "US Letter" in text
    assert "62 mm wide, continuous" in text
    refused = owner_client.post(f"{HERE}papers/", {"paper": "foolscap", "labels": ""})
    assert refused.status_code == 422
    workshop.refresh_from_db()
    assert (workshop.paper, workshop.labels) == ("letter", "62")


def test_the_owner_is_told_how_old_the_last_copy_is(
    owner_client: Client, technician_client: Client, clock: Any
) -> None:
    clock(datetime(2026, 3, 12, 8, 0, tzinfo=UTC))
    assert "No copy of everything was ever made here" in owner_client.get(HERE).content.decode()
    for day in (1, 10):
        moment = datetime(2026, 3, day, 20, 30, tzinfo=UTC)
        Backup.objects.create(made_at=moment, file_name=f"tarebook-{day}.zip", size=1_500_000)
    text = owner_client.get(HERE).content.decode()
    assert "made 2 days ago, 2026-03-10 22:30: tarebook-10.zip, 1.4" in text
    assert "tarebook-10.zip" not in technician_client.get(HERE).content.decode()
