"""The papers of a visit: the owner's record, the recovery certificate and the conversion label.

Their figures are those of the worked scenarios 1, 2, 3 and 5.
"""

import json
from datetime import date
from typing import Any
from uuid import uuid4

import pytest

from compliance.papers.conversions import conversion_label
from compliance.papers.paper import Label, NothingToIssue, Paper, as_data
from compliance.papers.recoveries import recovery_certificate
from compliance.papers.visits import visit_record
from inventory.measure.figures import NARROW
from inventory.models import Entry
from shop.demo import story
from shop.models import Certification, Customer, Step, User, Vehicle, Visit
from shop.visits.acts.entering import complete_conversion
from tests.compliance.papers.reading import BUILDERS, STAMP, TODAY, facts, said, stands_on_its_sheet, table, words
from tests.scenarios import conftest as port_ellery
from tests.scenarios import year
from tests.scenarios.shop_floor import OWNER, TECHNICIAN, TRAINEE, Floor

# Port Ellery on the morning of 1 January 2025, with its pages to press.
entered, furnished, floor = port_ellery.entered, port_ellery.furnished, port_ellery.floor
NAME = "Aldous Penrake"
VIN = "1M8GDM9AXKP042788"
LACKING = {"trade_name": "Brisk 134", "lubricant": "ester, 200 g", "lubricant_maker": "Quay Oils"}


def number_of(plate: str) -> str:
    """The last visit of a vehicle, as it is asked for."""
    visit = Visit.objects.filter(vehicle__registration=plate).latest("pk")
    return f"visit:{visit.number}"


def certify(name: str, number: str) -> None:
    person = User.objects.get(display_name=name)
    ends = {"issued_on": date(2021, 4, 12), "expires_on": date(2028, 4, 12)}
    Certification.objects.create(user=person, scheme="training attestation", number=number, **ends)


def belongs_to_somebody(workshop: Any, plate: str) -> None:
    somebody = Customer.objects.create(workshop=workshop, name=NAME, phone="555 0167", email="a@penrake.example")
    Vehicle.objects.filter(registration=plate).update(customer=somebody, vin=VIN)


def test_a_converted_car_has_a_record_a_certificate_and_a_label(floor: Floor) -> None:
    year.opening(floor, "C-12")
    year.play(floor, story.A_BOTTLE_COMES)
    certify(TECHNICIAN, "PE-0874")
    year.play(floor, story.A_FULL_CAR_IS_CONVERTED)
    belongs_to_somebody(floor.workshop, "V1")
    with pytest.raises(NothingToIssue, match="the lubricant and its amount, the maker of the lubricant"):
        conversion_label(floor.workshop, number_of("V1"), today=TODAY)
    (step,) = Step.objects.filter(kind="conversion done", replaced_by__isnull=True)
    complete_conversion(step, key=uuid4(), texts=LACKING)
    papers = {name: build(floor.workshop, number_of("V1"), today=TODAY) for name, build in BUILDERS.items()}
    the_record_says_what_came_out_and_went_in(papers["visit"])
    the_record_says_how_it_was_proved_with_both_limits_in_one_sentence(papers["visit"])
    the_record_lists_what_is_open_and_when_to_look_again(papers["visit"])
    the_certificate_says_verdict_readings_and_bound(papers["recovery"])
    the_label_has_every_item_of_the_list(papers["label"])
    the_record_names_its_customer_and_nothing_else_of_them(papers.pop("visit"))
    for paper in papers.values():
        no_customer_is_named(paper)
        stands_on_its_sheet(paper)
    papers["visit"] = visit_record(floor.workshop, number_of("V1"), today=TODAY)
    assert papers["visit"].lines == papers["recovery"].lines + papers["label"].lines
    year.play(floor, story.GAS_GOES_TO_BE_DESTROYED)
    where_the_gas_went_is_said(floor)


