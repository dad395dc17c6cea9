"""Findings: gathered from the book, judged, shown, decided, never deleted."""

import os
import subprocess
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from compliance.findings import decisions, gathering, judging
from compliance.models import Decision, Finding, Judged, Noticed
from compliance.pages.owed import KIND, owed
from inventory.acts import undoing
from inventory.book.weighing import Gross
from shop.models import Certification, ImportJob, Visit, Workshop
from shop.visits.acts import entering, gas_in, gas_out
from shop.visits.acts.entering import StepFacts
from shop.visits.gas import FromVehicle
from shop.visits.questions import QUESTIONS

pytestmark = pytest.mark.django_db
HOME = "/w/port-ellery/"
RULE = "us-certified-person"


@pytest.fixture
def in_the_us(workshop: Workshop) -> Workshop:
    workshop.jurisdiction, workshop.address = "us", "1 Quay Road, Port Ellery"
    workshop.save()
    return workshop


@pytest.fixture
def charged(
    in_the_us: Workshop, make_vehicle: Any, arrive: Any, technician: Any, cylinder: Any, scale: Any, act: Any
) -> Callable[[str], Visit]:
    """Start a visit of a new vehicle and charge 500 g: by a technician for whom no certificate is entered."""
    gross = {"mg": cylinder.tare_mg + 5_000_000}

    def visit(plate: str) -> Visit:
        car = make_vehicle(plate, refrigerant="R-134a")
        made = arrive(car, timezone.now() - timedelta(minutes=30), state="runs")
        before = Gross(cylinder, scale, gross["mg"], "before")
        gross["mg"] -= 500_000
        after = Gross(cylinder, scale, gross["mg"], "after")
        doing = act(actor=technician.handle, context=made.context)
        gas_in.charge(made, doing, StepFacts(technician), before=before, after=after)
        return made

    return visit


def only(rule: str) -> Finding:
    return Finding.objects.get(rule=rule)


def certify(user: Any) -> None:
    Certification.objects.create(
        user=user, scheme="Section 609", number="1", issued_on=date(2020, 1, 1), never_expires=True
    )


@pytest.fixture
def make_large(in_the_us: Workshop) -> Callable[..., None]:
    """Let the book count as a large one, whose last judging took so long that no process is started for it."""
    return lambda: Judged.objects.filter(workshop=in_the_us).update(size=10_000_000, took_s=40.0, at=timezone.now())


def test_of_a_large_book_a_visit_is_judged_where_it_changed_and_the_whole_is_left_for_later(
    charged: Callable[[str], Visit],
    owner_client: Client,
    in_the_us: Workshop,
    make_large: Callable[..., None],
    book: Any,
) -> None:
    owner_client.get(HOME)
    make_large()
    charged("V1")
    owner_client.get(HOME)
    assert Finding.objects.filter(rule=RULE, state=Finding.BREACH).count() == 1
    assert not Finding.objects.filter(rule="book-certified").exists()  # which looks at all visits of a person
    assert "being looked at again" in owner_client.get(HOME + "findings/").content.decode()
    judged = Judged.objects.get(workshop=in_the_us)
    book.refresh_from_db()
    assert (judged.seq < book.head_seq, judged.alone_seq) == (True, book.head_seq)
    judging.work(in_the_us)
    assert Finding.objects.filter(rule="book-certified").exists()
    assert not Noticed.objects.exists()
    assert "being looked at again" not in owner_client.get(HOME + "findings/").content.decode()


def test_a_large_book_is_judged_as_a_small_one_is(
    charged: Callable[[str], Visit],
    owner_client: Client,
    in_the_us: Workshop,
    make_large: Callable[..., None],
    technician: Any,
) -> None:
    """Bit by bit as it changes, and then the whole, or all of it at once and anew."""

    def found() -> list[Any]:
        return list(Finding.objects.order_by("rule", "about", "part").values_list("rule", "about", "part", "words"))

    owner_client.get(HOME)
    for plate in ("V1", "V2", "V3"):
        make_large()
        charged(plate)
        owner_client.get(HOME)
    certify(technician)
    judging.work(in_the_us)
    bit_by_bit = found()
    Finding.objects.all().delete()
    judging.refresh(in_the_us, anyway=True)
    assert [one for one in bit_by_bit if "no longer arises" not in one[3]] == found()


