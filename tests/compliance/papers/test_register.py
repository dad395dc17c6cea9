"""The certificate register: who was there, what they held on the day, who handled gas without, with what."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from compliance.papers.paper import NothingToIssue, Paper, Table
from compliance.papers.register import certificate_register
from inventory.acts import undoing
from inventory.book import ledger
from inventory.book.weighing import Gross
from inventory.models import Gauge
from shop.models import Certification, Membership, Step
from shop.visits.acts import entering, gas_in
from shop.visits.acts.entering import StepFacts
from tests.compliance.onpaper import all_said, missing_on_the_sheet

pytestmark = pytest.mark.django_db
DAY = date(2025, 7, 20)
NOON = datetime(2025, 7, 20, 10, tzinfo=UTC)
HANDS = "Gas handled without a certificate in the 90 days before"

Opened = Callable[..., Step]


@pytest.fixture
def opened(workshop: Any, technician: Any, make_vehicle: Callable[..., Any], clock: Any) -> Opened:
    """Return opened(days, doer=None, answers=None, kind=...): a step that many days before the day of the register."""
    vehicle = make_vehicle()
    visit = None

    def make(days: float, doer: Any = None, answers: Any = None, kind: str = "circuit opened", **facts: Any) -> Step:
        nonlocal visit
        at = clock(NOON - timedelta(days=days))
        done = StepFacts(doer=doer or technician, answers=answers, **facts)
        if visit is None:
            visit = entering.open_visit(workshop, vehicle, opened_at=at, step_key=uuid4(), received=done)
        return entering.add_step(visit, kind, occurred_at=at, key=uuid4(), facts=done)

    return make


@pytest.fixture
def certify() -> Callable[..., Certification]:
    def make(user: Any, issued: date | None = date(2021, 4, 12), ends: date | None = None, **more: Any) -> Any:
        working = {"scheme": "attestation", "number": "PE-1", "issuer": "A school", **more}
        return Certification.objects.create(user=user, issued_on=issued, expires_on=ends, **working)

    return make


def register_of(workshop: Any, day: date = DAY) -> Paper:
    return certificate_register(workshop, f"people:{day.isoformat()}", today=date(2026, 1, 2))


def rows(paper: Paper, caption: str) -> tuple[tuple[str, ...], ...]:
    return next(one.rows for one in paper.blocks if isinstance(one, Table) and one.caption.startswith(caption))


def counts(paper: Paper, user: Any) -> tuple[int, int, int, int]:
    found = next(one for one in paper.figures["people"] if one["handle"] == user.handle)
    names = ("acts", "acts_certified", "acts_answered_for", "acts_without_certificate")
    return tuple(found[name] for name in names)  # type: ignore[return-value]


# --- who and which certificates -------------------------------------------------------------------------------


def test_everybody_of_the_workshop_stands_there_with_role_and_trainee_since(
    workshop: Any, owner: Any, technician: Any, reader: Any, stranger: Any
) -> None:
    Membership.objects.filter(user=technician).update(is_trainee=True, enrolled_on=date(2024, 9, 2))
    people = {row[0]: row[2:] for row in rows(register_of(workshop), "People")}
    assert people == {
        str(owner): ("owner", "no"),
        str(technician): ("technician", "since 2024-09-02"),
        str(reader): ("reader", "no"),
    }


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"ends": date(2028, 4, 12)}, "good until 2028-04-12"),
        ({"ends": DAY}, "good until 2025-07-20"),
        ({"ends": date(2025, 7, 19)}, "ran out on 2025-07-19"),
        ({"never_expires": True}, "never expires"),
        ({"issued": date(2025, 7, 21), "never_expires": True}, "not issued yet"),
        ({}, "its end was never entered"),
    ],
)
def test_a_certificate_is_said_as_it_stood_on_the_day(
    workshop: Any, technician: Any, certify: Callable[..., Any], fields: dict[str, Any], words: str
) -> None:
    one = certify(technician, **fields)
    issued = one.issued_on.isoformat()
    expected = (str(technician), "attestation", "PE-1", "A school", issued, words)
    assert rows(register_of(workshop), "Certificates") == (expected,)


def test_somebody_without_a_certificate_is_said_to_have_none(workshop: Any, technician: Any) -> None:
    (row,) = rows(register_of(workshop), "Certificates")
    assert row == (str(technician), "never entered", *["not entered"] * 3, "none held")


def test_somebody_who_left_is_listed_for_the_work_that_stands_and_not_otherwise(
    workshop: Any, technician: Any, make_user: Callable[..., Any], owner: Any, opened: Opened
) -> None:
    gone = make_user("gone", workshop, "technician")
    opened(5, technician)
    Membership.objects.filter(user__in=(gone, technician)).update(active=False)
    people = {row[0]: row[2] for row in rows(register_of(workshop), "People")}
    assert people == {str(owner): "owner", str(technician): "technician, no longer here"}


# --- who handled gas ------------------------------------------------------------------------------------------


def test_an_act_without_a_certificate_is_counted_and_said(workshop: Any, technician: Any, opened: Opened) -> None:
    opened(5)
    opened(4)
    paper = register_of(workshop)
    assert counts(paper, technician) == (2, 0, 0, 2)
    assert paper.figures["acts_without_certificate"] == 2
    assert f"{HANDS}\n{technician}: 2 acts of 2 with no certificate held on the day" in all_said(paper)


def test_an_act_on_a_day_with_a_certificate_is_covered_and_one_after_it_ran_out_is_not(
    workshop: Any, technician: Any, certify: Callable[..., Any], opened: Opened
) -> None:
    certify(technician, ends=(NOON - timedelta(days=4)).date())
    opened(5)
    opened(4)
    opened(3)
    assert counts(register_of(workshop), technician) == (3, 2, 0, 1)


def test_a_certificate_obtained_after_the_work_does_not_cover_it(
    workshop: Any, technician: Any, certify: Callable[..., Any], opened: Opened
) -> None:
    certify(technician, issued=(NOON - timedelta(days=1)).date(), never_expires=True)
    opened(5)
    assert counts(register_of(workshop), technician) == (1, 0, 0, 1)


def test_whoever_answers_covers_an_act_only_with_a_certificate(
    workshop: Any, technician: Any, owner: Any, reader: Any, certify: Callable[..., Any], opened: Opened
) -> None:
    certify(owner, never_expires=True)
    opened(5, technician, owner)
    opened(4, technician, reader)
    paper = register_of(workshop)
    assert counts(paper, technician) == (2, 0, 1, 1)
    assert counts(paper, owner) == (0, 0, 0, 0)
    assert rows(paper, "Acts with gas from 2025-04-21 to 2025-07-20") == ((str(technician), "2", "0", "1", "1"),)


def test_where_all_is_covered_it_says_none(
    workshop: Any, technician: Any, certify: Callable[..., Any], opened: Opened
) -> None:
    certify(technician, never_expires=True)
    opened(5)
    assert f"{HANDS}\nNone: each act was done" in all_said(register_of(workshop))


def test_ninety_days_count_and_no_day_more_nor_the_day_after(workshop: Any, technician: Any, opened: Opened) -> None:
    for days in (91, 90, 0, -1):
        opened(days)
    assert counts(register_of(workshop), technician)[0] == 2


def test_steps_that_handle_no_gas_or_were_entered_anew_do_not_count(
    workshop: Any, technician: Any, opened: Opened, clock: Any
) -> None:
    opened(5, kind="oil balance")
    old = opened(4)
    facts = StepFacts(doer=technician, replaces=old)
    entering.amend_step(old, occurred_at=old.occurred_at, key=uuid4(), facts=facts)
    assert counts(register_of(workshop), technician)[0] == 1


def test_a_charge_names_its_line_until_it_is_reversed(
    workshop: Any,
    technician: Any,
    book: Any,
    scale: Any,
    opened: Opened,
    make_cylinder: Callable[..., Any],
    account: Callable[..., Any],
    post: Callable[..., Any],
    clock: Any,
) -> None:
    visit = opened(5, kind="oil balance").visit
    cylinder = make_cylinder()
    at = clock(NOON - timedelta(days=3))
    post("opening-stock", account("opening"), cylinder, 5_000_000, at=at, basis="single")
    act = ledger.Act(uuid4(), technician.handle, at, {"charge": 1}, visit.context)
    readings = [Gross(cylinder, scale, grams * 1000, f"{grams} g") for grams in (11_200, 10_650)]
    entry, _ = gas_in.charge(visit, act, StepFacts(doer=technician), before=readings[0], after=readings[1])
    paper = register_of(workshop)
    assert (counts(paper, technician), paper.lines) == ((1, 0, 0, 1), (entry.seq,))
    undoing.reverse(book, ledger.Act(uuid4(), technician.handle, at, {"reverse": 1}), entry)
    assert counts(register_of(workshop), technician)[0] == 0


# --- with what ------------------------------------------------------------------------------------------------


def test_machines_and_instruments_stand_with_the_end_of_their_checks(
    workshop: Any, book: Any, technician: Any, make_cylinder: Callable[..., Any], make_scale: Callable[..., Any]
) -> None:
    make_cylinder("T-1", kind="machine tank", recycles=True, machine_limit_mg=15_000, water_capacity_m3=None)
    make_cylinder("C-1", kind="refillable")
    make_scale("S1", calibrated_until=date(2025, 7, 1), serial="4471")
    make_scale("S9", retired=True)
    Gauge.objects.create(book=book, name="G1", kind="pressure gauge", step=1000.0, calibrated_until=date(2026, 3, 1))
    Gauge.objects.create(book=book, name="ID1", kind="identifier")
    paper = register_of(workshop)
    assert [row[:3] for row in rows(paper, "Machines")] == [("T-1", "R-134a", "yes")]
    assert rows(paper, "Scales and gauges") == (
        ("scale", "S1", "4471", "ran out on 2025-07-01"),
        ("identifier", "ID1", "not entered", "never entered"),
        ("pressure gauge", "G1", "not entered", "good until 2026-03-01"),
    )


# --- the document ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("about", ["people:", "people:2025-7-20", "people:20250720", "people:x", "visit:2025-07-20"])
def test_what_names_no_day_gets_a_sentence(workshop: Any, about: str) -> None:
    with pytest.raises(NothingToIssue, match="names no day"):
        certificate_register(workshop, about, today=DAY)


def test_a_day_to_come_has_no_register(workshop: Any, technician: Any) -> None:
    with pytest.raises(NothingToIssue, match="still to come"):
        certificate_register(workshop, "people:2025-07-21", today=DAY)
    assert certificate_register(workshop, "people:2025-07-20", today=DAY).about == "people:2025-07-20"


def test_a_workshop_without_people_has_no_register(workshop: Any) -> None:
    with pytest.raises(NothingToIssue, match="Nobody is entered"):
        register_of(workshop)


def test_its_queries_do_not_grow_with_people_and_work(
    workshop: Any, technician: Any, make_user: Callable[..., Any], certify: Callable[..., Any], opened: Opened
) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            register_of(workshop)
        return len(found)

    certify(technician, never_expires=True)
    opened(5)
    few = queries()
    for place in range(6):
        person = make_user(f"p{place}", workshop, "technician")
        certify(person, ends=date(2026, 1, 1))
        opened(4, person, technician)
        opened(3, person)
    assert queries() == few


def test_the_sheet_holds_every_text(
    workshop: Any, technician: Any, owner: Any, certify: Callable[..., Any], opened: Opened, scale: Any
) -> None:
    certify(owner, ends=date(2028, 4, 12), scope="recovery and service")
    opened(5)
    assert missing_on_the_sheet(register_of(workshop)) == []