def the_record_says_what_came_out_and_went_in(paper: Paper) -> None:
    out, went_in = table(paper, "Refrigerant out and in")
    assert (out["Mass"], out["Give or take"], out["Refrigerant"], out["Cylinder"]) == (
        "868 g",
        "4.2 g",
        "R-12",
        "to C-12",
    )
    assert (went_in["Mass"], went_in["Give or take"]) == ("784 g", "1.9 g")
    assert (went_in["Refrigerant"], went_in["Grade"], went_in["Cylinder"]) == ("R-134a", "virgin", "from C-34")
    assert {out["By"], went_in["By"]} == {"two weighings"}
    short = words(paper, "In short")
    assert "868 g of 900 g came out, 32.0 g short (limit 48.0 g): accounted for." in short
    assert "Evidence" not in short  # nothing was lost
    assert facts(paper)["By its label"].startswith("900 g R-12, plus or minus 25 g")
    assert facts(paper)["Ports"].startswith("R-12 screw on both sides")
    assert facts(paper)["Identifier"] == "No identifier used"
    assert facts(paper)["Pressure hold"].startswith("A coarse check with dry nitrogen, 250 psi gauge")
    assert "at least 64 g" in facts(paper)["Standing pressure"]
    figures = paper.figures
    assert (figures["out_mg"], figures["in_mg"]) == (868_000, 784_000)
    assert figures["out_give_or_take_mg"] == pytest.approx(2 * 2_100, abs=10)
    assert figures["in_give_or_take_mg"] == pytest.approx(2 * 930, abs=10)
    assert figures["charge_co2e_mg"] == 784_000 * 1430  # GWP of R-134a, AR4
    assert "784 g, 1.12\N{NARROW NO-BREAK SPACE}t CO2e (GWP basis AR4)" in facts(paper)["Climate"]
    assert any(source.startswith("GWP of R-134a (AR4): 1430") for source in paper.sources)
    assert facts(paper)["From, to"] == "R-12 to R-134a"
    assert facts(paper)["Charge"] == "784 g, give or take 1.9 g"


def the_record_says_how_it_was_proved_with_both_limits_in_one_sentence(paper: Paper) -> None:
    assert facts(paper)["Search and hold"] == (
        "Electronic search: none above 5.0 g a year at the 14 joints looked at; pressure hold: no leak larger than "
        "5.4 kg a year, a coarse check."
    )
    assert facts(paper)["Vacuum hold"].startswith("A coarse check, ")
    assert said(paper).count("5.4 kg a year") == 1


def the_record_lists_what_is_open_and_when_to_look_again(paper: Paper) -> None:
    still_open = words(paper, "Still open").splitlines()
    assert "Running test (it was charged)" in still_open
    assert "Hand-over" in still_open
    assert paper.figures["open"] == len(still_open)
    assert f"{len(still_open)} things still open" in words(paper, "In short")
    assert "When to look again: not entered." in words(paper, "In short")
    assert any("under pressure" in caution for caution in paper.cautions)
    (who,) = table(paper, "Who did it")
    assert who["Person"] == TECHNICIAN
    assert who["Certificate on that day"] == "training attestation, no. PE-0874"


def the_certificate_says_verdict_readings_and_bound(paper: Paper) -> None:
    (leg,) = table(paper, "What was recovered")
    assert (leg["Before"], leg["After"]) == ("9.340\N{NARROW NO-BREAK SPACE}kg", "10.208\N{NARROW NO-BREAK SPACE}kg")
    assert (leg["Into"], leg["Mass"], leg["Give or take"], leg["Why it stopped"]) == ("C-12", "868 g", "4.2 g", "done")
    assert "accounted for" in words(paper, "Recovered")
    known = facts(paper)
    assert known["What can remain, at most"] == "19 g"  # 8.9 g of vapour and 10 g in the oil
    assert known["Limit"] == "48.0 g"
    assert known["Expected"].endswith("(label)")
    assert "would be short" in known["What would change it"]
    assert known["Class"].startswith("none is needed")
    assert paper.figures["residue_bound_mg"] == pytest.approx(18_900, abs=50)
    assert paper.figures["verdict"] == "accounted for"
    assert "C-12 holds 3\N{NARROW NO-BREAK SPACE}358 g R-12 recovered now" in known[f"From line {leg['Line']}"]
    assert any(basis.startswith("Weighed on S1: steps of 5") for basis in paper.bases)