def test_other_rules_are_judged_by_at_once(
    charged: Callable[[str], Visit], owner_client: Client, in_the_us: Workshop
) -> None:
    Workshop.objects.filter(pk=in_the_us.pk).update(jurisdiction="none")
    charged("V1")
    owner_client.get(HOME)
    Workshop.objects.filter(pk=in_the_us.pk).update(jurisdiction="us")
    owner_client.get(HOME)
    assert Finding.objects.filter(rule=RULE, state=Finding.BREACH).exists()


STOOD = "It stood at 75 psi above the atmosphere; recovery is owed before the circuit is opened."


@pytest.mark.parametrize("large", [False, True])
@pytest.mark.parametrize("page", ["", "visits/1/", "findings/", "finding itself"])
def test_a_recovery_that_was_owed_is_met_on_the_next_look_at_whatever_page(
    in_the_us: Workshop,
    make_vehicle: Any,
    technician: Any,
    make_cylinder: Any,
    scale: Any,
    act: Any,
    owner_client: Client,
    page: str,
    large: bool,
    make_large: Callable[..., None],
    arrive: Any,
) -> None:
    """Also of a large book, of which the whole is judged later, and on pages of one record."""
    in_the_us.pressure_unit = "psi"
    in_the_us.save()
    opened_at = timezone.now() - timedelta(minutes=30)
    car = make_vehicle("V1", refrigerant="R-134a")
    visit = arrive(car, opened_at)
    stood = {"pressure": {"text": "75", "unit": "psi", "si": 618_430.0, "echo": "75 psi"}}
    entering.add_step(
        visit, "standing pressure", occurred_at=opened_at, key=uuid4(), facts=StepFacts(technician, data=stood)
    )
    owner_client.get(HOME)
    owed = Finding.objects.get(part="opened", state=Finding.OPEN)
    if page == "finding itself":
        page = f"findings/{owed.pk}/"
    before = owner_client.get(HOME + page).content.decode()
    assert STOOD in before
    if large:
        make_large()
    rig = make_cylinder("R-7", kind="recovery", grade="recovered", mass_mg=0, water_capacity_m3=0.012)
    gross = [Gross(rig, scale, rig.tare_mg + mg, "typed") for mg in (0, 850_000)]
    doing = act(actor=technician.handle, context=visit.context)
    gas_out.recover(
        visit,
        doing,
        StepFacts(technician),
        gas=FromVehicle("R-134a"),
        before=gross[0],
        after=gross[1],
        jurisdiction="us",
    )
    after = owner_client.get(HOME + page).content.decode()
    assert "recovery is owed before" not in after.replace(f"It was: {STOOD}", "")
    owed.refresh_from_db()
    assert owed.state == Finding.MET


def test_an_uncertified_act_is_a_breach_on_the_first_page_on_the_visit_and_in_the_table(
    charged: Callable[[str], Visit], owner_client: Client
) -> None:
    visit = charged("V1")
    first_page = owner_client.get(HOME).content.decode()
    found = only(RULE)
    assert found.state == Finding.BREACH
    assert found.about == f"visit:{visit.number}"
    assert f"Breach: visit {visit.number}." in first_page
    vehicle, person = visit.vehicle.account.number, visit.steps.get(kind="charge").doer.handle
    for page in (f"visits/{visit.number}/", f"vehicles/{vehicle}/", f"people/{person}/", "findings/"):
        assert found.words in owner_client.get(HOME + page).content.decode().replace("&#x27;", "'")
    rows = owner_client.get(HOME + "findings/?format=csv").getvalue().decode()
    assert found.words in rows
    assert f"visit {visit.number}" in rows


def test_questions_left_out_change_no_finding(charged: Callable[[str], Visit], in_the_us: Workshop) -> None:
    def found() -> list[Any]:
        judging.refresh(in_the_us, anyway=True)
        return list(Finding.objects.order_by("pk").values_list("rule", "about", "part", "state", "words"))

    charged("V1")
    before = found()
    assert "book-standing-pressure" in {row[0] for row in before}
    in_the_us.not_asked = [one.key for one in QUESTIONS]
    in_the_us.save()
    assert found() == before


