"""The papers of a small visit made from acts: what counts, what is evidence, what has no paper."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest

from compliance.papers import sheet
from compliance.papers.conversions import conversion_label
from compliance.papers.paper import Label, NothingToIssue, Paper
from compliance.papers.recoveries import recovery_certificate
from compliance.papers.visits import visit_record
from inventory.acts import onscale, undoing
from inventory.book.weighing import Gross
from inventory.models import Entry
from shop.models import Certification, Vehicle, Visit
from shop.visits.acts import entering, gas_in, gas_out
from shop.visits.acts.entering import StepFacts
from shop.visits.gas import FromVehicle
from tests.compliance.papers.reading import BUILDERS, STAMP, TODAY, facts, table, words
from tests.compliance.sample import CODE


class Bay:
    """One visit at a bench: it arrives, gas comes out, gas goes in, by acts and two readings."""

    def __init__(self, workshop: Any, scale: Any, person: Any, at: datetime) -> None:
        self.workshop, self.scale, self.person, self.at = workshop, scale, person, at
        self.visit: Visit

    def facts(self, **data: Any) -> StepFacts:
        kept = {name: value if isinstance(value, dict) else {"text": value} for name, value in data.items()}
        return StepFacts(self.person, data=kept)

    def arrive(self, vehicle: Vehicle, **data: Any) -> str:
        received = self.facts(**{"state": "runs", **data})
        self.visit = entering.open_visit(self.workshop, vehicle, opened_at=self.at, step_key=uuid4(), received=received)
        return self.visit.context

    def step(self, kind: str, **data: Any) -> None:
        entering.add_step(self.visit, kind, occurred_at=self.at, key=uuid4(), facts=self.facts(**data))

    def gross(self, cylinder: Any, grams: int) -> Gross:
        return Gross(cylinder, self.scale, grams * 1000, f"{grams} g")

    def recover(self, act: Any, cylinder: Any, before: int, after: int, code: str = "R-134a") -> Entry:
        readings = {"before": self.gross(cylinder, before), "after": self.gross(cylinder, after)}
        return gas_out.recover(
            self.visit, act, self.facts(stopped="done"), gas=FromVehicle(code), jurisdiction="none", **readings
        )[0]

    def charge(self, act: Any, cylinder: Any, before: int, after: int) -> Entry:
        readings = {"before": self.gross(cylinder, before), "after": self.gross(cylinder, after)}
        return gas_in.charge(self.visit, act, self.facts(phase="liquid"), **readings)[0]

    def convert(self, **data: Any) -> None:
        given = {"occurred_at": self.at, "key": uuid4(), "facts": self.facts(**data), "to_refrigerant": data["to"]}
        entering.convert(self.visit, **given)


@pytest.fixture
def bay(workshop: Any, scale: Any, technician: Any, now: datetime) -> Bay:
    return Bay(workshop, scale, technician, now)


@pytest.fixture
def bottle(make_cylinder: Callable[..., Any]) -> Any:
    return make_cylinder("C-1", kind="recovery", grade="recovered", mass_mg=5_000_000, tare_mg=6_200_000)


def test_a_reversed_line_is_not_counted_and_a_corrected_one_is(
    bay: Bay, bottle: Any, make_vehicle: Callable[..., Any], act: Callable[..., Any]
) -> None:
    about = bay.arrive(make_vehicle())
    came = bay.recover(act(context=about), bottle, 11_200, 11_700)
    went = bay.charge(act(context=about), bottle, 11_700, 11_200)
    undoing.reverse(bay.workshop.book, act(context=about), went)
    undoing.correct_after(bay.workshop.book, act(context=about), came, gross_mg=11_690_000, typed="11.690 kg")
    record = visit_record(bay.workshop, about, today=TODAY)
    assert (record.figures["out_mg"], record.figures["in_mg"]) == (490_000, 0)
    assert "Nothing was charged." in words(record, "In short")
    certificate = recovery_certificate(bay.workshop, about, today=TODAY)
    (leg,) = table(certificate, "What was recovered")
    assert (leg["Mass"], leg["Why it stopped"]) == ("490 g", "done")  # its step goes with it
    assert "no proof is reckoned" not in words(certificate, "Recovered")
    assert not {came.seq, went.seq} & set(record.lines)


def test_a_reading_before_with_a_line_of_its_own_is_a_line_it_rests_on(
    bay: Bay, bottle: Any, make_vehicle: Callable[..., Any], act: Callable[..., Any]
) -> None:
    about = bay.arrive(make_vehicle())
    before = onscale.weigh(bay.workshop.book, act(), bay.gross(bottle, 11_200), "before")
    after = bay.gross(bottle, 10_700)
    entry, _ = gas_in.charge(bay.visit, act(context=about), bay.facts(), before=None, after=after)
    paper = visit_record(bay.workshop, about, today=TODAY)
    assert paper.lines == (before.seq, entry.seq)
    assert paper.figures["in"][0]["before_mg"] == 11_200_000


def test_without_a_recovery_and_without_evidence_there_is_no_certificate(
    bay: Bay, make_vehicle: Callable[..., Any]
) -> None:
    about = bay.arrive(make_vehicle())
    with pytest.raises(NothingToIssue, match="nothing shows that it arrived empty"):
        recovery_certificate(bay.workshop, about, today=TODAY)
    with pytest.raises(NothingToIssue, match="No conversion is entered"):
        conversion_label(bay.workshop, about, today=TODAY)
    stood = {"pressure": {"text": "2 bar", "si": 301_325.0}, "coldest": {"text": "24 C", "si": 297.15}}
    bay.step("standing pressure", **stood)
    with pytest.raises(NothingToIssue, match="recovery is owed"):
        recovery_certificate(bay.workshop, about, today=TODAY)


def test_an_open_circuit_is_evidence_only_with_its_photo(bay: Bay, make_vehicle: Callable[..., Any]) -> None:
    about = bay.arrive(make_vehicle("V1"), state="hose off")
    with pytest.raises(NothingToIssue):
        recovery_certificate(bay.workshop, about, today=TODAY)
    about = bay.arrive(make_vehicle("V2"), state="hose off", photo="P-7")
    paper = recovery_certificate(bay.workshop, about, today=TODAY)
    assert "Arrived empty; what speaks for it: circuit visibly open, photographed" in words(paper, "Arrived empty")
    assert facts(paper)["Reading"] == "not entered"


@pytest.mark.parametrize("about", ["visit:99", "visit:", "visit:x", "line:1", "visit:1:2"])
def test_what_names_no_visit_of_this_workshop_has_no_paper(about: str, bay: Bay) -> None:
    for build in BUILDERS.values():
        with pytest.raises(NothingToIssue):
            build(bay.workshop, about, today=TODAY)


def test_a_visit_of_another_workshop_has_no_paper_here(
    bay: Bay, make_vehicle: Callable[..., Any], other_workshop: Any
) -> None:
    about = bay.arrive(make_vehicle())
    with pytest.raises(NothingToIssue):
        visit_record(other_workshop, about, today=TODAY)


def test_a_label_says_what_burns_what_depletes_ozone_and_what_was_typed(
    bay: Bay, bottle: Any, make_vehicle: Callable[..., Any], act: Callable[..., Any]
) -> None:
    about = bay.arrive(make_vehicle(refrigerant="R-12"))
    typed = {"lubricant": "ester, 150 mL", "lubricant_maker": "Quay Oils", "trade_name": "Brisk"}
    bay.convert(to="R-1234yf", **typed)
    with pytest.raises(NothingToIssue, match=r"what stands on it: the charge\.$"):
        conversion_label(bay.workshop, about, today=TODAY)
    bay.charge(act(context=about), bottle, 11_200, 10_700)
    label = label_of(conversion_label(bay.workshop, about, today=TODAY))
    assert label.marks == ("FLAMMABLE, class A2L",)
    known = dict(label.rows)
    assert known["Lubricant and amount"] == "ester, 150 mL"
    assert (known["Maker of lubricant"], known["Trade name"]) == ("Quay Oils", "Brisk")
    assert known["Charge"] == "500 g"
    about = bay.arrive(make_vehicle("V2", refrigerant="R-12"))
    bay.convert(to="R-416A", **typed)
    bay.charge(act(context=about), bottle, 10_700, 10_300)
    label = label_of(conversion_label(bay.workshop, about, today=TODAY))
    assert [mark.startswith("OZONE DEPLETER") for mark in label.marks] == [True]  # it contains R-124


def label_of(paper: Paper) -> Label:
    (label,) = (one for one in paper.blocks if isinstance(one, Label))
    return label


def test_on_a_label_stock_the_label_stands_alone_and_the_rest_is_said_beside_it(
    bay: Bay, bottle: Any, make_vehicle: Callable[..., Any], act: Callable[..., Any]
) -> None:
    bay.workshop.labels = "62"
    about = bay.arrive(make_vehicle(refrigerant="R-12"))
    bay.convert(to="R-134a", lubricant="ester, 150 mL", lubricant_maker="Quay Oils", trade_name="Brisk")
    bay.charge(act(context=about), bottle, 11_200, 10_700)
    paper = conversion_label(bay.workshop, about, today=TODAY)
    assert (paper.size, len(paper.blocks), paper.sources, paper.cautions) == ("62", 1, (), ())
    assert any("40 CFR 82 subpart G" in sentence for sentence in paper.beside)
    assert sheet.printed(paper, STAMP, CODE).pages == 1


def test_without_a_pressure_after_the_wait_the_title_says_that_nothing_is_proved(
    bay: Bay, bottle: Any, make_vehicle: Callable[..., Any], act: Callable[..., Any]
) -> None:
    about = bay.arrive(make_vehicle(refrigerant="R-134a"))
    bay.recover(act(context=about), bottle, 11_200, 11_700)
    paper = recovery_certificate(bay.workshop, about, today=TODAY)
    assert paper.title.endswith(": not proved yet")
    said = words(paper, "Recovered")
    assert "Not proved yet: what is missing for the proof is named above." in said
    assert "issue the certificate anew" in said


def test_what_burns_is_marked_on_the_record(bay: Bay, make_vehicle: Callable[..., Any]) -> None:
    about = bay.arrive(make_vehicle(refrigerant="R-1234yf"))
    paper = visit_record(bay.workshop, about, today=TODAY)
    assert "R-1234yf is of safety class A2L." in words(paper, "FLAMMABLE")
    assert "This can burn. No flame" in words(paper, "FLAMMABLE")
    assert not any("can burn" in caution for caution in paper.cautions)  # said once
    about = bay.arrive(make_vehicle("V2"))
    assert words(visit_record(bay.workshop, about, today=TODAY), "FLAMMABLE") == ""


def test_a_workshop_of_pounds_reads_pounds_with_the_grams_of_the_sentences_beside_them(
    bay: Bay, bottle: Any, make_vehicle: Callable[..., Any], act: Callable[..., Any]
) -> None:
    type(bay.workshop).objects.update(mass_unit="lb")
    bay.workshop.refresh_from_db()
    about = bay.arrive(make_vehicle())
    bay.recover(act(context=about), bottle, 11_200, 11_700)
    (leg,) = table(recovery_certificate(bay.workshop, about, today=TODAY), "What was recovered")
    assert leg["Mass"] == "1.102\N{NARROW NO-BREAK SPACE}lb (500 g)"
    assert leg["Before"].endswith("lb")


def test_a_certificate_counts_on_the_day_of_the_work(
    bay: Bay, bottle: Any, make_vehicle: Callable[..., Any], act: Callable[..., Any], technician: Any, now: datetime
) -> None:
    day = now.date()
    about = bay.arrive(make_vehicle())
    bay.recover(act(context=about), bottle, 11_200, 11_700)
    past = {"user": technician, "scheme": "attestation", "number": "OLD-1"}
    old = Certification.objects.create(**past, issued_on=day - timedelta(900), expires_on=day - timedelta(2))

    def held() -> str:
        (who,) = table(recovery_certificate(bay.workshop, about, today=TODAY), "Who did it")
        return who["Certificate on that day"]

    assert held() == "none on that day"
    Certification.objects.filter(pk=old.pk).update(expires_on=None)
    assert held() == "attestation, no. OLD-1, its end not entered"
    Certification.objects.filter(pk=old.pk).update(never_expires=True)
    assert held() == "attestation, no. OLD-1"


def test_a_mixture_is_worth_what_the_identifier_showed_or_nothing_is_said(
    bay: Bay, make_cylinder: Callable[..., Any], make_vehicle: Callable[..., Any], act: Callable[..., Any]
) -> None:
    type(bay.workshop).objects.update(gwp_basis="EU")
    bay.workshop.refresh_from_db()
    source = make_cylinder("C-40", refrigerant="MIXED", grade="suspect", mass_mg=2_000_000)
    about = bay.arrive(make_vehicle(refrigerant="R-1234yf"))
    bay.charge(act(context=about), source, 8_200, 7_735)
    climate = facts(visit_record(bay.workshop, about, today=TODAY))["Climate"]
    assert "465 g, no CO2 figure (MIXED: composition not measured)" in climate
    shares = {"text": "", "si": {"R-1234yf": "0.915", "R-134a": "0.080", "air": "0.005"}}
    bay.step("identified", result="used", shares=shares)
    paper = visit_record(bay.workshop, about, today=TODAY)
    assert paper.figures["charge_co2e_mg"] == pytest.approx(53_400_000, abs=50_000)  # scenario 4: 53.4 kg, EU basis