def the_label_has_every_item_of_the_list(paper: Paper) -> None:
    (label,) = (one for one in paper.blocks if isinstance(one, Label))
    known = dict(label.rows)
    assert known["Converted from"] == "R-12"
    assert known["Date"] == "2025-03-03"
    assert known["Technician"].startswith(TECHNICIAN)
    assert known["Company"] == "Port Ellery, 1 Quay Road, Port Ellery"
    assert known["Refrigerant"] == "R-134a (HFC-134a)"
    assert known["Charge"] == "784 g"  # how sure it is stands in the figures that are sealed
    assert paper.figures["charge_give_or_take_mg"] == 1_867
    assert known["Trade name"] == "Brisk 134"
    assert known["Maker of lubricant"] == "Quay Oils"
    assert "not entered" not in said(paper)
    assert label.marks == ()  # R-134a neither burns nor depletes the ozone layer
    assert label.code == ""
    assert "for R-134a sky blue, by EPA’s table as remembered" in words(paper, "")


def the_record_names_its_customer_and_nothing_else_of_them(paper: Paper) -> None:
    stands_on_its_sheet(paper)
    assert facts(paper)["Customer"] == NAME
    assert facts(paper)["Identification number (VIN)"] == VIN
    assert paper.figures["names_customer"] is True
    whole = json.dumps(as_data(paper, STAMP), ensure_ascii=False)
    for private in ("555 0167", "penrake.example"):
        assert private not in whole


def no_customer_is_named(paper: Paper) -> None:
    whole = json.dumps(as_data(paper, STAMP), ensure_ascii=False)
    for private in (NAME, "Penrake", "555 0167", "penrake.example"):
        assert private not in whole
    assert "V1" not in json.dumps(dict(paper.figures))


def where_the_gas_went_is_said(floor: Floor) -> None:
    certificate = recovery_certificate(floor.workshop, number_of("V1"), today=TODAY)
    seq = floor.last("sent-away").entry.seq
    (place,) = (text for name, text in facts(certificate).items() if name.startswith("From line"))
    assert "sent away on 2025-11-20 for destruction to Northmoor Destruction, Kiln Lane 1, Northmoor" in place
    assert f"consignment PE-25-02, line {seq}" in place
    assert "C-12 holds nothing now" in place
    assert seq in certificate.lines
    record = visit_record(floor.workshop, number_of("V1"), today=TODAY)
    assert f"sent away on 2025-11-20 for destruction, line {seq}" in facts(record)["What came out"]
    assert "Northmoor" not in said(record)
    assert facts(record)["Whose that is"].startswith("not entered")


def test_a_car_that_arrived_empty_gets_a_certificate_of_exactly_that(floor: Floor) -> None:
    year.play(floor, story.A_BOTTLE_COMES)
    floor.at("04-14 08:30", OWNER)
    floor.check("C-34", "16.402 kg", "S2", it_does_read=True)
    year.play(floor, story.A_CAR_ARRIVES_EMPTY)
    paper = recovery_certificate(floor.workshop, number_of("V2"), today=TODAY)
    assert paper.title.endswith("arrived empty")
    verdict = words(paper, "Arrived empty")
    assert "what speaks for it: standing pressure read and photographed, no liquid possible" in verdict
    assert "at most 11.7 g of vapour and about 10 g in the oil" in verdict
    assert "Nothing was recovered" in verdict
    assert facts(paper)["Photo"] == "P-0414"
    assert facts(paper)["Class"].startswith("A: ")
    assert paper.lines == ()
    assert (paper.figures["recovered_mg"], paper.figures["verdict"]) == (0, "arrived empty")
    assert paper.figures["residue_bound_mg"] == pytest.approx(21_700, abs=50)
    stands_on_its_sheet(paper)
    record = visit_record(floor.workshop, number_of("V2"), today=TODAY)
    assert "Nothing was taken out." in words(record, "In short")
    assert "Arrived empty; what speaks for it: standing pressure read and photographed" in words(record, "In short")
    assert facts(record)["Fitted"] == "condenser, new, no. PE-4471, seal HNBR"
    assert facts(record)["Search"].startswith("No joint was searched")