def test_a_certificate_entered_later_meets_it_and_the_finding_stays(
    charged: Callable[[str], Visit], in_the_us: Workshop, technician: Any
) -> None:
    charged("V1")
    judging.refresh(in_the_us)
    first = only(RULE)
    certify(technician)
    judging.refresh(in_the_us)
    assert Finding.objects.get(pk=first.pk).state == Finding.MET


@pytest.mark.parametrize(("pid", "judged"), [("own", False), ("gone", True)])
def test_nothing_is_judged_while_an_import_is_at_work_and_a_dead_one_is_not_waited_for(
    charged: Callable[[str], Visit], in_the_us: Workshop, owner: Any, pid: str, judged: bool
) -> None:
    charged("V1")
    ended = subprocess.Popen(["true"])  # a process that is over has a number that nobody has
    ended.wait()
    ImportJob.objects.create(
        workshop=in_the_us,
        started_by=owner,
        request_key=uuid4(),
        file_name="year.csv",
        state=ImportJob.AT_WORK,
        pid=os.getpid() if pid == "own" else ended.pid,
    )
    judging.refresh(in_the_us)
    assert Finding.objects.exists() is judged


def test_nothing_is_judged_again_while_nothing_has_changed(
    charged: Callable[[str], Visit], in_the_us: Workshop
) -> None:
    charged("V1")
    judging.refresh(in_the_us)
    with CaptureQueriesContext(connection) as asked:
        judging.refresh(in_the_us)
    assert not [one for one in asked.captured_queries if one["sql"].startswith(("INSERT", "UPDATE"))]
    assert len(asked) <= 4


def test_gathering_costs_as_many_queries_for_many_visits_as_for_one(
    charged: Callable[[str], Visit], in_the_us: Workshop
) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            gathering.facts_of(in_the_us, judging.today_of(in_the_us))
        return len(asked)

    charged("V1")
    one = queries()
    for plate in ("V2", "V3", "V4"):
        charged(plate)
    assert queries() == one


def test_the_table_costs_as_many_queries_for_many_findings_as_for_few(
    charged: Callable[[str], Visit], owner_client: Client
) -> None:
    def queries() -> int:
        owner_client.get(HOME + "findings/")  # judged
        with CaptureQueriesContext(connection) as asked:
            owner_client.get(HOME + "findings/?state=any")
        return len(asked)

    charged("V1")
    few = queries()
    for plate in ("V2", "V3", "V4"):
        charged(plate)
    assert queries() == few


def test_the_facts_are_those_of_the_book(
    charged: Callable[[str], Visit], in_the_us: Workshop, cylinder: Any, technician: Any
) -> None:
    visit = charged("V1")
    facts = gathering.facts_of(in_the_us, judging.today_of(in_the_us))
    (seen,) = facts.visits
    charge = seen.of("charge")[0]
    assert (seen.number, charge.doer) == (visit.number, technician.handle)
    assert [(one.cause, one.refrigerant, one.mass_mg, one.cylinder) for one in charge.moved] == [
        ("charge", "R-134a", 500_000, cylinder.account.number)
    ]
    assert [one.gross_mg for one in facts.readings][-1] == cylinder.tare_mg + 4_500_000
    assert [(one.cause, one.mass_mg) for one in facts.lines] == [("opening-stock", 5_000_000), ("charge", 500_000)]


def test_what_is_reversed_is_no_fact(charged: Callable[[str], Visit], in_the_us: Workshop, act: Any, book: Any) -> None:
    visit = charged("V1")
    line = visit.steps.get(kind="charge").entry
    undoing.reverse(book, act(), line)
    facts = gathering.facts_of(in_the_us, judging.today_of(in_the_us))
    assert facts.visits[0].of("charge") == ()
    assert "charge" not in {one.cause for one in facts.lines}


# Decisions


def decide(client: Client, finding: Finding, **changed: str) -> Any:
    sent = {"key": str(uuid4()), "kind": "explained", "reason": "The card was shown on paper", **changed}
    return client.post(f"{HOME}findings/{finding.pk}/", sent)


@pytest.fixture
def breach(charged: Callable[[str], Visit], in_the_us: Workshop) -> Finding:
    charged("V1")
    judging.refresh(in_the_us)
    return only(RULE)


def test_the_owner_explains_it_and_the_reason_stays(breach: Finding, owner_client: Client) -> None:
    assert decide(owner_client, breach).status_code == 303
    page = owner_client.get(f"{HOME}findings/{breach.pk}/").content.decode()
    assert "Explained" in page
    assert "The card was shown on paper" in page
    assert f"Breach: visit {breach.about.partition(':')[2]}." not in owner_client.get(HOME).content.decode()
    assert Finding.objects.get(pk=breach.pk).state == Finding.BREACH  # what the record shows is not rewritten


def test_the_day_of_a_decision_is_the_workshops(breach: Finding, owner_client: Client) -> None:
    decide(owner_client, breach)
    breach.decisions.update(at=datetime(2026, 7, 1, 22, 30, tzinfo=UTC))  # half past midnight on the 2nd there
    assert "explained on 2026-07-02: " in owner_client.get(f"{HOME}findings/?sort=-day").content.decode()


def test_a_technician_decides_nothing(breach: Finding, technician_client: Client, reader_client: Client) -> None:
    assert decide(technician_client, breach).status_code == 403
    assert decide(reader_client, breach).status_code == 403
    assert not Decision.objects.exists()


def test_a_decision_without_a_reason_is_put_right(breach: Finding, owner_client: Client) -> None:
    answer = decide(owner_client, breach, reason=" ")
    assert answer.status_code == 422
    assert not Decision.objects.exists()


def test_sent_twice_it_is_one_decision(breach: Finding, owner_client: Client) -> None:
    key = str(uuid4())
    decide(owner_client, breach, key=key)
    decide(owner_client, breach, key=key)
    assert Decision.objects.count() == 1


def test_taken_up_again_it_is_owed_again_and_both_decisions_stay(breach: Finding, owner_client: Client) -> None:
    decide(owner_client, breach)
    decide(owner_client, breach, kind="taken up again", reason="The card was another person's")
    assert decisions.shown(decisions.with_decisions(Finding.objects.all()).get(pk=breach.pk)).word == "breach"
    assert Decision.objects.count() == 2


def test_a_worse_state_is_not_covered_by_what_was_said_before(breach: Finding, owner: Any) -> None:
    Finding.objects.filter(pk=breach.pk).update(state=Finding.OPEN)
    decisions.decide(breach, Decision.ACCEPTED, "Known", by=owner, key=uuid4())
    again = decisions.with_decisions(Finding.objects.all())
    assert decisions.shown(again.get(pk=breach.pk)).word == "accepted"
    Finding.objects.filter(pk=breach.pk).update(state=Finding.BREACH)
    assert decisions.shown(again.get(pk=breach.pk)).word == "breach"


def test_what_is_met_needs_no_decision(breach: Finding, owner: Any, technician: Any, in_the_us: Workshop) -> None:
    certify(technician)
    judging.refresh(in_the_us)
    with pytest.raises(decisions.DecisionRefused, match="met meanwhile"):
        decisions.decide(breach, Decision.ACCEPTED, "Known", by=owner, key=uuid4())


def test_a_stranger_finds_no_finding(breach: Finding, stranger_client: Client) -> None:
    assert stranger_client.get(f"{HOME}findings/{breach.pk}/").status_code == 404
    assert stranger_client.get(f"/w/highmoor/findings/{breach.pk}/").status_code == 404


def test_the_rules_that_apply_are_listed_with_their_sources(in_the_us: Workshop, reader_client: Client) -> None:
    page = reader_client.get(HOME + "rules/").content.decode()
    assert "40 CFR 82.34" in page
    assert "2024/573" not in page  # the European Union's do not apply here


def test_a_breach_is_never_folded_under_a_count_on_the_first_page(breach: Finding, workshop: Workshop) -> None:
    listed = owed(workshop, timezone.localdate(), workshop.units)
    assert [one.kind for one in listed if one.words.startswith("Breach")] == [""]
    assert {one.kind for one in listed if not one.words.startswith("Breach")} <= {KIND}