def test_a_car_that_comes_back_weak_shows_its_loss_with_its_evidence(floor: Floor) -> None:
    year.opening(floor, "C-12", "C-35")
    year.play(floor, story.A_BOTTLE_COMES, story.A_FULL_CAR_IS_CONVERTED)
    year.a_monday_reading_is_short(floor)
    year.play(floor, story.ANOTHER_BOTTLE_COMES)
    floor.at("12-01 09:00", OWNER)
    floor.check("C-44", "16.642 kg", "S2", it_does_read=True)
    year.play(floor, story.A_CAR_COMES_BACK_WEAK)
    about = number_of("V1")
    record = visit_record(floor.workshop, about, today=TODAY)
    short = words(record, "In short")
    assert "Out: 640 g, give or take 4.1 g" in short
    assert "In: 770 g, give or take 1.9 g" in short
    assert "Lost 135 g, give or take 11 g, in 274 days: 180 g a year" in short
    assert "what speaks for it: leak found and photographed after recovery" in short
    assert facts(record)["By the book"] == "784 g R-134a, known"
    assert facts(record)["Repaired"] == "high-side service port: valve core and cap renewed"
    # 8.8 g and 135.2 g of R-134a, GWP 1430 on basis AR4
    assert "in the workshop's hands: 8.8 g, 12.6 kg CO2e; lost before it came here: 135 g, 193.3 kg" in facts(record)[
        "Climate"
    ].replace("\N{NARROW NO-BREAK SPACE}", " ")
    assert record.figures["air_workshop_mg"] == 8_800
    assert record.figures["air_road_mg"] == 135_200
    assert facts(record)["From, to"] == "R-12 to R-134a"  # it was converted in March, and the paper goes on saying so
    assert facts(record)["Date"] == "2025-03-03"
    assert facts(record)["Charged in this visit"] == "770 g, give or take 1.9 g"
    assert facts(record)["Search"].startswith("Electronic search: 1 of the 14 joints looked at leaks")
    assert facts(record)["Search after that"] == "not entered"
    rows = {row["What"]: row for row in table(record, "Refrigerant out and in")}
    assert rows["Lost on the road"]["Mass"] == "135 g"
    certificate = recovery_certificate(floor.workshop, about, today=TODAY)
    assert facts(certificate)["Class"] == "C: leak found and photographed after recovery"
    charged_in_march = Entry.objects.get(movements__cause="charge", context="visit:1").seq
    assert charged_in_march in certificate.lines
    for paper in (record, certificate):
        stands_on_its_sheet(paper)


def test_the_legs_of_a_bus_add_up_and_name_who_answers_for_the_trainee(floor: Floor) -> None:
    year.opening(floor, "C-41")
    year.play(floor, story.A_BOTTLE_COMES)
    certify(TECHNICIAN, "PE-0874")
    floor.at("07-09 17:00")
    floor.check("C-34", "15.467 kg", "S2", it_does_read=True)
    year.a_bus_and_a_full_cylinder(floor)
    paper = recovery_certificate(floor.workshop, number_of("V-BUS"), today=TODAY)
    first, second, total = table(paper, "What was recovered")
    assert (first["Mass"], first["Into"], first["Why it stopped"]) == (
        f"2{NARROW}445 g",
        "C-41",
        "target full",
    )
    assert (second["Mass"], second["Into"], second["Why it stopped"]) == (
        f"4{NARROW}325 g",
        "C-42",
        "done",
    )
    assert (total["Mass"], total["Give or take"]) == (
        f"6{NARROW}770 g",
        "9.7 g",
    )  # u 4.86: the span of one scale adds linearly
    assert paper.figures["recovered_give_or_take_mg"] == pytest.approx(2 * 4_860, abs=10)
    assert "230 g short (limit 170.8 g): short" in words(paper, "Recovered")
    assert paper.title.endswith(": short")
    assert "date of the last charge" in facts(paper)["What would change it"]
    assert facts(paper)["Class"] == "E: nothing"
    who = {row["Person"]: row for row in table(paper, "Who did it")}
    assert (who[TRAINEE]["Part"], who[TRAINEE]["Certificate on that day"]) == ("did it", "none on that day")
    assert who[TECHNICIAN]["Part"] == "answers for it"
    assert who[TECHNICIAN]["Certificate on that day"] == "training attestation, no. PE-0874"
    stands_on_its_sheet(paper)
